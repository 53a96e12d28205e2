"""Facts to parts: features, process, stock, the part's entry."""

from dataclasses import dataclass, field
from functools import cached_property

from dfmcheck.app.reading import Reader
from dfmcheck.checking.plugins import PluginManager, plugin_versions
from dfmcheck.config.find import entry_for
from dfmcheck.model.base import Value
from dfmcheck.model.facts import FileFacts, PartFacts
from dfmcheck.model.feature import Feature
from dfmcheck.model.part import Part
from dfmcheck.model.settings import PartEntry, Settings
from dfmcheck.model.stock import ProcessChoice, Series, Stock

DEFAULT_FAMILY = "aluminium"
"""Family of the stock where the configuration does not name the material."""


class Derived(Value, frozen=True):
    """What is derived from the facts of one part, but for its entry."""

    features: tuple[Feature, ...]
    process: ProcessChoice
    stock: Stock | None


@dataclass
class Analyser:
    """Turns the facts of a file into parts; features are cached by content."""

    reader: Reader
    manager: PluginManager
    unknown_materials: dict[str, str] = field(default_factory=dict)

    def parts_of(
        self, content: str, file: str, facts: FileFacts, settings: Settings
    ) -> tuple[Part, ...]:
        """The parts of one file in one revision.

        Args:
            content: identity of the bytes, for the cache.
            file: path in the repository, which finds the entry.
            facts: what the kernel read.
            settings: the settings that govern the file, for material and entry.
        """
        several = len(facts.parts) > 1
        solids = [part.name if several else None for part in facts.parts]
        entries = [entry_for(settings, file, solid) for solid in solids]
        derived = self._derived(content, facts, [self._family(e) for e in entries])
        return tuple(
            Part(
                file=file,
                number=part_number(entry, file, solid),
                unit=facts.unit,
                facts=part,
                features=found.features,
                process=found.process,
                stock=found.stock if entry is None or entry.make == "machined" else None,
                entry=entry,
            )
            for part, found, entry, solid in zip(facts.parts, derived, entries, solids, strict=True)
        )

    def _family(self, entry: PartEntry | None) -> str:
        if entry is None or not entry.material:
            return DEFAULT_FAMILY
        from dfmcheck.planning.materials import find_material

        material = find_material(entry.material)
        if material is not None:
            return material.family
        self.unknown_materials[entry.number] = entry.material
        return DEFAULT_FAMILY

    @property
    def warnings(self) -> tuple[str, ...]:
        """A sentence for each material that no catalogue knows."""
        return tuple(
            f"{number}: the material {material!r} is not known by that name, so its stock is "
            f"chosen as for {DEFAULT_FAMILY} and its mass is not told"
            for number, material in sorted(self.unknown_materials.items())
        )

    def _derived(self, content: str, facts: FileFacts, families: list[str]) -> tuple[Derived, ...]:
        kept = self.reader.derived(
            (content, *families), "features, process, stock", self.plugins, tuple[Derived, ...]
        )
        return kept.get() or kept.put(
            tuple(
                self._derive(part, family, facts.unit)
                for part, family in zip(facts.parts, families, strict=True)
            )
        )

    def _derive(self, part: PartFacts, family: str, unit: str) -> Derived:
        from dfmcheck.planning.stock import choose_stock

        features = self._recognise(part)
        process = self._process(part, features)
        stock = choose_stock(part, process, family, self._series, unit, features)
        return Derived(features=features, process=process, stock=stock)

    def _recognise(self, part: PartFacts) -> tuple[Feature, ...]:
        from dfmcheck.checking.extensions import further_features
        from dfmcheck.features.recognise import recognise

        return further_features(self.manager, part, recognise(part))

    @cached_property
    def plugins(self) -> tuple[str, ...]:
        """Names and versions of the plugins, which may take part: in the cache's keys."""
        return tuple(f"{name} {source}" for name, source in plugin_versions(self.manager))

    def _process(self, part: PartFacts, features: tuple[Feature, ...]) -> ProcessChoice:
        from dfmcheck.checking.extensions import process_by_plugin
        from dfmcheck.planning.process import choose_process

        return process_by_plugin(self.manager, part, features) or choose_process(part, features)

    @cached_property
    def _series(self) -> tuple[Series, ...]:
        from dfmcheck.checking.extensions import further_series

        return further_series(self.manager)


def part_number(entry: PartEntry | None, file: str, solid: str | None) -> str:
    """The entry's number; otherwise the file's stem, with the solid's name if there are several."""
    if entry is not None:
        return entry.number
    stem = file.rsplit("/", 1)[-1].rsplit(".", 1)[0]
    return f"{stem}/{solid}" if solid else stem

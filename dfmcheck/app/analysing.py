"""Facts to parts: features, process, stock, the part's entry."""

from dataclasses import dataclass
from functools import cached_property

import msgspec

from dfmcheck.app.reading import Reader
from dfmcheck.checking.plugins import PluginManager, plugin_versions
from dfmcheck.config.find import entry_for
from dfmcheck.model.facts import FileFacts, PartFacts
from dfmcheck.model.feature import Feature
from dfmcheck.model.part import Part
from dfmcheck.model.settings import PartEntry, Settings
from dfmcheck.model.stock import ProcessChoice, Series, Stock

DEFAULT_FAMILY = "aluminium"
"""Family of the stock where the configuration does not name the material."""


@dataclass
class Analyser:
    """Turns the facts of a file into parts; features are cached by content."""

    reader: Reader
    manager: PluginManager

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
        features = self._features(content, facts)
        several = len(facts.parts) > 1
        parts = []
        for part, found in zip(facts.parts, features, strict=True):
            entry = entry_for(settings, file, part.name if several else None)
            process = self._process(part, found)
            parts.append(
                Part(
                    file=file,
                    number=part_number(entry, file, part.name if several else None),
                    unit=facts.unit,
                    facts=part,
                    features=found,
                    process=process,
                    stock=self._stock(part, process, entry, facts.unit),
                    entry=entry,
                )
            )
        return tuple(parts)

    def _features(self, content: str, facts: FileFacts) -> tuple[tuple[Feature, ...], ...]:
        key = self.reader.features_key(content, self._recognisers)
        cached = self.reader.cache.get(key)
        if cached is not None:
            try:
                return msgspec.msgpack.decode(cached, type=tuple[tuple[Feature, ...], ...])
            except (msgspec.DecodeError, ValueError):
                pass
        found = tuple(self._recognise(p) for p in facts.parts)
        self.reader.cache.put(key, msgspec.msgpack.encode(found))
        return found

    def _recognise(self, part: PartFacts) -> tuple[Feature, ...]:
        from dfmcheck.checking.extensions import further_features
        from dfmcheck.features.recognise import recognise

        return further_features(self.manager, part, recognise(part))

    @cached_property
    def _recognisers(self) -> tuple[str, ...]:
        """Names and versions of plugins, which may recognise features: part of the cache key."""
        hook = self.manager.hook.dfmcheck_recognise_features
        if not hook.get_hookimpls():
            return ()
        return tuple(f"{name} {version}" for name, version in plugin_versions(self.manager))

    def _process(self, part: PartFacts, features: tuple[Feature, ...]) -> ProcessChoice:
        from dfmcheck.checking.extensions import process_by_plugin
        from dfmcheck.planning.process import choose_process

        return process_by_plugin(self.manager, part, features) or choose_process(part, features)

    def _stock(
        self, part: PartFacts, process: ProcessChoice, entry: PartEntry | None, unit: str
    ) -> Stock | None:
        from dfmcheck.planning.materials import find_material
        from dfmcheck.planning.stock import choose_stock

        if entry is not None and entry.make != "machined":
            return None
        material = find_material(entry.material) if entry is not None and entry.material else None
        family = material.family if material is not None else DEFAULT_FAMILY
        return choose_stock(part, process, family, self._series, unit)

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

"""Facts to parts: features, process, stock, the part's entry."""

from dataclasses import dataclass
from functools import cached_property

import msgspec
import pluggy

from dfmcheck.app.reading import Reader
from dfmcheck.config.find import entry_for
from dfmcheck.model.facts import FileFacts, PartFacts
from dfmcheck.model.feature import Feature
from dfmcheck.model.part import Part
from dfmcheck.model.settings import PartEntry, Settings
from dfmcheck.model.stock import ProcessChoice, Series


@dataclass
class Analyser:
    """Turns the facts of a file into parts; features are cached by content."""

    reader: Reader
    manager: pluggy.PluginManager

    def parts_of(self, content: str, file: str, facts: FileFacts, settings: Settings) -> tuple[Part, ...]:
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
                    stock=self._stock(part, process, entry),
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
        from dfmcheck.features.recognise import recognise

        known = recognise(part)
        for extra in self.manager.hook.dfmcheck_recognise_features(part=part, known=known):
            more = tuple(extra)
            claimed = {f for feature in more for f in feature.faces}
            kept = tuple(k for k in known if not claimed.intersection(k.faces))
            known = kept + more
        return known

    @cached_property
    def _recognisers(self) -> tuple[str, ...]:
        """Names and versions of plugins that recognise features: part of the cache key."""
        hook = self.manager.hook.dfmcheck_recognise_features
        plugins = {impl.plugin for impl in hook.get_hookimpls()}
        names = []
        for plugin, dist in self.manager.list_plugin_distinfo():
            if plugin in plugins:
                names.append(f"{dist.project_name} {dist.version}")
                plugins.discard(plugin)
        names.extend(str(self.manager.get_name(p)) for p in plugins)
        return tuple(sorted(names))

    def _process(self, part: PartFacts, features: tuple[Feature, ...]) -> ProcessChoice:
        chosen = self.manager.hook.dfmcheck_choose_process(part=part, features=features)
        if isinstance(chosen, ProcessChoice):
            return chosen
        from dfmcheck.planning.process import choose_process

        return choose_process(part, features)

    def _stock(self, part: PartFacts, process: ProcessChoice, entry: PartEntry | None) -> object:
        from dfmcheck.planning.materials import find_material
        from dfmcheck.planning.stock import choose_stock

        material = find_material(entry.material) if entry is not None and entry.material else None
        family = material.family if material is not None else "aluminium"
        return choose_stock(part, process, family, self._series)

    @cached_property
    def _series(self) -> tuple[Series, ...]:
        return tuple(s for more in self.manager.hook.dfmcheck_stock_series() for s in more)


def part_number(entry: PartEntry | None, file: str, solid: str | None) -> str:
    """The entry's number; otherwise the file's stem, with the solid's name if there are several."""
    if entry is not None:
        return entry.number
    stem = file.rsplit("/", 1)[-1].rsplit(".", 1)[0]
    return f"{stem}/{solid}" if solid else stem

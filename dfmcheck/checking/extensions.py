"""What plugins give besides rules: features, stock series, a process, reporters.

Everything is checked as it comes in, sorted by the plugins' names, and a plugin at fault is named.
"""

from typing import Any

import msgspec
import pluggy

from dfmcheck.checking.registry import as_items, call_each
from dfmcheck.errors import PluginError
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature
from dfmcheck.model.rule import Reporter
from dfmcheck.model.stock import ProcessChoice, Series


def further_series(manager: pluggy.PluginManager) -> tuple[Series, ...]:
    """Series of stock sizes that plugins add to the catalogue.

    Raises:
        PluginError: a plugin raises or gives something else.
    """
    hook = "dfmcheck_stock_series"
    return tuple(
        _checked(item, Series, plugin, hook)
        for plugin, given in call_each(manager, hook)
        for item in as_items(given, plugin, hook)
    )


def further_reporters(manager: pluggy.PluginManager) -> tuple[Reporter, ...]:
    """Reporters that plugins offer for `--report`, sorted by name.

    Raises:
        PluginError: a plugin raises or gives something else, or two reporters share a name.
    """
    hook = "dfmcheck_reporters"
    owners: dict[str, str] = {}
    reporters: list[Reporter] = []
    for plugin, given in call_each(manager, hook):
        for item in as_items(given, plugin, hook):
            if not isinstance(item, Reporter) or not callable(item.render):
                raise PluginError(_strange(plugin, item, hook, "a reporter"))
            other = owners.setdefault(item.name, plugin)
            if other != plugin or any(r.name == item.name for r in reporters):
                msg = (
                    f"two reporters are named '{item.name}', of the plugins '{other}' and "
                    f"'{plugin}'; rename one or take a plugin out of `plugins`"
                )
                raise PluginError(msg)
            reporters.append(item)
    return tuple(sorted(reporters, key=lambda r: r.name))


def process_by_plugin(
    manager: pluggy.PluginManager, part: PartFacts, features: tuple[Feature, ...]
) -> ProcessChoice | None:
    """The process that a plugin chooses, or None; of several the one whose name comes first.

    Raises:
        PluginError: a plugin raises or gives something else.
    """
    hook = "dfmcheck_choose_process"
    for plugin, given in call_each(manager, hook, part=part, features=features):
        choice: ProcessChoice = _checked(given, ProcessChoice, plugin, hook)
        return choice
    return None


def further_features(
    manager: pluggy.PluginManager, part: PartFacts, known: tuple[Feature, ...]
) -> tuple[Feature, ...]:
    """All features of a part: those known, less the faces that plugins claim, and the plugins'.

    A known feature that loses all its faces is dropped.

    Raises:
        PluginError: a plugin raises, gives something else, names a face that the part does not
            have, uses an id twice, or claims a face that another plugin claims.
    """
    hook = "dfmcheck_recognise_features"
    owners: dict[int, str] = {}
    added: list[Feature] = []
    ids = {feature.id for feature in known}
    for plugin, given in call_each(manager, hook, part=part, known=known):
        for item in as_items(given, plugin, hook):
            feature = _checked_feature(item, part, plugin)
            if feature.id in ids:
                msg = f"the plugin '{plugin}' gives a feature the id '{feature.id}', which is taken"
                raise PluginError(msg)
            ids.add(feature.id)
            for face in feature.faces:
                if face in owners:
                    msg = (
                        f"the plugin '{plugin}' claims face {face} for '{feature.id}', but a "
                        f"feature of the plugin '{owners[face]}' has it already"
                    )
                    raise PluginError(msg)
            owners.update(dict.fromkeys(feature.faces, plugin))
            added.append(feature)
    if not added:
        return known
    kept = []
    for feature in known:
        faces = tuple(face for face in feature.faces if face not in owners)
        if faces:
            kept.append(msgspec.structs.replace(feature, faces=faces))
    return (*kept, *added)


def _checked_feature(item: object, part: PartFacts, plugin: str) -> Feature:
    hook = "dfmcheck_recognise_features"
    feature: Feature = _checked(item, Feature, plugin, hook)
    strange = [face for face in feature.faces if not 0 <= face < len(part.faces)]
    if strange or len(set(feature.faces)) != len(feature.faces) or not feature.faces:
        msg = (
            f"the plugin '{plugin}' gives the feature '{feature.id}' the faces "
            f"{list(feature.faces)}; they must be faces of the part, each once"
        )
        raise PluginError(msg)
    return feature


def _checked(item: object, wanted: Any, plugin: str, hook: str) -> Any:
    name = getattr(wanted, "__name__", "Feature")
    if not isinstance(item, wanted):
        raise PluginError(_strange(plugin, item, hook, name))
    try:
        return msgspec.convert(msgspec.to_builtins(item), wanted)
    except (msgspec.ValidationError, TypeError, ValueError) as error:
        msg = f"the plugin '{plugin}' gave a {name} from {hook} that is not sound: {error}"
        raise PluginError(msg) from error


def _strange(plugin: str, item: object, hook: str, wanted: str) -> str:
    return f"the plugin '{plugin}' gave {type(item).__name__} from {hook}, not {wanted}"

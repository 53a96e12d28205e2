"""The plugin manager: who may judge, where plugins come from, and what is refused.

Plugins come from the environment that runs dfmcheck, never from the repository under test: the
folder one stands in, which Python may put on its search path, is left out while looking for
plugins and while importing them. The shipped rules always load; any other plugin only if the
configuration names it.
"""

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pluggy

import dfmcheck.hooks
from dfmcheck.errors import PluginError

if TYPE_CHECKING:
    from importlib.metadata import Distribution, EntryPoint

GROUP = dfmcheck.hooks.PROJECT
"""The entry-point group in which plugins are found."""

SHIPPED = "dfmcheck_rules"
"""The entry point of the shipped rules, and of the distribution `dfmcheck` itself."""


class PluginManager(pluggy.PluginManager):
    """A pluggy manager that remembers from which distribution each plugin came.

    `sources` maps a plugin's name to "distribution version" ("" where it has none).
    """

    def __init__(self) -> None:
        """Know the hooks, and no plugin yet."""
        super().__init__(GROUP)
        self.add_hookspecs(dfmcheck.hooks)
        self.sources: dict[str, str] = {}


def make_plugin_manager(
    named: tuple[str, ...] = (), extra: tuple[object, ...] = (), *, shipped: bool = True
) -> PluginManager:
    """Make a manager with the shipped rules, the plugins named, and the objects given.

    `named` are entry-point names of the group `dfmcheck`, as in the configuration's `plugins`;
    their order and repetitions do not matter. `extra` are objects with hook implementations, for
    tests. Nothing global is kept: each call makes a manager of its own.

    Raises:
        PluginError: a named plugin is not installed, is offered twice, cannot be imported, or
            implements a hook wrongly.
    """
    manager = PluginManager()
    with _away_from_working_folder() as path:
        wanted = sorted(set(named) - {SHIPPED})
        found = _shipped(path) if shipped else ()
        for point, dist in (*found, *_named(wanted, path)):
            _register(manager, _load(point, dist), point.name, _source(dist))
    for item in extra:
        name = getattr(item, "__name__", type(item).__name__)
        while manager.has_plugin(name):
            name += "+"
        _register(manager, item, name, "")
    _refuse_unknown_hooks(manager)
    return manager


def plugin_versions(manager: PluginManager) -> tuple[tuple[str, str], ...]:
    """Name and distribution of each plugin besides the shipped rules (results rest on them)."""
    return tuple(sorted((n, s) for n, s in manager.sources.items() if n != SHIPPED))


@contextmanager
def _away_from_working_folder() -> Iterator[list[str]]:
    """Take the working folder off the search path, and give what is left of it.

    What a plugin adds to the path while it is imported stays.
    """
    before = list(sys.path)
    here = Path.cwd()
    kept = [entry for entry in before if not _is_working_folder(entry, here)]
    sys.path[:] = kept
    try:
        yield list(kept)
    finally:
        added = [entry for entry in sys.path if entry not in kept]
        sys.path[:] = before + added


def _is_working_folder(entry: str, here: Path) -> bool:
    path = Path(entry)
    if entry == "" or not path.is_absolute():
        return True
    return path == here or path.resolve() == here.resolve()


def _shipped(path: list[str]) -> tuple[tuple["EntryPoint", "Distribution"], ...]:
    from importlib.metadata import Distribution

    for dist in Distribution.discover(name="dfmcheck", path=path):
        points = [p for p in dist.entry_points if p.group == GROUP and p.name == SHIPPED]
        if points:
            return ((points[0], dist),)
    msg = "the shipped rules are not installed; install dfmcheck again with pip"
    raise PluginError(msg)


def _named(wanted: list[str], path: list[str]) -> tuple[tuple["EntryPoint", "Distribution"], ...]:
    if not wanted:
        return ()
    offers: dict[str, list[tuple[EntryPoint, Distribution]]] = {}
    for point, dist in _offers(path):
        offers.setdefault(point.name, []).append((point, dist))
    found = []
    for name in wanted:
        if name not in offers:
            raise PluginError(_missing(name, offers))
        if len(offers[name]) > 1:
            both = " and ".join(sorted(_source(dist) for _, dist in offers[name]))
            msg = f"the plugin '{name}' is offered twice, by {both}; uninstall one of them"
            raise PluginError(msg)
        found.append(offers[name][0])
    return tuple(found)


def _offers(path: list[str]) -> Iterator[tuple["EntryPoint", "Distribution"]]:
    from importlib.metadata import distributions

    seen: set[str] = set()
    for dist in distributions(path=path):
        name = (dist.name or "").lower().replace("-", "_").replace(".", "_")
        if name in seen:
            continue
        seen.add(name)
        for point in dist.entry_points:
            if point.group == GROUP:
                yield point, dist


def _missing(name: str, offers: Iterable[str]) -> str:
    others = sorted(set(offers) - {SHIPPED})
    known = f"installed are: {', '.join(others)}" if others else "no other plugin is installed"
    return (
        f"the configuration names the plugin '{name}', but no installed package offers it "
        f"(entry-point group '{GROUP}'; {known}); install it in the environment that runs "
        "dfmcheck, or take it out of `plugins`"
    )


def _source(dist: "Distribution") -> str:
    return f"{dist.name} {dist.version}"


def _load(point: "EntryPoint", dist: "Distribution") -> object:
    try:
        return point.load()
    except (Exception, SystemExit) as error:
        msg = (
            f"the plugin '{point.name}' ({_source(dist)}) cannot be loaded: "
            f"{describe_error(error)}; mend or uninstall it, or take it out of `plugins`"
        )
        raise PluginError(msg) from error


def _register(manager: PluginManager, plugin: object, name: str, source: str) -> None:
    shown = f"'{name}' ({source})" if source else f"'{name}'"
    try:
        manager.register(plugin, name)
    except (pluggy.PluginValidationError, ValueError) as error:
        msg = f"the plugin {shown} implements a hook wrongly: {describe_error(error)}"
        raise PluginError(msg) from error
    manager.sources[name] = source
    if not manager.get_hookcallers(plugin):
        msg = (
            f"the plugin {shown} implements no hook of dfmcheck; mark its functions with "
            "`dfmcheck.api.hookimpl`"
        )
        raise PluginError(msg)


def _refuse_unknown_hooks(manager: PluginManager) -> None:
    try:
        manager.check_pending()
    except pluggy.PluginValidationError as error:
        known = sorted(name for name in vars(dfmcheck.hooks) if name.startswith(f"{GROUP}_"))
        msg = (
            f"a plugin implements a hook that does not exist: {describe_error(error)}; "
            f"the hooks are {', '.join(known)}"
        )
        raise PluginError(msg) from error


def describe_error(error: BaseException) -> str:
    """Type and text of an error on one line, cut to a readable length."""
    text = " ".join(str(error).split())
    if len(text) > 300:
        text = text[:299] + "…"
    name = type(error).__name__
    return f"{name}: {text}" if text else name

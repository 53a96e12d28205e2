"""Plugin managers for a run."""

from collections.abc import Callable

from dfmcheck.checking.plugins import PluginManager, make_plugin_manager
from dfmcheck.model.rule import Reporter, Rule


class ManagerMaker:
    """Makes the plugin manager for the plugins that the policy names, and remembers the last one.

    `extra` are plugin objects to be registered besides, for tests and programs.
    """

    def __init__(self, extra: tuple[object, ...] = ()) -> None:
        """Remember the objects."""
        self.extra = extra
        self.last: PluginManager | None = None
        self.when_made: Callable[[ManagerMaker], None] | None = None

    def __call__(self, named: tuple[str, ...]) -> PluginManager:
        """A fresh manager.

        Raises:
            PluginError: a plugin is missing or broken.
        """
        self.last = make_plugin_manager(named, self.extra)
        if self.when_made is not None:
            self.when_made(self)
        return self.last

    def shipped_rules(self) -> tuple[Rule, ...]:
        """The rules without any plugin that a configuration names."""
        from dfmcheck.checking.registry import collect_rules

        return collect_rules(make_plugin_manager((), self.extra))

    def reporters(self) -> tuple[Reporter, ...]:
        """Reporters of the plugins of the last manager."""
        from dfmcheck.checking.extensions import further_reporters

        return further_reporters(self.last) if self.last is not None else ()

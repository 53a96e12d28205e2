"""Which settings govern which file, before and after, and from which side policy comes."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from dfmcheck.config.find import matcher_for, settings_for
from dfmcheck.config.load import default_settings, parse_settings
from dfmcheck.config.policy import effective_settings, policy_changes
from dfmcheck.model.settings import PolicyChange, Settings

CONFIG_NAME = "dfmcheck.toml"


def is_config(path: str) -> bool:
    """True for a configuration file at any depth."""
    return path == CONFIG_NAME or path.endswith("/" + CONFIG_NAME)


@dataclass
class Governing:
    """The settings of both sides of a run.

    `after` is what judges (policy of the base for a fork, part data of the head); `before` is the
    base's own, by which configuration changes of parts are found.
    """

    before: dict[str, Settings] = field(default_factory=dict)
    after: dict[str, Settings] = field(default_factory=dict)
    changes: tuple[PolicyChange, ...] = ()
    policy_source: str = ""

    def of(self, path: str) -> Settings:
        """The settings that govern a file of the head."""
        return settings_for(path, self.after)

    def of_before(self, path: str) -> Settings:
        """The settings that governed a file of the base."""
        return settings_for(path, self.before)

    def looks_at(self, path: str) -> bool:
        """Whether a STEP file is looked at by the settings that govern it."""
        settings = self.of(path)
        return matcher_for(settings)(path)

    @property
    def all(self) -> tuple[Settings, ...]:
        """The settings of the head, by path, at least the defaults."""
        return tuple(self.after[k] for k in sorted(self.after)) or (default_settings(),)

    @property
    def plugins(self) -> tuple[str, ...]:
        """Plugins that the policy names."""
        return tuple(sorted({p for s in self.all for p in s.policy.plugins}))

    @property
    def warnings(self) -> tuple[str, ...]:
        """Warnings of all configuration files."""
        return tuple(w for s in self.all for w in s.warnings)


def load_side(paths: Iterable[str], read: Callable[[str], bytes | None]) -> dict[str, Settings]:
    """Parse each configuration of one revision.

    Raises:
        ConfigError: all problems of all files.
    """
    from dfmcheck.errors import ConfigError

    found: dict[str, Settings] = {}
    problems: list[str] = []
    for path in sorted(paths):
        data = read(path)
        if data is None:
            continue
        try:
            found[path] = parse_settings(data, path)
        except ConfigError as error:
            problems.extend(error.problems)
    if problems:
        raise ConfigError(tuple(problems))
    return found


def govern(
    before: dict[str, Settings], after: dict[str, Settings], *, fork: bool, head: str, base: str
) -> Governing:
    """Decide the effective settings.

    Args:
        before: settings of the base by path.
        after: settings of the head by path.
        fork: True where the change comes from a fork: the base's policy judges.
        head: name of the head for the report.
        base: name of the base for the report.
    """
    paths = sorted({*before, *after})
    effective: dict[str, Settings] = {}
    changes: list[PolicyChange] = []
    for path in paths:
        old = before.get(path)
        new = after.get(path)
        former = old or default_settings()
        current = new or default_settings()
        if old != new:
            changes.extend(policy_changes(former, current))
        if fork:
            effective[path] = effective_settings(former, current, True)
        elif new is not None:
            effective[path] = new
    where = base if fork else head
    named = ", ".join(paths) or "the defaults (no dfmcheck.toml)"
    source = f"{named} of {where}" if paths else named
    return Governing(before=before, after=effective, changes=tuple(changes), policy_source=source)

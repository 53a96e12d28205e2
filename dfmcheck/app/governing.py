"""Which settings govern which file, before and after, and from which side policy comes."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from dfmcheck.config.find import CONFIG_NAME, matcher_for, settings_for
from dfmcheck.config.load import default_settings, parse_settings
from dfmcheck.config.policy import effective_of_all
from dfmcheck.config.spec import PRICE_LIMITS
from dfmcheck.errors import ConfigError
from dfmcheck.model.rule import Rule
from dfmcheck.model.settings import Permit, PolicyChange, Settings


def is_config(path: str) -> bool:
    """True for a configuration file at any depth."""
    return path == CONFIG_NAME or path.endswith("/" + CONFIG_NAME)


@dataclass
class Governing:
    """The settings of both sides of a run.

    `after` judges (policy of the base for a fork's change, part data of the head); `before` are
    the base's own and `head` the head's own, between which changes of configuration are found.
    """

    before: dict[str, Settings] = field(default_factory=dict)
    head: dict[str, Settings] = field(default_factory=dict)
    fork: bool = False
    source: str = ""

    def __post_init__(self) -> None:
        """Find the settings in force."""
        self.after = effective_of_all(self.before, self.head, fork=self.fork)

    @property
    def changed(self) -> bool:
        """Whether the configuration differs between the two sides."""
        return self.before != self.head

    def of(self, path: str) -> Settings:
        """The settings that govern a file of the head."""
        return settings_for(path, self.after)

    def of_before(self, path: str) -> Settings:
        """The settings that governed a file of the base."""
        return settings_for(path, self.before)

    def looks_at(self, path: str) -> bool:
        """Whether a STEP file is looked at by the settings that govern it."""
        return matcher_for(self.of(path))(path)

    @property
    def all(self) -> tuple[Settings, ...]:
        """The settings in force by path, at least the defaults."""
        return tuple(self.after[k] for k in sorted(self.after)) or (default_settings(),)

    @property
    def plugins(self) -> tuple[str, ...]:
        """Plugins that the policy names."""
        return tuple(sorted({p for s in self.all for p in s.policy.plugins}))

    @property
    def mode(self) -> str:
        """ "advise" where every configuration says so, else "hold"."""
        return "advise" if all(s.policy.mode == "advise" for s in self.all) else "hold"

    @property
    def warnings(self) -> tuple[str, ...]:
        """Warnings of all configurations."""
        return tuple(w for s in self.all for w in s.warnings)

    @property
    def not_judged(self) -> tuple[str, ...]:
        """A sentence for each setting that is understood, but that nothing judges yet."""
        found = []
        for settings in self.all:
            policy = settings.policy
            keys = [f"limits.{v.name}" for v in policy.limits if v.name in PRICE_LIMITS]
            keys += [f"part.{e.number}.target_cost" for e in settings.parts if e.target_cost]
            keys += ["gate.reference"] if policy.reference else []
            where = settings.source or "the configuration"
            found += [f"{where}: {key} is set, but this version does not judge it" for key in keys]
        return tuple(found)

    @property
    def new_permits(self) -> tuple[Permit, ...]:
        """Permits that the base does not have as they are."""
        old = {p for s in self.before.values() for p in s.policy.permits}
        return tuple(p for s in self.all for p in s.policy.permits if p not in old)

    @property
    def names_rules(self) -> bool:
        """Whether a configuration names limits, rules, pieces or permits, to be checked."""
        policies = [s.policy for s in self.all]
        return any(p.limits or p.rules or p.stages or p.permits for p in policies)

    def check_names(self, rules: tuple[Rule, ...]) -> None:
        """Check the names of limits, rules and pieces against those that are loaded.

        Raises:
            ConfigError: one sentence for each name that nothing knows.
        """
        from dfmcheck.checking.stages import SUMMARY
        from dfmcheck.config.names import name_problems

        limits = {limit.name for rule in rules for limit in rule.limits}
        names = {rule.name for rule in (*rules, SUMMARY)}
        pieces = {rule.piece for rule in rules if rule.piece}
        problems = [
            problem
            for settings in self.all
            for problem in name_problems(
                settings, known_limits=limits, known_rules=names, known_pieces=pieces
            )
        ]
        if problems:
            raise ConfigError(tuple(problems))

    def policy_changes(self, rules: tuple[Rule, ...]) -> tuple[PolicyChange, ...]:
        """Every change of policy between the two sides, those that weaken first."""
        if not self.changed:
            return ()
        from dfmcheck.config.policy import policy_changes_of_all

        return policy_changes_of_all(
            self.before,
            self.head,
            limits=tuple(limit for rule in rules for limit in rule.limits),
            levels={rule.name: rule.level for rule in rules},
        )


def load_side(
    contents: Mapping[str, bytes], rules_of: Callable[[], tuple[Rule, ...]] | None = None
) -> dict[str, Settings]:
    """Parse each configuration of one revision.

    Names of limits and rules are checked later, when plugins are loaded; a file with other errors
    gets them told together, by the shipped rules (`rules_of`) where it names no plugins.

    Raises:
        ConfigError: all problems of all files.
    """
    found: dict[str, Settings] = {}
    problems: list[str] = []
    for path in sorted(contents):
        try:
            found[path] = parse_settings(contents[path], path)
        except ConfigError as error:
            problems.extend(_with_names(contents[path], path, rules_of) or error.problems)
    if problems:
        raise ConfigError(tuple(problems))
    return found


def _with_names(
    data: bytes, path: str, rules_of: Callable[[], tuple[Rule, ...]] | None
) -> tuple[str, ...]:
    if rules_of is None or b"plugins" in data:
        return ()
    from dfmcheck.checking.stages import SUMMARY

    rules = rules_of()
    try:
        parse_settings(
            data,
            path,
            known_limits={limit.name for rule in rules for limit in rule.limits},
            known_rules={rule.name for rule in (*rules, SUMMARY)},
            known_pieces={rule.piece for rule in rules if rule.piece},
        )
    except ConfigError as error:
        return error.problems
    return ()


def source_words(paths: Iterable[str], where: str) -> str:
    """Where the policy comes from, for the report."""
    named = ", ".join(sorted(paths))
    return f"{named} of {where}" if named else "the defaults (there is no dfmcheck.toml)"

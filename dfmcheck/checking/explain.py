"""What `dfmcheck rules` shows: each rule, what it costs in the shop and why, and its limits.

Values only; the command line sets them.
"""

from typing import Literal

from dfmcheck.checking.limits import LimitInForce, limits_in_force
from dfmcheck.checking.stages import SUMMARY, pieces_asked
from dfmcheck.errors import UsageError
from dfmcheck.model.base import Value
from dfmcheck.model.finding import FindingLevel
from dfmcheck.model.rule import Rule
from dfmcheck.model.settings import Level, Settings

LooksAt = Literal["part", "change", "stage"]

LOOKS_AT_IN_WORDS: dict[str, str] = {
    "part": "each part as it is; a finding holds only if this change brought it or made it worse",
    "change": "what changed between two revisions of a part",
    "stage": "what is still missing, once a run asks for a stage",
}
"""What a rule looks at, for the reader."""


class LimitExplained(Value, frozen=True):
    """A limit of a rule as the reader sees it.

    `value` is in force (None: nothing is limited), `default` what holds unless the configuration
    sets it. `sense` reads "at most" or "at least". `source` is where the value in force comes
    from, `default_source` where the default does.
    """

    name: str
    meaning: str
    sense: Literal["at most", "at least"]
    value: float | None
    default: float | None
    unit: str
    source: str
    default_source: str
    configured: bool


class RuleExplained(Value, frozen=True):
    """A rule as the reader sees it.

    `level` is in force, `default_level` the rule's own; `why` is the explanation at length, as
    paragraphs of plain text. `piece` names the piece of a stage it checks and `stages` the stages
    that ask for it. `configure` are lines of `dfmcheck.toml` that set the rule's level and limits
    to what is in force now.
    """

    name: str
    title: str
    plugin: str
    looks_at: LooksAt
    level: Level
    default_level: FindingLevel
    why: tuple[str, ...]
    limits: tuple[LimitExplained, ...]
    configure: tuple[str, ...]
    piece: str | None = None
    stages: tuple[str, ...] = ()


def list_rules(rules: tuple[Rule, ...], settings: Settings) -> tuple[RuleExplained, ...]:
    """All rules by name, with the note that the engine itself makes."""
    shown = sorted((*rules, SUMMARY), key=lambda rule: rule.name)
    limits = limits_in_force(rules, settings)
    return tuple(_explained(rule, limits, settings) for rule in shown)


def explain_rule(name: str, rules: tuple[Rule, ...], settings: Settings) -> RuleExplained:
    """One rule at length, found by its name or by that of one of its limits.

    Raises:
        UsageError: no rule and no limit has this name.
    """
    found = list_rules(rules, settings)
    for rule in found:
        if name == rule.name:
            return rule
    for rule in found:
        if any(limit.name == name for limit in rule.limits):
            return rule
    raise UsageError(_unknown(name, found))


def _explained(rule: Rule, limits: dict[str, LimitInForce], settings: Settings) -> RuleExplained:
    shown = tuple(_limit(limits[limit.name]) for limit in rule.limits)
    level = dict(settings.policy.rules).get(rule.name, rule.level)
    stages: tuple[Literal["request", "order"], ...] = ("request", "order")
    return RuleExplained(
        name=rule.name,
        title=rule.title,
        plugin=rule.plugin,
        looks_at=rule.looks_at,
        level=level,
        default_level=rule.level,
        why=_paragraphs(rule.explanation),
        limits=shown,
        configure=_configure(rule.name, level, shown),
        piece=rule.piece,
        stages=tuple(s for s in stages if rule.piece and rule.piece in pieces_asked(settings, s)),
    )


def _limit(found: LimitInForce) -> LimitExplained:
    limit = found.limit
    return LimitExplained(
        name=limit.name,
        meaning=limit.meaning,
        sense="at most" if limit.sense == "most" else "at least",
        value=found.value,
        default=limit.default,
        unit=limit.unit,
        source=found.source,
        default_source=limit.source,
        configured=found.configured,
    )


def _configure(name: str, level: Level, limits: tuple[LimitExplained, ...]) -> tuple[str, ...]:
    lines = ["[rules]", f'{name} = "{level}"  # off, note, warning, error']
    if limits:
        lines += [
            "",
            "[limits]  # passing one that is set here holds, unless [rules] says otherwise",
        ]
    for limit in limits:
        unit = f"  # {limit.unit}" if limit.unit else ""
        value = "…" if limit.value is None else f"{limit.value:g}"
        comment = "# " if limit.value is None else ""
        lines.append(f"{comment}{limit.name} = {value}{unit}")
    return tuple(lines)


def _paragraphs(text: str) -> tuple[str, ...]:
    return tuple(" ".join(part.split()) for part in text.split("\n\n") if part.strip())


def _unknown(name: str, rules: tuple[RuleExplained, ...]) -> str:
    from difflib import get_close_matches

    known = sorted({r.name for r in rules} | {limit.name for r in rules for limit in r.limits})
    close = get_close_matches(name, known, n=3)
    hint = f"did you mean {' or '.join(close)}?" if close else "`dfmcheck rules` lists them all"
    return f"there is no rule or limit called {name!r}; {hint}"

"""What a rule is: a named, documented function from a view of a part to remarks."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from dfmcheck.model.change import Change, Comparison
from dfmcheck.model.finding import FindingLevel, Limit, Remark
from dfmcheck.model.part import Part
from dfmcheck.model.settings import LimitValue, Settings


@dataclass(frozen=True, kw_only=True)
class View:
    """Everything a rule may look at.

    State and stage rules see `part` alone; change rules see `former` and `comparison` as well
    (never None for them). `limit_values` holds the limits of all rules, configured or default,
    by name; one that is not set is left out. `stage` is what the run was asked to judge for.
    A rule does not read files, git, the kernel or the clock: `today` is given.
    """

    part: Part
    settings: Settings
    today: date
    former: Part | None = None
    comparison: Comparison | None = None
    limit_values: tuple[LimitValue, ...] = ()
    stage: str | None = None

    def limit(self, name: str) -> float | None:
        """The value of a limit in its unit, or None where none is set."""
        return next((v.value for v in self.limit_values if v.name == name), None)

    def changes(self, *kinds: str) -> tuple[Change, ...]:
        """The changes of these kinds, in their order."""
        if self.comparison is None:
            return ()
        return tuple(c for c in self.comparison.changes if c.kind in kinds)

    @property
    def comparable_former(self) -> Part | None:
        """The former revision; None where a unit was mistaken, so that no size compares."""
        found = () if self.comparison is None else self.comparison.changes
        return None if any(c.kind == "unit-changed" for c in found) else self.former


Check = Callable[[View], Iterable[Remark]]


RULE_NAME = re.compile(r"[a-z]+(-[a-z]+)*")
"""A rule's name: lower-case words joined by hyphens."""


@dataclass(frozen=True, kw_only=True)
class Rule:
    """A rule: what it is called, what it looks at, its limits, and the function that looks.

    `looks_at`: "part" (one revision), "change" (two revisions), "stage" (completeness; silent
    unless the run asks for a stage to which its `piece` belongs). `makes` "machined": parts that
    the configuration calls bought, printed or bent are passed over; "any": they are not. The
    docstring of `check` says what it costs in the shop and why. `plugin` says where the rule
    came from and is filled in when rules are collected.
    """

    name: str
    title: str
    level: FindingLevel
    looks_at: Literal["part", "change", "stage"]
    check: Check
    limits: tuple[Limit, ...] = field(default=())
    piece: str | None = None
    makes: Literal["machined", "any"] = "machined"
    plugin: str = ""

    @property
    def explanation(self) -> str:
        """The docstring of the check, dedented."""
        import inspect

        return inspect.getdoc(self.check) or ""


def rule(
    *,
    name: str,
    title: str,
    level: FindingLevel,
    looks_at: Literal["part", "change", "stage"],
    limits: tuple[Limit, ...] = (),
    piece: str | None = None,
    makes: Literal["machined", "any"] = "machined",
) -> Callable[[Check], Rule]:
    """Make a rule of a function.

    Raises:
        ValueError: the name is not lower-case words joined by hyphens, the function has no
            docstring, or a stage rule names no piece.
    """

    def wrap(check: Check) -> Rule:
        if not RULE_NAME.fullmatch(name):
            msg = f"a rule's name is lower-case words joined by hyphens, not {name!r}"
            raise ValueError(msg)
        if not check.__doc__:
            msg = f"the rule {name!r} needs a docstring: what it costs in the shop, and why"
            raise ValueError(msg)
        if (looks_at == "stage") != (piece is not None):
            msg = f"the rule {name!r}: a stage rule names its piece, and no other rule does"
            raise ValueError(msg)
        return Rule(
            name=name,
            title=title,
            level=level,
            looks_at=looks_at,
            check=check,
            limits=limits,
            piece=piece,
            makes=makes,
        )

    return wrap


@dataclass(frozen=True, kw_only=True)
class Reporter:
    """A rendering of a run: `render` turns the report into text or bytes; it decides nothing."""

    name: str
    description: str
    render: Callable[..., str | bytes]

"""Settings: the content of `dfmcheck.toml`, checked and typed.

`Policy` is what judges (limits, levels, exclusions, plugins, permits); `PartEntry` what a part is.
"""

from typing import Literal

from dfmcheck.model.base import Value, Vec

Level = Literal["off", "note", "warning", "error"]
Stage = Literal["request", "order"]


class LimitValue(Value, frozen=True):
    """A configured limit.

    A bare number is `value`; limits at a quantity have `at`, and `percent` or `amount`, with
    `and_at_least` (money) below which nothing is claimed.
    """

    name: str
    value: float | None = None
    at: int | None = None
    percent: float | None = None
    amount: float | None = None
    and_at_least: float | None = None


class Permit(Value, frozen=True):
    """A deviation permit: leave, given beforehand, to depart from a limit up to a value (ISO 9000).

    `part` is a part number, `limit` a rule's or a limit's name; `until` an ISO date, the last day
    on which it holds. `up_to` None permits any value (for rules that measure nothing).
    """

    part: str
    limit: str
    reason: str
    owner: str
    until: str
    up_to: float | None = None
    feature: str | None = None


class CalloutTarget(Value, frozen=True):
    """Which features a callout belongs to: by kind, size and place, so as to survive re-export."""

    kind: str
    diameter_mm: float | None = None
    radius_mm: float | None = None
    near_mm: Vec | None = None
    count: int | None = None


class Callout(Value, frozen=True):
    """What the STEP file does not carry: a thread, fit, tolerance, texture or knurl."""

    find: CalloutTarget
    thread: str | None = None
    fit: str | None = None
    tolerance_mm: tuple[float, float] | None = None
    texture_ra_um: float | None = None
    knurl: str | None = None
    depth_mm: float | None = None
    note: str | None = None


class TargetCost(Value, frozen=True):
    """A budget for a part at a quantity, in the configuration's currency."""

    at: int
    amount: float


class PartEntry(Value, frozen=True):
    """The entry `[part.NUMBER]` of the configuration; `file` is a path in the repository."""

    number: str
    file: str
    solid: str | None = None
    name: str | None = None
    make: Literal["machined", "bought", "printed", "bent"] = "machined"
    letter: str | None = None
    material: str | None = None
    finish: tuple[str, ...] = ()
    quantities: tuple[int, ...] = ()
    target_cost: TargetCost | None = None
    callouts: tuple[Callout, ...] = ()
    general_tolerance: str | None = None


class Policy(Value, frozen=True):
    """Everything that decides the verdict; for a fork's change it comes from the base.

    `folder` is the folder to which the patterns of `look_at` and `leave_out` are relative ("" = the
    repository's top). `rules` are pairs of a rule's name and its level, `stages` of a stage and
    its pieces.
    """

    look_at: tuple[str, ...] = ("**/*.step", "**/*.stp", "**/*.p21")
    leave_out: tuple[str, ...] = ()
    plugins: tuple[str, ...] = ()
    mode: Literal["hold", "advise"] = "hold"
    hold_on: Literal["new", "all"] = "new"
    reference: str | None = None
    limits: tuple[LimitValue, ...] = ()
    rules: tuple[tuple[str, Level], ...] = ()
    stages: tuple[tuple[Stage, tuple[str, ...]], ...] = ()
    permits: tuple[Permit, ...] = ()
    folder: str = ""


class Settings(Value, frozen=True):
    """One `dfmcheck.toml`, with the defaults filled in.

    `source` is the file's path in the repository ("" where there is none: the defaults);
    `folder` the folder it governs ("" = the whole repository). `warnings` are sentences to be
    printed. `private` is the name of an environment variable. `part_lines` gives the line of each
    part's entry by number, `policy_lines` that of each limit, rule, stage and permit by key path
    ("limits.setups", "permit[1].limit", counted from 1).
    """

    policy: Policy
    source: str = ""
    folder: str = ""
    currency: str = "EUR"
    quantities: tuple[int, ...] = (1, 10, 25)
    private: str | None = None
    parts: tuple[PartEntry, ...] = ()
    part_lines: tuple[tuple[str, int], ...] = ()
    policy_lines: tuple[tuple[str, int], ...] = ()
    warnings: tuple[str, ...] = ()


class PolicyChange(Value, frozen=True):
    """One change of policy between two revisions of the configuration, in words.

    `weakens` is True where the change lets more pass than before, or may do so.
    """

    key: str
    before: str
    after: str
    weakens: bool

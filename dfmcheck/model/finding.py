"""Limits, remarks of rules, and findings judged by the engine."""

from typing import Literal

from dfmcheck.model.base import Value
from dfmcheck.model.settings import Permit

FindingLevel = Literal["note", "warning", "error"]


class Limit(Value, frozen=True):
    """A limit that a rule declares: its name in `[limits]`, default, unit and source.

    `default` None: nothing is limited until the configuration sets it. `sense` "most": a measured
    value above the limit exceeds it; "least": one below.
    """

    name: str
    default: float | None
    unit: str
    sense: Literal["most", "least"]
    source: str
    meaning: str


class Remark(Value, frozen=True):
    """What a rule says, before it is judged.

    `message` is one plain sentence with the figures; it names no feature id and no limit, so
    that equal features get equal messages. `cost` says what it costs in the shop, `advice` what
    one could do. `measured` is compared with the limit named `limit` by the engine: a remark
    within its limit, or exactly at it, is dropped, as is one whose limit is not set. `feature` is
    the id of the feature concerned, `faces` the faces (those of the feature where none are
    given). `before_value` is the former value where the rule compares. `signature` distinguishes
    remarks of one rule in one part where no feature does.
    """

    message: str
    cost: str = ""
    advice: str = ""
    limit: str | None = None
    measured: float | None = None
    before_value: float | None = None
    feature: str | None = None
    faces: tuple[int, ...] = ()
    signature: str = ""


class Finding(Value, frozen=True):
    """A remark judged: level, limit, whether it is new, permitted, and whether it holds.

    `identity` is the same across revisions for the same finding (rule, part number, feature
    signature). `state` is "new" if the change under review brought it.
    """

    rule: str
    level: FindingLevel
    message: str
    part: str
    file: str
    identity: str
    state: Literal["new", "old"]
    holds: bool
    cost: str = ""
    advice: str = ""
    limit: str | None = None
    limit_value: float | None = None
    limit_source: str = ""
    measured: float | None = None
    before_value: float | None = None
    unit: str = ""
    feature: str | None = None
    faces: tuple[int, ...] = ()
    line: int | None = None
    permit: Permit | None = None


class NotChecked(Value, frozen=True):
    """A rule that raised: never shown as passed."""

    rule: str
    plugin: str
    part: str
    reason: str

"""The analysis of a run, as reporters receive it. Reporters render; they decide nothing."""

from typing import Literal

from dfmcheck.model.base import Value
from dfmcheck.model.change import Comparison, Status
from dfmcheck.model.facts import NotRead
from dfmcheck.model.finding import Finding, NotChecked
from dfmcheck.model.history import Range
from dfmcheck.model.part import Part
from dfmcheck.model.settings import Permit, PolicyChange

Verdict = Literal["release", "hold"]


class PartReport(Value, frozen=True):
    """One part of the run.

    `file` is the path after (before, where it was removed); `former_file` the path before a
    rename. `part` is None where the part was removed or could not be read; `former` likewise for
    the revision before. `doubts` follow the words "read, but not to be trusted: …"; `not_read`
    "not read: …".
    """

    file: str
    number: str
    name: str
    status: Status
    former_file: str | None = None
    part: Part | None = None
    former: Part | None = None
    comparison: Comparison | None = None
    findings: tuple[Finding, ...] = ()
    not_read: NotRead | None = None
    former_not_read: NotRead | None = None
    doubts: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


class PermitState(Value, frozen=True):
    """A permit with what became of it in the run."""

    permit: Permit
    state: Literal[
        "used", "unused", "expired", "exceeded", "no-such-part", "no-such-limit", "not-looked-at"
    ]
    text: str


class RunReport(Value, frozen=True):
    """The result of `gate` (with `range`) or `part` (without).

    `unchanged` counts STEP files looked at that are the same in both revisions. `could_not_judge`
    counts parts of the head that were not read or not to be trusted. `exit_status` is documented
    in the README.
    """

    command: Literal["gate", "part"]
    verdict: Verdict
    exit_status: int
    parts: tuple[PartReport, ...]
    range: Range | None = None
    mode: Literal["hold", "advise"] = "hold"
    policy_source: str = ""
    policy_changes: tuple[PolicyChange, ...] = ()
    permits: tuple[PermitState, ...] = ()
    not_checked: tuple[NotChecked, ...] = ()
    unchanged: int = 0
    could_not_judge: int = 0
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    version: str = ""

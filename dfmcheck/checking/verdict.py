"""The verdict of a run and its exit status.

0 release · 1 fault of the tool or a plugin · 2 wrong use or configuration · 3 hold · 4 a part
could not be judged. The worst wins in the order 1, 2, 4, 3, 0.

With `mode = "advise"` a hold is reported but ends with status 0. The statuses 1, 2 and 4 stay:
advice softens a judgement, but where nothing could be judged there is no advice to give, and a
green build would say that the part had been looked at. A file that dfmcheck is not meant to read
belongs into `leave_out`.
"""

from collections.abc import Iterable
from typing import Literal

from dfmcheck.model.finding import Finding, NotChecked
from dfmcheck.model.report import Verdict

RELEASE, FAULT, USAGE, HOLD, NOT_JUDGED = 0, 1, 2, 3, 4
_WORST_FIRST = (FAULT, USAGE, NOT_JUDGED, HOLD, RELEASE)


def conclude(
    findings: Iterable[Finding],
    not_checked: Iterable[NotChecked] = (),
    could_not_judge: int = 0,
    mode: Literal["hold", "advise"] = "hold",
    *,
    others: Iterable[int] = (),
) -> tuple[Verdict, int]:
    """Verdict and exit status.

    The verdict is "release" only if nothing holds, every rule ran and every part of the head
    could be judged (`could_not_judge` counts those that could not; an unreadable base with a
    good head is none of them). `others` are further exit statuses that happened along the way.
    """
    statuses = set(others)
    if any(f.holds for f in findings):
        statuses.add(HOLD)
    if any(True for _ in not_checked):
        statuses.add(FAULT)
    if could_not_judge:
        statuses.add(NOT_JUDGED)
    verdict: Verdict = "hold" if statuses - {RELEASE} else "release"
    if mode == "advise":
        statuses.discard(HOLD)
    return verdict, worst_status(statuses)


def worst_status(statuses: Iterable[int]) -> int:
    """The exit status that wins, in the order 1, 2, 4, 3, 0; any other status counts as a fault."""
    seen = {s if s in _WORST_FIRST else FAULT for s in statuses}
    return next((s for s in _WORST_FIRST if s in seen), RELEASE)

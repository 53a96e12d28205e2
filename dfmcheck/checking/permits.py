"""Deviation permits: which finding they cover, and what became of each in a run."""

from collections.abc import Iterable
from datetime import date

from dfmcheck.checking.limits import exceeds
from dfmcheck.model.finding import Finding, Limit
from dfmcheck.model.report import PermitState
from dfmcheck.model.rule import Rule
from dfmcheck.model.settings import Permit, Settings

EXPLANATION = (
    "a deviation permit is leave, given beforehand, to depart from a limit: for one part, up to a "
    "value, with a reason, an owner and a last day"
)
"""What a permit is, for wherever one is printed."""


def permit_for(
    permits: Iterable[Permit], finding: Finding, limit: Limit | None, today: date
) -> Permit | None:
    """The valid permit that covers a finding, or None; of several the one that lasts longest."""
    covering = [
        p
        for p in permits
        if applies(p, finding) and not is_expired(p, today) and within(p, finding.measured, limit)
    ]
    return max(covering, key=lambda p: (p.until, p.owner, p.reason), default=None)


def applies(permit: Permit, finding: Finding) -> bool:
    """Whether the permit speaks of this part, limit and feature, be it valid or not.

    `limit` may be the name of the limit or of the rule; `feature` the id of a feature, or the
    words that name it in the finding's identity ("hole 2.5 at 12.0, 4.0, 0.0").
    """
    if permit.part != finding.part or permit.limit not in (finding.rule, finding.limit):
        return False
    return permit.feature is None or (
        permit.feature == finding.feature or finding.identity.endswith(permit.feature)
    )


def is_expired(permit: Permit, today: date) -> bool:
    """Whether its last day is over; what is no date is over."""
    try:
        return date.fromisoformat(permit.until) < today
    except ValueError:
        return True


def within(permit: Permit, measured: float | None, limit: Limit | None) -> bool:
    """Whether a measured value lies within what the permit allows; exactly at `up_to` it does."""
    if permit.up_to is None:
        return True
    if measured is None:
        return False
    return not exceeds(measured, permit.up_to, limit.sense if limit else "most")


def describe(permit: Permit, unit: str = "") -> str:
    """The permit in words: who gave it, up to what, until when and why."""
    value = ""
    if permit.up_to is not None:
        named = unit in permit.limit  # "setups up to 3", not "up to 3 setups"
        value = f" up to {permit.up_to:g}{'' if named else ' ' + unit}"
    feature = f" for {permit.feature}" if permit.feature else ""
    return (
        f"permit of {permit.owner} for {permit.part}, {permit.limit}{feature}{value}, until "
        f"{permit.until} (that day included), because: {permit.reason}"
    )


def permit_states(
    settings: Settings,
    findings: Iterable[Finding],
    known_numbers: Iterable[str],
    looked_at_numbers: Iterable[str],
    rules: Iterable[Rule],
    today: date,
) -> tuple[PermitState, ...]:
    """What became of each permit of the configuration, in its order.

    Permits are checked over all parts: `known_numbers` are the part numbers of the whole
    revision, `looked_at_numbers` those judged in this run. A permit that covers a finding is
    "used"; "exceeded" means a finding lies beyond `up_to`.
    """
    found = tuple(findings)
    known, looked_at = set(known_numbers), set(looked_at_numbers)
    rules = tuple(rules)
    limits = {limit.name: limit for rule in rules for limit in rule.limits}
    names = {rule.name for rule in rules} | set(limits)
    return tuple(
        _state(permit, found, known, looked_at, limits, names, today)
        for permit in settings.policy.permits
    )


def state_warnings(states: Iterable[PermitState]) -> tuple[str, ...]:
    """Sentences for permits that need attention: expired, exceeded, unused or naming nothing."""
    return tuple(s.text for s in states if s.state not in ("used", "not-looked-at"))


def _state(
    permit: Permit,
    findings: tuple[Finding, ...],
    known: set[str],
    looked_at: set[str],
    limits: dict[str, Limit],
    names: set[str],
    today: date,
) -> PermitState:
    limit = limits.get(permit.limit)
    said = describe(permit, limit.unit if limit else "")
    if permit.part not in known:
        text = f"{said}; but no part has the number {permit.part}"
        return PermitState(permit=permit, state="no-such-part", text=text)
    if permit.limit not in names:
        text = f"{said}; but no rule or limit is called {permit.limit}"
        return PermitState(permit=permit, state="no-such-limit", text=text)
    if is_expired(permit, today):
        text = f"{said}; it has expired and permits nothing: renew it or take it out"
        return PermitState(permit=permit, state="expired", text=text)
    if permit.part not in looked_at:
        text = f"{said}; the part was not looked at in this run"
        return PermitState(permit=permit, state="not-looked-at", text=text)
    return _use(permit, said, findings)


def _use(permit: Permit, said: str, findings: tuple[Finding, ...]) -> PermitState:
    concerned = [f for f in findings if applies(permit, f)]
    beyond = [f for f in concerned if f.permit is None]
    if beyond:
        measured = next((f.measured for f in beyond if f.measured is not None), None)
        if measured is None:
            text = f"{said}; but the rule measures nothing, so `up_to` cannot be kept: leave it out"
        else:
            text = f"{said}; but {measured:g} was measured, and it permits no more than that value"
        return PermitState(permit=permit, state="exceeded", text=text)
    if any(f.permit == permit for f in concerned):
        return PermitState(permit=permit, state="used", text=f"{said}; used")
    text = f"{said}; nothing needs it any more: take it out"
    return PermitState(permit=permit, state="unused", text=text)

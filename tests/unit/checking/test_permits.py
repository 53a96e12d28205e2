"""Permits: what became of each, over all parts."""

from datetime import date

import msgspec
import pytest
from builders import TODAY, a_permit, make_feature, make_part, make_settings

from dfmcheck.checking.engine import check_part
from dfmcheck.checking.permits import describe, is_expired, permit_states, state_warnings
from dfmcheck.model.report import PermitState
from dfmcheck.model.settings import Permit
from dfmcheck_rules.holes import deep_hole
from dfmcheck_rules.pockets import undercut

RULES = (deep_hole, undercut)


def state(
    permit: Permit,
    *,
    depth_mm: float = 36.0,
    known: tuple[str, ...] = ("DL-1", "DL-2"),
    looked_at: tuple[str, ...] = ("DL-1",),
    today: date = TODAY,
) -> PermitState:
    settings = make_settings({"hole_depth_ratio": 5.0}, permits=(permit,))
    part = make_part(make_feature("hole", diameter_mm=6.0, depth_mm=depth_mm),
                     make_feature("slot", profile="tee"))  # fmt: skip
    findings, _ = check_part(part, None, None, settings, RULES, today)
    (found,) = permit_states(settings, findings, known, looked_at, RULES, today)
    return found


@pytest.mark.parametrize(
    ("permit", "expected"),
    [
        (a_permit("hole_depth_ratio", up_to=6.0), "used"),
        (a_permit("deep-hole", up_to=6.0), "used"),
        (a_permit("deep-hole"), "used"),
        (a_permit("hole_depth_ratio", up_to=5.9), "exceeded"),
        (a_permit("hole_depth_ratio", up_to=6.0, part="DL-2"), "not-looked-at"),
        (a_permit("hole_depth_ratio", up_to=6.0, part="DL-9"), "no-such-part"),
        (a_permit("hole_depth", up_to=6.0), "no-such-limit"),
        (a_permit("hole_depth_ratio", up_to=6.0, until="2026-03-15"), "expired"),
        (a_permit("hole_depth_ratio", up_to=6.0, until="2026-03-16"), "used"),
        (a_permit("hole_depth_ratio", part="DL-2", until="2026-03-15"), "expired"),
        (a_permit("hole_depth_ratio", until="next spring"), "expired"),
        (a_permit("undercut"), "used"),
        (a_permit("undercut", up_to=3.0), "exceeded"),
        (a_permit("deep-hole", feature="hole-1"), "used"),
        (a_permit("deep-hole", feature="hole 6 at 30.0, 20.0, 15.0"), "used"),
        (a_permit("deep-hole", feature="hole-2"), "unused"),
    ],
)
def test_each_state(permit: Permit, expected: str) -> None:
    assert state(permit).state == expected


def test_a_permit_that_nothing_needs_is_unused() -> None:
    found = state(a_permit("hole_depth_ratio", up_to=6.0), depth_mm=12.0)
    assert found.state == "unused"
    assert "take it out" in found.text


def test_what_needs_attention_is_warned_of() -> None:
    expired = state(a_permit("deep-hole", until="2020-01-01"))
    used = state(a_permit("deep-hole"))
    away = state(a_permit("deep-hole", part="DL-2"))
    assert state_warnings((expired, used, away)) == (expired.text,)


def test_a_permit_is_explained_wherever_it_is_printed() -> None:
    text = describe(a_permit("setups", up_to=3.0), "setups")
    assert text == (
        "permit of ada for DL-1, setups up to 3, until 2026-06-30 (that day included), "
        "because: the slot carries the cable"
    )


def test_what_is_no_date_has_expired() -> None:
    assert is_expired(msgspec.structs.replace(a_permit("x"), until="2026-13-01"), TODAY)


def test_of_two_permits_the_one_that_lasts_longest_is_named() -> None:
    short = a_permit("deep-hole", until="2026-04-01")
    long = a_permit("deep-hole", until="2026-12-31")
    for permits in ((short, long), (long, short)):
        settings = make_settings({"hole_depth_ratio": 5.0}, permits=permits)
        part = make_part(make_feature("hole", depth_mm=60.0))
        (found, *_), _ = check_part(part, None, None, settings, RULES, TODAY)
        assert found.permit == long

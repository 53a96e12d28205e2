"""Verdict and exit status, as the README documents them."""

from itertools import product

import msgspec
import pytest
from builders import make_feature, make_part, make_settings, run_rule

from dfmcheck.checking.verdict import conclude, worst_status
from dfmcheck.model.finding import NotChecked
from dfmcheck_rules.holes import deep_hole

(HELD,) = run_rule(
    deep_hole,
    make_part(make_feature("hole", depth_mm=60.0)),
    settings=make_settings({"hole_depth_ratio": 5.0}),
)
MENTIONED = msgspec.structs.replace(HELD, holds=False)
FAILED = NotChecked(rule="deep-hole", plugin="lamp_rules", part="DL-1", reason="raised")


@pytest.mark.parametrize(
    ("holds", "failed", "unread", "verdict", "hold_status", "advise_status"),
    [
        (False, False, 0, "release", 0, 0),
        (True, False, 0, "hold", 3, 0),
        (False, False, 2, "hold", 4, 4),
        (True, False, 2, "hold", 4, 4),
        (False, True, 0, "hold", 1, 1),
        (True, True, 2, "hold", 1, 1),
    ],
)
def test_every_outcome(
    holds: bool, failed: bool, unread: int, verdict: str, hold_status: int, advise_status: int
) -> None:
    findings = (MENTIONED, HELD) if holds else (MENTIONED,)
    not_checked = (FAILED,) if failed else ()
    assert conclude(findings, not_checked, unread) == (verdict, hold_status)
    assert conclude(findings, not_checked, unread, "advise") == (verdict, advise_status)


def test_the_worst_wins_in_the_order_1_2_4_3_0() -> None:
    order = (1, 2, 4, 3, 0)
    for one, other in product(order, order):
        assert worst_status((one, other)) == min(one, other, key=order.index)
    assert worst_status(()) == 0
    assert worst_status((77,)) == 1


def test_other_statuses_of_the_run_count() -> None:
    assert conclude((), others=(2,)) == ("hold", 2)
    assert conclude((), others=(0,)) == ("release", 0)

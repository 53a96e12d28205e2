"""Each tap drill of ISO 2306 is on the drill series and makes a hole look tapped."""

import pytest
from builders import make_feature, make_part, run_rule

from dfmcheck_rules.holes import odd_sized_hole
from dfmcheck_rules.threads import looks_tapped

TAP_DRILLS_MM = {
    "M1.6": 1.25, "M2": 1.6, "M2.5": 2.05, "M3": 2.5, "M4": 3.3, "M5": 4.2, "M6": 5.0,
    "M8": 6.8, "M10": 8.5, "M12": 10.2, "M14": 12.0, "M16": 14.0, "M18": 15.5, "M20": 17.5,
    "M22": 19.5, "M24": 21.0,
}  # fmt: skip


@pytest.mark.parametrize(("thread", "diameter_mm"), TAP_DRILLS_MM.items())
def test_a_hole_of_this_size_looks_tapped(thread: str, diameter_mm: float) -> None:
    part = make_part(make_feature("hole", diameter_mm=diameter_mm))
    (found,) = run_rule(looks_tapped, part)
    assert f"drilled for {thread}" in found.message
    assert run_rule(odd_sized_hole, part) == ()

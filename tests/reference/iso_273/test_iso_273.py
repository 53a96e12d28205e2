"""Clearance holes of ISO 273 are drilled with common drills and do not look tapped."""

from itertools import chain

import pytest
from builders import make_feature, make_part, run_rule

from dfmcheck_rules.holes import odd_sized_hole
from dfmcheck_rules.threads import looks_tapped

CLEARANCE_MM = {
    # fine, medium, coarse
    "M1.6": (1.7, 1.8, 2.0), "M2": (2.2, 2.4, 2.6), "M2.5": (2.7, 2.9, 3.1), "M3": (3.2, 3.4, 3.6),
    "M4": (4.3, 4.5, 4.8), "M5": (5.3, 5.5, 5.8), "M6": (6.4, 6.6, 7.0), "M8": (8.4, 9.0, 10.0),
    "M10": (10.5, 11.0, 12.0), "M12": (13.0, 13.5, 14.5), "M14": (15.0, 15.5, 16.5),
    "M16": (17.0, 17.5, 18.5), "M18": (19.0, 20.0, 21.0), "M20": (21.0, 22.0, 24.0),
    "M22": (23.0, 24.0, 26.0), "M24": (25.0, 26.0, 28.0),
}  # fmt: skip

ALSO_TAP_DRILLS_MM = {12.0: "M14", 15.5: "M18", 17.5: "M20", 21.0: "M24"}
"""Sizes that both standards have: a hole alone cannot say which is meant (ISO 2306)."""

SIZES_MM = sorted(set(chain.from_iterable(CLEARANCE_MM.values())))


@pytest.mark.parametrize("diameter_mm", SIZES_MM)
def test_a_clearance_hole_is_ordinary(diameter_mm: float) -> None:
    part = make_part(make_feature("hole", diameter_mm=diameter_mm))
    assert run_rule(odd_sized_hole, part) == ()
    found = run_rule(looks_tapped, part)
    if diameter_mm in ALSO_TAP_DRILLS_MM:
        assert ALSO_TAP_DRILLS_MM[diameter_mm] in found[0].message
    else:
        assert found == ()

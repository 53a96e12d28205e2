"""Minor diameters and tap drills of the metric table against the formulas of the thread."""

import pytest

from dfmcheck_rules.tables import METRIC, Tapped

COARSE_PITCH_MM = {
    "M1.6": 0.35, "M2": 0.4, "M2.5": 0.45, "M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1.0, "M8": 1.25,
    "M10": 1.5, "M12": 1.75, "M14": 2.0, "M16": 2.0, "M18": 2.5, "M20": 2.5, "M22": 2.5,
    "M24": 3.0,
}  # fmt: skip


@pytest.mark.parametrize("row", METRIC, ids=lambda r: r.thread)
def test_minor_diameter_follows_from_the_pitch(row: Tapped) -> None:
    nominal = float(row.thread.removeprefix("M"))
    pitch = COARSE_PITCH_MM[row.thread]
    assert (row.major_mm, row.pitch_mm) == (nominal, pitch)
    assert row.minor_mm == pytest.approx(nominal - 1.082532 * pitch, abs=0.0006)


@pytest.mark.parametrize("row", METRIC, ids=lambda r: r.thread)
def test_tap_drill_is_nominal_less_pitch_and_leaves_metal_for_the_thread(row: Tapped) -> None:
    """d - P within 0.1 mm (common practice, no source), and never below the minor diameter."""
    assert row.drill_mm == pytest.approx(row.major_mm - row.pitch_mm, abs=0.1)
    assert row.minor_mm <= row.drill_mm < row.major_mm

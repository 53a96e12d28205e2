"""Minor diameters of the unified table against the formula of the thread."""

import pytest

from dfmcheck_rules.tables import INCH_MM, UNIFIED, Tapped

NUMBERED_INCH = {"#2": 0.086, "#4": 0.112, "#6": 0.138, "#8": 0.164, "#10": 0.190}
"""Basic major diameters of numbered sizes: 0.060 + 0.013 n inch (ASME B1.1)."""


def nominal_inch(size: str) -> float:
    if size.startswith("#"):
        assert NUMBERED_INCH[size] == pytest.approx(0.060 + 0.013 * int(size[1:]))
        return NUMBERED_INCH[size]
    whole, _, below = size.partition("/")
    return int(whole) / int(below or 1)


@pytest.mark.parametrize("row", UNIFIED, ids=lambda r: r.thread)
def test_minor_diameter_follows_from_the_pitch(row: Tapped) -> None:
    size, _, rest = row.thread.partition("-")
    pitch_inch = 1.0 / int(rest.split()[0])
    nominal = nominal_inch(size)
    assert row.major_mm == pytest.approx(nominal * INCH_MM)
    assert row.pitch_mm == pytest.approx(pitch_inch * INCH_MM)
    minor_inch = nominal - 1.08253175 * pitch_inch
    assert row.minor_mm / INCH_MM == pytest.approx(minor_inch, abs=0.0001)
    assert row.minor_mm < row.drill_mm < row.major_mm

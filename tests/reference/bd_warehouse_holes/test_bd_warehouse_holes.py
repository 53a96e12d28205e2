"""Tables of drills and tapped holes against those that bd_warehouse ships (version 0.4.0).

Only its data files are read; the package itself is not imported.
"""

import csv
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path

import pytest

from dfmcheck_rules.tables import INCH_DRILLS, INCH_MM, METRIC, UNIFIED, Tapped, drill_sizes_mm

DIFFERS_MM = {"M12": 10.3, "M14": 12.1, "M22": 18.5}
"""Where bd_warehouse differs from ISO 2306 (10.2, 12.0 and 19.5); its 18.5 mm for M22 would lie
below the minor diameter of the thread, 19.294 mm."""

ROUNDED_MM = 0.0005 * INCH_MM + 1e-9
"""Its number drills are rounded to a thousandth of an inch."""


def table(name: str) -> list[dict[str, str]]:
    spec = find_spec("bd_warehouse")
    if spec is None or spec.origin is None:
        pytest.skip("bd_warehouse is not installed; it is one of the test extras")
    assert version("bd_warehouse") == "0.4.0"
    path = Path(spec.origin).parent / "data" / name
    with path.open(encoding="utf-8", newline="") as file:
        return [{k.strip(): v.strip() for k, v in row.items()} for row in csv.DictReader(file)]


def drills_inch() -> dict[str, float]:
    """Number and letter drills, and fractions by their name."""
    named = {row["Size"]: float(row["Diameter"]) for row in table("drill_sizes.csv")}
    return named | {f"{n}/64": n / 64 for n in range(1, 65)}


def fraction_inch(name: str, drills: dict[str, float]) -> float:
    if name in drills:
        return drills[name]
    whole, _, below = name.partition("/")
    return int(whole) / int(below)


@pytest.mark.parametrize("row", METRIC, ids=lambda r: r.thread)
def test_metric_tap_drills(row: Tapped) -> None:
    theirs = {r["Size"]: r["Soft"] for r in table("tap_hole_sizes.csv")}
    size = f"{row.thread}-{row.pitch_mm:g}"
    if size not in theirs:
        pytest.skip(f"bd_warehouse does not list {size}")
    assert float(theirs[size]) == DIFFERS_MM.get(row.thread, row.drill_mm)


@pytest.mark.parametrize("row", UNIFIED, ids=lambda r: r.thread)
def test_unified_tap_drills(row: Tapped) -> None:
    theirs = {r["Size"]: r["Soft"] for r in table("tap_hole_sizes.csv")}
    size = row.thread.split()[0]
    if size not in theirs or size == "1-12":
        pytest.skip(f"bd_warehouse does not list {size}, or disputes it (see the table's source)")
    inch = fraction_inch(theirs[size], drills_inch())
    assert row.drill_mm == pytest.approx(inch * INCH_MM, abs=ROUNDED_MM)


def test_number_and_letter_drills() -> None:
    theirs = {row["Size"]: float(row["Diameter"]) for row in table("drill_sizes.csv")}
    named = {name: size for name, size in theirs.items() if not name[0].isdigit()}
    shared = sorted(set(named) & set(INCH_DRILLS))
    assert len(shared) >= 80
    off = [n for n in shared if abs(INCH_DRILLS[n] - named[n] * INCH_MM) > ROUNDED_MM]
    assert off == []


def test_metric_clearance_holes_are_on_the_drill_series() -> None:
    ours = drill_sizes_mm(inch=False)
    theirs = {
        float(row[fit])
        for row in table("clearance_hole_sizes.csv")
        if row["Size"].startswith("M") and row["Size"] != "M9"  # 9.45 mm; not in ISO 273
        for fit in ("Close", "Normal", "Loose")
    }
    off = [t for t in sorted(theirs) if t <= ours[-1] and min(abs(t - o) for o in ours) > 0.02]
    assert off == []

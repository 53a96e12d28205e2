"""Hole counts and sizes of four real parts against their drawings."""

import json
from collections import Counter
from pathlib import Path

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.step import read_step
from dfmcheck.model.feature import Counterbore, Countersink, Feature, Hole

INCH_MM = 25.4

ROUNDED_MM = 0.0105 * INCH_MM / 2
"""The drawings round to a hundredth or a thousandth of an inch: 0.43 for 11.0 mm."""

DEEPER_MM = 0.005 * INCH_MM
PARTS = ("FB360_V1_22", "FB360_V1_24", "FB360_V1_25", "FB360_V1_28")


def _wanted(holes: list[dict[str, float]]) -> Counter[tuple[float, float, float]]:
    """Number of holes by diameter, counterbore and countersink diameter, in inch."""
    found: Counter[tuple[float, float, float]] = Counter()
    for h in holes:
        found[h["d"], h.get("cbore_d", 0.0), h.get("csk_d", 0.0)] += int(h["n"])
    return found


def _near(value_mm: float, sizes_inch: set[float]) -> float:
    """The drawing's size nearest to a measured one."""
    best = min(sizes_inch, key=lambda s: abs(s * INCH_MM - value_mm))
    assert best * INCH_MM == pytest.approx(value_mm, abs=ROUNDED_MM)
    return best


def _found(
    features: tuple[Feature, ...], wanted: Counter[tuple[float, float, float]]
) -> Counter[tuple[float, float, float]]:
    bores = {f.of: f for f in features if isinstance(f, Counterbore)}
    sinks = {f.of: f for f in features if isinstance(f, Countersink)}
    found: Counter[tuple[float, float, float]] = Counter()
    for hole in (f for f in features if isinstance(f, Hole)):
        bore, sink = bores.get(hole.id), sinks.get(hole.id)
        found[
            _near(hole.diameter_mm, {w[0] for w in wanted}),
            _near(bore.diameter_mm, {w[1] for w in wanted}) if bore else 0.0,
            _near(sink.diameter_mm, {w[2] for w in wanted}) if sink else 0.0,
        ] += 1
    return found


@pytest.mark.reference_parts
@pytest.mark.parametrize("name", PARTS)
def test_holes_as_drawn(reference_parts: Path, name: str) -> None:
    folder = reference_parts / "surround360"
    truth = json.loads((folder / "truth_from_drawings.json").read_text(encoding="utf-8"))
    drawn = truth["parts"][name]["holes"]
    path = folder / f"{name}.STEP"
    (part,) = read_step(path.read_bytes(), path.name).parts
    features = recognise(part)
    wanted = _wanted(drawn)
    assert _found(features, wanted) == wanted
    holes = [f for f in features if isinstance(f, Hole)]
    for h in drawn:
        mine = [f for f in holes if abs(f.diameter_mm - h["d"] * INCH_MM) < ROUNDED_MM]
        assert all(f.through == bool(h.get("thru")) for f in mine)
        if "depth" in h:
            assert all(abs(f.depth_mm - h["depth"] * INCH_MM) < DEEPER_MM for f in mine)
        if "csk_angle" in h:
            sinks = [f for f in features if isinstance(f, Countersink)]
            assert all(f.angle_deg == pytest.approx(h["csk_angle"], abs=0.1) for f in sinks)

"""The holes of six plates against the list of what was drilled."""

import json
from pathlib import Path

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.step import read_step
from dfmcheck.model.feature import Hole

THICKNESS_MM = 16.0
SIZES = ("M3-0.5", "M4-0.7", "M5-0.8", "M6-1", "M8-1.25", "M10-1.5")
SEATS = {"counterbore": "Counterbore", "countersink": "Countersink"}


@pytest.mark.reference_parts
@pytest.mark.parametrize("size", SIZES)
def test_holes_of_a_plate(reference_parts: Path, size: str) -> None:
    folder = reference_parts / "generated-fasteners"
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))[f"plate_{size}"]
    path = folder / f"plate_{size}.step"
    (part,) = read_step(path.read_bytes(), path.name).parts
    features = recognise(part)
    holes = {round(f.place[0]): f for f in features if isinstance(f, Hole)}
    assert sorted(holes) == sorted(h["x"] for h in truth["holes"])
    seats = {f.of: type(f).__name__ for f in features if not isinstance(f, Hole)}
    for known in truth["holes"]:
        hole = holes[known["x"]]
        assert hole.diameter_mm == pytest.approx(known["d"], abs=0.01)
        word = known["type"].split()[0]
        assert seats.get(hole.id) == SEATS.get(word)
        if "blind" in known["type"]:
            assert not hole.through
            assert hole.depth_mm == pytest.approx(float(known["type"].split()[-1]), abs=0.01)
        else:
            assert hole.through
            assert hole.reach_mm == pytest.approx(THICKNESS_MM, abs=0.01)
    assert len(features) == len(holes) + len(seats)

"""The canonical frame stands on faces that are square to each other, however the part lies.

Source of the expected sizes: the parts' own drawings, given below as coordinates.
"""

import math
from typing import Any

import pytest
from build123d import (
    Align,
    Box,
    Cylinder,
    Location,
    Polyline,
    Pos,
    RegularPolygon,
    Rot,
    extrude,
    make_face,
)

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Hole

UP = (Align.CENTER, Align.CENTER, Align.MIN)
PLACES = [
    Location(),
    Location((130.0, -40.0, 77.0), (31.0, 17.0, 111.0)),
    Location((-9.0, 4.0, 700.0), (90.0, 45.0, -60.0)),
]
SLOPE_DEG = math.degrees(math.atan2(20.0, 60.0))


def facts_of(shape: Any) -> PartFacts:
    return part_facts(shape.solid().wrapped, name="part")


def wedge(width: float) -> Any:
    outline = Polyline((0, 0), (60, 0), (60, 15), (0, 35), close=True)
    return extrude(make_face(outline), width)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("width", [40.0, 120.0], ids=["narrow", "wide"])
def test_a_wedge_stands_on_its_base(width: float, place: Location) -> None:
    drilled = wedge(width) - Pos(30, 0, width / 2) * Rot(90, 0, 0) * Cylinder(4, 200)
    facts = facts_of(place * drilled)
    assert facts.frame.size_mm == pytest.approx(sorted((60.0, 35.0, width))[::-1], abs=1e-3)
    (hole,) = (f for f in recognise(facts) if isinstance(f, Hole))
    assert not hole.tilted
    assert max(hole.entry_slant_deg, hole.exit_slant_deg) == pytest.approx(SLOPE_DEG, abs=0.01)
    assert hole.depth_mm == pytest.approx(25.0, abs=1e-3)


@pytest.mark.parametrize("place", PLACES)
def test_a_pocket_square_to_the_slope_does_not_tip_the_wedge(place: Location) -> None:
    across = Pos(30, 25, 20) * Rot(0, 0, -SLOPE_DEG) * Box(12, 10, 12)
    facts = facts_of(place * (wedge(40.0) - across))
    assert facts.frame.size_mm == pytest.approx((60.0, 40.0, 35.0), abs=1e-3)


@pytest.mark.parametrize("place", PLACES)
def test_a_slanting_block_of_few_square_faces_stays_on_its_plane(place: Location) -> None:
    """All walls of a drafted block slant by 10 degrees: its heaviest plane is its base."""
    drafted = extrude(make_face(Polyline((-40, -30), (40, -30), (40, 30), (-40, 30), close=True)),
                      15, taper=10)  # fmt: skip
    facts = facts_of(place * drafted)
    assert facts.frame.size_mm == pytest.approx((80.0, 60.0, 15.0), abs=1e-3)


@pytest.mark.parametrize("place", PLACES)
def test_frames_of_plain_and_round_parts(place: Location) -> None:
    plate = Box(80, 50, 12) - Pos(10, 5, 0) * Rot(0, 0, 30) * Box(30, 12, 20)
    assert facts_of(place * plate).frame.size_mm == pytest.approx((80.0, 50.0, 12.0), abs=1e-3)
    shaft = Cylinder(12, 90, align=UP) - Pos(0, 10, 60) * Box(5, 5, 20)
    size = facts_of(place * shaft).frame.size_mm
    assert size == pytest.approx((90.0, 24.0, 24.0), abs=1e-2)
    nut = extrude(RegularPolygon(10, 6), 8)
    size = facts_of(place * nut).frame.size_mm
    assert size == pytest.approx((20.0, 20.0 * math.cos(math.radians(30)), 8.0), abs=1e-3)

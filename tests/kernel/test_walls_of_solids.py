"""Walls and gaps of solids in which they follow from the sizes."""

import math
from collections.abc import Iterator
from typing import Any

import pytest
from build123d import Align, Box, Cone, Cylinder, Location, Plane, Pos, Rot, Sphere

from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.facts import Face, PartFacts

AWAY = Location((130.0, -40.0, 77.0), (31.0, 17.0, 111.0))
UP = (Align.CENTER, Align.CENTER, Align.MIN)


def facts_of(shape: Any) -> PartFacts:
    return part_facts(shape.wrapped, name="part")


def thinnest(facts: PartFacts) -> float:
    return min(f.wall_mm for f in facts.faces if f.wall_mm is not None)


def narrowest(facts: PartFacts) -> float:
    return min(f.gap_mm for f in facts.faces if f.gap_mm is not None)


def rounds(facts: PartFacts, radius: float) -> Iterator[Face]:
    return (f for f in facts.faces if f.radius_mm == pytest.approx(radius))


def test_a_block_is_as_thick_as_it_is() -> None:
    facts = facts_of(AWAY * Box(10, 20, 30))
    assert sorted({round(f.wall_mm or 0, 6) for f in facts.faces}) == [10, 20, 30]
    assert all(f.gap_mm is None for f in facts.faces)
    for f in facts.faces:
        assert f.wall_face is not None
        assert facts.faces[f.wall_face].wall_face == f.index


@pytest.mark.parametrize("web", [0.2, 0.8, 1.5])
def test_the_web_between_two_pockets(web: float) -> None:
    pockets = [Pos(x * (15 + web / 2), 0, 2) * Box(30, 20, 10) for x in (-1, 1)]
    facts = facts_of(AWAY * (Box(80, 30, 10) - pockets[0] - pockets[1]))
    assert thinnest(facts) == pytest.approx(web, abs=1e-5)


@pytest.mark.parametrize("wall", [0.3, 1.1])
def test_the_wall_between_a_hole_and_a_side(wall: float) -> None:
    hole = Pos(20 - 3 - wall, 4, 0) * Cylinder(3, 30)
    facts = facts_of(AWAY * (Box(40, 60, 30) - hole))
    assert thinnest(facts) == pytest.approx(wall, abs=1e-5)
    (bore,) = rounds(facts, 3.0)
    assert bore.wall_mm == pytest.approx(wall, abs=1e-5)
    assert bore.gap_mm == pytest.approx(6.0, abs=1e-5)


@pytest.mark.parametrize("turn", [0, 23, 45])
def test_the_wall_between_two_holes(turn: float) -> None:
    apart = 2.5 + 4 + 0.7
    holes = Cylinder(2.5, 30) + Rot(0, 0, turn) * Pos(apart, 0, 0) * Cylinder(4, 30)
    facts = facts_of(Box(60, 60, 30) - holes)
    assert thinnest(facts) == pytest.approx(0.7, abs=1e-5)


def test_crossing_holes_that_just_miss() -> None:
    across = Pos(0, 0, 5 + 0.9) * Rot(90, 0, 0) * Cylinder(2, 90)
    facts = facts_of(Box(60, 60, 40) - Rot(0, 90, 0) * Cylinder(3, 90) - across)
    assert thinnest(facts) == pytest.approx(0.9, abs=1e-5)


def test_the_wall_of_a_tube_and_of_a_funnel() -> None:
    assert thinnest(facts_of(AWAY * (Cylinder(15, 60) - Cylinder(14.2, 60)))) == pytest.approx(0.8)
    slope = math.atan2(10, 40)
    funnel = Cone(20, 10, 40) - Cone(18.5, 8.5, 40)
    assert thinnest(facts_of(funnel)) == pytest.approx(1.5 * math.cos(slope), abs=1e-4)


def test_a_hollow_ball() -> None:
    facts = facts_of(Sphere(20) - Sphere(19.4) - Pos(0, 0, -20) * Cylinder(3, 20))
    assert thinnest(facts) == pytest.approx(0.6, abs=1e-4)


def test_a_thin_fin_at_any_angle() -> None:
    fin = Rot(0, 0, 37) * Pos(0, 0, 5) * Box(50, 0.6, 15, align=UP)
    facts = facts_of(AWAY * (Box(80, 80, 10, align=UP) + fin))
    assert thinnest(facts) == pytest.approx(0.6, abs=1e-5)


def test_the_floor_of_a_blind_hole() -> None:
    hole = Pos(0, 0, 0.5) * Cylinder(3, 40, align=UP)
    facts = facts_of(Box(40, 40, 20, align=UP) - hole)
    assert thinnest(facts) == pytest.approx(0.5, abs=1e-5)


def test_slots_and_grooves_have_their_width() -> None:
    slotted = Box(60, 40, 20) - Pos(0, 0, 6) * Box(80, 3.2, 10)
    assert narrowest(facts_of(AWAY * slotted)) == pytest.approx(3.2, abs=1e-5)
    grooved = Cylinder(15, 40) - (Cylinder(16, 1.6) - Cylinder(12, 1.6))
    assert narrowest(facts_of(AWAY * grooved)) == pytest.approx(1.6, abs=1e-5)


def test_a_hole_split_in_halves_still_has_its_diameter() -> None:
    half = Plane.XZ
    plate = Box(40, 40, 10) - Cylinder(4, 10)
    halves = plate.split(half)
    other = plate.split(half.offset(0), keep=_bottom())
    joined = halves.fuse(other)
    facts = facts_of(joined)
    found = [f.gap_mm for f in rounds(facts, 4.0)]
    assert found
    assert all(g == pytest.approx(8.0, abs=1e-5) for g in found)


def _bottom() -> Any:
    from build123d import Keep

    return Keep.BOTTOM


def test_a_wedge_and_a_chamfer_are_no_thin_walls() -> None:
    from build123d import chamfer

    block = Box(40, 40, 20)
    block = chamfer(block.edges(), 1.0)
    assert thinnest(facts_of(block)) == pytest.approx(20.0, abs=1e-5)

"""Depths of slanting and crossed holes, against what trigonometry gives.

Sources: the axis of a hole through a plate of thickness t at an angle a to its normal is
t / cos a long, and the longest line on its wall d tan a longer (trigonometry); a hole square
through the axis of a round bar is as long as the bar is thick.
"""

import math
from collections.abc import Callable
from typing import Any

import pytest
from build123d import Align, Box, Cone, Cylinder, Location, Pos, Rot, Solid, Sphere

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Hole

UP = (Align.CENTER, Align.CENTER, Align.MIN)
AWAY = Location((130.0, -40.0, 77.0), (31.0, 17.0, 111.0))


def as_drawn(shape: Any) -> Any:
    return AWAY * shape


def as_splines(shape: Any) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return Solid(BRepBuilderAPI_NurbsConvert(shape.solid().wrapped, True).Shape())


def facts_of(shape: Any) -> PartFacts:
    return part_facts(shape.solid().wrapped, name="part")


def hole_of(facts: PartFacts, diameter_mm: float) -> Hole:
    (hole,) = (
        f
        for f in recognise(facts)
        if isinstance(f, Hole) and f.diameter_mm == pytest.approx(diameter_mm, abs=1e-3)
    )
    return hole


def slanting() -> Any:
    return Box(80, 60, 30) - Rot(0, 30, 0) * Cylinder(3, 200)


BOTH = pytest.mark.parametrize("turned_into", [as_drawn, as_splines])


@BOTH
def test_limits_of_a_wall_cut_by_slanting_planes(turned_into: Callable[[Any], Any]) -> None:
    (bore,) = (f for f in facts_of(turned_into(slanting())).faces if f.surface == "cylinder")
    assert bore.along_mm is not None
    longest = 30.0 / math.cos(math.radians(30)) + 6.0 * math.tan(math.radians(30))
    assert bore.along_mm[1] - bore.along_mm[0] == pytest.approx(longest, abs=1e-3)
    assert bore.span_deg == pytest.approx(360.0)


@BOTH
def test_limits_of_a_wall_between_round_faces(turned_into: Callable[[Any], Any]) -> None:
    """A hole from the bore (radius 10) of a tube to its outside (15) begins at its wall's
    deepest line, sqrt(10^2 - 2^2) from the axis."""
    tube = Cylinder(15, 40) - Cylinder(10, 40) - Rot(90, 0, 0) * Cylinder(2, 60, align=UP)
    facts = facts_of(turned_into(tube))
    (bore,) = (f for f in facts.faces if f.radius_mm == pytest.approx(2.0, abs=1e-3))
    assert bore.along_mm is not None
    longest = 15.0 - math.sqrt(96.0)
    assert bore.along_mm[1] - bore.along_mm[0] == pytest.approx(longest, abs=1e-3)
    assert hole_of(facts, 4.0).depth_mm == pytest.approx(5.0, abs=1e-3)


@BOTH
def test_a_slanting_hole_is_as_deep_as_its_axis_is_long(turned_into: Callable[[Any], Any]) -> None:
    hole = hole_of(facts_of(turned_into(slanting())), 6.0)
    assert hole.through
    assert hole.depth_mm == pytest.approx(30.0 / math.cos(math.radians(30)), abs=1e-3)
    assert hole.reach_mm == pytest.approx(hole.depth_mm)
    assert hole.entry_slant_deg == pytest.approx(30.0, abs=0.01)


@BOTH
def test_a_slanting_blind_hole_is_measured_from_where_its_axis_enters(
    turned_into: Callable[[Any], Any],
) -> None:
    cutter = Pos(0, 0, 30) * Rot(0, 30, 0) * Pos(0, 0, -10) * Cylinder(3, 100, align=UP)
    hole = hole_of(facts_of(turned_into(Box(80, 60, 30, align=UP) - cutter)), 6.0)
    assert not hole.through
    assert hole.depth_mm == pytest.approx(10.0, abs=1e-3)


def test_the_mouth_of_a_slanting_hole_lies_in_the_face() -> None:
    hole = hole_of(facts_of(slanting()), 6.0)
    assert abs(hole.place[2]) == pytest.approx(15.0, abs=1e-3)


@BOTH
def test_a_hole_across_a_round_bar(turned_into: Callable[[Any], Any]) -> None:
    bar = Rot(0, 90, 0) * Cylinder(12, 80) - Cylinder(4, 100)
    hole = hole_of(facts_of(turned_into(bar)), 8.0)
    assert hole.depth_mm == pytest.approx(24.0, abs=1e-3)


def test_a_hole_beside_the_middle_of_a_round_bar() -> None:
    """A chord 5 from the middle of a circle of radius 12."""
    bar = Rot(0, 90, 0) * Cylinder(12, 80) - Pos(0, 5, 0) * Cylinder(2, 100)
    hole = hole_of(facts_of(bar), 4.0)
    assert hole.depth_mm == pytest.approx(2.0 * math.sqrt(144.0 - 25.0), abs=1e-3)


def test_a_hole_across_a_ball_and_a_taper() -> None:
    """Chords again; the taper falls from radius 20 to 10 over 40, so it is 15 in its middle."""
    ball = Sphere(20) - Pos(7, 0, 0) * Cylinder(2, 100)
    assert hole_of(facts_of(ball), 4.0).depth_mm == pytest.approx(
        2.0 * math.sqrt(400.0 - 49.0), abs=1e-3
    )
    taper = Cone(20, 10, 40) - Rot(90, 0, 0) * Cylinder(2, 100)
    assert hole_of(facts_of(taper), 4.0).depth_mm == pytest.approx(30.0, abs=1e-3)


def test_a_hole_through_a_ridge_ends_at_its_crest() -> None:
    from build123d import Polyline, extrude, make_face

    gable = make_face(Polyline((-30, 0), (30, 0), (30, 10), (0, 30), (-30, 10), close=True))
    house = extrude(gable, 40) - Pos(0, 0, 20) * Rot(90, 0, 0) * Cylinder(4, 200)
    assert hole_of(facts_of(house), 8.0).depth_mm == pytest.approx(30.0, abs=1e-3)


def test_a_square_hole_over_a_step_keeps_the_length_of_its_wall() -> None:
    stepped = Box(80, 60, 30, align=UP) - Pos(20, 0, 20) * Box(40, 60, 10, align=UP)
    hole = hole_of(facts_of(stepped - Cylinder(4, 100)), 8.0)
    assert hole.depth_mm == pytest.approx(30.0, abs=1e-3)

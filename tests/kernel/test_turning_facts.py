"""How turned, milled and mixed parts fill space about their axes."""

import math
from itertools import pairwise
from typing import Any

import pytest
from build123d import (
    Align,
    Box,
    Cone,
    Cylinder,
    Location,
    Pos,
    RegularPolygon,
    extrude,
    fillet,
)

from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.facts import TurningFacts

AWAY = Location((130.0, -40.0, 77.0), (31.0, 17.0, 111.0))
UP = (Align.CENTER, Align.CENTER, Align.MIN)


def turning_of(shape: Any) -> TurningFacts | None:
    return part_facts(shape.wrapped, name="part").turning


def found(shape: Any) -> TurningFacts:
    facts = turning_of(AWAY * shape)
    assert facts is not None
    return facts


def radius_at(profile: tuple[tuple[float, float], ...], z: float) -> float:
    for (a, r), (b, s) in pairwise(profile):
        if a <= z <= b and b > a:
            return r + (s - r) * (z - a) / (b - a)
    pytest.fail(f"the profile does not reach {z}")


def stepped() -> Any:
    return Cylinder(10, 30, align=UP) + Pos(0, 0, 30) * Cylinder(6, 20, align=UP)


def test_a_stepped_shaft() -> None:
    facts = found(stepped())
    assert facts.length_mm == pytest.approx(50.0, abs=1e-6)
    assert facts.diameter_mm == pytest.approx(20.0, abs=1e-6)
    assert facts.ratio == pytest.approx(1.0, abs=1e-4)
    assert facts.turned_ratio == pytest.approx(1.0, abs=1e-6)
    assert facts.round_area_ratio == pytest.approx(1.0, abs=1e-6)
    radii = sorted({round(r, 4) for _, r in facts.outer})
    assert radii == [6.0, 10.0]
    assert facts.inner == ()


def test_a_taper_and_a_bore() -> None:
    body = Cone(12, 8, 40, align=UP) - Cylinder(3, 25, align=UP)
    facts = found(body)
    assert facts.ratio == pytest.approx(1.0, abs=1e-4)
    ends = sorted((facts.outer[0][1], facts.outer[-1][1]))
    assert ends == pytest.approx([8.0, 12.0], abs=1e-3)
    assert len(facts.outer) == 2
    bored = max(r for _, r in facts.inner)
    assert bored == pytest.approx(3.0, abs=1e-3)
    length = sum(b - a for (a, r), (b, s) in pairwise(facts.inner)
                 if r > 2.9 and s > 2.9)  # fmt: skip
    assert length == pytest.approx(25.0, abs=1e-3)


def test_grooves_are_turned_also_in_a_face() -> None:
    outside = Cylinder(20, 60, align=UP) - Pos(0, 0, 30) * (Cylinder(21, 4) - Cylinder(17, 4))
    face = Cylinder(40, 10, align=UP) - Pos(0, 0, 6) * (
        Cylinder(30, 10, align=UP) - Cylinder(25, 10, align=UP)
    )
    for part in (outside, face):
        facts = found(part)
        assert facts.turned_ratio > 0.97
        assert facts.round_area_ratio == pytest.approx(1.0, abs=1e-6)


def test_fillets_follow_the_profile() -> None:
    shaft = stepped()
    shaft = fillet(
        shaft.edges().filter_by(lambda e: abs(e.center().Z - 30) < 1e-6 and e.length < 40), 2
    )
    facts = found(shaft)
    assert facts.ratio == pytest.approx(1.0, abs=2e-3)
    assert facts.turned_ratio > 0.97


def test_flats_and_a_cross_hole_are_milled() -> None:
    flats = [Pos(x, 0, 50) * Box(6, 30, 16) for x in (-9, 9)]
    body = Cylinder(10, 58, align=UP)
    mixed = body - flats[0] - flats[1] - Pos(0, 0, 20) * Cylinder(3, 40, rotation=(90, 0, 0))
    facts = found(mixed)
    assert 0.8 < facts.ratio < 0.97
    assert facts.turned_ratio < 0.7
    assert facts.diameter_mm == pytest.approx(20.0, abs=1e-6)


def test_a_hexagon_socket_is_bounded_by_its_flats() -> None:
    across = 8.0
    socket = Pos(0, 0, 20) * extrude(RegularPolygon(across / math.sqrt(3), 6), 12)
    facts = found(Cylinder(10, 30, align=UP) - socket)
    assert max(r for _, r in facts.inner) == pytest.approx(across / 2, abs=1e-3)


def test_a_disc_counts_as_turned_and_a_plate_with_holes_does_not() -> None:
    assert found(Cylinder(50, 6)).ratio == pytest.approx(1.0, abs=1e-4)
    plate = Box(100, 60, 10)
    for x in (-40, 0, 40):
        plate -= Pos(x, 0, 0) * Cylinder(3, 10)
    facts = turning_of(plate)
    assert facts is None or facts.ratio < 0.8


def test_a_block_has_no_axis() -> None:
    assert turning_of(Box(10, 20, 30)) is None


def test_the_axis_is_the_parts_own() -> None:
    facts = turning_of(Pos(5, 6, 7) * stepped())
    assert facts is not None
    assert abs(facts.axis[2]) == pytest.approx(1.0)
    assert facts.axis_point == pytest.approx((5.0, 6.0, 7.0 + 25.0), abs=1e-6)
    assert radius_at(facts.outer, facts.outer[0][0] + 1.0) in (pytest.approx(6), pytest.approx(10))

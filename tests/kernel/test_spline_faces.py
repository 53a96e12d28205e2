"""Spline faces that are planes, cylinders, cones, spheres or tori in truth are read as such."""

from collections.abc import Callable
from typing import Any

import pytest
from build123d import Align, Box, Cone, Cylinder, Location, Pos, Solid, Sphere, Torus, fillet

from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.facts import Face, FileFacts, PartFacts

AWAY = Location((130.0, -40.0, 77.0), (31.0, 17.0, 111.0))
UP = (Align.CENTER, Align.CENTER, Align.MIN)


def as_splines(shape: Any) -> Any:
    """The same solid with every face and edge turned into a spline."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return Solid(BRepBuilderAPI_NurbsConvert(shape.solid().wrapped, True).Shape())


def facts_of(shape: Any) -> PartFacts:
    return part_facts(shape.wrapped, name="part")


def kinds(facts: PartFacts) -> list[str]:
    return sorted(f.surface for f in facts.faces)


def of_kind(facts: PartFacts, kind: str) -> list[Face]:
    return [f for f in facts.faces if f.surface == kind]


def rounded_block() -> Any:
    block = Box(60, 40, 20) - Pos(8, 3, 0) * Cylinder(4, 20)
    return fillet(block.edges(), 3)


SHAPES = {
    "block with a hole": lambda: Box(60, 40, 20) - Pos(8, 3, 0) * Cylinder(4, 20),
    "rounded block": rounded_block,
    "frustum": lambda: Cone(12, 7, 25),
    "dome": lambda: Sphere(9) & Pos(0, 0, 3) * Box(30, 30, 12, align=UP),
    "ring": lambda: (
        Torus(20, 4) & Pos(0, 0, 0) * Box(60, 30, 20, align=(Align.CENTER, Align.MIN, Align.CENTER))
    ),
    "tapped nose": lambda: Cylinder(10, 30, align=UP) + Pos(0, 0, 30) * Cone(10, 4, 8, align=UP),
}


@pytest.mark.parametrize("name", SHAPES)
def test_the_kind_of_every_face_is_seen_through_splines(name: str) -> None:
    shape = AWAY * SHAPES[name]()
    plain, splined = facts_of(shape), facts_of(as_splines(shape))
    assert kinds(splined) == kinds(plain)
    assert splined.volume_mm3 == pytest.approx(plain.volume_mm3, rel=1e-4)
    assert splined.area_mm2 == pytest.approx(plain.area_mm2, rel=1e-4)
    assert splined.frame.size_mm == pytest.approx(plain.frame.size_mm, abs=2e-3)
    for kind in set(kinds(plain)):
        ours = sorted(_measures(f) for f in of_kind(splined, kind))
        for given, found in zip(
            sorted(_measures(f) for f in of_kind(plain, kind)), ours, strict=True
        ):
            assert found == pytest.approx(given, rel=1e-4, abs=0.05), kind


def _measures(f: Face) -> tuple[float, ...]:
    """Bend, sizes in mm and degrees, limits and area of a face."""
    along = (0.0, 0.0) if f.along_mm is None or f.surface in ("sphere", "torus") else f.along_mm
    bend = {"flat": 0.0, "inside": -1.0, "outside": 1.0, "mixed": 2.0}[f.bend]
    return (
        bend,
        round(f.radius_mm or 0.0, 3),
        round(f.minor_radius_mm or 0.0, 3),
        round(f.half_angle_deg or 0.0, 2),
        *(sorted(round(r, 3) for r in f.radii_mm or ())),
        along[1] - along[0],
        f.area_mm2,
    )


def test_the_whole_turn_of_a_splined_hole() -> None:
    facts = facts_of(as_splines(SHAPES["block with a hole"]()))
    (bore,) = of_kind(facts, "cylinder")
    assert bore.span_deg == pytest.approx(360.0)
    assert bore.bend == "inside"
    assert bore.gap_mm == pytest.approx(8.0, abs=1e-5)


def test_a_quarter_round_keeps_its_quarter() -> None:
    facts = facts_of(as_splines(rounded_block()))
    rounds = [f for f in of_kind(facts, "cylinder") if f.radius_mm == pytest.approx(3.0)]
    assert len(rounds) == 12
    assert all(f.span_deg == pytest.approx(90.0, abs=0.1) for f in rounds)


def test_what_is_truly_free_stays_free() -> None:
    from build123d import BuildPart, BuildSketch, Ellipse, Plane, loft

    with BuildPart() as part:
        with BuildSketch(Plane.XY):
            Ellipse(20, 10)
        with BuildSketch(Plane.XY.offset(30)):
            Ellipse(12, 16)
        loft()
    facts = facts_of(part.part)
    assert kinds(facts).count("plane") == 2
    assert set(kinds(facts)) == {"freeform", "plane"}


def test_splines_survive_the_file(
    read: Callable[..., FileFacts], as_step: Callable[..., bytes]
) -> None:
    shape = rounded_block()
    (plain,) = read(as_step(shape)).parts
    data = as_step(as_splines(shape))
    assert b"B_SPLINE_SURFACE" in data
    (splined,) = read(data).parts
    assert kinds(splined) == kinds(plain)

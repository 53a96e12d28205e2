"""Faces that an export has cut into pieces read like whole ones: same features, same figures."""

from collections.abc import Callable

import pytest
from build123d import (
    Align,
    Box,
    Cylinder,
    Polyline,
    Pos,
    RectangleRounded,
    Rot,
    Solid,
    extrude,
    make_face,
)
from OCP.ShapeUpgrade import ShapeUpgrade_ShapeDivideArea
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer

from dfmcheck.features.merged import merged
from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature

LOW = (Align.CENTER, Align.CENTER, Align.MIN)


def block(length: float, width: float, height: float) -> Solid:
    return Box(length, width, height, align=LOW)


def dovetail() -> Solid:
    outline = make_face(Polyline((-8, 30), (-14, 20), (14, 20), (8, 30), close=True))
    return block(60, 80, 30) - extrude(Pos(0, 40, 0) * Rot(90, 0, 0) * outline, 80)


def island() -> Solid:
    pocket = extrude(Pos(0, 0, 15) * RectangleRounded(80, 50, 10), 30)
    return block(100, 70, 30) - (pocket - Pos(0, 0, 15) * block(30, 20, 9))


def fork() -> Solid:
    slotted = block(40, 60, 30) - Pos(0, 0, 6) * block(24, 60, 30)
    return slotted - Pos(0, 0, 18) * Rot(0, 90, 0) * Cylinder(5, 100)


def housing() -> Solid:
    hollow = block(90, 60, 40) - extrude(Pos(0, 0, 8) * RectangleRounded(78, 48, 6), 40)
    for x, y in ((-28, 14), (28, -14)):
        hollow += Pos(x, y, 8) * Cylinder(5, 20, align=LOW)
        hollow -= Pos(x, y, 14) * Cylinder(2, 20, align=LOW)
    return hollow


PARTS = (dovetail, island, fork, housing)


def whole(shape: Solid) -> PartFacts:
    return part_facts(shape.solids()[0].wrapped, name="whole")


def split(shape: Solid, area_mm2: float) -> PartFacts:
    cutter = ShapeUpgrade_ShapeDivideArea(shape.solids()[0].wrapped)
    cutter.MaxArea = area_mm2
    cutter.Perform()
    return part_facts(TopExp_Explorer(cutter.Result(), TopAbs_SOLID).Current(), name="split")


def figures(features: tuple[Feature, ...]) -> list[tuple[str, tuple[float, ...]]]:
    """Kind and all lengths, angles and counts of each feature."""
    rows = []
    for f in features:
        values = [getattr(f, n) for n in f.__struct_fields__ if n.endswith(("_mm", "_deg"))]
        numbers = tuple(round(v, 2) + 0.0 for v in values if v is not None)
        rows.append((type(f).__name__, numbers))
    return sorted(rows)


@pytest.mark.parametrize("make", PARTS)
@pytest.mark.parametrize("area_mm2", [60.0, 200.0])
def test_pieces_read_like_the_whole(make: Callable[[], Solid], area_mm2: float) -> None:
    shape = make()
    plain, pieces = whole(shape), split(shape, area_mm2)
    assert len(pieces.faces) > 2 * len(plain.faces)
    assert figures(recognise(pieces)) == figures(recognise(plain))


@pytest.mark.parametrize("make", PARTS)
def test_merging_restores_faces_edges_and_areas(make: Callable[[], Solid]) -> None:
    shape = make()
    plain, pieces = whole(shape), split(shape, 200.0)
    found = merged(pieces)
    assert len(found.part.faces) == len(plain.faces)
    areas = sorted(f.area_mm2 for f in found.part.faces)
    assert areas == pytest.approx(sorted(f.area_mm2 for f in plain.faces), rel=1e-6)
    inner = sorted(len(f.loops) for f in found.part.faces if f.surface == "plane")
    assert inner == sorted(len(f.loops) for f in plain.faces if f.surface == "plane")
    assert sorted(m for g in found.members for m in g) == list(range(len(pieces.faces)))


def test_a_part_without_pieces_is_given_back() -> None:
    plain = whole(island())
    assert merged(plain).part is plain

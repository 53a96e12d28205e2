"""Freeform patches, and spline faces that a side of a cutter or a turning tool makes."""

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import Boss, Freeform, Groove

b3d = pytest.importorskip("build123d")

LOW = (b3d.Align.CENTER, b3d.Align.CENTER, b3d.Align.MIN)


def features_of(solid):
    part = part_facts(solid.wrapped, name="part")
    return part, recognise(part)


def freeform_of(solid):
    return [f for f in features_of(solid)[1] if isinstance(f, Freeform)]


def lofted():
    """A block with a bulged top: one spline face over a loft of three sections."""
    sections = [
        b3d.Plane.XZ.offset(y) * b3d.make_face([
            b3d.Line((-20, 0), (20, 0)), b3d.Line((20, 0), (20, 8)),
            b3d.Spline((20, 8), (5, 8 + h), (-20, 8)), b3d.Line((-20, 8), (-20, 0)),
        ])
        for y, h in ((-15, 3), (0, 7), (15, 2))
    ]  # fmt: skip
    return b3d.loft(sections)


def wavy_wall():
    """A plate whose one side follows an S of a spline, drawn straight down."""
    outline = b3d.make_face([
        b3d.Line((-20, -10), (20, -10)), b3d.Line((20, -10), (20, 10)),
        b3d.Spline((20, 10), (8, 15), (-8, 5), (-20, 10)), b3d.Line((-20, 10), (-20, -10)),
    ])  # fmt: skip
    return b3d.extrude(outline, 10)


def test_a_bulged_top_is_one_patch():
    part, features = features_of(lofted())
    (found,) = [f for f in features if isinstance(f, Freeform)]
    bulged = [f for f in part.faces if f.surface == "freeform" and abs(f.normal[2]) > 0.5]
    assert set(found.faces) == {f.index for f in bulged}
    assert found.area_mm2 == pytest.approx(sum(f.area_mm2 for f in bulged))
    assert found.direction[2] > 0.9


def test_two_patches_apart_are_two():
    top = lofted()
    pair = top + b3d.Pos(60, 0, 0) * top + b3d.Pos(30, 0, 0) * b3d.Box(40, 30, 4, align=LOW)
    assert len(freeform_of(pair)) == 2


def test_the_wall_of_a_contour_is_not_freeform():
    assert freeform_of(wavy_wall()) == []


def test_a_turned_spline_is_not_freeform():
    lines = [b3d.Line((0, 0), (20, 0)), b3d.Line((20, 0), (20, 5)), b3d.Line((0, 18), (0, 0))]
    spline = b3d.Spline((20, 5), (12, 14), (0, 18))
    knob = b3d.revolve(b3d.make_face([*lines[:2], spline, lines[2]]), b3d.Axis.Y)
    assert freeform_of(knob) == []


def test_turned_diameters_are_bosses_and_grooves_do_not_part_them():
    def cylinder(d, h, z):
        return b3d.Pos(0, 0, z) * b3d.Cylinder(d / 2, h, align=LOW)

    body = cylinder(30, 10, 0) + cylinder(20, 30, 10) + cylinder(12, 15, 40)
    body = body - (cylinder(22, 1.3, 25) - cylinder(19, 1.3, 25))
    _, features = features_of(body)
    bosses = {f.diameter_mm: f for f in features if isinstance(f, Boss)}
    assert set(bosses) == {20.0, 12.0}
    assert bosses[20.0].height_mm == pytest.approx(30)
    assert bosses[12.0].height_mm == pytest.approx(15)
    assert len([f for f in features if isinstance(f, Groove)]) == 1

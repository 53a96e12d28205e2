"""Volume and area of solids with spline faces, against integrals that need no kernel.

Sources: the area within a curve and its centroid by Gauss's formula for polygons and its length
by chords, at 40,000 points; volumes of revolution as sums of frustums, V = pi h (a^2 + a b +
b^2) / 3, and their areas as pi (a + b) s (formulas of stereometry, from memory). The points come
from scipy's splines (de Boor's recursion), so that the kernel only builds the solids.
"""

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from build123d import (
    Axis,
    Box,
    Cylinder,
    Location,
    Pos,
    Rot,
    Solid,
    Sphere,
    Spline,
    Torus,
    extrude,
    make_face,
    revolve,
)

from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.facts import FileFacts

AWAY = Location((130.0, -40.0, 77.0), (31.0, 17.0, 111.0))

EIGHT = ((30, 0), (15, 18), (0, 20), (-20, 15), (-25, 0), (-10, -12), (0, -22), (20, -15))
FOUR = ((10, 0), (0, 8), (-12, 0), (0, -6))

Outline = tuple[tuple[int, int], ...]


def chords(outline: Outline) -> Any:
    """(40001, 2) float: points of the closed spline, by scipy from its knots and poles."""
    from OCP.BRep import BRep_Tool
    from OCP.Geom import Geom_BSplineCurve
    from scipy.interpolate import BSpline

    curve = BRep_Tool.Curve_s(Spline(*outline, periodic=True).wrapped, 0.0, 1.0)
    assert isinstance(curve, Geom_BSplineCurve)
    curve.SetNotPeriodic()
    assert not curve.IsRational()
    knots = [
        curve.Knot(k) for k in range(1, curve.NbKnots() + 1) for _ in range(curve.Multiplicity(k))
    ]
    poles = np.array([curve.Pole(k).Coord()[:2] for k in range(1, curve.NbPoles() + 1)])
    spline = BSpline(np.array(knots), poles, curve.Degree())
    line = spline(np.linspace(curve.FirstParameter(), curve.LastParameter(), 40_001))
    for corner in outline:
        assert np.hypot(*(line - corner).T).min() < 0.01
    return line


def area_and_length(line: Any) -> tuple[float, float]:
    x, y = line[:, 0], line[:, 1]
    area = abs(float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))) / 2.0
    return area, float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def splined(shape: Any) -> Any:
    """The same solid with every face and edge turned into a spline."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return Solid(BRepBuilderAPI_NurbsConvert(shape.solid().wrapped, True).Shape())


def prism(outline: Outline, height: float) -> Any:
    return extrude(make_face(Spline(*outline, periodic=True)), height)


@pytest.mark.parametrize("outline", [EIGHT, FOUR])
@pytest.mark.parametrize("turned_into", [lambda s: s, splined], ids=["drawn", "as splines"])
def test_a_closed_spline_drawn_along_a_line(
    outline: Outline, turned_into: Callable[[Any], Any]
) -> None:
    line = chords(outline)
    area, length = area_and_length(line)
    facts = part_facts((AWAY * turned_into(prism(outline, 13.0))).wrapped, name="part")
    assert facts.volume_mm3 == pytest.approx(13.0 * area, rel=1e-6)
    assert facts.area_mm2 == pytest.approx(2.0 * area + 13.0 * length, rel=1e-6)
    assert facts.doubts == ()


@pytest.mark.parametrize("turned_into", [lambda s: s, splined], ids=["drawn", "as splines"])
def test_a_closed_spline_turned_about_an_axis(turned_into: Callable[[Any], Any]) -> None:
    line = chords(FOUR)
    radii, heights = line[:, 0] + 40.0, line[:, 1]
    volume = skin = 0.0
    for (a, y0), (b, y1) in pairwise(zip(radii.tolist(), heights.tolist(), strict=True)):
        volume += math.pi * (y1 - y0) * (a * a + a * b + b * b) / 3.0
        skin += math.pi * (a + b) * math.hypot(b - a, y1 - y0)
    solid = revolve(make_face(Pos(40, 0) * Spline(*FOUR, periodic=True)), Axis.Y)
    facts = part_facts((AWAY * turned_into(solid)).wrapped, name="part")
    assert facts.volume_mm3 == pytest.approx(abs(volume), rel=1e-6)
    assert facts.area_mm2 == pytest.approx(skin, rel=1e-6)


def bored_block() -> Any:
    return Box(60, 40, 20) - Pos(8, 3, 0) * Cylinder(4, 20)


def slanting_hole() -> Any:
    return Box(80, 60, 30) - Rot(0, 30, 0) * Cylinder(3, 200)


KNOWN: dict[str, tuple[Callable[[], Any], float]] = {
    "bored block": (bored_block, 48_000.0 - math.pi * 16 * 20),
    "slanting hole": (slanting_hole, 144_000.0 - math.pi * 9 * 30 / math.cos(math.radians(30))),
    "ball": (lambda: Sphere(9), 4.0 / 3.0 * math.pi * 9**3),
    "ring": (lambda: Torus(20, 4), 2.0 * math.pi**2 * 20 * 4**2),
}


@pytest.mark.parametrize("name", KNOWN)
def test_trimmed_splines_hold_what_their_solid_holds(name: str) -> None:
    make, volume = KNOWN[name]
    plain = part_facts(make().wrapped, name="part")
    facts = part_facts((AWAY * splined(make())).wrapped, name="part")
    assert facts.volume_mm3 == pytest.approx(volume, rel=1e-6)
    assert facts.area_mm2 == pytest.approx(plain.area_mm2, rel=1e-6)
    assert facts.principal_mm5 == pytest.approx(plain.principal_mm5, rel=1e-5)


@pytest.mark.parametrize("turned_into", [lambda s: s, splined], ids=["drawn", "as splines"])
def test_crossing_bores_of_unlike_size(turned_into: Callable[[Any], Any]) -> None:
    """What two cylinders of radii a < b share is 8 times the integral from 0 to a of
    sqrt(a^2 - x^2) sqrt(b^2 - x^2), by slices; each slice is a rectangle."""
    from scipy.integrate import quad

    a, b, side = 5.0, 8.0, 40.0
    shared, _ = quad(lambda x: 8.0 * math.sqrt(a * a - x * x) * math.sqrt(b * b - x * x), 0.0, a)
    block = Box(side, side, side) - Cylinder(b, 60) - Rot(90, 0, 0) * Cylinder(a, 60)
    facts = part_facts((AWAY * turned_into(block)).wrapped, name="part")
    bored = math.pi * (a * a + b * b) * side - shared
    assert facts.volume_mm3 == pytest.approx(side**3 - bored, rel=2e-6)


def test_moments_of_a_solid_of_both_kinds_of_faces() -> None:
    """Two plane ends of the kernel and one sampled side make the centroid of the outline."""
    line = chords(EIGHT)
    x, y = line[:, 0], line[:, 1]
    cross = x[:-1] * y[1:] - x[1:] * y[:-1]
    area = cross.sum() / 2.0
    middle = [float(((c[:-1] + c[1:]) * cross).sum() / (6.0 * area)) for c in (x, y)]
    facts = part_facts(prism(EIGHT, 13.0).wrapped, name="part")
    assert facts.centroid == pytest.approx((*middle, 6.5), abs=1e-4)


def test_the_volume_survives_the_file(
    read: Callable[..., FileFacts], as_step: Callable[..., bytes]
) -> None:
    (facts,) = read(as_step(prism(EIGHT, 13.0))).parts
    assert facts.volume_mm3 == pytest.approx(13.0 * area_and_length(chords(EIGHT))[0], rel=1e-6)
    assert facts.doubts == ()

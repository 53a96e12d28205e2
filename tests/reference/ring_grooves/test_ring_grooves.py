"""Grooves of standard sizes, cut with build123d, are found with those sizes.

Retaining rings: groove diameter and width (H13) for a shaft of DIN 471 or a bore of DIN 472.
Undercut DIN 509 E 0.6 x 0.3: radius, depth, width 2.5. All from memory, see SOURCE.toml.
"""

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import Groove, Hole

b3d = pytest.importorskip("build123d")

LOW = (b3d.Align.CENTER, b3d.Align.CENTER, b3d.Align.MIN)

SHAFT_RINGS = [(3, 2.8, 0.5), (10, 9.6, 1.1), (20, 19.0, 1.3), (50, 47.0, 2.15)]
BORE_RINGS = [(10, 10.4, 1.1), (20, 21.0, 1.1), (32, 33.7, 1.3), (52, 55.0, 2.15)]


def cylinder(diameter, height, z=0.0):
    return b3d.Pos(0, 0, z) * b3d.Cylinder(diameter / 2, height, align=LOW)


def ring(outer, inner, height, z):
    return cylinder(outer, height, z) - cylinder(inner, height, z)


def revolved(*points):
    return b3d.revolve(b3d.make_face(b3d.Polyline(*points, close=True)), b3d.Axis.Y)


def features_of(solid):
    return recognise(part_facts(solid.wrapped, name="grooved"))


def grooves_of(solid):
    return [f for f in features_of(solid) if isinstance(f, Groove)]


@pytest.mark.parametrize(("shaft", "bottom", "width"), SHAFT_RINGS)
def test_din_471(shaft, bottom, width):
    (found,) = grooves_of(cylinder(shaft, 60) - ring(1.2 * shaft, bottom, width, 40))
    assert found.side == "outside"
    assert found.diameter_mm == pytest.approx(bottom, abs=1e-6)
    assert found.width_mm == pytest.approx(width, abs=1e-6)
    assert found.depth_mm == pytest.approx((shaft - bottom) / 2, abs=1e-6)
    assert found.place == pytest.approx((0, 0, 40 + width / 2), abs=1e-6)
    assert len(found.faces) == 3


@pytest.mark.parametrize(("bore", "bottom", "width"), BORE_RINGS)
def test_din_472(bore, bottom, width):
    solid = cylinder(2 * bore, 30) - cylinder(bore, 30) - cylinder(bottom, width, 20)
    found = features_of(solid)
    (groove,) = [f for f in found if isinstance(f, Groove)]
    assert groove.side == "inside"
    assert groove.diameter_mm == pytest.approx(bottom, abs=1e-6)
    assert groove.width_mm == pytest.approx(width, abs=1e-6)
    (hole,) = [f for f in found if isinstance(f, Hole)]  # the bore on both sides is one
    assert hole.diameter_mm == pytest.approx(bore, abs=1e-6)


@pytest.mark.parametrize("solid_kind", ["disc", "plate"])
def test_o_ring_in_a_face(solid_kind):
    """Section 3.53, ISO 3601: groove 2.7 deep, 5 wide, floor radius 0.4, about 45 mm."""
    body = cylinder(80, 12) if solid_kind == "disc" else b3d.Box(100, 80, 12, align=LOW)
    body = body - ring(50, 40, 2.7, 9.3)
    floor = [e for e in body.edges() if abs(e.center().Z - 9.3) < 1e-6]
    (found,) = grooves_of(b3d.fillet(floor, 0.4))
    assert found.side == "face"
    assert found.width_mm == pytest.approx(5.0, abs=1e-6)
    assert found.depth_mm == pytest.approx(2.7, abs=1e-6)
    assert found.diameter_mm == pytest.approx(45.0, abs=1e-6)
    assert found.floor_radius_mm == pytest.approx(0.4)
    assert found.direction == pytest.approx((0, 0, 1))


def test_o_ring_on_a_shaft_with_rounded_floor_and_broken_edges():
    body = cylinder(30, 60) - ring(40, 23, 4.8, 20)
    floor = [e for e in body.edges() if e.geom_type == b3d.GeomType.CIRCLE and e.radius < 12]
    body = b3d.fillet(floor, 0.4)
    rims = [
        e for e in body.edges()
        if e.geom_type == b3d.GeomType.CIRCLE and e.radius == 15 and 1 < e.center().Z < 59
    ]  # fmt: skip
    (found,) = grooves_of(b3d.chamfer(rims, 0.2))
    assert found.side == "outside"
    assert found.width_mm == pytest.approx(4.8, abs=1e-6)
    assert found.depth_mm == pytest.approx(3.5, abs=1e-6)
    assert found.floor_radius_mm == pytest.approx(0.4)


def test_undercut_din_509_e():
    """E 0.6 x 0.3, 2.5 wide with its 15 degree run-out, on a shaft of 16 beside a shoulder."""
    (found,) = grooves_of(
        revolved((0, 0), (15, 0), (15, 10), (7.7, 10), (7.7, 11.4), (8, 12.5), (8, 40), (0, 40))
    )
    assert found.side == "outside"
    assert found.depth_mm == pytest.approx(0.3, abs=1e-6)
    assert found.diameter_mm == pytest.approx(15.4, abs=1e-6)
    assert 1.4 < found.width_mm <= 2.5


def test_v_and_round_grooves():
    (vee,) = grooves_of(revolved((0, 0), (20, 0), (20, 10), (16, 14), (20, 18), (20, 40), (0, 40)))
    assert (vee.width_mm, vee.depth_mm, vee.diameter_mm) == pytest.approx((8, 4, 32), abs=1e-6)
    (race,) = grooves_of(cylinder(30, 20) - b3d.Pos(0, 0, 10) * b3d.Torus(15, 2))
    assert (race.width_mm, race.depth_mm, race.diameter_mm) == pytest.approx((4, 2, 26), abs=1e-6)
    assert race.floor_radius_mm == pytest.approx(2)


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (15, 0), (15, 5), (10, 5), (10, 35), (15, 35), (15, 40), (0, 40)],  # a spool
        [(0, 0), (15, 0), (15, 10), (10, 10), (10, 30), (6, 30), (6, 45), (0, 45)],  # steps
        [(0, 0), (8, 0), (8, 10), (6.5, 10), (6.5, 24), (8, 24), (8, 50), (0, 50)],  # a long neck
    ],
)
def test_what_is_no_groove(points):
    assert grooves_of(revolved(*points)) == []


def test_a_counterbore_is_no_groove():
    block = b3d.Box(40, 40, 20, align=LOW) - cylinder(6, 20) - cylinder(11, 6, 14)
    assert grooves_of(block) == []


def test_a_moved_groove_has_the_same_sizes():
    body = cylinder(20, 60) - ring(24, 19, 1.3, 40)
    (here,) = grooves_of(body)
    (there,) = grooves_of(b3d.Pos(3, 5, -70) * b3d.Rot(33, 12, 81) * body)
    assert there.width_mm == pytest.approx(here.width_mm, abs=1e-6)
    assert there.depth_mm == pytest.approx(here.depth_mm, abs=1e-6)
    assert there.diameter_mm == pytest.approx(here.diameter_mm, abs=1e-6)

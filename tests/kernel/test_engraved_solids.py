"""Text cut into or raised from plane and round faces; patterns of pockets that are no text."""

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import Engraving, Hole, Pocket

b3d = pytest.importorskip("build123d")


@pytest.fixture(autouse=True)
def _fonts():
    """Text needs a font of the system; a bare machine may have none."""
    from OCP.Font import Font_FontMgr

    if not Font_FontMgr.GetInstance_s().GetAvailableFonts().Extent():
        pytest.skip("no font is installed: text cannot be made")


LOW = (b3d.Align.CENTER, b3d.Align.CENTER, b3d.Align.MIN)


def box(x, y, z):
    return b3d.Box(x, y, z, align=LOW)


def cylinder(diameter, height, z=0.0, x=0.0, y=0.0):
    return b3d.Pos(x, y, z) * b3d.Cylinder(diameter / 2, height, align=LOW)


def text(words, size, height):
    return b3d.Plane.XY.offset(height) * b3d.Text(words, font_size=size)


def engraved(words, size, depth, *, raised=False):
    """A plate 8 mm thick, and the rectangle of its text (length, width)."""
    sketch = text(words, size, 8)
    rectangle = sketch.bounding_box().size
    plate = box(70, 24, 8)
    plate = plate + b3d.extrude(sketch, depth) if raised else plate - b3d.extrude(sketch, -depth)
    return plate, rectangle


def features_of(solid):
    part = part_facts(solid.wrapped, name="marked")
    return part, recognise(part)


@pytest.mark.parametrize("raised", [False, True])
@pytest.mark.parametrize(("words", "size", "depth"), [("DL-102", 6, 0.3), ("Lamp No 7", 8, 0.2)])
def test_text_on_a_plate(words, size, depth, raised):
    solid, rectangle = engraved(words, size, depth, raised=raised)
    part, features = features_of(solid)
    (found,) = features
    assert isinstance(found, Engraving)
    assert found.raised == raised
    assert found.depth_mm == pytest.approx(depth, abs=1e-6)
    assert found.length_mm == pytest.approx(rectangle.X, abs=0.1)
    assert found.width_mm == pytest.approx(rectangle.Y, abs=0.1)
    assert 0.02 * size < found.narrowest_mm < 0.2 * size
    assert found.direction == pytest.approx((0, 0, 1))
    left = [f for f in part.faces if f.index not in found.faces]
    assert all(f.surface == "plane" and abs(f.normal[2]) in (0, 1) for f in left)


def test_one_sign():
    _, features = features_of(engraved("S", 6, 0.3)[0])
    (found,) = features
    assert isinstance(found, Engraving)
    assert found.depth_mm == pytest.approx(0.3, abs=1e-6)


@pytest.mark.parametrize("turn", [0, 90, 137])
def test_text_round_a_shaft(turn):
    """At turn 0 the seam of the cylinder cuts through a letter."""
    plane = b3d.Plane((20.5, 0, 25), x_dir=(0, 1, 0), z_dir=(1, 0, 0))
    letters = b3d.Rot(0, 0, turn) * b3d.extrude(plane * b3d.Text("ABC 12", font_size=7), -6)
    sleeve = cylinder(42, 60, -5) - cylinder(39.4, 60, -5)
    part, features = features_of(cylinder(40, 50) - (letters & sleeve))
    (found,) = [f for f in features if isinstance(f, Engraving)]
    assert found.depth_mm == pytest.approx(0.3, abs=1e-3)
    assert found.width_mm == pytest.approx(5.3, abs=0.2)
    left = [f for f in part.faces if f.index not in found.faces]
    assert {f.surface for f in left} <= {"plane", "cylinder"}
    assert len(left) <= 7  # shaft, both ends, islands of A and B, a piece beside the seam


def test_a_moved_text_is_the_same():
    solid, _ = engraved("DL-102", 6, 0.3)
    _, (here,) = features_of(solid)
    _, (there,) = features_of(b3d.Pos(9, 9, 9) * b3d.Rot(10, 20, 30) * solid)
    assert len(there.faces) == len(here.faces)
    assert there.depth_mm == pytest.approx(here.depth_mm, abs=1e-5)
    assert there.narrowest_mm == pytest.approx(here.narrowest_mm, rel=1e-3)


def pockets():
    places = [(-25 + i * 25, -8 + j * 16) for i in range(3) for j in range(2)]
    return [b3d.Pos(x, y, 8) * b3d.extrude(b3d.RectangleRounded(15, 8, 2), 3) for x, y in places]


def slots():
    return [
        b3d.Pos(-30 + i * 12, 0, 9.5) * b3d.extrude(b3d.SlotOverall(20, 6, rotation=90), 1)
        for i in range(6)
    ]


def dimples():
    return [cylinder(2, 1, 9, -33 + i * 6) for i in range(12)]


def hexagons():
    outline = b3d.RegularPolygon(3, 6)
    return [b3d.Pos(-30 + i * 12, 0, 9) * b3d.extrude(outline, 1) for i in range(6)]


@pytest.mark.parametrize("tools", [pockets, slots, dimples, hexagons])
def test_what_is_no_text(tools):
    _, features = features_of(box(80, 40, 10) - tools())
    assert not [f for f in features if isinstance(f, Engraving)]
    assert len([f for f in features if isinstance(f, Hole | Pocket)]) >= 6

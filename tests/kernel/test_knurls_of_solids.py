"""Knurls of known pitch; teeth and rows of holes that are none.

Straight: pitch = pi D / N on the outside diameter. Diagonal at 30 degrees: the pitch across the
ridges is that times cos 30 (DIN 82, from memory).
"""

import math

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import Knurl
from dfmcheck.planning.process import choose_process

b3d = pytest.importorskip("build123d")

LOW = (b3d.Align.CENTER, b3d.Align.CENTER, b3d.Align.MIN)


def cylinder(diameter, height, z=0.0, x=0.0, y=0.0):
    return b3d.Pos(x, y, z) * b3d.Cylinder(diameter / 2, height, align=LOW)


def star(diameter, ridges, depth):
    points = []
    for k in range(ridges):
        a, half = 2 * math.pi * k / ridges, math.pi / ridges
        r = diameter / 2
        points.append((r * math.cos(a), r * math.sin(a)))
        points.append(((r - depth) * math.cos(a + half), (r - depth) * math.sin(a + half)))
    return b3d.make_face(b3d.Polyline(*points, close=True))


def twisted(diameter, ridges, length, degrees):
    """Ridges that wind at an angle of `degrees` to the axis on the outside diameter."""
    depth = 0.45 * math.pi * diameter / ridges
    turn = math.degrees(length * math.tan(math.radians(degrees)) / (diameter / 2))
    face = star(diameter, ridges, depth).face()
    return b3d.Solid.extrude_linear_with_rotation(face, (0, 0, 0), (0, 0, length), turn)


def cut_straight(diameter, ridges, length):
    """A plain shaft with V grooves of 90 degrees that stop before its ends."""
    width = 0.8 * math.pi * diameter / ridges
    tool = b3d.extrude(
        b3d.make_face(b3d.Polyline(
            (diameter / 2 + 0.2, -width / 2 - 0.2), (diameter / 2 + 0.2, width / 2 + 0.2),
            (diameter / 2 - width / 2, 0), close=True,
        )),
        length,
    )  # fmt: skip
    tools = [b3d.Rot(0, 0, 360 * k / ridges) * tool for k in range(ridges)]
    return cylinder(diameter, length + 6, -3) - tools


def knurls_of(solid):
    part = part_facts(solid.wrapped, name="knurled")
    features = recognise(part)
    return part, features, [f for f in features if isinstance(f, Knurl)]


@pytest.mark.parametrize(("diameter", "ridges"), [(20, 63), (8, 40), (40, 100)])
def test_straight(diameter, ridges):
    depth = 0.45 * math.pi * diameter / ridges
    knob = b3d.extrude(star(diameter, ridges, depth), 12)
    knob = knob + cylinder(diameter / 2, 10, 12) + cylinder(0.8 * diameter, 4, -4)
    part, features, (found,) = knurls_of(knob)
    assert found.pattern == "straight"
    assert found.diameter_mm == pytest.approx(diameter, abs=1e-6)
    assert found.pitch_mm == pytest.approx(math.pi * diameter / ridges, rel=1e-3)
    assert found.length_mm == pytest.approx(12, abs=1e-6)
    assert len(found.faces) == 2 * ridges
    assert choose_process(part, features).process == "turned"


def test_straight_grooves_cut_into_a_shaft():
    _, _, (found,) = knurls_of(cut_straight(20, 40, 12))
    assert found.pattern == "straight"
    assert found.pitch_mm == pytest.approx(math.pi * 20 / 40, rel=1e-3)
    assert len(found.faces) == 40 * 4  # two flanks and two ends each


def test_diagonal():
    _, _, (found,) = knurls_of(twisted(16, 36, 8, 30) + cylinder(10, 10, 8))
    assert found.pattern == "diagonal"
    across = math.pi * 16 / 36 * math.cos(math.radians(30))
    assert found.pitch_mm == pytest.approx(across, rel=0.02)


def test_crossed():
    diamonds = twisted(12, 24, 5, 30) & twisted(12, 24, 5, -30)
    solid = diamonds + cylinder(8, 10, 5) + cylinder(9, 4, -4)
    part, features, (found,) = knurls_of(solid)
    assert found.pattern == "crossed"
    assert found.diameter_mm == pytest.approx(12, abs=1e-2)
    across = math.pi * 12 / 24 * math.cos(math.radians(30))
    assert found.pitch_mm == pytest.approx(across, rel=0.02)
    assert len(part.faces) - len(found.faces) == 6
    assert choose_process(part, features).process == "turned"


def test_a_moved_knurl_is_the_same():
    solid = cut_straight(20, 40, 12)
    _, _, (here,) = knurls_of(solid)
    _, _, (there,) = knurls_of(b3d.Pos(5, -60, 9) * b3d.Rot(15, 70, 40) * solid)
    assert (there.pattern, len(there.faces)) == (here.pattern, len(here.faces))
    assert there.pitch_mm == pytest.approx(here.pitch_mm, rel=1e-6)
    assert there.length_mm == pytest.approx(here.length_mm, abs=1e-5)


def gear():
    teeth = []
    for k in range(22):
        a = 2 * math.pi * k / 22
        for r, turn in ((10, -0.06), (12.25, -0.03), (12.25, 0.03), (10, 0.06)):
            teeth.append((r * math.cos(a + turn), r * math.sin(a + turn)))
    return b3d.extrude(b3d.make_face(b3d.Polyline(*teeth, close=True)), 8)


def bolt_circle():
    angles = [2 * math.pi * k / 24 for k in range(24)]
    holes = [cylinder(4, 8, 0, 33 * math.cos(a), 33 * math.sin(a)) for a in angles]
    return cylinder(80, 8) - holes


def castle():
    return cylinder(40, 12) - [
        b3d.Rot(0, 0, 22.5 * k) * b3d.Pos(20, 0, 0) * b3d.Box(4, 3, 40) for k in range(16)
    ]


@pytest.mark.parametrize("make", [gear, bolt_circle, castle])
def test_what_is_no_knurl(make):
    _, _, found = knurls_of(make())
    assert found == []

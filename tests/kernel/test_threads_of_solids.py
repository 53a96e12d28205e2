"""Threads made other ways: swept grooves, two starts, rings; and what only looks like one."""

import math
import time

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import Thread

b3d = pytest.importorskip("build123d")

LOW = (b3d.Align.CENTER, b3d.Align.CENTER, b3d.Align.MIN)
DEPTH = 0.6134
"""Depth of an outside ISO thread over its pitch, 17/24 of the sharp height (ISO 68-1)."""


def cylinder(diameter, height, z=0.0, x=0.0, y=0.0):
    return b3d.Pos(x, y, z) * b3d.Cylinder(diameter / 2, height, align=LOW)


def swept(diameter, pitch, *, cut, begin, height, lead=None, length=24.0):
    """A thread by one sweep along a helix: cut into a shaft, or laid on a core."""
    depth, over = DEPTH * pitch, 0.3
    path = b3d.Pos(0, 0, begin) * b3d.Helix(
        pitch=lead or pitch, height=height, radius=diameter / 2 - depth
    )
    plane = b3d.Plane(path @ 0, x_dir=(1, 0, 0), z_dir=path % 0)
    if cut:
        outline = [
            (depth + over, 0.4 * pitch), (depth + over, -0.4 * pitch),
            (0, -0.1 * pitch), (0, 0.1 * pitch),
        ]  # fmt: skip
    else:
        outline = [
            (-over, 0.4 * pitch), (-over, -0.4 * pitch),
            (depth, -pitch / 16), (depth, pitch / 16),
        ]  # fmt: skip
    profile = plane * b3d.make_face(b3d.Polyline(*outline, close=True))
    ridge = b3d.sweep(profile, path=path, is_frenet=True)
    if cut:
        return cylinder(diameter, length) - ridge
    return cylinder(diameter - 2 * depth, length) + ridge


def outline_of_rings(diameter, pitch, count, flank):
    """Half profile of a shaft with rings: flank is its run along the axis over the pitch."""
    depth, r = DEPTH * pitch, diameter / 2
    points, z = [(0, 0), (r, 0), (r, 2)], 2.0
    flat = (1.0 - 2 * flank) / 2
    for _ in range(count):
        points += [
            (r - depth, z + flank * pitch), (r - depth, z + (flank + flat) * pitch),
            (r, z + (2 * flank + flat) * pitch), (r, z + pitch),
        ]  # fmt: skip
        z += pitch
    return [*points, (r, z + 2), (0, z + 2)]


def revolved(points):
    return b3d.revolve(b3d.make_face(b3d.Polyline(*points, close=True)), b3d.Axis.Y)


def threads_of(solid):
    part = part_facts(solid.wrapped, name="threaded")
    return part, [f for f in recognise(part) if isinstance(f, Thread)]


@pytest.mark.parametrize(("cut", "begin", "height"), [(True, 4, 16), (True, 0, 24), (False, 0, 24)])
def test_swept_threads(cut, begin, height):
    _, (found,) = threads_of(swept(16, 2, cut=cut, begin=begin, height=height))
    assert (found.side, found.form) == ("outside", "helical")
    assert found.major_diameter_mm == pytest.approx(16, rel=1e-3)
    assert found.minor_diameter_mm == pytest.approx(16 - 2 * DEPTH * 2, rel=1e-3)
    assert found.pitch_mm == pytest.approx(2, rel=1e-3)
    assert found.length_mm == pytest.approx(height, abs=1.0 * 2)


def test_a_tapered_pipe_thread():
    """R 1/4: 13.157 mm, 19 threads an inch, taper 1 in 16 (ISO 7-1, from memory)."""
    pitch, length, taper = 25.4 / 19, 12.0, 1.79
    depth, r = 0.64 * pitch, 13.157 / 2
    path = b3d.Helix(pitch=pitch, height=length, radius=r - depth, cone_angle=taper)
    plane = b3d.Plane(path @ 0, x_dir=(1, 0, 0), z_dir=path % 0)
    outline = [
        (-0.3, 0.4 * pitch), (-0.3, -0.4 * pitch), (depth, -pitch / 16), (depth, pitch / 16),
    ]  # fmt: skip
    profile = plane * b3d.make_face(b3d.Polyline(*outline, close=True))
    ridge = b3d.sweep(profile, path=path, is_frenet=True)
    wide = r - depth + length * math.tan(math.radians(taper))
    _, (found,) = threads_of(b3d.Cone(r - depth, wide, length, align=LOW) + ridge)
    assert (found.side, found.form) == ("outside", "helical")
    assert found.pitch_mm == pytest.approx(pitch, rel=2e-3)
    middle = 13.157 + length / 16 / 2  # of the taper; the modelled ends run over by a turn
    assert found.major_diameter_mm == pytest.approx(middle, abs=0.15)


def test_two_starts_have_half_the_lead_as_pitch():
    one = swept(16, 2, cut=False, begin=0, height=24, lead=4)
    _, (found,) = threads_of(one + b3d.Rot(0, 0, 180) * one)
    assert found.pitch_mm == pytest.approx(2, rel=1e-3)


def test_rings_on_a_shaft():
    _, (found,) = threads_of(revolved(outline_of_rings(8, 1.25, 12, 0.38)))
    assert (found.side, found.form) == ("outside", "rings")
    assert found.major_diameter_mm == pytest.approx(8, abs=1e-6)
    assert found.minor_diameter_mm == pytest.approx(8 - 2 * DEPTH * 1.25, abs=1e-6)
    assert found.pitch_mm == pytest.approx(1.25, abs=1e-6)
    assert found.length_mm == pytest.approx(12 * 1.25, abs=1.25)


def test_rings_in_a_bore():
    outside = cylinder(30, 12)
    points, r = [(0, 0), (4.188, 0)], 4.188
    for k in range(8):
        z = 1.5 * k
        points += [(r, z + 0.2), (5, z + 0.65), (5, z + 0.85), (r, z + 1.3), (r, z + 1.5)]
    core = b3d.Rot(90, 0, 0) * revolved([*points, (0, 12)])
    _, (found,) = threads_of(outside - core)
    assert (found.side, found.form) == ("inside", "rings")
    assert found.major_diameter_mm == pytest.approx(10, abs=1e-6)
    assert found.pitch_mm == pytest.approx(1.5, abs=1e-6)


def test_a_pulley_of_five_grooves_is_no_thread():
    """V-belt grooves have 34 to 40 degrees between their flanks (ISO 4183), threads 60."""
    points, z = [(0, 0), (40, 0), (40, 4)], 4.0
    for _ in range(5):
        points += [(32, z + 2.7), (32, z + 8.7), (40, z + 11.4), (40, z + 15)]
        z += 15.0
    _, found = threads_of(revolved([*points, (0, z)]))
    assert found == []


def test_an_oil_groove_is_no_thread():
    path = b3d.Pos(0, 0, 5) * b3d.Helix(pitch=20, height=30, radius=15)
    plane = b3d.Plane(path @ 0, x_dir=(1, 0, 0), z_dir=path % 0)
    groove = b3d.sweep(plane * b3d.Circle(1.5), path=path, is_frenet=True)
    _, found = threads_of(cylinder(30, 40) - groove)
    assert found == []


@pytest.mark.slow
def test_many_ringed_bores_in_one_plate_in_bounded_time():
    """A hundred bores of eight rings, 3 300 faces: about the axis of each only its own count."""
    points, r = [(0, 0), (4.188, 0)], 4.188
    for k in range(8):
        z = 1.5 * k
        points += [(r, z + 0.2), (5, z + 0.65), (5, z + 0.85), (r, z + 1.3), (r, z + 1.5)]
    core = b3d.Rot(90, 0, 0) * revolved([*points, (0, 12)])
    plate = b3d.Box(220, 220, 12, align=LOW)
    places = [(20 * i - 90, 20 * j - 90) for i in range(10) for j in range(10)]
    plate = plate - [b3d.Pos(x, y, 0) * core for x, y in places]
    part = part_facts(plate.wrapped, name="plate")
    assert len(part.faces) > 3000
    started = time.perf_counter()
    found = [f for f in recognise(part) if isinstance(f, Thread)]
    assert time.perf_counter() - started < 20.0
    assert len(found) == 100
    assert {round(f.major_diameter_mm, 4) for f in found} == {10.0}

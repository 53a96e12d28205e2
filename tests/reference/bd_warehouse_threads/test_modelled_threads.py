"""Threads modelled by bd_warehouse 0.4.0 are found with the sizes they were asked for.

Basic profile of ISO 68-1: the minor diameter is d - 1.0825 P (5/8 of the sharp height, twice).
"""

import math
import time
from importlib.metadata import version

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import Freeform, Groove, Hole, Thread

b3d = pytest.importorskip("build123d")
thread = pytest.importorskip("bd_warehouse.thread")

LOW = (b3d.Align.CENTER, b3d.Align.CENTER, b3d.Align.MIN)
MINOR = 2 * 5 / 8 * math.sqrt(3) / 2


def cylinder(diameter, height, z=0.0):
    return b3d.Pos(0, 0, z) * b3d.Cylinder(diameter / 2, height, align=LOW)


def screw(diameter, pitch, length, *, fused=False, ends=("fade", "fade")):
    """A screw; its ridge is fused to the shank or left as bodies of its own."""
    ridge = thread.IsoThread(
        major_diameter=diameter, pitch=pitch, length=length, external=True, end_finishes=ends,
        interference=0.2, simple=False,
    )  # fmt: skip
    core = cylinder(2 * ridge.min_radius, length)
    if fused:
        return core + ridge + cylinder(1.6 * diameter, 6, -6)
    return b3d.Compound(children=[core, *ridge.solids()])


def nut(diameter, pitch, length, *, fused=True):
    ridge = thread.IsoThread(
        major_diameter=diameter, pitch=pitch, length=length, external=False,
        end_finishes=("square", "square"), simple=False,
    )  # fmt: skip
    body = b3d.Box(3 * diameter, 3 * diameter, length, align=LOW)
    body = body - cylinder(2 * ridge.root_radius, length)
    if fused:
        return body.fuse(ridge)
    return b3d.Compound(children=[*body.solids(), *ridge.solids()])


def found_in(solid):
    part = part_facts(solid.wrapped, name="threaded")
    started = time.perf_counter()
    features = recognise(part)
    assert time.perf_counter() - started < 5.0
    assert not [f for f in features if isinstance(f, Freeform | Groove)]
    return part, features, [f for f in features if isinstance(f, Thread)]


def test_version():
    assert version("bd_warehouse") == "0.4.0"


@pytest.mark.parametrize(
    ("diameter", "pitch"), [(3, 0.5), (5, 0.8), (8, 1.25), (10, 1.5), (12, 1.0), (30, 3.5)]
)
def test_screws_whose_ridge_is_a_body_of_its_own(diameter, pitch):
    length = 2 * diameter
    part, _, threads = found_in(screw(diameter, pitch, length))
    (found,) = threads
    assert (found.side, found.form) == ("outside", "helical")
    assert found.major_diameter_mm == pytest.approx(diameter, rel=1e-4)
    assert found.minor_diameter_mm == pytest.approx(diameter - MINOR * pitch, rel=1e-3)
    assert found.pitch_mm == pytest.approx(pitch, rel=1e-3)
    assert found.length_mm == pytest.approx(length, abs=1.5 * pitch)
    assert len(found.faces) >= len(part.faces) - 2  # all but both ends of the core


@pytest.mark.parametrize("ends", [("square", "square"), ("fade", "chamfer")])
def test_screws_fused_to_one_body(ends):
    part, _, threads = found_in(screw(10, 1.5, 20, fused=True, ends=ends))
    (found,) = threads
    assert found.side == "outside"
    assert found.major_diameter_mm == pytest.approx(10, rel=1e-4)
    assert found.minor_diameter_mm == pytest.approx(10 - MINOR * 1.5, rel=1e-3)
    assert found.pitch_mm == pytest.approx(1.5, rel=1e-3)
    left = [f for f in part.faces if f.index not in found.faces]
    assert {f.surface for f in left} == {"plane", "cylinder"}  # head and ends
    assert len(left) <= 5


@pytest.mark.parametrize("fused", [True, False])
def test_inside_threads(fused):
    _, features, threads = found_in(nut(12, 1.75, 12, fused=fused))
    (found,) = threads
    assert (found.side, found.form) == ("inside", "helical")
    assert found.major_diameter_mm == pytest.approx(12, rel=1e-3)
    assert found.minor_diameter_mm == pytest.approx(12 - MINOR * 1.75, rel=1e-3)
    assert found.pitch_mm == pytest.approx(1.75, rel=1e-3)
    assert not [f for f in features if isinstance(f, Hole)]


def test_trapezoidal_thread():
    """Tr 12 x 3: depth 0.5 P without clearance (ISO 2904, from memory)."""
    ridge = thread.MetricTrapezoidalThread(
        "12x3", length=30, external=True, end_finishes=("square", "square")
    )
    _, _, threads = found_in(cylinder(2 * ridge.root_radius, 30).fuse(ridge))
    (found,) = threads
    assert found.major_diameter_mm == pytest.approx(12, rel=1e-3)
    assert found.minor_diameter_mm == pytest.approx(12 - 3, rel=1e-3)
    assert found.pitch_mm == pytest.approx(3, rel=1e-3)


@pytest.mark.parametrize("turn", [(20, 50, 70), (90, 0, 0), (0, 180, 13)])
def test_a_moved_screw_has_the_same_thread(turn):
    solid = screw(8, 1.25, 16)
    moved = b3d.Pos(7, -40, 13) * b3d.Rot(*turn) * solid
    here, there = (found_in(s)[2] for s in (solid, moved))
    assert len(here) == len(there) == 1
    for name in ("major_diameter_mm", "minor_diameter_mm", "pitch_mm", "length_mm"):
        assert getattr(here[0], name) == pytest.approx(getattr(there[0], name), rel=1e-4)
    assert len(here[0].faces) == len(there[0].faces)

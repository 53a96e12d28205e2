"""Solids of build123d whose volume, area, centroid, moments and box follow from formulas.

Formulas: any table of solid geometry; moments of inertia at unit density, e.g. Bronshtein,
Semendyayev: Handbook of Mathematics (from memory). Meshes are checked by trimesh.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
import trimesh
from build123d import Align, Box, Cone, Cylinder, Location, Plane, Pos, Rot, Sphere, Torus, mirror

from dfmcheck.kernel.facts import part_facts
from dfmcheck.kernel.mesh import mesh_of
from dfmcheck.kernel.topology import topology_of
from dfmcheck.model.facts import FileFacts, PartFacts

PI = math.pi


@dataclass(frozen=True)
class Known:
    shape: Any
    volume: float
    area: float
    box: tuple[float, float, float]
    principal: tuple[float, float, float]


def block() -> Known:
    a, b, c = 10.0, 20.0, 30.0
    v = a * b * c
    moments = sorted(v / 12 * (p * p + q * q) for p, q in ((a, b), (b, c), (a, c)))
    return Known(Box(a, b, c), v, 2 * (a * b + b * c + a * c), (a, b, c), tuple(moments))


def rod() -> Known:
    r, h = 7.0, 50.0
    v = PI * r * r * h
    across, about = v * (3 * r * r + h * h) / 12, v * r * r / 2
    return Known(
        Cylinder(r, h), v, 2 * PI * r * (r + h), (2 * r, 2 * r, h), (about, across, across)
    )


def ball() -> Known:
    r = 9.0
    v = 4 / 3 * PI * r**3
    return Known(Sphere(r), v, 4 * PI * r * r, (2 * r,) * 3, (0.4 * v * r * r,) * 3)


def frustum() -> Known:
    p, q, h = 12.0, 5.0, 21.0
    v = PI * h / 3 * (p * p + p * q + q * q)
    about = PI * h / 10 * (p**5 - q**5) / (p - q)
    side = PI * (p + q) * math.hypot(h, p - q)
    # second moment along the axis by integration of pi r(z)^2 z^2
    z = np.linspace(0.0, h, 20001)
    r2 = (p + (q - p) * z / h) ** 2
    first = PI * np.trapezoid(r2 * z, z) / v
    along = PI * np.trapezoid(r2 * (z - first) ** 2, z)
    across = about / 2 + along
    shape = Cone(p, q, h)
    return Known(shape, v, side + PI * (p * p + q * q), (2 * p, 2 * p, h),
                 tuple(sorted((about, across, across))))  # fmt: skip


def ring() -> Known:
    big, small = 20.0, 4.0
    v = 2 * PI**2 * big * small**2
    about = v * (big**2 + 0.75 * small**2)
    across = v * (big**2 / 2 + 5 / 8 * small**2)
    return Known(Torus(big, small), v, 4 * PI**2 * big * small,
                 (2 * (big + small), 2 * (big + small), 2 * small),
                 (across, across, about))  # fmt: skip


def tube() -> Known:
    r, s, h = 15.0, 11.0, 8.0
    v = PI * (r * r - s * s) * h
    about = v * (r * r + s * s) / 2
    across = v * (3 * (r * r + s * s) + h * h) / 12
    area = 2 * PI * (r + s) * h + 2 * PI * (r * r - s * s)
    return Known(Cylinder(r, h) - Cylinder(s, h), v, area, (2 * r, 2 * r, h),
                 (across, across, about))  # fmt: skip


SOLIDS = {f.__name__: f for f in (block, rod, ball, frustum, ring, tube)}
AWAY = Location((130.0, -40.0, 77.0), (31.0, 17.0, 111.0))


def facts_of(shape: Any) -> PartFacts:
    return part_facts(shape.wrapped, name="part")


@pytest.mark.parametrize("name", SOLIDS)
def test_measures(name: str) -> None:
    known = SOLIDS[name]()
    facts = facts_of(known.shape)
    assert facts.volume_mm3 == pytest.approx(known.volume, rel=1e-6)
    assert facts.area_mm2 == pytest.approx(known.area, rel=1e-6)
    assert facts.principal_mm5 == pytest.approx(known.principal, rel=1e-5)
    assert facts.box_mm == pytest.approx(known.box, abs=1e-3)
    assert facts.closed
    assert not facts.doubts


@pytest.mark.parametrize("name", SOLIDS)
def test_measures_do_not_change_when_the_solid_is_moved(name: str) -> None:
    known = SOLIDS[name]()
    here, there = facts_of(known.shape), facts_of(AWAY * known.shape)
    assert there.volume_mm3 == pytest.approx(here.volume_mm3, rel=1e-9)
    assert there.area_mm2 == pytest.approx(here.area_mm2, rel=1e-9)
    assert there.principal_mm5 == pytest.approx(here.principal_mm5, rel=1e-6)
    assert there.frame.size_mm == pytest.approx(here.frame.size_mm, abs=2e-3)
    assert there.fingerprint == here.fingerprint
    moved = np.array(tuple((AWAY * Pos(*here.centroid)).position))
    assert there.centroid == pytest.approx(tuple(moved), abs=1e-6)


def test_box_of_a_tilted_rod() -> None:
    # a rod along the unit vector d reaches h |d_i| + 2 r sqrt(1 - d_i^2) along axis i
    r, h = 3.0, 40.0
    d = np.array([2.0, 3.0, 6.0]) / 7.0
    rod = Plane(origin=(0, 0, 0), z_dir=tuple(d)) * Cylinder(r, h)
    expected = h * np.abs(d) + 2 * r * np.sqrt(1 - d * d)
    assert facts_of(rod).box_mm == pytest.approx(tuple(expected), abs=1e-3)


def test_box_of_a_dome_and_of_a_tilted_ring() -> None:
    dome = Sphere(25.0) & Pos(0, 0, 20) * Box(60, 60, 40, align=Align.CENTER)
    assert facts_of(Rot(20, 10, 5) * dome).frame.size_mm[2] == pytest.approx(25.0, abs=2e-3)
    # a ring tilted by a: R cos a + r to each side across, R sin a + r up
    big, small, a = 20.0, 4.0, math.radians(35)
    box = facts_of(Rot(35, 0, 0) * Torus(big, small)).box_mm
    expected = (2 * (big + small), 2 * (big * math.cos(a) + small), 2 * (big * math.sin(a) + small))
    assert box == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize("name", SOLIDS)
def test_mesh_agrees_with_trimesh(name: str) -> None:
    shape = (AWAY * SOLIDS[name]().shape).wrapped
    top = topology_of(shape)
    mesh = mesh_of(shape, top.faces, 60.0)
    other = trimesh.Trimesh(mesh.points, mesh.triangles, process=True)
    other.update_faces(other.nondegenerate_faces())  # at the poles of a ball
    assert other.is_watertight
    assert other.is_winding_consistent
    assert mesh.volume_mm3 == pytest.approx(other.volume, rel=1e-9)
    assert float(mesh.areas.sum()) == pytest.approx(other.area, rel=1e-9)


def test_oriented_box_agrees_with_trimesh() -> None:
    shape = AWAY * (
        Box(60, 25, 12) - Pos(20, 0, 0) * Cylinder(4, 12) - Pos(-25, 8, 4) * Box(10, 9, 4)
    )
    facts = facts_of(shape)
    top = topology_of(shape.wrapped)
    mesh = mesh_of(shape.wrapped, top.faces, 66.0)
    _, extents = trimesh.bounds.oriented_bounds(trimesh.Trimesh(mesh.points, mesh.triangles))
    assert sorted(facts.frame.size_mm) == pytest.approx(sorted(extents), abs=0.01)


def test_mirrored_solids_are_told_apart_in_one_file(
    read: Callable[..., FileFacts], as_step: Callable[..., bytes]
) -> None:
    left = Box(30, 20, 10) - Pos(10, 5, 0) * Cylinder(2, 10) - Pos(-12, -6, 4) * Box(4, 5, 2)
    right = mirror(left, Plane.YZ)
    pair = read(as_step(both(left, Pos(100, 0, 0) * right)))
    assert [p.count for p in pair.parts] == [1, 1]
    same = read(as_step(both(left, Pos(100, 0, 0) * Rot(0, 0, 70) * left)))
    assert [p.count for p in same.parts] == [2]


def both(*shapes: Any) -> Any:
    from build123d import Compound

    return Compound([s.solid() for s in shapes])


def test_a_turned_part_with_a_cross_hole_is_equal_however_it_is_turned(
    read: Callable[..., FileFacts], as_step: Callable[..., bytes]
) -> None:
    pin = Cylinder(5, 40) - Pos(0, 0, 9) * Rot(90, 0, 0) * Cylinder(1.5, 20)
    for angle in (0, 77, 120):
        pin -= Rot(0, 0, angle) * Pos(5, 0, -11) * Rot(0, 90, 0) * Cylinder(1, 4)
    pair = both(pin, Pos(50, 0, 0) * Rot(25, 70, 10) * pin)
    assert [p.count for p in read(as_step(pair)).parts] == [2]
    wrong = both(pin, Pos(50, 0, 0) * Rot(25, 70, 10) * mirror(pin, Plane.XZ))
    assert [p.count for p in read(as_step(wrong)).parts] == [1, 1]

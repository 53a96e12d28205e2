"""Spline faces that are planes, cylinders, cones, spheres or tori in truth."""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.Geom import (
    Geom_ConicalSurface,
    Geom_CylindricalSurface,
    Geom_Plane,
    Geom_SphericalSurface,
    Geom_ToroidalSurface,
)
from OCP.GeomConvert import GeomConvert_SurfToAnaSurf

from dfmcheck.kernel.surfaces import Carrier, take_parameters
from dfmcheck.kernel.trims import along_edges
from dfmcheck.model.facts import SurfaceKind
from dfmcheck.model.vector import dot

Floats = NDArray[np.float64]

_CLASSES: tuple[tuple[Any, SurfaceKind, str], ...] = (
    (Geom_Plane, "plane", "Pln"),
    (Geom_CylindricalSurface, "cylinder", "Cylinder"),
    (Geom_ConicalSurface, "cone", "Cone"),
    (Geom_SphericalSurface, "sphere", "Sphere"),
    (Geom_ToroidalSurface, "torus", "Torus"),
)

_FLATTEST = 1000.0
"""A radius so many times the face's own size is not believed to be one."""


def tolerance_mm(size_mm: float) -> float:
    """How far a spline face of this size may stray from what it is taken for."""
    return min(1e-3, max(1e-5, 1e-4 * size_mm))


def recognise(c: Carrier, face: Any, nodes: Floats) -> None:
    """Give a freeform carrier its true kind, where it has one.

    Args:
        c: the carrier; changed in place.
        face: its kernel face.
        nodes: (n, 3) float, the points of its mesh, mm.
    """
    if c.kind != "freeform" or len(nodes) < 3:
        return
    size = float(np.linalg.norm(np.ptp(nodes, axis=0)))
    tolerance = tolerance_mm(size)
    spline = BRep_Tool.Surface_s(face)
    surface = GeomConvert_SurfToAnaSurf(spline).ConvertToAnalytical(tolerance)
    if surface is None:  # the surface may be freer than the face that is cut out of it
        surface = GeomConvert_SurfToAnaSurf(spline).ConvertToAnalytical(
            tolerance, *_within(spline, c.bounds)
        )
    match = next(((kind, ask) for cls, kind, ask in _CLASSES if isinstance(surface, cls)), None)
    if match is None:
        return
    kind, ask = match
    elementary = getattr(surface, ask)()
    trial = Carrier(adaptor=c.adaptor, kind=kind, sign=c.sign, bounds=c.bounds, recognised=True)
    take_parameters(trial, elementary)
    if kind == "plane":
        n = np.array(trial.plane_normal)
        if np.ptp(nodes @ n) > 2.0 * tolerance:
            return
    elif not _fits(trial, nodes, tolerance, size):
        return
    else:
        _measure(trial, face, nodes)
    for name, value in vars(trial).items():
        setattr(c, name, value)


def _within(spline: Any, bounds: tuple[float, float, float, float]) -> tuple[float, ...]:
    """The bounds of a face a little inside those of its surface, or the kernel gives up."""
    u0, u1, v0, v1 = spline.Bounds()
    du, dv = 1e-9 * (u1 - u0), 1e-9 * (v1 - v0)
    a, b, c, d = bounds
    return (max(a, u0 + du), min(b, u1 - du), max(c, v0 + dv), min(d, v1 - dv))


def _fits(c: Carrier, nodes: Floats, tolerance: float, size: float) -> bool:
    along, radial = _along_and_radius(c, nodes)
    radius = c.radius or 0.0
    if max(radius, c.minor or 0.0) > _FLATTEST * size:
        return False
    if c.kind == "cylinder":
        off = radial - radius
    elif c.kind == "sphere":
        off = np.hypot(along, radial) - radius
    elif c.kind == "torus":
        off = np.hypot(radial - radius, along) - (c.minor or 0.0)
    else:
        angle = c.half_angle or 0.0
        off = (radial - np.abs(radius + along * math.tan(angle))) * math.cos(angle)
    return bool(np.abs(off).max() <= 2.0 * tolerance)


def _along_and_radius(c: Carrier, nodes: Floats) -> tuple[Floats, Floats]:
    axis, d = np.array(c.axis), nodes - np.array(c.origin)
    along = d @ axis
    return along, np.linalg.norm(d - np.outer(along, axis), axis=1)


def _measure(c: Carrier, face: Any, nodes: Floats) -> None:
    """Limits along and about the axis, from the nodes of the mesh and the edges."""
    along, _ = _along_and_radius(c, nodes)
    low, high = along_edges(face, c.axis or (0.0, 0.0, 1.0))
    shift = dot(c.origin or (0.0, 0.0, 0.0), c.axis or (0.0, 0.0, 1.0))
    c.along = (min(float(along.min()), low - shift), max(float(along.max()), high - shift))
    if c.kind == "cone":
        slope = math.tan(c.half_angle or 0.0)
        ends = [abs((c.radius or 0.0) + t * slope) for t in c.along]
        c.radii = (ends[0], ends[1])
    axis, d = np.array(c.axis), nodes - np.array(c.origin)
    across = d - np.outer(d @ axis, axis)
    far = np.linalg.norm(across, axis=1) > 1e-6
    x = np.cross(axis, [1.0, 0.0, 0.0] if abs(axis[0]) < 0.8 else [0.0, 1.0, 0.0])
    x = x / np.linalg.norm(x)
    angles = np.sort(np.arctan2(across[far] @ np.cross(axis, x), across[far] @ x))
    if len(angles):
        gaps = np.diff(np.append(angles, angles[0] + 2.0 * math.pi))
        widest = float(gaps.max())
        # a gap no wider than the mesh's own steps is no gap
        c.span_deg = 360.0 if widest < 0.7 else math.degrees(2.0 * math.pi - widest)

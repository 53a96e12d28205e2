"""Directions of faces about an axis: which way walls look, and where nothing looks."""

import math
from collections.abc import Iterable
from itertools import pairwise

from dfmcheck.features.graph import Graph
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import cross, dot, norm, parallel, perpendicular, scale, sub, unit

CLOSED_GAP_DEG = 176.0
"""Walls whose normals leave no greater gap than this surround the hollow."""


def facing(face: Face, direction: Vec) -> float:
    """Cosine between a face's middle normal and a direction; 0 for walls curved about it."""
    return 0.0 if curved_about(face, direction) else dot(face.normal, direction)


def curved_about(face: Face, axis: Vec) -> bool:
    """True for a cylinder or cone whose axis runs along the given one."""
    return (
        face.surface in ("cylinder", "cone")
        and face.axis is not None
        and parallel(face.axis, axis, 1.0)
    )


def common_axis(faces: Iterable[Face]) -> Vec | None:
    """The direction all faces run along, as drawn out of one outline; None if there is none."""
    axis: Vec | None = None
    first: Vec | None = None
    for f in faces:
        if f.surface == "cylinder" and f.axis is not None:
            axis = axis or f.axis
        elif f.surface == "plane":
            if first is None:
                first = f.normal
            elif axis is None and not parallel(first, f.normal, 2.0):
                axis = unit(cross(first, f.normal))
        else:
            return None
    if axis is None:
        return None
    for f in faces:
        if f.surface == "cylinder":
            if f.axis is None or not parallel(f.axis, axis, 1.0):
                return None
        elif abs(dot(f.normal, axis)) > 0.02:
            return None
    return axis


def angles_about(face: Face, axis: Vec) -> list[float]:
    """Angles (degrees) of a wall's normals about an axis: one for a plane, several for an arc."""
    u = perpendicular(axis)
    v = cross(axis, u)
    middle = math.degrees(math.atan2(dot(face.normal, v), dot(face.normal, u)))
    if not curved_about(face, axis):
        return [middle]
    half = (face.span_deg or 0.0) / 2
    steps = max(2, math.ceil(half / 15.0))
    return [middle + half * k / steps for k in range(-steps, steps + 1)]


def widest_gap_deg(angles: Iterable[float]) -> float:
    """The widest gap between angles on a circle, in degrees."""
    return max(_gaps(angles))


def gaps_deg(angles: Iterable[float], least: float) -> int:
    """How many gaps between angles on a circle are at least this wide."""
    return sum(g >= least for g in _gaps(angles))


def _gaps(angles: Iterable[float]) -> list[float]:
    row = sorted(a % 360.0 for a in angles)
    if not row:
        return [360.0]
    return [*(b - a for a, b in pairwise(row)), 360.0 - row[-1] + row[0]]


def square_to_box(graph: Graph, direction: Vec) -> bool:
    """True for a direction along an axis of the canonical frame."""
    frame = graph.part.frame
    return any(parallel(direction, a, 1.0) for a in (frame.x, frame.y, frame.z))


def off_plane(direction: Vec, normal: Vec) -> Vec:
    """The part of a direction square to a normal, as a unit vector (null where there is none)."""
    flat = sub(direction, scale(normal, dot(direction, normal)))
    return unit(flat) if norm(flat) > 1e-9 else (0.0, 0.0, 0.0)

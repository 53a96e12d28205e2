"""The open ends of a hole: the faces it opens into, and where its axis passes through them."""

import math
from collections.abc import Iterable

from dfmcheck.features.graph import Graph, normal_at
from dfmcheck.features.pierce import meets_cylinder
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import add, dot, parallel, scale, sub


def opened(graph: Graph, closing: Iterable[int], own: set[int]) -> list[Face]:
    """The faces that a hole opens into: planes and cylinders if there are any.

    Args:
        graph: the faces of the part.
        closing: the faces met at its end; behind a rounded rim come the faces beyond.
        own: the faces of the hole itself.
    """
    faces = [graph.faces[f] for f in closing]
    for f in list(faces):
        if f.surface == "torus" and f.bend == "outside":
            faces += [graph.faces[n] for n in graph.neighbours(f.index)]
    flat = [f for f in faces if f.surface in ("plane", "cylinder")] or faces
    return [f for f in flat if f.index not in own]


def slant_deg(faces: list[Face], at: Vec, direction: Vec) -> float:
    """Angle between an axis and the normal of the largest of the faces it passes, in degrees.

    Args:
        faces: the faces that the hole opens into.
        at: a place on the axis near them.
        direction: of the axis.
    """
    if not faces:
        return 0.0
    face = max(faces, key=lambda f: (f.area_mm2, -f.index))
    if face.surface == "cylinder":
        met = meets_cylinder(face, at, direction)
        at = add(at, scale(direction, min(met, key=abs, default=0.0)))
    cosine = abs(dot(normal_at(face, at), direction))
    slant = math.degrees(math.acos(min(1.0, cosine)))
    return slant if slant > 0.05 else 0.0


def crossing_mm(graph: Graph, faces: list[Face], at: Vec, outwards: Vec) -> float | None:
    """How far from the end of a wall its axis leaves the metal (negative: before that end).

    Over an outside edge between two faces it leaves at the first of them, over an inside one at
    the last.

    Args:
        graph: the faces of the part.
        faces: the faces that the hole opens into.
        at: the place on the axis level with the end of the wall, where it is longest.
        outwards: the direction of the axis out of the metal.

    Returns:
        None where the axis passes none of them, or they lie at steps square to it.
    """
    met = [min(t, key=abs) for t in (_met(f, at, outwards) for f in faces) if t]
    if not met:
        return None
    if max(met) - min(met) > graph.tolerance_mm and any(_square_on(f, outwards) for f in faces):
        return None  # a step: the wall's own end says where the axis leaves
    numbers = {f.index for f in faces}
    valley = any(graph.neighbours(f.index, "concave") & numbers for f in faces)
    return max(met) if valley else min(met)


def _square_on(face: Face, direction: Vec) -> bool:
    return face.surface == "plane" and parallel(face.normal, direction)


def _met(face: Face, origin: Vec, direction: Vec) -> list[float]:
    """Where a line passes the carrier of a face, in mm from the origin along the direction."""
    if face.surface == "plane":
        slope = dot(face.normal, direction)
        if abs(slope) < 1e-6:
            return []
        return [dot(sub(face.centroid, origin), face.normal) / slope]
    if face.surface == "cylinder":
        return meets_cylinder(face, origin, direction)
    if face.axis_point is None:
        return []
    d = sub(origin, face.axis_point)
    if face.surface == "sphere" and face.radius_mm is not None:
        return _roots(dot(direction, direction), dot(d, direction), dot(d, d) - face.radius_mm**2)
    if face.surface == "cone" and face.axis and face.along_mm and face.radii_mm:
        (h0, h1), (r0, r1) = face.along_mm, face.radii_mm
        if h1 - h0 < 1e-9:
            return []
        slope = (r1 - r0) / (h1 - h0)
        rise, height = dot(direction, face.axis), dot(d, face.axis)
        start = r0 + slope * (height - h0)
        across = sub(direction, scale(face.axis, rise))
        away = sub(d, scale(face.axis, height))
        return _roots(
            dot(across, across) - (slope * rise) ** 2,
            dot(away, across) - start * slope * rise,
            dot(away, away) - start**2,
        )
    return []


def _roots(a: float, b: float, c: float) -> list[float]:
    """The real solutions of a t^2 + 2 b t + c = 0."""
    if abs(a) < 1e-12:
        return [-c / (2.0 * b)] if abs(b) > 1e-12 else []
    inside = b * b - a * c
    if inside < 0.0:
        return []
    root = math.sqrt(inside)
    return [(-b - root) / a, (-b + root) / a]

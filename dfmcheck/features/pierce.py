"""Where a line passes through faces: is there metal between two places of an axis?"""

import math
from itertools import pairwise

from dfmcheck.features.graph import Graph, normal_at
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face
from dfmcheck.model.vector import add, cross, dot, norm, perpendicular, scale, sub, unit

Flat = tuple[float, float]

CLOSED_MM = 1e-6
"""An edge whose ends are closer than this is closed."""


def blocked(graph: Graph, origin: Vec, direction: Vec, low: float, high: float) -> bool:
    """True if a face is met by the line between two places along it (mm from the origin).

    Planes and cylinders are looked at; cones, tori and freeform faces are taken as free.
    """
    for face in graph.faces:
        if face.surface == "plane":
            slope = dot(face.normal, direction)
            if abs(slope) < 1e-6:
                continue
            t = dot(sub(face.centroid, origin), face.normal) / slope
            if low < t < high and inside(graph, face, add(origin, scale(direction, t))):
                return True
        elif face.surface == "cylinder" and any(
            low < t < high for t in _through_cylinder(face, origin, direction)
        ):
            return True
    return False


def inside(graph: Graph, face: Face, p: Vec) -> bool:
    """True if a point of a plane face's carrier lies within its loops (even-odd rule)."""
    u = perpendicular(face.normal)
    v = cross(face.normal, u)
    at = (dot(p, u), dot(p, v))
    crossings = 0
    for loop in face.loops:
        for number in loop:
            line = [(dot(q, u), dot(q, v)) for q in polyline(graph.edges[number])]
            if math.dist(line[0], line[-1]) < CLOSED_MM:
                line[-1] = line[0]  # a gap of rounding size would let a line slip through
            crossings += sum(_crosses(a, b, at) for a, b in pairwise(line))
    return crossings % 2 == 1


def _crosses(a: Flat, b: Flat, p: Flat) -> bool:
    if (a[1] > p[1]) == (b[1] > p[1]):
        return False
    return p[0] < a[0] + (p[1] - a[1]) * (b[0] - a[0]) / (b[1] - a[1])


def polyline(edge: Edge, steps: int = 16) -> list[Vec]:
    """Points along an edge: arcs in `steps` pieces, other curves by start, middle and end."""
    if edge.curve == "line":
        return [edge.start, edge.end]
    if edge.centre is None or edge.axis is None or edge.radius_mm is None:
        return [edge.start, edge.middle, edge.end]
    first = sub(edge.start, edge.centre)
    second = cross(edge.axis, first)
    turn = edge.length_mm / edge.radius_mm
    half = add(scale(first, math.cos(turn / 2)), scale(second, math.sin(turn / 2)))
    if norm(sub(add(edge.centre, half), edge.middle)) > 0.5 * edge.radius_mm:
        turn = -turn
    return [
        add(
            edge.centre,
            add(
                scale(first, math.cos(turn * k / steps)), scale(second, math.sin(turn * k / steps))
            ),
        )
        for k in range(steps + 1)
    ]


def _through_cylinder(face: Face, origin: Vec, direction: Vec) -> list[float]:
    """Where a line meets the part of a cylinder that the face covers (its parameter box)."""
    return [
        t
        for t in meets_cylinder(face, origin, direction)
        if _covers(face, add(origin, scale(direction, t)))
    ]


def meets_cylinder(face: Face, origin: Vec, direction: Vec) -> list[float]:
    """Where a line meets a cylinder's carrier, in mm from the origin along the direction."""
    if face.axis is None or face.axis_point is None or face.radius_mm is None:
        return []
    d = sub(direction, scale(face.axis, dot(direction, face.axis)))
    o = sub(origin, face.axis_point)
    o = sub(o, scale(face.axis, dot(o, face.axis)))
    a, b, c = dot(d, d), dot(o, d), dot(o, o) - face.radius_mm**2
    if a < 1e-12 or b * b < a * c:
        return []
    root = math.sqrt(b * b - a * c)
    return [(-b - root) / a, (-b + root) / a]


def _covers(face: Face, p: Vec) -> bool:
    if face.axis is None or face.axis_point is None or face.along_mm is None:
        return False
    along = dot(sub(p, face.axis_point), face.axis)
    if not face.along_mm[0] <= along <= face.along_mm[1]:
        return False
    away = unit(normal_at(face, p))
    cosine = max(-1.0, min(1.0, dot(away, face.normal)))
    return math.degrees(math.acos(cosine)) <= (face.span_deg or 0.0) / 2

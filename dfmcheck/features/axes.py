"""Faces of revolution gathered by axis line, and how much of the turn they cover."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from dfmcheck.features.graph import AXIS_MM, Graph
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import add, cross, dot, parallel, perpendicular, scale, sub

_CELL_MM = 0.1


@dataclass
class Axis:
    """One axis line: the point nearest to the part's centroid, the direction, its faces."""

    origin: Vec
    direction: Vec
    faces: list[int] = field(default_factory=list)

    def along(self, p: Vec) -> float:
        """Place of a point along the axis, in mm from the origin."""
        return dot(sub(p, self.origin), self.direction)

    def away(self, p: Vec) -> float:
        """Distance of a point from the axis, in mm."""
        d = sub(p, self.origin)
        return math.sqrt(max(0.0, dot(d, d) - dot(d, self.direction) ** 2))

    def at(self, along: float) -> Vec:
        """The point of the axis at this place."""
        return add(self.origin, scale(self.direction, along))

    def limits(self, face: Face) -> tuple[float, float]:
        """Where a face of revolution about this axis begins and ends along it, in mm."""
        low, high = face.along_mm or (0.0, 0.0)
        if face.axis is None or face.axis_point is None:
            return 0.0, 0.0
        base = self.along(face.axis_point)
        if dot(face.axis, self.direction) < 0.0:
            low, high = -high, -low
        return base + low, base + high

    def radii(self, face: Face) -> tuple[float, float]:
        """Radii of a cylinder or cone at both its limits, in mm."""
        if face.radii_mm is None:
            r = face.radius_mm or 0.0
            return r, r
        a, b = face.radii_mm
        turned = face.axis is not None and dot(face.axis, self.direction) < 0.0
        return (b, a) if turned else (a, b)


def signed(direction: Vec, graph: Graph) -> Vec:
    """The direction or its opposite, chosen alike for all parallel lines of a part."""
    frame = graph.part.frame
    for unit in (frame.z, frame.y, frame.x):
        value = dot(direction, unit)
        if abs(value) > 1e-3:
            return direction if value > 0.0 else scale(direction, -1.0)
    return direction


def axes_of(graph: Graph, faces: Iterable[int]) -> list[Axis]:
    """The axis lines of the given cylinders, cones and tori, in the order of their first face."""
    found: list[Axis] = []
    cells: dict[tuple[int, int, int], list[Axis]] = {}
    middle = graph.part.centroid
    for number in faces:
        face = graph.faces[number]
        if face.axis is None or face.axis_point is None or face.surface in ("plane", "sphere"):
            continue
        shift = dot(sub(middle, face.axis_point), face.axis)
        foot = add(face.axis_point, scale(face.axis, shift))
        axis = _known(cells, foot, face.axis, graph)
        if axis is None:
            axis = Axis(foot, signed(face.axis, graph))
            found.append(axis)
            cells.setdefault(_cell(foot), []).append(axis)
        axis.faces.append(number)
    return found


def _cell(p: Vec) -> tuple[int, int, int]:
    return (
        math.floor(p[0] / _CELL_MM),
        math.floor(p[1] / _CELL_MM),
        math.floor(p[2] / _CELL_MM),
    )


def _known(
    cells: dict[tuple[int, int, int], list[Axis]], foot: Vec, direction: Vec, graph: Graph
) -> Axis | None:
    i, j, k = _cell(foot)
    reach = max(AXIS_MM, graph.tolerance_mm)
    for a in (i - 1, i, i + 1):
        for b in (j - 1, j, j + 1):
            for c in (k - 1, k, k + 1):
                for axis in cells.get((a, b, c), ()):
                    if parallel(axis.direction, direction) and axis.away(foot) < reach:
                        return axis
    return None


def turn_of(graph: Graph, axis: Axis, faces: Iterable[int]) -> float:
    """How many degrees of the turn about an axis the given faces of revolution cover together."""
    first = perpendicular(axis.direction)
    second = cross(axis.direction, first)
    spans: list[tuple[float, float]] = []
    for number in faces:
        face = graph.faces[number]
        span = face.span_deg or 0.0
        if span >= 359.0:
            return 360.0
        out = face.normal if face.bend == "outside" else scale(face.normal, -1.0)
        middle = math.degrees(math.atan2(dot(out, second), dot(out, first))) % 360.0
        spans.append((middle - span / 2, middle + span / 2))
    return covered(spans)


def covered(spans: Iterable[tuple[float, float]]) -> float:
    """Length of the union of angular intervals on a circle, in degrees."""
    pieces: list[tuple[float, float]] = []
    for low, high in spans:
        start = low % 360.0
        end = start + (high - low)
        if end > 360.0:
            pieces += [(start, 360.0), (0.0, end - 360.0)]
        else:
            pieces.append((start, end))
    total, reached = 0.0, 0.0
    for low, high in sorted(pieces):
        if high > reached:
            total += high - max(low, reached)
            reached = high
    return min(360.0, total)

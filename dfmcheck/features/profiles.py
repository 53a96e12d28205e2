"""The half profile about one axis: points (along the axis, radius) joined by coaxial faces."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from dfmcheck.features.axes import Axis
from dfmcheck.features.graph import Graph
from dfmcheck.model.facts import Edge, Face
from dfmcheck.model.vector import dot, parallel

Point = tuple[float, float]
"""(place along the axis, radius) in mm."""

GRID_MM = 0.004
"""Points closer than this are one."""


@dataclass
class Segment:
    """Faces of revolution between the same two circles (split faces merged).

    `points` are one or two places of the half profile; `normal` the outward normal of the
    material in (along, radial) at the middle of the first face.
    """

    faces: list[int]
    points: tuple[Point, ...]
    normal: tuple[float, float]
    surface: str
    bend: str

    def other(self, point: Point) -> Point | None:
        """The far end, or None where the segment has one end only."""
        if len(self.points) < 2:
            return None
        return self.points[1] if same(point, self.points[0]) else self.points[0]


@dataclass
class Profile:
    """All segments about one axis, findable by their end points."""

    axis: Axis
    segments: list[Segment] = field(default_factory=list)
    at: dict[tuple[int, int], list[Segment]] = field(default_factory=dict)

    def beyond(self, point: Point, segment: Segment) -> list[Segment]:
        """The other segments that meet at a point."""
        found: list[Segment] = []
        i, j = _cell(point)
        for a in (i - 1, i, i + 1):
            for b in (j - 1, j, j + 1):
                for s in self.at.get((a, b), ()):
                    touches = any(same(point, p) for p in s.points)
                    if s is not segment and s not in found and touches:
                        found.append(s)
        return found


def same(a: Point, b: Point) -> bool:
    """True for one and the same place of a profile."""
    return abs(a[0] - b[0]) < GRID_MM and abs(a[1] - b[1]) < GRID_MM


def profile_of(graph: Graph, axis: Axis) -> Profile:
    """The half profile of an axis: its faces of revolution and their neighbours square to it."""
    profile = Profile(axis)
    for number in _members(graph, axis):
        face = graph.faces[number]
        points = _ends(graph, axis, face)
        if not points:
            continue
        known = next(
            (s for s in profile.segments if _alike(s, points, face)),
            None,
        )
        if known is not None:
            known.faces.append(number)
            continue
        segment = Segment([number], points, _normal(graph, axis, face), face.surface, face.bend)
        profile.segments.append(segment)
        for p in points:
            profile.at.setdefault(_cell(p), []).append(segment)
    return profile


def _members(graph: Graph, axis: Axis) -> Iterator[int]:
    """Faces of revolution of the axis, then planes and spheres across its circles."""
    seen = set(axis.faces)
    yield from axis.faces
    for number in axis.faces:
        for link in graph.links[number]:
            other = graph.faces[link.other]
            if link.other in seen or not on_circle(axis, link.edge):
                continue
            if other.surface == "sphere" or (
                other.surface == "plane" and parallel(other.normal, axis.direction)
            ):
                seen.add(link.other)
                yield link.other


def on_circle(axis: Axis, edge: Edge) -> bool:
    """True for a circle, or an arc of one, about the axis."""
    return (
        edge.curve == "circle"
        and edge.centre is not None
        and edge.axis is not None
        and parallel(edge.axis, axis.direction)
        and axis.away(edge.centre) < 0.02
    )


def _ends(graph: Graph, axis: Axis, face: Face) -> tuple[Point, ...]:
    """The first and last point of a face in the half profile."""
    points: list[Point] = []
    for edge in _edges(graph, axis, face):
        if on_circle(axis, edge) and edge.radius_mm is not None:
            p = (axis.along(edge.middle), edge.radius_mm)
            if not any(same(p, q) for q in points):
                points.append(p)
    if len(points) <= 2:
        return tuple(sorted(points))
    by = 1 if face.surface == "plane" else 0
    points.sort(key=lambda p: (p[by], p[1 - by]))
    return (points[0], points[-1])


def _edges(graph: Graph, axis: Axis, face: Face) -> list[Edge]:
    """The edges of a face that may run about an axis; of a drilled plate only a few."""
    if face.surface == "plane":
        return graph.circles_near(face, axis.at(axis.along(face.centroid)))
    return [graph.edges[number] for loop in face.loops for number in loop]


def _alike(segment: Segment, points: tuple[Point, ...], face: Face) -> bool:
    return (
        segment.surface == face.surface
        and segment.bend == face.bend
        and len(points) == len(segment.points)
        and all(same(a, b) for a, b in zip(points, segment.points, strict=True))
    )


def _normal(graph: Graph, axis: Axis, face: Face) -> tuple[float, float]:
    along = dot(face.normal, axis.direction)
    if face.surface == "plane":
        return (1.0 if along > 0.0 else -1.0, 0.0)
    radial = math.sqrt(max(0.0, 1.0 - along * along))
    return (along, radial * _leads_out(graph, axis, face))


def _leads_out(graph: Graph, axis: Axis, face: Face) -> float:
    """+1 where a face's normal leads away from the axis in its middle, else -1."""
    side = 1.0 if face.bend == "outside" else -1.0
    if face.surface != "torus" or face.radius_mm is None:
        return side
    middle = middle_radius(graph, axis, face)
    return side if middle >= face.radius_mm else -side


def middle_radius(graph: Graph, axis: Axis, face: Face) -> float:
    """Radius in the middle of a face of revolution, from an edge that runs across it."""
    across = [graph.edges[e] for loop in face.loops for e in loop]
    radii = [axis.away(e.middle) for e in across if not on_circle(axis, e) and e.length_mm > 0.0]
    if radii:
        return radii[0]
    return axis.away(face.centroid)


def _cell(p: Point) -> tuple[int, int]:
    return (math.floor(p[0] / GRID_MM), math.floor(p[1] / GRID_MM))

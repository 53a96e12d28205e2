"""The faces of a part as a graph: neighbours, convexity, faces on the same carrier."""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face, PartFacts
from dfmcheck.model.vector import add, dot, from_axis, norm, parallel, scale, sub, unit

LENGTH_MM = 0.005
"""Lengths closer than this are the same; exports of the same part differ by about 0.001 mm."""

AXIS_MM = 0.02
"""Axes closer than this over a part are the same line."""

SIZE_RATIO = 1e-4
"""Relative tolerance beside `LENGTH_MM`, for large parts."""


@dataclass(frozen=True, slots=True)
class Link:
    """One edge seen from one of its faces: the neighbour across it."""

    edge: Edge
    other: int


class Graph:
    """Adjacency of the faces of one part.

    `links[f]` are the links of face f (seams and open edges left out), in the order of its loops.
    """

    def __init__(self, part: PartFacts) -> None:
        """Index the edges of a part by face."""
        self.part = part
        self.faces: tuple[Face, ...] = part.faces
        self.edges: tuple[Edge, ...] = part.edges
        self._spans: dict[tuple[int, Vec], tuple[float, float]] = {}
        self._circles: dict[int, dict[tuple[int, int, int], list[Edge]]] = {}
        links: list[list[Link]] = [[] for _ in part.faces]
        for face in part.faces:
            for loop in face.loops:
                for number in loop:
                    edge = part.edges[number]
                    if len(edge.faces) == 2 and edge.faces[0] != edge.faces[1]:
                        a, b = edge.faces
                        links[face.index].append(Link(edge, b if a == face.index else a))
        self.links: tuple[tuple[Link, ...], ...] = tuple(tuple(x) for x in links)

    def neighbours(self, face: int, *kinds: str) -> set[int]:
        """Faces across edges of these convexities (all where none is named)."""
        return {k.other for k in self.links[face] if not kinds or k.edge.convexity in kinds}

    def between(self, a: int, b: int) -> list[Edge]:
        """The edges that two faces share."""
        return [k.edge for k in self.links[a] if k.other == b]

    def components(
        self, faces: Iterable[int], joined: Callable[[int, Link], bool]
    ) -> Iterator[tuple[int, ...]]:
        """Connected sets of the given faces, in order of their lowest face.

        Args:
            faces: the faces to partition.
            joined: whether face and neighbour across this link belong together.
        """
        left = sorted(set(faces))
        inside = set(left)
        done: set[int] = set()
        for first in left:
            if first in done:
                continue
            done.add(first)
            found, queue = [first], [first]
            while queue:
                f = queue.pop()
                for link in self.links[f]:
                    o = link.other
                    if o in inside and o not in done and joined(f, link):
                        done.add(o)
                        found.append(o)
                        queue.append(o)
            yield tuple(sorted(found))

    @cached_property
    def tolerance_mm(self) -> float:
        """Length below which two places are the same on this part."""
        return max(LENGTH_MM, SIZE_RATIO * 0.1 * math.dist((0, 0, 0), self.part.box_mm))

    def coaxial(self, a: Face, b: Face, degrees: float = 0.1) -> bool:
        """True where both faces have an axis and it is the same line."""
        if a.axis is None or b.axis is None or a.axis_point is None or b.axis_point is None:
            return False
        if not parallel(a.axis, b.axis, degrees):
            return False
        return from_axis(b.axis_point, a.axis_point, a.axis)[1] < max(AXIS_MM, self.tolerance_mm)

    def same_size(self, a: float, b: float) -> bool:
        """True where two lengths are the same within the tolerance of this part."""
        return abs(a - b) <= max(LENGTH_MM, SIZE_RATIO * max(abs(a), abs(b)))

    def offset(self, face: Face) -> float:
        """Distance of a plane face from the origin along its outward normal, in mm."""
        return dot(face.normal, face.centroid)

    def grain(self, face: Face) -> Vec:
        """A direction in a plane face: its longest straight edge, else an axis of the frame."""
        best: tuple[float, int] | None = None
        for loop in face.loops:
            for number in loop:
                edge = self.edges[number]
                rank = (round(edge.length_mm, 3), -number)
                if straight(edge) and (best is None or rank > best):
                    best = rank
        if best is not None:
            edge = self.edges[-best[1]]
            return unit(sub(edge.end, edge.start))
        return self.square_to(face.normal)

    def square_to(self, direction: Vec) -> Vec:
        """A direction square to another one, alike however the part lies in its file."""
        frame = self.part.frame
        axis = min((frame.x, frame.y, frame.z), key=lambda a: round(abs(dot(a, direction)), 3))
        return unit(sub(axis, scale(direction, dot(axis, direction))))

    def circles_near(self, face: Face, place: Vec) -> list[Edge]:
        """The circles and arcs of a face whose centres lie within about 0.1 mm of a place."""
        known = self._circles.get(face.index)
        if known is None:
            known = self._circles[face.index] = {}
            for number in (e for loop in face.loops for e in loop):
                centre = self.edges[number].centre
                if centre is not None:
                    known.setdefault(_cell(centre), []).append(self.edges[number])
        i, j, k = _cell(place)
        near = (
            known.get((a, b, c), ())
            for a in (i - 1, i, i + 1)
            for b in (j - 1, j, j + 1)
            for c in (k - 1, k, k + 1)
        )
        return [e for cell in near for e in cell]

    def island_loops(self, face: Face) -> list[tuple[int, ...]]:
        """The inner loops of a plane face from which metal rises all round."""
        if face.surface != "plane":
            return []
        return [
            loop
            for loop in face.loops[1:]
            if all(self.edges[e].convexity in ("concave", "tangent") for e in loop)
        ]

    def span_along(self, face: Face, direction: Vec) -> tuple[float, float]:
        """Least and greatest coordinate of a face's edges along a direction, in mm.

        Arcs count with their middle; a full circle with its whole extent.
        """
        key = (face.index, direction)
        known = self._spans.get(key)
        if known is None:
            known = self._spans[key] = self._span(face, direction)
        return known

    def _span(self, face: Face, direction: Vec) -> tuple[float, float]:
        low, high = self._boxed(face, direction) or (math.inf, -math.inf)
        for loop in face.loops:
            for number in loop:
                for value in _reach(self.edges[number], direction):
                    low, high = min(low, value), max(high, value)
        if low > high:
            value = dot(face.centroid, direction)
            return value, value
        return low, high

    def _boxed(self, face: Face, direction: Vec) -> tuple[float, float] | None:
        """Limits along an axis of the frame for a face drawn out of a closed free curve."""
        if face.swept != "extruded" or not any(_is_free_ring(self.edges[e]) for x in face.loops
                                               for e in x):  # fmt: skip
            return None
        frame = self.part.frame
        for k, axis in enumerate((frame.x, frame.y, frame.z)):
            if parallel(axis, direction):
                low, high = face.low_mm[k], face.high_mm[k]
                return (low, high) if dot(axis, direction) > 0.0 else (-high, -low)
        return None


def _cell(p: Vec) -> tuple[int, int, int]:
    return (math.floor(p[0] * 10.0), math.floor(p[1] * 10.0), math.floor(p[2] * 10.0))


def _is_free_ring(edge: Edge) -> bool:
    return edge.curve in ("ellipse", "other") and math.dist(edge.start, edge.end) < 1e-6


def straight(edge: Edge) -> bool:
    """True for a straight edge, whatever curve carries it."""
    if edge.curve != "other":
        return edge.curve == "line"
    chord = math.dist(edge.start, edge.end)
    return chord > 1e-6 and edge.length_mm - chord < 1e-5 * chord


def normal_at(face: Face, p: Vec) -> Vec:
    """Outward normal of a face's carrier near a point; the middle's for freeform faces."""
    if face.surface in ("plane", "freeform") or face.axis is None or face.axis_point is None:
        return face.normal
    sign = 1.0 if face.bend == "outside" else -1.0
    d = sub(p, face.axis_point)
    if face.surface == "sphere":
        return scale(unit(d), sign)
    away = unit(sub(d, scale(face.axis, dot(d, face.axis))))
    if norm(away) == 0.0:
        return face.normal
    if face.surface == "cylinder":
        return scale(away, sign)
    if face.surface == "torus":
        return scale(unit(sub(d, scale(away, face.radius_mm or 0.0))), sign)
    half = math.radians(face.half_angle_deg or 0.0)
    widens = 1.0 if face.radii_mm is None or face.radii_mm[1] >= face.radii_mm[0] else -1.0
    n = add(scale(away, math.cos(half)), scale(face.axis, -widens * math.sin(half)))
    return scale(n, sign)


def _reach(edge: Edge, direction: Vec) -> tuple[float, ...]:
    ends = (dot(edge.start, direction), dot(edge.middle, direction), dot(edge.end, direction))
    if edge.centre is None or edge.axis is None or edge.radius_mm is None:
        return ends
    if math.dist(edge.start, edge.end) > 1e-6:
        return ends
    across = math.sqrt(max(0.0, 1.0 - dot(edge.axis, direction) ** 2))
    middle = dot(edge.centre, direction)
    return (middle - edge.radius_mm * across, middle + edge.radius_mm * across)

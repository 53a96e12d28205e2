"""The pieces of a bore: faces of one carrier about an axis that touch along it."""

from dataclasses import dataclass
from typing import Literal

from dfmcheck.features.axes import Axis, turn_of
from dfmcheck.features.graph import Graph, straight
from dfmcheck.model.facts import Edge, Face
from dfmcheck.model.vector import parallel

Shape = Literal["cylinder", "cone", "torus", "sphere", "shoulder"]


@dataclass
class Piece:
    """One element of a bore between two places on the axis, with the radii there."""

    shape: Shape
    faces: tuple[int, ...]
    low: float
    high: float
    r_low: float
    r_high: float
    turn_deg: float = 360.0


class Pieces:
    """Gathers the faces of revolution of one axis into pieces."""

    def __init__(self, graph: Graph, axis: Axis) -> None:
        """Look at the faces that the axis lists."""
        self.graph = graph
        self.axis = axis

    def pieces(self) -> list[Piece]:
        """Faces of one carrier that touch along the axis, as one piece each."""
        groups: list[list[int]] = []
        order = sorted(self.axis.faces, key=lambda f: self.axis.limits(self.graph.faces[f]))
        for number in order:
            face = self.graph.faces[number]
            for group in groups:
                if self._continues(group, face):
                    group.append(number)
                    break
            else:
                groups.append([number])
        return [self._piece(g) for g in groups]

    def _continues(self, group: list[int], face: Face) -> bool:
        first = self.graph.faces[group[0]]
        if first.surface != face.surface:
            return False
        low, high = self.axis.limits(face)
        lows, highs = zip(*(self.axis.limits(self.graph.faces[f]) for f in group), strict=True)
        if low > max(highs) + self.graph.tolerance_mm or high < min(lows):
            return False
        same = self.graph.same_size
        if face.surface == "cylinder":
            return same(first.radius_mm or 0.0, face.radius_mm or 0.0)
        if face.surface == "torus":
            return same(first.radius_mm or 0.0, face.radius_mm or 0.0) and same(
                first.minor_radius_mm or 0.0, face.minor_radius_mm or 0.0
            )
        return same(self._apex(first), self._apex(face))

    def _apex(self, cone: Face) -> float:
        low, high = self.axis.limits(cone)
        a, b = self.axis.radii(cone)
        return low - a * (high - low) / (b - a) if abs(b - a) > 1e-9 else low

    def _piece(self, group: list[int]) -> Piece:
        faces = [self.graph.faces[f] for f in group]
        limits = [self.axis.limits(f) for f in faces]
        low, high = min(x[0] for x in limits), max(x[1] for x in limits)
        kind = faces[0].surface
        if kind == "cone":
            rows = [(z, r) for f in faces for z, r in zip(
                self.axis.limits(f), self.axis.radii(f), strict=True)]  # fmt: skip
            r_low, r_high = min(rows)[1], max(rows)[1]
        elif kind == "torus":
            r_low, r_high = self._torus_radii(faces[0], low, high)
        else:
            r_low = r_high = faces[0].radius_mm or 0.0
        shape: Shape = "cone" if kind == "cone" else "torus" if kind == "torus" else "cylinder"
        turn = turn_of(self.graph, self.axis, group)
        return Piece(shape, tuple(sorted(group)), low, high, r_low, r_high, turn)

    def _torus_radii(self, face: Face, low: float, high: float) -> tuple[float, float]:
        rows = [
            (self.axis.along(e.centre), e.radius_mm)
            for loop in face.loops
            for e in (self.graph.edges[k] for k in loop)
            if e.centre is not None
            and e.radius_mm is not None
            and round_about(self.graph, self.axis, e)
        ]
        if not rows:
            r = face.radius_mm or 0.0
            return r, r
        return min(rows, key=lambda x: abs(x[0] - low))[1], min(
            rows, key=lambda x: abs(x[0] - high)
        )[1]


def round_about(graph: Graph, axis: Axis, edge: Edge) -> bool:
    """True for an arc about an axis."""
    return (
        edge.centre is not None
        and edge.axis is not None
        and parallel(edge.axis, axis.direction)
        and axis.away(edge.centre) < graph.tolerance_mm * 2
    )


def parallel_edge(edge: Edge, axis: Axis) -> bool:
    """True for a straight edge along the axis."""
    if not straight(edge):
        return False
    a, b = axis.along(edge.start), axis.along(edge.end)
    return abs(abs(a - b) - edge.length_mm) < 1e-3 * max(edge.length_mm, 1e-3)

"""Bores: round hollows about one axis, as a stack of cylinders, cones and shoulders.

A bore is grown from its full cylinders outwards over coaxial faces. What the stack means
(which part is the hole, which a counterbore) is decided in `holes`.
"""

import math
from dataclasses import dataclass, field
from typing import Literal

from dfmcheck.features.axes import Axis, axes_of
from dfmcheck.features.context import Context
from dfmcheck.features.graph import Graph, Link
from dfmcheck.features.pieces import Piece, Pieces, parallel_edge, round_about
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face
from dfmcheck.model.vector import dot, parallel, sub

End = Literal["open", "flat", "cone", "round", "other"]

FULL_DEG = 330.0
"""A cylinder that covers this much of the turn is round, whatever lies beside it."""

PART_DEG = 60.0
"""An arc of less than half a turn was bored if other cuts took the rest, from this on."""

FLOOR_RATIO = 0.1
"""A floor along this share of a bore's end closes it, though other cuts have opened the rest."""

MORE_THAN_HALF_DEG = 181.0
"""An arc of more than half a turn, not drawn out into planes at its sides, was bored."""


@dataclass
class Bore:
    """A stack of pieces in their order along the axis, and how it ends on both sides."""

    axis: Axis
    pieces: list[Piece]
    low_end: End = "open"
    high_end: End = "open"
    low_faces: tuple[int, ...] = ()
    high_faces: tuple[int, ...] = ()
    broken: bool = False
    gaps: list[tuple[float, float]] = field(default_factory=list)

    @property
    def low(self) -> float:
        """Where the bore begins along its axis."""
        return min(p.low for p in self.pieces)

    @property
    def high(self) -> float:
        """Where the bore ends along its axis."""
        return max(p.high for p in self.pieces)


def bores(context: Context) -> list[Bore]:
    """All bores of a part that no feature owns yet, in the order of their axes."""
    graph = context.graph
    free = [f.index for f in context.faces if context.free(f.index) and _hollow(f)]
    found: list[Bore] = []
    for axis in axes_of(graph, free):
        found.extend(_Grower(context, axis).grow())
    return found


def _hollow(face: Face) -> bool:
    return face.bend == "inside" and face.surface in ("cylinder", "cone", "torus")


class _Grower:
    """Grows the bores of one axis."""

    def __init__(self, context: Context, axis: Axis) -> None:
        self.context = context
        self.graph: Graph = context.graph
        self.axis = axis
        self.mine = set(axis.faces)
        self.pieces = Pieces(context.graph, axis).pieces()
        self.piece_of = {f: p for p in self.pieces for f in p.faces}

    def grow(self) -> list[Bore]:
        found: list[Bore] = []
        used: set[int] = set()
        for seed in self.pieces:
            if seed.faces[0] in used or not self._seeds(seed):
                continue
            bore = Bore(self.axis, [seed])
            self._walk(bore, up=True, used=used)
            self._walk(bore, up=False, used=used)
            for p in bore.pieces:
                used.update(p.faces)
            bore.broken = self._is_broken(bore)
            if not self._round_a_post(bore):
                found.append(bore)
        return found

    def _round_a_post(self, bore: Bore) -> bool:
        """Metal left standing on the floor: milled round it, not drilled."""
        ends = ((bore.low_end, bore.low_faces), (bore.high_end, bore.high_faces))
        return any(
            end == "flat" and any(self.graph.island_loops(self.graph.faces[f]) for f in faces)
            for end, faces in ends
        )

    def _about(self, edge: Edge) -> bool:
        return round_about(self.graph, self.axis, edge)

    def _seeds(self, piece: Piece) -> bool:
        if piece.shape != "cylinder":
            return piece.shape == "cone" and piece.turn_deg >= FULL_DEG and self._lone_cone(piece)
        if piece.turn_deg >= FULL_DEG:
            return True
        bored = piece.turn_deg >= MORE_THAN_HALF_DEG or self._has_tip(piece)
        if not bored and piece.turn_deg >= PART_DEG:
            bored = self._broken_into(piece)
        return bored and not self._drawn_out(piece)

    def _broken_into(self, piece: Piece) -> bool:
        """Other cuts, not the outside of the part, have taken the rest of the turn away."""
        sides = [
            k
            for f in piece.faces
            for k in self.graph.links[f]
            if k.other not in piece.faces and parallel_edge(k.edge, self.axis)
        ]
        return bool(sides) and all(
            k.edge.convexity == "convex" and self._is_cut(k.other) for k in sides
        )

    def _is_cut(self, number: int) -> bool:
        face = self.graph.faces[number]
        return face.bend == "inside" or bool(self.graph.neighbours(number, "concave"))

    def _has_tip(self, piece: Piece) -> bool:
        """A drill's tip closes the cylinder at one end."""
        near = {k.other for f in piece.faces for k in self.graph.links[f]}
        tips = (self.piece_of[n] for n in near if n in self.piece_of)
        return any(
            t.shape == "cone"
            and min(t.r_low, t.r_high) < 0.02 * piece.r_low
            and self.graph.same_size(max(t.r_low, t.r_high), piece.r_low)
            for t in tips
        )

    def _lone_cone(self, piece: Piece) -> bool:
        """A tapered hole or a bare countersink: no cylinder of this axis touches the cone."""
        near = {k.other for f in piece.faces for k in self.graph.links[f]}
        return not any(
            n in self.mine and self.graph.faces[n].surface == "cylinder" for n in near
        ) and not any(self.graph.faces[n].bend == "outside" for n in near)

    def _drawn_out(self, piece: Piece) -> bool:
        """The arc runs tangent into a plane at its side: an end of a slot, a corner."""
        return any(
            k.edge.convexity == "tangent"
            and parallel_edge(k.edge, self.axis)
            and k.other not in piece.faces
            for f in piece.faces
            for k in self.graph.links[f]
        )

    def _walk(self, bore: Bore, *, up: bool, used: set[int]) -> None:
        """Add pieces beyond the outermost one until the bore opens or is closed."""
        piece = bore.pieces[-1 if up else 0]
        seen = {f for p in bore.pieces for f in p.faces}
        while True:
            rim = self._rim(piece, up)
            step = self._next(piece, rim, up, seen | used)
            if not step:
                end, faces = self._ending(rim, piece)
                if end == "open":
                    faces = self._past_rounding(bore, faces, up)
                if up:
                    bore.high_end, bore.high_faces = end, faces
                else:
                    bore.low_end, bore.low_faces = end, faces
                return
            for p in step:
                seen.update(p.faces)
                bore.pieces.insert(len(bore.pieces) if up else 0, p)
            piece = step[-1]

    def _past_rounding(self, bore: Bore, faces: tuple[int, ...], up: bool) -> tuple[int, ...]:
        """Where the mouth's edge is rounded: the faces beyond, with the round as a bare piece."""
        rounds = [self.graph.faces[f] for f in faces]
        if not rounds or any(
            r.surface != "torus"
            or r.bend != "outside"
            or r.axis_point is None
            or self.axis.away(r.axis_point) > self.graph.tolerance_mm * 2
            for r in rounds
        ):
            return faces
        limits = [self.axis.limits(r) for r in rounds]
        low, high = min(x[0] for x in limits), max(x[1] for x in limits)
        outer = rounds[0].radius_mm or 0.0
        edge = outer - (rounds[0].minor_radius_mm or 0.0)
        near, far = (edge, outer) if up else (outer, edge)
        bore.pieces.insert(len(bore.pieces) if up else 0, Piece("torus", (), low, high, near, far))
        own = {f for p in bore.pieces for f in p.faces} | set(faces)
        return tuple(sorted({n for f in faces for n in self.graph.neighbours(f)} - own))

    def _rim(self, piece: Piece, up: bool) -> list[tuple[int, Link]]:
        """The edges at one end of a piece, each with the face of the piece it bounds."""
        at = piece.high if up else piece.low
        found: list[tuple[int, Link]] = []
        for f in piece.faces:
            for k in self.graph.links[f]:
                if k.other in piece.faces:
                    continue
                if parallel_edge(k.edge, self.axis):
                    continue
                if self._bounds(f, k.edge, piece, at, up):
                    found.append((f, k))
        return found

    def _bounds(self, number: int, edge: Edge, piece: Piece, at: float, up: bool) -> bool:
        """True for an edge of the rim at one end, square or slanting."""
        tolerance = self.graph.tolerance_mm * 2
        places = [self.axis.along(p) for p in (edge.start, edge.middle, edge.end)]
        if self._about(edge):
            return abs(places[1] - at) <= tolerance
        if any(abs(z - at) <= tolerance for z in places):
            return True
        if edge.curve not in ("ellipse", "other"):
            return False
        if self._beside(self.graph.faces[number], edge):
            return False
        if math.dist(edge.start, edge.end) < tolerance:
            return self._upper(self.graph.faces[number], edge, piece) == up
        third = (piece.high - piece.low) / 3
        return max(places) > piece.high - third if up else min(places) < piece.low + third

    def _upper(self, face: Face, edge: Edge, piece: Piece) -> bool:
        """Whether a slanting closed rim is the upper one of its face."""
        own = self.axis.along(edge.start) + self.axis.along(edge.middle)
        for loop in face.loops:
            for k in loop:
                e = self.graph.edges[k]
                closed = math.dist(e.start, e.end) < 1e-6 and e.length_mm > 0.0
                if k != edge.index and closed and not self._beside(face, e):
                    return own > self.axis.along(e.start) + self.axis.along(e.middle)
        return own > piece.low + piece.high

    def _beside(self, face: Face, edge: Edge) -> bool:
        """True for the edge of another hole in the wall: its loop does not run about the axis."""
        loop = next(x for x in face.loops if edge.index in x)
        seamed = any(self.graph.edges[k].convexity == "seam" for other in face.loops for k in other)
        if seamed or (face.span_deg or 0.0) < FULL_DEG:
            return loop is not face.loops[0]
        return len(loop) == 1 and dot(self._out(edge.start), self._out(edge.middle)) > 0.0

    def _out(self, p: Vec) -> Vec:
        return sub(p, self.axis.at(self.axis.along(p)))

    def _next(
        self, piece: Piece, rim: list[tuple[int, Link]], up: bool, seen: set[int]
    ) -> list[Piece]:
        for _, link in rim:
            other = self.piece_of.get(link.other)
            if other is not None and link.other not in seen and self._beyond(other, piece, up):
                return [other]
        for _, link in rim:
            face = self.graph.faces[link.other]
            if link.other in seen or not self._square(face) or not self.context.free(face.index):
                continue
            across = self._across_shoulder(face, link, piece, up, seen)
            if across is not None:
                return across
        return []

    def _beyond(self, other: Piece, piece: Piece, up: bool) -> bool:
        middle = (piece.low + piece.high) / 2
        return (
            (other.low + other.high) / 2 > middle if up else (other.low + other.high) / 2 < middle
        )

    def _square(self, face: Face) -> bool:
        return face.surface == "plane" and parallel(face.normal, self.axis.direction)

    def _across_shoulder(
        self, face: Face, link: Link, piece: Piece, up: bool, seen: set[int]
    ) -> list[Piece] | None:
        """The shoulder and the coaxial piece on its other rim, narrower or wider."""
        wanted = "convex" if link.edge.convexity in ("concave", "tangent") else "concave"
        place = self.axis.along(face.centroid)
        for k in self.graph.links[face.index]:
            other = self.piece_of.get(k.other)
            if other is None or k.other in seen or other is piece or not self._about(k.edge):
                continue
            joins = k.edge.convexity == wanted or (
                wanted == "concave" and k.edge.convexity == "tangent" and other.shape == "torus"
            )
            if joins and self._beyond(other, piece, up):
                near = other.r_low if up else other.r_high
                ends = piece.r_high if up else piece.r_low
                first, last = (ends, near) if up else (near, ends)
                return [Piece("shoulder", (face.index,), place, place, first, last), other]
        return None

    def _ending(self, rim: list[tuple[int, Link]], piece: Piece) -> tuple[End, tuple[int, ...]]:
        """How the bore ends at a rim, and the faces there."""
        tip = min(piece.r_low, piece.r_high)
        if (
            piece.shape == "cone"
            and tip < 0.02 * max(piece.r_low, piece.r_high)
            and not any((k.edge.radius_mm or 0.0) > 2.0 * tip for _, k in rim)
        ):
            return "cone", ()
        lengths: dict[End, float] = {}
        faces: dict[End, list[int]] = {}
        for _, link in rim:
            end = self._end_at(link)
            lengths[end] = lengths.get(end, 0.0) + link.edge.length_mm
            faces.setdefault(end, []).append(link.other)
        if not lengths:
            return ("cone" if piece.shape == "cone" else "other"), ()
        closed: dict[End, float] = {e: n for e, n in lengths.items() if e in ("flat", "round")}
        if not closed or sum(closed.values()) < FLOOR_RATIO * sum(lengths.values()):
            closed = lengths  # nothing of a floor, or a trace of something else
        longest = max(closed.values())
        end = max(e for e, n in closed.items() if n == longest)
        return end, tuple(sorted(set(faces[end])))

    def _end_at(self, link: Link) -> End:
        face = self.graph.faces[link.other]
        if link.edge.convexity == "convex":
            return "open"
        if face.surface == "sphere":
            return "round"
        if link.edge.convexity == "tangent" and face.surface != "plane":
            return "open" if face.bend == "outside" else "other"
        return "flat" if self._square(face) else "other"

    def _is_broken(self, bore: Bore) -> bool:
        """True where the wall is cut by something that is not part of the bore."""
        own = {f for p in bore.pieces for f in p.faces}
        ends = set(bore.low_faces) | set(bore.high_faces)
        for p in bore.pieces:
            if p.shape == "shoulder":
                continue
            if p.turn_deg < FULL_DEG and p.shape == "cylinder":
                return True
            rims = {k.edge.index for _, k in self._rim(p, True) + self._rim(p, False)}
            for f in p.faces:
                for k in self.graph.links[f]:
                    if k.edge.index not in rims and k.other not in own and k.other not in ends:
                        return True
        return False

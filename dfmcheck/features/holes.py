"""Holes with their counterbores and countersinks, read from the bores of a part."""

import math
from collections.abc import Iterable
from dataclasses import replace

import msgspec

from dfmcheck.features.bores import Bore, End, bores
from dfmcheck.features.context import Context
from dfmcheck.features.graph import Graph
from dfmcheck.features.mouths import crossing_mm, opened, slant_deg
from dfmcheck.features.pieces import Piece
from dfmcheck.features.pierce import blocked
from dfmcheck.features.reliefs import over_relief
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.feature import Bottom, Counterbore, Countersink, Feature, Hole, HoleForm
from dfmcheck.model.vector import parallel, scale

COUNTERSINK_RATIO = 1.3
"""A cone that widens a hole less than this is a chamfered edge. DIN 74 and ISO 10642 heads
need about twice the hole; an edge break stays below a tenth each side (common practice, no
source)."""

COUNTERBORE_RATIO = 3.5
"""A shoulder wider than this is no seat for a head or washer but a hollow of its own
(common practice, no source)."""


def find_holes(context: Context) -> list[Feature]:
    """Holes, counterbores and countersinks.

    Coaxial bores of one diameter that face each other over a free gap are one hole.
    """
    found: list[Feature] = []
    for bore in _joined(context, _parted(bores(context))):
        found.extend(_Reading(context, bore).features())
    return [_with_seats(context, f) for f in found]


def _with_seats(context: Context, feature: Feature) -> Feature:
    """Add plane faces that meet nothing but this feature in inside edges: cut-up floors."""
    graph = context.graph
    own = set(feature.faces)
    for f in feature.faces:
        for k in graph.links[f]:
            seat = graph.faces[k.other]
            if (
                k.edge.convexity == "concave"
                and seat.surface == "plane"
                and k.other not in own
                and context.free(k.other)
                and parallel(seat.normal, feature.direction)
                and graph.neighbours(k.other, "concave") <= set(feature.faces)
            ):
                own.add(k.other)
    if len(own) == len(feature.faces):
        return feature
    return msgspec.structs.replace(feature, faces=tuple(sorted(own)))


def _parted(found: Iterable[Bore]) -> list[Bore]:
    """Cut the stacks at shoulders too wide to be a counterbore."""
    result: list[Bore] = []
    for bore in found:
        rest = bore
        for k, piece in enumerate(bore.pieces):
            if piece.shape != "shoulder":
                continue
            narrow = min(piece.r_low, piece.r_high)
            if max(piece.r_low, piece.r_high) <= COUNTERBORE_RATIO * narrow:
                continue
            cut = len(rest.pieces) - (len(bore.pieces) - k)
            below, above = rest.pieces[:cut], rest.pieces[cut + 1 :]
            open_below = piece.r_low < piece.r_high
            result.append(
                replace(
                    rest, pieces=below, high_end="open" if open_below else "flat",
                    high_faces=piece.faces,
                )
            )  # fmt: skip
            rest = replace(
                rest, pieces=above, low_end="flat" if open_below else "open", low_faces=piece.faces
            )
        result.append(rest)
    return result


def _joined(context: Context, found: list[Bore]) -> list[Bore]:
    """Join bores of one axis across gaps that hold no metal, and over the groove of a seat."""
    graph = context.graph
    result: list[Bore] = []
    by_axis: dict[int, list[Bore]] = {}
    for bore in found:
        by_axis.setdefault(id(bore.axis), []).append(bore)
    for group in by_axis.values():
        group.sort(key=lambda b: (b.low + b.high) / 2)
        last = group[0]
        for bore in group[1:]:
            seated = over_relief(context, last, bore, COUNTERBORE_RATIO)
            if seated is not None:
                last = seated
            elif _continues(graph, last, bore):
                last.gaps.append((last.high, bore.low))
                last = replace(
                    last, pieces=last.pieces + bore.pieces, high_end=bore.high_end,
                    high_faces=bore.high_faces, broken=True, gaps=last.gaps + bore.gaps,
                )  # fmt: skip
            else:
                result.append(last)
                last = bore
        result.append(last)
    return result


def _continues(graph: Graph, a: Bore, b: Bore) -> bool:
    if a.high_end != "open" or b.low_end != "open" or _narrow(a) is None or _narrow(b) is None:
        return False
    if not graph.same_size(_narrow(a) or 0.0, _narrow(b) or 0.0):
        return False
    low, high = a.high, b.low
    if high - low <= graph.tolerance_mm:
        return True
    rim = 1e-3 * (high - low)
    return not blocked(graph, a.axis.origin, a.axis.direction, low - rim, high + rim)


def _narrow(bore: Bore) -> float | None:
    radii = [p.r_low for p in bore.pieces if p.shape == "cylinder"]
    return min(radii) if radii else None


class _Reading:
    """Reads one bore, turned so that the cutter comes from its high end."""

    def __init__(self, context: Context, bore: Bore) -> None:
        self.context = context
        self.graph = context.graph
        self.bore = bore
        self.up = self._enters_high()
        pieces = list(bore.pieces) if self.up else [_turned(p) for p in reversed(bore.pieces)]
        self.pieces = pieces
        self.sign = 1.0 if self.up else -1.0
        self.direction: Vec = scale(bore.axis.direction, self.sign)

    def features(self) -> list[Feature]:
        narrow = _narrow(self.bore)
        if narrow is None:
            return self._cone_only()
        mine = [
            k
            for k, p in enumerate(self.pieces)
            if p.shape == "cylinder" and self.graph.same_size(p.r_low, narrow)
        ]
        hole = self.context.new_id("hole")
        first, last = mine[0], mine[-1]
        faces = {f for p in self.pieces[first : last + 1] for f in p.faces}
        above, sinks = self._mouth(self.pieces[last + 1 :], narrow, hole, faces, up=True)
        below, more = self._mouth(
            [_turned(p) for p in reversed(self.pieces[:first])], narrow, hole, faces, up=False
        )
        parts = above + below
        steps = len(parts) + sinks + more
        entry, exit_ = self._end(True), self._end(False)
        mouth, far = self._axis_ends()
        low = self.pieces[first].low if first > 0 else far
        high = self.pieces[last].high if last < len(self.pieces) - 1 else mouth
        bottom, angle = self._bottom(exit_[0], self.pieces[:first])
        through = exit_[0] == "open" and entry[0] == "open" and bottom != "cone"
        faces |= self._floor(exit_, faces)
        head = Hole(
            id=hole,
            faces=tuple(sorted(faces)),
            place=self._at(mouth),
            direction=self.direction,
            diameter_mm=2.0 * narrow,
            depth_mm=high - low,
            reach_mm=mouth - low,
            through=through,
            form=_form(above, below, steps),
            bottom="none" if through else bottom,
            bottom_angle_deg=None if through else angle,
            entry_slant_deg=self._slant(entry, self.pieces[-1].high),
            exit_slant_deg=self._slant(exit_, self.pieces[0].low) if through else 0.0,
            interrupted=self.bore.broken,
            tilted=self._tilted(),
        )
        return [head, *parts]

    def _at(self, along: float) -> Vec:
        return self.bore.axis.at(along * self.sign)

    def _end(self, high: bool) -> tuple[End, tuple[int, ...]]:
        if high == self.up:
            return self.bore.high_end, self.bore.high_faces
        return self.bore.low_end, self.bore.low_faces

    def _enters_high(self) -> bool:
        bore = self.bore
        if (bore.high_end == "open") != (bore.low_end == "open"):
            return bore.high_end == "open"
        wide = [p.r_low + p.r_high for p in bore.pieces]
        if not self.graph.same_size(wide[0], wide[-1]):
            return wide[-1] > wide[0]
        area = [
            max((self.graph.faces[f].area_mm2 for f in faces), default=0.0)
            for faces in (bore.low_faces, bore.high_faces)
        ]
        if abs(area[0] - area[1]) > 1e-3 * max(area[0], area[1]):
            return area[1] > area[0]
        return True

    def _mouth(
        self, pieces: list[Piece], narrow: float, hole: str, faces: set[int], *, up: bool
    ) -> tuple[list[Feature], int]:
        """Counterbores and countersinks beyond the narrowest part, from there outwards.

        Returns them and how many further steps the wall has that are neither. Faces of such steps
        go to the hole; chamfered rims go to nobody.
        """
        found: list[Feature] = []
        others, radius = 0, narrow
        pending: list[Piece] = []
        end = self._end(up)[0]
        for k, piece in enumerate(pieces):
            last = k == len(pieces) - 1
            if piece.shape == "cylinder" and piece.r_low > radius * 1.001:
                if any(p.shape == "shoulder" for p in pending):
                    found.append(self._counterbore([*pending, piece], hole, up))
                elif pending and self._is_head_seat(pending, piece, radius, pieces[k + 1 :]):
                    found.append(self._countersink([*pending, piece], hole, up))
                else:
                    others += 1
                    faces.update(f for p in [*pending, piece] for f in p.faces)
                pending, radius = [], piece.r_low
            elif piece.shape == "cone" and last and end == "open" and piece.r_high > radius:
                if piece.r_high >= COUNTERSINK_RATIO * radius:
                    found.append(self._countersink([*pending, piece], hole, up))
                    pending = []
                elif pending:
                    faces.update(f for p in pending for f in p.faces)
                    pending = []
            else:
                pending.append(piece)
        faces.update(f for p in pending for f in p.faces)
        return found, others

    @staticmethod
    def _is_head_seat(pending: list[Piece], wide: Piece, radius: float, rest: list[Piece]) -> bool:
        """A countersink sunk a little below the surface: cone, short cylinder, mouth."""
        cone = next((p for p in pending if p.shape == "cone"), None)
        if cone is None or any(p.shape in ("cylinder", "shoulder") for p in rest):
            return False
        length = cone.high - cone.low
        half = math.degrees(math.atan2(cone.r_high - cone.r_low, length))
        return (
            half <= 51.0
            and wide.high - wide.low <= 0.7 * wide.r_low
            and wide.r_low >= COUNTERSINK_RATIO * radius
        )

    def _counterbore(self, pieces: list[Piece], hole: str, up: bool) -> Counterbore:
        wall = pieces[-1]
        return Counterbore(
            id=self.context.new_id("counterbore"),
            faces=tuple(sorted(f for p in pieces for f in p.faces)),
            place=self._at(wall.high if up else -wall.high),
            direction=self.direction if up else scale(self.direction, -1.0),
            diameter_mm=2.0 * wall.r_low,
            depth_mm=wall.high - min(p.low for p in pieces),
            of=hole,
        )

    def _countersink(self, pieces: list[Piece], hole: str, up: bool) -> Countersink:
        cone = next(p for p in pieces if p.shape == "cone")
        wide, top = max(p.r_high for p in pieces), max(p.high for p in pieces)
        half = math.degrees(math.atan2(cone.r_high - cone.r_low, cone.high - cone.low))
        return Countersink(
            id=self.context.new_id("countersink"),
            faces=tuple(sorted(f for p in pieces for f in p.faces)),
            place=self._at(top if up else -top),
            direction=self.direction if up else scale(self.direction, -1.0),
            diameter_mm=2.0 * wide,
            depth_mm=top - min(p.low for p in pieces),
            angle_deg=2.0 * half,
            of=hole,
        )

    def _cone_only(self) -> list[Feature]:
        """A cone without a cylinder: a spotted countersink, or a tapered hole."""
        cone = next(p for p in self.pieces if p.shape == "cone")
        half = math.degrees(math.atan2(abs(cone.r_high - cone.r_low), cone.high - cone.low))
        faces = {f for p in self.pieces for f in p.faces}
        entry, exit_ = self._end(True), self._end(False)
        through = entry[0] == "open" and exit_[0] == "open"
        if half > 20.0:
            return [replace_id(self._countersink(self.pieces, "", True))]
        faces |= self._floor(exit_, faces)
        hole = Hole(
            id=self.context.new_id("hole"),
            faces=tuple(sorted(faces)),
            place=self._at(cone.high),
            direction=self.direction,
            diameter_mm=2.0 * min(cone.r_low, cone.r_high),
            depth_mm=cone.high - cone.low,
            reach_mm=cone.high - cone.low,
            through=through,
            form="stepped",
            bottom="none" if through else self._bottom(exit_[0], [])[0],
            interrupted=self.bore.broken,
            tilted=self._tilted(),
        )
        return [hole]

    def _floor(self, end: tuple[End, tuple[int, ...]], faces: set[int]) -> set[int]:
        """The faces that close the bore, where they belong to nothing else."""
        kind, closing = end
        if kind == "open":
            return set()
        result: set[int] = set()
        for f in closing:
            others = self.graph.neighbours(f, "concave")
            if self.context.free(f) and others <= faces | set(closing):
                result.add(f)
        return result

    def _bottom(self, end: End, below: list[Piece]) -> tuple[Bottom, float | None]:
        cone = next((p for p in below if p.shape == "cone" and p.r_low < p.r_high), None)
        if cone is not None and cone.r_low < 0.4 * cone.r_high:
            half = math.degrees(math.atan2(cone.r_high - cone.r_low, cone.high - cone.low))
            return "cone", 2.0 * half
        if end in ("flat", "round"):
            return end, None
        return "other", None

    def _opened(self, end: tuple[End, tuple[int, ...]]) -> list[Face]:
        if end[0] != "open":
            return []
        return opened(self.graph, end[1], {f for p in self.pieces for f in p.faces})

    def _slant(self, end: tuple[End, tuple[int, ...]], along: float) -> float:
        return slant_deg(self._opened(end), self._at(along), self.direction)

    def _axis_ends(self) -> tuple[float, float]:
        """Where the axis leaves the metal at the mouth and at the other end."""
        ends = []
        for up, wall in ((True, self.pieces[-1].high), (False, self.pieces[0].low)):
            sign = 1.0 if up else -1.0
            past = crossing_mm(
                self.graph, self._opened(self._end(up)), self._at(wall), scale(self.direction, sign)
            )
            ends.append(wall if past is None else wall + sign * past)
        mouth, far = ends
        slack = self.graph.tolerance_mm
        low, high = self.pieces[0].low, self.pieces[-1].high
        if low - slack <= far < mouth <= high + slack:
            return mouth, far
        return high, low

    def _tilted(self) -> bool:
        frame = self.graph.part.frame
        return not any(parallel(self.direction, d, 0.2) for d in (frame.x, frame.y, frame.z))


def replace_id(sink: Countersink) -> Countersink:
    """The countersink belonging to no hole."""
    return Countersink(
        id=sink.id,
        faces=sink.faces,
        place=sink.place,
        direction=sink.direction,
        diameter_mm=sink.diameter_mm,
        depth_mm=sink.depth_mm,
        angle_deg=sink.angle_deg,
    )


def _turned(p: Piece) -> Piece:
    return replace(p, low=-p.high, high=-p.low, r_low=p.r_high, r_high=p.r_low)


def _form(above: list[Feature], below: list[Feature], steps: int) -> HoleForm:
    """One seat at either end or alike at both; anything else is stepped."""
    if steps == 0:
        return "plain"
    kinds = {type(f) for f in (*above, *below)}
    if steps == len(above) + len(below) and len(kinds) == 1 and max(len(above), len(below)) == 1:
        return "counterbored" if Counterbore in kinds else "countersunk"
    return "stepped"

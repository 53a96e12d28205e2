"""How far a part reaches along a direction, exact where edges and round faces tell.

Boxes in the facts come from a mesh and fall short on round faces by its deflection; edges,
cylinders, spheres and tori give the true end.
"""

import math
from collections.abc import Iterator

from dfmcheck.comparing.geometry import inverted, turn
from dfmcheck.model.base import Vec
from dfmcheck.model.change import Motion
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.vector import add, dot, scale

BOX_MM = 0.01
"""Ends of the box that differ by less are the same."""


def reach_mm(part: PartFacts, direction: Vec) -> tuple[float, float, bool]:
    """Least and greatest coordinate of the part along a unit direction in its own axes.

    Returns:
        (least, greatest, exact): `exact` is False where no edge tells an end; it is then wrong
        by up to the mesh's deflection.
    """
    sure, possible = _candidates(part, direction)
    meshed = _meshed(part, direction)
    if meshed is None:
        return (min(sure), max(sure), False) if sure else (0.0, 0.0, False)
    low, high = meshed
    slack = 1.5 * max(math.hypot(*part.box_mm) / 2000.0, 0.01)
    top = max((c for c in (*sure, *possible) if high - 1e-3 <= c <= high + slack), default=high)
    bottom = min((c for c in (*sure, *possible) if low - slack <= c <= low + 1e-3), default=low)
    exact = bool(sure) and max(sure) > top - 1e-3 and min(sure) < bottom + 1e-3
    return bottom, top, exact


def carried_reach_mm(
    part: PartFacts, direction: Vec, motion: Motion, factor: float
) -> tuple[float, float, bool]:
    """`reach_mm` of the part after factor and motion, along a direction of the new coordinates."""
    still = Motion(rows=motion.rows, shift_mm=(0.0, 0.0, 0.0))
    low, high, exact = reach_mm(part, turn(inverted(still), direction))
    shift = dot(motion.shift_mm, direction)
    return factor * low + shift, factor * high + shift, exact


_Ends = tuple[float, float]


class Boxes:
    """The ends of the boxes of two revisions under trial motions, each direction measured once."""

    def __init__(self, before: PartFacts, after: PartFacts) -> None:
        """Take both revisions, each in its own coordinates."""
        self._before, self._after = before, after
        self._known: dict[tuple[bool, Vec], tuple[float, float, bool]] = {}

    def kept(self, motion: Motion, factor: float) -> int:
        """How many of the six ends of the box lie where they lay, 0 to 6."""
        return sum(
            abs(x - y) <= slack
            for _, ours, theirs, slack in self._edges(motion, factor)
            for x, y in zip(ours, theirs, strict=True)
        )

    def shift(self, motion: Motion, factor: float) -> Vec:
        """What is to be added to a motion's shift for edges of the box of one length to meet."""
        shift: Vec = (0.0, 0.0, 0.0)
        for direction, ours, theirs, slack in self._edges(motion, factor):
            off = theirs[0] - ours[0]
            if abs(theirs[1] - ours[1] - off) <= slack < abs(off):
                shift = add(shift, scale(direction, off))
        return shift

    def _edges(self, motion: Motion, factor: float) -> Iterator[tuple[Vec, _Ends, _Ends, float]]:
        """(direction, ends before, ends after, slack) for each edge of the box after."""
        longest = max(*self._after.box_mm, *(factor * x for x in self._before.box_mm))
        back = inverted(Motion(rows=motion.rows, shift_mm=(0.0, 0.0, 0.0)))
        frame = self._after.frame
        for direction in (frame.x, frame.y, frame.z):
            low, high, exact = self._reach(turn(back, direction), before=True)
            move = dot(motion.shift_mm, direction)
            first, last, sure = self._reach(direction, before=False)
            slack = BOX_MM if exact and sure else max(2 * BOX_MM, longest / 800.0)
            yield direction, (factor * low + move, factor * high + move), (first, last), slack

    def _reach(self, direction: Vec, *, before: bool) -> tuple[float, float, bool]:
        """`reach_mm`, remembered for a direction and its opposite."""
        x, y, z = (round(v, 9) + 0.0 for v in direction)
        back = (x, y, z) < (-x, -y, -z)
        key = (before, (-x, -y, -z) if back else (x, y, z))
        if key not in self._known:
            one = scale(direction, -1.0) if back else direction
            self._known[key] = reach_mm(self._before if before else self._after, one)
        low, high, exact = self._known[key]
        return (-high, -low, exact) if back else (low, high, exact)


def _meshed(part: PartFacts, direction: Vec) -> tuple[float, float] | None:
    """The mesh's limits where the direction is an axis of the canonical frame."""
    frame = part.frame
    for k, axis in enumerate((frame.x, frame.y, frame.z)):
        cosine = dot(axis, direction)
        if cosine > 1.0 - 1e-7:
            return frame.low_mm[k], frame.high_mm[k]
        if cosine < -1.0 + 1e-7:
            return -frame.high_mm[k], -frame.low_mm[k]
    return None


def _candidates(part: PartFacts, d: Vec) -> tuple[list[float], list[float]]:
    """Coordinates that are certainly reached, and ends of carriers that may be."""
    sure: list[float] = []
    possible: list[float] = []
    for edge in part.edges:
        sure += (dot(edge.start, d), dot(edge.middle, d), dot(edge.end, d))
        if edge.centre is not None and edge.axis is not None and edge.radius_mm is not None:
            c = dot(edge.centre, d)
            swing = edge.radius_mm * math.sqrt(max(0.0, 1.0 - dot(edge.axis, d) ** 2))
            closed = edge.length_mm > 6.28 * edge.radius_mm
            (sure if closed else possible).extend((c - swing, c + swing))
    for face in part.faces:
        if face.axis_point is None or face.radius_mm is None:
            continue
        c, r = dot(face.axis_point, d), face.radius_mm
        if face.surface == "sphere":
            possible += (c - r, c + r)
        elif face.axis is not None and face.surface in ("cylinder", "torus"):
            across = math.sqrt(max(0.0, 1.0 - dot(face.axis, d) ** 2))
            swing = r * across + (face.minor_radius_mm or 0.0)
            if face.surface == "torus" or across > 1.0 - 1e-9:
                possible += (c - swing, c + swing)
    return sure, possible


def end_faces(part: PartFacts, direction: Vec, at: float) -> tuple[int, ...]:
    """Plane faces that lie at a coordinate along a direction (0.01 mm), and face that way."""
    return tuple(
        f.index
        for f in part.faces
        if f.surface == "plane"
        and abs(dot(f.normal, direction)) > 1.0 - 1e-6
        and abs(dot(f.centroid, direction) - at) < 0.01
    )


def round_about(part: PartFacts, axis: Vec, diameter_mm: float) -> tuple[int, ...]:
    """Outside cylinders or cones along `axis` that have this diameter (0.01 mm)."""
    found: list[int] = []
    for f in part.faces:
        if f.bend != "outside" or f.axis is None or abs(dot(f.axis, axis)) < 1.0 - 1e-6:
            continue
        if f.surface == "cylinder" and f.radius_mm is not None:
            widest = 2.0 * f.radius_mm
        elif f.surface == "cone" and f.radii_mm is not None:
            widest = 2.0 * max(f.radii_mm)
        elif f.surface in ("torus", "sphere") and f.radius_mm is not None:
            widest = 2.0 * (f.radius_mm + (f.minor_radius_mm or 0.0))
        else:
            continue
        if abs(widest - diameter_mm) < 0.01:
            found.append(f.index)
    return tuple(found)

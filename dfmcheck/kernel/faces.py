"""The facts of one face, and fingerprints."""

import hashlib
import math

from dfmcheck.kernel.surfaces import ROUND, Carrier, curvature, nearest_on_axis
from dfmcheck.kernel.topology import Loop
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face
from dfmcheck.model.vector import dot

BIN_MM = 0.002
BIN_MM2 = 0.02
"""Widths of the bins in which lengths and areas count as equal."""

_OFFSET = 0.3819660112501051
"""Bins are shifted by the golden section, so that no round figure lies on an edge between two."""


def face_facts(
    index: int,
    c: Carrier,
    *,
    area: float,
    centroid: Vec,
    loops: list[Loop],
    edges: tuple[Edge, ...],
    part_centroid: Vec,
    low: Vec,
    high: Vec,
    wall: tuple[float | None, int | None],
    gap: tuple[float | None, int | None],
    line: tuple[int, int] | None,
) -> Face:
    """The facts of one face.

    Args:
        index: its number in the order of traversal.
        c: its carrier.
        area: mm^2.
        centroid: of the face.
        loops: its loops.
        edges: all edges of the part.
        part_centroid: centroid of the part.
        low: least coordinates in the canonical frame.
        high: greatest coordinates in the canonical frame.
        wall: thickness behind it in mm, and the face reached.
        gap: free width in front of it in mm, and the face reached.
        line: line and number of its entity in the file.
    """
    _, normal = c.middle()
    bend, concave = (c.bend(), None) if c.kind != "freeform" else curvature(c)
    axis_point, along = None, None
    if c.axis is not None and c.origin is not None:
        axis_point, shift = nearest_on_axis(c.origin, c.axis, part_centroid)
        if c.kind in ("sphere", "torus"):
            axis_point, shift = c.origin, 0.0
        along = None if c.along is None else (c.along[0] - shift, c.along[1] - shift)
    return Face(
        index=index,
        surface=c.kind,
        bend=bend,
        area_mm2=area,
        centroid=centroid,
        normal=normal,
        low_mm=low,
        high_mm=high,
        loops=tuple(tuple(e for e, _ in loop) for loop in loops),
        fingerprint=_face_fingerprint(c, bend, area, loops, edges),
        axis=c.axis,
        axis_point=axis_point,
        radius_mm=c.radius if c.kind != "cone" else None,
        minor_radius_mm=c.minor,
        half_angle_deg=abs(math.degrees(c.half_angle)) if c.half_angle is not None else None,
        along_mm=along,
        radii_mm=c.radii,
        span_deg=c.span_deg if c.kind in ROUND else None,
        curvature_radius_mm=concave,
        wall_mm=wall[0],
        wall_face=wall[1],
        gap_mm=gap[0],
        gap_face=gap[1],
        line=line[0] if line else None,
        entity=line[1] if line else None,
        swept=c.swept,
    )


def ring_centre(c: Carrier, loops: list[Loop], edges: tuple[Edge, ...]) -> Vec | None:
    """The centre of a plane face that is bounded by whole circles about one axis alone."""
    if c.kind != "plane" or c.plane_normal is None or not loops:
        return None
    bounds = [edges[e] for loop in loops for e, _ in loop]
    first = bounds[0].centre
    if first is None:
        return None
    for e in bounds:
        if e.centre is None or e.axis is None or math.dist(e.centre, first) > 1e-3:
            return None
        if abs(dot(e.axis, c.plane_normal)) < 1.0 - 1e-6:
            return None
    turns: dict[float, float] = {}
    for e in bounds:
        radius = round(e.radius_mm or 0.0, 4)
        turns[radius] = turns.get(radius, 0.0) + e.length_mm
    whole = all(abs(s - 2.0 * math.pi * r) < 0.01 * s + 1e-3 for r, s in turns.items())
    return first if whole else None


def _face_fingerprint(
    c: Carrier, bend: str, area: float, loops: list[Loop], edges: tuple[Edge, ...]
) -> str:
    lengths = sorted(_bin(edges[e].length_mm, BIN_MM) for loop in loops for e, _ in loop)
    sizes = (_bin(c.radius or 0.0, BIN_MM), _bin(c.minor or 0.0, BIN_MM))
    parts = (c.kind, bend, _bin(area, BIN_MM2), *sizes, lengths)
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:16]


def _bin(x: float, width: float) -> int:
    return math.floor(x / width + _OFFSET)


def part_fingerprint(faces: tuple[Face, ...]) -> str:
    """Does not change under rigid motion (nor under mirroring), re-export or renumbering."""
    content = sorted(f.fingerprint for f in faces)
    return hashlib.sha256(repr(content).encode()).hexdigest()[:24]

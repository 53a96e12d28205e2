"""One face of several pieces of it: sums, hulls, and what round pieces cover together."""

import math
from typing import cast

from msgspec.structs import replace

from dfmcheck.features.axes import covered
from dfmcheck.features.graph import Graph
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import add, cross, dot, norm, perpendicular, scale, sub

LEAST_RADIAL = 0.05
"""A ring whose middle looks along its axis tells nothing about where its pieces lie."""


def whole_face(graph: Graph, group: tuple[int, ...]) -> Face:
    """One face for several: sums, hulls and, for round ones, the union of what they cover."""
    faces = [graph.faces[m] for m in group]
    first = max(faces, key=lambda f: (round(f.area_mm2, 6), -f.index))
    area = sum(f.area_mm2 for f in faces)
    middle = (0.0, 0.0, 0.0)
    for f in faces:
        middle = add(middle, scale(f.centroid, f.area_mm2 / area if area else 1 / len(faces)))
    wall = min((f for f in faces if f.wall_mm is not None), key=lambda f: f.wall_mm or 0.0,
               default=first)  # fmt: skip
    gap = min((f for f in faces if f.gap_mm is not None), key=lambda f: f.gap_mm or 0.0,
              default=first)  # fmt: skip
    low, high = (
        tuple(pick(getattr(f, name)[k] for f in faces) for k in range(3))
        for pick, name in ((min, "low_mm"), (max, "high_mm"))
    )
    face = replace(
        first, area_mm2=area, centroid=middle, low_mm=cast("Vec", low), high_mm=cast("Vec", high),
        wall_mm=wall.wall_mm, wall_face=wall.wall_face, gap_mm=gap.gap_mm, gap_face=gap.gap_face,
    )  # fmt: skip
    return face if first.surface == "plane" else _round(face, faces)


def _round(face: Face, faces: list[Face]) -> Face:
    rows = [row for f in faces for row in zip(along(face, f), _radii(face, f), strict=True)]
    (low, r_low), (high, r_high) = min(rows), max(rows)
    span, normal = _turn(face, faces)
    radii = (r_low, r_high) if face.radii_mm is not None else None
    return replace(face, along_mm=(low, high), radii_mm=radii, span_deg=span, normal=normal)


def along(first: Face, face: Face) -> tuple[float, float]:
    """Limits of a face along the axis of another one, measured from its axis point."""
    low, high = face.along_mm or (0.0, 0.0)
    if first.axis is None or face.axis is None:
        return low, high
    if dot(first.axis, face.axis) < 0.0:
        low, high = -high, -low
    start = (0.0, 0.0, 0.0)
    base = dot(sub(face.axis_point or start, first.axis_point or start), first.axis)
    return base + low, base + high


def _radii(first: Face, face: Face) -> tuple[float, float]:
    a, b = face.radii_mm or (0.0, 0.0)
    turned = first.axis is not None and face.axis is not None and dot(first.axis, face.axis) < 0.0
    return (b, a) if turned else (a, b)


def radial(face: Face) -> Vec | None:
    """The part of a round face's normal square to its axis; None where there is hardly any."""
    if face.axis is None:
        return None
    flat = sub(face.normal, scale(face.axis, dot(face.normal, face.axis)))
    return flat if norm(flat) > LEAST_RADIAL else None


def _turn(face: Face, faces: list[Face]) -> tuple[float, Vec]:
    """The angle that round faces cover together, and the normal in its middle."""
    own = radial(face)
    if face.axis is None or own is None:
        return face.span_deg or 0.0, face.normal
    u = perpendicular(face.axis)
    v = cross(face.axis, u)
    spans = []
    for f in faces:
        flat = radial(f) or own
        at = math.degrees(math.atan2(dot(flat, v), dot(flat, u))) % 360.0
        half = (f.span_deg or 0.0) / 2
        spans.append((at - half, at + half))
    total = covered(spans)
    if total >= 359.0:
        return 360.0, face.normal
    start = _start(spans)
    middle = math.radians(start + total / 2)
    out = add(scale(u, math.cos(middle)), scale(v, math.sin(middle)))
    return total, add(scale(out, norm(own)), scale(face.axis, dot(face.normal, face.axis)))


def _start(spans: list[tuple[float, float]]) -> float:
    """Where the widest gap between angular intervals ends, in degrees."""
    row = sorted((a % 360.0, a % 360.0 + b - a) for a, b in spans)
    best, start = -math.inf, row[0][0]
    reached = max(b for _, b in row) - 360.0
    for a, b in row:
        if a - reached > best:
            best, start = a - reached, a
        reached = max(reached, b)
    return start

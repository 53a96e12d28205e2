"""Regular prisms: hexagon heads and nuts outside, hexagon sockets inside."""

import math
from dataclasses import dataclass

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face, PartFacts
from dfmcheck.model.vector import add, cross, dot, parallel, scale, unit

MOST_PLANES = 60
"""Only so many plane faces, the largest first, are tried as sides of a prism."""

MOST_PARALLEL = 4
"""So many pairs of one direction and one width are looked at."""

LEAST_AREA_RATIO = 0.7
"""Opposite sides of a hexagon differ by no more than this."""

SIDES = 6


@dataclass(frozen=True, slots=True)
class Hexagon:
    """Six plane faces about an axis through `centre`; `across_flats_mm` between opposite ones."""

    axis: Vec
    centre: Vec
    across_flats_mm: float
    faces: tuple[int, ...]
    outside: bool


def hexagons(part: PartFacts) -> tuple[Hexagon, ...]:
    """The hexagons of a part, the largest across flats first."""
    found: list[Hexagon] = []
    used: set[int] = set()
    planes = [f for f in part.faces if f.surface == "plane"]
    planes = sorted(planes, key=lambda f: (-f.area_mm2, f.index))[:MOST_PLANES]
    for same in _pairs_by_width(planes):
        for pair in same:
            hexagon = _completed(pair, same, used)
            if hexagon is not None:
                used.update(hexagon.faces)
                found.append(hexagon)
    return tuple(sorted(found, key=lambda h: (-h.across_flats_mm, h.faces)))


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two opposite faces, their distance, and whether they look away from each other."""

    width: float
    outside: bool
    a: Face
    b: Face


def _completed(pair: _Pair, same: list[_Pair], used: set[int]) -> Hexagon | None:
    """The hexagon that a pair of sides makes with two others of its width."""
    a = pair.a
    for other in same:
        c = other.a
        if abs(abs(dot(a.normal, c.normal)) - 0.5) > 0.002:
            continue
        axis = unit(cross(a.normal, c.normal))
        third = next((p for p in same if _completes(p.a, a, c, axis)), None)
        if third is None:
            continue
        sides = (a, pair.b, c, other.b, third.a, third.b)
        if used.intersection(f.index for f in sides):
            continue
        centre = _centre(sides, axis)
        if all(abs(abs(_height(f, centre)) - pair.width / 2) <= 0.02 for f in sides):
            faces = tuple(sorted(f.index for f in sides))
            return Hexagon(axis, centre, pair.width, faces, pair.outside)
    return None


def _pairs_by_width(planes: list[Face]) -> list[list[_Pair]]:
    """Opposite faces of about one size, gathered by distance; only what three pairs share."""
    buckets: list[list[_Pair]] = []
    pairs: list[_Pair] = []
    for i, a in enumerate(planes):
        for b in planes[i + 1 :]:
            if b.area_mm2 < LEAST_AREA_RATIO * a.area_mm2:
                break  # the faces come in the order of their area
            if dot(a.normal, b.normal) < -0.99999:
                width = dot(a.normal, a.centroid) + dot(b.normal, b.centroid)
                pairs.append(_Pair(abs(width), width > 0.0, a, b))
    pairs.sort(key=lambda p: (p.outside, -p.width, p.a.index, p.b.index))
    for p in pairs:
        last = buckets[-1] if buckets else []
        if last and last[0].outside == p.outside and abs(last[0].width - p.width) < 0.01:
            along = sum(1 for q in last if parallel(q.a.normal, p.a.normal, 1.0))
            if along < MOST_PARALLEL:
                last.append(p)
        else:
            buckets.append([p])
    return [b for b in buckets if len(b) >= SIDES // 2]


def _completes(face: Face, a: Face, c: Face, axis: Vec) -> bool:
    """True for a face at 60 degrees to two others, square to the axis they span."""
    return (
        abs(dot(face.normal, axis)) < 0.002
        and not parallel(face.normal, a.normal, 1.0)
        and not parallel(face.normal, c.normal, 1.0)
        and abs(abs(dot(face.normal, a.normal)) - 0.5) < 0.002
        and abs(abs(dot(face.normal, c.normal)) - 0.5) < 0.002
    )


def _height(face: Face, point: Vec) -> float:
    return dot(face.normal, face.centroid) - dot(face.normal, point)


def _centre(sides: tuple[Face, ...], axis: Vec) -> Vec:
    """The point of the prism's axis amid the faces' centroids."""
    a, b, c, d = sides[:4]
    n, m = a.normal, c.normal
    p = (dot(n, a.centroid) + dot(n, b.centroid)) / 2
    q = (dot(m, c.centroid) + dot(m, d.centroid)) / 2
    k = dot(n, m)
    det = 1.0 - k * k
    along = math.fsum(dot(axis, f.centroid) for f in sides) / SIDES
    in_plane = add(scale(n, (p - q * k) / det), scale(m, (q - p * k) / det))
    return add(in_plane, scale(axis, along))

"""Regular prisms: hexagon heads and nuts outside, hexagon sockets inside."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face, PartFacts
from dfmcheck.model.vector import add, cross, dot, parallel, scale, unit

MOST_PLANES = 60
"""Only so many plane faces, the largest first, are tried as sides of a prism."""

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
    pairs = _pairs(planes)
    for i, (width, outside, a, b) in enumerate(pairs):
        if a.index in used:
            continue
        same = [p for p in pairs[i + 1 :] if abs(p[0] - width) < 0.01 and p[1] == outside]
        for _, _, c, d in same:
            if abs(abs(dot(a.normal, c.normal)) - 0.5) > 0.002 or c.index in used:
                continue
            axis = unit(cross(a.normal, c.normal))
            third = next((p for p in same if _completes(p[2], a, c, axis)), None)
            if third is None or third[2].index in used:
                continue
            sides = (a, b, c, d, third[2], third[3])
            centre = _centre(sides, axis)
            if any(abs(abs(_height(f, centre)) - width / 2) > 0.02 for f in sides):
                continue
            faces = tuple(sorted(f.index for f in sides))
            used.update(faces)
            found.append(Hexagon(axis, centre, width, faces, outside))
            break
    return tuple(sorted(found, key=lambda h: (-h.across_flats_mm, h.faces)))


def _pairs(planes: Iterable[Face]) -> list[tuple[float, bool, Face, Face]]:
    """Opposite faces: (distance, whether they look away from each other, face, face)."""
    faces = list(planes)
    pairs = []
    for i, a in enumerate(faces):
        for b in faces[i + 1 :]:
            if dot(a.normal, b.normal) < -0.99999 and abs(a.area_mm2 - b.area_mm2) <= (
                0.3 * max(a.area_mm2, b.area_mm2)
            ):
                width = dot(a.normal, a.centroid) + dot(b.normal, b.centroid)
                pairs.append((abs(width), width > 0.0, a, b))
    return sorted(pairs, key=lambda p: (-p[0], p[2].index, p[3].index))


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

"""Square and rectangular sections about a turning axis: square bar, and flanges with corners."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from dfmcheck.features.axial import Axial
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import dot, square

SAME_MM = 1e-3

BAR_RATIO = 2.0
"""A turned part with a square or rectangular section is this many times longer than the section
is wide; a shorter one is a flange and milled (common practice, no source)."""

SIDE_RATIO = 0.5
"""A side of the rectangle is plane over at least this share of its width."""

CORNER_RATIO = 0.9
"""The corners of the widest section reach at least this share of the part's radius; below 1 since
corners are often turned or chamfered off."""


_Pair = tuple[Vec, float, tuple[int, ...], tuple[int, ...]]
"""Normal, width in mm, and the faces of two opposite sides."""


@dataclass(frozen=True)
class Rectangle:
    """Four plane sides about the axis; `sides_mm` apart, the wider first; all their faces."""

    sides_mm: tuple[float, float]
    faces: tuple[int, ...]

    @property
    def is_square(self) -> bool:
        """True where the axis runs through the middle of a square."""
        return self.sides_mm[0] - self.sides_mm[1] < SAME_MM


def widest_rectangle(view: Axial) -> Rectangle | None:
    """The rectangle about the axis whose corners stand out farther than all that is round.

    None where there is none, or where the widest section is round.
    """
    pairs = sorted(_pairs(view), key=lambda p: (-p[1], p[2]))
    round_mm = max((max(r.r_mm) for r in view.rings if r.outside), default=0.0)
    for a, b in combinations(pairs, 2):
        corner = math.hypot(a[1], b[1]) / 2.0
        if not square(a[0], b[0]) or corner < CORNER_RATIO * view.radius_mm:
            continue
        if all(_is_wide(view, p, q) for p, q in ((a, b), (b, a))):
            if corner <= 1.001 * round_mm:
                return None
            return Rectangle((a[1], b[1]), a[2] + a[3] + b[2] + b[3])
    return None


def _is_wide(view: Axial, pair: _Pair, other: _Pair) -> bool:
    """True where each side of a pair spans most of the distance between the other pair's sides."""
    for side in pair[2:]:
        edges = {e for i in side for loop in view.part.faces[i].loops for e in loop}
        across = [
            dot(p, other[0])
            for e in (view.part.edges[k] for k in edges)
            for p in (e.start, e.middle, e.end)
        ]
        if not across or max(across) - min(across) < SIDE_RATIO * other[1]:
            return False
    return True


def _pairs(view: Axial) -> Iterator[_Pair]:
    """Opposite outside planes at one distance from the axis, knurls and threads apart."""
    planes: list[tuple[Vec, float, list[Face]]] = []
    for f in view.part.faces:
        if f.surface != "plane" or f.index in view.turned_faces:
            continue
        if not square(f.normal, view.axis):
            continue
        away = dot(f.centroid, f.normal) - dot(view.origin, f.normal)
        for normal, known, faces in planes:
            if abs(known - away) < SAME_MM and dot(normal, f.normal) > 1.0 - 1e-6:
                faces.append(f)
                break
        else:
            if away > 0.0:
                planes.append((f.normal, away, [f]))
    for a, b in combinations(planes, 2):
        if abs(a[1] - b[1]) < SAME_MM and dot(a[0], b[0]) < -1.0 + 1e-6:
            sides = [tuple(f.index for f in p[2]) for p in (a, b)]
            yield a[0], a[1] + b[1], sides[0], sides[1]

"""The canonical frame of a part: independent of how the part lies in its file.

Area-weighted plane normals first, then axes of round faces, then principal axes of inertia;
ties are broken by the part's own shape, and only at last by the file's axes. Of three directions
square to each other that all have planes, the three with the greatest area go before a heavier
one that has no such partners: the base of a wedge, not its slope.
"""

import math
from itertools import combinations

from dfmcheck.kernel.vector import tidy
from dfmcheck.model.base import Vec
from dfmcheck.model.vector import cross, dot, norm, perpendicular, scale, sub, unit

_PARALLEL = math.cos(math.radians(0.5))
_SQUARE = math.sin(math.radians(0.5))

_MOST_DIRECTIONS = 24
"""Among so many of the heaviest directions are partners looked for."""

_CLEARLY = 1.001
"""Areas must differ by this factor for the heaviest direction to give way."""


def main_directions(weighted: list[tuple[Vec, float]]) -> list[tuple[Vec, float]]:
    """Directions clustered up to sign (0.5 degrees), heaviest first, each with its weight."""
    clusters: list[tuple[Vec, float]] = []
    for d, w in sorted(weighted, key=lambda x: -x[1]):
        for k, (c, cw) in enumerate(clusters):
            if abs(dot(c, d)) > _PARALLEL:
                clusters[k] = (c, cw + w)
                break
        else:
            clusters.append((d, w))
    return sorted(clusters, key=lambda x: -x[1])


def axes(
    planes: list[tuple[Vec, float]], rounds: list[tuple[Vec, float]], fallback: Vec
) -> tuple[Vec, Vec, Vec]:
    """Three directions square to each other, not yet ordered.

    Args:
        planes: (normal, area) of the plane faces.
        rounds: (axis, area) of the faces of revolution.
        fallback: the principal axis of least inertia.
    """
    strong = main_directions(planes)
    turning = main_directions(rounds)
    plane_area = sum(w for _, w in planes)
    round_area = sum(w for _, w in rounds)
    about = turning[0][0] if turning and round_area > 2.0 * plane_area else None
    lead = [] if about is None else [about]
    directions = [d for d, _ in strong] + [d for d, _ in turning]
    candidates = [*lead, *_partners(strong, about), *directions, fallback]
    first = candidates[0]
    for d in candidates[1:]:
        if abs(dot(first, d)) < _SQUARE:
            second = unit(sub(d, scale(first, dot(first, d))))
            break
    else:
        second = _square_to(first, candidates[1:])
    return tidy(first), tidy(second), tidy(unit(cross(first, second)))


def _partners(strong: list[tuple[Vec, float]], about: Vec | None) -> list[Vec]:
    """Three directions square to each other to go first, heavier before lighter, or none.

    They are those with the greatest area of planes, unless the heaviest direction holds more
    together with whatever is square to it.

    Args:
        strong: directions and their areas, heaviest first.
        about: the turning axis, which must be one of the three, if there is one.
    """
    known = strong[:_MOST_DIRECTIONS]
    best = 0.0
    chosen: list[Vec] = []
    for three in combinations(known, 3):
        directions, area = [d for d, _ in three], sum(w for _, w in three)
        if area <= _CLEARLY * best or not _all_square(directions):
            continue
        if about is None or any(abs(dot(d, about)) > _PARALLEL for d in directions):
            best, chosen = area, directions
    if not chosen:
        return []
    heaviest, weight = known[0]
    beside = max((w for d, w in known if abs(dot(d, heaviest)) < _SQUARE), default=0.0)
    if weight + beside > best:
        return []
    return chosen


def _all_square(directions: list[Vec]) -> bool:
    return all(abs(dot(a, b)) < _SQUARE for a, b in combinations(directions, 2))


def _square_to(first: Vec, others: list[Vec]) -> Vec:
    """A direction square to `first`: the strongest slanting one laid flat, or a file axis."""
    for d in others:
        flat = sub(d, scale(first, dot(first, d)))
        if norm(flat) > 0.05:
            return unit(flat)
    return perpendicular(first)


def ordered(directions: tuple[Vec, Vec, Vec], sizes: Vec, middles: Vec) -> tuple[Vec, Vec, Vec]:
    """Right-handed x, y, z with falling size; signs so that the centroid lies low.

    Args:
        directions: three directions square to each other.
        sizes: extent of the part along each, in mm.
        middles: for each, (centroid - middle of the box) along it, in mm.
    """
    order = sorted(range(3), key=lambda i: (-round(sizes[i], 3), i))
    chosen: list[Vec] = []
    for i in order:
        d, m = directions[i], middles[i]
        if abs(m) > 1e-3 * max(1.0, sizes[i]):
            d = d if m < 0 else scale(d, -1.0)
        else:
            lead = max(range(3), key=lambda k: (round(abs(d[k]), 6), -k))
            d = d if d[lead] > 0 else scale(d, -1.0)
        chosen.append(d)
    x, y = chosen[0], chosen[1]
    return tidy(x), tidy(y), tidy(cross(x, y))

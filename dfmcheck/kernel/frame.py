"""The canonical frame of a part: independent of how the part lies in its file.

Area-weighted plane normals first, then axes of round faces, then principal axes of inertia;
ties are broken by the part's own shape, and only at last by the file's axes.
"""

import math

from dfmcheck.kernel.vector import cross, dot, norm, perpendicular, scale, sub, tidy, unit
from dfmcheck.model.base import Vec

_PARALLEL = math.cos(math.radians(0.5))
_SQUARE = math.sin(math.radians(0.5))


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
    candidates = [d for d, _ in strong] + [d for d, _ in turning] + [fallback]
    if turning and round_area > 2.0 * plane_area:
        candidates.insert(0, turning[0][0])
    first = candidates[0]
    for d in candidates[1:]:
        if abs(dot(first, d)) < _SQUARE:
            second = unit(sub(d, scale(first, dot(first, d))))
            break
    else:
        second = _square_to(first, candidates[1:])
    return tidy(first), tidy(second), tidy(unit(cross(first, second)))


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

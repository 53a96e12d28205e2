"""Parallel rays through a mesh: every crossing, with its side, for many rays at once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_MOST_PAIRS = 4_000_000


@dataclass(frozen=True)
class Crossings:
    """Crossings of rays with triangles, sorted by ray and then along it.

    ray : (k,) int, number of the ray; along : (k,) float, mm along the rays' direction;
    triangle : (k,) int; step : (k,) int, +1 where the ray enters the material, -1 where it
    leaves; inside : (k,) int, in how many bodies the ray is after the crossing.
    """

    ray: Ints
    along: Floats
    triangle: Ints
    step: Ints
    inside: Ints


def crossings(corners: tuple[Floats, Floats, Floats], rays: Floats) -> Crossings:
    """All crossings of rays along the third axis.

    Args:
        corners: the three corners of each triangle, each (m, 3) float, mm, seen from outside
            counter-clockwise.
        rays: (q, 2) float, where the rays pierce the plane of the first two axes, mm.
    """
    # nudged by a share of the part that is no simple fraction, so that none runs along an edge
    flat = [c[:, :2] for c in corners]
    low = np.minimum(np.minimum(flat[0], flat[1]), flat[2])
    high = np.maximum(np.maximum(flat[0], flat[1]), flat[2])
    size = max(float((high.max(axis=0) - low.min(axis=0)).max()), 1e-9)
    q = rays + size * np.array([3.1e-8, 1.7e-8])
    triangle, ray = _candidates(low, high, q)
    a, b, c = (f[triangle] for f in flat)
    p = q[ray]
    area = _side(a, b, c)
    with np.errstate(divide="ignore", invalid="ignore"):
        u = _side(p, b, c) / area
        v = _side(a, p, c) / area
        hit = (area != 0.0) & (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)
    triangle, ray, u, v, area = triangle[hit], ray[hit], u[hit], v[hit], area[hit]
    za, zb, zc = (k[triangle, 2] for k in corners)
    along = u * za + v * zb + (1.0 - u - v) * zc
    order = np.lexsort((along, ray))
    ray, along, triangle = ray[order], along[order], triangle[order]
    step = np.where(area[order] < 0.0, 1, -1)
    return Crossings(ray, along, triangle, step, _running(ray, step))


def _side(a: Floats, b: Floats, c: Floats) -> Floats:
    ab, ac = b - a, c - a
    found: Floats = ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]
    return found


def _running(ray: Ints, step: Ints) -> Ints:
    """Sum of the steps so far on each ray."""
    total = np.cumsum(step)
    first = np.searchsorted(ray, ray, side="left")
    before = np.where(first > 0, total[first - 1], 0)
    found: Ints = total - before
    return found


def _candidates(low: Floats, high: Floats, rays: Floats) -> tuple[Ints, Ints]:
    """Pairs (triangle, ray) whose boxes meet, found through a grid of cells."""
    origin = rays.min(axis=0)
    extent = np.maximum(rays.max(axis=0) - origin, 1e-12)
    n = int(np.clip(np.sqrt(len(rays)), 1, 256))
    cell = np.clip((rays - origin) / extent * n, 0, n - 1).astype(np.int64)
    key = cell[:, 0] * n + cell[:, 1]
    order = np.argsort(key, kind="stable")
    starts = np.searchsorted(key[order], np.arange(n * n + 1))
    first = np.floor((low - origin) / extent * n).astype(np.int64)
    last = np.floor((high - origin) / extent * n).astype(np.int64)
    kept = np.flatnonzero(((last >= 0) & (first <= n)).all(axis=1))
    first = np.clip(first[kept], 0, n - 1)
    last = np.clip(last[kept], 0, n - 1)
    # cells of one row of a triangle's box are neighbours, so a row is one slice of sorted rays
    rows = last[:, 0] - first[:, 0] + 1
    which = np.repeat(np.arange(len(kept)), rows)
    row = first[which, 0] + ramp(rows)
    begin = starts[row * n + first[which, 1]]
    count = starts[row * n + last[which, 1] + 1] - begin
    if int(count.sum()) > 16 * _MOST_PAIRS:
        msg = "too many rays for this mesh"
        raise ValueError(msg)
    pair = np.repeat(np.arange(len(which)), count)
    ray = order[begin[pair] + ramp(count)]
    triangle = kept[which[pair]]
    p = rays[ray]
    meet = ((p >= low[triangle]) & (p <= high[triangle])).all(axis=1)
    return triangle[meet], ray[meet]


def ramp(counts: Ints) -> Ints:
    """0 … n-1 for each n in `counts`, one after another."""
    ends = np.cumsum(counts)
    total = int(ends[-1]) if len(ends) else 0
    found: Ints = np.arange(total) - np.repeat(ends - counts, counts)
    return found


def raster(low: Floats, high: Floats, n: int) -> tuple[Floats, float]:
    """Rays at the middles of n x n cells between two corners, and the area of a cell in mm^2."""
    steps = (high - low) / n
    x = low[0] + (np.arange(n) + 0.5) * steps[0]
    y = low[1] + (np.arange(n) + 0.5) * steps[1]
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    return grid, float(steps[0] * steps[1])

"""Which solids fill the same space, and what they fill together."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dfmcheck.kernel.columns import Crossings, crossings, raster
from dfmcheck.kernel.mesh import Mesh
from dfmcheck.model.base import Vec

Floats = NDArray[np.float64]

TOUCH_MM = 0.002
"""Boxes that reach into each other by less than this do not overlap."""

_ORDERS = ((1, 2, 0), (2, 0, 1), (0, 1, 2))
"""Axes across the rays and along them, for rays along x, y and z."""


@dataclass(frozen=True)
class Shared:
    """Space that is filled more than once, by a set of bodies.

    `volume_mm3` is counted once less than it is filled; `moment` (3,) and `second` (3, 3) are
    its integrals of x and of x xT, in mm^4 and mm^5; `buried_mm2` is the area of skin that lies
    inside another body.
    """

    volume_mm3: float
    moment: Floats
    second: Floats
    buried_mm2: float


def close_pairs(lows: Floats, highs: Floats) -> list[tuple[int, int]]:
    """Pairs of boxes that reach into each other.

    Args:
        lows: (n, 3) float, mm.
        highs: (n, 3) float, mm.
    """
    found: list[tuple[int, int]] = []
    for i in range(len(lows) - 1):
        deep = np.minimum(highs[i], highs[i + 1 :]) - np.maximum(lows[i], lows[i + 1 :])
        found += [(i, i + 1 + int(j)) for j in np.flatnonzero((deep > TOUCH_MM).all(axis=1))]
    return found


def common_mm3(one: Mesh, other: Mesh, rays: int = 48) -> float:
    """Volume that two bodies share, from rays through the box in which they can meet.

    The error is that of the meshes: bodies with curved faces that only touch seem to share
    a little, and less of it the finer they are meshed.
    """
    low = np.maximum(one.points.min(axis=0), other.points.min(axis=0))
    high = np.minimum(one.points.max(axis=0), other.points.max(axis=0))
    if (high - low <= 0.0).any():
        return 0.0
    order = _ORDERS[int(np.argmin(high - low))]
    a, b = _within(one, low, high, order), _within(other, low, high, order)
    if not len(a[0]) or not len(b[0]):
        return 0.0
    both = tuple(np.concatenate((x, y))[:, order] for x, y in zip(a, b, strict=True))
    across = list(order[:2])
    grid, cell = raster(low[across], high[across], rays)
    found = crossings((both[0], both[1], both[2]), grid)
    return _length_in_both(found, len(a[0])) * cell


def _within(mesh: Mesh, low: Floats, high: Floats, order: tuple[int, ...]) -> tuple[Floats, ...]:
    """Corners of the triangles that rays through a box can meet."""
    a, b, c = mesh.corners
    kept = np.ones(len(a), dtype=bool)
    for k in order[:2]:
        kept &= np.minimum(np.minimum(a[:, k], b[:, k]), c[:, k]) <= high[k]
        kept &= np.maximum(np.maximum(a[:, k], b[:, k]), c[:, k]) >= low[k]
    return a[kept], b[kept], c[kept]


def _length_in_both(found: Crossings, first: int) -> float:
    """Length of all rays inside both bodies, where triangles below `first` are the one's."""
    mine = found.triangle < first
    in_one = _inside(found, np.where(mine, found.step, 0))
    in_other = _inside(found, np.where(mine, 0, found.step))
    both = (in_one > 0) & (in_other > 0)
    return float(_lengths(found)[both].sum())


def _inside(found: Crossings, step: NDArray[np.int64]) -> NDArray[np.int64]:
    total = np.cumsum(step)
    first = np.searchsorted(found.ray, found.ray, side="left")
    inside: NDArray[np.int64] = total - np.where(first > 0, total[first - 1], 0)
    return inside


def _lengths(found: Crossings) -> Floats:
    """Length from each crossing to the next on the same ray, zero for the last."""
    lengths = np.zeros(len(found.ray))
    if len(found.ray) > 1:
        same = found.ray[1:] == found.ray[:-1]
        lengths[:-1] = np.where(same, np.diff(found.along), 0.0)
    return lengths


def groups(count: int, joined: list[tuple[int, int]]) -> list[list[int]]:
    """Numbers 0 … count-1 in sets connected by the pairs, in order of their least member."""
    parent = list(range(count))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for i, j in joined:
        a, b = sorted((root(i), root(j)))
        parent[b] = a
    sets: dict[int, list[int]] = {}
    for i in range(count):
        sets.setdefault(root(i), []).append(i)
    return list(sets.values())


def shared_space(mesh: Mesh, rays: int = 160) -> Shared:
    """What the bodies of a mesh fill more than once, from rays along x, y and z.

    A coarse look finds the box in which bodies overlap, a fine one measures there.
    """
    low, high = mesh.points.min(axis=0), mesh.points.max(axis=0)
    coarse = [_look(mesh, order, low, high, rays // 3) for order in _ORDERS]
    boxes = [x.box for x in coarse if x.box is not None]
    if not boxes:
        return Shared(0.0, np.zeros(3), np.zeros((3, 3)), 0.0)
    spare = 1.5 * (high - low) / (rays // 3)
    low = np.maximum(low, np.min([b[0] for b in boxes], axis=0) - spare)
    high = np.minimum(high, np.max([b[1] for b in boxes], axis=0) + spare)
    fine = [_look(mesh, order, low, high, rays) for order in _ORDERS]
    return Shared(
        volume_mm3=sum(x.volume for x in fine) / 3.0,
        moment=sum((x.moment for x in fine), np.zeros(3)) / 3.0,
        second=sum((x.second for x in fine), np.zeros((3, 3))) / 3.0,
        buried_mm2=sum(x.buried for x in fine),
    )


@dataclass(frozen=True)
class _Look:
    volume: float
    moment: Floats
    second: Floats
    buried: float
    box: tuple[Floats, Floats] | None


def _look(mesh: Mesh, order: tuple[int, ...], low: Floats, high: Floats, rays: int) -> _Look:
    """What rays along the last axis of `order` find within a box."""
    across = list(order[:2])
    grid, cell = raster(low[across], high[across], rays)
    corners = _within(mesh, low, high, order)
    a, b, c = (k[:, order] for k in corners)
    found = crossings((a, b, c), grid)
    more, xy, z0, z1 = _repeated(found, grid)
    volume, moment, second = _integrals(more * cell, xy, z0, z1)
    back = np.argsort(order)
    outside = np.where(found.step > 0, found.inside - 1, found.inside) > 0
    normals = np.cross(b - a, c - a)[found.triangle[outside]]
    # an area is the sum over the three directions of its shadow times the cosine
    length = np.maximum(np.linalg.norm(normals, axis=1), 1e-300)
    buried = float((np.abs(normals[:, 2]) / length).sum()) * cell
    box = None
    if len(xy):
        ends = np.array([[*xy.min(axis=0), z0.min()], [*xy.max(axis=0), z1.max()]])[:, back]
        box = (ends[0], ends[1])
    return _Look(volume, moment[back], second[np.ix_(back, back)], buried, box)


def _repeated(found: Crossings, grid: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Pieces of rays filled more than once: how often more, place across, start and end."""
    more = np.maximum(found.inside - 1, 0)
    stop = found.along + _lengths(found)
    kept = (more > 0) & (stop > found.along)
    return more[kept].astype(np.float64), grid[found.ray[kept]], found.along[kept], stop[kept]


def _integrals(weight: Floats, xy: Floats, z0: Floats, z1: Floats) -> tuple[float, Floats, Floats]:
    """Volume, first and second moments of pieces of rays (third axis along them)."""
    length, half = (z1 - z0) * weight, (z1**2 - z0**2) / 2.0 * weight
    third = (z1**3 - z0**3) / 3.0 * weight
    moment = np.append(xy.T @ length, half.sum())
    second = np.zeros((3, 3))
    second[:2, :2] = (xy * length[:, None]).T @ xy
    second[:2, 2] = second[2, :2] = xy.T @ half
    second[2, 2] = third.sum()
    return float(length.sum()), moment, second


def as_vec(a: Floats) -> Vec:
    """Three numbers of an array."""
    return (float(a[0]), float(a[1]), float(a[2]))

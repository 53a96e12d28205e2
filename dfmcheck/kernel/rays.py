"""The first triangle that each of many rays meets, through a grid of cells, in numpy."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dfmcheck.kernel.columns import ramp

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_MOST_ENTRIES = 350_000


@dataclass(frozen=True)
class Hits:
    """distance : (q,) float, mm, infinite where nothing is met; triangle : (q,) int, -1 there."""

    distance: Floats
    triangle: Ints


class Caster:
    """Triangles sorted into the cells of a grid."""

    def __init__(self, corners: tuple[Floats, Floats, Floats]) -> None:
        """Sort the triangles, given by their corners, each (m, 3) float, mm."""
        self.a, b, c = corners
        self.ab, self.ac = b - self.a, c - self.a
        self.normal = np.cross(self.ab, self.ac)
        self.offset = np.einsum("ij,ij->i", self.a, self.normal)
        low = np.minimum(np.minimum(self.a, b), c)
        high = np.maximum(np.maximum(self.a, b), c)
        self.low = low.min(axis=0) - 1e-6
        self.high = high.max(axis=0) + 1e-6
        size = self.high - self.low
        n = float(np.clip(1.5 * np.cbrt(len(self.a)), 4, 48))
        while True:
            step = float(np.cbrt(np.prod(np.maximum(size, size.max() / n)))) / n
            self.shape = np.clip(np.ceil(size / step), 1, 3 * n).astype(np.int64)
            self.step = size / self.shape
            first = ((low - self.low) / self.step).astype(np.int64)
            last = np.minimum(((high - self.low) / self.step).astype(np.int64), self.shape - 1)
            first = np.minimum(first, last)
            spans = last - first + 1
            if spans.prod(axis=1).sum() <= _MOST_ENTRIES or n <= 4:
                break
            n /= 1.5
        self._sort(first, spans)

    def _sort(self, first: Ints, spans: Ints) -> None:
        """Enter each triangle into the cells of its box that its plane passes through."""
        total = spans.prod(axis=1)
        triangle = np.repeat(np.arange(len(total)), total)
        k = ramp(total)
        s = spans[triangle]
        cell = first[triangle] + np.stack(
            (k // (s[:, 1] * s[:, 2]), k // s[:, 2] % s[:, 1], k % s[:, 2]), axis=1
        )
        middle = self.low + (cell + 0.5) * self.step
        n = self.normal[triangle]
        off = np.abs(np.einsum("ij,ij->i", middle - self.a[triangle], n))
        near = off <= 0.5001 * (np.abs(n) @ self.step) + 1e-12
        key = self._key(cell[near])
        order = np.argsort(key, kind="stable")
        self.entries = triangle[near][order]
        # one plane an entry, so that the triangles of a cell lie side by side in memory
        planes = (*self.normal.T, self.offset)
        self.planes = tuple(np.ascontiguousarray(p)[self.entries] for p in planes)
        cells = int(self.shape.prod())
        self.starts = np.searchsorted(key[order], np.arange(cells + 1))

    def _key(self, cell: Ints) -> Ints:
        found: Ints = (cell[:, 0] * self.shape[1] + cell[:, 1]) * self.shape[2] + cell[:, 2]
        return found

    def first(self, origins: Floats, directions: Floats) -> Hits:
        """What rays meet first.

        Args:
            origins: (q, 3) float, mm, inside the box of the triangles.
            directions: (q, 3) float, unit vectors.
        """
        q = len(origins)
        distance, triangle = np.full(q, np.inf), np.full(q, -1, dtype=np.int64)
        with np.errstate(divide="ignore", invalid="ignore"):
            inverse = np.where(directions != 0.0, 1.0 / directions, np.inf)
        cell = np.clip(((origins - self.low) / self.step).astype(np.int64), 0, self.shape - 1)
        forward = np.where(directions > 0.0, 1, -1)
        wall = self.low + (cell + (directions > 0.0)) * self.step
        with np.errstate(invalid="ignore"):
            ahead = np.where(directions != 0.0, (wall - origins) * inverse, np.inf)
        stride = np.where(directions != 0.0, np.abs(self.step * inverse), np.inf)
        active = np.arange(q)
        while len(active):
            axis = np.argmin(ahead[active], axis=1)
            leave = ahead[active, axis]
            self._look(active, cell, leave, origins, directions, distance, triangle)
            going = distance[active] > leave
            active, axis = active[going], axis[going]
            cell[active, axis] += forward[active, axis]
            ahead[active, axis] += stride[active, axis]
            at = cell[active, axis]
            active = active[(at >= 0) & (at < self.shape[axis])]
        return Hits(distance, triangle)

    def _look(
        self,
        active: Ints,
        cell: Ints,
        leave: Floats,
        origins: Floats,
        directions: Floats,
        distance: Floats,
        triangle: Ints,
    ) -> None:
        """Try the triangles in the cells where the rays are, as far as they are in them."""
        key = self._key(cell[active])
        begin = self.starts[key]
        count = self.starts[key + 1] - begin
        entry = np.repeat(begin, count) + ramp(count)
        if not len(entry):
            return
        nx, ny, nz, offset = (p.take(entry) for p in self.planes)
        dx, dy, dz = (np.repeat(k, count) for k in directions[active].T)
        along = nx * dx + ny * dy + nz * dz
        ox, oy, oz = (np.repeat(k, count) for k in origins[active].T)
        with np.errstate(divide="ignore", invalid="ignore"):
            t = (offset - (nx * ox + ny * oy + nz * oz)) / along
            limit = np.repeat(leave * (1.0 + 1e-9) + 1e-9, count)
            near = np.flatnonzero((t > 0.0) & (t <= limit))
        ray = np.repeat(active, count)[near]
        candidate, t = self.entries[entry[near]], t[near]
        good = self._within(origins[ray], directions[ray], candidate, along[near])
        ray, candidate, t = ray[good], candidate[good], t[good]
        order = np.lexsort((candidate, t, ray))
        ray, candidate, t = ray[order], candidate[order], t[order]
        first = np.append(True, ray[1:] != ray[:-1]) if len(ray) else np.zeros(0, dtype=bool)
        ray, candidate, t = ray[first], candidate[first], t[first]
        better = t < distance[ray]
        distance[ray[better]] = t[better]
        triangle[ray[better]] = candidate[better]

    def _within(self, o: Floats, d: Floats, k: Ints, along: Floats) -> NDArray[np.bool_]:
        """True where a ray passes through its triangle rather than beside it."""
        w = np.cross(self.a[k] - o, d)
        u = np.einsum("ij,ij->i", w, self.ac[k]) / along
        v = -np.einsum("ij,ij->i", w, self.ab[k]) / along
        found: NDArray[np.bool_] = (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1.0 + 1e-9)
        return found

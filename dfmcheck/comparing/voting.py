"""Votes of faces for rotations and translations, on arrays."""

import itertools
from collections.abc import Sequence
from typing import TYPE_CHECKING

from dfmcheck.comparing.faces import RADIUS_MM
from dfmcheck.comparing.geometry import Placed
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Frame
from dfmcheck.model.vector import norm

if TYPE_CHECKING:
    from numpy import bool_, float64, int64
    from numpy.typing import NDArray

    Array = NDArray[float64]
    Flags = NDArray[bool_]

_VOTE_MM = 0.02


class Voting:
    """Faces as arrays, and votes for translations under a given rotation."""

    def __init__(
        self, before: Sequence[Placed], after: Sequence[Placed], pairs: Sequence[tuple[int, int]]
    ) -> None:
        """Take the faces of both revisions and the pairs (positions) of faces of one size."""
        import numpy as np

        self._before = _Columns(before)
        self._after = _Columns(after)
        self._pairs = np.array(pairs, dtype=np.int64).reshape(-1, 2)
        self._weights = self._before.share[self._pairs[:, 0]] if len(pairs) else np.zeros(0)

    def shifts(self, r: "Array") -> list[tuple[float, Vec]]:
        """The two translations for which most pairs of equal faces fall together."""
        import numpy as np

        if not len(self._pairs):
            return []
        i, j = self._pairs[:, 0], self._pairs[:, 1]
        turned = self._before.direction[i] @ r.T
        cosine = np.einsum("ij,ij->i", turned, self._after.direction[j])
        cosine = np.where(self._before.signed[i], cosine, np.abs(cosine))
        fits = (cosine > 1.0 - 5e-7) | self._before.free[i]
        if not fits.any():
            return []
        moves = self._after.centre[j[fits]] - self._before.centre[i[fits]] @ r.T
        weights = self._weights[fits]
        cells = np.round(moves / _VOTE_MM).astype(np.int64)
        _, inverse = np.unique(cells, axis=0, return_inverse=True)
        inverse = inverse.reshape(-1)
        votes = np.bincount(inverse, weights=weights)
        result = []
        for k in np.argsort(-np.round(votes, 9), kind="stable")[:2]:
            near = np.abs(moves - moves[inverse == k][0]).max(axis=1) < 2 * _VOTE_MM
            x, y, z = (float(v) for v in np.median(moves[near], axis=0))
            result.append((float(weights[near].sum()), (x, y, z)))
        return result

    def profiles(self, rotations: "Array") -> "Array":
        """For each rotation, the share of area that then faces the same way.

        Planes count with their sign, axes without. `rotations` has the shape (n, 3, 3).
        """
        import numpy as np

        total = np.zeros(len(rotations))
        for signed in (True, False):
            a = self._before.directions(signed=signed)
            b = self._after.directions(signed=signed)
            if not len(a[1]) or not len(b[1]):
                continue
            turned = np.einsum("nij,kj->nki", rotations, a[0])
            cosine = np.einsum("nki,mi->nkm", turned, b[0])
            meets = (cosine if signed else np.abs(cosine)) > 1.0 - 5e-5
            total += (meets * np.minimum(a[1][:, None], b[1][None, :])).sum(axis=(1, 2))
        return total / max(float(self._after.area.sum()), 1e-12)

    def shifts_by_carriers(self, r: "Array", frame: Frame) -> list[tuple[float, Vec]]:
        """Translations composed of votes of plane offsets and axes along the frame's axes."""
        import numpy as np

        axes = np.array((frame.x, frame.y, frame.z))
        votes = [self._along(r, axes[k]) for k in range(3)]
        result = []
        for choice in itertools.product(*votes):
            shift = sum(value * axes[k] for k, (_, value) in enumerate(choice))
            x, y, z = (float(v) for v in shift)
            result.append((sum(w for w, _ in choice), (x, y, z)))
        return sorted(result, key=lambda x: (-round(x[0], 6), round(norm(x[1]), 3), x[1]))[:4]

    def _along(self, r: "Array", axis: "Array") -> list[tuple[float, float]]:
        """The two best offsets along one direction, each with its weight."""
        import numpy as np

        moves: list[Array] = [np.zeros(1)]
        weights: list[Array] = [np.full(1, 1e-9)]
        along_before = self._before.direction @ r.T @ axis
        along_after = self._after.direction @ axis
        place_before = self._before.place @ r.T @ axis
        place_after = self._after.place @ axis
        for signed, value in ((True, 1.0), (True, -1.0), (False, 0.0)):
            a = self._before.facing(along_before, value, signed=signed)
            b = self._after.facing(along_after, value, signed=signed)
            w = np.minimum(self._before.share[a][:, None], self._after.share[b][None, :])
            if not signed:
                radii = self._before.radius[a][:, None] - self._after.radius[b][None, :]
                w = w * (np.abs(radii) < RADIUS_MM)
            moves.append((place_after[b][None, :] - place_before[a][:, None]).reshape(-1))
            weights.append(w.reshape(-1))
        moved, weighed = np.concatenate(moves), np.concatenate(weights)
        cells = np.round(moved / _VOTE_MM).astype(np.int64)
        _, first, inverse = np.unique(cells, return_index=True, return_inverse=True)
        votes = np.bincount(inverse.reshape(-1), weights=weighed)
        order = np.lexsort((np.round(np.abs(moved[first]), 3), -np.round(votes, 6)))
        return [(float(votes[k]), float(moved[first[k]])) for k in order[:2]]


class _Columns:
    """Faces as arrays of length n.

    `centre`, `direction`, `place` are (n, 3); `share` is the mean of a face's share of the area
    and of the number of faces; `signed` marks planes, `free` faces without a
    direction of their own.
    """

    def __init__(self, faces: Sequence[Placed]) -> None:
        """Lay the faces out as arrays."""
        import numpy as np

        free = [
            f.kind in ("freeform", "sphere") or (f.kind != "plane" and f.axis is None)
            for f in faces
        ]
        directions = [
            f.normal if loose or f.axis is None or f.kind == "plane" else f.axis
            for f, loose in zip(faces, free, strict=True)
        ]
        places = [f.centre if f.kind == "plane" or f.point is None else f.point for f in faces]
        self.centre: Array = np.array([f.centre for f in faces], dtype=float).reshape(-1, 3)
        self.direction: Array = np.array(directions, dtype=float).reshape(-1, 3)
        self.place: Array = np.array(places, dtype=float).reshape(-1, 3)
        self.area: Array = np.array([f.area for f in faces], dtype=float)
        total = max(float(self.area.sum()), 1e-12)
        self.share: Array = 0.5 * self.area / total + 0.5 / max(len(faces), 1)
        self.radius: Array = np.array([f.radius for f in faces], dtype=float)
        self.signed: Flags = np.array([f.kind == "plane" for f in faces], dtype=bool)
        self.free: Flags = np.array(free, dtype=bool)

    def facing(self, along: "Array", value: float, *, signed: bool) -> "NDArray[int64]":
        """The 100 largest planes (`signed`) or axes whose cosine `along` a direction is `value`."""
        import numpy as np

        slack = 1e-6 if signed else 1e-3
        fits = (self.signed == signed) & ~self.free & (np.abs(along - value) < slack)
        found = np.flatnonzero(fits)
        return found[np.argsort(-self.area[found], kind="stable")][:100]

    def directions(self, *, signed: bool) -> "tuple[Array, Array]":
        """The 40 heaviest distinct directions (n, 3) of planes or of axes, and their areas."""
        import numpy as np

        chosen = (self.signed == signed) & ~self.free
        sums: dict[tuple[int, ...], tuple[float, list[float]]] = {}
        rows = zip(self.direction[chosen].tolist(), self.area[chosen].tolist(), strict=True)
        for direction, area in rows:
            key = tuple(round(50.0 * x) for x in direction)
            back = tuple(-k for k in key)
            if not signed and key < back:
                key, direction = back, [-x for x in direction]  # noqa: PLW2901
            weight, first = sums.get(key, (0.0, direction))
            sums[key] = (weight + area, first)
        heavy = sorted(sums.values(), key=lambda e: -e[0])[:40]
        return (
            np.array([e[1] for e in heavy], dtype=float).reshape(-1, 3),
            np.array([e[0] for e in heavy], dtype=float),
        )

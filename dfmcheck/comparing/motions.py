"""Candidate motions between two revisions, from rare faces, canonical frames and parallel axes.

Bounded: at most `MAX_PAIRS` pairs of faces vote, at most `MAX_ROTATIONS` rotations are tried, at
most `MAX_MOTIONS` motions are handed out for full scoring.
"""

import bisect
import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from dfmcheck.comparing.faces import AREA_RATIO, RADIUS_MM, same_size
from dfmcheck.comparing.geometry import Placed, cross, distance, dot, norm, scaled, sub, unit
from dfmcheck.model.base import Vec
from dfmcheck.model.change import Motion
from dfmcheck.model.facts import Frame

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Array = NDArray[float64]

MAX_PAIRS = 4000
MAX_ROTATIONS = 160
MAX_VOTES = 48
MAX_MOTIONS = 10
_VOTE_MM = 0.02
_RARE = 12

Rows = tuple[Vec, Vec, Vec]


def candidate_motions(
    before: Sequence[Placed], after: Sequence[Placed], frames: tuple[Frame, Frame]
) -> list[Motion]:
    """Motions that may carry `before` onto `after`, the most promising first.

    Args:
        before: faces of the first revision, in its own coordinates (scaled where need be).
        after: faces of the second revision, in its own coordinates.
        frames: the canonical frames of both.
    """
    import numpy as np

    pairs = _alike(before, after)
    rotations = _distinct(
        itertools.chain(
            [((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))],
            _from_frames(*frames),
            _from_rare_faces(pairs, before, after),
            _from_axes(before, after),
        )
    )
    voting = _Voting(before, after, pairs)
    profiles = voting.profiles(np.array(rotations))
    order = sorted(range(len(rotations)), key=lambda k: (-round(float(profiles[k]), 4), k))
    by_faces: list[tuple[float, float, int, Motion]] = []
    for number in order[:MAX_VOTES]:
        for weight, shift in voting.shifts(np.array(rotations[number])):
            motion = _motion(rotations[number], shift)
            by_faces.append((-round(weight, 6), round(norm(shift), 3), number, motion))
    by_faces.sort(key=lambda x: x[:3])
    chosen = [m for *_, m in by_faces[: MAX_MOTIONS // 2]]
    scored = [
        (-round(weight, 6), number, _motion(rotations[number], shift))
        for number in order[:6]
        for weight, shift in voting.shifts_by_carriers(np.array(rotations[number]), frames[1])
    ]
    scored.sort(key=lambda x: x[:2])
    chosen += [m for *_, m in scored[: MAX_MOTIONS - len(chosen)]]
    return chosen


def _motion(rows: Rows, shift: Vec) -> Motion:
    det = dot(rows[0], cross(rows[1], rows[2]))
    return Motion(rows=rows, shift_mm=shift, mirrored=det < 0.0)


def _distinct(rotations: Iterable[Rows]) -> list[Rows]:
    seen: set[tuple[float, ...]] = set()
    result: list[Rows] = []
    for rows in rotations:
        key = tuple(round(x, 3) + 0.0 for r in rows for x in r)
        if key not in seen:
            seen.add(key)
            result.append(rows)
            if len(result) >= MAX_ROTATIONS:
                break
    return result


def _alike(before: Sequence[Placed], after: Sequence[Placed]) -> list[tuple[int, int]]:
    """Pairs (position before, position after) of faces of one size, rarest first."""
    groups: dict[tuple[str, str], list[tuple[float, int]]] = defaultdict(list)
    for j, b in enumerate(after):
        groups[b.kind, b.bend].append((b.area, j))
    for group in groups.values():
        group.sort()
    partners: list[tuple[int, float, int, list[int]]] = []
    for i, a in enumerate(before):
        group = groups.get((a.kind, a.bend), [])
        slack = AREA_RATIO * a.area + 1e-3
        first = bisect.bisect_left(group, (a.area - 2 * slack, -1))
        last = bisect.bisect_right(group, (a.area + 2 * slack, len(after)))
        found = [j for _, j in group[first:last] if same_size(a, after[j])]
        if found:
            partners.append((len(found), -a.area, i, found))
    pairs: list[tuple[int, int]] = []
    for _, _, i, found in sorted(partners):
        if len(pairs) + len(found) > MAX_PAIRS:
            break
        pairs += [(i, j) for j in found]
    return pairs


def _from_frames(a: Frame, b: Frame) -> Iterable[Rows]:
    """All 48 ways to lay the axes of one canonical frame on those of the other."""
    source = (a.x, a.y, a.z)
    target = (b.x, b.y, b.z)
    for order in itertools.permutations(range(3)):
        for signs in itertools.product((1.0, -1.0), repeat=3):
            yield _rows_from(source, tuple(scaled(target[k], s) for k, s in zip(order, signs, strict=True)))  # type: ignore[arg-type] # fmt: skip


def _rows_from(source: Rows, target: Rows) -> Rows:
    """The rotation that carries three square directions onto three others: sum of t s^T."""
    rows = tuple(
        tuple(sum(target[k][r] * source[k][c] for k in range(3)) + 0.0 for c in range(3))
        for r in range(3)
    )
    return rows  # type: ignore[return-value]


def _triad(direction: Vec, towards: Vec) -> Rows | None:
    """A right-handed frame of a direction and a second, not parallel vector."""
    flat = sub(towards, scaled(direction, dot(direction, towards)))
    if norm(flat) < 1e-3 * max(1.0, norm(towards)):
        return None
    y = unit(flat)
    return direction, y, cross(direction, y)


def _both_hands(source: Rows, target: Rows) -> tuple[Rows, Rows]:
    x, y, z = target
    return _rows_from(source, target), _rows_from(source, (x, y, scaled(z, -1.0)))


def _from_rare_faces(
    pairs: Sequence[tuple[int, int]], before: Sequence[Placed], after: Sequence[Placed]
) -> Iterable[Rows]:
    """Two pairs of rare faces with equal distance and angles give a rotation of either hand."""
    partners: dict[int, list[int]] = defaultdict(list)
    for i, j in pairs:
        partners[i].append(j)
    rare = sorted(partners, key=lambda i: (len(partners[i]), -before[i].area, before[i].centre))
    rare = [i for i in rare if len(partners[i]) <= 8 and before[i].kind != "sphere"][:_RARE]
    for i1, i2 in itertools.permutations(rare, 2):
        a1, a2 = before[i1], before[i2]
        source = _oriented(a1, a2)
        if source is None:
            continue
        for j1, j2 in itertools.product(partners[i1], partners[i2]):
            b1, b2 = after[j1], after[j2]
            if j1 == j2 or abs(distance(a1.centre, a2.centre) - distance(b1.centre, b2.centre)) > 0.02:  # fmt: skip
                continue
            for sign in (1.0, -1.0) if b1.kind != "plane" else (1.0,):
                target = _oriented(b1, b2, sign)
                if target is not None:
                    yield from _both_hands(source, target)


def _oriented(first: Placed, second: Placed, sign: float = 1.0) -> Rows | None:
    direction = first.normal if first.kind == "plane" else first.axis
    if direction is None:
        return None
    return _triad(scaled(direction, sign), sub(second.centre, first.centre))


def _from_axes(before: Sequence[Placed], after: Sequence[Placed]) -> Iterable[Rows]:
    """Pattern of parallel axes: two bores of given radii at a given distance."""
    targets: dict[tuple[int, int, int], list[tuple[Vec, Vec]]] = defaultdict(list)
    for b1, b2, axis, across in _parallel(after):
        targets[_axis_key(b1, b2, across)].append((axis, across))
    tried = 0
    for a1, a2, axis, across in _parallel(before):
        source = _triad(axis, across)
        found = targets.get(_axis_key(a1, a2, across), [])
        if source is None or len(found) > 8:
            continue
        for other, over in found:
            for sign in (1.0, -1.0):
                target = _triad(scaled(other, sign), over)
                if target is not None:
                    yield from _both_hands(source, target)
        tried += 1
        if tried >= 16:
            return


def _axis_key(a: Placed, b: Placed, across: Vec) -> tuple[int, int, int]:
    return (round(a.radius / 0.02), round(b.radius / 0.02), round(norm(across) / 0.1))


def _parallel(faces: Sequence[Placed]) -> Iterable[tuple[Placed, Placed, Vec, Vec]]:
    """Ordered pairs of parallel cylinder axes with the vector across, widest apart first."""
    lines: list[Placed] = []
    for f in faces:
        if f.kind != "cylinder" or f.axis is None or f.point is None or f.span < 170.0:
            continue
        lines.append(f)
    lines = sorted(lines, key=lambda f: (-f.radius, -f.area, f.centre))[:40]
    found: list[tuple[float, int, int, Placed, Placed, Vec, Vec]] = []
    for i, a in enumerate(lines):
        for j, b in enumerate(lines):
            if i == j or a.axis is None or b.axis is None or a.point is None or b.point is None:
                continue
            if abs(dot(a.axis, b.axis)) < 1.0 - 5e-7:
                continue
            d = sub(b.point, a.point)
            across = sub(d, scaled(a.axis, dot(d, a.axis)))
            if norm(across) > 0.5:
                found.append((-round(norm(across), 2), i, j, a, b, a.axis, across))
    found.sort(key=lambda x: x[:3])
    return [(a, b, axis, across) for *_, a, b, axis, across in found]


class _Voting:
    """Faces as arrays, and votes for translations under a given rotation."""

    def __init__(
        self, before: Sequence[Placed], after: Sequence[Placed], pairs: Sequence[tuple[int, int]]
    ) -> None:
        import numpy as np

        self._before = _columns(before)
        self._after = _columns(after)
        self._pairs = np.array(pairs, dtype=np.int64).reshape(-1, 2)
        rarity = np.bincount(self._pairs[:, 0], minlength=max(len(before), 1)).astype(float)
        areas = self._before["area"]
        total = max(float(areas.sum()), 1e-12)
        share = 0.5 * areas / total + 0.5 / max(len(before), 1)
        self._weights = share[self._pairs[:, 0]] if len(self._pairs) else np.zeros(0)
        self._rarity = rarity

    def shifts(self, r: "Array") -> list[tuple[float, Vec]]:
        """The two translations for which most pairs of equal faces fall together."""
        import numpy as np

        if not len(self._pairs):
            return []
        i, j = self._pairs[:, 0], self._pairs[:, 1]
        turned = self._before["direction"][i] @ r.T
        cosine = np.einsum("ij,ij->i", turned, self._after["direction"][j])
        cosine = np.where(self._before["signed"][i], cosine, np.abs(cosine))
        fits = (cosine > 1.0 - 5e-7) | self._before["any"][i]
        if not fits.any():
            return []
        moves = self._after["centre"][j[fits]] - self._before["centre"][i[fits]] @ r.T
        weights = self._weights[fits]
        cells = np.round(moves / _VOTE_MM).astype(np.int64)
        _, inverse = np.unique(cells, axis=0, return_inverse=True)
        inverse = inverse.reshape(-1)
        votes = np.bincount(inverse, weights=weights)
        best = sorted(range(len(votes)), key=lambda k: (-round(float(votes[k]), 9), k))[:2]
        result = []
        for k in best:
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
            a, b = (_directions(side, signed) for side in (self._before, self._after))
            if not len(a[1]) or not len(b[1]):
                continue
            turned = np.einsum("nij,kj->nki", rotations, a[0])
            cosine = np.einsum("nki,mi->nkm", turned, b[0])
            meets = (cosine if signed else np.abs(cosine)) > 1.0 - 5e-5
            total += (meets * np.minimum(a[1][:, None], b[1][None, :])).sum(axis=(1, 2))
        return total / max(float(self._after["area"].sum()), 1e-12)

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
        direction = self._before["direction"] @ r.T
        place_before = self._before["place"] @ r.T @ axis
        place_after = self._after["place"] @ axis
        along_before, along_after = direction @ axis, self._after["direction"] @ axis
        for signed, value in ((True, 1.0), (True, -1.0), (False, 0.0)):
            slack = 1e-6 if signed else 1e-3
            a = np.flatnonzero((self._before["signed"] == signed) & ~self._before["any"] & (np.abs(along_before - value) < slack))  # fmt: skip
            b = np.flatnonzero((self._after["signed"] == signed) & ~self._after["any"] & (np.abs(along_after - value) < slack))  # fmt: skip
            a = a[np.argsort(-self._before["area"][a], kind="stable")][:100]
            b = b[np.argsort(-self._after["area"][b], kind="stable")][:100]
            d = place_after[b][None, :] - place_before[a][:, None]
            w = np.minimum(self._before["area"][a][:, None], self._after["area"][b][None, :])
            if not signed:
                same = np.abs(self._before["radius"][a][:, None] - self._after["radius"][b][None, :]) < RADIUS_MM  # fmt: skip
                w = w * same
            moves.append(d.reshape(-1))
            weights.append(w.reshape(-1))
        all_moves, all_weights = np.concatenate(moves), np.concatenate(weights)
        cells = np.round(all_moves / _VOTE_MM).astype(np.int64)
        _, first, inverse = np.unique(cells, return_index=True, return_inverse=True)
        votes = np.bincount(inverse.reshape(-1), weights=all_weights)
        order = sorted(
            range(len(votes)),
            key=lambda k: (-round(float(votes[k]), 6), round(abs(float(all_moves[first[k]])), 3)),
        )
        return [(float(votes[k]), float(all_moves[first[k]])) for k in order[:2]]


def _columns(faces: Sequence[Placed]) -> "dict[str, Array]":
    """Arrays of length n: centre, direction, place (n, 3); area, radius; flags signed, any."""
    import numpy as np

    centre = np.array([f.centre for f in faces], dtype=float).reshape(-1, 3)
    direction = [
        f.normal if f.kind in ("plane", "freeform", "sphere") or f.axis is None else f.axis
        for f in faces
    ]
    place = [f.centre if f.kind == "plane" or f.point is None else f.point for f in faces]
    return {
        "centre": centre,
        "direction": np.array(direction, dtype=float).reshape(-1, 3),
        "place": np.array(place, dtype=float).reshape(-1, 3),
        "area": np.array([f.area for f in faces], dtype=float),
        "radius": np.array([f.radius for f in faces], dtype=float),
        "signed": np.array([f.kind == "plane" for f in faces], dtype=bool),
        "any": np.array([f.kind in ("freeform", "sphere") or (f.kind != "plane" and f.axis is None) for f in faces], dtype=bool),  # fmt: skip
    }


def _directions(side: "dict[str, Array]", signed: bool) -> "tuple[Array, Array]":
    """The 40 heaviest distinct directions (n, 3) and their areas (n,)."""
    import numpy as np

    chosen = (side["signed"] == signed) & ~side["any"].astype(bool)
    sums: dict[tuple[int, ...], list[Any]] = {}
    for d, area in zip(side["direction"][chosen].tolist(), side["area"][chosen].tolist(), strict=True):  # fmt: skip
        key = tuple(round(50.0 * x) for x in d)
        if not signed and key < tuple(-k for k in key):
            key, d = tuple(-k for k in key), [-x for x in d]
        entry = sums.setdefault(key, [0.0, d])
        entry[0] += area
    heavy = sorted(sums.values(), key=lambda e: -e[0])[:40]
    return (
        np.array([e[1] for e in heavy], dtype=float).reshape(-1, 3),
        np.array([e[0] for e in heavy], dtype=float),
    )


def angle_of(rows: Rows) -> float:
    """Angle of a rotation in rad; of the rotation left after a point mirror for the other hand."""
    det = dot(rows[0], cross(rows[1], rows[2]))
    trace = rows[0][0] + rows[1][1] + rows[2][2]
    sign = 1.0 if det > 0.0 else -1.0
    return math.acos(max(-1.0, min(1.0, (sign * trace - 1.0) / 2.0)))

"""Candidate motions between two revisions, from rare faces, canonical frames and parallel axes.

Bounded: at most `MAX_PAIRS` pairs of faces vote, at most `MAX_ROTATIONS` rotations are tried, at
most `MAX_MOTIONS` motions are handed out for full scoring.
"""

import bisect
import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence

from dfmcheck.comparing.faces import AREA_RATIO, same_size
from dfmcheck.comparing.geometry import Placed
from dfmcheck.comparing.voting import Voting
from dfmcheck.model.base import Vec
from dfmcheck.model.change import Motion
from dfmcheck.model.facts import Frame
from dfmcheck.model.vector import cross, distance, dot, norm, sub, unit
from dfmcheck.model.vector import scale as scaled

MAX_PAIRS = 3000
MAX_ROTATIONS = 160
MAX_VOTES = 48
MAX_MOTIONS = 8
_RARE = 12
_COMMON = 64
_WORTH = 0.6
_ALL = 0.98

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
            _from_frames(*frames),
            [((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))],
            _from_rare_faces(pairs, before, after),
            _from_axes(before, after),
        )
    )
    voting = Voting(before, after, pairs)
    profiles = voting.profiles(np.array(rotations))
    order = sorted(range(len(rotations)), key=lambda k: (-round(float(profiles[k]), 4), k))
    by_faces: list[tuple[float, float, int, Motion]] = []
    for number in order[:MAX_VOTES]:
        for weight, shift in voting.shifts(np.array(rotations[number])):
            motion = _motion(rotations[number], shift)
            by_faces.append((-round(weight, 6), round(norm(shift), 3), number, motion))
        if any(-w > _ALL and not m.mirrored for w, _, _, m in by_faces[-2:]):
            break
    by_faces.sort(key=lambda x: x[:3])
    worth = [x for x in by_faces if x[0] <= _WORTH * by_faces[0][0]]
    chosen = [m for *_, m in worth[: MAX_MOTIONS // 2]]
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
        key = tuple(round(x, 5) + 0.0 for r in rows for x in r)
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
        if last - first > _COMMON:
            continue  # one of a crowd of equal faces tells nothing
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
    for i, j, k in itertools.permutations(range(3)):
        for p, q, r in itertools.product((1.0, -1.0), repeat=3):
            laid = (scaled(target[i], p), scaled(target[j], q), scaled(target[k], r))
            yield _rows_from(source, laid)


def _rows_from(source: Rows, target: Rows) -> Rows:
    """The rotation that carries three square directions onto three others: sum of t s^T."""

    def row(r: int) -> Vec:
        x, y, z = (sum(target[k][r] * source[k][c] for k in range(3)) + 0.0 for c in range(3))
        return (x, y, z)

    return row(0), row(1), row(2)


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
            apart = distance(a1.centre, a2.centre) - distance(b1.centre, b2.centre)
            if j1 == j2 or abs(apart) > 0.02:
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


def angle_of(rows: Rows) -> float:
    """Angle of a rotation in rad; of the rotation left after a point mirror for the other hand."""
    det = dot(rows[0], cross(rows[1], rows[2]))
    trace = rows[0][0] + rows[1][1] + rows[2][2]
    sign = 1.0 if det > 0.0 else -1.0
    return math.acos(max(-1.0, min(1.0, (sign * trace - 1.0) / 2.0)))

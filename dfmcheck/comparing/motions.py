"""Candidate motions between two revisions, from rare faces, canonical frames and parallel axes.

Bounded: at most `MAX_PAIRS` pairs of faces vote, at most `MAX_ROTATIONS` rotations are tried, at
most `MAX_MOTIONS` motions are handed out for full scoring.
"""

import bisect
import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import NamedTuple

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
MAX_VOTES = 24
MAX_MOTIONS = 8
_RARE = 12
_COMMON = 64
_WORTH = 0.6
_ALL = 0.98
_SAME_TURN = 2e-3

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
    turns = _ranked(rotations, voting)
    rigid = [t for t in turns if not t.mirrored]
    images = [t for t in turns if t.mirrored]
    chosen = _by_faces(voting, rigid[:MAX_VOTES] + images[:MAX_VOTES])
    scored = [
        (-round(weight, 6), number, _motion(t.rows, shift))
        for number, t in enumerate(rigid[:4] + images[:2])
        for weight, shift in voting.shifts_by_carriers(np.array(t.rows), frames[1])
    ]
    scored.sort(key=lambda x: x[:2])
    return chosen + [m for *_, m in scored[: MAX_MOTIONS - len(chosen)]]


class _Turn(NamedTuple):
    """A rotation with the share of area that then faces the same way, its hand and angle."""

    profile: float
    mirrored: bool
    angle: float
    number: int
    rows: Rows


def _ranked(rotations: Sequence[Rows], voting: Voting) -> list[_Turn]:
    """Best profile first, then the same hand, then the least angle."""
    import numpy as np

    profiles = voting.profiles(np.array(rotations))
    turns = [
        _Turn(
            profile=round(float(profile), 4),
            mirrored=dot(rows[0], cross(rows[1], rows[2])) < 0.0,
            angle=round(angle_of(rows), 4),
            number=number,
            rows=rows,
        )
        for number, (rows, profile) in enumerate(zip(rotations, profiles, strict=True))
    ]
    return sorted(turns, key=lambda t: (-t.profile, t.mirrored, t.angle, t.number))


def _by_faces(voting: Voting, turns: Sequence[_Turn]) -> list[Motion]:
    """Motions that lay most faces of one size on each other."""
    import numpy as np

    found: list[tuple[float, bool, float, float, int, Motion]] = []
    for place, t in enumerate(turns):
        votes = voting.shifts(np.array(t.rows))
        for weight, shift in votes:
            rank = (-round(weight, 3), t.mirrored, t.angle, round(norm(shift), 3), place)
            found.append((*rank, _motion(t.rows, shift)))
        if not t.mirrored and votes and votes[0][0] > _ALL:
            break
    found.sort(key=lambda x: x[:5])
    worth = [x for x in found if x[0] <= _WORTH * found[0][0]]
    return [m for *_, m in worth[: MAX_MOTIONS // 2]]


def _motion(rows: Rows, shift: Vec) -> Motion:
    det = dot(rows[0], cross(rows[1], rows[2]))
    return Motion(rows=rows, shift_mm=shift, mirrored=det < 0.0)


def _distinct(rotations: Iterable[Rows]) -> list[Rows]:
    """Without those that hardly differ from an earlier one: frames come first and are exact."""
    result: list[Rows] = []
    cells: dict[tuple[int, ...], list[Rows]] = defaultdict(list)
    for rows in rotations:
        flat = [x for r in rows for x in r]
        key = tuple(round(10.0 * x) for x in flat[:3])
        near = itertools.product(*((k - 1, k, k + 1) for k in key))
        if any(_close(rows, other) for cell in near for other in cells.get(cell, ())):
            continue
        cells[key].append(rows)
        result.append(rows)
        if len(result) >= MAX_ROTATIONS:
            break
    return result


def _close(a: Rows, b: Rows) -> bool:
    return all(
        abs(x - y) < _SAME_TURN
        for r, q in zip(a, b, strict=True)
        for x, y in zip(r, q, strict=True)
    )


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


def fitted_motion(pairs: Sequence[tuple[Vec, Vec]], *, mirrored: bool) -> Motion | None:
    """The motion of this hand that carries points onto their partners with least squares.

    By singular value decomposition (W. Kabsch, Acta Crystallographica A32, 1976, p. 922). None
    where the points lie on one line.
    """
    import numpy as np

    p = np.array([a for a, _ in pairs])
    q = np.array([b for _, b in pairs])
    u, s, vt = np.linalg.svd((p - p.mean(axis=0)).T @ (q - q.mean(axis=0)))
    if s[1] < 1e-6 * max(float(s[0]), 1e-12):
        return None
    hand = np.sign(np.linalg.det(u) * np.linalg.det(vt)) * (-1.0 if mirrored else 1.0)
    rows = vt.T @ np.diag([1.0, 1.0, hand]) @ u.T
    shift = q.mean(axis=0) - rows @ p.mean(axis=0)
    r = [(float(x), float(y), float(z)) for x, y, z in rows]
    return _motion((r[0], r[1], r[2]), (float(shift[0]), float(shift[1]), float(shift[2])))

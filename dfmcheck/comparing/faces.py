"""Matching the faces of two revisions that lie in common coordinates.

Three stages: exact; same carrier, many to many (this is how splits and merges show); moved
carrier, by overlap of matched neighbours, size and distance.
"""

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from dfmcheck.comparing.geometry import Placed, boxes_meet, off_line
from dfmcheck.model.base import Vec
from dfmcheck.model.vector import distance, dot, scale, sub

POINT_MM = 0.01
"""Points closer than this are the same place."""
RADIUS_MM = 0.002
"""Radii closer than this are equal."""
AREA_RATIO = 1e-4
"""Areas closer than this share are equal."""
_PARALLEL = 1.0 - 5e-7  # cosine of 1e-3 rad
_SAME_PLANE = 1.0 - 2e-8  # cosine of 2e-4 rad
_CARRIER_CREDIT = 0.85
_CELL_MM = 16.0
_ALIKE_AREA = 4.0


@dataclass(frozen=True, slots=True)
class Group:
    """Faces on one carrier that overlap; `same` where they cover the same area."""

    before: tuple[int, ...]
    after: tuple[int, ...]
    same: bool


@dataclass(frozen=True)
class FaceMatches:
    """The result: indices of faces before and after.

    `exact` and `moved` are one to one; `groups` many to many; `gone` and `new` have no partner.
    `score` is the share (0 to 1) of both parts that lies on matched faces, moved ones not counted.
    """

    exact: tuple[tuple[int, int], ...]
    groups: tuple[Group, ...]
    moved: tuple[tuple[int, int], ...]
    gone: tuple[int, ...]
    new: tuple[int, ...]
    score: float

    @property
    def complete(self) -> bool:
        """True where every face has its equal (perhaps cut into other pieces)."""
        return not (self.moved or self.gone or self.new) and all(g.same for g in self.groups)

    @cached_property
    def unchanged(self) -> tuple[frozenset[int], frozenset[int]]:
        """Faces before and after that have their equal, perhaps cut into other pieces."""
        before = {i for i, _ in self.exact} | {i for g in self.groups if g.same for i in g.before}
        after = {j for _, j in self.exact} | {j for g in self.groups if g.same for j in g.after}
        return frozenset(before), frozenset(after)

    @property
    def pairs(self) -> tuple[tuple[int, int], ...]:
        """All matched (before, after), sorted."""
        grouped = [(i, j) for g in self.groups for i in g.before for j in g.after]
        return tuple(sorted([*self.exact, *grouped, *self.moved]))


def match_faces(
    before: Sequence[Placed], after: Sequence[Placed], *, moved: bool = True
) -> FaceMatches:
    """Match faces; without `moved` only the first two stages, as alignment needs them."""
    exact = _exact(before, after)
    used_before = {i for i, _ in exact}
    used_after = {j for _, j in exact}
    groups = _groups(
        [f for f in before if f.index not in used_before],
        [f for f in after if f.index not in used_after],
    )
    used_before.update(i for g in groups for i in g.before)
    used_after.update(j for g in groups for j in g.after)
    rest_before = [f for f in before if f.index not in used_before]
    rest_after = [f for f in after if f.index not in used_after]
    pairs: list[tuple[int, int]] = []
    if moved and rest_before and rest_after:
        known = [*exact, *((i, j) for g in groups for i in g.before for j in g.after)]
        pairs = _moved(rest_before, rest_after, known, before, after)
    taken_before, taken_after = {i for i, _ in pairs}, {j for _, j in pairs}
    return FaceMatches(
        exact=tuple(exact),
        groups=tuple(groups),
        moved=tuple(sorted(pairs)),
        gone=tuple(f.index for f in rest_before if f.index not in taken_before),
        new=tuple(f.index for f in rest_after if f.index not in taken_after),
        score=_score(before, after, exact, groups),
    )


def same_size(a: Placed, b: Placed) -> bool:
    """Same surface, side, radii and area."""
    return (
        a.kind == b.kind
        and (a.bend == b.bend or a.kind == "freeform")
        and close_area(a.area, b.area)
        and abs(a.radius - b.radius) <= RADIUS_MM
        and abs(a.minor - b.minor) <= RADIUS_MM
        and abs(a.half_angle - b.half_angle) <= 0.02
    )


def close_area(a: float, b: float) -> bool:
    """Equal within the area tolerance."""
    return abs(a - b) <= AREA_RATIO * max(a, b) + 1e-3


def same_direction(a: Placed, b: Placed) -> bool:
    """Planes facing the same way; axes parallel; spheres and freeform faces always."""
    if a.kind == "plane":
        return dot(a.normal, b.normal) > _PARALLEL
    if a.kind in ("sphere", "freeform") or a.axis is None or b.axis is None:
        return True
    return abs(dot(a.axis, b.axis)) > _PARALLEL


def _exact(before: Sequence[Placed], after: Sequence[Placed]) -> list[tuple[int, int]]:
    cells: dict[tuple[str, int, int, int], list[Placed]] = defaultdict(list)
    size = 0.25
    for b in after:
        c = b.centre
        cells[(b.kind, *(math.floor(x / size) for x in c))].append(b)  # type: ignore[index]
    found: list[tuple[float, int, int]] = []
    for a in before:
        spans = [
            range(math.floor((x - POINT_MM) / size), math.floor((x + POINT_MM) / size) + 1)
            for x in a.centre
        ]
        for i in spans[0]:
            for j in spans[1]:
                for k in spans[2]:
                    for b in cells.get((a.kind, i, j, k), ()):
                        d = distance(a.centre, b.centre)
                        if d <= POINT_MM and same_size(a, b) and same_direction(a, b):
                            found.append((round(d, 6), a.index, b.index))
    return _one_to_one(sorted(found))


def _one_to_one(ranked: Iterable[tuple[float, int, int]]) -> list[tuple[int, int]]:
    taken_before: set[int] = set()
    taken_after: set[int] = set()
    pairs: list[tuple[int, int]] = []
    for _, i, j in ranked:
        if i not in taken_before and j not in taken_after:
            taken_before.add(i)
            taken_after.add(j)
            pairs.append((i, j))
    return sorted(pairs)


def same_carrier(a: Placed, b: Placed) -> bool:
    """True where two faces of one kind lie on the same infinite surface, same side out."""
    if a.kind != b.kind or not same_direction(a, b):
        return False
    if a.kind == "plane":
        d = sub(b.centre, a.centre)
        return (
            dot(a.normal, b.normal) > _SAME_PLANE
            and abs(dot(a.normal, d)) <= POINT_MM
            and abs(dot(b.normal, d)) <= POINT_MM
        )
    if a.bend != b.bend or a.point is None or b.point is None:
        return False
    if abs(a.radius - b.radius) > RADIUS_MM or abs(a.minor - b.minor) > RADIUS_MM:
        return False
    if a.kind == "sphere":
        return distance(a.point, b.point) <= POINT_MM
    if a.axis is None or b.axis is None or off_line(b.point, a.point, a.axis) > POINT_MM:
        return False
    if a.kind == "torus":
        return distance(a.point, b.point) <= POINT_MM
    if a.kind == "cone":
        if a.apex is None or b.apex is None or abs(a.half_angle - b.half_angle) > 0.02:
            return False
        return distance(a.apex, b.apex) <= 2 * POINT_MM
    return a.kind == "cylinder"


def _mark(f: Placed) -> tuple[float, ...]:
    """Numbers that are equal for faces of one carrier, to look them up by."""
    if f.kind == "plane":
        return (dot(f.normal, f.centre),)
    if f.point is None:
        return (f.radius,)
    if f.kind in ("cylinder", "cone") and f.axis is not None:
        return sub(f.point, scale(f.axis, dot(f.point, f.axis)))
    return f.point


def _groups(before: Sequence[Placed], after: Sequence[Placed]) -> list[Group]:
    buckets: dict[tuple[str, str, tuple[int, ...]], list[Placed]] = defaultdict(list)
    for b in after:
        buckets[b.kind, b.bend, tuple(math.floor(x) for x in _mark(b))].append(b)
    links: list[tuple[int, int]] = []
    for a in before:
        spans = [range(math.floor(x - 0.05), math.floor(x + 0.05) + 1) for x in _mark(a)]
        for cell in itertools.product(*spans):
            links += [
                (a.index, b.index)
                for b in buckets.get((a.kind, a.bend, cell), ())
                if same_carrier(a, b) and boxes_meet(a, b, POINT_MM) and _spans_meet(a, b)
            ]
    by_before = {f.index: f for f in before}
    by_after = {f.index: f for f in after}
    groups: list[Group] = []
    for left, right in components(links):
        same = _same_cover([by_before[i] for i in left], [by_after[j] for j in right])
        groups.append(Group(before=left, after=right, same=same))
    return groups


def _spans_meet(a: Placed, b: Placed) -> bool:
    """Coaxial faces overlap along the axis by more than a touch."""
    if a.kind != "cylinder" or a.axis is None or a.along is None or b.along is None:
        return True
    if a.point is None or b.point is None or b.axis is None:
        return True
    sign = 1.0 if dot(a.axis, b.axis) > 0 else -1.0
    shift = dot(sub(b.point, a.point), a.axis)
    ends = sorted((shift + sign * b.along[0], shift + sign * b.along[1]))
    return min(a.along[1], ends[1]) - max(a.along[0], ends[0]) > POINT_MM


def components(
    links: Iterable[tuple[int, int]],
) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Connected components of a graph between two numbered sides, each side sorted."""
    to_after: dict[int, set[int]] = defaultdict(set)
    to_before: dict[int, set[int]] = defaultdict(set)
    for i, j in links:
        to_after[i].add(j)
        to_before[j].add(i)
    seen: set[int] = set()
    result: list[tuple[tuple[int, ...], tuple[int, ...]]] = []
    for start in sorted(to_after):
        if start in seen:
            continue
        left, right, todo = {start}, set[int](), [start]
        while todo:
            for j in to_after[todo.pop()] - right:
                right.add(j)
                fresh = to_before[j] - left
                left |= fresh
                todo.extend(fresh)
        seen |= left
        result.append((tuple(sorted(left)), tuple(sorted(right))))
    return result


def _same_cover(before: Sequence[Placed], after: Sequence[Placed]) -> bool:
    area_before, area_after = sum(f.area for f in before), sum(f.area for f in after)
    if not close_area(area_before, area_after):
        return False
    if area_before <= 0.0 or area_after <= 0.0:
        return True
    return distance(_middle(before, area_before), _middle(after, area_after)) <= POINT_MM


def _middle(faces: Sequence[Placed], area: float) -> Vec:
    x, y, z = (sum(f.area * f.centre[k] for f in faces) / area for k in range(3))
    return (x, y, z)


def _score(
    before: Sequence[Placed],
    after: Sequence[Placed],
    exact: Sequence[tuple[int, int]],
    groups: Sequence[Group],
) -> float:
    """Mean of the matched share of area and of the matched share of the number of faces."""
    area_before = {f.index: f.area for f in before}
    area_after = {f.index: f.area for f in after}
    total = sum(area_before.values()) + sum(area_after.values())
    count = len(before) + len(after)
    if total <= 0.0 or count == 0:
        return 0.0
    area = sum(area_before[i] + area_after[j] for i, j in exact)
    number = 2.0 * len(exact)
    for g in groups:
        a, b = sum(area_before[i] for i in g.before), sum(area_after[j] for j in g.after)
        credit = 1.0 if g.same else _CARRIER_CREDIT * min(a, b) / max(a, b, 1e-12)
        area += credit * (a + b)
        number += credit * (len(g.before) + len(g.after))
    return 0.5 * area / total + 0.5 * number / count


def _moved(
    rest_before: Sequence[Placed],
    rest_after: Sequence[Placed],
    known: Iterable[tuple[int, int]],
    before: Sequence[Placed],
    after: Sequence[Placed],
) -> list[tuple[int, int]]:
    """Assign what is left in at most four passes, each knowing the pairs of the one before."""
    images: dict[int, set[int]] = defaultdict(set)
    for i, j in known:
        images[i].add(j)
    diagonal = max(_diagonal(before), _diagonal(after), 1e-9)
    left = {f.index: f for f in rest_before}
    right = {f.index: f for f in rest_after}
    pairs: list[tuple[int, int]] = []
    for _ in range(4):
        ranked: list[tuple[float, float, Vec, Vec, int, int]] = []
        for i, j in _candidates(left, right):
            a, b = left[i], right[j]
            value = _likeness(a, b, images, diagonal)
            if value is not None:
                d = distance(a.centre, b.centre)
                ranked.append((-round(value, 6), round(d, 4), a.centre, b.centre, i, j))
        fresh = _one_to_one((r[0], r[4], r[5]) for r in sorted(ranked))
        if not fresh:
            break
        for i, j in fresh:
            pairs.append((i, j))
            images[i].add(j)
            del left[i], right[j]
    return pairs


def _diagonal(faces: Sequence[Placed]) -> float:
    low = [min(f.low[k] for f in faces) for k in range(3)]
    high = [max(f.high[k] for f in faces) for k in range(3)]
    return math.dist(low, high)


def _candidates(left: dict[int, Placed], right: dict[int, Placed]) -> set[tuple[int, int]]:
    """Pairs that lie near each other, or are of one size."""
    cells: dict[tuple[str, int, int, int], list[int]] = defaultdict(list)
    sizes: dict[tuple[str, str, int], list[int]] = defaultdict(list)
    for j, b in right.items():
        cells[_cell(b.kind, b.centre)].append(j)
        sizes[_size_key(b)].append(j)
    pairs: set[tuple[int, int]] = set()
    for i, a in left.items():
        reach = 1.5 * math.sqrt(a.area)  # of faces up to four times as large
        spans = [
            range(math.floor((x - reach) / _CELL_MM), math.floor((x + reach) / _CELL_MM) + 1)
            for x in a.centre
        ]
        if math.prod(len(s) for s in spans) > len(right):
            pairs.update((i, j) for j in right)
        else:
            for x, y, z in itertools.product(*spans):
                pairs.update((i, j) for j in cells.get((a.kind, x, y, z), ()))
        alike = sizes.get(_size_key(a), ())
        if len(alike) <= 40:
            pairs.update((i, j) for j in alike)
    return {p for p in pairs if _comparable(left[p[0]], right[p[1]])}


def _cell(kind: str, p: Vec) -> tuple[str, int, int, int]:
    x, y, z = (math.floor(v / _CELL_MM) for v in p)
    return (kind, x, y, z)


def _size_key(f: Placed) -> tuple[str, str, int]:
    return (f.kind, f.bend, round(20.0 * math.log(max(f.area, 1e-6))))


def _comparable(a: Placed, b: Placed) -> bool:
    return a.kind == b.kind and (a.bend == b.bend or a.kind == "freeform") and same_direction(a, b)


def _likeness(a: Placed, b: Placed, images: dict[int, set[int]], diagonal: float) -> float | None:
    """How well two faces correspond, or None where too little speaks for it."""
    shared = sum(1 for n in a.neighbours if images.get(n, set()) & b.neighbours)
    most = max(len(a.neighbours), len(b.neighbours), 1)
    overlap = shared / most
    size = min(a.area, b.area) / max(a.area, b.area, 1e-12)
    if a.radius > 0.0 and b.radius > 0.0:
        size *= min(a.radius, b.radius) / max(a.radius, b.radius)
    near = 1.0 / (1.0 + 10.0 * distance(a.centre, b.centre) / diagonal)
    alike = same_size(a, b)
    if not alike and distance(a.centre, b.centre) > 0.5 * (math.sqrt(a.area) + math.sqrt(b.area)):
        return None
    if overlap >= 0.5 or (overlap >= 0.25 and size > 0.7) or alike:
        return 0.5 * overlap + 0.25 * size + 0.25 * near + (0.1 if alike else 0.0)
    return None

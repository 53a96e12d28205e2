"""From which directions a milled part must be worked: a least cover of its faces (first form)."""

from collections.abc import Iterable, Sequence

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature
from dfmcheck.model.vector import dot, parallel
from dfmcheck.planning.reach import EASY_MM, SAME_DEG, Reach

MOST = 24
"""Candidate directions that are tried, the box's own six among them."""

EQUAL_RATIO = 1e-6
"""Areas that differ by less than this share are equal; the earlier direction is taken."""

Item = tuple[frozenset[int], tuple[int, ...]]
"""The candidates from which something can be worked, and its faces."""


def milling_directions(part: PartFacts, features: tuple[Feature, ...]) -> tuple[Vec, ...]:
    """Directions that together reach every feature and every free face.

    Each names where the cutter comes from. The first is that which leaves fewest setups with
    usual cutters, and of those the one that reaches most area best; the second turns the part
    over, to face off what held it. Walls count as reached only to the
    depth of a cutter; visibility past other features is not looked at here.
    """
    frame = part.frame
    box = [d for axis in (frame.z, frame.y, frame.x) for d in (axis, flipped(axis))]
    candidates = _candidates(box, features)
    reach = Reach(part, candidates, features)
    items = _items(part, features, reach)
    first = _first(items, reach, _items(part, features, Reach(part, candidates, features, EASY_MM)))
    chosen = [first, _opposite(candidates, first)]
    left = [item for item in items if item[0] and item[0].isdisjoint(chosen)]
    while left:
        chosen.append(_best(left, reach))
        left = [item for item in left if chosen[-1] not in item[0]]
    return tuple(candidates[k] for k in chosen)


def _items(part: PartFacts, features: tuple[Feature, ...], reach: Reach) -> list[Item]:
    """What must be worked: every feature, and every face that belongs to none."""
    owned = {f for feature in features for f in feature.faces}
    items = [(reach.of_feature(f), f.faces) for f in features]
    return items + [(reach.of_face(f), (f.index,)) for f in part.faces if f.index not in owned]


def _first(items: Sequence[Item], reach: Reach, easy: Sequence[Item]) -> int:
    """The direction to begin with; `easy` says what usual cutters reach."""
    areas: dict[frozenset[int], float] = {}
    for from_where, faces in easy:
        area = sum(reach.part.faces[i].area_mm2 for i in faces)
        areas[from_where] = areas.get(from_where, 0.0) + area
    areas.pop(frozenset(), None)
    n = len(reach.candidates)
    counts = [_further(areas, (k, _opposite(reach.candidates, k)), n) for k in range(n)]
    fewest = min(counts)
    return _best(items, reach, [k for k in range(n) if counts[k] == fewest])


def _further(areas: dict[frozenset[int], float], chosen: tuple[int, int], candidates: int) -> int:
    """How many setups further than the chosen two cover the rest."""
    left = {s: area for s, area in areas.items() if s.isdisjoint(chosen)}
    count = 0
    while left:
        gain = [sum(a for s, a in left.items() if k in s) for k in range(candidates)]
        k = gain.index(max(gain))
        left = {s: a for s, a in left.items() if k not in s}
        count += 1
    return count


def _best(items: Sequence[Item], reach: Reach, among: Sequence[int] | None = None) -> int:
    """The direction (of those in `among`) that reaches most area, the first of equals."""
    areas = [0.0] * len(reach.candidates)
    for from_where, faces in items:
        for k in from_where:
            for face in (reach.part.faces[i] for i in faces):
                areas[k] += face.area_mm2 * reach.ease(face, k)
    if among is None:
        among = sorted({k for from_where, _ in items for k in from_where})
    most = max((areas[k] for k in among), default=0.0) * (1.0 - EQUAL_RATIO)
    return next((k for k in among if areas[k] >= most), 0)


def flipped(v: Vec) -> Vec:
    """The opposite direction, without negative zeros."""
    return (0.0 - v[0], 0.0 - v[1], 0.0 - v[2])


def _candidates(box: list[Vec], features: Iterable[Feature]) -> list[Vec]:
    found = list(box)
    for f in features:
        for d in (f.direction, flipped(f.direction)):
            known = any(dot(d, c) > 0.0 and parallel(d, c, SAME_DEG) for c in found)
            if not known and len(found) < MOST:
                found.append(d)
    return found


def _opposite(candidates: Sequence[Vec], k: int) -> int:
    return min(range(len(candidates)), key=lambda i: dot(candidates[i], candidates[k]))

"""Matching the features of two revisions: by faces, by axis or place, by size and distance."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dfmcheck.comparing.align import Alignment
from dfmcheck.comparing.faces import components
from dfmcheck.comparing.geometry import off_line
from dfmcheck.comparing.sizes import carried_feature, extent_mm, likeness
from dfmcheck.model.callouts import kind_of
from dfmcheck.model.feature import Feature
from dfmcheck.model.vector import distance, dot

_SPLITS = ("pocket", "slot", "step", "boss")


@dataclass(frozen=True)
class FeatureMatches:
    """Matched features; those before are carried into the coordinates after.

    `pairs` are of one kind; `recast` of two kinds on the same faces; `split` one before, several
    after; `merged` several before, one after; `gone` and `new` have no partner.
    """

    pairs: tuple[tuple[Feature, Feature], ...]
    recast: tuple[tuple[Feature, Feature], ...]
    split: tuple[tuple[Feature, tuple[Feature, ...]], ...]
    merged: tuple[tuple[tuple[Feature, ...], Feature], ...]
    gone: tuple[Feature, ...]
    new: tuple[Feature, ...]

    @property
    def ids(self) -> tuple[tuple[str, str], ...]:
        """All matched ids (before, after), sorted."""
        found = [(a.id, b.id) for a, b in (*self.pairs, *self.recast)]
        found += [(a.id, b.id) for a, many in self.split for b in many]
        found += [(a.id, b.id) for many, b in self.merged for a in many]
        return tuple(sorted(set(found)))


def match_features(
    before: Sequence[Feature], after: Sequence[Feature], alignment: Alignment
) -> FeatureMatches:
    """Match features with the help of matched faces."""
    carried = [carried_feature(f, alignment.motion, alignment.factor) for f in before]
    shared = _shared_faces(carried, after, alignment)
    state = _State(carried, after, shared)
    state.take(_by_faces(state))
    state.take(_by_parent(state))
    state.take(_by_place(state))
    state.take(_by_size(state))
    split, merged = _splits(state)
    recast = _recast(state)
    return FeatureMatches(
        pairs=tuple(sorted(state.pairs, key=lambda p: (p[0].id, p[1].id))),
        recast=tuple(recast),
        split=split,
        merged=merged,
        gone=tuple(f for f in carried if f.id in state.left),
        new=tuple(f for f in after if f.id in state.right),
    )


class _State:
    """What is matched so far and what is left."""

    def __init__(
        self,
        before: Sequence[Feature],
        after: Sequence[Feature],
        shared: dict[tuple[str, str], float],
    ) -> None:
        self.left = {f.id: f for f in before}
        self.right = {f.id: f for f in after}
        self.all_before = dict(self.left)
        self.all_after = dict(self.right)
        self.shared = shared
        self.pairs: list[tuple[Feature, Feature]] = []
        self.images: dict[str, str] = {}

    def take(self, ranked: Iterable[tuple[float, float, str, str]]) -> None:
        """Pair greedily by falling worth, then rising distance."""
        for _, _, i, j in sorted(ranked, key=lambda r: (-round(r[0], 6), round(r[1], 4), r[2:])):
            if i in self.left and j in self.right:
                self.pairs.append((self.left.pop(i), self.right.pop(j)))
                self.images[i] = j

    def open_pairs(self) -> Iterable[tuple[Feature, Feature]]:
        """Unmatched features of one kind."""
        by_kind: dict[str, list[Feature]] = defaultdict(list)
        for b in self.right.values():
            by_kind[kind_of(b)].append(b)
        for a in self.left.values():
            for b in by_kind.get(kind_of(a), ()):
                yield a, b


def _shared_faces(
    before: Sequence[Feature], after: Sequence[Feature], alignment: Alignment
) -> dict[tuple[str, str], float]:
    """(id before, id after) -> share of the smaller one's area on matched faces, 0 to 1."""
    owner_before = {i: f.id for f in before for i in f.faces}
    owner_after = {j: f.id for f in after for j in f.faces}
    area_before = {f.index: f.area for f in alignment.before}
    area_after = {f.index: f.area for f in alignment.after}
    exact, moved = set(alignment.matches.exact), set(alignment.matches.moved)
    sums: dict[tuple[str, str], float] = defaultdict(float)
    for i, j in alignment.matches.pairs:
        a, b = owner_before.get(i), owner_after.get(j)
        if a is not None and b is not None:
            worth = 1.0 if (i, j) in exact else 0.7 if (i, j) in moved else 0.9
            sums[a, b] += worth * min(area_before[i], area_after[j])
    total_before = {f.id: sum(area_before[i] for i in f.faces) for f in before}
    total_after = {f.id: sum(area_after[j] for j in f.faces) for f in after}
    return {
        (a, b): min(1.0, s / max(min(total_before[a], total_after[b]), 1e-12))
        for (a, b), s in sums.items()
    }


def _by_faces(state: _State) -> Iterable[tuple[float, float, str, str]]:
    for (i, j), share in state.shared.items():
        a, b = state.left.get(i), state.right.get(j)
        if a is not None and b is not None and kind_of(a) == kind_of(b) and share > 0.05:
            yield share + 0.2 * likeness(a, b), distance(a.place, b.place), i, j


def _by_parent(state: _State) -> Iterable[tuple[float, float, str, str]]:
    """Counterbores, fillets … of matched features, on the same side."""
    for a, b in state.open_pairs():
        if a.of is None or b.of is None or state.images.get(a.of) != b.of:
            continue
        if dot(a.direction, b.direction) > 0.9 or kind_of(a) in ("fillet", "chamfer"):
            yield likeness(a, b), distance(a.place, b.place), a.id, b.id


def _by_place(state: _State) -> Iterable[tuple[float, float, str, str]]:
    """On the same axis, or at the same place, even if every size differs."""
    for a, b in state.open_pairs():
        if kind_of(a) in ("fillet", "chamfer", "freeform"):
            if distance(a.place, b.place) <= 0.1 * max(_depth(a), extent_mm(a)):
                yield likeness(a, b), distance(a.place, b.place), a.id, b.id
            continue
        reach = 0.25 * min(extent_mm(a), extent_mm(b))
        deep = _depth(a) + _depth(b)
        if distance(a.place, b.place) > reach + deep:
            continue
        facing = dot(a.direction, b.direction)
        either_way = getattr(a, "through", False) and getattr(b, "through", False)
        if (abs(facing) if either_way else facing) < 0.9999:
            continue
        if off_line(a.place, b.place, b.direction) <= reach:
            yield likeness(a, b), distance(a.place, b.place), a.id, b.id


def _depth(f: Feature) -> float:
    names = ("reach_mm", "depth_mm", "height_mm", "length_mm", "width_mm")
    return max(float(getattr(f, name, None) or 0.0) for name in names)


def _by_size(state: _State) -> Iterable[tuple[float, float, str, str]]:
    """Moved: of one size, wherever it went; or of nearly one size and close by."""
    for a, b in state.open_pairs():
        kind = kind_of(a)
        if kind in ("fillet", "chamfer", "freeform", "counterbore", "countersink"):
            continue
        x, y = extent_mm(a), extent_mm(b)
        if min(x, y) < 0.5 * max(x, y):
            continue
        alike = likeness(a, b)
        d = distance(a.place, b.place)
        near = d <= 1.5 * max(x, y)
        if alike > 0.98 or (alike > 0.75 and near):
            yield alike, d, a.id, b.id


def _splits(
    state: _State,
) -> tuple[
    tuple[tuple[Feature, tuple[Feature, ...]], ...],
    tuple[tuple[tuple[Feature, ...], Feature], ...],
]:
    """One feature whose faces went to several of its kind, and the other way round."""
    links = [
        (i, j)
        for (i, j), share in state.shared.items()
        if share > 0.2
        and kind_of(state.all_before[i]) == kind_of(state.all_after[j])
        and kind_of(state.all_before[i]) in _SPLITS
        and (i in state.left or j in state.right or state.images.get(i) == j)
    ]
    names_before = sorted({i for i, _ in links})
    names_after = sorted({j for _, j in links})
    numbered = [(names_before.index(i), names_after.index(j)) for i, j in links]
    split: list[tuple[Feature, tuple[Feature, ...]]] = []
    merged: list[tuple[tuple[Feature, ...], Feature]] = []
    for left, right in components(numbered):
        ours = tuple(state.all_before[names_before[k]] for k in left)
        theirs = tuple(state.all_after[names_after[k]] for k in right)
        if len(ours) == 1 and len(theirs) > 1:
            split.append((ours[0], theirs))
        elif len(ours) > 1 and len(theirs) == 1:
            merged.append((ours, theirs[0]))
        else:
            continue
        for f in ours:
            state.left.pop(f.id, None)
        for f in theirs:
            state.right.pop(f.id, None)
        state.pairs = [p for p in state.pairs if p[0] not in ours and p[1] not in theirs]
    return tuple(split), tuple(merged)


def _recast(state: _State) -> list[tuple[Feature, Feature]]:
    """Features of two kinds on the same faces: a pocket opened into a slot."""
    ranked = sorted(
        (-round(share, 6), i, j)
        for (i, j), share in state.shared.items()
        if i in state.left and j in state.right and share > 0.35
    )
    result: list[tuple[Feature, Feature]] = []
    for _, i, j in ranked:
        if i in state.left and j in state.right:
            result.append((state.left.pop(i), state.right.pop(j)))
    return result

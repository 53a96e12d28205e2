"""Which change follows from which: knock-on changes grouped under the one that caused them."""

from collections import defaultdict
from collections.abc import Iterable

from dfmcheck.comparing.consequences import link_derived
from dfmcheck.comparing.feature_changes import is_edge_treatment
from dfmcheck.comparing.geometry import around
from dfmcheck.comparing.kinds import KINDS
from dfmcheck.comparing.raw import Raw, Sides
from dfmcheck.comparing.trims import link_trimmed
from dfmcheck.model.base import Vec
from dfmcheck.model.callouts import kind_of
from dfmcheck.model.feature import Feature
from dfmcheck.model.vector import distance, dot, norm, scale, sub

_NEAR_MM = 0.03
"""Lengths that agree this closely are taken for the same cause."""

_WITHIN_MM = 0.1
"""A feature's own box may fall short of the plain face it replaced by this."""

_RANKS = {"face-moved": 3, "shape-changed": 9}
_NOUN_RANKS = {
    "boss": 4, "step": 4, "pocket": 5, "slot": 5, "groove": 5, "freeform": 5, "engraving": 6,
    "thread": 6, "knurl": 6, "hole": 6, "counterbore": 7, "countersink": 7, "fillet": 8,
    "chamfer": 8,
}  # fmt: skip
_SIZES = ("length_mm", "width_mm", "depth_mm", "height_mm", "diameter_mm", "reach_mm")


def link_causes(raws: list[Raw], sides: Sides) -> None:
    """Set `cause` of every change that follows from another; causes are themselves uncaused."""
    touch = _Touch(sides)
    shapes = [r for r in raws if KINDS[r.kind].about in ("shape", "feature") and not r.derived]
    shapes.sort(key=lambda r: (touch.stays_put(r), _rank(r), -r.effect_mm3))
    replaced = next((r for r in raws if r.kind == "replaced"), None)
    bosses = [r for r in shapes if r.kind.startswith("boss-")]
    for r in shapes:
        r.cause = replaced or next((c for c in bosses if _stands_out(c, r, touch)), None)
    owners = {f.of for f in (*sides.before.features, *sides.after.features)}
    causes = _Causes(touch)
    for r in shapes:
        if r.cause is None:
            r.cause = next((c for c in causes.likely(r) if _explains(c, r, touch)), None)
        if not _is_idle(r, owners):
            causes.add(r)
    link_trimmed(shapes, sides)
    for r in shapes:
        if r.cause is None:
            r.cause = _made_by_several(r, shapes, touch)
    for r in shapes:
        while r.cause is not None and r.cause.cause is not None:
            r.cause = r.cause.cause
    link_derived(raws, shapes, sides)


def _made_by_several(r: Raw, shapes: list[Raw], touch: "_Touch") -> Raw | None:
    """The largest of the changes beside which all faces without a feature came or went.

    Likewise for an end of the box that is no face but an edge: what moved as far, or the edges
    that were broken where nothing else changed.
    """
    roots = [c for c in shapes if c.cause is None and c is not r]
    features = [c for c in roots if KINDS[c.kind].about == "feature"]
    beside: list[Raw] = []
    if r.kind == "shape-changed":
        beside = [c for c in features if touch(c, r) or touch.replaces(c, r)]
        if not touch.all_touch(r, beside):
            return None
    elif r.kind.startswith("box-") and not r.faces_before and not r.faces_after:
        edges = [c for c in features if is_edge_treatment(c.second or c.first)]
        others = [c for c in roots if c not in edges and not c.kind.startswith("box-")]
        same = [c for c in others if abs(abs(c.delta) - abs(r.delta)) <= _NEAR_MM]
        beside = same if others else edges
    return max(beside, key=lambda c: c.effect_mm3) if beside else None


def _is_idle(r: Raw, owners: set[str | None]) -> bool:
    """True for a hole of another size that owns nothing: it changes nothing but itself."""
    if not r.kind.startswith("hole-") or _is_whole(r) or r.kind == "hole-turned":
        return False
    return not owners.intersection((*r.features_before, *r.features_after))


def _stands_out(c: Raw, r: Raw, touch: "_Touch") -> bool:
    """True where a boss that came, went or grew makes the box larger or smaller."""
    if r.kind == "box-grew":
        return touch.ends_of(r.faces_after, c.faces_after, after=True)
    return r.kind == "box-shrank" and touch.ends_of(r.faces_before, c.faces_before, after=False)


def _rank(r: Raw) -> int:
    """Causes rank before their effects."""
    if r.kind.startswith("box-"):
        return 1
    if r.kind.startswith("diameter-"):
        return 2
    if r.kind in _RANKS:
        return _RANKS[r.kind]
    feature = r.second or r.first
    rank = 9 if feature is None else _NOUN_RANKS[kind_of(feature)]
    if r.kind.endswith("-turned"):
        return 14
    return rank if _is_whole(r) else rank + 10


def _is_whole(r: Raw) -> bool:
    """True where a feature as a whole came or went or changed its kind."""
    return r.kind == "became" or r.kind.endswith(("-added", "-removed", "-modelled"))


class _Causes:
    """Changes that may cause others, found by the faces and features they concern."""

    def __init__(self, touch: "_Touch") -> None:
        self._touch = touch
        self._all: list[Raw] = []
        self._everywhere: list[int] = []
        self._at: dict[tuple[str, int | str], list[int]] = defaultdict(list)

    def add(self, r: Raw) -> None:
        """Take a change as a possible cause of those asked for later."""
        place = len(self._all)
        self._all.append(r)
        if r.kind.startswith(("box-", "diameter-")):
            self._everywhere.append(place)
        for key in self._keys(r):
            self._at[key].append(place)

    def likely(self, r: Raw) -> Iterable[Raw]:
        """Those that concern the whole part, or faces or features beside the change's own."""
        places = set(self._everywhere)
        for key in self._touch.around(r):
            places.update(self._at.get(key, ()))
        for f in (r.first, r.second):
            if f is not None and f.of is not None:
                places.update(self._at.get(("feature", f.of), ()))
        return [self._all[k] for k in sorted(places)]

    @staticmethod
    def _keys(r: Raw) -> Iterable[tuple[str, int | str]]:
        yield from (("before", i) for i in r.faces_before)
        yield from (("after", j) for j in r.faces_after)
        yield from (("feature", name) for name in {*r.features_before, *r.features_after})


class _Touch:
    """Which faces touch which, in both revisions."""

    def __init__(self, sides: Sides) -> None:
        self._before = {f.index: f.neighbours for f in sides.alignment.before}
        self._after = {f.index: f.neighbours for f in sides.alignment.after}
        matches = sides.alignment.matches
        self._ways = _ways(sides)
        self._placed = (
            {f.index: f for f in sides.alignment.before},
            {f.index: f for f in sides.alignment.after},
        )
        self._left = {i for i, _ in matches.moved} | set(matches.gone)
        self._come = {j for _, j in matches.moved} | set(matches.new)

    def stays(self, r: Raw, *, after: bool) -> bool:
        """True where every face a change concerns, after or before, lies where it lay."""
        if after:
            return self._come.isdisjoint(r.faces_after)
        return self._left.isdisjoint(r.faces_before)

    def moved_alike(self, a: Raw, b: Raw) -> bool:
        """True where a plane face of each moved by the same way."""
        ours = [self._ways[j] for j in a.faces_after if j in self._ways]
        theirs = [self._ways[j] for j in b.faces_after if j in self._ways]
        return any(distance(x, y) <= _NEAR_MM for x in ours for y in theirs)

    def stays_put(self, r: Raw) -> bool:
        """True where nothing of a feature moved: something beside it did."""
        whole = r.first is None or r.second is None
        return not whole and self.stays(r, after=True) and self.stays(r, after=False)

    def __call__(self, a: Raw, b: Raw) -> bool:
        """True where any face of one change is, or touches, a face of the other."""
        return _meets(a.faces_before, b.faces_before, self._before) or _meets(
            a.faces_after, b.faces_after, self._after
        )

    def around(self, r: Raw) -> set[tuple[str, int | str]]:
        """The faces of a change and those beside them, as keys."""
        keys: set[tuple[str, int | str]] = set()
        for side, faces, near in (
            ("before", r.faces_before, self._before),
            ("after", r.faces_after, self._after),
        ):
            for i in faces:
                keys.add((side, i))
                keys.update((side, n) for n in near[i])
        return keys

    def ends_of(self, ends: tuple[int, ...], faces: tuple[int, ...], *, after: bool) -> bool:
        """True where all these end faces are faces of a feature or bounded by them."""
        near = self._after if after else self._before
        return bool(ends) and all(i in faces or near[i] & set(faces) for i in ends)

    def all_touch(self, r: Raw, causes: list[Raw]) -> bool:
        """True where every face of `r` touches a face of one of these changes, or was replaced."""
        theirs_before = {i for c in causes for i in c.faces_before}
        theirs_after = {j for c in causes for j in c.faces_after}
        return all(
            _meets((i,), theirs_before, self._before) or self._replaced(i, causes, gone=True)
            for i in r.faces_before
        ) and all(
            _meets((j,), theirs_after, self._after) or self._replaced(j, causes, gone=False)
            for j in r.faces_after
        )

    def replaces(self, c: Raw, r: Raw) -> bool:
        """True where a face of `r` that went, or came, lies within the feature that came, or went.

        A knurl takes the place of the plain face it is cut into.
        """
        return any(self._replaced(i, [c], gone=True) for i in r.faces_before) or any(
            self._replaced(j, [c], gone=False) for j in r.faces_after
        )

    def _replaced(self, face: int, causes: list[Raw], *, gone: bool) -> bool:
        own, other = self._placed if gone else self._placed[::-1]
        for c in causes:
            faces = c.faces_after if gone else c.faces_before
            if not faces or (c.first if gone else c.second) is not None:
                continue
            low, high = around([other[k] for k in faces])
            f = own[face]
            if all(
                low[k] - _WITHIN_MM <= f.low[k] and f.high[k] <= high[k] + _WITHIN_MM
                for k in range(3)
            ):
                return True
        return False


def _ways(sides: Sides) -> dict[int, Vec]:
    """How far and whither each moved plane face went, by its index after."""
    before = {f.index: f for f in sides.alignment.before}
    after = {f.index: f for f in sides.alignment.after}
    ways: dict[int, Vec] = {}
    for i, j in sides.alignment.matches.moved:
        a, b = before[i], after[j]
        if b.kind == "plane":
            ways[j] = scale(b.normal, dot(b.normal, sub(b.centre, a.centre)))
    return ways


def _meets(a: Iterable[int], b: Iterable[int], near: dict[int, frozenset[int]]) -> bool:
    others = set(b)
    return any(i in others or near[i] & others for i in a)


def _explains(c: Raw, r: Raw, touch: _Touch) -> bool:
    if c.cause is r or c.kind == r.kind:
        return False
    if c.kind.startswith(("box-", "diameter-")):
        return _outside_explains(c, r)
    if c.kind == "face-moved":
        return (_same_length(c, r, touch) or _same_shift(c.shift, r.shift)) and touch(c, r)
    if r.kind == "shape-changed":
        return touch.all_touch(r, [c])
    if _belongs(c, r) or (c.kind.endswith("-turned") and c.second is r.second):
        return True
    if _is_whole(c):
        if is_edge_treatment(c.second or c.first) and not is_edge_treatment(r.second or r.first):
            return _shortens(c, r) and touch(c, r)
        if is_edge_treatment(r.second or r.first) and _is_whole(r):
            return touch(c, r) and not is_edge_treatment(c.second or c.first)
        return not _is_whole(r) and touch(c, r) and _cut_by(c, r, touch)
    if is_edge_treatment(c.second or c.first):
        return False
    return (_same_length(c, r, touch) or _same_shift(c.shift, r.shift)) and touch(c, r)


def _shortens(edge: Raw, r: Raw) -> bool:
    """A wall that is lower, or a floor that is shorter, by just what an edge took of it."""
    if r.kind.endswith(("-outline", "-profile")):
        return True
    if _is_whole(r) or r.delta == 0.0:
        return False
    sizes = [v for v in (edge.before, edge.after) if isinstance(v, float)]
    return any(abs(abs(r.delta) - k * s) <= _NEAR_MM for s in sizes for k in (1.0, 2.0))


def _outside_explains(c: Raw, r: Raw) -> bool:
    """A part made longer, thicker or larger in diameter."""
    halves = c.kind.startswith("diameter-") or c.what == "diameter"
    if r.kind in ("box-grew", "box-shrank"):
        return False
    if _is_diameter(r):
        return halves and _equal(abs(r.delta), abs(c.delta), halved=True)
    if abs(r.delta) > 0.0 and _is_length(r):
        along = halves or _along(c, r)
        if along and _equal(abs(r.delta), abs(c.delta), halved=halves):
            return True
    if r.shift is None or c.direction is None:
        return False
    along_it = abs(dot(r.shift, c.direction))
    if not halves and norm(r.shift) - along_it > _NEAR_MM:
        return False
    if any(abs(along_it - abs(end)) <= _NEAR_MM for end in c.ends if abs(end) > _NEAR_MM):
        return True
    return _equal(norm(r.shift), abs(c.delta), halved=True)


def _equal(x: float, y: float, *, halved: bool) -> bool:
    return abs(x - y) <= _NEAR_MM or (halved and abs(x - 0.5 * y) <= _NEAR_MM)


def _is_diameter(r: Raw) -> bool:
    """True for the diameter of a turned part or of a boss: metal that stands."""
    return r.kind.startswith("diameter-") or (r.kind.startswith("boss-") and r.what == "diameter")


_LENGTHS = ("-lengthened", "-shortened", "-deepened", "-shallower", "-higher", "-lower")
_WIDTHS = ("-widened", "-narrowed")
_ROUND = ("hole-", "counterbore-", "countersink-", "chamfer-")


def _is_length(r: Raw) -> bool:
    """True for sizes between two faces, which follow where one moves; radii are their own."""
    if r.kind == "face-moved" or r.kind.endswith(_LENGTHS):
        return True
    return r.kind.endswith(_WIDTHS) and r.what != "diameter" and not r.kind.startswith(_ROUND)


def _along(c: Raw, r: Raw) -> bool:
    """True where a size lies along the direction in which another changed.

    Lengths and widths lie across their feature's direction, wherever they point.
    """
    if c.direction is None:
        return _across(r, c) if r.direction is not None else True
    if r.direction is None:
        return _across(c, r)
    return abs(dot(c.direction, r.direction)) > 0.999


def _across(one: Raw, other: Raw) -> bool:
    feature = other.second or other.first
    if feature is None or one.direction is None:
        return True
    return abs(dot(one.direction, feature.direction)) < 0.1


def _same_length(c: Raw, r: Raw, touch: _Touch) -> bool:
    if c.delta == 0.0 or r.delta == 0.0 or not (_is_length(c) and _is_length(r)):
        return False
    if abs(abs(c.delta) - abs(r.delta)) > _NEAR_MM:
        return False
    nowhere = c.direction is None and r.direction is None
    return touch.moved_alike(c, r) if nowhere else _along(c, r)


def _same_shift(a: Vec | None, b: Vec | None) -> bool:
    if a is None or b is None:
        return False
    return distance(a, b) <= _NEAR_MM or distance(scale(a, 0.5), b) <= _NEAR_MM


def _belongs(c: Raw, r: Raw) -> bool:
    """A counterbore or fillet that came, went, moved or turned with the feature it belongs to."""
    if not _is_whole(r) and (r.shift is None or not _same_shift(c.shift, r.shift)):
        return False
    for owner, feature in ((c.first, r.first), (c.second, r.second)):
        if owner is not None and feature is not None and feature.of == owner.id:
            return _is_whole(c) == _is_whole(r)
    return False


def _cut_by(c: Raw, r: Raw, touch: _Touch) -> bool:
    """A size or form changed by a feature that came or went beside it.

    What cuts a feature leaves the rest of it where it lay: a floor that sank as well sank for
    itself, whatever lies beside it.
    """
    if r.kind.endswith(("-split", "-merged", "-outline", "-profile")):
        return True
    if not touch.stays(r, after=c.second is not None):
        return False
    if r.kind.endswith(("-through", "-blind", "-opened", "-closed", "-slant", "-bottom")):
        return True
    feature: Feature | None = c.second or c.first
    sizes = [getattr(feature, name, None) for name in _SIZES]
    return any(s is not None and abs(abs(r.delta) - s) <= _NEAR_MM for s in sizes)

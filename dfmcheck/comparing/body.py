"""What changed in the body of a part: its box, outside diameters, faces that are no feature."""

from collections import defaultdict
from collections.abc import Iterable

from dfmcheck.comparing.extents import BOX_MM, carried_reach_mm, end_faces, reach_mm, round_about
from dfmcheck.comparing.faces import same_carrier
from dfmcheck.comparing.geometry import Placed, inverted, turn
from dfmcheck.comparing.raw import Raw, Sides
from dfmcheck.comparing.sizes import LENGTH_MM
from dfmcheck.model.base import Vec
from dfmcheck.model.change import Motion
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.vector import dot, norm, scale, sub


def body_changes(sides: Sides) -> list[Raw]:
    """Changes of the box, of outside diameters and of faces outside all features."""
    box = list(_box(sides))
    return [*box, *_loose_faces(sides, box)]


class _Axis:
    """One edge of the box in both revisions, along one direction of the common coordinates."""

    def __init__(self, sides: Sides, direction: Vec) -> None:
        self.direction = direction
        motion, factor = sides.alignment.motion, sides.alignment.factor
        low, high, exact_before = carried_reach_mm(sides.before.facts, direction, motion, factor)
        self.before = (low, high)
        shift = dot(motion.shift_mm, direction)
        self.own_ends = ((low - shift) / factor, (high - shift) / factor)
        self.own_direction = turn(_rotation_back(motion), direction)
        low, high, exact_after = reach_mm(sides.after.facts, direction)
        self.after = (low, high)
        longest = max(sides.after.facts.box_mm)
        noise = max(longest, factor * max(sides.before.facts.box_mm)) / 800.0
        self.slack = BOX_MM if exact_before and exact_after else max(0.02, noise)

    @property
    def sizes(self) -> tuple[float, float]:
        """Edge before and after, in mm."""
        return self.before[1] - self.before[0], self.after[1] - self.after[0]

    @property
    def growth(self) -> float:
        """How much longer the edge is after."""
        return self.sizes[1] - self.sizes[0]


def _rotation_back(motion: Motion) -> Motion:
    return inverted(Motion(rows=motion.rows, shift_mm=(0.0, 0.0, 0.0)))


def _box(sides: Sides) -> Iterable[Raw]:
    frame = sides.after.facts.frame
    axes = [_Axis(sides, d) for d in (frame.x, frame.y, frame.z)]
    axes.sort(key=lambda a: -max(a.sizes))
    turned = _round_pair(sides, axes)
    names = dict(zip(map(id, axes), ("length", "width", "thickness"), strict=True))
    if turned is not None:
        first, second, along = turned
        names[id(first)], names[id(along)] = "diameter", "length"
        axes = [a for a in axes if a is not second]
    for axis in axes:
        if abs(axis.growth) <= axis.slack:
            continue
        others = 1.0
        for other in axes:
            if other is not axis:
                others *= max(other.sizes)
        if turned is not None:
            others = max(turned[2].sizes) * max(axis.sizes) if axis is turned[0] else others**2
        yield _grown(sides, axis, names[id(axis)], 0.785 * others if turned else others)


def _grown(sides: Sides, axis: _Axis, what: str, section: float) -> Raw:
    before, after = axis.sizes
    raw = Raw(kind="box-grew" if after > before else "box-shrank", before=before, after=after)
    raw.what, raw.delta, raw.direction = what, after - before, axis.direction
    raw.ends = (axis.after[0] - axis.before[0], axis.after[1] - axis.before[1])
    raw.effect_mm3 = abs(raw.delta) * section
    if what == "diameter":
        own, d = axis.own_direction, axis.direction
        raw.faces_before = _round_faces(sides.before.facts, own, before / sides.alignment.factor)
        raw.faces_after = _round_faces(sides.after.facts, d, after)
    else:
        for side, (x, y) in enumerate(zip(axis.before, axis.after, strict=True)):
            if abs(x - y) > BOX_MM:
                own_end = axis.own_ends[side]
                raw.faces_before += end_faces(sides.before.facts, axis.own_direction, own_end)
                raw.faces_after += end_faces(sides.after.facts, axis.direction, y)
    return raw


def _round_faces(facts: PartFacts, across: Vec, diameter: float) -> tuple[int, ...]:
    axes = {f.axis for f in facts.faces if f.axis is not None and abs(dot(f.axis, across)) < 1e-6}
    return tuple(sorted({i for a in axes for i in round_about(facts, a, diameter)}))


def _round_pair(sides: Sides, axes: list[_Axis]) -> tuple[_Axis, _Axis, _Axis] | None:
    """(one across, other across, along) where the part is round about an edge of its box."""
    for along in axes:
        first, second = (a for a in axes if a is not along)
        if any(abs(x - y) > 2 * BOX_MM for x, y in zip(first.sizes, second.sizes, strict=True)):
            continue
        before, after = first.sizes
        own = before / sides.alignment.factor
        if round_about(sides.before.facts, along.own_direction, own) and round_about(
            sides.after.facts, along.direction, after
        ):
            return first, second, along
    return None


def _loose_faces(sides: Sides, box: list[Raw]) -> Iterable[Raw]:
    """Moved faces, other diameters and unmatched faces that belong to no feature."""
    in_before = {i for f in sides.before.features for i in f.faces}
    in_after = {j for f in sides.after.features for j in f.faces}
    at_before = {f.index: f for f in sides.alignment.before}
    at_after = {f.index: f for f in sides.alignment.after}
    ends_before = {i for r in box for i in r.faces_before}
    ends_after = {j for r in box for j in r.faces_after}
    offsets: dict[tuple[float, float, float], list[tuple[int, int]]] = defaultdict(list)
    for i, j in sides.alignment.matches.moved:
        if i in in_before or j in in_after or (i in ends_before and j in ends_after):
            continue
        a, b = at_before[i], at_after[j]
        if a.kind == "plane":
            s = scale(b.normal, dot(b.normal, sub(b.centre, a.centre)))
            if norm(s) <= BOX_MM:
                continue
            offsets[round(s[0], 2), round(s[1], 2), round(s[2], 2)].append((i, j))
        elif a.kind == "cylinder" and a.bend == "outside":
            yield from _diameter(a, b)
    for offset, pairs in sorted(offsets.items()):
        yield _face_moved(sides, offset, pairs)
    known_before, known_after = in_before | ends_before, in_after | ends_after
    gone = tuple(i for i in sides.alignment.matches.gone if i not in known_before)
    new = tuple(j for j in sides.alignment.matches.new if j not in known_after)
    if gone or new:
        raw = Raw(kind="shape-changed", before=float(len(gone)), after=float(len(new)))
        raw.faces_before, raw.faces_after = gone, new
        area = sum(at_before[i].area for i in gone) + sum(at_after[j].area for j in new)
        raw.effect_mm3 = area
        yield raw


def _diameter(a: Placed, b: Placed) -> Iterable[Raw]:
    if abs(a.radius - b.radius) <= 0.5 * LENGTH_MM or a.span < 180.0:
        return
    probe = Placed(**{n: getattr(a, n) for n in Placed.__slots__} | {"radius": b.radius})
    if not same_carrier(probe, b):
        return
    raw = Raw(
        kind="diameter-larger" if b.radius > a.radius else "diameter-smaller",
        before=2.0 * a.radius,
        after=2.0 * b.radius,
    )
    raw.delta = 2.0 * (b.radius - a.radius)
    raw.faces_before, raw.faces_after = (a.index,), (b.index,)
    raw.effect_mm3 = 0.25 * abs(a.area * a.radius - b.area * b.radius)
    yield raw


def _face_moved(sides: Sides, offset: Vec, pairs: list[tuple[int, int]]) -> Raw:
    at_after = {f.index: f for f in sides.alignment.after}
    area = sum(at_after[j].area for _, j in pairs)
    normal = at_after[pairs[0][1]].normal
    out = dot(offset, normal)
    raw = Raw(kind="face-moved", before=0.0, after=out)
    raw.shift, raw.direction, raw.delta = offset, normal, out
    raw.faces_before = tuple(sorted(i for i, _ in pairs))
    raw.faces_after = tuple(sorted(j for _, j in pairs))
    raw.effect_mm3 = area * abs(out)
    return raw

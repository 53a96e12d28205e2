"""What changed from feature to feature: sizes, place, direction, form, added, removed."""

import math
from collections.abc import Iterable

import msgspec

from dfmcheck.comparing.echoes import Untouched, without_echoes
from dfmcheck.comparing.geometry import off_line
from dfmcheck.comparing.kinds import KINDS
from dfmcheck.comparing.raw import Raw, Sides, of_features
from dfmcheck.comparing.sizes import ANGLE_DEG, LENGTH_MM, MOVED_MM, SIZES, effect_mm3
from dfmcheck.model.base import Vec
from dfmcheck.model.callouts import kind_of
from dfmcheck.model.feature import (
    Boss,
    Chamfer,
    Countersink,
    Feature,
    Fillet,
    Hole,
    Knurl,
    Pocket,
    Slot,
    Step,
    Thread,
)
from dfmcheck.model.part import Part
from dfmcheck.model.vector import angle_deg, dot, norm, scale, sub

_FLAGS = (
    ("through", "through", "blind"),
    ("open", "opened", "closed"),
    ("raised", "raised", "sunk"),
)
_WORDS = (("outline", "outline"), ("profile", "profile"))


def feature_changes(sides: Sides) -> list[Raw]:
    """All changes of features, one by one."""
    matches = sides.features
    raws: list[Raw] = []
    for a, b in matches.pairs:
        raws += _of_pair(a, b)
    raws += [_came(b) for b in matches.new]
    raws += [_went(a) for a in matches.gone]
    raws += [_recast(a, b) for a, b in matches.recast]
    raws += [_cut_up(a, many, merged=False) for a, many in matches.split]
    raws += [_cut_up(b, many, merged=True) for many, b in matches.merged]
    untouched = Untouched(sides.alignment)
    raws = [_on_a_lathe(r, sides) for r in raws if not untouched(r)]
    return without_echoes(_in_own_places(raws, sides), sides)


def _recast(a: Feature, b: Feature) -> Raw:
    """A feature that became another; a thread or knurl on it is modelled now, or no longer."""
    if isinstance(b, Thread | Knurl):
        raw = _came(b)
        raw.features_before, raw.faces_before = (a.id,), a.faces
        return raw
    if isinstance(a, Thread | Knurl):
        raw = _went(a)
        raw.features_after, raw.faces_after = (b.id,), b.faces
        return raw
    raw = of_features("became", a, b)
    raw.before, raw.after = kind_of(a), kind_of(b)
    raw.effect_mm3 = abs(effect_mm3(a) - effect_mm3(b)) + 0.1 * effect_mm3(b)
    return raw


def _on_a_lathe(r: Raw, sides: Sides) -> Raw:
    """A turned diameter of another size is no boss that grew wider."""
    r.turned = is_turned(r.second, sides.after)
    if r.second is None:
        own = {f.id: f for f in sides.before.features}
        r.turned = is_turned(own[r.first.id], sides.before) if r.first is not None else False
    if r.turned and r.kind in ("boss-widened", "boss-narrowed"):
        r.kind = "diameter-larger" if r.kind == "boss-widened" else "diameter-smaller"
    return r


def is_turned(f: Feature | None, part: Part) -> bool:
    """True for a round boss about the axis of a turned part: one of its diameters."""
    axis, point = part.process.axis, part.process.axis_point
    if not isinstance(f, Boss) or f.diameter_mm is None or axis is None or point is None:
        return False
    return abs(dot(f.direction, axis)) > 0.9999 and off_line(f.place, point, axis) < MOVED_MM


def _in_own_places(raws: list[Raw], sides: Sides) -> list[Raw]:
    """Features before stand where their own file has them; their sizes stay carried."""
    own = {f.id: f for f in sides.before.features}
    for r in raws:
        if r.first is not None:
            f = own[r.first.id]
            r.first = msgspec.structs.replace(r.first, place=f.place, direction=f.direction)
    return raws


def _of_pair(a: Feature, b: Feature) -> Iterable[Raw]:
    if isinstance(a, Step) and isinstance(b, Step) and abs(dot(a.direction, b.direction)) < 0.01:
        yield from _sizes(a, _seen_from(a, b))
        yield from _forms(a, b)
        return
    yield from _sizes(a, b)
    if isinstance(a, Hole) and isinstance(b, Hole):
        yield from _hole_forms(a, b)
    yield from _forms(a, b)
    yield from _places(a, b)


def _sizes(a: Feature, b: Feature) -> Iterable[Raw]:
    round_both = _is_round(a) and _is_round(b)
    passed = None if round_both else _passing_side(a, b)
    for size in SIZES[kind_of(a)]:
        x, y = getattr(a, size.attribute), getattr(b, size.attribute)
        if passed is not None and size.attribute in ("length_mm", "width_mm"):
            x, y = passed if size.attribute == "width_mm" else (None, None)
        if x is None or y is None or not _differ(size.attribute, x, y):
            continue
        if round_both and size.attribute == "length_mm":
            continue
        if size.attribute in ("reach_mm", "depth_mm") and _depth_follows(a, b, y - x):
            continue
        kind = size.grown if y > x else size.shrunk
        if isinstance(a, Fillet) and isinstance(b, Fillet):
            kind = _fillet_kind(a, b)
        if kind == "hole-slant" and _through(a) and _through(b):
            continue
        raw = of_features(kind, a, b)
        raw.before, raw.after, raw.delta = x, y, y - x
        raw.direction = b.direction if size.attribute in _ALONG else None
        raw.what = "diameter" if round_both and size.attribute == "width_mm" else ""
        raw.effect_mm3 = _effect(a, b, size.attribute, x, y)
        if isinstance(a, Hole) and isinstance(b, Hole) and size.attribute == "reach_mm":
            # a counterbore that came or went leaves either the depth or the reach as it was
            if not _differ("depth_mm", a.depth_mm, b.depth_mm):
                continue
            raw.before, raw.after = a.depth_mm, b.depth_mm
        if isinstance(a, Chamfer) and isinstance(b, Chamfer) and size.attribute == "width_mm":
            raw.before, raw.after = main_size(a), main_size(b)
        yield raw


def _passing_side(a: Feature, b: Feature) -> tuple[float, float] | None:
    """One side before and after where the other stayed and it passed that: 20 x 10 -> 30 x 20.

    The longer side is the length, so both length and width differ though one side changed.
    """
    if not isinstance(a, Pocket | Boss) or not isinstance(b, Pocket | Boss):
        return None
    if not _differ("length_mm", a.length_mm, b.length_mm):
        return None
    if not _differ("width_mm", a.width_mm, b.width_mm):
        return None
    if not _differ("length_mm", a.length_mm, b.width_mm):
        return a.width_mm, b.length_mm
    if not _differ("width_mm", a.width_mm, b.length_mm):
        return a.length_mm, b.width_mm
    return None


def _depth_follows(a: Feature, b: Feature, growth: float) -> bool:
    """True where another change already tells why the depth differs."""
    if _through(a) != _through(b):
        return True
    if isinstance(a, Countersink) and isinstance(b, Countersink):
        return _differ("diameter_mm", a.diameter_mm, b.diameter_mm) or _differ(
            "angle_deg", a.angle_deg, b.angle_deg
        )
    if isinstance(a, Hole) and isinstance(b, Hole) and a.through:
        # the mouth of a wider hole lies elsewhere on a slanted or round face
        return abs(growth) < 0.5 * abs(b.diameter_mm - a.diameter_mm)
    return False


def _seen_from(a: Step, b: Step) -> Step:
    """A step open to two sides, seen from the side from which the other one is seen."""
    return msgspec.structs.replace(
        b, width_mm=b.depth_mm, depth_mm=b.width_mm, direction=a.direction
    )


_ALONG = ("reach_mm", "depth_mm", "height_mm")


def _effect(a: Feature, b: Feature, attribute: str, x: float, y: float) -> float:
    if attribute in ("corner_radius_mm", "floor_radius_mm", "inside_radius_mm"):
        # a smaller cutter goes round the whole hollow: worth more than the metal in the corner
        return 0.5 * max(effect_mm3(a), effect_mm3(b)) * abs(y - x) / max(x, y, 1e-9)
    change = abs(effect_mm3(b) - effect_mm3(a))
    return change if change > 0.0 else 0.01 * effect_mm3(b)


def _differ(attribute: str, x: float, y: float) -> bool:
    if attribute.endswith("_deg"):
        return abs(x - y) > ANGLE_DEG
    if attribute == "area_mm2":
        return abs(x - y) > 2e-3 * max(x, y)
    return abs(x - y) > LENGTH_MM + 1e-5 * max(abs(x), abs(y))


def _is_round(f: Feature) -> bool:
    if getattr(f, "outline", None) == "circular":
        return True
    return kind_of(f) == "boss" and getattr(f, "diameter_mm", None) is not None


def _through(f: Feature) -> bool | None:
    return getattr(f, "through", None)


def _fillet_kind(a: Fillet, b: Fillet) -> str:
    larger = b.radius_mm > a.radius_mm
    if b.side == "outside" or b.role == "edge":
        return "round-larger" if larger else "round-smaller"
    word = "floor" if b.role == "floor" else "corner"
    return f"{word}-eased" if larger else f"{word}-tightened"


def _hole_forms(a: Hole, b: Hole) -> Iterable[Raw]:
    if a.through or b.through:
        return
    same = a.bottom == b.bottom
    if same and a.bottom_angle_deg is not None and b.bottom_angle_deg is not None:
        same = abs(a.bottom_angle_deg - b.bottom_angle_deg) <= 1.0
    if not same:
        raw = of_features("hole-bottom", a, b)
        raw.before, raw.after = _bottom(a), _bottom(b)
        raw.effect_mm3 = 0.1 * effect_mm3(b)
        yield raw


def _bottom(h: Hole) -> str:
    if h.bottom == "cone" and h.bottom_angle_deg is not None:
        return f"cone {h.bottom_angle_deg:.0f} deg"
    return h.bottom


def _forms(a: Feature, b: Feature) -> Iterable[Raw]:
    noun = kind_of(a)
    for attribute, yes, no in _FLAGS:
        x, y = getattr(a, attribute, None), getattr(b, attribute, None)
        if x is None or x == y or f"{noun}-{yes}" not in KINDS:
            continue
        raw = of_features(f"{noun}-{yes if y else no}", a, b)
        raw.before, raw.after = (no, yes) if y else (yes, no)
        raw.effect_mm3 = max(abs(effect_mm3(b) - effect_mm3(a)), 0.1 * effect_mm3(b))
        yield raw
    for attribute, suffix in _WORDS:
        x, y = getattr(a, attribute, None), getattr(b, attribute, None)
        if x is not None and x != y and f"{noun}-{suffix}" in KINDS:
            raw = of_features(f"{noun}-{suffix}", a, b)
            raw.before, raw.after = x, y
            raw.effect_mm3 = 0.1 * effect_mm3(b)
            yield raw
    if isinstance(a, Thread | Knurl) and isinstance(b, Thread | Knurl) and pitch(a) != pitch(b):
        raw = of_features(f"{noun}-sizes", a, b)
        raw.before, raw.after = pitch(a), pitch(b)
        raw.effect_mm3 = 0.5 * effect_mm3(b)
        yield raw


def pitch(f: Thread | Knurl) -> str:
    """Diameter and pitch of a modelled thread or knurl, in words."""
    if isinstance(f, Thread):
        return f"{f.form} {f.side} dia {f.major_diameter_mm:.2f} pitch {f.pitch_mm:.2f}"
    return f"{f.pattern} dia {f.diameter_mm:.2f} pitch {f.pitch_mm:.2f}"


def _places(a: Feature, b: Feature) -> Iterable[Raw]:
    noun = kind_of(a)
    angle = angle_deg(a.direction, b.direction)
    if _through(a) and _through(b):
        angle = min(angle, 180.0 - angle)
    # a step may be seen from several sides, but never from two opposite ones
    least = {"groove": 360.0, "step": 179.0}.get(noun, ANGLE_DEG)
    if f"{noun}-turned" in KINDS and angle > least:
        raw = of_features(f"{noun}-turned", a, b)
        raw.before, raw.after, raw.delta = 0.0, angle, angle
        raw.effect_mm3 = effect_mm3(b)
        yield raw
        return
    if noun in ("fillet", "chamfer", "freeform"):
        return
    shift = _displacement(a, b, noun)
    if norm(shift) > MOVED_MM + _growth(a, b):
        raw = of_features(f"{noun}-moved", a, b)
        raw.before, raw.after, raw.shift = place(a.place), place(b.place), shift
        raw.effect_mm3 = effect_mm3(b)
        yield raw


def place(p: Vec) -> str:
    """A place in words."""
    x, y, z = (f"{round(v, 2) + 0.0:g}" for v in p)
    return f"({x}, {y}, {z})"


def _displacement(a: Feature, b: Feature, noun: str) -> Vec:
    """Displacement square to the direction, along which depth is measured; grooves: along it."""
    d = sub(b.place, a.place)
    along = scale(b.direction, dot(d, b.direction))
    if noun in ("groove", "thread", "knurl"):
        return along
    return sub(d, along)


def _growth(a: Feature, b: Feature) -> float:
    """How far the place may shift merely because the feature grew to one side."""
    total = 0.0
    for name in ("length_mm", "width_mm", "depth_mm", "height_mm"):
        x, y = getattr(a, name, None), getattr(b, name, None)
        if isinstance(x, float) and isinstance(y, float) and not isinstance(a, Hole):
            total += abs(y - x)
    return 0.75 * total if isinstance(a, Slot) or kind_of(a) != "step" else total


_MAIN_SIZE = {
    "hole": "diameter_mm", "counterbore": "diameter_mm", "countersink": "diameter_mm",
    "pocket": "depth_mm", "slot": "width_mm", "step": "depth_mm", "boss": "height_mm",
    "groove": "width_mm", "fillet": "radius_mm", "chamfer": "width_mm", "freeform": "area_mm2",
    "thread": "major_diameter_mm", "knurl": "diameter_mm", "engraving": "narrowest_mm",
}  # fmt: skip


def main_size(f: Feature) -> float:
    """The size by which a feature is named when it is added or removed."""
    if isinstance(f, Chamfer):
        return leg_mm(f)
    return float(getattr(f, _MAIN_SIZE[kind_of(f)]))


def leg_mm(f: Chamfer) -> float:
    """The leg by which a chamfer is called on a drawing: "1 x 45 deg"."""
    return f.width_mm * math.cos(math.radians(f.angle_deg))


def _came(b: Feature) -> Raw:
    noun = kind_of(b)
    raw = of_features(
        f"{noun}-modelled" if noun in ("thread", "knurl") else f"{noun}-added", None, b
    )
    raw.after, raw.effect_mm3 = main_size(b), effect_mm3(b)
    return raw


def _went(a: Feature) -> Raw:
    raw = of_features(f"{kind_of(a)}-removed", a, None)
    raw.before, raw.effect_mm3 = main_size(a), effect_mm3(a)
    return raw


def _cut_up(one: Feature, many: tuple[Feature, ...], *, merged: bool) -> Raw:
    noun = kind_of(one)
    ids, faces = tuple(f.id for f in many), tuple(sorted(i for f in many for i in f.faces))
    difference = abs(effect_mm3(one) - sum(effect_mm3(f) for f in many))
    raw = Raw(
        kind=f"{noun}-merged" if merged else f"{noun}-split",
        effect_mm3=difference + 0.01 * effect_mm3(one),
    )
    if merged:
        raw.before, raw.after = float(len(many)), 1.0
        raw.features_before, raw.faces_before = ids, faces
        raw.features_after, raw.faces_after = (one.id,), one.faces
        raw.first, raw.second = many[0], one
    else:
        raw.before, raw.after = 1.0, float(len(many))
        raw.features_before, raw.faces_before = (one.id,), one.faces
        raw.features_after, raw.faces_after = ids, faces
        raw.first, raw.second = one, many[0]
    return raw


def is_edge_treatment(f: Feature | None) -> bool:
    """True for fillets and chamfers, which come and go with the features they edge."""
    return isinstance(f, Fillet | Chamfer)

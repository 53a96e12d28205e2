"""Changes in words of the trade, with both values."""

from dfmcheck.comparing.feature_changes import leg_mm, place
from dfmcheck.comparing.kinds import KINDS
from dfmcheck.comparing.raw import Raw, Sides, Value
from dfmcheck.comparing.whole import stock_words
from dfmcheck.model.callouts import kind_of
from dfmcheck.model.feature import (
    Boss,
    Chamfer,
    Counterbore,
    Countersink,
    Engraving,
    Feature,
    Fillet,
    Freeform,
    Groove,
    Hole,
    Knurl,
    Pocket,
    Slot,
    Step,
    Thread,
)
from dfmcheck.model.vector import norm

_PLURALS = {"boss": "bosses", "freeform": "freeform patches", "countersink": "countersinks"}
_SINGULARS = {"freeform": "freeform patch", "thread": "thread", "knurl": "knurl"}
_BOX_WORDS = {
    ("length", True): "longer", ("length", False): "shorter",
    ("width", True): "wider", ("width", False): "narrower",
    ("thickness", True): "thicker", ("thickness", False): "thinner",
    ("diameter", True): "larger in diameter", ("diameter", False): "smaller in diameter",
}  # fmt: skip


def number(x: float) -> str:
    """A length to 0.01, without trailing zeros."""
    return f"{round(x, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


def described(f: Feature) -> str:
    """The sizes of a feature in words, as on a drawing: "dia 5.5 through"."""
    if isinstance(f, Hole):
        depth = "through" if f.through else f"x {number(f.depth_mm)} deep"
        return f"dia {number(f.diameter_mm)} {depth}"
    if isinstance(f, Counterbore):
        return f"dia {number(f.diameter_mm)} x {number(f.depth_mm)} deep"
    if isinstance(f, Countersink):
        return f"dia {number(f.diameter_mm)} x {f.angle_deg:.0f} deg"
    if isinstance(f, Pocket) and f.outline == "circular":
        return f"dia {number(f.width_mm)} {_deep(f.depth_mm, f.through)}"
    if isinstance(f, Pocket | Slot | Step):
        through = isinstance(f, Pocket) and f.through
        size = f"{number(f.length_mm)} x {number(f.width_mm)}"
        corner = f.corner_radius_mm
        corners = "" if not corner or isinstance(f, Step) else f", corners R{number(corner)}"
        return f"{size} {_deep(f.depth_mm, through)}{corners}"
    if isinstance(f, Boss):
        if f.diameter_mm is not None:
            return f"dia {number(f.diameter_mm)} x {number(f.height_mm)} high"
        return f"{number(f.length_mm)} x {number(f.width_mm)} x {number(f.height_mm)} high"
    if isinstance(f, Groove):
        return f"{number(f.width_mm)} wide x {number(f.depth_mm)} deep"
    if isinstance(f, Fillet):
        return f"R{number(f.radius_mm)}"
    if isinstance(f, Chamfer):
        return f"{number(leg_mm(f))} x {f.angle_deg:.0f} deg"
    if isinstance(f, Freeform):
        return f"{f.area_mm2:.0f} mm2"
    if isinstance(f, Thread):
        return f"dia {number(f.major_diameter_mm)} pitch {number(f.pitch_mm)}"
    if isinstance(f, Knurl):
        return f"dia {number(f.diameter_mm)} pitch {number(f.pitch_mm)}"
    return f"{number(f.length_mm)} x {number(f.width_mm)}, {number(f.depth_mm)} deep"


def _deep(depth: float, through: bool) -> str:
    return "through" if through else f"x {number(depth)} deep"


def short(f: Feature) -> str:
    """What tells a feature from others of its kind, without its depth."""
    if isinstance(f, Hole | Counterbore | Countersink):
        return f"dia {number(f.diameter_mm)}"
    if isinstance(f, Pocket) and f.outline == "circular":
        return f"dia {number(f.width_mm)}"
    if isinstance(f, Pocket | Slot | Step):
        return _plan(f.length_mm, f.width_mm)
    if isinstance(f, Boss):
        round_one = f.diameter_mm is not None
        return f"dia {number(f.width_mm)}" if round_one else _plan(f.length_mm, f.width_mm)
    if isinstance(f, Groove):
        return f"{number(f.width_mm)} wide"
    if isinstance(f, Engraving | Freeform):
        return ""
    return described(f)


def _plan(length: float, width: float) -> str:
    return f"{number(length)} x {number(width)}"


def noun_of(f: Feature, count: int = 1) -> str:
    """The feature's name in the singular, or a number and the plural."""
    kind = kind_of(f)
    if isinstance(f, Fillet):
        kind = "rounded edge" if f.side == "outside" else "fillet"
    elif isinstance(f, Groove) and f.side == "face":
        kind = "face groove"
    elif isinstance(f, Groove) and f.side == "inside":
        kind = "inside groove"
    if count == 1:
        return _SINGULARS.get(kind, kind)
    return f"{count} {_PLURALS.get(kind, kind + 's')}"


def subject(r: Raw, *, sized: bool = True) -> str:
    """What changed: "hole dia 5.5", "4 holes dia 5.5" (sizes only where all share them)."""
    feature = r.second or r.first
    if feature is None:
        return KINDS[r.kind].noun
    members = [m.second or m.first for m in r.members] or [feature]
    words = {short(m) for m in members if m is not None}
    name = noun_of(feature, r.count)
    return f"{name} {words.pop()}".strip() if sized and len(words) == 1 else name


def text_of(r: Raw, sides: Sides) -> str:
    """One line with both values. `sides` are in the order in which they are reported."""
    kind = KINDS[r.kind]
    if kind.about in ("whole", "count"):
        return _first(r, sides)
    if kind.about == "feature":
        return _of_feature(r)
    if kind.about == "shape":
        return _of_body(r)
    if kind.about == "stock":
        return f"stock {stock_words(sides.before.stock)} -> {stock_words(sides.after.stock)}"
    if r.kind in ("callout-added", "callout-removed"):
        return f"callout {kind.words}: {r.after if r.before is None else r.before}"
    return f"{kind.noun} {value(r.before)} -> {value(r.after)}"


def value(v: Value) -> str:
    """A value in words."""
    if isinstance(v, float):
        return number(v)
    return "none" if v is None else v


def _first(r: Raw, sides: Sides) -> str:
    if r.kind == "unit-changed" and isinstance(r.after, float):
        return f"unit mistake? every length is now {_factor(r.after)} {_units(r.after)}"
    if r.kind in ("scaled-up", "scaled-down") and isinstance(r.after, float):
        return f"part scaled: every length is now {_factor(r.after)}"
    if r.kind == "unit-declared":
        return f"unit declared in the file {r.before} -> {r.after}, all sizes the same"
    if r.kind == "mirrored":
        return "part mirrored: it is now the mirror image of what it was, of the other hand"
    if r.kind == "replaced":
        faces = len(sides.before.facts.faces), len(sides.after.facts.faces)
        return (
            f"another part altogether: {_volume(r.before)} -> {_volume(r.after)}, "
            f"{faces[0]} -> {faces[1]} faces"
        )
    return f"number of this part in the file {value(r.before)} -> {value(r.after)}"


def _factor(f: float) -> str:
    return f"{f:.5g} times as long" if f > 1.0 else f"1/{1.0 / f:.5g} as long"


def _units(f: float) -> str:
    large = f if f > 1.0 else 1.0 / f
    known = {
        25.4: "inch and millimetre", 10.0: "centimetre and millimetre",
        1000.0: "metre and millimetre", 100.0: "metre and centimetre",
        2.54: "inch and centimetre", 304.8: "foot and millimetre", 12.0: "foot and inch",
    }  # fmt: skip
    names = [n for k, n in known.items() if abs(k / large - 1.0) < 1e-6]
    return f"({names[0]} taken for each other)" if names else "(a ratio of units)"


def _volume(v: Value) -> str:
    if not isinstance(v, float):
        return value(v)
    return f"{v / 1000.0:.3g} cm3" if v < 1e5 else f"{v / 1000.0:.1f} cm3"


def _volumes(r: Raw) -> str:
    """Both volumes in cm³ with as many decimals as it takes to tell them apart."""
    if not isinstance(r.before, float) or not isinstance(r.after, float):
        return f"{value(r.before)} -> {value(r.after)}"
    x, y = r.before / 1000.0, r.after / 1000.0
    decimals = 1 if max(x, y) >= 10.0 else 2
    while decimals < 5 and f"{x:.{decimals}f}" == f"{y:.{decimals}f}":
        decimals += 1
    return f"{x:.{decimals}f} -> {y:.{decimals}f} cm3"


def _percent(r: Raw) -> str:
    if not isinstance(r.before, float) or not isinstance(r.after, float) or r.before <= 0.0:
        return ""
    share = 100.0 * (r.after / r.before - 1.0)
    return f" ({share:+.1f} %)" if abs(share) >= 0.05 else f" ({share:+.2g} %)"


def _of_body(r: Raw) -> str:
    grew = isinstance(r.before, float) and isinstance(r.after, float) and r.after > r.before
    span = f"{value(r.before)} -> {value(r.after)}"
    if r.kind in ("box-grew", "box-shrank"):
        return f"part {_BOX_WORDS[r.what, grew]}: {span}"
    if r.kind.startswith("diameter-"):
        return f"outside diameter {span}"
    if r.kind.startswith("volume-"):
        return f"metal in the part {_volumes(r)}{_percent(r)}"
    if r.kind.startswith("mass-"):
        return f"mass {_grams(r.before)} -> {_grams(r.after)} g{_percent(r)}"
    if r.kind.startswith("wall-"):
        return f"thinnest wall {span}"
    if r.kind == "face-moved" and isinstance(r.after, float):
        count = len(r.faces_after)
        faces = "face" if count == 1 else f"{count} faces"
        way = "out of the metal" if r.after > 0 else "into the metal"
        return f"{faces} moved {number(abs(r.after))} {way}"
    if r.kind == "shape-changed":
        return _reshaped(r)
    return f"solid {value(r.before)} -> {value(r.after)}"


def _reshaped(r: Raw) -> str:
    gone, new = value(r.before), value(r.after)
    if (gone, new) != ("0", "0"):
        faces = "face" if gone == "1" else "faces"
        return f"shape changed outside its features: {gone} {faces} gone, {new} new"
    count = max(len(r.faces_before), len(r.faces_after))
    if not count:
        return "shape changed by less than any one face tells"
    faces = "face has" if count == 1 else f"{count} faces have"
    return f"shape changed: {faces} another size or outline"


def _grams(v: Value) -> str:
    if not isinstance(v, float):
        return value(v)
    return f"{v:.1f}" if v < 1000.0 else f"{v:.0f}"


_SIZE_WORDS = {
    "widened": "wider", "narrowed": "narrower", "lengthened": "longer", "shortened": "shorter",
    "deepened": "deeper", "shallower": "shallower", "higher": "higher", "lower": "lower",
    "coarser": "coarser", "finer": "finer", "grew": "larger", "shrank": "smaller",
}  # fmt: skip


def _of_feature(r: Raw) -> str:
    kind = KINDS[r.kind]
    suffix = r.kind.split("-", 1)[1] if "-" in r.kind else ""
    span = f"{value(r.before)} -> {value(r.after)}"
    if r.turned and suffix in ("added", "removed", "higher", "lower", "moved"):
        return _of_turned(r, suffix)
    if suffix in ("added", "removed", "modelled"):
        return _came_or_went(r, kind.words)
    if r.kind == "became":
        article = "an" if str(r.after)[0] in "aeiou" else "a"
        return f"{r.before} became {article} {r.after}: {_both(r)}"
    if suffix in ("split", "merged"):
        return _cut_up(r, suffix)
    if suffix == "moved" and r.shift is not None:
        where = f": {span}" if r.count == 1 else ""
        return f"{subject(r)} moved {number(norm(r.shift))}{where}"
    if suffix == "turned" and isinstance(r.after, float):
        if r.after > 179.0:
            verb = "is" if r.count == 1 else "are"
            return f"{subject(r)} {verb} on the opposite side now"
        return f"{subject(r)} turned by {number(r.after)} deg"
    if r.kind.startswith(("corner-", "floor-", "round-", "freeform-eased", "freeform-tightened")):
        return _radius(r)
    if suffix == "bottom":
        return f"{subject(r)} bottom: {span}"
    if suffix in ("slant", "angle"):
        return f"{subject(r, sized=suffix == 'slant')} {kind.words}: {span} deg"
    if suffix in ("through", "blind"):
        return f"{subject(r)} {kind.words}{_depths(r)}"
    if suffix in ("widened", "narrowed") and kind.noun in ("hole", "counterbore", "countersink"):
        return f"{subject(r, sized=False)} dia {span}"
    if suffix in ("widened", "narrowed") and r.what == "diameter":
        return f"{subject(r, sized=False)} dia {span}"
    if suffix in ("widened", "narrowed", "lengthened", "shortened"):
        return f"{subject(r, sized=False)} {_SIZE_WORDS[suffix]}: {span}{_sized(r)}"
    if suffix in _SIZE_WORDS:
        unit = " mm2" if kind.unit == "mm2" else ""
        return f"{subject(r)} {_SIZE_WORDS[suffix]}: {span}{unit}"
    return f"{subject(r)} {kind.words}: {span}"


def _sized(r: Raw) -> str:
    feature = r.second or r.first
    if feature is None or r.count > 1 or kind_of(feature) in ("chamfer", "thread", "knurl"):
        return ""
    return f" ({described(feature)})"


def _came_or_went(r: Raw, words: str) -> str:
    feature = r.second or r.first
    if feature is None:
        return words
    where = ""
    if r.count == 1:
        where = f" at {place(feature.place)}"
    edges = where if kind_of(feature) not in ("fillet", "chamfer") else ""
    return f"{noun_of(feature, r.count)} {words}: {described(feature)}{edges}"


def _of_turned(r: Raw, suffix: str) -> str:
    """A diameter of a turned part: it has no height, but a length along the axis."""
    boss = r.second or r.first
    if not isinstance(boss, Boss) or boss.diameter_mm is None:
        return KINDS[r.kind].words
    name = f"turned diameter {number(boss.diameter_mm)}"
    if suffix in ("added", "removed"):
        return f"{name} {suffix}, {number(boss.height_mm)} long"
    words = {"higher": "longer", "lower": "shorter"}.get(suffix, KINDS[r.kind].words)
    return f"{name} {words}: {value(r.before)} -> {value(r.after)}"


def _cut_up(r: Raw, suffix: str) -> str:
    """One feature that is several now, or several that are one."""
    if r.first is None or r.second is None:
        return KINDS[r.kind].words
    if suffix == "split":
        many = len(r.features_after)
        return f"{noun_of(r.first)} {short(r.first)} is now {noun_of(r.second, many)}"
    many = len(r.features_before)
    return f"{noun_of(r.first, many)} are now one: {noun_of(r.second)} {described(r.second)}"


def _both(r: Raw) -> str:
    sides = [described(f) for f in (r.first, r.second) if f is not None]
    return " -> ".join(sides)


def _depths(r: Raw) -> str:
    words = []
    for f in (r.first, r.second):
        if f is None:
            return ""
        depth = number(getattr(f, "depth_mm", 0.0))
        words.append("through" if getattr(f, "through", False) else f"{depth} deep")
    return f": {' -> '.join(words)}"


def _radius(r: Raw) -> str:
    span = f"{_r(r.before)} -> {_r(r.after)}"
    feature = r.second or r.first
    what = {"corner": "inside corners", "floor": "floor radius", "round": "rounded edge"}
    first = r.kind.split("-")[0]
    if feature is None or first not in what:
        return f"{subject(r, sized=False)} inside radius {span}"
    if isinstance(feature, Fillet):
        name = {"corner": "inside corner", "floor": "floor radius", "round": "rounded edge"}[first]
        return f"{name if r.count == 1 else f'{r.count} {name}s'} {span}"
    return f"{subject(r)}: {what[first]} {span}"


def _r(v: Value) -> str:
    if isinstance(v, float):
        return "sharp" if v < 0.005 else f"R{number(v)}"
    return "none" if v is None else v

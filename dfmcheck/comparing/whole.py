"""What is said first (unit, hand, number) and what follows from a shape (metal, stock, process)."""

import math

from dfmcheck.comparing.raw import Raw, Sides
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.part import Part
from dfmcheck.model.stock import Stock

VOLUME_RATIO = 2e-5
"""Volumes closer than this share are equal."""
WALL_MM = 0.05
"""Walls that differ by less are not called thinner."""
_STRANGER = 0.4
"""Less than this matched, the file holds another part."""


def first_changes(sides: Sides) -> list[Raw]:
    """Unit, scale, hand, another part, number of parts: what is said before all else."""
    raws: list[Raw] = []
    before, after, alignment = sides.before, sides.after, sides.alignment
    if alignment.factor != 1.0:
        kind = "scaled-up" if alignment.factor > 1.0 else "scaled-down"
        raw = Raw(kind="unit-changed" if alignment.unit_mistake else kind)
        raw.before, raw.after = 1.0, alignment.factor
        raws.append(raw)
    elif before.unit != after.unit:
        raws.append(Raw(kind="unit-declared", before=before.unit, after=after.unit))
    if alignment.motion.mirrored:
        raws.append(Raw(kind="mirrored", before="one hand", after="other hand"))
    x, y = before.facts.count, after.facts.count
    if x != y:
        kinds = ("part-doubled", "part-more") if y > x else ("part-halved", "part-fewer")
        exactly = max(x, y) == 2 * min(x, y)
        raws.append(Raw(kind=kinds[0 if exactly else 1], before=float(x), after=float(y)))
    if before.facts.closed != after.facts.closed:
        kind = "solid-closed" if after.facts.closed else "solid-opened"
        states = {True: "closed", False: "open"}
        raws.append(
            Raw(kind=kind, before=states[before.facts.closed], after=states[after.facts.closed])
        )
    if _strangers(sides):
        raws.append(
            Raw(kind="replaced", before=before.facts.volume_mm3, after=after.facts.volume_mm3)
        )
    return raws


def _strangers(sides: Sides) -> bool:
    """True where no edge of the box, hardly a face and hardly a feature is as it was."""
    matches, factor = sides.alignment.matches, sides.alignment.factor
    before, after = sides.before.facts, sides.after.facts
    edges = zip(sorted(before.frame.size_mm), sorted(after.frame.size_mm), strict=True)
    ratios = [min(factor * x, y) / max(factor * x, y, 1e-12) for x, y in edges]
    other_box = max(ratios) < 0.97 and math.prod(ratios) < 0.5
    most = max(len(before.faces), len(after.faces), 1)
    unknown = matches.score < _STRANGER and len(matches.exact) < 0.2 * most
    features = max(len(sides.before.features), len(sides.after.features), 1)
    return other_box and unknown and len(sides.features.pairs) < 0.2 * features


def derived_changes(sides: Sides, *, same_shape: bool) -> list[Raw]:
    """Metal, mass, thinnest wall, stock and process.

    The same shape is made the same way: then only the configuration can change mass or stock. A
    unit mistake makes mass, stock and process of the two sides incomparable: they are not told.
    """
    found: list[Raw | None] = []
    if not same_shape:
        found += [_volume(sides), _wall(sides)]
    if not sides.alignment.unit_mistake:
        found.append(_mass(sides))
        found += _process(sides) if not same_shape else ()
        found += _stock(sides) if not same_shape or _other_supply(sides) else ()
    raws = [r for r in found if r is not None]
    for r in raws:
        r.derived = True
    return raws


def _other_supply(sides: Sides) -> bool:
    """True where material or catalogue are others, and so may the stock be."""
    x, y = sides.before, sides.after
    materials = [None if p.entry is None else p.entry.material for p in (x, y)]
    series = [None if p.stock is None else p.stock.series for p in (x, y)]
    return materials[0] != materials[1] or series[0] != series[1]


def _volume(sides: Sides) -> Raw | None:
    x = sides.before.facts.volume_mm3 * sides.alignment.factor**3
    y = sides.after.facts.volume_mm3
    if abs(x - y) <= VOLUME_RATIO * max(x, y):
        return None
    raw = Raw(kind="volume-grew" if y > x else "volume-shrank", before=x, after=y)
    raw.effect_mm3 = abs(y - x)
    return raw


def mass_g(part: Part) -> float | None:
    """Mass of a part in g; None where the material is not given or not known."""
    if part.entry is None or part.entry.material is None:
        return None
    from dfmcheck.planning.materials import find_material

    material = find_material(part.entry.material)
    return None if material is None else part.facts.volume_mm3 * material.density_g_cm3 / 1000.0


def _mass(sides: Sides) -> Raw | None:
    x, y = mass_g(sides.before), mass_g(sides.after)
    if x is None or y is None or abs(x - y) <= max(1e-3 * max(x, y), 0.005):
        return None
    raw = Raw(kind="mass-grew" if y > x else "mass-shrank", before=x, after=y)
    raw.effect_mm3 = abs(sides.after.facts.volume_mm3 - sides.before.facts.volume_mm3)
    return raw


def _wall(sides: Sides) -> Raw | None:
    thinnest = _thinnest(sides.before.facts), _thinnest(sides.after.facts)
    (x, i), (y, j) = thinnest
    x *= sides.alignment.factor
    if i is None or j is None or abs(x - y) <= WALL_MM + 0.01 * max(x, y):
        return None
    raw = Raw(kind="wall-thicker" if y > x else "wall-thinner", before=x, after=y)
    raw.faces_before = _pair_of(sides.before.facts, i)
    raw.faces_after = _pair_of(sides.after.facts, j)
    return raw


def _thinnest(facts: PartFacts) -> tuple[float, int | None]:
    walls = [(f.wall_mm, f.index) for f in facts.faces if f.wall_mm is not None]
    return min(walls) if walls else (0.0, None)


def _pair_of(facts: PartFacts, index: int) -> tuple[int, ...]:
    other = facts.faces[index].wall_face
    return (index,) if other is None else tuple(sorted({index, other}))


def _stock(sides: Sides) -> list[Raw]:
    x, y = sides.before.stock, sides.after.stock
    if x is None and y is None:
        return []
    if x is None or y is None or x.form != y.form:
        raw = Raw(kind="stock-form", before=stock_words(x), after=stock_words(y))
        volumes = [s.volume_mm3 for s in (x, y) if s is not None]
        raw.effect_mm3 = max(volumes) - min(volumes) if len(volumes) == 2 else volumes[0]
        return [raw]
    sections_differ = x.label != y.label or any(
        abs(a - b) > 0.005 for a, b in zip(x.section_mm, y.section_mm, strict=False)
    )
    if not sections_differ and abs(x.length_mm - y.length_mm) <= 0.02:
        return []
    kind = "stock-grew" if y.volume_mm3 >= x.volume_mm3 else "stock-shrank"
    raw = Raw(kind=kind, before=x.volume_mm3, after=y.volume_mm3)
    raw.effect_mm3 = abs(y.volume_mm3 - x.volume_mm3)
    return [raw]


def stock_words(stock: Stock | None) -> str:
    """A piece of stock as on an order, with the length cut off."""
    if stock is None:
        return "none"
    if stock.form == "block":
        return stock.label
    sawn = f"{stock.section_mm[0]:.4g} x " if stock.form == "plate" else ""
    return f"{stock.label}, {sawn}{stock.length_mm:.4g} long"


def _process(sides: Sides) -> list[Raw]:
    x, y = sides.before.process, sides.after.process
    raws: list[Raw] = []
    if x.process != y.process:
        raw = Raw(kind="process-changed", before=x.process, after=y.process)
        raw.effect_mm3 = 0.25 * sides.after.facts.volume_mm3
        raws.append(raw)
    before, after = len(x.setup_directions), len(y.setup_directions)
    if before != after:
        kind = "setups-more" if after > before else "setups-fewer"
        raw = Raw(kind=kind, before=float(before), after=float(after))
        raw.effect_mm3 = 0.2 * sides.after.facts.volume_mm3 * abs(after - before)
        raws.append(raw)
    return raws

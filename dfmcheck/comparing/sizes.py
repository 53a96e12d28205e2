"""Which sizes a feature of each kind has, how they are called, and how a motion carries them."""

import math
from typing import Any

import msgspec

from dfmcheck.comparing.geometry import carry, turn
from dfmcheck.model.base import Value
from dfmcheck.model.callouts import kind_of
from dfmcheck.model.change import Motion
from dfmcheck.model.feature import Feature

LENGTH_MM = 0.006
"""Sizes that differ by less are the same size written by another system."""
MOVED_MM = 0.02
"""Features displaced by less have not moved."""
ANGLE_DEG = 0.1
"""Angles that differ by less are the same angle."""


class Size(Value, frozen=True):
    """One size of a feature: its attribute and the kinds of change when it grows or shrinks."""

    attribute: str
    grown: str
    shrunk: str


def _sizes(*rows: tuple[str, str, str]) -> tuple[Size, ...]:
    return tuple(Size(attribute=a, grown=g, shrunk=s) for a, g, s in rows)


def _plan(noun: str, *, depth: bool = True) -> tuple[tuple[str, str, str], ...]:
    rows = [
        ("length_mm", f"{noun}-lengthened", f"{noun}-shortened"),
        ("width_mm", f"{noun}-widened", f"{noun}-narrowed"),
    ]
    if depth:
        rows.append(("depth_mm", f"{noun}-deepened", f"{noun}-shallower"))
    return tuple(rows)


_CORNERS = (
    ("corner_radius_mm", "corner-eased", "corner-tightened"),
    ("floor_radius_mm", "floor-eased", "floor-tightened"),
)

SIZES: dict[str, tuple[Size, ...]] = {
    "hole": _sizes(
        ("diameter_mm", "hole-widened", "hole-narrowed"),
        ("reach_mm", "hole-deepened", "hole-shallower"),
        ("entry_slant_deg", "hole-slant", "hole-slant"),
    ),
    "counterbore": _sizes(
        ("diameter_mm", "counterbore-widened", "counterbore-narrowed"),
        ("depth_mm", "counterbore-deepened", "counterbore-shallower"),
    ),
    "countersink": _sizes(
        ("diameter_mm", "countersink-widened", "countersink-narrowed"),
        ("depth_mm", "countersink-deepened", "countersink-shallower"),
        ("angle_deg", "countersink-angle", "countersink-angle"),
    ),
    "pocket": _sizes(*_plan("pocket"), *_CORNERS),
    "slot": _sizes(*_plan("slot"), *_CORNERS),
    "step": _sizes(*_plan("step"), *_CORNERS),
    "boss": _sizes(*_plan("boss", depth=False), ("height_mm", "boss-higher", "boss-lower")),
    "groove": _sizes(
        ("width_mm", "groove-widened", "groove-narrowed"),
        ("depth_mm", "groove-deepened", "groove-shallower"),
        ("floor_radius_mm", "floor-eased", "floor-tightened"),
    ),
    "fillet": _sizes(("radius_mm", "round-larger", "round-smaller")),
    "chamfer": _sizes(
        ("width_mm", "chamfer-widened", "chamfer-narrowed"),
        ("angle_deg", "chamfer-angle", "chamfer-angle"),
    ),
    "freeform": _sizes(
        ("area_mm2", "freeform-grew", "freeform-shrank"),
        ("inside_radius_mm", "freeform-eased", "freeform-tightened"),
    ),
    "thread": _sizes(("length_mm", "thread-lengthened", "thread-shortened")),
    "knurl": _sizes(("length_mm", "knurl-lengthened", "knurl-shortened")),
    "engraving": _sizes(
        ("depth_mm", "engraving-deepened", "engraving-shallower"),
        ("narrowest_mm", "engraving-coarser", "engraving-finer"),
        ("length_mm", "engraving-lengthened", "engraving-shortened"),
    ),
}
"""The measured sizes of each kind of feature that are compared."""

_LENGTHS = frozenset(
    name
    for noun in SIZES.values()
    for name in (s.attribute for s in noun)
    if name.endswith("_mm")
) | {
    "depth_mm", "reach_mm", "diameter_mm", "height_mm", "radius_mm", "major_diameter_mm",
    "minor_diameter_mm", "pitch_mm", "length_mm", "width_mm",
}  # fmt: skip


def carried_feature(feature: Feature, motion: Motion, factor: float) -> Feature:
    """The feature after factor and motion: place, direction and every length."""
    changed: dict[str, Any] = {
        "place": carry(motion, feature.place, factor),
        "direction": turn(motion, feature.direction),
    }
    if factor != 1.0:
        for name in feature.__struct_fields__:
            value = getattr(feature, name)
            if isinstance(value, float):
                if name in _LENGTHS:
                    changed[name] = value * factor
                elif name == "area_mm2":
                    changed[name] = value * factor * factor
    return msgspec.structs.replace(feature, **changed)


def extent_mm(feature: Feature) -> float:
    """A length that stands for the size of a feature: its diameter, else its longest edge."""
    names = ("diameter_mm", "major_diameter_mm", "length_mm", "width_mm", "radius_mm")
    for name in names:
        value = getattr(feature, name, None)
        if value:
            return float(value)
    area = getattr(feature, "area_mm2", 0.0)
    return math.sqrt(float(area))


def likeness(a: Feature, b: Feature) -> float:
    """How alike two features of one kind are by size, 0 to 1: the mean ratio of their sizes."""
    ratios: list[float] = []
    for size in SIZES[kind_of(a)]:
        if size.attribute in ("entry_slant_deg", "corner_radius_mm", "floor_radius_mm"):
            continue
        x, y = getattr(a, size.attribute), getattr(b, size.attribute)
        if x is not None and y is not None:
            ratios.append(min(x, y) / max(x, y) if max(x, y) > 0.0 else 1.0)
    for name in ("side", "role", "form", "outline", "profile", "through"):
        x, y = getattr(a, name, None), getattr(b, name, None)
        if x is not None:
            ratios.append(1.0 if x == y else 0.6)
    return sum(ratios) / len(ratios) if ratios else 1.0


def effect_mm3(feature: Feature) -> float:
    """Roughly the metal a feature concerns, in mm³: what orders changes until prices do."""

    def of(name: str) -> float:
        value = getattr(feature, name, None)
        return float(value) if isinstance(value, int | float) else 0.0

    kind = kind_of(feature)
    if kind in ("hole", "counterbore", "countersink"):
        return 0.785 * of("diameter_mm") ** 2 * of("depth_mm")
    if kind in ("pocket", "slot", "step", "engraving"):
        return of("length_mm") * of("width_mm") * of("depth_mm")
    if kind == "boss":
        return of("length_mm") * of("width_mm") * of("height_mm")
    if kind == "groove":
        return 3.1416 * of("diameter_mm") * of("width_mm") * of("depth_mm")
    if kind == "fillet":
        return 0.2146 * of("radius_mm") ** 2 * of("length_mm")
    if kind == "chamfer":
        return 0.25 * of("width_mm") ** 2 * of("length_mm")
    if kind == "freeform":
        return of("area_mm2")
    diameter = of("major_diameter_mm") or of("diameter_mm")
    return 3.1416 * diameter * of("length_mm")

"""Features in words, equal ones counted: "4 holes dia 5.5 through"."""

from collections.abc import Callable
from typing import Any

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
from dfmcheck.reporting.sheet.words import number

ORDER = (
    "hole", "counterbore", "countersink", "thread", "pocket", "slot", "groove", "step", "boss",
    "knurl", "engraving", "freeform", "fillet", "chamfer",
)  # fmt: skip
"""Kinds in the order in which they are told."""

PLURALS = {"boss": "bosses", "freeform": "freeform surfaces", "engraving": "engravings"}
SINGULARS = {"freeform": "freeform surface"}


def grouped(features: tuple[Feature, ...]) -> list[str]:
    """One line for each group of equal features, in the order of `ORDER`, most numerous first.

    Counterbores and countersinks are told with their hole.
    """
    mouths = [f for f in features if isinstance(f, Counterbore | Countersink)]
    holes = {f.id for f in features if isinstance(f, Hole)}
    groups: dict[tuple[int, str, str], int] = {}
    for feature in features:
        if isinstance(feature, Counterbore | Countersink) and feature.of in holes:
            continue
        kind = kind_of(feature)
        said = describe(feature)
        if isinstance(feature, Hole):
            own = [m for m in mouths if m.of == feature.id]
            said = ", ".join([said, *sorted(f"{kind_of(m)} {describe(m)}" for m in own)])
        key = (ORDER.index(kind), kind, said)
        groups[key] = groups.get(key, 0) + 1
    ordered = sorted(groups.items(), key=lambda g: (g[0][0], -g[1], g[0][2]))
    return [f"{n} {noun(kind, n)} {said}".rstrip() for (_, kind, said), n in ordered]


def noun(kind: str, n: int) -> str:
    """The word for `n` features of a kind."""
    if n == 1:
        return SINGULARS.get(kind, kind)
    return PLURALS.get(kind, kind + "s")


def counts(features: tuple[Feature, ...]) -> dict[str, int]:
    """How many features of each kind, in the order of `ORDER`."""
    found: dict[str, int] = {}
    for kind in ORDER:
        n = sum(kind_of(f) == kind for f in features)
        if n:
            found[kind] = n
    return found


def describe(feature: Feature) -> str:
    """A feature's sizes in words, without its name and place."""
    return _WORDS[type(feature)](feature)


def _corners(radius: float | None, floor: float | None) -> list[str]:
    said = []
    if radius is not None:
        said.append(f"corners R{number(radius)}" if radius > 0.0 else "corners sharp")
    if floor is not None and floor > 0.0:
        said.append(f"floor R{number(floor)}")
    return said


def _joined(first: str, *more: str) -> str:
    return ", ".join([first, *(m for m in more if m)])


def _hole(h: Hole) -> str:
    bottoms = {"flat": "flat bottom", "round": "round bottom", "other": "uneven bottom"}
    bottom = bottoms.get(h.bottom, "")
    if h.bottom == "cone" and h.bottom_angle_deg is not None:
        bottom = f"{number(h.bottom_angle_deg, 0)} deg point"
    slant = max(h.entry_slant_deg, h.exit_slant_deg)
    depth = "through" if h.through else f"x {number(h.depth_mm)} deep"
    return _joined(
        f"dia {number(h.diameter_mm)} {depth}",
        "" if h.through else bottom,
        "tilted" if h.tilted else "",
        f"meets the surface {number(slant, 1)} deg off square" if slant > 0.05 else "",
        "interrupted" if h.interrupted else "",
    )


def _counterbore(c: Counterbore) -> str:
    return f"dia {number(c.diameter_mm)} x {number(c.depth_mm)} deep"


def _countersink(c: Countersink) -> str:
    return f"dia {number(c.diameter_mm)} x {number(c.angle_deg, 1)} deg"


def _pocket(p: Pocket) -> str:
    if p.outline == "circular":
        size = f"dia {number(p.length_mm)}"
    else:
        size = f"{number(p.length_mm)} x {number(p.width_mm)}"
    depth = "through" if p.through else f"x {number(p.depth_mm)} deep"
    return _joined(
        f"{size} {depth}",
        "open at the side" if p.open else "",
        *_corners(p.corner_radius_mm, p.floor_radius_mm),
    )


def _slot(s: Slot) -> str:
    profiles = {"triangular": "V", "round": "round", "tee": "T", "dovetail": "dovetail"}
    return _joined(
        f"{number(s.width_mm)} wide x {number(s.length_mm)} x {number(s.depth_mm)} deep",
        "open at both ends" if s.through else "closed at one end",
        f"{profiles[s.profile]} section" if s.profile in profiles else "",
        *_corners(s.corner_radius_mm, s.floor_radius_mm),
    )


def _step(s: Step) -> str:
    return _joined(
        f"{number(s.length_mm)} x {number(s.width_mm)} x {number(s.depth_mm)} deep",
        "" if s.through else "closed at one end",
        "slanted" if s.slanted else "",
        *_corners(s.corner_radius_mm, s.floor_radius_mm),
    )


def _boss(b: Boss) -> str:
    if b.diameter_mm is not None:
        return f"dia {number(b.diameter_mm)} x {number(b.height_mm)} high"
    return f"{number(b.length_mm)} x {number(b.width_mm)} x {number(b.height_mm)} high"


def _groove(g: Groove) -> str:
    side = {"outside": "outside", "inside": "in a bore", "face": "in an end face"}[g.side]
    size = f"{number(g.width_mm)} wide x {number(g.depth_mm)} deep"
    return _joined(
        f"{side}, {size} at dia {number(g.diameter_mm)}",
        f"floor R{number(g.floor_radius_mm)}" if g.floor_radius_mm else "",
    )


def _fillet(f: Fillet) -> str:
    roles = {
        "corner": "inside corner",
        "floor": "between floor and wall",
        "edge": "rounded edge",
        "other": "inside round" if f.side == "inside" else "outside round",
    }
    return f"R{number(f.radius_mm)}, {roles[f.role]}"


def _chamfer(c: Chamfer) -> str:
    return f"{number(c.width_mm)} wide, {number(c.angle_deg, 1)} deg"


def _freeform(f: Freeform) -> str:
    return _joined(
        f"{number(f.area_mm2, 0)} mm2",
        f"least inside radius R{number(f.inside_radius_mm)}" if f.inside_radius_mm else "",
    )


def _thread(t: Thread) -> str:
    form = "as a helix" if t.form == "helical" else "as rings"
    return (
        f"modelled {form}, {t.side}, dia {number(t.major_diameter_mm)}"
        f" x pitch {number(t.pitch_mm)}, {number(t.length_mm)} long"
    )


def _knurl(k: Knurl) -> str:
    return (
        f"modelled, {k.pattern}, dia {number(k.diameter_mm)}, pitch {number(k.pitch_mm)},"
        f" {number(k.length_mm)} long"
    )


def _engraving(e: Engraving) -> str:
    height = "high" if e.raised else "deep"
    return (
        f"{number(e.length_mm, 1)} x {number(e.width_mm, 1)}, {number(e.depth_mm, 2)} {height},"
        f" narrowest {number(e.narrowest_mm, 2)}"
    )


_WORDS: dict[type, Callable[[Any], str]] = {
    Hole: _hole,
    Counterbore: _counterbore,
    Countersink: _countersink,
    Pocket: _pocket,
    Slot: _slot,
    Step: _step,
    Boss: _boss,
    Groove: _groove,
    Fillet: _fillet,
    Chamfer: _chamfer,
    Freeform: _freeform,
    Thread: _thread,
    Knurl: _knurl,
    Engraving: _engraving,
}

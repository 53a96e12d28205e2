"""From our kinds to the classes of MFCAD and of its successor with round features.

The classes are those of the data sets; a feature of ours maps to one of them by its fields
and, where their classes tell apart what is one kind to us, by the surfaces of its faces.
"""

from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import (
    Boss,
    Chamfer,
    Counterbore,
    Countersink,
    Feature,
    Fillet,
    Groove,
    Hole,
    Pocket,
    Slot,
    Step,
)

SIDES = {"triangular": "triangular", "rectangular": "rectangular", "hexagonal": "6sides"}


def classes(part: PartFacts, features: tuple[Feature, ...]) -> list[str]:
    """The class of each face of a part; faces in no feature are "stock"."""
    found = ["stock"] * len(part.faces)
    by_id = {f.id: f for f in features}
    for feature in features:
        name = class_of(part, feature, by_id)
        for face in feature.faces:
            found[face] = name
    return found


def class_of(part: PartFacts, feature: Feature, by_id: dict[str, Feature]) -> str:
    """The class of one feature."""
    match feature:
        case Chamfer():
            return "chamfer"
        case Hole():
            return "through_hole" if feature.through else "blind_hole"
        case Counterbore():
            return "blind_hole"
        case Countersink():
            return "chamfer"
        case Groove():
            return "Oring"
        case Fillet():
            if feature.side == "inside" and feature.role == "corner" and feature.of in by_id:
                return class_of(part, by_id[feature.of], by_id)
            return "round"
        case Pocket():
            return "Oring" if _is_ring(feature, by_id) else _pocket(feature)
        case Boss():
            parent = by_id.get(feature.of or "")
            ring = isinstance(parent, Pocket) and _is_ring(parent, by_id)
            return "Oring" if ring else "stock"
        case Slot():
            return _slot(part, feature)
        case Step():
            return _step(feature)
    return "stock"


def _is_ring(pocket: Pocket, by_id: dict[str, Feature]) -> bool:
    """A round hollow with a round post in it, which is one ring-shaped cut to them."""
    posts = [f for f in by_id.values() if isinstance(f, Boss) and f.of == pocket.id]
    return pocket.outline == "circular" and len(posts) == 1 and posts[0].diameter_mm is not None


def _pocket(pocket: Pocket) -> str:
    if pocket.outline in SIDES:
        return SIDES[pocket.outline] + ("_passage" if pocket.through else "_pocket")
    if pocket.outline == "obround":
        return "circular_end_pocket"
    if pocket.outline == "circular":
        return "through_hole" if pocket.through else "blind_hole"
    return "no class of theirs"


def _slot(part: PartFacts, slot: Slot) -> str:
    if slot.through:
        return {"triangular": "triangular_through_slot", "round": "circular_through_slot"}.get(
            slot.profile, "rectangular_through_slot"
        )
    arcs = [part.faces[f].span_deg or 0.0 for f in slot.faces if part.faces[f].radius_mm]
    if any(a > 120.0 for a in arcs):
        return "v_circular_end_blind_slot"
    if arcs or slot.corner_radius_mm:
        return "h_circular_end_blind_slot"
    return "rectangular_blind_slot"


def _step(step: Step) -> str:
    if step.through:
        if step.walls >= 2:
            return "2sides_through_step"
        return "slanted_through_step" if step.slanted else "rectangular_through_step"
    if step.outline == "triangular":
        return "triangular_blind_step"
    return "rectangular_blind_step"

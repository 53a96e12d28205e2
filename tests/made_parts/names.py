"""The names that faces bear by the features recognised, in the words of the made parts."""

from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature, Fillet, Hole, Pocket, Slot, Step


def name_of(feature: Feature) -> str:
    """The name of a feature: its kind, and how it ends where that tells features apart."""
    kind = str(type(feature).__struct_config__.tag)
    match feature:
        case Hole():
            return "hole through" if feature.through else "hole blind"
        case Pocket():
            return "pocket through" if feature.through else "pocket"
        case Slot() | Step():
            return kind if feature.through else f"{kind} blind"
        case Fillet():
            return f"fillet {feature.side}"
    return kind


def names_of(part: PartFacts, features: tuple[Feature, ...]) -> list[str]:
    """The name of each face; faces in no feature are "stock"."""
    found = ["stock"] * len(part.faces)
    for feature in features:
        for face in feature.faces:
            found[face] = name_of(feature)
    return found

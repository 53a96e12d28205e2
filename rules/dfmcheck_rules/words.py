"""How the shipped rules write numbers and name features."""

from itertools import zip_longest

from dfmcheck.api import (
    Boss,
    Change,
    Counterbore,
    Countersink,
    Engraving,
    Feature,
    Groove,
    Hole,
    Knurl,
    Pocket,
    Slot,
    Step,
    Thread,
    kind_of,
)

PRACTICE = "common practice, no source"
"""The source of a rule of thumb."""


def num(value: float) -> str:
    """A number with at most two decimals, none that say nothing."""
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


def number(value: float | str | None) -> float | None:
    """The value of a change where it is a number."""
    return value if isinstance(value, float) else float(value) if isinstance(value, int) else None


def percent(before: float, after: float, least: float = 1e-6) -> float:
    """By how much a quantity rose, in % of what it was, or of `least` where it was less."""
    return 100.0 * (after - before) / max(before, least)


def sizes(feature: Feature) -> str:
    """A feature with its sizes in mm, as a designer would name it: "hole dia 2.5 x 8 deep"."""
    match feature:
        case Pocket(through=True):
            plan = f"{num(feature.length_mm)} x {num(feature.width_mm)}"
            return f"pocket {plan} through {num(feature.depth_mm)}"
        case Hole(through=True):
            return f"hole dia {num(feature.diameter_mm)} through {num(feature.depth_mm)}"
        case Hole() | Counterbore() | Countersink():
            name = kind_of(feature)
            return f"{name} dia {num(feature.diameter_mm)} x {num(feature.depth_mm)} deep"
        case Pocket() | Slot() | Step():
            plan = f"{num(feature.length_mm)} x {num(feature.width_mm)}"
            return f"{kind_of(feature)} {plan} x {num(feature.depth_mm)} deep"
        case Groove():
            return (
                f"{feature.side} groove {num(feature.width_mm)} wide x "
                f"{num(feature.depth_mm)} deep at dia {num(feature.diameter_mm)}"
            )
        case Boss():
            return f"boss {num(feature.height_mm)} high"
        case Thread():
            return (
                f"{feature.side} thread dia {num(feature.major_diameter_mm)}, "
                f"pitch {num(feature.pitch_mm)}, {num(feature.length_mm)} long"
            )
        case Knurl():
            return (
                f"{feature.pattern} knurl dia {num(feature.diameter_mm)}, "
                f"pitch {num(feature.pitch_mm)}, {num(feature.length_mm)} long"
            )
        case Engraving():
            return f"engraving {num(feature.length_mm)} x {num(feature.width_mm)}"
    return kind_of(feature)


def concerned(change: Change) -> tuple[tuple[str | None, str | None], ...]:
    """The features (before, after) of a change by id; equal ones are told as one change."""
    before = change.features_before or (change.feature_before,)
    after = change.features_after or (change.feature_after,)
    return tuple(zip_longest(before, after))


def plural(noun: str, count: int) -> str:
    """A noun in the number it needs, without the number."""
    return noun if count == 1 else f"{noun}es" if noun.endswith("ss") else f"{noun}s"

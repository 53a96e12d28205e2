"""Which findings a change brought: the same finding is sought in the revision before.

A finding's identity is its rule, the part number and a signature of the feature it is about:
kind, main size and place, which survive a re-export and a renumbering of faces.
"""

from collections.abc import Iterable
from typing import Literal

from dfmcheck.model.callouts import kind_of
from dfmcheck.model.change import Comparison
from dfmcheck.model.feature import Feature
from dfmcheck.model.finding import Remark
from dfmcheck.model.part import Part

NOISE_RATIO = 1e-3
"""A measured value has become worse if it moved further beyond by more than this share of it."""

_SIZES = ("diameter_mm", "major_diameter_mm", "radius_mm", "width_mm", "area_mm2", "height_mm")


def feature_signature(feature: Feature) -> str:
    """Kind, main size and place of a feature: "hole 2.5 at 12.0, 4.0, 0.0" (mm)."""
    sizes = (getattr(feature, name, None) for name in _SIZES)
    size = next((f" {_number(s, 3)}" for s in sizes if s is not None), "")
    place = ", ".join(f"{_zeroless(round(c, 1)):.1f}" for c in feature.place)
    return f"{kind_of(feature)}{size} at {place}"


def remark_signature(remark: Remark, part: Part) -> str:
    """What tells a remark from the others of its rule in this part."""
    words = [remark.signature, remark.limit or ""]
    feature = part.feature(remark.feature) if remark.feature else None
    if feature is not None:
        words.append(feature_signature(feature))
    elif remark.faces and not remark.signature:
        face = part.facts.faces[min(remark.faces)]
        place = ", ".join(f"{_zeroless(round(c, 1)):.1f}" for c in face.centroid)
        words.append(f"{face.surface} at {place}")
    return " ".join(word for word in words if word)


def is_old(
    remark: Remark,
    part: Part,
    former: Part,
    former_remarks: Iterable[Remark],
    comparison: Comparison | None,
    sense: Literal["most", "least"] | None,
) -> bool:
    """Whether the revision before had the same finding, at least as bad.

    The same rule's remarks are compared; `sense` is that of the remark's limit. One that moved
    further beyond its limit is new; one that got better stays old.
    """
    for other in former_remarks:
        if (
            other.limit == remark.limit
            and _same_place(remark, part, other, former, comparison)
            and not _worse(remark.measured, other.measured, sense)
        ):
            return True
    return False


def _same_place(
    remark: Remark, part: Part, other: Remark, former: Part, comparison: Comparison | None
) -> bool:
    if other.signature != remark.signature:
        return False
    if remark_signature(remark, part) == remark_signature(other, former):
        return True
    if comparison is None:
        return False
    if remark.feature is not None or other.feature is not None:
        return (other.feature, remark.feature) in comparison.features
    if remark.faces or other.faces:
        return any(
            before in other.faces and after in remark.faces for before, after in comparison.faces
        )
    return True


def _worse(now: float | None, before: float | None, sense: Literal["most", "least"] | None) -> bool:
    if now is None or before is None or sense is None:
        return False
    beyond = now - before if sense == "most" else before - now
    return beyond > max(1e-6, NOISE_RATIO * abs(before))


def _number(value: float, places: int) -> str:
    return f"{round(value, places):g}"


def _zeroless(value: float) -> float:
    return value + 0.0  # turns -0.0 into 0.0

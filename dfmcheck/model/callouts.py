"""Which features a callout belongs to.

A callout names its features by kind, size and place, so that it survives a re-export; nothing in
a STEP file carries a name that would.
"""

import math

from dfmcheck.model.base import Vec
from dfmcheck.model.feature import Feature, Hole
from dfmcheck.model.settings import Callout, CalloutTarget

SIZE_TOLERANCE_MM = 0.02
"""A feature has the size asked for within this much."""

NEAR_MM = 10.0
"""The nearest feature lies within this much of `near_mm`, or within four times its size."""


def kind_of(feature: Feature) -> str:
    """The kind of a feature as written in callouts and reports ("hole", "pocket" …)."""
    return str(feature.__struct_config__.tag)


def callout_targets(callout: Callout, features: tuple[Feature, ...]) -> tuple[Feature, ...]:
    """The features of a part that a callout means, nearest first, else in their order.

    Without `near_mm` these are all of the kind and size asked for. With it, as many as `count`
    says (one if it says nothing), of which the nearest must lie close by: a callout does not
    leap to a like feature at the other end of the part.
    """
    find = callout.find
    fitting = tuple(f for f in features if kind_of(f) == find.kind and _has_size(f, find))
    if find.near_mm is None:
        return fitting
    near = find.near_mm
    by_distance = sorted(fitting, key=lambda f: (round(_distance_mm(f, near), 6), f.id))
    if not by_distance:
        return ()
    close = max(NEAR_MM, 4.0 * _size_mm(by_distance[0]))
    if _distance_mm(by_distance[0], near) > close:
        return ()
    return tuple(by_distance[: find.count or 1])


def callouts_of(
    feature: Feature, callouts: tuple[Callout, ...], features: tuple[Feature, ...]
) -> tuple[Callout, ...]:
    """The callouts that mean this feature."""
    return tuple(c for c in callouts if feature in callout_targets(c, features))


def _has_size(feature: Feature, find: CalloutTarget) -> bool:
    return _agrees(find.diameter_mm, _diameters_mm(feature)) and _agrees(
        find.radius_mm, _radii_mm(feature)
    )


def _agrees(wanted: float | None, sizes: tuple[float, ...]) -> bool:
    if wanted is None:
        return True
    # half a billionth more, so that a size written to two places lies on the edge, not beside it
    return any(abs(size - wanted) <= SIZE_TOLERANCE_MM + 5e-10 for size in sizes)


def _diameters_mm(feature: Feature) -> tuple[float, ...]:
    names = ("diameter_mm", "major_diameter_mm", "minor_diameter_mm")
    found = (getattr(feature, name, None) for name in names)
    return tuple(size for size in found if size is not None)


def _radii_mm(feature: Feature) -> tuple[float, ...]:
    names = ("radius_mm", "corner_radius_mm", "floor_radius_mm", "inside_radius_mm")
    found = (getattr(feature, name, None) for name in names)
    return tuple(size for size in found if size is not None)


def _size_mm(feature: Feature) -> float:
    for name in ("diameter_mm", "major_diameter_mm", "width_mm", "radius_mm"):
        size = getattr(feature, name, None)
        if size is not None:
            return float(size)
    return 0.0


def _distance_mm(feature: Feature, near: Vec) -> float:
    """Distance from a place to the feature; for a hole, to its axis between both ends."""
    offset = tuple(n - p for n, p in zip(near, feature.place, strict=True))
    if isinstance(feature, Hole):
        into = tuple(-d for d in feature.direction)
        along = sum(o * i for o, i in zip(offset, into, strict=True))
        along = min(max(along, 0.0), feature.reach_mm)
        offset = tuple(o - along * i for o, i in zip(offset, into, strict=True))
    return math.sqrt(sum(o * o for o in offset))

"""Rules about turned parts."""

from collections.abc import Iterator
from itertools import pairwise

from dfmcheck.api import Limit, Remark, View, rule
from dfmcheck_rules.words import num

Profile = tuple[tuple[float, float], ...]
"""Points (z, radius) in mm in their order along a turning axis; a shoulder has two at one z."""


@rule(
    name="slender-turned-part",
    title="turned part long for its diameter",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="turned_length_ratio",
            default=10.0,
            unit="x diameter",
            sense="most",
            source="turning textbooks: a steady or a sliding head from about 10 diameters on "
            "(from memory; 8 to 12 are quoted)",
            meaning="length of a turned part, or of a thin length of it, in its diameters",
        ),
    ),
)
def slender_turned_part(view: View) -> Iterator[Remark]:
    """A thin shaft bends away from the tool, so that it comes out thicker in the middle.

    Up to about four diameters a part is turned held at one end. Longer ones are supported by a
    centre in the far end, which needs a centre hole there. From about ten diameters on the lathe
    needs a steady that follows the tool, or a sliding head that feeds the bar through a bush
    close to it: fewer shops have it, and it takes time to set. The whole part counts, and so does
    a long thin neck or end of an otherwise stout part.

    Limit: 10 diameters. Source: turning textbooks, from memory; 8 to 12 are quoted.
    """
    turning = view.part.facts.turning
    if turning is None or view.part.process.process not in ("turned", "turned-with-milling"):
        return
    found = [(turning.length_mm / turning.diameter_mm, turning.length_mm, turning.diameter_mm)]
    found += _thin_lengths(turning.outer)
    ratio, length, diameter = max(found)
    whole = length >= turning.length_mm - 1e-6
    what = "turned part" if whole else "thin length of a turned part"
    yield Remark(
        message=f"{what} dia {num(diameter)} x {num(length)} long is {num(ratio)} times as long "
        "as thick",
        cost="it bends away from the tool: a steady, a sliding head, or light cuts",
        advice="make it shorter or thicker, or make the long thin piece of bought ground bar",
        limit="turned_length_ratio",
        measured=ratio,
        signature="slender",
    )


def _thin_lengths(profile: Profile) -> list[tuple[float, float, float]]:
    """Ratio, length and diameter of each run of the profile that stays within a radius.

    Each radius of the profile is tried, with 5 % to spare so that a slight taper counts as one
    length; runs are measured along the axis.
    """
    points = list(profile) if profile and profile[0][0] <= profile[-1][0] else [*reversed(profile)]
    radii = sorted({round(radius, 3) for _, radius in points if radius > 1e-3})
    found = []
    for radius in radii[:200]:
        length = _longest_within(points, 1.05 * radius)
        if length > 0.0:
            found.append((length / (2.0 * radius), length, 2.0 * radius))
    return found


def _longest_within(points: list[tuple[float, float]], bound: float) -> float:
    """The longest stretch along the axis over which the polyline's radius stays within a bound."""
    longest = current = 0.0
    for (z0, r0), (z1, r1) in pairwise(points):
        within = _share_within(r0, r1, bound)
        span = z1 - z0
        if within >= 1.0:
            current += span
        else:
            # the part of this piece next to its thin end joins the run on that side
            head = within * span if r0 <= bound else 0.0
            tail = within * span if r1 <= bound else 0.0
            longest = max(longest, current + head)
            current = tail
        longest = max(longest, current)
    return longest


def _share_within(r0: float, r1: float, bound: float) -> float:
    low, high = min(r0, r1), max(r0, r1)
    if high <= bound:
        return 1.0
    if low > bound:
        return 0.0
    return (bound - low) / (high - low)


RULES = (slender_turned_part,)

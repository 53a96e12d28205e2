"""Rules about drilled holes."""

from collections.abc import Iterator

from dfmcheck.api import Hole, Limit, Part, Remark, View, callouts_of, rule
from dfmcheck_rules.tables import DRILL_SOURCE, LARGEST_DRILL_MM, is_inch_drill, nearest_drill_mm
from dfmcheck_rules.words import PRACTICE, concerned, num, sizes


def _holes(part: Part) -> Iterator[Hole]:
    return (f for f in part.features if isinstance(f, Hole))


@rule(
    name="deep-hole",
    title="hole deep for its diameter",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="hole_depth_ratio",
            default=5.0,
            unit="x diameter",
            sense="most",
            source="review in Machines 2022, 10, 268 (deep-hole drilling begins at 5 to 10)",
            meaning="length of a hole at its full diameter, in diameters",
        ),
    ),
)
def deep_hole(view: View) -> Iterator[Remark]:
    """A drill clears its chips along its own flutes, and the deeper it goes, the worse it does so.

    Down to about three diameters a hole is drilled in one stroke. Beyond about five the drill is
    drawn back again and again to bring the chips out, coolant hardly reaches its tip, and a long
    drill bends and wanders. From ten diameters on the shop needs a special drill, and often a
    machine made for it. A through hole can be drilled from both ends, at the price of turning
    the part over.

    Limit: 5 diameters, measured along the full diameter. Source: a review in Machines 2022, 10,
    268, which lets deep-hole drilling begin somewhere between 5 and 10.
    """
    for hole in _holes(view.part):
        ratio = hole.depth_mm / hole.diameter_mm
        yield Remark(
            message=f"{sizes(hole)} is {num(ratio)} times as deep as wide",
            cost="the drill is drawn back many times to clear chips, and may wander",
            advice="make it shallower or wider, or wider over a part of its depth",
            limit="hole_depth_ratio",
            measured=ratio,
            feature=hole.id,
        )


@rule(
    name="flat-bottomed-hole",
    title="blind hole with a flat bottom",
    level="note",
    looks_at="part",
    limits=(
        Limit(
            name="flat_bottom_depth_ratio",
            default=1.0,
            unit="x diameter",
            sense="most",
            source=PRACTICE,
            meaning="depth of a flat-bottomed blind hole, in diameters",
        ),
    ),
)
def flat_bottomed_hole(view: View) -> Iterator[Remark]:
    """A twist drill leaves a cone of about 118 to 140 degrees at the end of a blind hole.

    A flat bottom needs a second cutter, an end mill or a flat drill, sent down after the drill.
    In a shallow recess an end mill makes the whole hole and the flat bottom is free; in a deep
    one it is an operation of its own with a long, slender cutter. If nothing seats on the bottom,
    draw the cone, or say that it may be one.

    Limit: 1 diameter deep (common practice, no source).
    """
    for hole in _holes(view.part):
        if hole.through or hole.bottom != "flat":
            continue
        ratio = hole.depth_mm / hole.diameter_mm
        yield Remark(
            message=f"blind {sizes(hole)} has a flat bottom",
            cost="a second cutter has to follow the drill to square the bottom",
            advice="let the bottom be the drill's cone unless something seats on it",
            limit="flat_bottom_depth_ratio",
            measured=ratio,
            feature=hole.id,
        )


@rule(
    name="odd-sized-hole",
    title="hole off the drill series",
    level="note",
    looks_at="part",
    limits=(
        Limit(
            name="drill_size_gap",
            default=0.02,
            unit="mm",
            sense="most",
            source=DRILL_SOURCE,
            meaning="distance of a hole's diameter from the nearest drill",
        ),
    ),
)
def odd_sized_hole(view: View) -> Iterator[Remark]:
    """A hole of a drill's own size is made in seconds; any other size takes a second operation.

    Shops keep drills in steps of a tenth of a millimetre. Inch drills count as well where the
    file is in inches, or where most of the holes that are odd in millimetres are even in inches.
    A hole between two sizes is drilled smaller and then bored, reamed or milled to size, or a
    drill is bought for it. Odd sizes mostly come from a single converted inch, a scaled part or a
    diameter typed as a radius.

    Passed over are holes above 20 mm, holes from 6 mm on along the axis of a turned part, since
    both are bored or milled to any size, and holes whose callout gives a thread or a fit, since
    that decides the cutter.

    Limit: 0.02 mm, which is lost in the tolerance of a drilled hole. Source: DIN 338 drills as
    sold in sets; their steps are common practice, no source.
    """
    callouts = view.part.entry.callouts if view.part.entry else ()
    inch = _drilled_in_inches(view.part)
    for hole in _holes(view.part):
        said = callouts_of(hole, callouts, view.part.features)
        if _is_bored(hole, view.part) or any(c.thread or c.fit for c in said):
            continue
        nearest = nearest_drill_mm(hole.diameter_mm, inch=inch)
        yield Remark(
            message=f"{sizes(hole)} is off the drill series; the nearest drill is {nearest:.4g}",
            cost="drilled smaller first, then bored, reamed or milled to size",
            advice=f"make it dia {nearest:.4g} if nothing depends on the odd size",
            limit="drill_size_gap",
            measured=abs(hole.diameter_mm - nearest),
            feature=hole.id,
        )


def _drilled_in_inches(part: Part) -> bool:
    """Whether inch drills made the part, whatever unit its file is in: at least three holes."""
    odd = [
        hole.diameter_mm
        for hole in _holes(part)
        if hole.diameter_mm <= LARGEST_DRILL_MM
        and abs(hole.diameter_mm - nearest_drill_mm(hole.diameter_mm, inch=False)) > 0.02
    ]
    even = sum(is_inch_drill(diameter) for diameter in odd)
    return part.unit == "inch" or (even >= 3 and 2 * even > len(odd))


def _is_bored(hole: Hole, part: Part) -> bool:
    """Whether a hole is made to any size by boring or milling rather than by its own drill."""
    if hole.diameter_mm > LARGEST_DRILL_MM:
        return True
    axis, point = part.process.axis, part.process.axis_point
    if axis is None or point is None:
        return False
    offset = [p - a for p, a in zip(hole.place, point, strict=True)]
    along = sum(o * a for o, a in zip(offset, axis, strict=True))
    apart = sum((o - along * a) ** 2 for o, a in zip(offset, axis, strict=True)) ** 0.5
    leaning = sum(d * a for d, a in zip(hole.direction, axis, strict=True))
    return hole.diameter_mm >= 6.0 and apart < 0.05 and abs(leaning) > 0.999


@rule(
    name="slanted-hole",
    title="hole entering or leaving on a slant",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="hole_slant",
            default=5.0,
            unit="deg",
            sense="most",
            source=PRACTICE,
            meaning="angle between a hole's axis and the normal of the face it enters or leaves",
        ),
    ),
)
def slanted_hole(view: View) -> Iterator[Remark]:
    """A drill that meets a sloping face skids downhill before it bites.

    The shop first mills a small flat for it, or drills with a stiff short cutter and a slow feed.
    Where a drill leaves through a sloping face it cuts on one side only at the end, which breaks
    small drills and leaves a burr that somebody has to remove by hand. A hole along no main axis
    of the part needs the part tilted as well: a setup of its own, or a five-axis machine.

    Limit: 5 degrees (common practice, no source).
    """
    for hole in _holes(view.part):
        leaving = hole.exit_slant_deg if hole.through else 0.0
        slant = max(hole.entry_slant_deg, leaving)
        where = "enters" if hole.entry_slant_deg >= leaving else "leaves"
        tilted = " and lies along no main axis of the part" if hole.tilted else ""
        yield Remark(
            message=f"{sizes(hole)} {where} a face on a slant of {num(slant)} deg{tilted}",
            cost="a flat has to be milled for the drill first, or it skids or breaks",
            advice="square the hole to the face, or draw a flat or a boss where it meets it",
            limit="hole_slant",
            measured=slant,
            feature=hole.id,
        )


@rule(
    name="slimmer-hole",
    title="hole became deeper or thinner",
    level="warning",
    looks_at="change",
    limits=(
        Limit(
            name="slimmer_hole_ratio",
            default=3.0,
            unit="x diameter",
            sense="most",
            source=PRACTICE,
            meaning="depth in diameters up to which a hole may become deeper or thinner",
        ),
    ),
)
def slimmer_hole(view: View) -> Iterator[Remark]:
    """What a hole costs depends less on its size than on its depth in diameters.

    Making a hole deeper or thinner moves it from one stroke of a stiff drill towards a long,
    slender drill drawn back again and again. Down to about three diameters nothing much changes;
    beyond that each step is dearer than the last.

    Limit: 3 diameters after the change (common practice, no source).
    """
    seen: set[str] = set()
    changes = view.changes("hole-deepened", "hole-narrowed")
    for id_before, id_after in (pair for change in changes for pair in concerned(change)):
        hole = view.part.feature(id_after or "")
        was = view.former.feature(id_before or "") if view.former else None
        if not isinstance(hole, Hole) or not isinstance(was, Hole) or hole.id in seen:
            continue
        seen.add(hole.id)
        before, after = was.depth_mm / was.diameter_mm, hole.depth_mm / hole.diameter_mm
        if after <= before:
            continue
        yield Remark(
            message=(
                f"hole dia {num(was.diameter_mm)}, {num(was.depth_mm)} deep is now dia "
                f"{num(hole.diameter_mm)}, {num(hole.depth_mm)} deep: {num(before)} -> "
                f"{num(after)} diameters"
            ),
            cost="a longer or thinner drill, a slower feed, more strokes to clear the chips",
            advice="keep the former depth or diameter if nothing asks for the new one",
            limit="slimmer_hole_ratio",
            measured=after,
            before_value=before,
            feature=hole.id,
        )


RULES = (deep_hole, flat_bottomed_hole, odd_sized_hole, slanted_hole, slimmer_hole)

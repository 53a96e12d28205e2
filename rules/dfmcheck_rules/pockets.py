"""Rules about pockets, slots and their corners: what a milling cutter can reach."""

from collections.abc import Iterator

from dfmcheck.api import (
    Engraving,
    Groove,
    Limit,
    Part,
    Pocket,
    Remark,
    Slot,
    Step,
    View,
    rule,
)
from dfmcheck_rules.cutters import cutter_mm, is_socket, narrowest_mm, needed_mm
from dfmcheck_rules.words import PRACTICE, num, number, sizes

STOCKED_RADIUS_MM = 0.5
"""Radius of the thinnest end mills in stock (ISO 1641-1, DIN 6527; from memory)."""


def _hollows(part: Part) -> Iterator[Pocket | Slot | Step]:
    return (f for f in part.features if isinstance(f, (Pocket, Slot, Step)))


@rule(
    name="inside-corner-radius",
    title="sharp inside corner along the cutter's axis",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="inside_corner_radius",
            default=STOCKED_RADIUS_MM,
            unit="mm",
            sense="least",
            source="stocked end mills begin at 1 mm diameter (ISO 1641-1, DIN 6527; from memory)",
            meaning="radius of an inside corner between two walls",
        ),
    ),
)
def inside_corner_radius(view: View) -> Iterator[Remark]:
    """A milling cutter is round, so it leaves its own radius in each inside corner between walls.

    A sharp inside corner cannot be milled at all. It is eroded with a shaped or wire electrode,
    broached or filed, each of them dearer than the whole pocket. A radius below half a millimetre
    needs a cutter thinner than a millimetre, which cuts slowly and breaks. The edge between a
    floor and a wall is another matter: a plain end mill leaves that one sharp for nothing.

    If a square piece has to fit into the corner, draw a round relief there; otherwise draw a
    radius somewhat larger than that of a sturdy cutter. Hexagon sockets for keys, up to 36 mm
    across flats, are broached with a tool of their shape and passed over.

    Limit: 0.5 mm. Source: stocked end mills begin at 1 mm diameter (ISO 1641-1 and DIN 6527, from
    memory).
    """
    for hollow in _hollows(view.part):
        radius = hollow.corner_radius_mm
        if radius is None or is_socket(hollow):
            continue
        corner = "a sharp inside corner" if radius < 1e-6 else f"an inside corner of R{num(radius)}"
        yield Remark(
            message=f"{sizes(hollow)} has {corner} between its walls",
            cost=_corner_cost(radius),
            advice="draw a larger radius, or a round relief if a square piece must fit",
            limit="inside_corner_radius",
            measured=radius,
            feature=hollow.id,
        )


def _corner_cost(radius_mm: float) -> str:
    if radius_mm < 1e-6:
        return "cannot be milled: eroded, broached or filed"
    if radius_mm < STOCKED_RADIUS_MM:
        return "needs a cutter thinner than any that is stocked"
    return f"needs a cutter of dia {num(2 * radius_mm)} at most, which takes light cuts"


@rule(
    name="deep-narrow-pocket",
    title="pocket or slot deep for the cutter that fits",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="pocket_depth_ratio",
            default=5.0,
            unit="x cutter diameter",
            sense="most",
            source="long end mills reach 3 to 5 diameters (DIN 844 long series; from memory)",
            meaning="depth of a pocket or slot, in diameters of the largest cutter that fits",
        ),
    ),
)
def deep_narrow_pocket(view: View) -> Iterator[Remark]:
    """The narrowest place and the tightest corner of a pocket decide how thick its cutter may be.

    Its depth decides how far that cutter must reach. A cutter that sticks out bends with the
    third power of its length: twice as long, eight times as soft. So the shop takes lighter cuts
    and slower feeds, several cutters of growing length, and finishes the walls more than once.
    Long end mills are stocked for three to five diameters; beyond that they are special. A larger
    corner radius, a wider slot or a shallower floor helps most. The narrowest place may lie
    between the wall and what stands in the pocket.

    A groove in an end face is measured alike: on a mill it is a channel, on a lathe it is cut
    with a blade as wide as the groove, which chatters when it is long (common practice, no
    source). A slot that is open at both ends, with nothing in the way before and behind it, is
    cut with a saw or a disc cutter whatever its width, and passed over down to 50 mm.

    Limit: 5 diameters of the cutter, which is the narrower of the width and twice the corner
    radius. Source: the DIN 844 long series, from memory.
    """
    for feature in view.part.features:
        if isinstance(feature, (Pocket, Slot, Step)):
            cutter = cutter_mm(feature, view.part)
        elif isinstance(feature, Groove) and feature.side == "face":
            cutter = feature.width_mm
        else:
            continue
        if cutter is None:
            continue
        ratio = feature.depth_mm / cutter
        yield Remark(
            message=_reaching(feature, cutter, ratio, view.part),
            cost=_REACH_COST[_on_lathe(feature, view.part)],
            advice=_REACH_ADVICE[isinstance(feature, Groove)],
            limit="pocket_depth_ratio",
            measured=ratio,
            feature=feature.id,
        )


_REACH_COST = {
    False: "a long thin cutter bends: light cuts, slow feeds, walls finished twice",
    True: "a long thin blade chatters: light cuts, a slow feed, chips that jam",
}
_REACH_ADVICE = {
    False: "enlarge the corner radius or the width, or raise the floor",
    True: "make it wider or shallower",
}


def _reaching(
    feature: Pocket | Slot | Step | Groove, cutter: float, ratio: float, part: Part
) -> str:
    if _on_lathe(feature, part):
        return f"{sizes(feature)} is cut with a blade that reaches {num(ratio)} times its width"
    narrow = ""
    if isinstance(feature, (Pocket, Slot)):
        free = narrowest_mm(feature, part)
        if free <= cutter and free < feature.width_mm:
            narrow = f"is {num(free)} wide at its narrowest and "
    return (
        f"{sizes(feature)} {narrow}takes a cutter of dia {num(cutter)} at most, which has to "
        f"reach {num(ratio)} times its diameter"
    )


def _on_lathe(feature: Pocket | Slot | Step | Groove, part: Part) -> bool:
    return isinstance(feature, Groove) and part.process.process != "milled"


@rule(
    name="undercut",
    title="undercut",
    level="warning",
    looks_at="part",
)
def undercut(view: View) -> Iterator[Remark]:
    """An undercut is metal that a straight cutter coming from above cannot see.

    A T-slot or a dovetail is first opened with an end mill and then cut sideways with a cutter
    of its own, a head on a thin neck, slowly. A ring groove inside a milled part needs a grooving
    cutter led round by the machine; only on a lathe is it an ordinary cut. Each such cutter is
    bought for the job if its size is not a common one. Where two parts or a screwed-on strip
    would do, they are often cheaper.

    No limit: the tool names the undercuts that it recognises (T-slots, dovetails, inside grooves
    of milled parts). Common practice, no source.
    """
    milled = view.part.process.process == "milled"
    for feature in view.part.features:
        if isinstance(feature, Slot) and feature.profile in ("tee", "dovetail"):
            shape = "a T-slot" if feature.profile == "tee" else "a dovetail"
            text = f"{sizes(feature)} is {shape}, which is cut sideways"
        elif isinstance(feature, Groove) and feature.side == "inside" and milled:
            text = f"{sizes(feature)} lies inside a milled part"
        else:
            continue
        yield Remark(
            message=text,
            cost="a special cutter, led sideways at a slow feed",
            advice="open the undercut towards one side, or make it of two pieces",
            feature=feature.id,
        )


@rule(
    name="fine-engraving",
    title="engraving too fine for common cutters",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="engraving_width",
            default=0.5,
            unit="mm",
            sense="least",
            source=PRACTICE,
            meaning="narrowest place of an engraving",
        ),
    ),
)
def fine_engraving(view: View) -> Iterator[Remark]:
    """Letters are milled stroke by stroke with a cutter no wider than their narrowest place.

    Below half a millimetre the cutter turns as fast as the spindle allows and still creeps, and
    it breaks. Raised letters are worse: everything around them is cut away with that same cutter.
    A callout for laser marking or an engraved line of the tool's own width says the same for a
    fraction, and keeps hundreds of small faces out of the model.

    Limit: 0.5 mm (common practice, no source).
    """
    for feature in view.part.features:
        if not isinstance(feature, Engraving):
            continue
        raised = "raised " if feature.raised else ""
        yield Remark(
            message=f"{raised}{sizes(feature)} is {num(feature.narrowest_mm)} wide at its "
            "narrowest place",
            cost="milled with a hair-thin cutter at a crawl",
            advice="use a larger, plainer script, or call out laser marking",
            limit="engraving_width",
            measured=feature.narrowest_mm,
            feature=feature.id,
        )


@rule(
    name="corner-tightened",
    title="inside corner became tighter",
    level="warning",
    looks_at="change",
    limits=(
        Limit(
            name="tightened_corner_radius",
            default=3.0,
            unit="mm",
            sense="least",
            source=PRACTICE,
            meaning="radius to which an inside corner may be tightened",
        ),
    ),
)
def corner_tightened(view: View) -> Iterator[Remark]:
    """The tightest inside corner decides which cutter goes round the whole pocket.

    Halving a corner radius halves the cutter, and a cutter of half the diameter is sixteen times
    as easily bent at the same reach, so it takes thinner cuts, many more of them, at a slower
    feed. The stiff cutter that clears the middle stays; a second, thinner one now has to follow
    it for the corners. Down to a radius of about three millimetres cutters are sturdy.

    Limit: R3 after the change (common practice, no source).
    """
    for change in view.changes("corner-tightened"):
        before, after = number(change.before), number(change.after)
        if after is None:
            continue
        feature = view.part.feature(change.feature_after or "")
        was = f"R{num(before)} -> " if before is not None else ""
        many = f"{change.count} x " if change.count > 1 else ""
        if isinstance(feature, (Pocket, Slot, Step)):
            what = f"{many}{sizes(feature)}: inside corners"
        else:
            what = f"{many}inside corner"
        yield Remark(
            message=f"{what} {was}R{num(after)}",
            cost="a thinner cutter has to follow for the corners",
            advice="keep the former radius if nothing has to fit into the corner",
            limit="tightened_corner_radius",
            measured=after,
            before_value=before,
            feature=feature.id if feature else None,
            faces=change.faces_after,
        )


@rule(
    name="smallest-cutter",
    title="a smaller milling cutter is needed",
    level="warning",
    looks_at="change",
    limits=(
        Limit(
            name="smallest_cutter",
            default=3.0,
            unit="mm",
            sense="least",
            source=PRACTICE,
            meaning="diameter of the smallest cutter that the part may come to need",
        ),
    ),
)
def smallest_cutter(view: View) -> Iterator[Remark]:
    """The smallest cutter of a part sets the pace of everything that only it can reach.

    Each further cutter is measured and loaded before the job, about two minutes each time the
    part is ordered. A cutter below three millimetres besides removes little at a time, and a
    worn or broken one scraps the part. The diameter is taken from the tightest inside corner and
    the narrowest slot of the whole part; sharp corners have a rule of their own.

    Limit: 3 mm (common practice, no source).
    """
    former = view.comparable_former
    if former is None:
        return
    now, owner = _smallest_mm(view.part)
    before, _ = _smallest_mm(former)
    if now is None or (before is not None and now >= before - 1e-3):
        return
    was = f"dia {num(before)} -> " if before is not None else "none -> "
    yield Remark(
        message=f"smallest milling cutter needed: {was}dia {num(now)}",
        cost="one more thin cutter to load, slow where it cuts",
        advice="widen the place that needs it",
        limit="smallest_cutter",
        measured=now,
        before_value=before,
        feature=owner,
    )


def _smallest_mm(part: Part) -> tuple[float | None, str | None]:
    """Diameter of the smallest milling cutter that a part needs, and the feature that needs it."""
    needs = [
        (cutter, feature.id)
        for feature in part.features
        if (cutter := needed_mm(feature, part)) is not None
    ]
    return min(needs, default=(None, None))


RULES = (
    inside_corner_radius,
    deep_narrow_pocket,
    undercut,
    fine_engraving,
    corner_tightened,
    smallest_cutter,
)

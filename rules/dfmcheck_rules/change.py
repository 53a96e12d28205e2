"""Rules about what a revision adds: metal to remove, mass, features, freeform surface."""

from collections.abc import Iterator

from dfmcheck.api import Feature, Freeform, Limit, Part, Remark, View, kind_of, rule
from dfmcheck_rules.words import PRACTICE, concerned, num, number, percent, plural, sizes

_ADDED = ("hole", "counterbore", "countersink", "pocket", "slot", "step", "boss", "groove",
          "engraving")  # fmt: skip


@rule(
    name="removal-rise",
    title="more metal is cut away",
    level="warning",
    looks_at="change",
    limits=(
        Limit(
            name="removal_rise",
            default=10.0,
            unit="%",
            sense="most",
            source=PRACTICE,
            meaning="rise of the volume that is cut away from the stock",
        ),
    ),
)
def removal_rise(view: View) -> Iterator[Remark]:
    """The metal that is cut away is bought first, and then it is paid for again in machine time.

    It rises when pockets deepen, and just as much when the stock grows around an unchanged part.
    On small parts cutting is only about a third of the time at the machine, so a small rise is
    not felt; a large one is. In aluminium it matters less than in steel or titanium.

    Limit: a rise of 10 % (common practice, no source).
    """
    former = view.comparable_former
    before = former.stock if former else None
    after = view.part.stock
    if before is None or after is None:
        return
    rise = percent(before.removed_mm3, after.removed_mm3, least=1e-3 * before.volume_mm3)
    if rise <= 0.0:
        return
    yield Remark(
        message=(
            f"metal cut away {_volume(before.removed_mm3)} -> {_volume(after.removed_mm3)} cm3, "
            f"{num(rise)} % more"
        ),
        cost="more machine time, and more metal bought to be cut away",
        advice="make pockets shallower, or bring the part closer to its stock",
        limit="removal_rise",
        measured=rise,
        signature="removal",
    )


@rule(
    name="mass-rise",
    title="part became heavier",
    level="note",
    looks_at="change",
    limits=(
        Limit(
            name="mass_rise",
            default=5.0,
            unit="%",
            sense="most",
            source=PRACTICE,
            meaning="rise of the mass of a part",
        ),
    ),
)
def mass_rise(view: View) -> Iterator[Remark]:
    """Mass costs nothing to machine, but it is carried, shipped and felt in the hand.

    It also tells of accidents: a pocket that vanished, a hole that was filled, another material.
    Where no material is set in both revisions, the volume stands for the mass.

    Limit: a rise of 5 % (common practice, no source).
    """
    changes = view.changes("mass-grew") or view.changes("volume-grew")
    for change in changes:
        before, after = number(change.before), number(change.after)
        if before is None or after is None or before <= 0.0:
            continue
        rise = percent(before, after)
        mass = change.kind == "mass-grew"
        figures = (
            f"mass {num(before)} -> {num(after)} g"
            if mass
            else f"volume {_volume(before)} -> {_volume(after)} cm3"
        )
        yield Remark(
            message=f"{figures}, {num(rise)} % more",
            cost="more metal to ship and to carry",
            advice="check that the rise is meant",
            limit="mass_rise",
            measured=rise,
            signature="mass",
        )


@rule(
    name="feature-added",
    title="feature added",
    level="note",
    looks_at="change",
)
def feature_added(view: View) -> Iterator[Remark]:
    """Each feature is an operation: the machine goes there, perhaps changes the cutter, and cuts.

    A hole like its neighbours costs seconds; the first of a new size costs a further drill, about
    two minutes of setup for each lot. A feature that no setup reaches costs a setup. Equal
    features that were added together are named once.

    No limit: what was added is named. The minutes are common practice, no source.
    """
    groups: dict[tuple[str, str], list[Feature]] = {}
    for change in view.changes(*(f"{kind}-added" for kind in _ADDED)):
        for _, id_after in concerned(change):
            feature = view.part.feature(id_after or "")
            if feature is not None:
                groups.setdefault((kind_of(feature), sizes(feature)), []).append(feature)
    for (kind, text), features in sorted(groups.items()):
        count = len(features)
        yield Remark(
            message=f"{count} {plural(kind, count)} added: {text.removeprefix(f'{kind} ')}",
            cost="one operation each, and a further cutter if the size is new",
            advice="use sizes that the part has already, on sides that are machined already",
            feature=features[0].id if count == 1 else None,
            faces=tuple(sorted({face for feature in features for face in feature.faces})),
            signature=text,
        )


@rule(
    name="freeform-rise",
    title="freeform surface grew",
    level="warning",
    looks_at="change",
    limits=(
        Limit(
            name="freeform_rise",
            default=10.0,
            unit="mm2",
            sense="most",
            source=PRACTICE,
            meaning="rise of the area of freeform surface",
        ),
    ),
)
def freeform_rise(view: View) -> Iterator[Remark]:
    """A freeform surface is milled line beside line with a ball-nosed cutter, like mowing a lawn.

    How smooth it comes out depends on how close the lines lie, so that a small patch can take
    longer than all the pockets of a part. Planes, cylinders and cones are made by the side or the
    face of a cutter in one pass. A large radius, a chamfer or a cone often looks much the same.

    Limit: 10 mm² (common practice, no source).
    """
    changes = view.changes("freeform-added", "freeform-grew")
    if not changes or view.former is None:
        return
    before, after = _freeform_mm2(view.former), _freeform_mm2(view.part)
    owners = [c.feature_after for c in changes if view.part.feature(c.feature_after or "")]
    yield Remark(
        message=f"freeform surface {num(before)} -> {num(after)} mm2",
        cost="milled line by line with a ball-nosed cutter",
        advice="replace it by planes, cylinders or cones where the look allows it",
        limit="freeform_rise",
        measured=after - before,
        feature=owners[0] if owners else None,
        signature="freeform",
    )


def _freeform_mm2(part: Part) -> float:
    return sum(f.area_mm2 for f in part.features if isinstance(f, Freeform))


def _volume(volume_mm3: float) -> str:
    return num(volume_mm3 / 1000.0)


RULES = (removal_rise, mass_rise, feature_added, freeform_rise)

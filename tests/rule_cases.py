"""For each shipped rule: a part it flags, one just inside its limit, one exactly at it.

`tests/rules/test_each_rule.py` refuses a rule without these, and checks that "inside" and "at" are
as near to the limit as they claim.
"""

from dataclasses import dataclass, field

from builders import (
    a_callout,
    a_change,
    a_shaft,
    an_entry,
    make_face,
    make_facts,
    make_feature,
    make_part,
    make_process,
    make_settings,
    make_stock,
)

from dfmcheck.model.change import Change
from dfmcheck.model.feature import Feature
from dfmcheck.model.part import Part
from dfmcheck.model.settings import Settings, Stage
from dfmcheck.model.stock import NextSmaller

NOTHING_MEASURED = "the rule measures nothing: there is something to say or there is not"


@dataclass(frozen=True)
class Situation:
    """What a rule is shown."""

    part: Part
    former: Part | None = None
    changes: tuple[Change, ...] = ()
    settings: Settings = field(default_factory=make_settings)
    stage: Stage | None = None


@dataclass(frozen=True)
class Cases:
    """`inside` or `at` is a reason where no part could be so."""

    flags: Situation
    inside: Situation | str
    at: Situation | str


def of(*features: Feature, **values: object) -> Situation:
    """A part with these features."""
    return Situation(make_part(*features, **values))


def hole(**sizes: object) -> Situation:
    """A part with one hole."""
    return of(make_feature("hole", **sizes))


def drilled(before: tuple[float, float], after: tuple[float, float]) -> Situation:
    """A hole whose (diameter, depth) changed."""
    was = make_feature("hole", diameter_mm=before[0], depth_mm=before[1])
    now = make_feature("hole", diameter_mm=after[0], depth_mm=after[1])
    kind = "hole-deepened" if after[1] > before[1] else "hole-narrowed"
    change = a_change(kind, feature_before="hole-1", feature_after="hole-1")
    return Situation(make_part(now), make_part(was), (change,))


def cornered(before: float, after: float) -> Situation:
    """A pocket whose inside corner radius changed."""
    change = a_change(
        "corner-tightened", unit="mm", before=before, after=after,
        feature_before="pocket-1", feature_after="pocket-1",
    )  # fmt: skip
    return Situation(
        make_part(make_feature("pocket", corner_radius_mm=after)),
        make_part(make_feature("pocket", corner_radius_mm=before)),
        (change,),
    )


def slotted(before: float, after: float) -> Situation:
    """A slot whose width changed."""
    change = a_change("slot-narrowed", feature_before="slot-1", feature_after="slot-1")
    return Situation(
        make_part(make_feature("slot", width_mm=after)),
        make_part(make_feature("slot", width_mm=before)),
        (change,),
    )


def walled(thickness: float, **other: object) -> Situation:
    """Two faces with metal of this thickness between them."""
    faces = (
        make_face(0, wall_mm=thickness, wall_face=1),
        make_face(1, **{"normal": (0.0, 0.0, -1.0), "wall_mm": thickness, "wall_face": 0, **other}),
    )
    return Situation(make_part(facts=make_facts(faces)))


def thinned(before: float, after: float) -> Situation:
    """A wall that became thinner."""
    faces = (make_face(0), make_face(1))
    change = a_change("wall-thinner", before=before, after=after, faces_after=(0, 1))
    part = make_part(facts=make_facts(faces))
    return Situation(part, part, (change,))


def turned(*outer: tuple[float, float]) -> Situation:
    """A turned part with this outer profile."""
    facts = make_facts(turning=a_shaft(*outer))
    return Situation(make_part(facts=facts, process=make_process("turned", 1)))


def stocked(before: float, after: float, kind: str = "stock-grew") -> Situation:
    """Stock whose volume changed."""
    return Situation(
        make_part(stock=make_stock(volume_mm3=after, label="plate 25")),
        make_part(stock=make_stock(volume_mm3=before)),
        (a_change(kind, before=before, after=after, unit="mm3"),),
    )


def removed(before: float, after: float) -> Situation:
    """Metal cut away that changed."""
    return Situation(
        make_part(stock=make_stock(removed_mm3=after)),
        make_part(stock=make_stock(removed_mm3=before)),
        (a_change("stock-grew"),),
    )


def missing(excess: float) -> Situation:
    """Stock that the part misses the next smaller of by this much."""
    smaller = NextSmaller(label="plate 15", size_mm=15.0, excess_mm=excess, dimension="thickness")
    return Situation(make_part(stock=make_stock(next_smaller=smaller)))


def set_up(count: int) -> Situation:
    """A part with this many setups where two are allowed."""
    return Situation(
        make_part(process=make_process("milled", count)), settings=make_settings({"setups": 2})
    )


def more_setups(before: float, after: float) -> Situation:
    """A part whose number of setups changed."""
    change = a_change("setups-more", before=before, after=after)
    return Situation(make_part(), make_part(), (change,))


def grown(kind: str, before: float, after: float) -> Situation:
    """A quantity of the whole part that changed."""
    return Situation(make_part(), make_part(), (a_change(kind, before=before, after=after),))


def sculpted(before: float, after: float) -> Situation:
    """A freeform surface whose area changed."""
    change = a_change("freeform-grew", feature_before="freeform-1", feature_after="freeform-1")
    return Situation(
        make_part(make_feature("freeform", area_mm2=after)),
        make_part(make_feature("freeform", area_mm2=before)),
        (change,),
    )


def changed(*kinds: str) -> Situation:
    """A part of which only these changes are told."""
    return Situation(make_part(), make_part(), tuple(a_change(kind) for kind in kinds))


def process(before: str, after: str) -> Situation:
    """A part whose process changed."""
    return Situation(
        make_part(process=make_process(after)),
        make_part(process=make_process(before)),
        (a_change("process-changed", before=before, after=after),),
    )


def called(*features: Feature, **callout: object) -> Situation:
    """Features with one callout for holes."""
    return of(*features, entry=an_entry(callouts=(a_callout(**callout),)))


def before_a_request(*features: Feature, **entry: object) -> Situation:
    """A part of which the stage "request" asks whether all is said."""
    part = make_part(*features, entry=an_entry(**entry))
    return Situation(part, stage="request")


def _vanished(*, called_out: bool) -> Situation:
    callouts = (a_callout(thread="M6", depth_mm=8.0),) if called_out else ()
    entry = an_entry(callouts=callouts)
    former = make_part(make_feature("hole", diameter_mm=5.0), entry=entry)
    return Situation(make_part(entry=entry), former, (a_change("hole-removed"),))


M3 = {"diameter_mm": 2.5}
ADDED = a_change("hole-added", feature_after="hole-1")

CASES: dict[str, Cases] = {
    "deep-hole": Cases(
        flags=hole(diameter_mm=6.0, depth_mm=31.0),
        inside=hole(diameter_mm=6.0, depth_mm=29.0),
        at=hole(diameter_mm=6.0, depth_mm=30.0),
    ),
    "flat-bottomed-hole": Cases(
        flags=hole(diameter_mm=6.0, depth_mm=6.5, through=False, bottom="flat"),
        inside=hole(diameter_mm=6.0, depth_mm=5.9, through=False, bottom="flat"),
        at=hole(diameter_mm=6.0, depth_mm=6.0, through=False, bottom="flat"),
    ),
    "odd-sized-hole": Cases(
        flags=hole(diameter_mm=6.13),
        inside=hole(diameter_mm=6.119),
        at=hole(diameter_mm=6.12),
    ),
    "slanted-hole": Cases(
        flags=hole(entry_slant_deg=12.0),
        inside=hole(entry_slant_deg=4.9),
        at=hole(exit_slant_deg=5.0),
    ),
    "slimmer-hole": Cases(
        flags=drilled((6.0, 12.0), (6.0, 24.0)),
        inside=drilled((6.0, 12.0), (4.2, 12.0)),
        at=drilled((6.0, 12.0), (4.0, 12.0)),
    ),
    "inside-corner-radius": Cases(
        flags=of(make_feature("pocket", corner_radius_mm=0.0)),
        inside=of(make_feature("pocket", corner_radius_mm=0.51)),
        at=of(make_feature("slot", corner_radius_mm=0.5)),
    ),
    "deep-narrow-pocket": Cases(
        flags=of(make_feature("pocket", corner_radius_mm=1.5, depth_mm=18.0)),
        inside=of(make_feature("pocket", corner_radius_mm=2.0, depth_mm=19.8)),
        at=of(make_feature("slot", width_mm=4.0, depth_mm=20.0)),
    ),
    "undercut": Cases(
        flags=of(make_feature("slot", profile="tee")),
        inside=of(make_feature("slot", profile="rectangular")),
        at=NOTHING_MEASURED,
    ),
    "fine-engraving": Cases(
        flags=of(make_feature("engraving", narrowest_mm=0.2)),
        inside=of(make_feature("engraving", narrowest_mm=0.51)),
        at=of(make_feature("engraving", narrowest_mm=0.5)),
    ),
    "corner-tightened": Cases(
        flags=cornered(3.0, 1.5), inside=cornered(6.0, 3.1), at=cornered(4.0, 3.0)
    ),
    "smallest-cutter": Cases(
        flags=slotted(6.0, 2.0), inside=slotted(6.0, 3.1), at=slotted(6.0, 3.0)
    ),
    "thin-wall": Cases(flags=walled(0.5), inside=walled(0.81), at=walled(0.8)),
    "wall-thinner": Cases(flags=thinned(2.0, 1.0), inside=thinned(2.0, 1.52), at=thinned(2.0, 1.5)),
    "slender-turned-part": Cases(
        flags=turned((0.0, 2.0), (60.0, 2.0)),
        inside=turned((0.0, 3.0), (59.0, 3.0)),
        at=turned((0.0, 3.0), (60.0, 3.0)),
    ),
    "stock-rise": Cases(
        flags=stocked(60_000.0, 75_000.0),
        inside=stocked(60_000.0, 62_900.0),
        at=stocked(60_000.0, 63_000.0),
    ),
    "stock-form-change": Cases(
        flags=stocked(60_000.0, 75_000.0, "stock-form"),
        inside=stocked(60_000.0, 75_000.0, "stock-grew"),
        at=NOTHING_MEASURED,
    ),
    "stock-near-miss": Cases(flags=missing(0.3), inside=missing(1.05), at=missing(1.0)),
    "setups": Cases(
        flags=set_up(3),
        inside="setups are counted, so nothing lies between one and two",
        at=set_up(2),
    ),
    "setups-rise": Cases(
        flags=more_setups(2.0, 3.0),
        inside="setups are counted, so a rise below one is no rise",
        at=more_setups(2.0, 2.0),
    ),
    "process-change": Cases(
        flags=process("turned", "turned-with-milling"),
        inside=process("milled", "turned"),
        at=NOTHING_MEASURED,
    ),
    "removal-rise": Cases(
        flags=removed(20_000.0, 30_000.0),
        inside=removed(20_000.0, 21_900.0),
        at=removed(20_000.0, 22_000.0),
    ),
    "mass-rise": Cases(
        flags=grown("mass-grew", 80.0, 90.0),
        inside=grown("mass-grew", 80.0, 83.9),
        at=grown("mass-grew", 80.0, 84.0),
    ),
    "feature-added": Cases(
        flags=Situation(make_part(make_feature("hole")), make_part(), (ADDED,)),
        inside=changed("hole-removed"),
        at=NOTHING_MEASURED,
    ),
    "freeform-rise": Cases(
        flags=sculpted(400.0, 600.0),
        inside=sculpted(400.0, 409.9),
        at=sculpted(400.0, 410.0),
    ),
    "solid-not-closed": Cases(
        flags=of(facts=make_facts(closed=False)), inside=of(), at=NOTHING_MEASURED
    ),
    "unit-change": Cases(
        flags=changed("unit-changed"), inside=changed("unit-declared"), at=NOTHING_MEASURED
    ),
    "part-scaled": Cases(
        flags=changed("scaled-up"), inside=changed("unit-changed"), at=NOTHING_MEASURED
    ),
    "mirrored-part": Cases(
        flags=changed("mirrored"), inside=changed("box-grew"), at=NOTHING_MEASURED
    ),
    "part-vanished": Cases(
        flags=changed("part-removed"), inside=changed("part-added"), at=NOTHING_MEASURED
    ),
    "part-count": Cases(
        flags=changed("part-doubled"), inside=changed("part-added"), at=NOTHING_MEASURED
    ),
    "part-replaced": Cases(
        flags=changed("replaced"), inside=changed("shape-changed"), at=NOTHING_MEASURED
    ),
    "modelled-thread": Cases(
        flags=of(make_feature("thread")),
        inside=of(
            make_feature("thread"),
            entry=an_entry(callouts=(a_callout("thread", thread="M8"),)),
        ),
        at=NOTHING_MEASURED,
    ),
    "modelled-knurl": Cases(
        flags=of(make_feature("knurl")),
        inside=of(
            make_feature("knurl"), entry=an_entry(callouts=(a_callout("knurl", knurl="RAA 0.8"),))
        ),
        at=NOTHING_MEASURED,
    ),
    "looks-tapped": Cases(
        flags=hole(**M3),
        inside=called(make_feature("hole", **M3), thread="M3", depth_mm=8.0),
        at="the tolerance belongs to the table and is no limit; see test_threads.py",
    ),
    "callout-without-sizes": Cases(
        flags=called(make_feature("hole", **M3), thread="tapped"),
        inside=called(make_feature("hole", **M3), thread="M3"),
        at=NOTHING_MEASURED,
    ),
    "callout-finds-nothing": Cases(
        flags=called(make_feature("hole"), thread="M3", target=M3),
        inside=called(make_feature("hole", **M3), thread="M3", target=M3),
        at=NOTHING_MEASURED,
    ),
    "thread-appeared": Cases(
        flags=changed("thread-modelled"), inside=changed("thread-removed"), at=NOTHING_MEASURED
    ),
    "called-out-feature-vanished": Cases(
        flags=_vanished(called_out=True),
        inside=_vanished(called_out=False),
        at=NOTHING_MEASURED,
    ),
    "material-missing": Cases(
        flags=before_a_request(finish=("as-machined",)),
        inside=before_a_request(material="EN AW-6082-T6"),
        at=NOTHING_MEASURED,
    ),
    "finish-missing": Cases(
        flags=before_a_request(material="EN AW-6082-T6"),
        inside=before_a_request(finish=("as-machined",)),
        at=NOTHING_MEASURED,
    ),
    "callouts-missing": Cases(
        flags=before_a_request(make_feature("hole", **M3)),
        inside=before_a_request(make_feature("hole", diameter_mm=5.5)),
        at=NOTHING_MEASURED,
    ),
}

"""Properties of the shipped rules on any part: stricter limits, order, noise, no failure."""

from datetime import timedelta

from builders import (
    TODAY,
    a_callout,
    a_change,
    a_permit,
    a_shaft,
    an_entry,
    make_comparison,
    make_face,
    make_facts,
    make_feature,
    make_part,
    make_process,
    make_settings,
    make_stock,
)
from hypothesis import given, settings
from hypothesis import strategies as st

import dfmcheck_rules.plugin
from dfmcheck.checking.engine import check_part
from dfmcheck.comparing.kinds import KINDS
from dfmcheck.model.change import Change
from dfmcheck.model.feature import Feature
from dfmcheck.model.finding import Finding
from dfmcheck.model.part import Part
from dfmcheck.model.settings import Settings
from dfmcheck.model.stock import NextSmaller

RULES = tuple(dfmcheck_rules.plugin.dfmcheck_rules())
LIMITS = {limit.name: limit for rule in RULES for limit in rule.limits}

_mm = st.floats(0.05, 80.0).map(lambda v: round(v, 3))
_radius = st.none() | st.just(0.0) | _mm
_place = st.tuples(_mm, _mm, _mm)


@st.composite
def features(draw: st.DrawFn) -> Feature:
    kind = draw(
        st.sampled_from(
            ["hole", "pocket", "slot", "step", "groove", "fillet", "freeform", "thread", "knurl",
             "engraving", "countersink", "counterbore", "boss", "chamfer"]
        )
    )  # fmt: skip
    sizes: dict[str, object] = {"place": draw(_place)}
    if kind == "hole":
        sizes |= {
            "diameter_mm": draw(_mm | st.sampled_from([2.5, 3.3, 5.0, 6.647])),
            "depth_mm": draw(_mm),
            "through": draw(st.booleans()),
            "bottom": draw(st.sampled_from(["none", "flat", "cone"])),
            "entry_slant_deg": draw(st.floats(0.0, 60.0)),
            "tilted": draw(st.booleans()),
        }
    elif kind in ("pocket", "slot", "step"):
        sizes |= {"width_mm": draw(_mm), "depth_mm": draw(_mm), "corner_radius_mm": draw(_radius)}
        if kind == "slot":
            sizes["profile"] = draw(
                st.sampled_from(["rectangular", "tee", "dovetail", "triangular"])
            )
    elif kind == "groove":
        sizes["side"] = draw(st.sampled_from(["inside", "outside", "face"]))
    elif kind == "engraving":
        sizes["narrowest_mm"] = draw(_mm)
    elif kind == "fillet":
        sizes |= {"radius_mm": draw(_mm), "role": draw(st.sampled_from(["corner", "floor"]))}
    elif kind == "freeform":
        sizes["area_mm2"] = draw(_mm)
    return make_feature(kind, **sizes)


@st.composite
def parts(draw: st.DrawFn) -> Part:
    facts = make_facts(
        (
            make_face(0, wall_mm=draw(_mm), wall_face=1),
            make_face(1, surface=draw(st.sampled_from(["plane", "cylinder"]))),
        ),
        closed=draw(st.booleans()),
        turning=a_shaft((0.0, draw(_mm)), (draw(_mm), draw(_mm)), (100.0, draw(_mm))),
    )
    smaller = NextSmaller(
        label="plate 15", size_mm=15.0, excess_mm=draw(_mm), dimension="thickness"
    )
    stock = make_stock(
        volume_mm3=draw(st.floats(1e4, 1e6)),
        removed_mm3=draw(st.floats(0.0, 1e4)),
        next_smaller=draw(st.none() | st.just(smaller)),
    )
    callout = a_callout(thread=draw(st.sampled_from(["M3", "tapped"])), target={"diameter_mm": 2.5})
    return make_part(
        *draw(st.lists(features(), max_size=6)),
        facts=facts,
        stock=draw(st.none() | st.just(stock)),
        process=make_process(
            draw(st.sampled_from(["milled", "turned", "turned-with-milling"])),
            draw(st.integers(0, 6)),
        ),
        entry=draw(st.none() | st.just(an_entry(callouts=(callout,)))),
        unit=draw(st.sampled_from(["mm", "inch"])),
    )


@st.composite
def changes(draw: st.DrawFn, before: Part, after: Part) -> tuple[Change, ...]:
    def change(kind: str) -> Change:
        return a_change(
            kind,
            before=draw(st.none() | st.just("plate 20") | _mm),
            after=draw(st.none() | _mm),
            feature_before=draw(st.sampled_from([None, *(f.id for f in before.features)])),
            feature_after=draw(st.sampled_from([None, *(f.id for f in after.features)])),
        )

    kinds = draw(st.lists(st.sampled_from(sorted(KINDS)), max_size=8))
    return tuple(change(kind) for kind in kinds)


@st.composite
def cases(draw: st.DrawFn) -> tuple[Part, Part, tuple[Change, ...]]:
    before, after = draw(parts()), draw(parts())
    return before, after, draw(changes(before, after))


def check(
    case: tuple[Part, Part, tuple[Change, ...]], configured: Settings, rules: tuple = RULES
) -> tuple[Finding, ...]:
    before, after, changed = case
    comparison = make_comparison(before, after, *changed)
    findings, failed = check_part(after, before, comparison, configured, rules, TODAY)
    assert failed == ()
    return findings


@given(case=cases())
@settings(max_examples=100, deadline=None)
def test_no_rule_fails_on_any_part(case: tuple[Part, Part, tuple[Change, ...]]) -> None:
    findings = check(case, make_settings())
    assert len({f.identity for f in findings}) == len(findings)
    assert all(not f.holds or f.level == "error" for f in findings)


@given(
    case=cases(),
    name=st.sampled_from(sorted(LIMITS)),
    value=st.floats(0.0, 50.0),
    by=st.floats(0.0, 50.0),
)
@settings(max_examples=150, deadline=None)
def test_a_stricter_limit_never_removes_a_finding(
    case: tuple[Part, Part, tuple[Change, ...]], name: str, value: float, by: float
) -> None:
    stricter = value - by if LIMITS[name].sense == "most" else value + by
    loose = {f.identity for f in check(case, make_settings({name: value}))}
    strict = {f.identity for f in check(case, make_settings({name: stricter}))}
    assert loose <= strict


@given(case=cases(), order=st.permutations(RULES))
@settings(max_examples=50, deadline=None)
def test_the_order_of_rules_changes_nothing(
    case: tuple[Part, Part, tuple[Change, ...]], order: list
) -> None:
    assert check(case, make_settings()) == check(case, make_settings(), tuple(order))


@given(part=parts())
@settings(max_examples=50, deadline=None)
def test_a_part_compared_with_itself_brings_nothing_new(part: Part) -> None:
    findings = check((part, part, ()), make_settings())
    assert {f.rule for f in findings if f.state == "new"} <= {"before-a-request"}


@given(case=cases(), name=st.sampled_from(sorted(r.name for r in RULES)))
@settings(max_examples=50, deadline=None)
def test_a_permit_never_makes_a_run_worse(
    case: tuple[Part, Part, tuple[Change, ...]], name: str
) -> None:
    levels = {rule.name: "error" for rule in RULES}
    until = (TODAY + timedelta(days=1)).isoformat()
    without = check(case, make_settings(levels=levels))
    permitted = check(case, make_settings(levels=levels, permits=(a_permit(name, until=until),)))
    assert {f.identity for f in permitted if f.holds} <= {f.identity for f in without if f.holds}
    assert {f.identity for f in permitted} == {f.identity for f in without}
    assert all(not f.holds for f in permitted if f.rule == name)

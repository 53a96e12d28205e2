"""The engine: levels, limits, old and new, holding, and rules that fail."""

from collections.abc import Callable, Iterable, Iterator
from datetime import date

import msgspec
import pytest
from builders import (
    TODAY,
    a_callout,
    a_change,
    a_permit,
    an_entry,
    make_comparison,
    make_face,
    make_facts,
    make_feature,
    make_part,
    make_settings,
    make_stock,
)

from dfmcheck.checking.engine import check_part, check_vanished
from dfmcheck.model.change import Change
from dfmcheck.model.finding import Finding, Limit, NotChecked, Remark
from dfmcheck.model.part import Part
from dfmcheck.model.rule import Rule, View, rule
from dfmcheck.model.settings import Settings

DEPTH = Limit(
    name="depth", default=10.0, unit="mm", sense="most", source="made up", meaning="depth of a hole"
)
WIDTH = Limit(
    name="width",
    default=None,
    unit="mm",
    sense="least",
    source="made up",
    meaning="width of a hole",
)


@rule(name="too-deep", title="too deep", level="warning", looks_at="part", limits=(DEPTH,))
def too_deep(view: View) -> Iterator[Remark]:
    """A hole is deep."""
    for hole in view.part.features:
        yield Remark(message="a deep hole", limit="depth", measured=hole.depth_mm, feature=hole.id)


@rule(name="too-narrow", title="too narrow", level="note", looks_at="part", limits=(WIDTH,))
def too_narrow(view: View) -> Iterator[Remark]:
    """A hole is narrow."""
    for hole in view.part.features:
        yield Remark(
            message="a narrow hole", limit="width", measured=hole.diameter_mm, feature=hole.id
        )


@rule(name="something-changed", title="a change", level="error", looks_at="change")
def something_changed(view: View) -> Iterator[Remark]:
    """Something changed."""
    for change in view.changes("hole-deepened", "part-removed"):
        yield Remark(message=change.text)


def drilled(*depths: float, **values: object) -> Part:
    places = [(float(10 * i), 0.0, 0.0) for i in range(len(depths))]
    holes = [
        make_feature("hole", depth_mm=depth, place=place)
        for depth, place in zip(depths, places, strict=True)
    ]
    return make_part(*holes, **values)


def check(
    part: Part,
    former: Part | None = None,
    changes: tuple[Change, ...] = (),
    *,
    rules: tuple[Rule, ...] = (too_deep, too_narrow, something_changed),
    settings: Settings | None = None,
    today: date = TODAY,
    **comparison: object,
) -> tuple[Finding, ...]:
    compared = None if former is None else make_comparison(former, part, *changes, **comparison)
    findings, failed = check_part(
        part, former, compared, settings or make_settings(), rules, today, None
    )
    assert failed == ()
    return tuple(f for f in findings if f.rule != "before-a-request")


class TestLevels:
    def test_a_default_limit_gives_the_level_of_the_rule_and_holds_nothing(self) -> None:
        (found,) = check(drilled(12.0))
        assert (found.level, found.holds, found.limit_source) == ("warning", False, "made up")

    def test_a_configured_limit_that_is_passed_is_an_error_and_holds(self) -> None:
        (found,) = check(drilled(12.0), settings=make_settings({"depth": 11.0}))
        assert (found.level, found.holds, found.limit_value) == ("error", True, 11.0)
        assert found.limit_source == "dfmcheck.toml"

    def test_unless_the_configuration_names_another_level(self) -> None:
        settings = make_settings({"depth": 11.0}, {"too-deep": "note"})
        (found,) = check(drilled(12.0), settings=settings)
        assert (found.level, found.holds) == ("note", False)

    def test_a_limit_may_be_loosened_as_well(self) -> None:
        assert check(drilled(12.0), settings=make_settings({"depth": 12.0})) == ()

    def test_off_is_silent(self) -> None:
        assert check(drilled(12.0), settings=make_settings(levels={"too-deep": "off"})) == ()

    def test_error_by_level_holds_without_a_configured_limit(self) -> None:
        (found,) = check(drilled(12.0), settings=make_settings(levels={"too-deep": "error"}))
        assert found.holds

    def test_a_limit_that_nobody_set_limits_nothing(self) -> None:
        assert [f.rule for f in check(drilled(1.0))] == []
        (found,) = check(drilled(1.0), settings=make_settings({"width": 8.0}))
        assert found.rule == "too-narrow"


class TestOldAndNew:
    hold = make_settings(levels={"too-deep": "error"})
    hold_all = make_settings(levels={"too-deep": "error"}, hold_on="all")

    def test_without_a_former_revision_all_is_new(self) -> None:
        (found,) = check(drilled(12.0), settings=self.hold)
        assert (found.state, found.holds) == ("new", True)

    def test_what_was_there_before_is_old_and_does_not_hold(self) -> None:
        (found,) = check(drilled(12.0), drilled(12.0), settings=self.hold)
        assert (found.state, found.holds) == ("old", False)

    def test_unless_old_findings_are_to_hold_as_well(self) -> None:
        (found,) = check(drilled(12.0), drilled(12.0), settings=self.hold_all)
        assert (found.state, found.holds) == ("old", True)

    def test_what_became_worse_is_new_and_what_got_better_stays_old(self) -> None:
        assert check(drilled(14.0), drilled(12.0), settings=self.hold)[0].state == "new"
        assert check(drilled(11.0), drilled(12.0), settings=self.hold)[0].state == "old"

    def test_the_noise_of_a_mesh_makes_nothing_worse(self) -> None:
        assert check(drilled(12.006), drilled(12.0), settings=self.hold)[0].state == "old"
        assert check(drilled(12.02), drilled(12.0), settings=self.hold)[0].state == "new"

    def test_worse_means_smaller_where_the_limit_asks_for_at_least(self) -> None:
        settings = make_settings({"width": 8.0})

        def state(before: float, after: float) -> str:
            was, now = (make_part(make_feature("hole", diameter_mm=d)) for d in (before, after))
            return check(now, was, settings=settings)[0].state

        assert state(6.0, 5.0) == "new"
        assert state(5.0, 6.0) == "old"

    def test_what_was_within_its_limit_before_is_new(self) -> None:
        assert check(drilled(12.0), drilled(9.0))[0].state == "new"

    def test_a_second_such_hole_is_new_beside_the_old_one(self) -> None:
        found = check(drilled(12.0, 12.0), drilled(12.0))
        assert sorted(f.state for f in found) == ["new", "old"]

    def test_features_are_matched_through_the_comparison_where_they_moved(self) -> None:
        was = make_part(make_feature("hole", id="hole-4", depth_mm=12.0, place=(0.0, 0.0, 0.0)))
        now = make_part(make_feature("hole", id="hole-2", depth_mm=12.0, place=(9.0, 0.0, 0.0)))
        assert check(now, was, features=(("hole-4", "hole-2"),))[0].state == "old"
        assert check(now, was, features=())[0].state == "new"

    def test_a_feature_at_the_same_place_is_the_same_whatever_its_id(self) -> None:
        was = make_part(make_feature("hole", id="hole-4", depth_mm=12.0))
        now = make_part(make_feature("hole", id="hole-2", depth_mm=12.0))
        assert check(now, was, features=())[0].state == "old"

    def test_remarks_about_faces_are_matched_by_faces(self) -> None:
        @rule(name="some-face", title="a face", level="note", looks_at="part")
        def some_face(view: View) -> Iterator[Remark]:
            """A face."""
            yield Remark(message="a face", faces=(len(view.part.facts.faces) - 1,))

        was = make_part(facts=make_facts((make_face(0, centroid=(1.0, 1.0, 1.0)),)))
        now = make_part(facts=make_facts((make_face(0), make_face(1))))
        assert check(now, was, rules=(some_face,), faces=((0, 1),))[0].state == "old"
        assert check(now, was, rules=(some_face,), faces=((0, 0),))[0].state == "new"

    def test_a_re_export_brings_no_finding_however_its_faces_are_read(self) -> None:
        """The same shape as splines: a hole is recognised that was not, and another is deeper."""
        was, now = drilled(12.0), drilled(12.0, 14.0)
        found = check(now, was, settings=self.hold, same_shape=True, features=())
        assert [(f.state, f.holds) for f in found] == [("old", False)] * 2
        found = check(now, was, settings=self.hold, same_shape=False, features=())
        assert sorted(f.state for f in found) == ["new", "old"]

    def test_what_the_configuration_brings_to_the_same_shape_is_new(self) -> None:
        @rule(name="no-letter", title="l", level="error", looks_at="part")
        def no_letter(view: View) -> Iterator[Remark]:
            """A letter is asked for."""
            if view.part.entry is None or view.part.entry.letter is None:
                yield Remark(message="no letter", signature="letter")

        was, now = drilled(5.0, entry=an_entry(letter="A")), drilled(5.0, entry=an_entry())
        assert check(now, was, rules=(no_letter,), same_shape=True)[0].state == "new"
        assert check(now, now, rules=(no_letter,), same_shape=True)[0].state == "old"

    def test_what_another_stock_brings_to_the_same_shape_is_new(self) -> None:
        """Another material, another series of bars."""

        @rule(name="wide-bar", title="w", level="error", looks_at="part")
        def wide_bar(view: View) -> Iterator[Remark]:
            """A bar is wide."""
            if view.part.stock is not None and view.part.stock.label == "plate 25":
                yield Remark(message="a wide bar", signature="bar")

        was = drilled(5.0, entry=an_entry(material="a"), stock=make_stock(label="plate 20"))
        now = drilled(5.0, entry=an_entry(material="b"), stock=make_stock(label="plate 25"))
        assert check(now, was, rules=(wide_bar,), same_shape=True)[0].state == "new"

    def test_what_a_change_rule_says_is_always_new(self) -> None:
        part = drilled(5.0)
        (found,) = check(part, part, (a_change("hole-deepened"),))
        assert (found.state, found.holds) == ("new", True)

    def test_change_rules_are_silent_without_a_comparison(self) -> None:
        assert check(drilled(5.0)) == ()

    def test_the_former_revision_is_judged_by_the_limits_of_this_one(self) -> None:
        """A stricter limit brings no new findings of its own: the change of policy is reported."""
        settings = make_settings({"depth": 3.0})
        (found,) = check(drilled(5.0), drilled(5.0), settings=settings)
        assert (found.state, found.holds) == ("old", False)


class TestPermits:
    settings = make_settings({"depth": 10.0}, permits=(a_permit("depth", up_to=14.0),))

    def test_a_permit_covers_up_to_its_value_and_not_beyond(self) -> None:
        for depth, held in ((12.0, False), (14.0, False), (14.1, True)):
            (found,) = check(drilled(depth), settings=self.settings)
            assert found.holds is held
            assert (found.permit is None) is held

    def test_its_last_day_is_included(self) -> None:
        for day, held in ((date(2026, 6, 30), False), (date(2026, 7, 1), True)):
            (found,) = check(drilled(12.0), settings=self.settings, today=day)
            assert found.holds is held

    def test_it_covers_its_own_part_only(self) -> None:
        (found,) = check(drilled(12.0, number="DL-2"), settings=self.settings)
        assert found.holds


def rubbish(give: Callable[[View], object]) -> tuple[tuple[Finding, ...], tuple[NotChecked, ...]]:
    """One rule that gives this, run beside a sound one."""
    bad = Rule(name="bad", title="bad", level="error", looks_at="part", limits=(DEPTH,),
               check=give, plugin="lamp_rules")  # type: ignore[arg-type]  # fmt: skip
    return check_part(drilled(12.0), None, None, make_settings(), (bad, too_deep), TODAY)


def _raise(view: View) -> Iterable[Remark]:
    raise ZeroDivisionError("no such luck\nat all")


def _exit(view: View) -> Iterable[Remark]:
    raise SystemExit(0)


def _recurse(view: View) -> Iterable[Remark]:
    return _recurse(view)


def _endless(view: View) -> Iterable[Remark]:
    while True:
        yield Remark(message="again")


def _not_a_number() -> Remark:
    remark = Remark(message="m", limit="depth", measured=1.0)
    msgspec.structs.force_setattr(remark, "measured", float("nan"))
    return remark


class TestRulesThatFail:
    @pytest.mark.parametrize(
        ("give", "reason"),
        [
            (_raise, "raised ZeroDivisionError: no such luck at all"),
            (_exit, "raised SystemExit: 0"),
            (_recurse, "raised RecursionError"),
            (_endless, "made more than 10000 remarks"),
            (lambda _: None, "gave NoneType instead of remarks"),
            (lambda _: "a remark", "gave str instead of remarks"),
            (lambda _: {"message": "m"}, "gave dict instead of remarks"),
            (lambda _: [{"message": "m"}], "gave dict instead of a remark"),
            (lambda _: ["m"], "gave str instead of a remark"),
            (lambda _: [Remark(message=" ")], "without a message"),
            (lambda _: [Remark(message=3)], "not sound"),
            (lambda _: [_not_a_number()], "not sound"),
            (lambda _: [Remark(message="m", measured="1")], "not sound"),
            (lambda _: [Remark(message="m", faces=[0])], None),
            (lambda _: [Remark(message="m", faces=(1.5,))], "not sound"),
            (lambda _: [Remark(message="m", limit="height", measured=1.0)], "not declare"),
            (lambda _: [Remark(message="m", limit="depth")], "measured nothing"),
            (lambda _: [Remark(message="m", feature="slot-1")], "the part does not have"),
            (lambda _: [Remark(message="m", faces=(7,))], "not among the part's 1 faces"),
            (lambda _: [Remark(message="m", faces=(-1,))], "not among the part's 1 faces"),
        ],
    )
    def test_become_not_checked_and_the_others_are_still_heard(
        self, give: Callable[[View], object], reason: str | None
    ) -> None:
        findings, failed = rubbish(give)
        assert "too-deep" in {f.rule for f in findings}
        if reason is None:
            assert failed == ()
            return
        (one,) = failed
        assert (one.rule, one.plugin, one.part) == ("bad", "lamp_rules", "DL-1")
        assert reason in one.reason
        assert "\n" not in one.reason

    def test_what_a_rule_said_before_it_failed_is_kept(self) -> None:
        def late(view: View) -> Iterator[Remark]:
            yield Remark(message="true as far as it goes")
            raise KeyError("then")

        findings, failed = rubbish(late)
        assert "true as far as it goes" in {f.message for f in findings}
        assert len(failed) == 1

    def test_an_interrupt_by_the_user_is_not_swallowed(self) -> None:
        def interrupted(view: View) -> Iterator[Remark]:
            raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            rubbish(interrupted)

    def test_a_rule_that_fails_on_the_former_revision_only_is_told_and_its_finding_new(
        self,
    ) -> None:
        @rule(name="fragile", title="fragile", level="error", looks_at="part")
        def fragile(view: View) -> Iterator[Remark]:
            """Fails on parts of one hole."""
            if len(view.part.features) == 1:
                raise ValueError("one hole")
            yield Remark(message="two holes")

        was, now = drilled(5.0), drilled(5.0, 5.0)
        findings, failed = check_part(
            now, was, make_comparison(was, now), make_settings(), (fragile,), TODAY
        )
        assert [f.state for f in findings] == ["new"]
        assert len(failed) == 1


class TestFindings:
    def test_the_most_important_comes_first(self) -> None:
        settings = make_settings({"width": 8.0}, {"too-deep": "warning"})
        part = drilled(12.0)
        assert [(f.rule, f.holds) for f in check(part, settings=settings)] == [
            ("too-narrow", True),
            ("too-deep", False),
        ]

    def test_a_finding_points_at_the_line_of_its_first_face(self) -> None:
        facts = make_facts((make_face(0, line=4711),))
        part = make_part(make_feature("hole", depth_mm=12.0, faces=(0,)), facts=facts)
        (found,) = check(part)
        assert (found.faces, found.line) == ((0,), 4711)

    def test_identities_survive_the_renumbering_of_faces_and_features(self) -> None:
        one = make_part(make_feature("hole", id="hole-1", depth_mm=12.0))
        other = make_part(
            make_feature("slot", depth_mm=1.0), make_feature("hole", id="hole-9", depth_mm=12.0)
        )
        rules = (too_deep,)
        assert check(one, rules=rules)[0].identity == check(other, rules=rules)[0].identity

    def test_identities_are_unique_in_a_part(self) -> None:
        twins = [make_feature("hole", depth_mm=12.0) for _ in range(3)]
        found = check(make_part(*twins))
        assert len({f.identity for f in found}) == 3

    def test_bought_parts_are_judged_only_by_rules_for_any_part(self) -> None:
        from dataclasses import replace

        part = drilled(12.0, entry=an_entry(make="bought"))
        assert check(part) == ()
        assert len(check(part, rules=(replace(too_deep, makes="any"),))) == 1


class TestVanished:
    def test_change_rules_see_that_the_part_is_gone(self) -> None:
        rules = (too_deep, something_changed)
        findings, failed = check_vanished(drilled(12.0), make_settings(), rules, TODAY)
        assert failed == ()
        assert [(f.rule, f.message) for f in findings] == [("something-changed", "DL-1 is gone")]

    def test_nothing_else_is_said_about_it(self) -> None:
        """Its features went with it: only that it is gone is told, by the shipped rules as well."""
        from dfmcheck.checking.plugins import make_plugin_manager
        from dfmcheck.checking.registry import collect_rules

        entry = an_entry(callouts=(a_callout(thread="M6", depth_mm=8.0),))
        part = make_part(
            make_feature("hole", diameter_mm=5.0), make_feature("freeform"), entry=entry
        )
        rules = collect_rules(make_plugin_manager())
        findings, failed = check_vanished(part, make_settings(), rules, TODAY)
        assert failed == ()
        assert [f.rule for f in findings] == ["part-vanished"]

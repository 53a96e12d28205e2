"""Stages: silent while drawing, holding once a run asks for one."""

from collections.abc import Iterator

from builders import (
    TODAY,
    a_change,
    an_entry,
    make_comparison,
    make_feature,
    make_part,
    make_settings,
)

from dfmcheck.checking.engine import check_part
from dfmcheck.checking.stages import pieces_asked
from dfmcheck.model.finding import Finding, NotChecked, Remark
from dfmcheck.model.part import Part
from dfmcheck.model.rule import Rule, View, rule
from dfmcheck.model.settings import Settings, Stage
from dfmcheck_rules.stages import callouts_missing


@rule(name="no-material", title="m", level="error", looks_at="stage", piece="material")
def no_material(view: View) -> Iterator[Remark]:
    """A material is asked for."""
    if view.part.entry is None or view.part.entry.material is None:
        yield Remark(message="No material is set.", signature="m")


@rule(name="no-finish", title="f", level="error", looks_at="stage", piece="finish")
def no_finish(view: View) -> Iterator[Remark]:
    """A finish is asked for."""
    yield Remark(message="no finish is set", signature="f")


@rule(name="no-callouts", title="c", level="error", looks_at="stage", piece="callouts")
def no_callouts(view: View) -> Iterator[Remark]:
    """Callouts are complete here."""
    del view
    yield from ()


RULES = (no_material, no_finish, no_callouts)
ORDER = Settings(policy=make_settings(stages=(("order", ("finish",)), ("request", ()))).policy)


def check(
    stage: Stage | None, settings: Settings | None = None, **part: object
) -> tuple[tuple[Finding, ...], tuple[NotChecked, ...]]:
    return check_part(
        make_part(**part), None, None, settings or make_settings(), RULES, TODAY, stage
    )


def test_while_drawing_one_note_sums_up_what_is_missing() -> None:
    (note,), failed = check(None)
    assert note.message == ("Before a request to a shop: no material is set; no finish is set.")
    assert (note.rule, note.level, note.holds) == ("before-a-request", "note", False)
    assert failed == ()


def summary(now: Part, was: Part, rules: tuple[Rule, ...] = RULES) -> Finding:
    """The note on a part that changed."""
    compared = make_comparison(was, now, a_change("hole-added"))
    findings, _ = check_part(now, was, compared, make_settings(), rules, TODAY)
    (note,) = (f for f in findings if f.rule == "before-a-request")
    return note


def test_the_note_is_old_where_the_base_lacked_as_much() -> None:
    bare, told = make_part(), make_part(entry=an_entry(material="EN AW-6082-T6"))
    assert summary(bare, bare).state == "old"
    assert summary(told, bare).state == "old"  # less is missing than before
    assert summary(bare, told).state == "new"
    assert summary(bare, bare).identity == summary(bare, told).identity


def test_the_note_is_new_where_more_holes_are_not_called_out() -> None:
    def holed(count: int, diameter: float = 2.5) -> Part:
        places = [(float(10 * i), 0.0, 0.0) for i in range(count)]
        return make_part(*(make_feature("hole", diameter_mm=diameter, place=p) for p in places))

    rules = (callouts_missing,)
    assert summary(holed(2), holed(2), rules).state == "old"
    assert summary(holed(1), holed(2), rules).state == "old"
    assert summary(holed(3), holed(2), rules).state == "new"
    assert summary(holed(2, 3.3), holed(2), rules).state == "new"
    assert (
        "2 holes dia 3.3 look tapped (M4), no callout"
        in summary(holed(2, 3.3), holed(2), rules).message
    )


def test_the_note_can_be_switched_off_and_so_can_each_piece() -> None:
    assert check(None, make_settings(levels={"before-a-request": "off"}))[0] == ()
    (note,), _ = check(None, make_settings(levels={"no-finish": "off"}))
    assert note.message == "Before a request to a shop: no material is set."
    assert check(None, make_settings(levels={"no-finish": "off", "no-material": "off"}))[0] == ()


def test_a_stage_that_is_asked_for_holds() -> None:
    findings, failed = check("request")
    assert [(f.rule, f.level, f.holds) for f in findings] == [
        ("no-finish", "error", True),
        ("no-material", "error", True),
    ]
    assert failed == ()


def test_a_missing_piece_holds_however_long_it_has_been_missing() -> None:
    part = make_part()
    comparison = make_comparison(part, part)
    findings, _ = check_part(part, part, comparison, make_settings(), RULES, TODAY, "request")
    assert {(f.state, f.holds) for f in findings} == {("old", True)}


def test_the_configuration_says_which_pieces_a_stage_needs() -> None:
    settings = make_settings(stages=(("request", ("material",)),))
    assert [f.rule for f in check("request", settings)[0]] == ["no-material"]
    entry = an_entry(material="EN AW-6082-T6")
    assert check("request", settings, entry=entry)[0] == ()


def test_an_order_needs_what_a_request_needs() -> None:
    settings = make_settings(stages=(("order", ("finish",)), ("request", ("material",))))
    assert pieces_asked(settings, "order") == ("material", "finish")
    assert pieces_asked(ORDER, "order") == ("finish",)


def test_a_piece_that_no_rule_checks_is_never_taken_as_present() -> None:
    settings = make_settings(stages=(("order", ("current-quote",)),))
    findings, failed = check("order", settings)
    assert [n.rule for n in failed] == ["current-quote"]
    assert "no loaded rule checks" in failed[0].reason
    assert len(findings) == 2

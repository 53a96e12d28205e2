"""What the rules about holes say, and what they pass over."""

import pytest
from builders import (
    a_callout,
    a_change,
    an_entry,
    make_feature,
    make_part,
    make_process,
    run_rule,
)

from dfmcheck_rules import holes, tables


def test_deep_hole_measures_its_depth_in_diameters_and_says_both() -> None:
    part = make_part(make_feature("hole", diameter_mm=2.5, depth_mm=20.0, through=False))
    (found,) = run_rule(holes.deep_hole, part)
    assert found.message == "hole dia 2.5 x 20 deep is 8 times as deep as wide"
    assert found.measured == pytest.approx(8.0)
    assert (found.limit, found.limit_value, found.unit) == ("hole_depth_ratio", 5.0, "x diameter")
    assert found.faces == part.features[0].faces


def test_equal_holes_get_equal_messages_but_identities_of_their_own() -> None:
    part = make_part(
        *(make_feature("hole", depth_mm=60.0, place=(x, 0.0, 15.0)) for x in (5.0, 10.0, 15.0))
    )
    found = run_rule(holes.deep_hole, part)
    assert len({f.message for f in found}) == 1
    assert len({f.identity for f in found}) == 3


def test_an_inch_drill_is_odd_in_a_metric_file_and_at_home_in_an_inch_file() -> None:
    quarter = make_feature("hole", diameter_mm=6.35)
    (found,) = run_rule(holes.odd_sized_hole, make_part(quarter))
    assert found.measured == pytest.approx(0.05)
    assert run_rule(holes.odd_sized_hole, make_part(quarter, unit="inch")) == ()


def test_a_part_drilled_in_inches_is_known_by_most_of_its_odd_holes() -> None:
    """15.875, 7.9375 and 6.35 mm are 5/8, 5/16 and 1/4 inch, and lie between metric drills."""
    inches = [make_feature("hole", diameter_mm=d) for d in (15.875, 7.9375, 6.35)]
    assert run_rule(holes.odd_sized_hole, make_part(*inches)) == ()
    assert len(run_rule(holes.odd_sized_hole, make_part(*inches[:2]))) == 2
    odd = [make_feature("hole", diameter_mm=d) for d in (15.9, 7.96, 6.33)]
    assert len(run_rule(holes.odd_sized_hole, make_part(*inches, *odd))) == 6


def test_a_bore_along_the_axis_of_a_turned_part_may_have_any_size() -> None:
    def odd(diameter_mm: float, process: str = "turned", y: float = 0.0) -> bool:
        bore = make_feature(
            "hole", diameter_mm=diameter_mm, place=(5.0, y, 0.0), direction=(-1.0, 0.0, 0.0)
        )
        part = make_part(bore, process=make_process(process, 1))
        return bool(run_rule(holes.odd_sized_hole, part))

    assert not odd(15.23)
    assert odd(5.13)
    assert odd(15.23, y=3.0)
    assert odd(15.23, process="milled")


def test_wide_holes_are_bored_to_any_size() -> None:
    assert run_rule(holes.odd_sized_hole, make_part(make_feature("hole", diameter_mm=20.33))) == ()


def test_a_callout_with_thread_or_fit_decides_the_cutter() -> None:
    odd = make_feature("hole", diameter_mm=4.134)
    assert len(run_rule(holes.odd_sized_hole, make_part(odd))) == 1
    for said in ({"thread": "M5"}, {"fit": "H7"}):
        entry = an_entry(callouts=(a_callout(target={"diameter_mm": 4.13}, **said),))
        assert run_rule(holes.odd_sized_hole, make_part(odd, entry=entry)) == ()


def test_a_blind_hole_leaves_through_no_face() -> None:
    blind = make_feature("hole", through=False, exit_slant_deg=30.0)
    through = make_feature("hole", exit_slant_deg=30.0, entry_slant_deg=2.0, tilted=True)
    assert run_rule(holes.slanted_hole, make_part(blind)) == ()
    (found,) = run_rule(holes.slanted_hole, make_part(through))
    assert "leaves a face on a slant of 30 deg and lies along no main axis" in found.message


def test_a_hole_made_deeper_and_thinner_is_named_once() -> None:
    was = make_part(make_feature("hole", diameter_mm=6.0, depth_mm=12.0))
    now = make_part(make_feature("hole", diameter_mm=4.0, depth_mm=20.0))
    same = {"feature_before": "hole-1", "feature_after": "hole-1"}
    changes = (a_change("hole-deepened", **same), a_change("hole-narrowed", **same))
    (found,) = run_rule(holes.slimmer_hole, now, was, changes)
    assert (found.before_value, found.measured) == (2.0, 5.0)


def test_each_of_several_holes_told_as_one_change_is_named() -> None:
    was, now = (
        make_part(*(make_feature("hole", depth_mm=depth, place=(x, 0.0, 0.0)) for x in (0.0, 9.0)))
        for depth in (12.0, 24.0)
    )
    both = ("hole-1", "hole-2")
    change = a_change(
        "hole-deepened", feature_before="hole-1", feature_after="hole-1", count=2,
        features_before=both, features_after=both,
    )  # fmt: skip
    found = run_rule(holes.slimmer_hole, now, was, (change,))
    assert sorted(f.feature or "" for f in found) == ["hole-1", "hole-2"]


def test_a_hole_made_deeper_and_wider_in_step_is_no_slimmer() -> None:
    was = make_part(make_feature("hole", diameter_mm=3.0, depth_mm=12.0))
    now = make_part(make_feature("hole", diameter_mm=6.0, depth_mm=24.0))
    change = a_change("hole-deepened", feature_before="hole-1", feature_after="hole-1")
    assert run_rule(holes.slimmer_hole, now, was, (change,)) == ()


def test_the_cone_of_a_drill_is_no_flat_bottom() -> None:
    for bottom in ("cone", "round", "other"):
        hole = make_feature("hole", depth_mm=20.0, through=False, bottom=bottom)
        assert run_rule(holes.flat_bottomed_hole, make_part(hole)) == ()


def test_drills_are_ascending_and_end_where_boring_begins() -> None:
    for inch in (False, True):
        drills = tables.drill_sizes_mm(inch=inch)
        assert list(drills) == sorted(set(drills))
        assert drills[-1] == tables.LARGEST_DRILL_MM

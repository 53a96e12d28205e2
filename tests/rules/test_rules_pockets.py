"""What the rules about pockets and corners say, and what they pass over."""

import pytest
from builders import a_change, make_feature, make_part, make_process, run_rule

from dfmcheck_rules import pockets


def test_a_sharp_corner_cannot_be_milled_and_a_tight_one_hardly() -> None:
    (sharp,) = run_rule(
        pockets.inside_corner_radius, make_part(make_feature("pocket", corner_radius_mm=0.0))
    )
    (tight,) = run_rule(
        pockets.inside_corner_radius, make_part(make_feature("pocket", corner_radius_mm=0.3))
    )
    assert "sharp inside corner" in sharp.message
    assert "cannot be milled" in sharp.cost
    assert "R0.3" in tight.message
    assert "thinner than any that is stocked" in tight.cost


def test_a_hollow_without_corners_has_none_to_remark_on() -> None:
    part = make_part(make_feature("slot"), make_feature("pocket", corner_radius_mm=None))
    assert run_rule(pockets.inside_corner_radius, part) == ()


def test_the_cutter_is_bounded_by_corner_and_width() -> None:
    """Design illustration: a 3 mm cutter that has to reach 18 mm reaches 6 times its diameter."""
    by_corner = make_feature("pocket", corner_radius_mm=1.5, width_mm=20.0, depth_mm=18.0)
    by_width = make_feature("pocket", corner_radius_mm=1.5, width_mm=2.0, depth_mm=12.0)
    (one,) = run_rule(pockets.deep_narrow_pocket, make_part(by_corner))
    (other,) = run_rule(pockets.deep_narrow_pocket, make_part(by_width))
    assert one.measured == pytest.approx(6.0)
    assert other.measured == pytest.approx(6.0)


def test_a_step_is_open_and_bounded_by_its_corner_alone() -> None:
    open_step = make_feature("step", width_mm=1.0, depth_mm=14.0)
    cornered = make_feature("step", width_mm=1.0, depth_mm=14.0, corner_radius_mm=1.0)
    assert run_rule(pockets.deep_narrow_pocket, make_part(open_step)) == ()
    assert len(run_rule(pockets.deep_narrow_pocket, make_part(cornered))) == 1


def test_a_tee_slot_is_an_undercut_and_not_a_deep_slot() -> None:
    tee = make_part(make_feature("slot", profile="tee", width_mm=1.0, depth_mm=14.0))
    assert run_rule(pockets.deep_narrow_pocket, tee) == ()
    (found,) = run_rule(pockets.undercut, tee)
    assert "T-slot" in found.message


def test_an_inside_groove_is_ordinary_on_a_lathe() -> None:
    groove = make_feature("groove", side="inside")
    turned = make_part(groove, process=make_process("turned", 1))
    assert run_rule(pockets.undercut, turned) == ()
    assert len(run_rule(pockets.undercut, make_part(groove))) == 1


def test_the_smallest_cutter_comes_from_the_whole_part() -> None:
    was = make_part(make_feature("pocket", corner_radius_mm=3.0))
    now = make_part(
        make_feature("pocket", corner_radius_mm=3.0),
        make_feature("fillet", side="inside", role="corner", radius_mm=1.0),
    )
    (found,) = run_rule(pockets.smallest_cutter, now, was, (a_change("fillet-added"),))
    assert (found.before_value, found.measured, found.feature) == (6.0, 2.0, "fillet-1")


def test_a_floor_fillet_asks_for_no_thin_cutter() -> None:
    floor = make_feature("fillet", side="inside", role="floor", radius_mm=0.5)
    now = make_part(floor)
    assert run_rule(pockets.smallest_cutter, now, make_part(), (a_change("fillet-added"),)) == ()


def test_a_tightened_corner_without_a_feature_points_at_its_faces() -> None:
    part = make_part(make_feature("pocket"))
    change = a_change("corner-tightened", before=3.0, after=1.5, faces_after=(0,))
    (found,) = run_rule(pockets.corner_tightened, part, part, (change,))
    assert found.faces == (0,)
    assert found.message == "inside corner R3 -> R1.5"


def test_equal_corners_told_as_one_change_are_counted() -> None:
    part = make_part(make_feature("pocket"), make_feature("pocket", place=(0.0, 0.0, 15.0)))
    change = a_change(
        "corner-tightened", before=3.0, after=1.5, feature_after="pocket-1", count=2,
        features_after=("pocket-1", "pocket-2"), faces_after=(0, 1),
    )  # fmt: skip
    (found,) = run_rule(pockets.corner_tightened, part, part, (change,))
    assert found.message == "2 x pocket 30 x 20, 8 deep: inside corners R3 -> R1.5"
    assert found.faces == (0, 1)

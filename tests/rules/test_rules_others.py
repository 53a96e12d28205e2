"""Walls, turned parts, stock, process, what a revision adds, stages."""

import pytest
from builders import (
    a_change,
    a_shaft,
    an_entry,
    make_face,
    make_facts,
    make_feature,
    make_part,
    make_process,
    make_stock,
    run_rule,
)

from dfmcheck.model.facts import Edge
from dfmcheck.model.finding import Finding
from dfmcheck_rules import change, pockets, process, stages, stock, turning, walls


def thin(*faces: object, **part: object) -> tuple[Finding, ...]:
    return run_rule(walls.thin_wall, make_part(facts=make_facts(tuple(faces)), **part))  # type: ignore[arg-type]


def test_a_wall_seen_from_both_sides_is_one_wall() -> None:
    (found,) = thin(
        make_face(0, wall_mm=0.52, wall_face=1),
        make_face(1, normal=(0.0, 0.0, -1.0), wall_mm=0.5, wall_face=0),
    )
    assert found.measured == 0.5
    assert found.faces == (0, 1)


def test_the_corners_of_a_wall_belong_to_it() -> None:
    """Faces 0 and 1 bound a wall; 2 rounds off into 0, 3 stands alone."""
    edge = Edge(
        index=0, faces=(0, 2), curve="line", length_mm=10.0, convexity="tangent",
        angle_deg=180.0, start=(0.0, 0.0, 0.0), middle=(5.0, 0.0, 0.0), end=(10.0, 0.0, 0.0),
    )  # fmt: skip
    faces = (
        make_face(0, wall_mm=0.5, wall_face=1),
        make_face(1, normal=(0.0, 0.0, -1.0)),
        make_face(2, surface="cylinder", wall_mm=0.6, wall_face=1),
        make_face(3, surface="cylinder", wall_mm=0.6, wall_face=1),
    )
    found = run_rule(walls.thin_wall, make_part(facts=make_facts(faces, edges=(edge,))))
    assert sorted(f.faces for f in found) == [(0, 1), (1, 3)]


def test_a_wedge_is_no_wall() -> None:
    """Two planes at 60 degrees run out into an edge, where the metal thins to nothing by nature."""
    assert (
        thin(
            make_face(0, wall_mm=0.1, wall_face=1),
            make_face(1, normal=(0.866, 0.0, -0.5), wall_mm=0.1, wall_face=0),
        )
        == ()
    )


def test_threads_and_knurls_are_thin_by_nature() -> None:
    faces = (make_face(0, wall_mm=0.2, wall_face=1), make_face(1, surface="freeform"))
    thread = make_feature("thread", faces=(0, 1))
    assert run_rule(walls.thin_wall, make_part(thread, facts=make_facts(faces))) == ()


def test_a_wall_that_a_thread_made_thin_is_not_told() -> None:
    thread = make_feature("thread", faces=(0,))
    part = make_part(thread, facts=make_facts((make_face(0), make_face(1))))
    thinner = a_change("wall-thinner", before=3.0, after=0.1, faces_after=(0, 1))
    assert run_rule(walls.wall_thinner, part, part, (thinner,)) == ()


def test_a_thin_web_beside_a_hole_names_the_hole() -> None:
    faces = (make_face(0, wall_mm=0.3, wall_face=1), make_face(1, surface="cylinder"))
    hole = make_feature("hole", faces=(1,))
    (found,) = run_rule(walls.thin_wall, make_part(hole, facts=make_facts(faces)))
    assert found.message == "wall 0.3 thick beside hole"


def slender(*outer: tuple[float, float], kind: str = "turned") -> tuple[Finding, ...]:
    part = make_part(facts=make_facts(turning=a_shaft(*outer)), process=make_process(kind, 1))
    return run_rule(turning.slender_turned_part, part)


def test_a_thin_end_of_a_stout_part_counts() -> None:
    head, end = ((0.0, 10.0), (10.0, 10.0)), ((10.0, 1.5), (46.0, 1.5))
    (found,) = slender(*head, *end)
    assert found.measured == pytest.approx(12.0)
    assert found.message.startswith("thin length of a turned part dia 3 x 36 long")


def test_the_profile_may_run_either_way() -> None:
    profile = ((0.0, 10.0), (10.0, 10.0), (10.0, 1.5), (46.0, 1.5))
    assert slender(*profile)[0].measured == slender(*reversed(profile))[0].measured


def test_a_neck_between_two_collars_counts_and_a_narrow_groove_does_not() -> None:
    collars = ((0.0, 8.0), (10.0, 8.0)), ((50.0, 8.0), (60.0, 8.0))
    neck = ((10.0, 1.5), (50.0, 1.5))
    (found,) = slender(*collars[0], *neck, *collars[1])
    assert found.measured == pytest.approx(40.0 / 3.0)
    groove = ((10.0, 5.0), (12.0, 5.0))
    assert slender((0.0, 8.0), (10.0, 8.0), *groove, (12.0, 8.0), (60.0, 8.0)) == ()


def test_a_point_is_not_slender_however_thin_its_tip() -> None:
    """A cone of 60 degrees is about 0.87 times as long as its base is wide, at any height."""
    assert slender((0.0, 10.0), (30.0, 10.0), (47.3, 0.0)) == ()


def test_without_a_measured_profile_the_outer_faces_give_it() -> None:
    """A head 20 x 10, a taper to 3 over 10, and a pin 3 x 36, with a bore that does not count."""
    common = {"axis": (-1.0, 0.0, 0.0), "axis_point": (0.0, 0.0, 0.0), "bend": "outside"}
    head = make_face(0, surface="cylinder", radius_mm=10.0, along_mm=(-10.0, 0.0), **common)
    taper = make_face(1, surface="cone", radii_mm=(1.5, 10.0), along_mm=(-20.0, -10.0), **common)
    pin = make_face(2, surface="cylinder", radius_mm=1.5, along_mm=(-56.0, -20.0), **common)
    bore = make_face(
        3, surface="cylinder", radius_mm=0.5, along_mm=(-56.0, 0.0), **{**common, "bend": "inside"}
    )
    aside = make_face(
        4, surface="cylinder", radius_mm=0.6, along_mm=(-56.0, 0.0),
        **{**common, "axis_point": (0.0, 4.0, 0.0)},
    )  # fmt: skip
    part = make_part(
        facts=make_facts((head, taper, pin, bore, aside)), process=make_process("turned", 1)
    )
    assert [(round(z, 3), round(r, 3)) for z, r in turning.outline(part)] == [
        (0.0, 10.0), (10.0, 10.0), (10.0, 10.0), (20.0, 1.5), (20.0, 1.5), (56.0, 1.5),
    ]  # fmt: skip
    (found,) = run_rule(turning.slender_turned_part, part)
    assert found.measured == pytest.approx((36.0 + 10.0 * 0.075 / 8.5) / 3.0)
    assert turning.outline(make_part()) == ()


def test_a_milled_bar_is_not_turned() -> None:
    assert slender((0.0, 2.0), (80.0, 2.0), kind="milled") == ()


def test_without_stock_nothing_is_said_about_it() -> None:
    bare, grew = make_part(stock=None), (a_change("stock-grew"),)
    for rule in (stock.stock_rise, change.removal_rise):
        assert run_rule(rule, bare, make_part(), grew) == ()
        assert run_rule(rule, make_part(), bare, grew) == ()
    assert run_rule(stock.stock_near_miss, bare) == ()


def test_less_metal_cut_away_is_no_rise() -> None:
    was, now = (make_part(stock=make_stock(removed_mm3=v)) for v in (20_000.0, 10_000.0))
    assert run_rule(change.removal_rise, now, was, (a_change("stock-shrank"),)) == ()


def test_sizes_of_a_part_in_another_unit_are_not_compared_with_the_former() -> None:
    wide, narrow = (make_feature("slot", width_mm=w) for w in (25.4, 1.0))
    was = make_part(wide, stock=make_stock(volume_mm3=60e3, removed_mm3=20e3))
    now = make_part(narrow, stock=make_stock(volume_mm3=983e6, removed_mm3=327e6))
    for rule in (stock.stock_rise, change.removal_rise, pockets.smallest_cutter):
        assert run_rule(rule, now, was, (a_change("stock-grew"),)) != ()
        assert run_rule(rule, now, was, (a_change("unit-changed"), a_change("stock-grew"))) == ()


def test_a_part_that_filled_its_stock_is_measured_against_the_stock() -> None:
    """From nothing to 6 cm3 out of 60: the rise is counted from a thousandth of the stock."""
    was, now = (make_part(stock=make_stock(volume_mm3=60e3, removed_mm3=v)) for v in (0.0, 6e3))
    (found,) = run_rule(change.removal_rise, now, was, (a_change("volume-shrank"),))
    assert found.measured == pytest.approx(100.0 * 6e3 / 60.0)


def test_volume_stands_for_mass_where_no_material_is_set() -> None:
    grew = a_change("volume-grew", before=10_000.0, after=12_000.0)
    (found,) = run_rule(change.mass_rise, make_part(), make_part(), (grew,))
    assert found.measured == pytest.approx(20.0)
    assert found.message == "volume 10 -> 12 cm3, 20 % more"
    heavier = a_change("mass-grew", before=27.0, after=32.4)
    (found,) = run_rule(change.mass_rise, make_part(), make_part(), (grew, heavier))
    assert found.message == "mass 27 -> 32.4 g, 20 % more"


@pytest.mark.parametrize("told_as_one", [True, False])
def test_equal_features_added_together_are_named_once(told_as_one: bool) -> None:
    holes = [make_feature("hole", diameter_mm=5.5, place=(x, 0.0, 15.0)) for x in range(4)]
    now = make_part(*holes, make_feature("slot"))
    ids = tuple(f.id for f in now.features)
    if told_as_one:
        changes = (
            a_change("hole-added", feature_after=ids[0], features_after=ids[:4], count=4),
            a_change("slot-added", feature_after=ids[4], features_after=ids[4:]),
        )
    else:
        changes = tuple(a_change(f"{i.split('-')[0]}-added", feature_after=i) for i in ids)
    found = run_rule(change.feature_added, now, make_part(), changes)
    assert [f.message for f in found] == [
        "4 holes added: dia 5.5 through 10",
        "1 slot added: 22 x 6 x 6 deep",
    ]
    assert found[0].faces == (0, 1, 2, 3)


def test_unknown_setups_are_not_counted() -> None:
    assert run_rule(process.setups, make_part(process=make_process("milled", 0))) == ()


def test_a_part_without_an_entry_lacks_material_and_finish() -> None:
    for rule in (stages.material_missing, stages.finish_missing):
        assert len(run_rule(rule, make_part(), stage="request")) == 1
        assert run_rule(rule, make_part()) == ()


def test_open_points_about_callouts_are_counted_not_repeated() -> None:
    holes = [make_feature("hole", diameter_mm=2.5, place=(x, 0.0, 15.0)) for x in range(3)]
    part = make_part(*holes, entry=an_entry())
    (found,) = run_rule(stages.callouts_missing, part, stage="request")
    assert found.message == "3 holes dia 2.5 look tapped (M3), no callout"
    assert (found.level, found.holds) == ("error", True)

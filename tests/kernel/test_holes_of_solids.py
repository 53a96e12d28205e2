"""Holes in solids made for one purpose each: every field that a rule may rely on.

The expected figures are those the solids are made with.
"""

import math

import pytest
from build123d import Axis, Box, Cone, Cylinder, Pos, Rot, Solid
from made_parts import cutters as c
from made_parts.bench import Bench, at_height, both, round_edge
from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import (
    Chamfer,
    Counterbore,
    Countersink,
    Feature,
    Fillet,
    Groove,
    Hole,
)

BLOCK = (80.0, 60.0, 30.0)


def features_of(solid: Solid) -> tuple[Feature, ...]:
    return recognise(part_facts(solid.wrapped, name="made"))


def only_hole(features: tuple[Feature, ...]) -> Hole:
    (hole,) = (f for f in features if isinstance(f, Hole))
    return hole


def drilled(*tools: tuple[c.Tool, object]) -> tuple[Feature, ...]:
    bench = Bench("block", BLOCK)
    for tool, where in tools:
        bench.use(tool, where)
    return recognise(bench.facts())


def top(x: float = 0.0, y: float = 0.0) -> object:
    return Pos(x, y, BLOCK[2] / 2)


@pytest.mark.parametrize("bottom", ["flat", "cone", "round"])
def test_blind_hole(bottom: str) -> None:
    hole = only_hole(drilled((c.hole(8, 20, bottom=bottom), top(5, 3))))
    assert (hole.diameter_mm, hole.depth_mm, hole.reach_mm) == pytest.approx((8, 20, 20))
    assert (hole.through, hole.bottom, hole.form) == (False, bottom, "plain")
    assert hole.direction == pytest.approx((0, 0, 1))
    assert hole.place == pytest.approx((5, 3, 15))
    assert hole.bottom_angle_deg == (pytest.approx(118) if bottom == "cone" else None)
    assert not hole.interrupted
    assert not hole.tilted


def test_through_hole() -> None:
    hole = only_hole(drilled((c.hole(8, 30, through=True), top())))
    assert (hole.diameter_mm, hole.depth_mm) == pytest.approx((8, 30))
    assert (hole.through, hole.bottom) == (True, "none")
    assert (hole.entry_slant_deg, hole.exit_slant_deg) == (0, 0)


def test_counterbore_is_part_of_its_hole() -> None:
    features = drilled((c.counterbored(6.6, 30, 11, 6.4), top()))
    hole = only_hole(features)
    (bore,) = (f for f in features if isinstance(f, Counterbore))
    assert bore.of == hole.id
    assert (bore.diameter_mm, bore.depth_mm) == pytest.approx((11, 6.4))
    assert (hole.form, hole.depth_mm, hole.reach_mm) == ("counterbored", pytest.approx(23.6), 30)


def test_countersink_is_part_of_its_hole() -> None:
    features = drilled((c.countersunk(6.6, 30, 13, 90), top()))
    hole = only_hole(features)
    (sink,) = (f for f in features if isinstance(f, Countersink))
    assert sink.of == hole.id
    assert (sink.diameter_mm, sink.depth_mm, sink.angle_deg) == pytest.approx((13, 3.2, 90))
    assert hole.form == "countersunk"


def test_bevelled_and_rounded_mouths_are_chamfer_and_fillet() -> None:
    bench = Bench("block", BLOCK).use(c.hole(10, 20), Pos(0, 0, 15))
    bench.bevel(0.8, both(round_edge(5), at_height(15)))
    features = recognise(bench.facts())
    (chamfer,) = (f for f in features if isinstance(f, Chamfer))
    hole = only_hole(features)
    assert (chamfer.of, chamfer.width_mm) == (hole.id, pytest.approx(0.8 * math.sqrt(2)))
    assert (hole.depth_mm, hole.reach_mm) == pytest.approx((19.2, 20))

    bench = Bench("block", BLOCK).use(c.hole(10, 20), Pos(0, 0, 15))
    bench.round_off(1.5, both(round_edge(5), at_height(15)), "outside")
    features = recognise(bench.facts())
    (fillet,) = (f for f in features if isinstance(f, Fillet))
    hole = only_hole(features)
    assert (fillet.of, fillet.radius_mm, fillet.side) == (hole.id, pytest.approx(1.5), "outside")
    assert (hole.depth_mm, hole.reach_mm) == pytest.approx((18.5, 20))


def test_tilted_hole_slants_at_both_ends() -> None:
    tilt = 25.0
    where = Pos(0, 0, 15) * Rot(0, tilt, 0) * Pos(0, 0, 6)
    hole = only_hole(drilled((c.hole(8, 60, through=True), where)))
    assert hole.tilted
    assert hole.through
    assert (hole.entry_slant_deg, hole.exit_slant_deg) == pytest.approx((tilt, tilt), abs=0.01)


def test_one_hole_through_both_cheeks_of_a_bracket() -> None:
    features = drilled(
        (c.slot(30, 20, 80), top()),
        (c.hole(10, 60, through=True), Pos(0, -30, 5) * Rot(90, 0, 0)),
    )
    hole = only_hole(features)
    assert hole.interrupted
    assert hole.through
    assert hole.depth_mm == pytest.approx(60)


def test_metal_between_keeps_coaxial_holes_apart() -> None:
    bench = Bench("block", BLOCK)
    bench.use(c.slot(14, 20, 80), Pos(0, 18, 15)).use(c.slot(14, 20, 80), Pos(0, -18, 15))
    bench.use(c.hole(8, 10, through=True), Pos(0, -30, 5) * Rot(90, 0, 0))
    bench.use(c.hole(8, 10, through=True), Pos(0, 30, 5) * Rot(-90, 0, 0))
    holes = [f for f in recognise(bench.facts()) if isinstance(f, Hole)]
    assert [h.through for h in holes] == [True, True]
    assert [h.depth_mm for h in holes] == pytest.approx([5, 5])


def test_cross_holes_stay_two_holes() -> None:
    features = drilled(
        (c.hole(14, 80, through=True), Pos(40, 0, 0) * Rot(0, 90, 0)),
        (c.hole(6, 30, through=True), top(10)),
    )
    wide, narrow = sorted(
        (f for f in features if isinstance(f, Hole)), key=lambda h: -h.diameter_mm
    )
    assert (wide.diameter_mm, wide.interrupted, wide.through) == (pytest.approx(14), True, True)
    assert (narrow.diameter_mm, narrow.interrupted, narrow.through) == (
        pytest.approx(6),
        True,
        True,
    )
    assert narrow.depth_mm == pytest.approx(30)


def test_hole_on_a_shaft_is_square_on_or_off_centre() -> None:
    shaft = Cylinder(15, 60)
    across = Rot(0, 90, 0) * Cylinder(3, 60)
    hole = min(
        (f for f in features_of((shaft - across).solids()[0]) if isinstance(f, Hole)),
        key=lambda h: h.diameter_mm,
    )
    assert (hole.entry_slant_deg, hole.exit_slant_deg) == (0, 0)
    off = features_of((shaft - Pos(0, 6, 0) * across).solids()[0])
    hole = min((f for f in off if isinstance(f, Hole)), key=lambda h: h.diameter_mm)
    assert hole.entry_slant_deg == pytest.approx(math.degrees(math.asin(6 / 15)), abs=0.1)


def test_wide_recess_round_a_small_hole_is_no_counterbore() -> None:
    features = drilled((c.counterbored(4, 30, 40, 5), top()))
    assert not [f for f in features if isinstance(f, Counterbore)]
    assert sorted(f.diameter_mm for f in features if isinstance(f, Hole)) == pytest.approx([4, 40])


def test_split_walls_are_one_hole() -> None:
    """A hole whose wall two half cylinders make, as many systems export it."""
    left = Box(40, 60, 30) - Pos(20, 0, 0) * Cylinder(6, 30)
    right = Box(40, 60, 30) - Pos(-20, 0, 0) * Cylinder(6, 30)
    fused = BRepAlgoAPI_Fuse((Pos(-20, 0, 0) * left).wrapped, (Pos(20, 0, 0) * right).wrapped)
    facts = part_facts(fused.Shape(), name="halves")
    assert sum(f.surface == "cylinder" for f in facts.faces) == 2
    hole = only_hole(recognise(facts))
    assert (hole.diameter_mm, hole.depth_mm, hole.through) == (pytest.approx(12), 30, True)
    assert len(hole.faces) == 2
    assert not hole.interrupted


def test_fillets_of_a_plate_are_no_holes() -> None:
    plate = Box(60, 40, 10)
    plate = plate.fillet(6, plate.edges().filter_by(Axis.Z))
    features = features_of(plate.solids()[0])
    assert {type(f) for f in features} == {Fillet}
    assert [f.radius_mm for f in features if isinstance(f, Fillet)] == pytest.approx([6] * 4)


@pytest.mark.parametrize("turn", range(0, 360, 30))
def test_a_gap_between_cheeks_is_free_wherever_the_seam_lies(turn: float) -> None:
    """Full circles close: the line tested through a gap never slips through their seam."""
    fork = Box(40, 60, 30) - Pos(0, 0, 6) * Box(24, 60, 30)
    bore = Pos(0, 0, 3) * Rot(0, 90, 0) * Rot(0, 0, turn) * Cylinder(5, 100)
    hole = only_hole(features_of((fork - bore).solids()[0]))
    assert (hole.depth_mm, hole.through, hole.interrupted) == (pytest.approx(40), True, True)


@pytest.mark.parametrize("over", [False, True])
@pytest.mark.parametrize("bore_mm", [12, 19])
def test_seat_with_a_relief_groove_is_one_counterbored_hole(bore_mm: float, over: bool) -> None:
    ring = Cylinder(20, 20) - Cylinder(bore_mm / 2, 20)
    ring = ring - Pos(0, 0, 6) * Cylinder(10, 8) - Pos(0, 0, 3) * Cylinder(11, 2)
    features = features_of(((Rot(180, 0, 0) * ring) if over else ring).solids()[0])
    hole = only_hole(features)
    (seat,) = (f for f in features if isinstance(f, Counterbore))
    (groove,) = (f for f in features if isinstance(f, Groove))
    assert (hole.diameter_mm, hole.depth_mm, hole.reach_mm) == pytest.approx((bore_mm, 12, 20))
    assert (hole.form, seat.of) == ("counterbored", hole.id)
    assert (seat.diameter_mm, seat.depth_mm) == pytest.approx((20, 8))
    assert groove.side == "inside"
    assert (groove.diameter_mm, groove.width_mm) == pytest.approx((22, 2))


def test_groove_far_from_the_shoulder_joins_nothing() -> None:
    ring = Cylinder(20, 40) - Cylinder(6, 40) - Pos(0, 0, 10) * Cylinder(10, 20)
    features = features_of((ring - Pos(0, 0, 10) * Cylinder(11, 2)).solids()[0])
    (seat,) = (f for f in features if isinstance(f, Counterbore))
    assert seat.diameter_mm == pytest.approx(20)
    assert sum(isinstance(f, Groove) for f in features) == 1


def test_alike_seats_at_both_ends_name_the_hole() -> None:
    lower = Rot(180, 0, 0)
    plate = Box(40, 40, 10) - Cylinder(3, 10)
    sink = Pos(0, 0, 4) * Cone(3, 5, 2)
    seat = Pos(0, 0, 3.5) * Cylinder(6, 3)
    forms = [
        only_hole(features_of((plate - tool - lower * other).solids()[0])).form
        for tool, other in ((sink, sink), (seat, seat), (sink, seat))
    ]
    assert forms == ["countersunk", "counterbored", "stepped"]

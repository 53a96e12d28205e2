"""Pockets, slots, steps, bosses, fillets and chamfers in solids made for one purpose each.

The expected figures are those the solids are made with.
"""

from typing import TypeVar

import pytest
from build123d import (
    Axis,
    Box,
    Cylinder,
    Ellipse,
    Polyline,
    Pos,
    RectangleRounded,
    Rot,
    extrude,
    make_face,
    revolve,
)
from made_parts import cutters as c
from made_parts.bench import Bench, at_height, both, on_outline, outer_upright

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import Boss, Chamfer, Feature, Fillet, Groove, Hole, Pocket, Slot, Step

F = TypeVar("F", bound=Feature)
BLOCK = (100.0, 70.0, 30.0)


def bench() -> Bench:
    return Bench("block", BLOCK)


def one(features: tuple[Feature, ...], kind: type[F]) -> F:
    (found,) = (f for f in features if isinstance(f, kind))
    return found


def test_pocket_with_corner_and_floor_rounds() -> None:
    b = bench()
    features = recognise(b.use(c.rectangular_pocket(50, 30, 12, 6, 2), b.top(5, 3)).facts())
    pocket = one(features, Pocket)
    sizes = (pocket.length_mm, pocket.width_mm, pocket.depth_mm)
    assert sizes == pytest.approx((50, 30, 12))
    assert (pocket.corner_radius_mm, pocket.floor_radius_mm) == pytest.approx((6, 2))
    assert (pocket.through, pocket.open, pocket.outline) == (False, False, "rectangular")
    assert (pocket.walls, pocket.direction) == (4, pytest.approx((0, 0, 1)))
    assert pocket.place == pytest.approx((5, 3, 3))
    fillets = [f for f in features if isinstance(f, Fillet)]
    assert {f.of for f in fillets} == {pocket.id}
    assert {(f.role, round(f.radius_mm, 6)) for f in fillets} == {("corner", 6), ("floor", 2)}


def test_sharp_pocket_has_radius_nought() -> None:
    b = bench()
    pocket = one(recognise(b.use(c.rectangular_pocket(40, 20, 8), b.top()).facts()), Pocket)
    assert (pocket.corner_radius_mm, pocket.floor_radius_mm) == (0, 0)


@pytest.mark.parametrize(
    ("tool", "outline", "walls"),
    [
        (c.polygon_pocket(3, 14, 30, through=True), "triangular", 3),
        (c.polygon_pocket(6, 14, 30, through=True), "hexagonal", 6),
        (c.rectangular_pocket(30, 20, 30, 4, through=True), "rectangular", 4),
        (c.obround_pocket(18, 10, 30, through=True), "obround", 4),
        (c.polygon_pocket(5, 14, 30, through=True), "polygonal", 5),
    ],
    ids=lambda x: x if isinstance(x, str) else "",
)
def test_windows(tool: c.Tool, outline: str, walls: int) -> None:
    b = bench()
    pocket = one(recognise(b.use(tool, b.top()).facts()), Pocket)
    assert (pocket.outline, pocket.walls, pocket.through) == (outline, walls, True)
    assert pocket.depth_mm == pytest.approx(30)
    assert pocket.floor_radius_mm is None


def test_depth_counts_to_the_edge_before_it_was_bevelled() -> None:
    b = bench()
    b.use(c.rectangular_pocket(50, 30, 12, 6), b.top())
    inner = lambda e: abs(e.center().X) < 26 and abs(e.center().Y) < 16  # noqa: E731
    features = recognise(b.bevel(1, both(at_height(15), inner)).facts())
    pocket = one(features, Pocket)
    assert pocket.depth_mm == pytest.approx(12)
    assert one(features, Chamfer).of == pocket.id


def test_island_is_a_boss_of_its_pocket() -> None:
    b = Bench("block", (80, 80, 30))
    tool = c.pocket_with_island(50, 50, 10, 5, 14, round_island=True)
    features = recognise(b.use(tool, b.top()).facts())
    pocket, boss = one(features, Pocket), one(features, Boss)
    assert boss.of == pocket.id
    assert (boss.diameter_mm, boss.height_mm) == pytest.approx((14, 10))


@pytest.mark.parametrize(
    ("tool", "profile", "width", "depth", "widest"),
    [
        (c.slot(12, 9, 100), "rectangular", 12, 9, None),
        (c.vee_slot(16, 9, 100), "triangular", 16, 9, None),
        (c.round_slot(7, 100), "round", 14, 7, None),
        (c.tee_slot(10, 20, 16, 7, 100), "tee", 10, 16, 20),
        (c.dovetail(16, 26, 10, 100), "dovetail", 16, 10, 26),
    ],
    ids=lambda x: x if isinstance(x, str) else "",
)
def test_slots(
    tool: c.Tool, profile: str, width: float, depth: float, widest: float | None
) -> None:
    """The width is the mouth's; undercut slots say how wide they get below it."""
    b = bench()
    slot = one(recognise(b.use(tool, b.top()).facts()), Slot)
    assert (slot.profile, slot.through) == (profile, True)
    assert (slot.length_mm, slot.width_mm, slot.depth_mm) == pytest.approx((100, width, depth))
    assert slot.widest_mm == (None if widest is None else pytest.approx(widest))
    assert slot.direction == pytest.approx((0, 0, 1))


@pytest.mark.parametrize("end", ["square", "corners", "round"])
def test_blind_slots(end: str) -> None:
    b = bench()
    slot = one(recognise(b.use(c.blind_slot(14, 10, 40, end=end), b.top(50, 0)).facts()), Slot)
    assert not slot.through
    assert (slot.length_mm, slot.width_mm, slot.depth_mm) == pytest.approx((40, 14, 10))
    radius = {"square": 0, "corners": 14 / 6, "round": 7}[end]
    assert slot.corner_radius_mm == pytest.approx(radius)


def test_steps() -> None:
    b = bench()
    step = one(recognise(b.use(c.step(20, 12, 70), b.top(50, 0)).facts()), Step)
    assert (step.through, step.slanted, step.walls) == (True, False, 1)
    assert (step.length_mm, step.width_mm, step.depth_mm) == pytest.approx((70, 20, 12))

    b = bench()
    step = one(recognise(b.use(c.step(20, 12, 70, 10), b.top(50, 0)).facts()), Step)
    assert (step.through, step.slanted) == (True, True)

    b = bench()
    step = one(recognise(b.use(c.corner_step(30, 20, 8), b.top(50, 35)).facts()), Step)
    assert (step.through, step.walls) == (False, 2)
    assert (step.length_mm, step.width_mm, step.depth_mm) == pytest.approx((30, 20, 8))


def test_boss_on_a_plate() -> None:
    b = Bench("plate", (100, 70, 15))
    b.use(c.round_boss(20, 12), b.top(-20, 5)).use(c.square_boss(26, 18, 8), b.top(22, -8))
    round_, square = sorted(
        (f for f in recognise(b.facts()) if isinstance(f, Boss)), key=lambda f: f.length_mm
    )
    assert (round_.diameter_mm, round_.height_mm) == pytest.approx((20, 12))
    assert square.diameter_mm is None
    assert (square.length_mm, square.width_mm, square.height_mm) == pytest.approx((26, 18, 8))
    assert round_.place == pytest.approx((-20, 5, 19.5))


def test_all_edges_bevelled_or_rounded() -> None:
    b = bench()
    features = recognise(b.bevel(2, both(at_height(15), on_outline(b))).facts())
    assert len(features) == 4
    assert all(isinstance(f, Chamfer) and f.angle_deg == pytest.approx(45) for f in features)
    b = bench()
    features = recognise(b.round_off(8, outer_upright(b), "outside").facts())
    assert [f.radius_mm for f in features if isinstance(f, Fillet)] == pytest.approx([8] * 4)
    assert {f.role for f in features if isinstance(f, Fillet)} == {"edge"}


def test_plain_block_has_no_feature() -> None:
    assert recognise(bench().facts()) == ()


def test_clamping_slit_is_a_slot() -> None:
    b = Bench("clamp", (60, 40, 20))
    b.use(c.hole(20, 20, through=True), b.top())
    b.use(c.blind_slot(3, 30, 25), b.top(30, 0))
    features = recognise(b.facts())
    assert one(features, Slot).width_mm == pytest.approx(3)
    assert one(features, Hole).diameter_mm == pytest.approx(20)


def test_relieved_corner_keeps_a_step_together() -> None:
    b = bench()
    b.use(c.step(25, 12, 70), b.top(50, 0))
    relief = c.hole(4, 70, through=True)
    b.use(relief, b.front(25, 3))
    features = recognise(b.facts())
    step = one(features, Step)
    assert (step.through, step.walls, len(step.faces)) == (True, 1, 2)
    assert one(features, Hole).interrupted


def test_pocket_cut_by_a_deeper_slot_stays_one_pocket() -> None:
    b = bench()
    b.use(c.rectangular_pocket(50, 40, 8, 6), b.top()).use(c.slot(12, 15, 100), b.top())
    features = recognise(b.facts())
    pocket, slot = one(features, Pocket), one(features, Slot)
    assert (pocket.length_mm, pocket.width_mm, pocket.depth_mm) == pytest.approx((50, 40, 8))
    assert (slot.width_mm, slot.depth_mm, slot.through) == pytest.approx((12, 15, True))
    assert len(pocket.faces) == 8  # two floors, two long walls, four half walls


def test_what_a_ring_channel_leaves_standing_is_a_boss() -> None:
    """A channel with rounded corners all round, its middle as high as the block."""
    shape = Box(100, 70, 40) - (
        extrude(Pos(0, 0, -10) * RectangleRounded(80, 50, 12), 30)
        - extrude(Pos(0, 0, -10) * RectangleRounded(72, 42, 8), 30)
    )
    features = recognise(part_facts(shape.solids()[0].wrapped, name="channel"))
    pocket, boss = one(features, Pocket), one(features, Boss)
    assert boss.of == pocket.id
    assert (boss.length_mm, boss.width_mm, boss.height_mm) == pytest.approx((72, 42, 30))
    assert (pocket.length_mm, pocket.width_mm, pocket.depth_mm) == pytest.approx((80, 50, 30))
    corners = [(f.side, f.radius_mm, f.of) for f in features if isinstance(f, Fillet)]
    assert sorted(corners) == [("inside", 12, pocket.id)] * 4 + [("outside", 8, boss.id)] * 4


@pytest.mark.parametrize("turn", [0.0, 90.0])
def test_elliptic_window_is_a_through_pocket(turn: float) -> None:
    """The least radius of an ellipse is b^2 / a, at the ends of its long axis."""
    shape = Box(60, 60, 10) - Rot(0, 0, turn) * extrude(Pos(0, 0, -5) * Ellipse(15, 8), 10)
    pocket = one(recognise(part_facts(shape.solids()[0].wrapped, name="window")), Pocket)
    assert (pocket.through, pocket.outline) == (True, "free")
    assert (pocket.length_mm, pocket.width_mm) == pytest.approx((30, 16), abs=0.05)
    assert pocket.depth_mm == pytest.approx(10)
    assert pocket.corner_radius_mm == pytest.approx(8 * 8 / 15, rel=0.01)


def test_elliptic_bar_has_no_pocket() -> None:
    bar = extrude(Ellipse(15, 8), 10)
    features = recognise(part_facts(bar.solids()[0].wrapped, name="bar"))
    assert not [f for f in features if isinstance(f, Pocket)]
    washer = part_facts((bar - Box(8, 8, 30)).solids()[0].wrapped, name="washer")
    assert one(recognise(washer), Pocket).outline == "rectangular"


def test_bottoms_between_teeth_are_no_bosses() -> None:
    """A toothed disc: round root arcs lie below round tips all along; its hub is a boss."""
    disc = Cylinder(30, 10) + Pos(0, 0, 10) * Cylinder(12, 10)
    for k in range(12):
        disc -= Rot(0, 0, 30 * k) * (Pos(30, 0, 0) * Box(20, 6, 10) - Cylinder(25, 10))
    facts = part_facts(disc.solids()[0].wrapped, name="disc")
    bosses = [f for f in recognise(facts) if isinstance(f, Boss)]
    assert [b.diameter_mm for b in bosses] == pytest.approx([24])


@pytest.mark.parametrize(
    ("outline", "width", "widest"),
    [
        (((-4, 11), (-1, 8), (1, 8), (4, 11)), 6.0, None),  # V with a flat bottom
        (((-2, 11), (-2, 8), (2, 8), (2, 11)), 4.0, None),
        (((-2, 10), (-3, 8), (3, 8), (2, 10)), 4.0, 6.0),  # dovetail
        (((-4, 11), (-2, 9), (-2, 8), (2, 8), (2, 9), (4, 11)), 4.0, None),  # broken edges
    ],
)
def test_width_of_a_ring_groove_is_its_mouths(
    outline: tuple[tuple[float, float], ...], width: float, widest: float | None
) -> None:
    section = make_face(Polyline(*((r, 0, z) for z, r in outline), close=True))
    shaft = Cylinder(10, 80) - revolve(section, Axis.Z)
    features = recognise(part_facts(shaft.solids()[0].wrapped, name="shaft"))
    groove = one(features, Groove)
    assert groove.width_mm == pytest.approx(width)
    assert groove.widest_mm == (None if widest is None else pytest.approx(widest))
    assert (groove.depth_mm, groove.diameter_mm) == pytest.approx((2, 16))

"""Parts with known answers: features that cut each other, with fillets and chamfers.

Each function makes one part; `parts` lists them all. The figures are chosen for variety and for
the ways in which features meet; nothing is taken from a real part.
"""

import random
from collections.abc import Callable, Iterator

from build123d import Edge, Location, Pos, Rot
from made_parts import cutters as c
from made_parts.bench import Bench, at_height, both, on_outline, outer_upright, round_edge, upright

Maker = Callable[[], Bench]

BLOCK = (100.0, 70.0, 30.0)
TEE = [(-25, 15), (25, 15), (25, 0), (8, 0), (8, -20), (-8, -20), (-8, 0), (-25, 0)]
ELL = [(-20, -20), (20, -20), (20, -5), (-5, -5), (-5, 20), (-20, 20)]
CROSS = [
    (-6, -20), (6, -20), (6, -6), (20, -6), (20, 6), (6, 6), (6, 20), (-6, 20), (-6, 6), (-20, 6),
    (-20, -6), (-6, -6),
]  # fmt: skip


def _bench(title: str, size: tuple[float, float, float] = BLOCK) -> Bench:
    return Bench(title, size)


# ---- holes


def holes_of_all_bottoms() -> Bench:
    b = _bench("holes of all bottoms")
    for k, bottom in enumerate(("flat", "cone", "round")):
        b.use(c.hole(6 + 2 * k, 12 + 3 * k, bottom=bottom), b.top(-30 + 30 * k, 15))
    b.use(c.hole(9, 30, through=True), b.top(-30, -15))
    return b.use(c.hole(5, 40, bottom="cone"), b.right(0, 0))


def holes_with_heads() -> Bench:
    b = _bench("holes with heads")
    b.use(c.counterbored(6.6, 30, 11, 6.4), b.top(-30, 20))
    b.use(c.countersunk(6.6, 30, 13, 90), b.top(0, 20))
    b.use(c.counterbored(9, 30, 15, 9), b.bottom(30, 20))
    b.use(c.countersunk(5.5, 30, 11, 120), b.bottom(-20, -10))
    return b.use(c.countersunk(4.5, 70, 9, 82), b.front(10, 5))


def cross_holes() -> Bench:
    b = _bench("cross holes")
    b.use(c.hole(16, 100, through=True), b.right(0, 0))
    b.use(c.hole(6, 30, through=True), b.top(-20, 0))
    b.use(c.hole(6, 15, bottom="flat"), b.top(15, 0))
    b.use(c.hole(5, 70, through=True), b.front(35, 3))
    return b.use(c.hole(4, 70, through=True), b.front(-40, 12))


def bracket_with_one_axle() -> Bench:
    b = _bench("bracket with one axle")
    b.use(c.slot(40, 22, 100), b.top())
    b.use(c.hole(10, 70, through=True), b.front(20, 5))
    b.use(c.hole(6, 70, through=True), b.front(-25, 4))
    return b.use(c.hole(7, 8, through=True), b.top(0, 0) * Pos(0, 0, -22))


def holes_in_floors() -> Bench:
    b = _bench("holes in floors")
    b.use(c.rectangular_pocket(50, 30, 12, 5), b.top(-15, 0))
    b.use(c.hole(8, 30, through=True), b.top(-25, 5))
    b.use(c.hole(5, 20, bottom="cone"), b.top(-5, -6))
    b.use(c.step(15, 10, 70), b.top(50, 0))
    return b.use(c.hole(6, 30, through=True), b.top(43, 20))


def tilted_holes() -> Bench:
    b = _bench("tilted holes")
    b.use(c.hole(8, 60, through=True), b.top(-20, 0) * Rot(0, 25, 0) * Pos(0, 0, 5))
    b.use(c.hole(6, 25, bottom="cone"), b.top(20, 10) * Rot(30, 0, 0) * Pos(0, 0, 6))
    return b.use(c.hole(10, 30, through=True), b.top(38, -20))


def hole_through_a_wall() -> Bench:
    b = _bench("hole through a wall")
    b.use(c.rectangular_pocket(50, 40, 18, 6), b.top())
    b.use(c.hole(8, 40, bottom="flat"), b.right(0, 6))
    b.use(c.hole(6, 30, through=True), b.front(-10, 4))
    return b.use(c.hole(12, 12, bottom="flat"), b.top(25, 20))


def holes_with_bevelled_mouths() -> Bench:
    b = _bench("holes with bevelled mouths")
    b.use(c.hole(12, 30, through=True), b.top(-30, 10))
    b.use(c.hole(8, 18, bottom="cone"), b.top(0, 10))
    b.use(c.hole(20, 10), b.top(30, 0))
    b.bevel(1, both(round_edge(6), at_height(15)))
    b.bevel(0.5, both(round_edge(4), at_height(15)))
    return b.round_off(1.0, both(round_edge(10), at_height(15)), "outside")


def hole_in_a_stack() -> Bench:
    b = _bench("hole in a stack")
    b.use(c.hole(6, 30, through=True), b.top(-20, 0))
    b.use(c.counterbored(9, 30, 16, 12), b.top(20, 0))
    b.use(c.rectangular_pocket(24, 24, 5, 4), b.top(20, 0))
    return b.use(c.slot(10, 6, 70), b.bottom(-20, 0, 90))


# ---- pockets


def plain_pockets() -> Bench:
    b = _bench("plain pockets")
    b.use(c.rectangular_pocket(30, 20, 10), b.top(-28, 12))
    b.use(c.rectangular_pocket(24, 16, 12, 4), b.top(15, 20))
    b.use(c.rectangular_pocket(26, 18, 8, 5, 1.5), b.top(20, -10))
    return b.use(c.obround_pocket(15, 8, 9), b.top(-28, -20))


def windows() -> Bench:
    b = _bench("windows", (120, 80, 12))
    b.use(c.rectangular_pocket(30, 20, 12, 4, through=True), b.top(-35, 20))
    b.use(c.polygon_pocket(6, 12, 12, through=True), b.top(0, 20))
    b.use(c.polygon_pocket(3, 12, 12, through=True), b.top(35, 20))
    b.use(c.obround_pocket(20, 9, 12, through=True), b.top(-30, -20))
    return b.use(c.shaped_pocket(ELL, 12, through=True), b.top(30, -15))


def odd_outlines() -> Bench:
    b = _bench("odd outlines", (140, 90, 25))
    b.use(c.shaped_pocket(TEE, 10, 3), b.top(-38, 10))
    b.use(c.shaped_pocket(ELL, 8), b.top(15, 15))
    b.use(c.polygon_pocket(6, 13, 9), b.top(52, 20))
    b.use(c.polygon_pocket(3, 12, 7), b.top(50, -22))
    return b.use(c.shaped_pocket(CROSS, 6), b.top(8, -22, 15))


def islands() -> Bench:
    b = _bench("islands", (140, 80, 30))
    b.use(c.pocket_with_island(50, 50, 10, 5, 14, round_island=True), b.top(-35, 0))
    b.use(c.pocket_with_island(50, 46, 14, 6, 12, round_island=False), b.top(35, 0))
    return b.use(c.hole(6, 30, through=True), b.top(-35, 0))


def nested_pockets() -> Bench:
    b = _bench("nested pockets")
    b.use(c.rectangular_pocket(70, 50, 6, 6), b.top())
    b.use(c.rectangular_pocket(40, 30, 14, 4), b.top(-8, 0))
    return b.use(c.rectangular_pocket(15, 15, 30, 2, through=True), b.top(-15, 0))


def overlapping_pockets() -> Bench:
    b = _bench("overlapping pockets")
    b.use(c.rectangular_pocket(40, 30, 12, 4), b.top(-15, 5))
    return b.use(c.rectangular_pocket(40, 30, 7, 4), b.top(15, -8))


def pockets_with_a_common_wall() -> Bench:
    b = _bench("pockets with a common wall")
    b.use(c.rectangular_pocket(40, 30, 14), b.top(-15, 0))
    return b.use(c.rectangular_pocket(50, 30, 6), b.top(10, 0))


def pockets_with_a_thin_rib() -> Bench:
    b = _bench("pockets with a thin rib", (120, 60, 20))
    for k in range(3):
        b.use(c.rectangular_pocket(32, 44, 15, 5, 1), b.top(-36 + 36 * k, 0))
    return b.use(c.hole(5, 100, through=True), b.right(0, 2))


def pockets_from_both_sides() -> Bench:
    b = _bench("pockets from both sides")
    b.use(c.rectangular_pocket(60, 40, 12, 6), b.top())
    b.use(c.rectangular_pocket(50, 30, 12, 5), b.bottom())
    return b.use(c.hole(8, 30, through=True), b.top(10, 5))


def pockets_from_two_directions() -> Bench:
    b = _bench("pockets from two directions", (90, 70, 50))
    b.use(c.rectangular_pocket(40, 40, 30, 6), b.top())
    b.use(c.rectangular_pocket(24, 16, 40, 3), b.front(0, 5))
    return b.use(c.obround_pocket(12, 10, 40), b.right(0, 8))


# ---- slots


def slot_over_a_pocket() -> Bench:
    b = _bench("slot over a pocket")
    b.use(c.rectangular_pocket(50, 40, 14, 6), b.top())
    return b.use(c.slot(12, 6, 100), b.top())


def slot_under_a_pocket() -> Bench:
    b = _bench("slot under a pocket")
    b.use(c.rectangular_pocket(50, 40, 8, 6), b.top())
    return b.use(c.slot(12, 15, 100), b.top())


def slots_crossing() -> Bench:
    b = _bench("slots crossing")
    b.use(c.slot(12, 8, 100), b.top(0, 5))
    b.use(c.slot(16, 14, 70), b.top(-15, 0, 90))
    return b.use(c.slot(8, 5, 70), b.top(25, 0, 90))


def slots_crossing_at_one_depth() -> Bench:
    b = _bench("slots crossing at one depth")
    b.use(c.slot(12, 9, 100), b.top(0, 0))
    b.use(c.slot(14, 9, 70), b.top(-20, 0, 90))
    return b.use(c.slot(10, 9, 70), b.top(20, 0, 90))


def slots_of_all_profiles() -> Bench:
    b = _bench("slots of all profiles", (100, 140, 30))
    b.use(c.tee_slot(10, 20, 16, 7, 100), b.top(0, 50))
    b.use(c.dovetail(16, 26, 10, 100), b.top(0, 15))
    b.use(c.vee_slot(16, 9, 100), b.top(0, -15))
    return b.use(c.round_slot(7, 100), b.top(0, -45))


def blind_slots() -> Bench:
    b = _bench("blind slots", (100, 120, 30))
    b.use(c.blind_slot(14, 10, 40), b.top(50, 40))
    b.use(c.blind_slot(14, 8, 35, end="corners"), b.top(50, 10))
    b.use(c.blind_slot(16, 12, 45, end="round"), b.top(50, -20))
    return b.use(c.blind_slot(12, 9, 30), b.top(-50, 0, 180))


def slot_through_steps() -> Bench:
    b = _bench("slot through steps")
    b.use(c.step(25, 10, 70), b.top(50, 0))
    b.use(c.step(18, 16, 70), b.top(-50, 0, 180))
    return b.use(c.slot(12, 20, 100), b.top(0, 8))


def keyholes() -> Bench:
    b = _bench("keyholes", (100, 80, 12))
    b.use(c.hole(20, 12, through=True), b.top(-20, 15))
    b.use(c.blind_slot(8, 14, 70), b.top(50, 15))
    b.use(c.hole(16, 8), b.top(10, -20))
    return b.use(c.blind_slot(6, 5, 40), b.top(50, -20))


def slots_with_round_floors() -> Bench:
    b = _bench("slots with round floors")
    b.use(c.slot(20, 12, 100, 3), b.top(0, 15))
    b.use(c.slot(14, 10, 100, 7 - 1e-3), b.top(0, -15))
    return b.use(c.hole(6, 30, through=True), b.top(20, 15))


def tee_slot_with_holes() -> Bench:
    b = _bench("tee slot with holes")
    b.use(c.tee_slot(12, 24, 18, 8, 100), b.top())
    b.use(c.hole(6, 30, through=True), b.top(20, 0))
    return b.use(c.slot(10, 8, 70), b.top(-20, 0, 90))


# ---- steps


def steps_all_kinds() -> Bench:
    b = _bench("steps of all kinds", (120, 80, 40))
    b.use(c.step(20, 12, 80), b.top(60, 0))
    b.use(c.step(20, 10, 80, 12), b.top(-60, 0, 180))
    b.use(c.corner_step(30, 20, 14), b.bottom(60, 40))
    return b.use(c.corner_step(26, 18, 10, 5), b.bottom(-60, -40, 180))


def staircase() -> Bench:
    b = _bench("staircase")
    for k in range(3):
        b.use(c.step(15 + 15 * (2 - k), 7 * (k + 1), 70), b.top(50, 0))
    return b


def slot_in_a_corner() -> Bench:
    b = _bench("slot in a corner")
    b.use(c.step(30, 12, 70), b.top(50, 0))
    b.use(c.slot(8, 20, 70), b.top(10, 0, 90))
    return b.use(c.rectangular_pocket(20, 30, 8, 4), b.top(-25, 0))


def steps_meeting() -> Bench:
    b = _bench("steps meeting")
    b.use(c.step(20, 10, 70), b.top(50, 0))
    b.use(c.step(15, 16, 100), b.top(0, 35, 90))
    return b.use(c.step(12, 6, 100), b.top(0, -35, -90))


def step_with_round_corner() -> Bench:
    b = _bench("step with round corner")
    b.use(c.step(30, 12, 70), b.top(50, 0))
    b.round_off(4, lambda e: _inside_corner(e, 20.0, 3.0), "inside")
    return b.use(c.hole(8, 30, through=True), b.top(38, 0))


def _inside_corner(e: Edge, x: float, z: float) -> bool:
    p = e.center()
    return abs(p.X - x) < 1e-6 and abs(p.Z - z) < 1e-6


# ---- bosses


def bosses() -> Bench:
    b = _bench("bosses", (100, 70, 15))
    b.use(c.round_boss(20, 12), b.top(-25, 10))
    b.use(c.square_boss(30, 18, 8), b.top(22, -10))
    b.use(c.hole(8, 27, through=True), b.top(-25, 10) * Pos(0, 0, 12))
    return b.use(c.rectangular_pocket(16, 8, 5, 2), b.top(22, -10) * Pos(0, 0, 8))


def bosses_with_feet() -> Bench:
    b = _bench("bosses with feet", (100, 70, 15))
    b.use(c.round_boss(18, 10), b.top(-25, 10))
    b.use(c.square_boss(26, 18, 10), b.top(20, -8))
    b.round_off(2, both(round_edge(9), at_height(7.5)), "inside")
    b.bevel(1, both(round_edge(9), at_height(17.5)))
    return b.use(c.hole(6, 25, through=True), b.top(-25, 10) * Pos(0, 0, 10))


def boss_in_a_pocket() -> Bench:
    b = _bench("boss in a pocket", (90, 70, 30))
    b.use(c.rectangular_pocket(70, 50, 18, 8), b.top())
    b.use(c.round_boss(12, 10), b.top(-15, 5) * Pos(0, 0, -18))
    return b.use(c.hole(4, 8, bottom="cone"), b.top(-15, 5) * Pos(0, 0, -8))


# ---- fillets and chamfers


def housing() -> Bench:
    b = _bench("housing", (110, 80, 30))
    b.round_off(8, outer_upright(b), "outside")
    b.use(c.rectangular_pocket(90, 60, 24, 6, 2), b.top())
    for x, y in ((-48, -33), (48, -33), (48, 33), (-48, 33)):
        b.use(c.hole(4, 20, bottom="cone"), b.top(x, y))
    b.use(c.obround_pocket(20, 10, 20), b.front(0, 0))
    return b.bevel(1, both(at_height(15), on_outline(b)))


def bevelled_after_cutting() -> Bench:
    b = _bench("bevelled after cutting")
    b.use(c.slot(14, 8, 100), b.top(0, 10))
    b.use(c.corner_step(20, 15, 10), b.top(50, -35, -90))
    b.use(c.hole(8, 30, through=True), b.top(-25, -15))
    return b.bevel(1.5, both(at_height(15), on_outline(b)))


def rounded_after_cutting() -> Bench:
    b = _bench("rounded after cutting")
    b.use(c.rectangular_pocket(40, 30, 10, 5), b.top(-10, 0))
    b.use(c.hole(10, 30, through=True), b.top(35, 15))
    b.round_off(2, both(at_height(15), on_outline(b)), "outside")
    return b.round_off(1, both(at_height(15), _within(-10, 20.5, 15.5)), "outside")


def _within(x: float, a: float, b: float) -> Callable[[Edge], bool]:
    """Edges within a rectangle about (x, 0), given by its half sides."""
    return lambda e: abs(e.center().X - x) < a and abs(e.center().Y) < b


def bevelled_pocket_rim() -> Bench:
    b = _bench("bevelled pocket rim")
    b.use(c.rectangular_pocket(50, 36, 12, 6), b.top())
    b.use(c.obround_pocket(14, 8, 8), b.top(40, 0, 90))
    b.bevel(1, both(at_height(15), _within(0, 26, 19)))
    return b.bevel(3, outer_upright(b))


def rounded_uprights() -> Bench:
    b = _bench("rounded uprights")
    b.use(c.step(20, 12, 70), b.top(50, 0))
    b.use(c.blind_slot(16, 10, 40), b.top(-50, 0, 180))
    b.use(c.rectangular_pocket(20, 20, 10), b.top(10, 0))
    b.round_off(3, lambda e: upright(e) and abs(e.center().X) < 25, "inside")
    return b.round_off(6, outer_upright(b), "outside")


def frame() -> Bench:
    b = _bench("frame", (120, 90, 16))
    b.use(c.rectangular_pocket(80, 50, 16, 10, through=True), b.top())
    b.use(c.rectangular_pocket(96, 66, 5, 10), b.top())
    b.round_off(10, outer_upright(b), "outside")
    b.bevel(1, at_height(-8))
    for x in (-50, 50):
        b.use(c.counterbored(5.5, 16, 10, 5.4), b.top(x, 0))
    return b


# ---- by chance


def by_chance(seed: int) -> Maker:
    """A part with features of chance kinds, sizes and places, often cutting each other."""

    def make() -> Bench:
        dice = random.Random(seed)
        size = (dice.uniform(70, 120), dice.uniform(50, 90), dice.uniform(24, 45))
        b = Bench(f"by chance {seed}", size)
        for _ in range(dice.randint(3, 6)):
            tool, where = _throw(dice, b)
            before = (b.solid, list(b.marks), list(b.tools))
            try:
                b.use(tool, where)
            except AssertionError:
                b.solid, b.marks, b.tools = before
        if dice.random() < 0.5:
            before = (b.solid, list(b.marks), list(b.tools))
            try:
                b.bevel(1.0, both(at_height(size[2] / 2), on_outline(b)))
            except (ValueError, AssertionError):
                b.solid, b.marks, b.tools = before
        return b

    make.__name__ = f"by_chance_{seed}"
    return make


def _throw(dice: random.Random, b: Bench) -> tuple[c.Tool, Location]:
    x, y, z = b.size
    r = dice.uniform
    depth = r(0.2, 0.55) * z
    place = b.top(r(-0.3, 0.3) * x, r(-0.3, 0.3) * y)
    if dice.random() < 0.25:
        place = b.bottom(r(-0.3, 0.3) * x, r(-0.3, 0.3) * y)
    corner = dice.choice((0.0, 2.0, 4.0))
    kinds: list[Callable[[], tuple[c.Tool, Location]]] = [
        lambda: (c.hole(r(4, 14), z, through=True), place),
        lambda: (c.hole(r(4, 12), depth, bottom=dice.choice(("flat", "cone"))), place),
        lambda: (c.counterbored(6.6, z, 11, r(4, 8)), place),
        lambda: (c.hole(r(4, 9), y, through=True), b.front(r(-0.3, 0.3) * x, r(-0.25, 0.25) * z)),
        lambda: (c.rectangular_pocket(r(16, 40), r(12, 30), depth, corner), place),
        lambda: (c.rectangular_pocket(r(14, 30), r(12, 24), z, corner, through=True), place),
        lambda: (c.obround_pocket(r(8, 20), r(6, 12), depth), place),
        lambda: (c.slot(r(6, 16), depth, x), b.top(0, r(-0.3, 0.3) * y)),
        lambda: (c.slot(r(6, 16), depth, y), b.top(r(-0.3, 0.3) * x, 0, 90)),
        lambda: (c.blind_slot(r(8, 16), depth, r(20, 40)), b.top(x / 2, r(-0.3, 0.3) * y)),
        lambda: (c.step(r(8, 25), depth, y), b.top(x / 2, 0)),
        lambda: (c.corner_step(r(12, 30), r(10, 25), depth), b.top(-x / 2, -y / 2, 180)),
    ]
    return dice.choice(kinds)()


CHANCE_PARTS = 30


def parts() -> Iterator[Maker]:
    """Makers of all parts, in a fixed order."""
    for name, value in sorted(globals().items()):
        if (
            callable(value)
            and getattr(value, "__module__", "") == __name__
            and (not name.startswith("_") and name not in {"parts", "by_chance"})
        ):
            yield value
    for seed in range(CHANCE_PARTS):
        yield by_chance(seed)

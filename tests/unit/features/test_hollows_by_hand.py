"""Pockets, slots and steps in solids made by hand, in any position and size: no kernel."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from polyhedra import block_with_hollow, prism

from dfmcheck.features.recognise import recognise
from dfmcheck.model.feature import Chamfer, Pocket, Slot, Step

turns = st.floats(0.0, 3.0)
lengths = st.floats(3.0, 30.0)


def rectangle(x: float, y: float, a: float, b: float) -> list[tuple[float, float]]:
    return [(x, y), (x + a, y), (x + a, y + b), (x, y + b)]


@given(lengths, lengths, st.floats(1.0, 18.0), turns)
def test_a_rectangular_pocket_has_its_sizes(a: float, b: float, depth: float, turn: float) -> None:
    part = block_with_hollow((50.0, 45.0, 20.0), rectangle(8.0, 6.0, a, b), depth, turn)
    (pocket,) = recognise(part)
    assert isinstance(pocket, Pocket)
    sizes = (pocket.length_mm, pocket.width_mm, pocket.depth_mm)
    assert sizes == pytest.approx((max(a, b), min(a, b), depth), rel=1e-6)
    assert (pocket.through, pocket.open, pocket.outline) == (False, False, "rectangular")
    assert (pocket.corner_radius_mm, pocket.floor_radius_mm, pocket.walls) == (0, 0, 4)
    assert pocket.faces == (5, 6, 7, 8, 10)


@given(st.integers(3, 9), st.floats(4.0, 15.0), turns)
def test_windows_of_any_number_of_sides(sides: int, radius: float, turn: float) -> None:
    corners = [2 * math.pi * k / sides for k in range(sides)]
    outline = [(25 + radius * math.cos(a), 22 + radius * math.sin(a)) for a in corners]
    (window,) = recognise(block_with_hollow((50.0, 45.0, 20.0), outline, None, turn))
    assert isinstance(window, Pocket)
    assert (window.through, window.walls, window.depth_mm) == (True, sides, pytest.approx(20))
    known = {3: "triangular", 4: "rectangular", 6: "hexagonal"}
    assert window.outline == known.get(sides, "polygonal")


ELL = [(8, 8), (38, 8), (38, 18), (20, 18), (20, 36), (8, 36)]
TEE = [(18, 8), (28, 8), (28, 24), (40, 24), (40, 36), (6, 36), (6, 24), (18, 24)]


@pytest.mark.parametrize(
    ("outline", "walls"),
    [(ELL, 6), (TEE, 7)],  # the shoulders of the tee lie in one plane
    ids=["ell", "tee"],
)
@pytest.mark.parametrize("depth", [6.0, None])
@given(turn=turns)
def test_outlines_with_corners_that_turn_back_are_one_pocket(
    outline: list[tuple[float, float]], walls: int, depth: float | None, turn: float
) -> None:
    (pocket,) = recognise(block_with_hollow((50.0, 45.0, 20.0), outline, depth, turn))
    assert isinstance(pocket, Pocket)
    assert pocket.walls == walls
    assert pocket.through == (depth is None)


@given(lengths, st.floats(2.0, 15.0), turns)
def test_a_groove_along_a_bar_is_a_slot(width: float, depth: float, turn: float) -> None:
    a = 10.0
    outline = [
        (0, 0), (2 * a + width, 0), (2 * a + width, 20), (a + width, 20), (a + width, 20 - depth),
        (a, 20 - depth), (a, 20), (0, 20),
    ]  # fmt: skip
    (slot,) = recognise(prism(outline, 60.0, turn))
    assert isinstance(slot, Slot)
    assert (slot.through, slot.profile) == (True, "rectangular")
    assert (slot.length_mm, slot.width_mm, slot.depth_mm) == pytest.approx((60, width, depth))


@given(st.floats(2.0, 20.0), st.floats(2.0, 15.0), turns)
def test_an_edge_cut_off_square_is_a_step(width: float, depth: float, turn: float) -> None:
    outline = [
        (0, 0),
        (40, 0),
        (40, 20 - depth),
        (40 - width, 20 - depth),
        (40 - width, 20),
        (0, 20),
    ]
    (step,) = recognise(prism(outline, 60.0, turn))
    assert isinstance(step, Step)
    assert (step.through, step.slanted, step.walls) == (True, False, 1)
    assert sorted((step.width_mm, step.depth_mm)) == pytest.approx(sorted((width, depth)))
    assert step.length_mm == pytest.approx(60)


@given(st.floats(0.5, 5.0), turns)
def test_an_edge_cut_off_aslant_is_a_chamfer(leg: float, turn: float) -> None:
    outline = [(0, 0), (40, 0), (40, 20 - leg), (40 - leg, 20), (0, 20)]
    (chamfer,) = recognise(prism(outline, 60.0, turn))
    assert isinstance(chamfer, Chamfer)
    assert chamfer.width_mm == pytest.approx(leg * math.sqrt(2))
    assert (chamfer.angle_deg, chamfer.length_mm) == pytest.approx((45, 60))


def test_hexagonal_bar_has_no_feature() -> None:
    outline = [(20 * math.cos(k * math.pi / 3), 20 * math.sin(k * math.pi / 3)) for k in range(6)]
    assert recognise(prism(outline, 80.0)) == ()

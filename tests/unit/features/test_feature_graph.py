"""What the recognisers stand on: angles, joined sets, ownership, numbering."""

import math

import pytest
from builders import make_facts
from hypothesis import given
from hypothesis import strategies as st
from polyhedra import block_with_hollow

from dfmcheck.features.angles import gaps_deg, widest_gap_deg
from dfmcheck.features.axes import covered
from dfmcheck.features.context import Context
from dfmcheck.features.cuts import Union
from dfmcheck.features.gaps import overlap
from dfmcheck.features.pierce import blocked, inside, polyline
from dfmcheck.features.recognise import numbered, recognise
from dfmcheck.model.facts import Edge
from dfmcheck.model.feature import Fillet, Pocket
from dfmcheck.model.vector import angle_deg, parallel, perpendicular, square

angles = st.floats(-720.0, 720.0)


@pytest.mark.parametrize(
    ("spans", "total"),
    [
        ([(0, 90)], 90),
        ([(0, 90), (90, 180)], 180),
        ([(-45, 45), (0, 90)], 135),
        ([(300, 420)], 120),
        ([(350, 370), (5, 20)], 30),
        ([(0, 360)], 360),
        ([], 0),
    ],
)
def test_covered_turn(spans: list[tuple[float, float]], total: float) -> None:
    assert covered(spans) == pytest.approx(total)


@given(st.lists(st.tuples(angles, st.floats(0.0, 180.0)), max_size=6), angles)
def test_covered_turn_does_not_depend_on_where_one_begins_to_count(
    arcs: list[tuple[float, float]], shift: float
) -> None:
    spans = [(a, a + w) for a, w in arcs]
    moved = [(a + shift, b + shift) for a, b in spans]
    assert covered(moved) == pytest.approx(covered(spans), abs=1e-6)
    assert covered(spans) <= min(360.0, sum(w for _, w in arcs)) + 1e-9


@pytest.mark.parametrize(
    ("directions", "gap", "wide"),
    [([0, 90, 180, 270], 90, 0), ([0, 180], 180, 2), ([0, 90, 180], 180, 1), ([90], 360, 1)],
)
def test_gaps_between_walls(directions: list[float], gap: float, wide: int) -> None:
    assert widest_gap_deg(directions) == pytest.approx(gap)
    assert gaps_deg(directions, 176.0) == wide


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=20))
def test_union_gives_the_sets_that_pairs_join(pairs: list[tuple[int, int]]) -> None:
    union = Union(range(10))
    for a, b in pairs:
        union.join(a, b)
    sets = union.sets()
    assert sorted(m for s in sets for m in s) == list(range(10))
    where = {m: k for k, s in enumerate(sets) for m in s}
    assert all(where[a] == where[b] for a, b in pairs)


def test_overlap_is_a_share_of_the_shorter() -> None:
    assert overlap((0, 10), (5, 7)) == 1
    assert overlap((0, 10), (8, 12)) == pytest.approx(0.5)
    assert overlap((0, 1), (2, 3)) == 0


@given(st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: math.hypot(*v) > 0.1))
def test_perpendicular_is_square(v: tuple[float, float, float]) -> None:
    n = math.hypot(*v)
    unit = (v[0] / n, v[1] / n, v[2] / n)
    side = perpendicular(unit)
    assert square(unit, side)
    assert not parallel(unit, side)
    assert angle_deg(unit, side) == pytest.approx(90)


def test_polyline_follows_the_arc_and_not_its_other_half() -> None:
    arc = Edge(
        index=0, faces=(0,), curve="circle", length_mm=3 * math.pi, convexity="convex",
        angle_deg=90, start=(2, 0, 0), middle=(-math.sqrt(2), math.sqrt(2), 0), end=(0, -2, 0),
        centre=(0, 0, 0), axis=(0, 0, 1), radius_mm=2,
    )  # fmt: skip
    points = polyline(arc)
    assert points[0] == pytest.approx((2, 0, 0))
    assert points[-1] == pytest.approx((0, -2, 0), abs=1e-9)
    assert points[len(points) // 2] == pytest.approx(arc.middle)


def test_a_line_through_a_window_is_free_and_one_beside_it_blocked() -> None:
    square_ = [(10, 10), (20, 10), (20, 20), (10, 20)]
    graph = Context(block_with_hollow((40.0, 30.0, 15.0), square_, None)).graph
    up = (0.0, 0.0, 1.0)
    assert not blocked(graph, (15, 15, -5), up, 0, 100)
    assert blocked(graph, (5, 5, -5), up, 0, 100)
    top = graph.faces[4]
    assert not inside(graph, top, (15, 15, 15))
    assert inside(graph, top, (5, 5, 15))


def _pocket(name: str, faces: tuple[int, ...]) -> Pocket:
    return Pocket(
        id=name, faces=faces, place=(0, 0, 0), direction=(0, 0, 1), length_mm=1, width_mm=1,
        depth_mm=1, through=False, open=False, outline="free", walls=1,
    )  # fmt: skip


def _fillet(name: str, faces: tuple[int, ...], of: str) -> Fillet:
    return Fillet(
        id=name, faces=faces, place=(0, 0, 0), direction=(0, 0, 1), side="inside", role="corner",
        radius_mm=1, length_mm=1, of=of,
    )  # fmt: skip


def test_first_come_first_served_for_faces() -> None:
    context = Context(make_facts())
    context.add([_pocket("pocket-1", (3, 1)), _pocket("pocket-2", (1, 2)), _pocket("x", (3,))])
    assert [f.faces for f in context.features] == [(1, 3), (2,)]
    assert context.owner == {1: "pocket-1", 3: "pocket-1", 2: "pocket-2"}
    assert context.feature("pocket-2").faces == (2,)
    assert not context.free(1)


def test_numbers_follow_the_lowest_face_and_references_follow_the_numbers() -> None:
    found = numbered(
        [
            _pocket("pocket-1", (9,)),
            _pocket("pocket-2", (4,)),
            _fillet("fillet-7", (5,), "pocket-1"),
        ]
    )
    assert [(f.id, f.faces) for f in found] == [
        ("fillet-1", (5,)), ("pocket-1", (4,)), ("pocket-2", (9,)),
    ]  # fmt: skip
    assert found[0].of == "pocket-2"


def test_a_part_without_faces_has_no_features() -> None:
    assert recognise(make_facts()) == ()

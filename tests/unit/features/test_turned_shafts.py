"""Shafts of known diameters made by hand, anywhere in space: no kernel."""

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shafts import shaft

from dfmcheck.features.axial import main_axis
from dfmcheck.features.recognise import recognise
from dfmcheck.features.turned import sections, turned_view
from dfmcheck.model.feature import Boss, Groove, Hole
from dfmcheck.planning.process import choose_process

sizes = st.floats(2.0, 80.0, allow_nan=False)
directions = st.tuples(*[st.floats(-1.0, 1.0, allow_nan=False)] * 3).filter(
    lambda d: math.hypot(*d) > 0.1
)
places = st.tuples(*[st.floats(-200.0, 200.0, allow_nan=False)] * 3)
steps = st.lists(st.tuples(sizes, sizes), min_size=1, max_size=5).filter(
    lambda s: all(abs(a[0] - b[0]) > 0.1 for a, b in pairwise(s))
)


@settings(deadline=None)
@given(steps, directions, places)
def test_every_shaft_is_round_and_turned(parts, axis, origin):
    part = shaft(*parts, axis=axis, origin=origin)
    view = main_axis(part)
    assert view is not None
    assert view.round_share > 0.99
    assert 2 * view.radius_mm == pytest.approx(max(d for d, _ in parts), rel=1e-6)
    assert view.length_mm == pytest.approx(sum(length for _, length in parts), rel=1e-6)
    assert view.turned_faces == {f.index for f in part.faces}
    choice = choose_process(part, recognise(part))
    assert choice.process == "turned"
    assert choice.axis is not None


@settings(deadline=None)
@given(steps, directions, places)
def test_its_diameters_are_read_in_their_order(parts, axis, origin):
    view = turned_view(shaft(*parts, axis=axis, origin=origin))
    assert view is not None
    read = [s.diameter_mm for s in sections(view)]
    made = [d for d, _ in parts]
    assert read == pytest.approx(made) or read == pytest.approx(made[::-1])


@settings(deadline=None)
@given(st.floats(6, 60), st.floats(0.1, 0.4), st.floats(0.02, 0.3), directions, places)
def test_a_ring_cut_into_a_shaft_is_a_groove(diameter, share, width_share, axis, origin):
    bottom = diameter * (1 - share / 2)
    depth, width = (diameter - bottom) / 2, diameter * width_share
    assume(depth >= 0.06 and width <= min(11.9 * depth, 0.49 * bottom))
    part = shaft((diameter, 20), (bottom, width), (diameter, 30), axis=axis, origin=origin)
    (found,) = [f for f in recognise(part) if isinstance(f, Groove)]
    assert found.side == "outside"
    assert found.diameter_mm == pytest.approx(bottom, rel=1e-6)
    assert found.width_mm == pytest.approx(width, rel=1e-5)
    assert found.depth_mm == pytest.approx(depth, rel=1e-5)
    middle = tuple(
        o + (20 + width / 2) * a / math.hypot(*axis) for o, a in zip(origin, axis, strict=True)
    )
    assert found.place == pytest.approx(middle, abs=1e-4)


def test_a_tube_has_a_bore_and_its_flange_leaves_a_spigot():
    part = shaft((50, 5), (30, 40), bore_mm=22)
    features = recognise(part)
    (hole,) = [f for f in features if isinstance(f, Hole)]
    assert (hole.diameter_mm, hole.through) == (22, True)
    (spigot,) = [f for f in features if isinstance(f, Boss)]
    assert (spigot.diameter_mm, spigot.height_mm) == pytest.approx((30, 40))
    assert spigot.direction == pytest.approx((0, 0, 1))


def test_no_face_is_in_two_features():
    part = shaft((30, 10), (20, 2), (30, 4), (18, 1), (20, 20), (12, 9), bore_mm=6)
    owned = [f for feature in recognise(part) for f in feature.faces]
    assert len(owned) == len(set(owned))

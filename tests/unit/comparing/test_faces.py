import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plates import carried, motion_of, plate, renumbered, shaken

from dfmcheck.comparing.align import align
from dfmcheck.comparing.faces import components, match_faces
from dfmcheck.comparing.geometry import carry, inverted, placed_faces

HOLES = [(-40.0, -20.0, 5.5), (40.0, 20.0, 5.5), (10.0, 5.0, 8.0)]


def matched(before, after):
    return match_faces(placed_faces(before.facts), placed_faces(after.facts))


def test_equal_faces_are_exact_under_other_numbers_and_noise():
    part = plate(holes=HOLES)
    found = matched(part, shaken(renumbered(part, 7), 7))
    assert found.complete
    assert len(found.exact) == len(part.facts.faces)
    assert found.score == pytest.approx(1.0)


@pytest.mark.parametrize("noise_mm", [0.002, 0.05])
def test_faces_farther_apart_than_the_tolerance_are_not_exact(noise_mm):
    part = plate(holes=HOLES)
    found = matched(part, plate(holes=[*HOLES[:2], (10.0 + noise_mm, 5.0, 8.0)]))
    assert found.complete == (noise_mm < 0.01)


def test_a_longer_hole_is_on_the_same_carrier_and_a_raised_face_has_moved():
    found = matched(plate(holes=HOLES), plate(thickness=12.0, holes=HOLES))
    holes = [g for g in found.groups if g.before[0] >= 6]
    assert [(g.before, g.after, g.same) for g in holes] == [((k,), (k,), False) for k in (6, 7, 8)]
    assert found.moved == ((0, 0),)
    assert not found.gone
    assert not found.new


def test_a_hole_elsewhere_is_the_hole_that_moved():
    found = matched(plate(holes=HOLES), plate(holes=[*HOLES[:2], (-15.0, 5.0, 8.0)]))
    assert found.moved == ((8, 8),)


def test_a_hole_of_another_size_elsewhere_is_another_hole():
    found = matched(plate(holes=HOLES), plate(holes=[*HOLES[:2], (-25.0, 5.0, 12.0)]))
    assert (found.gone, found.new) == ((8,), (8,))


def test_components_are_sorted_and_whole():
    links = [(3, 1), (0, 5), (3, 2), (4, 2), (9, 9)]
    assert components(links) == [((0,), (5,)), ((3, 4), (1, 2)), ((9,), (9,))]


@settings(deadline=None)
@given(
    st.tuples(*[st.floats(-180.0, 180.0)] * 3),
    st.tuples(*[st.floats(-500.0, 500.0)] * 3),
    st.booleans(),
    st.sampled_from([1.0, 25.4, 0.1]),
    st.tuples(*[st.floats(-100.0, 100.0)] * 3),
)
def test_the_inverted_motion_undoes_the_motion(angles, shift, mirrored, factor, point):
    motion = motion_of(angles, shift, mirrored=mirrored)
    back = inverted(motion, factor)
    there = carry(motion, point, factor)
    assert carry(back, there, 1.0 / factor) == pytest.approx(point, abs=1e-6)
    assert back.mirrored == mirrored


def test_identity_is_kept_where_a_motion_gains_little():
    found = align(plate(holes=HOLES).facts, plate(length=110.0, holes=HOLES).facts)
    assert found.motion.is_identity


def test_a_symmetric_part_takes_the_least_motion():
    part = plate(holes=[(-30.0, 0.0, 6.0), (30.0, 0.0, 6.0)])
    found = align(part.facts, carried(part, motion_of((0.0, 0.0, 180.0), (0.0, 0.0, 5.0))).facts)
    assert found.matches.complete
    assert found.motion.rows[0] == pytest.approx((1.0, 0.0, 0.0))
    assert found.motion.shift_mm == pytest.approx((0.0, 0.0, 5.0))


def test_one_moved_hole_is_no_mirror_image():
    before = plate(holes=[*HOLES, (-30.0, 12.0, 3.0)])
    after = plate(holes=[(-40.0, -20.0, 5.5), (40.0, 20.0, 5.5), (-10.0, 5.0, 8.0), HOLES[2]])
    assert not align(before.facts, after.facts).motion.mirrored


def test_work_on_a_crowd_of_equal_faces_is_bounded():
    grid = [(x * 6.0 - 57.0, y * 6.0 - 57.0, 3.0) for x in range(20) for y in range(20)]
    before = plate(length=130.0, width=124.0, holes=grid)
    after = carried(
        plate(length=130.0, width=124.0, thickness=11.0, holes=grid),
        motion_of((11.0, 22.0, 33.0), (1.0, 2.0, 3.0)),
    )
    found = align(before.facts, after.facts)
    assert len(found.matches.groups) >= 400
    assert not found.matches.gone

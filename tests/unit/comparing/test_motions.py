import math

import pytest
from plates import carried, motion_of, plate

from dfmcheck.comparing.geometry import carry, placed_faces
from dfmcheck.comparing.motions import (
    MAX_MOTIONS,
    angle_of,
    candidate_motions,
    fitted_motion,
)
from dfmcheck.model.change import Motion

HOLES = [(-40.0, -20.0, 5.5), (40.0, 20.0, 5.5), (10.0, 5.0, 8.0), (20.0, -7.0, 3.0)]
AWAY = motion_of((17.0, 43.0, 71.0), (13.3, -27.1, 55.2))


def candidates(before, after):
    frames = (before.facts.frame, after.facts.frame)
    return candidate_motions(placed_faces(before.facts), placed_faces(after.facts), frames)


def misses_mm(motion, part, goal):
    """How far the corners of the plate end from where the goal carries them."""
    corners = [(x, y, 0.0) for x in (-50.0, 50.0) for y in (-30.0, 30.0)]
    return max(math.dist(carry(motion, c), carry(goal, c)) for c in corners)


@pytest.mark.parametrize("mirrored", [False, True])
def test_the_true_motion_is_among_few_candidates(mirrored):
    part = plate(holes=HOLES, pockets=[(-15.0, 0.0, 20.0, 12.0, 4.0)])
    goal = motion_of((17.0, 43.0, 71.0), (13.3, -27.1, 55.2), mirrored=mirrored)
    found = candidates(part, carried(part, goal))
    assert len(found) <= MAX_MOTIONS
    assert min(misses_mm(m, part, goal) for m in found) < 1e-6
    assert found[0].mirrored == mirrored


def test_the_pattern_of_axes_finds_what_no_face_of_one_size_does():
    before = plate(length=100.0, width=60.0, thickness=10.0, holes=HOLES)
    after = carried(plate(length=104.0, width=66.0, thickness=13.0, holes=HOLES), AWAY)
    x, y, z = carry(AWAY, (0.0, 0.0, 3.0))
    topped = Motion(rows=AWAY.rows, shift_mm=(x, y, z))  # upper faces together instead of lower
    found = candidates(before, after)
    assert min(misses_mm(m, before, goal) for m in found for goal in (AWAY, topped)) < 0.01


def test_a_crowd_of_equal_faces_gives_no_more_candidates():
    grid = [(x * 6.0 - 57.0, y * 6.0 - 57.0, 3.0) for x in range(20) for y in range(20)]
    part = plate(length=130.0, width=124.0, holes=grid)
    assert len(candidates(part, carried(part, AWAY))) <= MAX_MOTIONS


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_fitted_motion_goes_through_the_points(mirrored):
    goal = motion_of((10.0, 20.0, 30.0), (1.0, 2.0, 3.0), mirrored=mirrored)
    points = [(0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (0.0, 5.0, 0.0), (1.0, 2.0, 7.0)]
    found = fitted_motion([(p, carry(goal, p)) for p in points], mirrored=mirrored)
    assert found is not None
    assert found.mirrored == mirrored
    for p in points:
        assert carry(found, p) == pytest.approx(carry(goal, p), abs=1e-9)


def test_points_on_one_line_fit_no_motion():
    points = [((float(k), 0.0, 0.0), (0.0, float(k), 0.0)) for k in range(4)]
    assert fitted_motion(points, mirrored=False) is None


@pytest.mark.parametrize("degrees", [0.0, 30.0, 90.0, 180.0])
def test_the_angle_of_a_motion_of_either_hand(degrees):
    turned = motion_of((0.0, 0.0, degrees), (0.0, 0.0, 0.0))
    assert math.degrees(angle_of(turned.rows)) == pytest.approx(degrees, abs=1e-6)
    through_a_point = tuple(tuple(-x for x in row) for row in turned.rows)
    assert math.degrees(angle_of(through_a_point)) == pytest.approx(degrees, abs=1e-6)

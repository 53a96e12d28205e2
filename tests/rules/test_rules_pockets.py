"""What the rules about pockets and corners say, and what they pass over."""

import pytest
from builders import (
    a_change,
    make_face,
    make_facts,
    make_feature,
    make_part,
    make_process,
    make_settings,
    run_rule,
)

from dfmcheck.model.facts import Face
from dfmcheck.model.part import Part
from dfmcheck_rules import pockets


def wall(index: int, x: float, towards: float, **values: object) -> Face:
    """A wall at x that looks along +x or -x, 60 long and from z = 0 to 15."""
    return make_face(
        index, normal=(towards, 0.0, 0.0), low_mm=(x, 0.0, 0.0), high_mm=(x, 60.0, 15.0),
        **values,
    )  # fmt: skip


def walled(gap_mm: float, **sizes: object) -> Part:
    """A pocket 20 wide with an island that leaves this gap beside one of its walls."""
    faces = (
        wall(0, 0.0, 1.0, gap_mm=gap_mm, gap_face=2),
        wall(1, 20.0, -1.0, gap_mm=12.0, gap_face=3),
        wall(2, gap_mm, -1.0, gap_mm=gap_mm, gap_face=0),
        wall(3, 8.0, 1.0, gap_mm=12.0, gap_face=1),
    )
    pocket = make_feature("pocket", **{"width_mm": 20.0, "corner_radius_mm": 8.0, "faces": (0, 1),
                                       **sizes})  # fmt: skip
    return make_part(pocket, facts=make_facts(faces))


def slit(*further: Face, **sizes: object) -> Part:
    """A slit 2 wide and 15 deep from end to end, and what else the part has."""
    faces = (wall(0, 0.0, 1.0), wall(1, 2.0, -1.0), *further)
    values = {"width_mm": 2.0, "length_mm": 60.0, "depth_mm": 15.0, "faces": (0, 1), **sizes}
    return make_part(make_feature("slot", **values), facts=make_facts(faces))


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
    assert found.message == "2 x pocket 30 x 20 x 8 deep: inside corners R3 -> R1.5"
    assert found.faces == (0, 1)


def test_an_island_narrows_the_pocket_it_stands_in() -> None:
    """A channel 4 wide and 30 deep, whatever the size of the pocket around the island."""
    (found,) = run_rule(pockets.deep_narrow_pocket, walled(4.0, depth_mm=30.0))
    assert found.measured == pytest.approx(7.5)
    assert found.message == (
        "pocket 30 x 20 x 30 deep is 4 wide at its narrowest and takes a cutter of dia 4 at most, "
        "which has to reach 7.5 times its diameter"
    )
    assert run_rule(pockets.deep_narrow_pocket, walled(6.0, depth_mm=30.0)) == ()  # at the limit
    assert run_rule(pockets.deep_narrow_pocket, walled(6.1, depth_mm=30.0)) == ()


def test_a_wedge_between_two_walls_is_no_narrow_place() -> None:
    """Walls that meet at an angle come as near to each other as one likes; the corner counts."""
    faces = (
        wall(0, 0.0, 1.0, gap_mm=0.4, gap_face=1),
        make_face(1, normal=(-0.8, 0.6, 0.0), gap_mm=0.4, gap_face=0),
    )
    part = make_part(
        make_feature("pocket", corner_radius_mm=4.0, depth_mm=20.0, faces=(0, 1)),
        facts=make_facts(faces),
    )
    assert run_rule(pockets.deep_narrow_pocket, part) == ()


def test_a_floor_has_no_free_width() -> None:
    floor = make_face(0, normal=(0.0, 0.0, 1.0), gap_mm=1.0, gap_face=0)
    pocket = make_feature("pocket", depth_mm=20.0, faces=(0,))
    assert run_rule(pockets.deep_narrow_pocket, make_part(pocket, facts=make_facts((floor,)))) == ()


@pytest.mark.parametrize("process", ["milled", "turned", "turned-with-milling"])
def test_a_groove_in_an_end_face_is_measured_like_a_channel(process: str) -> None:
    def found(width_mm: float) -> tuple[object, ...]:
        groove = make_feature("groove", side="face", width_mm=width_mm, depth_mm=30.0)
        return run_rule(
            pockets.deep_narrow_pocket, make_part(groove, process=make_process(process, 1))
        )

    (deep,) = found(3.0)
    assert "10 times its " in deep.message
    assert ("blade" in deep.message) is (process != "milled")
    assert found(6.0) == ()  # at the limit
    assert found(6.1) == ()


@pytest.mark.parametrize("side", ["outside", "inside"])
def test_other_grooves_are_no_channels(side: str) -> None:
    groove = make_feature("groove", side=side, width_mm=2.0, depth_mm=30.0)
    assert run_rule(pockets.deep_narrow_pocket, make_part(groove)) == ()


def test_a_narrow_channel_asks_for_a_small_cutter() -> None:
    was, now = walled(8.0, depth_mm=8.0), walled(2.0, depth_mm=8.0)
    (found,) = run_rule(pockets.smallest_cutter, now, was, (a_change("boss-added"),))
    assert (found.before_value, found.measured) == (8.0, 2.0)


def test_a_slit_open_at_both_ends_is_sawn() -> None:
    assert run_rule(pockets.deep_narrow_pocket, slit()) == ()
    bare = make_part()
    assert run_rule(pockets.smallest_cutter, slit(), bare, (a_change("slot-added"),)) == ()


@pytest.mark.parametrize(
    ("further", "sizes"),
    [
        ((), {"through": False}),
        ((), {"floor_radius_mm": 1.0}),
        ((), {"depth_mm": 50.1, "width_mm": 4.0}),
        ((), {"depth_mm": 30.0, "width_mm": 1.0}),
        ((make_face(2, low_mm=(-9.0, 70.0, 0.0), high_mm=(9.0, 70.0, 20.0)),), {}),
        ((make_face(2, low_mm=(-9.0, -5.0, 5.0), high_mm=(9.0, -5.0, 9.0)),), {}),
    ],
    ids=["closed at one end", "round floor", "too deep", "too thin", "behind", "before"],
)
def test_where_no_saw_goes_an_end_mill_has_to(
    further: tuple[Face, ...], sizes: dict[str, object]
) -> None:
    assert len(run_rule(pockets.deep_narrow_pocket, slit(*further, **sizes))) == 1


@pytest.mark.parametrize(
    ("low", "high"),
    [
        ((-9.0, 60.0, 0.0), (9.0, 60.0, 20.0)),  # the end face itself
        ((-9.0, -20.0, -10.0), (9.0, 80.0, 0.0)),  # below the floor
        ((2.0, -20.0, 0.0), (9.0, 80.0, 20.0)),  # beside the slit
    ],
    ids=["end", "below", "beside"],
)
def test_what_is_not_in_the_plane_of_the_disc_is_not_in_its_way(
    low: tuple[float, float, float], high: tuple[float, float, float]
) -> None:
    part = slit(make_face(2, low_mm=low, high_mm=high))
    assert run_rule(pockets.deep_narrow_pocket, part) == ()


def hexagon(across_flats_mm: float, **sizes: object) -> Part:
    """A hexagon socket with sharp corners."""
    return make_part(
        make_feature(
            "pocket",
            **{
                "outline": "hexagonal",
                "walls": 6,
                "width_mm": across_flats_mm,
                "length_mm": across_flats_mm / 0.75**0.5,
                "corner_radius_mm": 0.0,
                **sizes,
            },
        )
    )


def test_a_hexagon_socket_is_broached() -> None:
    """ISO 4762: the socket of an M3 screw is 2.5 wide and at least 1.3 deep."""
    socket = hexagon(2.5, depth_mm=1.3)
    strict = make_settings({"inside_corner_radius": 3.0, "pocket_depth_ratio": 0.1})
    for rule in (pockets.inside_corner_radius, pockets.deep_narrow_pocket):
        assert run_rule(rule, socket, settings=strict) == ()
    assert run_rule(pockets.smallest_cutter, socket, make_part(), (a_change("x"),)) == ()


@pytest.mark.parametrize(
    ("across", "sizes"), [(36.1, {}), (10.0, {"length_mm": 14.0}), (10.0, {"outline": "polygonal"})]
)
def test_other_hexagons_are_milled(across: float, sizes: dict[str, object]) -> None:
    assert run_rule(pockets.inside_corner_radius, hexagon(36.0)) == ()
    assert len(run_rule(pockets.inside_corner_radius, hexagon(across, **sizes))) == 1

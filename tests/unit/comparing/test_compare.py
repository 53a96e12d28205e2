import math

import msgspec
import pytest
from builders import an_entry
from hypothesis import given, settings
from hypothesis import strategies as st
from plates import carried, motion_of, plate, renumbered, shaken

from dfmcheck.comparing.compare import compare
from dfmcheck.comparing.kinds import KINDS, inverse

FOUR = ((-40.0, -20.0, 5.5), (-40.0, 20.0, 5.5), (40.0, -20.0, 5.5), (40.0, 20.0, 5.5))
HOLES = (*FOUR, (10.0, 5.0, 8.0), (20.0, -7.0, 3.0))
POCKET = (-15.0, 0.0, 20.0, 12.0, 4.0)
AWAY = motion_of((17.0, 43.0, 71.0), (13.3, -27.1, 55.2))


def first_hand(comparison):
    """The changes that follow from no other, as (kind, before, after, count)."""
    return [(c.kind, c.before, c.after, c.count) for c in comparison.changes if c.caused_by is None]


def said(before, after):
    return first_hand(compare(before, after))


def test_a_part_against_itself_has_no_changes():
    part = plate(holes=HOLES, pockets=[POCKET])
    found = compare(part, part)
    assert found.same_shape
    assert found.changes == ()
    assert found.motion.is_identity
    assert found.faces == tuple((i, i) for i in range(len(part.facts.faces)))
    assert found.features == tuple(sorted((f.id, f.id) for f in part.features))


@pytest.mark.parametrize("seed", range(5))
def test_a_reexport_renumbered_moved_and_shaken_is_the_same_shape(seed):
    part = plate(holes=HOLES, pockets=[POCKET])
    found = compare(part, shaken(carried(renumbered(part, seed), AWAY), seed))
    assert found.same_shape
    assert found.changes == ()
    assert not found.motion.is_identity


def test_the_motion_carries_the_first_onto_the_second():
    part = plate(holes=HOLES, pockets=[POCKET])
    found = compare(part, carried(part, AWAY))
    for row, expected in zip(found.motion.rows, AWAY.rows, strict=True):
        assert row == pytest.approx(expected, abs=1e-6)
    assert found.motion.shift_mm == pytest.approx(AWAY.shift_mm, abs=1e-4)


BEFORE = {"holes": HOLES, "pockets": [POCKET]}
CASES = {
    "hole widened": (
        {"holes": (*FOUR, (10.0, 5.0, 8.5), HOLES[5])}, [("hole-widened", 8.0, 8.5, 1)]),
    "four holes widened": (
        {"holes": (*((x, y, 6.0) for x, y, _ in FOUR), *HOLES[4:])},
        [("hole-widened", 5.5, 6.0, 4)]),
    "hole narrowed": (
        {"holes": (*FOUR, (10.0, 5.0, 7.0), HOLES[5])}, [("hole-narrowed", 8.0, 7.0, 1)]),
    "hole moved": (
        {"holes": (*FOUR, (12.0, 5.0, 8.0), HOLES[5])},
        [("hole-moved", "(10, 5, 10)", "(12, 5, 10)", 1)]),
    "hole added": (
        {"holes": (*HOLES, (25.0, 22.0, 4.0))}, [("hole-added", None, 4.0, 1)]),
    "hole removed": ({"holes": HOLES[:5]}, [("hole-removed", 3.0, None, 1)]),
    "one hole gone, another of another size elsewhere": (
        {"holes": (*HOLES[:5], (-35.0, 0.0, 11.0))},
        [("hole-added", None, 11.0, 1), ("hole-removed", 3.0, None, 1)]),
    "pocket deepened": (
        {"pockets": [(-15.0, 0.0, 20.0, 12.0, 6.0)]}, [("pocket-deepened", 4.0, 6.0, 1)]),
    "pocket lengthened to one side": (
        {"pockets": [(-16.0, 0.0, 22.0, 12.0, 4.0)]}, [("pocket-lengthened", 20.0, 22.0, 1)]),
    "pocket moved": (
        {"pockets": [(-15.0, 3.0, 20.0, 12.0, 4.0)]},
        [("pocket-moved", "(-15, 0, 6)", "(-15, 3, 6)", 1)]),
    "pocket removed": ({"pockets": []}, [("pocket-removed", 4.0, None, 1)]),
    "thicker": ({"thickness": 12.0}, [("box-grew", 10.0, 12.0, 1)]),
    "longer": ({"length": 110.0}, [("box-grew", 100.0, 110.0, 1)]),
    "narrower": ({"width": 58.0}, [("box-shrank", 60.0, 58.0, 1)]),
}  # fmt: skip


@pytest.mark.parametrize("away", [False, True], ids=["in place", "moved"])
@pytest.mark.parametrize("name", CASES)
def test_one_change_is_said_and_nothing_else(name, away):
    changed, expected = CASES[name]
    after = plate(**{**BEFORE, **changed})
    if away:
        after = renumbered(carried(after, AWAY), 3)
    found = [(k, b, a, n) for k, b, a, n in said(plate(**BEFORE), after)]
    if away:  # places are told in the coordinates of the second file
        found, expected = (
            [(k, *((None, None) if k.endswith("-moved") else (b, a)), n) for k, b, a, n in rows]
            for rows in (found, expected)
        )
    assert found == expected


def test_both_places_of_what_moved_are_told_in_the_coordinates_of_the_later_file():
    before, after = plate(holes=HOLES), plate(holes=(*FOUR, (13.0, 9.0, 8.0), HOLES[5]))
    away = carried(after, AWAY)
    for first, second in ((before, away), (away, before)):
        (moved,) = [c for c in compare(first, second).changes if c.kind == "hole-moved"]
        old, new = (
            [float(v) for v in p.strip("()").split(",")] for p in (moved.before, moved.after)
        )
        assert math.dist(old, new) == pytest.approx(5.0, abs=0.02)
        place = second.feature(moved.feature_after).place
        assert new == pytest.approx(place, abs=0.01)
        assert "moved 5:" in moved.text


def test_a_thicker_plate_is_one_change_with_its_holes_deeper_in_consequence():
    before = plate(holes=[(x, y, 4.0) for x in range(-40, 41, 20) for y in (-20, -7, 7, 20)])
    after = plate(thickness=12.0, holes=[(h.place[0], h.place[1], 4.0) for h in before.features])
    found = compare(before, after)
    first, *rest = found.changes
    assert (first.kind, first.what, first.before, first.after) == (
        "box-grew",
        "thickness",
        10.0,
        12.0,
    )
    assert first.text == "part thicker: 10 -> 12"
    assert all(c.caused_by == 0 for c in rest)
    (deeper,) = [c for c in rest if c.kind == "hole-deepened"]
    assert deeper.count == 20
    assert deeper.text == "20 holes dia 4 deeper: 10 -> 12"
    assert set(deeper.features_before) == {f.id for f in before.features}
    assert {"volume-grew", "stock-grew"} <= {c.kind for c in rest}


def test_words_name_the_pattern_and_both_values():
    before, after = plate(holes=HOLES), plate(holes=[(x, y, 6.0) for x, y, _ in FOUR])
    texts = [c.text for c in compare(before, after).changes if c.caused_by is None]
    assert "4 holes dia 5.5 -> 6" in texts
    assert "hole removed: dia 8 through at (10, 5, 10)" in texts


@pytest.mark.parametrize("factor", [25.4, 10.0, 1000.0, 1 / 25.4])
def test_a_unit_mistake_is_said_first_and_alone(factor):
    part = plate(holes=HOLES, pockets=[POCKET])
    wrong = carried(part, AWAY, factor)
    found = compare(part, wrong)
    assert found.scale == pytest.approx(factor)
    assert first_hand(found) == [("unit-changed", 1.0, pytest.approx(factor), 1)]
    assert found.changes[0].text.startswith("unit")
    assert not found.same_shape


def test_a_unit_mistake_does_not_hide_a_hole():
    part = plate(holes=HOLES, pockets=[POCKET])
    wrong = carried(plate(holes=(*HOLES, (25.0, 22.0, 4.0)), pockets=[POCKET]), AWAY, 25.4)
    assert said(part, wrong) == [
        ("unit-changed", 1.0, 25.4, 1),
        ("hole-added", None, pytest.approx(101.6), 1),
    ]


def test_scaled_by_no_ratio_of_units():
    part = plate(holes=HOLES)
    assert said(part, carried(part, AWAY, 1.02)) == [("scaled-up", 1.0, pytest.approx(1.02), 1)]


def test_another_declared_unit_with_equal_sizes_is_the_same_shape():
    part = plate(holes=HOLES)
    found = compare(part, msgspec.structs.replace(part, unit="inch"))
    assert found.same_shape
    assert first_hand(found) == [("unit-declared", "mm", "inch", 1)]
    assert found.changes[0].text.startswith("unit")


def test_a_mirrored_part_is_said():
    part = plate(holes=HOLES, pockets=[POCKET])
    image = carried(part, motion_of((10.0, 20.0, 30.0), (5.0, 6.0, 7.0), mirrored=True))
    found = compare(part, image)
    assert found.motion.mirrored
    assert not found.same_shape
    assert first_hand(found) == [("mirrored", "one hand", "other hand", 1)]


def test_a_part_that_is_its_own_image_is_not_mirrored():
    part = plate(holes=FOUR)
    image = carried(part, motion_of((0.0, 0.0, 0.0), (5.0, 6.0, 7.0), mirrored=True))
    assert compare(part, image).same_shape


def test_another_part_altogether_is_said_first():
    other = plate(length=37.0, width=36.0, thickness=35.0, holes=[(1.0, 2.0, 3.0)])
    moved = carried(other, motion_of((31.0, 17.0, 5.0), (200.0, 0.0, 0.0)))
    found = compare(plate(holes=HOLES, pockets=[POCKET]), moved)
    assert found.changes[0].kind == "replaced"
    assert all(c.caused_by == 0 for c in found.changes[1:])


def test_number_of_parts_in_the_file():
    part = plate(holes=HOLES)
    two = msgspec.structs.replace(part, facts=msgspec.structs.replace(part.facts, count=2))
    three = msgspec.structs.replace(part, facts=msgspec.structs.replace(part.facts, count=3))
    assert said(part, two) == [("part-doubled", 1.0, 2.0, 1)]
    assert said(three, two) == [("part-fewer", 3.0, 2.0, 1)]


def test_configuration_alone_is_a_change_like_any_other():
    before = plate(holes=HOLES, entry=an_entry(material="EN AW-6082-T6", letter="A"))
    after = plate(holes=HOLES, entry=an_entry(material="C45", letter="B"))
    found = compare(before, after)
    assert found.same_shape
    assert first_hand(found) == [
        ("material-changed", "EN AW-6082-T6", "C45", 1),
        ("letter-changed", "A", "B", 1),
    ]
    (mass,) = [c for c in found.changes if c.kind == "mass-grew"]
    assert mass.caused_by == 0


SIZES = st.floats(2.0, 9.0).map(lambda v: round(v, 1))
PLACES = st.sampled_from([(x, y) for x in range(-40, 41, 16) for y in (-20, 0, 20)])


@st.composite
def plates(draw):
    places = draw(st.lists(PLACES, max_size=7, unique=True))
    holes = [(float(x), float(y), draw(SIZES)) for x, y in places]
    sizes = {
        "length": draw(st.sampled_from([100.0, 101.0, 120.0])),
        "width": draw(st.sampled_from([60.0, 62.0])),
        "thickness": draw(st.sampled_from([8.0, 10.0, 12.5])),
    }
    return plate(holes=holes, **sizes)


MOTIONS = st.builds(
    motion_of,
    st.tuples(*[st.floats(-180.0, 180.0)] * 3),
    st.tuples(*[st.floats(-200.0, 200.0)] * 3),
)


@settings(max_examples=60, deadline=None)
@given(plates(), plates())
def test_comparing_back_mirrors_comparing_forth(a, b):
    forth, back = compare(a, b), compare(b, a)
    assert forth.same_shape == back.same_shape
    assert tuple((j, i) for i, j in forth.faces) == tuple(sorted(back.faces, key=lambda p: p[::-1]))
    assert sorted((j, i) for i, j in forth.features) == sorted(back.features)
    assert len(forth.changes) == len(back.changes)
    for one, other in zip(forth.changes, back.changes, strict=True):
        assert one.kind == inverse(other.kind)
        assert one.caused_by == other.caused_by
        assert one.weight == other.weight
        assert one.features_before == other.features_after
        assert one.faces_after == other.faces_before
        told_in_one_file = one.kind.endswith("-moved") and not forth.motion.is_identity
        if one.kind != "face-moved" and not told_in_one_file:
            assert (one.before, one.after) == (other.after, other.before)


@settings(max_examples=40, deadline=None)
@given(plates(), plates(), MOTIONS, st.integers(0, 99))
def test_where_a_part_lies_and_how_it_is_numbered_changes_nothing(a, b, motion, seed):
    still = compare(a, b)
    moved = compare(a, renumbered(carried(b, motion), seed))
    assert still.same_shape == moved.same_shape

    def told(comparison):
        return sorted(
            (c.kind, c.count, c.caused_by is None)
            for c in comparison.changes
            if KINDS[c.kind].about in ("whole", "shape", "stock")
        )

    assert told(still) == told(moved)


@settings(max_examples=40, deadline=None)
@given(plates(), MOTIONS, st.integers(0, 99))
def test_a_moved_part_is_the_same_part(part, motion, seed):
    found = compare(part, shaken(renumbered(carried(part, motion), seed), seed))
    assert found.same_shape
    assert found.changes == ()

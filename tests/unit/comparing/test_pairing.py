import msgspec
from hypothesis import given
from hypothesis import strategies as st
from plates import carried, motion_of, plate

from dfmcheck.comparing.pairing import likeness, pair_parts


def named(part, name, **facts):
    return msgspec.structs.replace(
        part, facts=msgspec.structs.replace(part.facts, name=name, **facts)
    )


BASE = named(plate(holes=[(0.0, 0.0, 6.0), (30.0, 10.0, 4.0)]), "Base")
COVER = named(plate(width=40.0, thickness=4.0, holes=[(0.0, 0.0, 6.0)]), "Cover")
CLAMP = named(plate(length=30.0, width=20.0, thickness=8.0, holes=[(5.0, 0.0, 3.0)]), "Clamp")


def names(pairs):
    return [tuple(None if p is None else p.facts.name for p in pair) for pair in pairs]


def test_a_single_part_stays_one_part_whatever_became_of_it():
    assert pair_parts((BASE,), (CLAMP,)) == ((BASE, CLAMP),)


def test_parts_are_paired_by_name_in_another_order():
    bigger = named(plate(length=140.0, holes=[(0.0, 0.0, 6.0)]), "Base")
    pairs = pair_parts((BASE, COVER, CLAMP), (CLAMP, bigger, COVER))
    assert pairs == ((CLAMP, CLAMP), (BASE, bigger), (COVER, COVER))


def test_a_renamed_part_is_known_by_its_shape():
    renamed = named(carried(COVER, motion_of((30.0, 0.0, 0.0), (1.0, 2.0, 3.0))), "Lid")
    assert names(pair_parts((BASE, COVER), (renamed, BASE))) == [("Cover", "Lid"), ("Base", "Base")]


def test_equal_shapes_under_swapped_names_follow_the_shape():
    left, right = named(BASE, "Left"), named(COVER, "Right")
    swapped = named(COVER, "Left"), named(BASE, "Right")
    assert names(pair_parts((left, right), swapped)) == [("Right", "Left"), ("Left", "Right")]


def test_added_and_removed_parts():
    assert pair_parts((BASE, COVER), (BASE, COVER, CLAMP))[-1] == (None, CLAMP)
    assert pair_parts((BASE, COVER, CLAMP), (COVER, BASE)) == (
        (COVER, COVER),
        (BASE, BASE),
        (CLAMP, None),
    )
    assert pair_parts((), (BASE,)) == ((None, BASE),)
    assert pair_parts((BASE,), ()) == ((BASE, None),)


def test_a_part_taken_for_another_unit_is_still_the_part():
    inches = named(carried(BASE, motion_of((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)), 25.4), "Imported")
    assert likeness(BASE, inches) > 0.8
    assert pair_parts((COVER, BASE), (COVER, inches))[1] == (BASE, inches)


PARTS = st.lists(st.sampled_from([BASE, COVER, CLAMP]), max_size=4)


@given(PARTS, PARTS)
def test_every_part_is_told_once_and_backwards_alike(before, after):
    before = tuple(named(p, f"{p.facts.name} {k}") for k, p in enumerate(before))
    after = tuple(named(p, f"{p.facts.name} {k}") for k, p in enumerate(after))
    pairs = pair_parts(before, after)
    assert [b for _, b in pairs if b is not None] == list(after)
    assert sorted(a.facts.name for a, _ in pairs if a is not None) == sorted(
        a.facts.name for a in before
    )
    back = {(b, a) for a, b in names(pair_parts(after, before))}
    assert back == set(names(pairs))

"""Which features a callout means."""

import pytest
from builders import a_callout, make_feature, make_part
from hypothesis import given
from hypothesis import strategies as st

from dfmcheck.model.callouts import callout_targets, callouts_of, kind_of
from dfmcheck.model.feature import Feature


def ids(features: tuple[Feature, ...]) -> list[str]:
    return [f.id for f in features]


PART = make_part(
    make_feature("hole", diameter_mm=2.5, place=(12.0, 4.0, 0.0)),
    make_feature("hole", diameter_mm=2.5, place=(48.0, 4.0, 0.0)),
    make_feature("hole", diameter_mm=5.5, place=(30.0, 20.0, 0.0)),
    make_feature("pocket", corner_radius_mm=4.0),
)


def find(**target: object) -> list[str]:
    kind = str(target.pop("kind", "hole"))
    return ids(callout_targets(a_callout(kind, target=target), PART.features))


def test_by_kind_and_size() -> None:
    assert find() == ["hole-1", "hole-2", "hole-3"]
    assert find(diameter_mm=2.5) == ["hole-1", "hole-2"]
    assert find(diameter_mm=2.53) == []
    assert find(kind="pocket", radius_mm=4.0) == ["pocket-1"]
    assert find(kind="slot") == []


@pytest.mark.parametrize(("asked", "found"), [(2.52, True), (2.48, True), (2.521, False)])
def test_sizes_agree_to_two_hundredths(asked: float, found: bool) -> None:
    assert bool(find(diameter_mm=asked)) is found


def test_by_place_the_nearest_and_as_many_as_are_counted() -> None:
    assert find(diameter_mm=2.5, near_mm=(13.0, 4.0, 0.0)) == ["hole-1"]
    assert find(diameter_mm=2.5, near_mm=(47.0, 4.0, 0.0)) == ["hole-2"]
    assert find(diameter_mm=2.5, near_mm=(13.0, 4.0, 0.0), count=2) == ["hole-1", "hole-2"]


def test_a_callout_does_not_leap_to_the_other_end_of_the_part() -> None:
    assert find(diameter_mm=2.5, near_mm=(30.0, 4.0, 0.0)) == []
    assert find(diameter_mm=5.5, near_mm=(30.0, 40.0, 0.0)) == ["hole-3"]  # 20 mm, under 4 x 5.5


def test_either_end_of_a_hole_is_near_it() -> None:
    through = make_feature("hole", place=(0.0, 0.0, 50.0), depth_mm=50.0)
    for z in (50.0, 20.0, 0.0, -5.0):
        callout = a_callout(target={"near_mm": (0.0, 3.0, z)})
        assert callout_targets(callout, (through,)) == (through,)
    assert callout_targets(a_callout(target={"near_mm": (0.0, 0.0, -30.0)}), (through,)) == ()


def test_the_callouts_of_a_feature() -> None:
    m3, fit = a_callout(thread="M3", target={"diameter_mm": 2.5}), a_callout("pocket", fit="H7")
    hole, pocket = PART.features[0], PART.features[3]
    assert callouts_of(hole, (m3, fit), PART.features) == (m3,)
    assert callouts_of(pocket, (m3, fit), PART.features) == (fit,)
    assert kind_of(pocket) == "pocket"


_place = st.tuples(*[st.floats(-50.0, 50.0)] * 3)


@given(st.lists(_place, max_size=5), _place, st.none() | st.integers(1, 6))
def test_never_more_than_counted_and_always_of_the_part(
    places: list[tuple[float, float, float]],
    near: tuple[float, float, float],
    count: int | None,
) -> None:
    part = make_part(*(make_feature("hole", place=p) for p in places))
    found = callout_targets(a_callout(target={"near_mm": near, "count": count}), part.features)
    assert len(found) <= (count or 1)
    assert set(found) <= set(part.features)

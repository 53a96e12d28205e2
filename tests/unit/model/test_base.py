"""Values hold finite numbers only, wherever they come from."""

import math

import msgspec
import pytest

from dfmcheck.model.base import Value, Vec


class Sample(Value, frozen=True):
    size_mm: float
    place: Vec = (0.0, 0.0, 0.0)
    name: str = ""


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_refused(number: float) -> None:
    with pytest.raises(ValueError, match=r"Sample\.size_mm is not a finite number"):
        Sample(size_mm=number)
    with pytest.raises(ValueError, match=r"Sample\.place holds a number that is not finite"):
        Sample(size_mm=1.0, place=(0.0, number, 0.0))


def test_also_when_it_is_decoded() -> None:
    data = msgspec.msgpack.encode({"size_mm": math.inf})
    with pytest.raises((ValueError, msgspec.ValidationError)):
        msgspec.msgpack.decode(data, type=Sample)


def test_finite_values_are_equal_by_content_and_can_be_hashed() -> None:
    a, b = Sample(size_mm=1.5, name="x"), Sample(size_mm=1.5, name="x")
    assert a == b
    assert len({a, b}) == 1
    assert msgspec.msgpack.decode(msgspec.msgpack.encode(a), type=Sample) == a

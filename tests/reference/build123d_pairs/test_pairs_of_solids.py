from functools import cache
from pathlib import Path
from typing import Any

import pytest
from build123d import Location, export_step
from pairs_of_solids import ANY, CASES, TOGETHER

from dfmcheck.comparing.compare import compare
from dfmcheck.comparing.kinds import inverse
from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.kernel.step import read_step
from dfmcheck.model.change import Comparison
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.part import Part
from dfmcheck.planning.process import choose_process
from dfmcheck.planning.stock import choose_stock

AWAY = Location((13.3, -27.1, 55.2), (17, 43, 71))
NAMES = [name for name, *_ in CASES]
TOGETHER_NAMES = [name for name, *_ in TOGETHER]
_BY_NAME = {name: case for name, *case in (*CASES, *TOGETHER)}


def a_part(facts: PartFacts) -> Part:
    features = recognise(facts)
    process = choose_process(facts, features)
    return Part(
        file="cad/part.step",
        number="DL-1",
        unit="mm",
        facts=facts,
        features=features,
        process=process,
        stock=choose_stock(facts, process, "aluminium"),
    )


@cache
def sides(name: str) -> tuple[Any, Any]:
    before, after, _ = _BY_NAME[name]
    return before(), after()


@cache
def parts(name: str) -> tuple[Part, Part]:
    before, after = (part_facts(s.wrapped, name="part") for s in sides(name))
    return a_part(before), a_part(after)


def first_hand(found: Comparison) -> list[tuple[Any, ...]]:
    return [(c.kind, c.before, c.after, c.count) for c in found.changes if c.caused_by is None]


def agrees(found: list[tuple[Any, ...]], expected: tuple[Any, ...]) -> bool:
    if len(found) != len(expected):
        return False
    for (kind, before, after, count), (k, b, a, n) in zip(found, expected, strict=True):
        if (kind, count) != (k, n):
            return False
        for value, wanted in ((before, b), (after, a)):
            if wanted in (ANY, value):
                continue
            if not isinstance(value, float) or value != pytest.approx(wanted, abs=0.01):
                return False
    return True


@pytest.mark.parametrize("name", NAMES)
def test_the_change_made_is_said_and_nothing_else(name: str) -> None:
    expected = _BY_NAME[name][2]
    found = compare(*parts(name))
    assert agrees(first_hand(found), expected), [c.text for c in found.changes]


@pytest.mark.parametrize("name", NAMES)
def test_the_same_is_said_after_moving_and_writing_the_second_solid(
    name: str, tmp_path: Path
) -> None:
    expected = _BY_NAME[name][2]
    file = tmp_path / "part.step"
    export_step(AWAY * sides(name)[1], str(file))
    (facts,) = read_step(file.read_bytes(), "part.step").parts
    found = compare(parts(name)[0], a_part(facts))
    assert agrees(first_hand(found), expected), [c.text for c in found.changes]


@pytest.mark.parametrize("name", TOGETHER_NAMES)
def test_changes_made_together_are_each_said_and_nothing_else(name: str, tmp_path: Path) -> None:
    expected = sorted(_BY_NAME[name][2], key=str)
    file = tmp_path / "part.step"
    export_step(AWAY * sides(name)[1], str(file))
    (facts,) = read_step(file.read_bytes(), "part.step").parts
    for after in (parts(name)[1], a_part(facts)):
        found = compare(parts(name)[0], after)
        said = sorted(first_hand(found), key=str)
        assert agrees(said, tuple(expected)), [c.text for c in found.changes]


@pytest.mark.parametrize("name", NAMES + TOGETHER_NAMES)
def test_the_way_back_mirrors_the_way_there(name: str) -> None:
    before, after = parts(name)
    there, back = compare(before, after), compare(after, before)
    assert [c.kind for c in there.changes] == [inverse(c.kind) for c in back.changes]
    for one, other in zip(there.changes, back.changes, strict=True):
        assert (one.features_before, one.faces_before) == (other.features_after, other.faces_after)
        assert one.caused_by == other.caused_by


@pytest.mark.parametrize("name", NAMES)
def test_each_solid_written_again_is_the_same(name: str, tmp_path: Path) -> None:
    file = tmp_path / "part.step"
    export_step(AWAY * sides(name)[0], str(file))
    (facts,) = read_step(file.read_bytes(), "part.step").parts
    found = compare(parts(name)[0], a_part(facts))
    assert found.same_shape
    assert found.changes == ()

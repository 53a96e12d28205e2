import math
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from build123d import Box, Location, Pos, export_step
from pairs_of_solids import (
    ANY,
    CASES,
    TOGETHER,
    bored,
    cross_drilled,
    dished,
    grooved,
    pocketed,
    ring_cut,
    seated,
    sunk,
)

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


_FIRST_OF = {case[1]: case[0] for case in reversed(CASES)}


@pytest.mark.parametrize("name", sorted(_FIRST_OF.values()))
def test_a_solid_written_again_is_the_same(name: str, tmp_path: Path) -> None:
    file = tmp_path / "part.step"
    export_step(AWAY * sides(name)[0], str(file))
    (facts,) = read_step(file.read_bytes(), "part.step").parts
    found = compare(parts(name)[0], a_part(facts))
    assert found.same_shape
    assert found.changes == ()


def in_half_faces(shape: Any) -> Any:
    """As systems write it that part every round face into halves."""
    from OCP.ShapeUpgrade import ShapeUpgrade_ShapeDivideAngle

    tool = ShapeUpgrade_ShapeDivideAngle(math.pi, shape.wrapped)
    assert tool.Perform()
    return tool.Result()


def in_two_storeys(shape: Any) -> Any:
    """Every face that passes z = 6 mm cut there, as a careless union leaves them."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse

    half = Box(1000, 1000, 1000)
    low, high = shape & Pos(0, 0, 6 - 500) * half, shape & Pos(0, 0, 6 + 500) * half
    return BRepAlgoAPI_Fuse(low.wrapped, high.wrapped).Shape()


@pytest.mark.parametrize("cut", [in_half_faces, in_two_storeys])
@pytest.mark.parametrize(
    "make", [pocketed, seated, sunk, bored, grooved, cross_drilled, dished, ring_cut]
)
def test_a_solid_in_more_faces_is_the_same(make: Any, cut: Any) -> None:
    whole = part_facts((AWAY * make()).wrapped, name="part")
    parted = part_facts(cut(make()), name="part")
    assert len(parted.faces) > len(whole.faces)
    found = compare(a_part(whole), a_part(parted))
    assert found.same_shape
    assert found.changes == ()
    assert {i for i, _ in found.faces} == set(range(len(whole.faces)))
    assert {j for _, j in found.faces} == set(range(len(parted.faces)))


HALVED = [
    "hole widened", "blind hole deepened", "counterbore deepened", "pocket corners tightened",
    "countersink larger", "groove deepened", "cross hole widened", "shaft of a larger diameter",
]  # fmt: skip


@pytest.mark.parametrize("name", HALVED)
def test_the_same_is_said_when_the_second_solid_has_half_faces(name: str) -> None:
    after = a_part(part_facts(in_half_faces(sides(name)[1]), name="part"))
    found = compare(parts(name)[0], after)
    assert agrees(first_hand(found), _BY_NAME[name][2]), [c.text for c in found.changes]

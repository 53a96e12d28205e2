import math
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from build123d import Box, Cylinder, Location, Pos, export_step
from pairs_of_solids import (
    ANY,
    CASES,
    TOGETHER,
    UP,
    block,
    bored,
    cross_drilled,
    dished,
    grooved,
    handed,
    journal,
    plugged,
    pocketed,
    ring_cut,
    seated,
    shaft,
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


def test_a_step_on_the_underside_is_told_as_that_and_not_as_another_hand() -> None:
    up, down = (a_part(part_facts(handed(z).wrapped, name="part")) for z in (5, 0))
    for before, after in ((up, down), (down, up)):
        found = compare(before, after)
        assert first_hand(found) == [("step-turned", 0.0, 180.0, 1)]
        assert found.motion.is_identity
        assert found.changes[0].text.startswith("step 10 x 10 is on the opposite side now")


def test_a_longer_journal_leaves_its_groove_in_place() -> None:
    short, long = (a_part(part_facts(journal(x).wrapped, name="part")) for x in (30, 35))
    there, back = compare(short, long), compare(long, short)
    assert first_hand(there) == [("box-grew", pytest.approx(115.0), pytest.approx(120.0), 1)]
    assert {c.kind for c in there.changes}.isdisjoint({"groove-moved"})
    assert [inverse(c.kind) for c in there.changes] == [c.kind for c in back.changes]
    for found in (there, back):
        assert all(c.before != c.after for c in found.changes if c.kind.endswith("-moved"))


def causes(found: Comparison) -> dict[str, str | None]:
    """Each kind of change with the kind of its cause."""
    kinds = [c.kind for c in found.changes]
    return {c.kind: None if c.caused_by is None else kinds[c.caused_by] for c in found.changes}


WHY: dict[str, tuple[Any, Any, dict[str, str | None]]] = {
    # (before, after, what must hang under what)
    "a window as deep as the pocket sank, corners as well": (
        plugged, lambda: plugged(deep=16, corner=1.5, cable=12),
        {"pocket-deepened": None, "corner-tightened": None, "pocket-added": None,
         "setups-more": "pocket-added", "volume-shrank": "pocket-deepened"}),
    "corners and a cross hole": (
        plugged, lambda: plugged(corner=2, other=2),
        {"corner-tightened": None, "hole-added": None, "setups-more": "hole-added"}),
    "a cross hole gone, the pocket deeper": (
        lambda: plugged(other=2), lambda: plugged(deep=14),
        {"hole-removed": None, "pocket-deepened": None, "setups-fewer": "hole-removed",
         "volume-shrank": "pocket-deepened"}),
    "as much longer as a hole is wider": (
        lambda: block(length=100), lambda: block(length=102, hole=7.5),
        {"box-grew": None, "hole-widened": None}),
    "as much thicker as corners are eased": (
        pocketed, lambda: pocketed(height=22, corner=6),
        {"box-grew": None, "corner-eased": None}),
    "a hole in the floor of a pocket that sank": (
        lambda: drilled_floor(8), lambda: drilled_floor(12),
        {"pocket-deepened": None, "hole-shallower": "pocket-deepened"}),
    "a boss in a pocket that sank": (
        lambda: island(8), lambda: island(12),
        {"pocket-deepened": None, "boss-higher": "pocket-deepened"}),
}  # fmt: skip


def drilled_floor(deep: float) -> Any:
    return pocketed(depth=deep) - Pos(-5, 0, 3) * Cylinder(3, 17, align=UP)


def island(deep: float) -> Any:
    return pocketed(depth=deep, length=60, width=40, x=0) + Cylinder(5, 20, align=UP)


@pytest.mark.parametrize("name", WHY)
def test_a_knock_on_hangs_under_what_explains_it(name: str) -> None:
    make_before, make_after, expected = WHY[name]
    before, after = (
        a_part(part_facts(f().wrapped, name="part")) for f in (make_before, make_after)
    )
    there, back = compare(before, after), compare(after, before)
    found = causes(there)
    assert {k: found.get(k, "not said") for k in expected} == expected
    mirrored = {inverse(k): None if c is None else inverse(c) for k, c in found.items()}
    assert causes(back) == mirrored


def in_splines(shape: Any) -> Any:
    """As systems write it that know no surfaces but splines."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return BRepBuilderAPI_NurbsConvert(shape.wrapped, True).Shape()


@pytest.mark.parametrize("make", [pocketed, seated, bored, grooved, cross_drilled, shaft])
def test_a_solid_written_in_splines_is_the_same(make: Any) -> None:
    whole = a_part(part_facts(make().wrapped, name="part"))
    splines = a_part(part_facts(in_splines(make()), name="part"))
    for before, after in ((whole, splines), (splines, whole)):
        found = compare(before, after)
        assert found.same_shape
        assert found.changes == ()


def test_nothing_follows_from_a_unit_mistake_but_the_unit() -> None:
    before, after = parts("metre for millimetre")
    assert [c.kind for c in compare(before, after).changes] == ["unit-changed"]
    assert [c.kind for c in compare(after, before).changes] == ["unit-changed"]


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

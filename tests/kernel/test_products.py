"""Products become parts: names, counts, places, disjoint and overlapping solids."""

from collections.abc import Callable
from typing import Any

import pytest
from build123d import Box, Compound, Cylinder, Pos, Rot

from dfmcheck.model.facts import FileFacts, PartFacts

Read = Callable[..., FileFacts]
Write = Callable[..., bytes]


def labelled(shape: Any, name: str) -> Any:
    shape.label = name
    return shape


def assembly(name: str, *children: Any) -> Any:
    return Compound(label=name, children=list(children))


def by_name(facts: FileFacts) -> dict[str, PartFacts]:
    return {p.name: p for p in facts.parts}


def test_a_single_part_has_its_products_name(read: Read, as_step: Write) -> None:
    (part,) = read(as_step(Box(10, 20, 30), "Lower knuckle")).parts
    assert part.name == "Lower knuckle"
    assert part.count == part.solids == 1


# names as CAD systems write them: ISO 10303-21 escapes, plain UTF-8, Latin-1
@pytest.mark.parametrize(
    ("written", "meant"),
    [
        (rb"Geh\X2\00E4\X0\use", "Gehäuse"),
        (rb"\X2\65E5672C\X0\ 1", "日本 1"),
        ("Gehäuse".encode(), "Gehäuse"),
        ("Gehäuse".encode("latin-1"), "Gehäuse"),
        (b"it''s", "it's"),
        (rb"a\\b", "a\\b"),
        (b"[bold]x[/bold]", "[bold]x[/bold]"),
        (b"a  b\n  c", "a b c"),
    ],
)
def test_names_are_decoded(read: Read, as_step: Write, written: bytes, meant: str) -> None:
    data = as_step(Box(10, 20, 30), "PLACEHOLDER").replace(b"PLACEHOLDER", written)
    (part,) = read(data).parts
    assert part.name == meant


def test_a_nameless_product_is_called_after_its_file(read: Read, as_step: Write) -> None:
    data = as_step(Box(10, 20, 30), "PLACEHOLDER").replace(b"PLACEHOLDER", b"")
    (part,) = read(data, "cad/knuckle lower.step").parts
    assert part.name == "knuckle lower"


def test_parts_of_an_assembly_in_their_own_axes(read: Read, as_step: Write) -> None:
    pin, plate = labelled(Cylinder(3, 40), "pin"), labelled(Box(80, 50, 6), "plate")
    pin.location = Pos(100, 0, 0) * Rot(90, 0, 0)
    plate.location = Rot(0, 30, 0)
    parts = by_name(read(as_step(assembly("lamp", plate, pin))))
    assert set(parts) == {"plate", "pin"}
    assert parts["pin"].box_mm == pytest.approx((6, 6, 40), abs=1e-3)
    assert parts["plate"].box_mm == pytest.approx((80, 50, 6), abs=1e-6)


def test_a_product_used_several_times_is_counted(read: Read, as_step: Write) -> None:
    pin = labelled(Cylinder(3, 40), "pin")
    pins = []
    for i in range(4):
        copy = pin.__copy__()
        copy.location = Pos(20 * i, 0, 0)
        pins.append(labelled(copy, "pin"))
    parts = by_name(read(as_step(assembly("set", *pins, labelled(Box(90, 9, 9), "bar")))))
    assert parts["pin"].count == 4
    assert parts["bar"].count == 1


def test_nested_assemblies_multiply(read: Read, as_step: Write) -> None:
    def pair(x: float) -> Any:
        pins = [labelled(Pos(x, y, 0) * Cylinder(3, 40), "pin") for y in (0, 20)]
        return assembly("pair", *pins)

    parts = by_name(read(as_step(assembly("all", pair(0), pair(50), pair(100)))))
    assert parts["pin"].count == 6


def test_disjoint_solids_of_one_product_are_parts(read: Read, as_step: Write) -> None:
    shape = Compound([Box(10, 20, 30).solid(), (Pos(100, 0, 0) * Cylinder(5, 12)).solid()])
    facts = read(as_step(shape, "set"))
    assert [p.name for p in facts.parts] == ["set 1", "set 2"]
    assert [p.count for p in facts.parts] == [1, 1]


def test_equal_solids_of_one_product_are_one_part(read: Read, as_step: Write) -> None:
    solids = [(Pos(40 * i, 0, 0) * Rot(0, 90 * i, 0) * Box(10, 20, 30)).solid() for i in range(3)]
    (part,) = read(as_step(Compound(solids), "block")).parts
    assert (part.name, part.count) == ("block", 3)


def test_products_of_other_names_stay_parts_while_they_are_alike(
    read: Read, as_step: Write
) -> None:
    left, right = (
        labelled(Box(9, 20, 30), "left"),
        labelled(Pos(50, 0, 0) * Box(9, 20, 30), "right"),
    )
    parts = by_name(read(as_step(assembly("pair", left, right))))
    assert {n: p.count for n, p in parts.items()} == {"left": 1, "right": 1}


def test_touching_solids_stay_apart(read: Read, as_step: Write) -> None:
    # a block on a block; a ball-nosed pin in a hole of its own diameter
    stack = Compound([Box(10, 10, 10).solid(), (Pos(0, 0, 10.25) * Box(10, 10, 10.5)).solid()])
    assert len(read(as_step(stack, "stack")).parts) == 2
    bush = Cylinder(20, 10) - Cylinder(8, 10)
    snug = Compound([bush.solid(), Cylinder(8, 10).solid()])
    parts = read(as_step(snug, "snug")).parts
    assert sorted(round(p.volume_mm3) for p in parts) == [2011, 10556]


def test_overlapping_solids_of_one_product_are_one_part(read: Read, as_step: Write) -> None:
    # a boss of 10 mm set 2 mm deep into a plate: 60 x 40 x 10 + pi 6^2 8
    boss = Pos(0, 0, 8) * Cylinder(6, 10)
    shape = Compound([Box(60, 40, 10).solid(), boss.solid()])
    (part,) = read(as_step(shape, "bracket")).parts
    assert part.solids == 2
    assert part.volume_mm3 == pytest.approx(24000 + 3.14159265 * 36 * 8, rel=1e-6)
    assert part.area_mm2 == pytest.approx(2 * (2400 + 600 + 400) + 3.14159265 * 12 * 8, rel=1e-6)
    assert sorted(f.surface for f in part.faces) == ["cylinder"] + 7 * ["plane"]
    assert all(f.line is not None for f in part.faces)
    assert part.box_mm == pytest.approx((60, 40, 18), abs=1e-3)
    centre = (24000 * 0 + 904.779 * 9) / (24000 + 904.779)
    assert part.centroid == pytest.approx((0, 0, centre), abs=1e-4)


def test_many_overlapping_solids_are_measured_as_they_are(read: Read, as_step: Write) -> None:
    # twelve ribs, each 1 mm into the plate: too many to be fused
    ribs = [Pos(x, 0, 14) * Box(2, 40, 20) for x in range(-55, 60, 10)]
    solids = [Box(130, 40, 10).solid(), *(r.solid() for r in ribs)]
    (part,) = read(as_step(Compound(solids), "sink")).parts
    assert part.solids == 13
    assert part.volume_mm3 == pytest.approx(130 * 40 * 10 + 12 * 2 * 40 * 19, rel=5e-4)
    skin = 2 * (130 * 40 + 130 * 10 + 40 * 10) + 12 * 2 * (2 + 40) * 19
    assert part.area_mm2 == pytest.approx(skin, rel=1e-3)
    assert part.centroid[2] == pytest.approx(12 * 1520 * 14.5 / (52000 + 12 * 1520), abs=0.01)
    assert not part.doubts


def test_a_slight_overlap_counts_and_is_not_taken_for_contact(read: Read, as_step: Write) -> None:
    rib = Pos(0, 0, 14.9) * Box(60, 4, 20)  # 0.1 mm into the plate
    (part,) = read(as_step(Compound([Box(60, 40, 10).solid(), rib.solid()]), "ribbed")).parts
    assert part.volume_mm3 == pytest.approx(24000 + 60 * 4 * 19.9, rel=1e-4)


def test_a_screw_in_a_hole_too_small_for_it_stays_a_part(read: Read, as_step: Write) -> None:
    # drawn at its outer diameter in the tapping hole, as usual: the solids overlap
    plate = labelled(Box(40, 40, 10) - Cylinder(1.25, 10), "plate")
    screw = labelled(Cylinder(1.5, 12) + Pos(0, 0, 7.5) * Cylinder(2.75, 3), "screw")
    parts = by_name(read(as_step(assembly("joint", plate, screw))))
    assert set(parts) == {"plate", "screw"}


def test_a_product_that_is_a_skin_is_not_to_be_trusted(read: Read, as_step: Write) -> None:
    from build123d import Face, Shell

    box = Box(10, 20, 30)
    skin = labelled(Shell(list(box.faces())[:-1]), "skin")
    parts = by_name(
        read(as_step(assembly("both", labelled(Pos(99, 0, 0) * Box(5, 5, 5), "cube"), skin)))
    )
    assert parts["cube"].doubts == ()
    assert parts["skin"].doubts
    assert not parts["skin"].closed
    assert isinstance(box.faces()[0], Face)


def test_only_a_skin_is_not_read(kernel_pool: Any, as_step: Write) -> None:
    from build123d import Shell

    data = as_step(Shell(list(Box(10, 20, 30).faces())[:-1]), "skin")
    answer = kernel_pool.submit(data, "skin.step").result()
    assert answer.kind == "no-solid"
    assert "5 faces" in answer.reason

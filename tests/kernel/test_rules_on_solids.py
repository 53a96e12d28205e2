"""Shipped rules on solids of known shape, through kernel, features, process and stock.

Each case is a plain block or shaft with one thing in it. The rules that must speak are named with
what they must measure, worked out by hand from the sizes beside them (mm); the note about what a
shop would have to ask is left aside.
"""

from collections.abc import Callable
from typing import Any

import pytest
from build123d import (
    Align,
    Axis,
    Box,
    Cone,
    Cylinder,
    Pos,
    RectangleRounded,
    RegularPolygon,
    Rot,
    extrude,
    fillet,
)
from builders import TODAY, make_settings

from dfmcheck.checking.engine import check_part
from dfmcheck.checking.plugins import make_plugin_manager
from dfmcheck.checking.registry import collect_rules
from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.finding import Finding
from dfmcheck.model.part import Part
from dfmcheck.planning.process import choose_process
from dfmcheck.planning.stock import choose_stock

UP = (Align.CENTER, Align.CENTER, Align.MIN)
DOWN = (Align.CENTER, Align.CENTER, Align.MAX)
RULES = collect_rules(make_plugin_manager())


def block(height: float = 20) -> Any:
    return Box(100, 60, height, align=UP)


def drilled(diameter: float, depth: float, bottom: str = "cone") -> Any:
    """A blind hole from above, with a cone of 118 degrees or a flat bottom."""
    hole = Pos(0, 0, 40) * Cylinder(diameter / 2, depth, align=DOWN)
    if bottom == "cone":
        tip = diameter / 2 * 0.6009  # cot 59 deg
        hole += Pos(0, 0, 40 - depth - tip) * Cone(0, diameter / 2, tip, align=UP)
    return block(40) - hole


def pocketed(corner: float, depth: float, width: float = 20) -> Any:
    cut = Pos(0, 0, 40 - depth) * Box(40, width, depth, align=UP)
    if corner:
        cut = fillet(cut.edges().filter_by(Axis.Z), corner)
    return block(40) - cut


def tee_slotted() -> Any:
    """A T-slot along y: neck 8 wide and 8 deep, head 14 wide and 6 high below it."""
    neck = Pos(0, 0, 12) * Box(8, 60, 8, align=UP)
    head = Pos(0, 0, 6) * Box(14, 60, 6, align=UP)
    return block() - neck - head


def webbed(thickness: float) -> Any:
    """Two pockets with a web between them."""
    cut = Pos(0, 0, 10) * Box(30, 40, 10, align=UP)
    cut = fillet(cut.edges().filter_by(Axis.Z), 5)
    apart = 15 + thickness / 2
    return block() - Pos(-apart, 0, 0) * cut - Pos(apart, 0, 0) * cut


def wedge_drilled() -> Any:
    """A hole along z through a face that slopes by 20 degrees."""
    cut = Pos(0, 0, 20) * Rot(20, 0, 0) * Box(200, 200, 50, align=UP)
    return block(40) - cut - Pos(0, 0, 0) * Cylinder(3, 100)


def shaft(*lengths: tuple[float, float]) -> Any:
    """A shaft of (diameter, length) one after the other."""
    made: Any = None
    z = 0.0
    for diameter, length in lengths:
        piece = Pos(0, 0, z) * Cylinder(diameter / 2, length, align=UP)
        made = piece if made is None else made + piece
        z += length
    return made


def slitted() -> Any:
    return block(30) - Pos(0, 0, 15) * Box(2, 200, 15, align=UP)


def finned() -> Any:
    """Three cuts 4 wide and 24 deep across a block."""
    made = block(30)
    for x in (-10, 0, 10):
        made -= Pos(x, 0, 6) * Box(4, 200, 24, align=UP)
    return made


def channelled() -> Any:
    """A channel of constant width all round an island as high as the block."""
    outer = extrude(Pos(0, 0, 10) * RectangleRounded(48, 32, 12), 30)
    return block(40) - (outer - extrude(Pos(0, 0, 10) * RectangleRounded(40, 24, 8), 30))


def pinned() -> Any:
    """A round pin in a pocket, 3 away from one wall."""
    hollow = extrude(Pos(0, 0, 6) * RectangleRounded(48, 32, 6), 24)
    return block(30) - (hollow - Pos(24 - 3 - 5, 0, 6) * Cylinder(5, 24, align=UP))


def grooved() -> Any:
    """A stout turned part with a groove in its end face."""
    ring = Pos(0, 0, 16) * (Cylinder(18, 24, align=UP) - Cylinder(15, 24, align=UP))
    return Cylinder(25, 40, align=UP) - ring


def socketed() -> Any:
    """A stout turned part with a socket 8.66 across flats, 6 deep."""
    return Cylinder(10, 20, align=UP) - extrude(Pos(0, 0, 14) * RegularPolygon(5, 6), 6)


def analysed(shape: Any) -> Part:
    facts = part_facts(shape.wrapped, name="part")
    features = recognise(facts)
    process = choose_process(facts, features)
    return Part(
        file="part.step",
        number="part",
        unit="mm",
        facts=facts,
        features=features,
        process=process,
        stock=choose_stock(facts, process, "aluminium"),
    )


def findings(shape: Any) -> dict[str, list[Finding]]:
    found, failed = check_part(analysed(shape), None, None, make_settings(), RULES, TODAY)
    assert failed == ()
    by_rule: dict[str, list[Finding]] = {}
    for finding in found:
        if finding.rule != "before-a-request":
            by_rule.setdefault(finding.rule, []).append(finding)
    return by_rule


CASES: dict[str, tuple[Callable[[], Any], dict[str, list[float | None]]]] = {
    "a plain block": (block, {}),
    "a hole 8 x 24 deep": (lambda: drilled(8, 24), {}),
    "a hole 4 x 28 deep": (lambda: drilled(4, 28), {"deep-hole": [7.0]}),
    "a flat-bottomed hole 8 x 12": (
        lambda: drilled(8, 12, "flat"), {"flat-bottomed-hole": [1.5]}
    ),
    "a hole of 6.13": (lambda: drilled(6.13, 12), {"odd-sized-hole": [0.03]}),
    "the hole for M6": (lambda: drilled(5, 15), {"looks-tapped": [None]}),
    "a pocket with R5": (lambda: pocketed(5, 20), {}),
    "a pocket with sharp corners": (lambda: pocketed(0, 10), {"inside-corner-radius": [0.0]}),
    "a pocket with R2, 24 deep": (lambda: pocketed(2, 24), {"deep-narrow-pocket": [6.0]}),
    "a pocket 4 wide, R2, 24 deep": (lambda: pocketed(1.99, 24, 4), {"deep-narrow-pocket": [6.03]}),
    "a T-slot": (tee_slotted, {"undercut": [None]}),
    "a web of 2": (lambda: webbed(2.0), {}),
    "a web of 0.6": (lambda: webbed(0.6), {"thin-wall": [0.6]}),
    "a hole through a slope of 20 degrees": (wedge_drilled, {"slanted-hole": [20.0]}),
    "a slit 2 x 15 from side to side": (slitted, {}),
    "fins of 6 with 4 x 24 between them": (finned, {}),
    "a ring channel 4 wide, 30 deep": (channelled, {"deep-narrow-pocket": [7.5]}),
    "a pin 3 beside the wall of a pocket 24 deep": (pinned, {"deep-narrow-pocket": [8.0]}),
    "a groove 3 wide, 24 deep in an end": (grooved, {"deep-narrow-pocket": [8.0]}),
    "a hexagon socket": (socketed, {}),
    "a stout shaft": (lambda: shaft((20, 30), (12, 20)), {}),
    "a shaft 8 x 120": (lambda: shaft((8, 120)), {"slender-turned-part": [15.0]}),
    "a head with a pin 3 x 36": (lambda: shaft((20, 10), (3, 36)), {"slender-turned-part": [12.0]}),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_the_rules_that_must_speak_and_no_other(case: str) -> None:
    make, expected = CASES[case]
    found = findings(make())
    found.pop("stock-near-miss", None)  # depends on the catalogue, which has its own tests
    assert sorted(found) == sorted(expected)
    for rule, measured in expected.items():
        assert [f.measured for f in found[rule]] == [
            None if m is None else pytest.approx(m, rel=0.005, abs=0.001) for m in measured
        ]

"""Pairs of solids that differ by one change each, with what must be said about them.

Sizes in mm. Each case is (name, before, after, what must be said): pairs of kind, value before,
value after and number of features, and nothing that does not follow from these.
"""

from collections.abc import Callable
from typing import Any

from build123d import (
    Align,
    Axis,
    Box,
    Cone,
    Cylinder,
    GeomType,
    Plane,
    Pos,
    RegularPolygon,
    Rot,
    Sphere,
    Torus,
    chamfer,
    extrude,
    fillet,
)

Said = tuple[str, float | str | None, float | str | None, int]
Case = tuple[str, Callable[[], Any], Callable[[], Any], tuple[Said, ...]]

UP = (Align.CENTER, Align.CENTER, Align.MIN)
ANY = "any"
"""A value that is not compared (a place, told in each file's own coordinates)."""


def block(length: float = 100, width: float = 60, height: float = 20, hole: float = 5.5) -> Any:
    """A block on z = 0 with four through holes near its corners and one off its middle."""
    part = Box(length, width, height, align=UP)
    for x, y in ((-40, -20), (-40, 20), (40, -20), (40, 20)):
        part -= Pos(x, y, 0) * Cylinder(hole / 2, 200)
    return part - Pos(22, 9, 0) * Cylinder(1.5, 200)


def pocketed(
    x: float = -5, y: float = 0, length: float = 40, width: float = 20, depth: float = 8,
    corner: float = 4, height: float = 20, floor: float = 0,
) -> Any:  # fmt: skip
    """The block with a rectangular pocket from above."""
    cut = Pos(x, y, height - depth) * Box(length, width, 50, align=UP)
    if corner:
        cut = fillet(cut.edges().filter_by(Axis.Z), corner)
    if floor:
        cut = fillet(cut.faces().sort_by(Axis.Z)[0].outer_wire().edges(), floor)
    return block(height=height) - cut


def drained(depth: float = 8) -> Any:
    """The block with a pocket and a hole through its floor."""
    return pocketed(depth=depth) - Pos(-5, 0, 0) * Cylinder(3, 99)


def ribbed() -> Any:
    """The block with a sharp pocket and a rib across it, as high as the block."""
    return pocketed(corner=0) + Pos(-5, 0, 10) * Box(4, 20, 20)


def bored(
    diameter: float = 6, depth: float = 8, x: float = 0, y: float = 4, height: float = 20,
    drilled: bool = False, tilt: float = 0,
) -> Any:  # fmt: skip
    """The block with a blind hole from above."""
    cut = Pos(0, 0, 0) * Cylinder(diameter / 2, depth + 5, align=UP)
    if drilled:
        point = diameter / 2 / 1.6643  # 118 degrees: half the diameter over tan 59
        cut += Pos(0, 0, -point) * Cone(0, diameter / 2, point, align=UP)
    return block(height=height) - Pos(x, y, height) * Rot(tilt, 0, 0) * Pos(0, 0, -depth) * cut


def seated(
    bore: float = 5.5, head: float = 10, deep: float = 5, x: float = 0, height: float = 20
) -> Any:
    """The block with a counterbored through hole from above; no counterbore if `deep` is 0."""
    part = block(height=height) - Pos(x, 4, 0) * Cylinder(bore / 2, 200)
    return part - Pos(x, 4, height - deep) * Cylinder(head / 2, 50, align=UP) if deep else part


def sunk(bore: float = 4, head: float = 8, half_angle_tan: float = 1.0) -> Any:
    """The block with a countersunk through hole from above."""
    part = block() - Pos(0, 4, 0) * Cylinder(bore / 2, 200)
    deep = (head - bore) / 2 / half_angle_tan
    return part - Pos(0, 4, 20 - deep) * Cone(bore / 2, head / 2, deep, align=UP)


def slotted(width: float = 6, depth: float = 5, y: float = 4) -> Any:
    """The block with a slot from side to side."""
    return block() - Pos(0, y, 20 - depth) * Box(200, width, 50, align=UP)


def stepped(wide: float = 7, deep: float = 5) -> Any:
    """The block with a step along its right side."""
    left = (Align.MIN, Align.CENTER, Align.MIN)
    return block() - Pos(50 - wide, 0, 20 - deep) * Box(50, 200, 50, align=left)


def bossed(diameter: float = 16, high: float = 6, x: float = -5) -> Any:
    """The block milled down to 20 mm around a round boss."""
    return block() + Pos(x, 0, 20) * Cylinder(diameter / 2, high, align=UP)


def rounded(radius: float = 5, leg: float = 0) -> Any:
    """The block with its four upright edges rounded, or its upper edges chamfered."""
    part = block()
    if radius:
        part = fillet(part.edges().filter_by(Axis.Z).filter_by(GeomType.LINE), radius)
    if leg:
        part = chamfer(part.faces().sort_by(Axis.Z)[-1].outer_wire().edges(), leg)
    return part


def shaft(head: float = 24, head_long: float = 20, neck: float = 14, neck_long: float = 30) -> Any:
    """A shaft about z of two diameters."""
    part = Cylinder(head / 2, head_long, align=UP)
    return part + Pos(0, 0, head_long) * Cylinder(neck / 2, neck_long, align=UP)


def grooved(width: float = 2, bottom: float = 12, at: float = 40) -> Any:
    """The shaft with a ring groove in its neck."""
    ring = Cylinder(20, width, align=UP) - Cylinder(bottom / 2, width, align=UP)
    return shaft() - Pos(0, 0, at) * ring


def cross_drilled(diameter: float = 4, at: float = 35) -> Any:
    """The shaft with a hole square through its neck."""
    return shaft() - Pos(0, 0, at) * Rot(90, 0, 0) * Cylinder(diameter / 2, 60)


def bored_shaft(diameter: float = 6, depth: float = 15) -> Any:
    """The shaft with a blind hole along its axis from its neck's end."""
    return shaft() - Pos(0, 0, 50 - depth) * Cylinder(diameter / 2, 60, align=UP)


def nut(height: float = 8, bore: float = 8) -> Any:
    """A hexagon with a hole, 10 mm from its middle to its corners."""
    return extrude(RegularPolygon(10, 6), height) - Cylinder(bore / 2, 60)


def bracket(leg: float = 40, thick: float = 6) -> Any:
    """An L of two legs, no plane of symmetry: a hole in each leg, off its middle."""
    part = Box(60, 30, thick, align=(Align.MIN, Align.MIN, Align.MIN))
    part += Box(thick, 30, leg, align=(Align.MIN, Align.MIN, Align.MIN))
    part -= Pos(45, 8, 0) * Cylinder(3, 60)
    return part - Pos(0, 21, 25) * Rot(0, 90, 0) * Cylinder(2.25, 60)


def rows_of_holes(thickness: float = 10) -> Any:
    """A plate with twenty through holes."""
    part = Box(120, 70, thickness, align=UP)
    for x in range(-48, 49, 24):
        for y in (-24, -8, 8, 24):
            part -= Pos(x, y, 0) * Cylinder(2, 100)
    return part


def dished(radius: float = 30) -> Any:
    """The block with a shallow ball-shaped hollow."""
    return block() - Pos(-5, 0, 20 + radius - 5) * Sphere(radius)


def ring_cut(tube: float = 3) -> Any:
    """The shaft with a round-bottomed groove about its head."""
    return shaft() - Pos(0, 0, 10) * Torus(12, tube)


def lone_pocket(x: float = 0) -> Any:
    """A block whose pocket has more faces than its outside: the outside says where it lies."""
    cut = Pos(x, 0, 10) * Box(40, 30, 50, align=UP)
    return Box(80, 60, 20, align=UP) - fillet(cut.edges().filter_by(Axis.Z), 5)


def heat_sink(gap: float = 4) -> Any:
    """Nine slots from side to side, 8 mm from one to the next, none at a face of the box."""
    part = Box(80, 60, 30, align=UP)
    for n in range(9):
        part -= Pos(8 * n - 32, 0, 6) * Box(gap, 99, 50, align=UP)
    return part


def handed(step: float = 5) -> Any:
    """A plate with two holes and a step in its edge: no two of its sides are alike."""
    part = Box(60, 40, 10, align=UP) - Pos(20, 12, 0) * Cylinder(3, 60)
    part -= Pos(-20, -5, 0) * Cylinder(4, 60)
    return part - Pos(25, -15, step) * Box(10, 10, 5, align=UP)


def journal(first: float = 30) -> Any:
    """A turned shaft of three diameters, a groove in the first one 20 mm from its end."""
    part = Cylinder(10, first, align=UP) + Pos(0, 0, first) * Cylinder(12.5, 60, align=UP)
    part += Pos(0, 0, first + 60) * Cylinder(8.5, 25, align=UP)
    ring = Cylinder(11, 1.3, align=UP) - Cylinder(9.5, 1.3, align=UP)
    return part - Pos(0, 0, 20) * ring


def plugged(deep: float = 10, corner: float = 3, cable: float = 0, other: float = 0) -> Any:
    """A block with a pocket 6 mm off its side, perhaps a window through that side.

    `other` mm drilled from the opposite side.
    """
    part = Box(60, 32, 24, align=UP)
    cut = Pos(0, 2, 24 - deep) * Box(30, 16, 50, align=UP)
    part -= fillet(cut.edges().filter_by(Axis.Z), corner)
    if cable:
        part -= Pos(0, 12, 24 - 7) * Box(cable, 20, 5, align=UP)
    return part - Pos(0, -12, 9) * Rot(90, 0, 0) * Cylinder(other, 30) if other else part


def image(part: Any) -> Any:
    """The mirror image."""
    return part.mirror(Plane.YZ)


CASES: tuple[Case, ...] = (
    ("hole widened", block, lambda: block() - Pos(22, 9, 0) * Cylinder(2, 200),
     (("hole-widened", 3.0, 4.0, 1),)),
    ("four holes widened", block, lambda: block(hole=6), (("hole-widened", 5.5, 6.0, 4),)),
    ("blind hole deepened", bored, lambda: bored(depth=11), (("hole-deepened", 8.0, 11.0, 1),)),
    ("drilled hole shallower", lambda: bored(drilled=True), lambda: bored(depth=6, drilled=True),
     (("hole-shallower", 8.0, 6.0, 1),)),
    ("flat bottom instead of drilled", lambda: bored(drilled=True), bored,
     (("hole-bottom", "cone 118 deg", "flat", 1),)),
    ("blind hole now through", bored, lambda: bored(depth=20),
     (("hole-through", "blind", "through", 1),)),
    ("hole moved", bored, lambda: bored(x=3), (("hole-moved", ANY, ANY, 1),)),
    ("hole tilted", lambda: bored(depth=12), lambda: bored(depth=12, tilt=10),
     (("hole-turned", 0.0, 10.0, 1),)),
    ("hole added", block, bored, (("hole-added", None, 6.0, 1),)),
    ("hole removed", bored, block, (("hole-removed", 6.0, None, 1),)),
    ("counterbore added", lambda: seated(deep=0), seated,
     (("counterbore-added", None, 10.0, 1),)),
    ("counterbored hole added", block, seated, (("hole-added", None, 5.5, 1),)),
    ("counterbore deepened", seated, lambda: seated(deep=6),
     (("counterbore-deepened", 5.0, 6.0, 1),)),
    ("counterbore widened", seated, lambda: seated(head=11),
     (("counterbore-widened", 10.0, 11.0, 1),)),
    ("counterbored hole moved", seated, lambda: seated(x=4), (("hole-moved", ANY, ANY, 1),)),
    ("countersink larger", sunk, lambda: sunk(head=9),
     (("countersink-widened", 8.0, 9.0, 1),)),
    ("pocket added", block, pocketed, (("pocket-added", None, 8.0, 1),)),
    ("pocket deepened", pocketed, lambda: pocketed(depth=10),
     (("pocket-deepened", 8.0, 10.0, 1),)),
    ("pocket lengthened", pocketed, lambda: pocketed(x=-6, length=42),
     (("pocket-lengthened", 40.0, 42.0, 1),)),
    ("pocket moved", pocketed, lambda: pocketed(x=-2), (("pocket-moved", ANY, ANY, 1),)),
    ("pocket corners tightened", pocketed, lambda: pocketed(corner=3),
     (("corner-tightened", 4.0, 3.0, 1),)),
    ("sharp pocket corners eased", lambda: pocketed(corner=0), pocketed,
     (("corner-eased", 0.0, 4.0, 1),)),
    ("pocket deeper with a hole in its floor", drained, lambda: drained(10),
     (("pocket-deepened", 8.0, 10.0, 1),)),
    ("pocket split by a rib", lambda: pocketed(corner=0), ribbed,
     (("pocket-split", 1.0, 2.0, 1),)),
    ("slot added", block, slotted, (("slot-added", None, 6.0, 1),)),
    ("slot widened", slotted, lambda: slotted(width=8), (("slot-widened", 6.0, 8.0, 1),)),
    ("slot deepened", slotted, lambda: slotted(depth=7), (("slot-deepened", 5.0, 7.0, 1),)),
    ("step added", block, stepped, (("step-added", None, 5.0, 1),)),
    ("step deepened", stepped, lambda: stepped(deep=6), (("step-deepened", 5.0, 6.0, 1),)),
    ("boss added", block, bossed, (("boss-added", None, 6.0, 1),)),
    ("boss higher", bossed, lambda: bossed(high=9), (("boss-higher", 6.0, 9.0, 1),)),
    ("edges rounded", block, rounded, (("fillet-added", None, 5.0, 4),)),
    ("rounded edges larger", rounded, lambda: rounded(6), (("round-larger", 5.0, 6.0, 4),)),
    ("edges chamfered", block, lambda: rounded(0, 1), (("chamfer-added", None, 1.0, 4),)),
    ("chamfers wider", lambda: rounded(0, 1), lambda: rounded(0, 1.5),
     (("chamfer-widened", 1.0, 1.5, 4),)),
    ("twenty holes in a thicker plate", rows_of_holes, lambda: rows_of_holes(12),
     (("box-grew", 10.0, 12.0, 1),)),
    ("block longer", block, lambda: block(length=110), (("box-grew", 100.0, 110.0, 1),)),
    ("block narrower", block, lambda: block(width=58), (("box-shrank", 60.0, 58.0, 1),)),
    ("block with a pocket thicker", pocketed, lambda: pocketed(height=23),
     (("box-grew", 20.0, 23.0, 1),)),
    ("shaft with a longer neck", shaft, lambda: shaft(neck_long=35),
     (("boss-higher", 30.0, 35.0, 1),)),
    ("shaft with a longer head", shaft, lambda: shaft(head_long=25),
     (("box-grew", 50.0, 55.0, 1),)),
    ("shaft of a larger diameter", shaft, lambda: shaft(head=26), (("box-grew", 24.0, 26.0, 1),)),
    ("neck thinner", shaft, lambda: shaft(neck=12), (("diameter-smaller", 14.0, 12.0, 1),)),
    ("shoulder moved", shaft, lambda: shaft(head_long=23, neck_long=27),
     (("face-moved", 0.0, 3.0, 1),)),
    ("groove added", shaft, grooved, (("groove-added", None, 2.0, 1),)),
    ("groove widened", grooved, lambda: grooved(width=2.5), (("groove-widened", 2.0, 2.5, 1),)),
    ("groove deepened", grooved, lambda: grooved(bottom=11), (("groove-deepened", 1.0, 1.5, 1),)),
    ("groove moved", grooved, lambda: grooved(at=35), (("groove-moved", ANY, ANY, 1),)),
    ("cross hole added", shaft, cross_drilled, (("hole-added", None, 4.0, 1),)),
    ("cross hole widened", cross_drilled, lambda: cross_drilled(5),
     (("hole-widened", 4.0, 5.0, 1),)),
    ("bore deepened", bored_shaft, lambda: bored_shaft(depth=18),
     (("hole-deepened", 15.0, 18.0, 1),)),
    ("nut higher", nut, lambda: nut(10), (("box-grew", 8.0, 10.0, 1),)),
    ("nut with a wider bore", nut, lambda: nut(bore=9), (("hole-widened", 8.0, 9.0, 1),)),
    ("bracket mirrored", bracket, lambda: image(bracket()),
     (("mirrored", "one hand", "other hand", 1),)),
    ("bracket with a longer leg", bracket, lambda: bracket(45), (("box-grew", 40.0, 45.0, 1),)),
    ("pocket with most of the faces moved", lone_pocket, lambda: lone_pocket(5),
     (("pocket-moved", ANY, ANY, 1),)),
    ("slots of a heat sink widened", heat_sink, lambda: heat_sink(5),
     (("slot-widened", 4.0, 5.0, 9),)),
    ("handed plate mirrored", handed, lambda: handed().mirror(Plane.XZ),
     (("mirrored", "one hand", "other hand", 1),)),
    ("metre for millimetre", block, lambda: block().scale(1000),
     (("unit-changed", 1.0, 1000.0, 1),)),
)  # fmt: skip


def worked(
    corner: float = 4, deep: float = 8, bore: float = 6, slot: float = 0, height: float = 20,
    length: float = 100, head: float = 10,
) -> Any:  # fmt: skip
    """A block with a pocket, a bore beside it, a counterbored hole and perhaps a slot."""
    part = block(length=length, height=height)
    cut = Pos(-12, 0, height - deep) * Box(40, 24, 50, align=UP)
    part -= fillet(cut.edges().filter_by(Axis.Z), corner)
    part -= Pos(22, -9, height - 10) * Cylinder(bore / 2, 50, align=UP)
    part -= Pos(30, 0, 0) * Cylinder(2.75, 200)
    part -= Pos(30, 0, height - 5) * Cylinder(head / 2, 50, align=UP)
    return part - Pos(0, 22, height - 4) * Box(300, slot, 50, align=UP) if slot else part


TOGETHER: tuple[Case, ...] = (
    ("corners and bore", worked, lambda: worked(corner=3, bore=7),
     (("corner-tightened", 4.0, 3.0, 1), ("hole-widened", 6.0, 7.0, 1))),
    ("pocket and slot", worked, lambda: worked(deep=10, slot=5),
     (("pocket-deepened", 8.0, 10.0, 1), ("slot-added", None, 5.0, 1))),
    ("longer and counterbore", worked, lambda: worked(length=110, head=11),
     (("box-grew", 100.0, 110.0, 1), ("counterbore-widened", 10.0, 11.0, 1))),
    ("bore gone narrower, counterbore wider", worked, lambda: worked(bore=5, head=12),
     (("counterbore-widened", 10.0, 12.0, 1), ("hole-narrowed", 6.0, 5.0, 1))),
    ("thicker and corners", worked, lambda: worked(height=23, corner=5),
     (("box-grew", 20.0, 23.0, 1), ("corner-eased", 4.0, 5.0, 1))),
    ("pocket, bore and slot", lambda: worked(slot=5), lambda: worked(slot=7, deep=9, bore=5),
     (("slot-widened", 5.0, 7.0, 1), ("pocket-deepened", 8.0, 9.0, 1),
      ("hole-narrowed", 6.0, 5.0, 1))),
    ("corners, counterbore and slot", lambda: worked(slot=5), lambda: worked(corner=3, head=11),
     (("corner-tightened", 4.0, 3.0, 1), ("counterbore-widened", 10.0, 11.0, 1),
      ("slot-removed", 5.0, None, 1))),
    ("longer, thicker and a bore", worked, lambda: worked(length=110, height=22, bore=7),
     (("box-grew", 100.0, 110.0, 1), ("box-grew", 20.0, 22.0, 1), ("hole-widened", 6.0, 7.0, 1))),
)  # fmt: skip
"""Two and three changes at once; the order in which they are said is not asked for."""

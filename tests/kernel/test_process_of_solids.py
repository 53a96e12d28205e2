"""Process and stock of solids made by build123d whose way of making is plain to a machinist."""

import math

import pytest
from msgspec.structs import replace

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.planning.process import choose_process
from dfmcheck.planning.stock import choose_stock

b3d = pytest.importorskip("build123d")

LOW = (b3d.Align.CENTER, b3d.Align.CENTER, b3d.Align.MIN)


def cylinder(diameter, height, z=0.0, x=0.0, y=0.0):
    return b3d.Pos(x, y, z) * b3d.Cylinder(diameter / 2, height, align=LOW)


def box(x, y, z, at=0.0):
    return b3d.Pos(0, 0, at) * b3d.Box(x, y, z, align=LOW)


def hexagon(across_flats, height):
    return b3d.extrude(b3d.RegularPolygon(across_flats / math.sqrt(3), 6), height)


def revolved(*points):
    face = b3d.make_face(b3d.Polyline(*points, close=True))
    return b3d.revolve(face, b3d.Axis.Y)


def ring_of_holes(diameter, depth, count, radius):
    angles = [2 * math.pi * k / count for k in range(count)]
    return [
        cylinder(diameter, depth, 0, radius * math.cos(a), radius * math.sin(a)) for a in angles
    ]


def face_groove():
    return cylinder(60, 10) - (cylinder(40, 3, 7) - cylinder(30, 3, 7)) - cylinder(12, 10)


def plate_of_holes():
    grid = [(-60 + 13 * i, -40 + 15 * j) for i in range(10) for j in range(6)]
    return box(150, 100, 10) - [cylinder(6, 10, 0, x, y) for x, y in grid]


def shaft_with_flats():
    part = cylinder(20, 50) - b3d.Pos(0, 0, 40) * b3d.Rot(90, 0, 0) * b3d.Cylinder(3, 60)
    return part - [b3d.Pos(0, s * 13, 0) * b3d.Box(40, 10, 15, align=LOW) for s in (-1, 1)]


def hexagon_nut():
    return hexagon(13, 6.5) - cylinder(6.8, 6.5)


def keyed_shaft():
    slot = b3d.extrude(b3d.Rot(0, 0, 90) * b3d.SlotOverall(22, 8), 10)
    return cylinder(25, 80) - b3d.Pos(0, 0, 40) * b3d.Rot(-90, 0, 0) * b3d.Pos(0, 0, 9) * slot


def toothed_wheel():
    gaps = [
        b3d.Rot(0, 0, 360 * k / 20) * b3d.Pos(20, 0, 0) * b3d.Box(6, 3.5, 60) for k in range(20)
    ]
    return cylinder(40, 10) - gaps + cylinder(16, 10, 10) - cylinder(8, 20)


def socket_head():
    return cylinder(13, 8) + cylinder(8, 30, 8) - hexagon(6, 4)


def round_plate():
    return cylinder(200, 6) - ring_of_holes(8, 6, 12, 80) - ring_of_holes(5, 6, 8, 50)


def half_ring():
    return (cylinder(60, 20) - cylinder(40, 20)) - b3d.Pos(0, -50, 0) * b3d.Box(200, 100, 100)


def dome():
    lines = [b3d.Line((0, 0), (20, 0)), b3d.Line((20, 0), (20, 5)), b3d.Line((0, 18), (0, 0))]
    spline = b3d.Spline((20, 5), (12, 14), (0, 18))
    return b3d.revolve(b3d.make_face([*lines[:2], spline, lines[2]]), b3d.Axis.Y)


def block(x, y, z, at_x=0.0, at_y=0.0, at_z=0.0):
    return b3d.Pos(at_x, at_y, at_z) * b3d.Box(x, y, z, align=LOW)


def tee_block():
    return block(60, 80, 30) - block(10, 80, 30, 0, 0, 15) - block(18, 80, 7, 0, 0, 12)


def dovetail_block():
    points = [(-30, 0), (30, 0), (30, 30), (8, 30), (15, 15), (-15, 15), (-8, 30), (-30, 30)]
    face = b3d.make_face(b3d.Polyline(*points, close=True))
    return b3d.Pos(0, 40, 0) * b3d.Rot(90, 0, 0) * b3d.extrude(face, 80)


def i_section():
    return block(60, 80, 30) - [block(20, 80, 20, x, 0, 5) for x in (-25, 25)]


def square_shaft():
    return block(20, 20, 60, 0, 0, 20) + cylinder(12, 20) + cylinder(12, 20, 80)


def hub_with_keyway():
    return cylinder(40, 20) - cylinder(15, 20) - block(5, 5, 20, 0, 7.3)


TRUTH = {
    # name: (solid, process, stock form, words that the reason must hold)
    "disc with a face groove": (face_groove, "turned", "round", "round about one axis"),
    "pin with a hexagon head": (
        lambda: hexagon(13, 6) + cylinder(8, 30, 6), "turned", "hexagon", "hexagon bar",
    ),
    "hexagon no mill sells": (
        lambda: hexagon(13.7, 6) + cylinder(8, 30, 6), "turned-with-milling", "round", "6 faces",
    ),
    "hexagon nut": (hexagon_nut, "turned", "hexagon", "hexagon bar"),
    "flanged tube": (
        lambda: cylinder(50, 5) + cylinder(30, 40, 5) - cylinder(22, 45), "turned", "round", "",
    ),
    "thin ring": (lambda: cylinder(40, 4) - cylinder(36, 4), "turned", "tube", ""),
    "washer": (lambda: cylinder(24, 2.5) - cylinder(13, 2.5), "turned", "round", ""),
    "V-belt pulley": (
        lambda: revolved((0, 0), (40, 0), (40, 3), (32, 6), (32, 12), (40, 15), (40, 18), (0, 18)),
        "turned", "round", "",
    ),
    "ball": (lambda: b3d.Sphere(10), "turned", "round", ""),
    "square shaft with journals": (
        square_shaft, "turned-with-milling", "square", "square bar 20 mm",
    ),
    "square flange with a short boss": (
        lambda: box(60, 60, 10) + cylinder(40, 30, 10) - cylinder(20, 40), "milled", "plate",
        "flange",
    ),
    "hub with a keyway": (
        hub_with_keyway, "turned-with-milling", "round", "keyway in the bore (slotted or broached",
    ),
    "dome of a spline": (dome, "turned", "round", ""),
    "plate with many holes": (plate_of_holes, "milled", "plate", "round about one line"),
    "square block with one big bore": (
        lambda: box(60, 60, 40) - cylinder(45, 40), "milled", "plate", "round about one line",
    ),
    "block with a round boss": (
        lambda: box(100, 100, 20) + cylinder(60, 25, 20), "milled", "plate", "",
    ),
    "knuckle with round ends": (
        lambda: b3d.extrude(b3d.SlotCenterToCenter(30, 20), 10) - cylinder(8, 10, 0, 15),
        "milled", None, "",
    ),
    "half ring": (half_ring, "milled", None, ""),
    "round plate drilled all over": (round_plate, "milled", "plate", "thin disc"),
    "cross hole and flats": (shaft_with_flats, "turned-with-milling", "round", "hole"),
    "flange with a ring of holes": (
        lambda: cylinder(80, 10) + cylinder(40, 20, 10) - cylinder(25, 30)
        - ring_of_holes(6, 10, 6, 30),
        "turned-with-milling", "round", "6 holes",
    ),
    "shaft with a keyway": (keyed_shaft, "turned-with-milling", "round", "pocket"),
    "hexagon socket": (socket_head, "turned-with-milling", "round", "hexagon socket 6 mm"),
    "toothed wheel": (toothed_wheel, "turned-with-milling", "round", ""),
    "eccentric": (
        lambda: cylinder(20, 30) + cylinder(14, 15, 30, 3), "turned-with-milling", "round",
        "3 mm off the axis",
    ),
    "cam with its bore off the middle": (
        lambda: cylinder(40, 10) - cylinder(12, 10, 0, 6), "turned-with-milling", "round", "hole",
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def facts():
    made = {}

    def make(name, solid=None):
        if name not in made:
            made[name] = part_facts((solid or TRUTH[name][0]()).wrapped, name=name)
        return made[name]

    return make


@pytest.mark.parametrize("name", TRUTH)
def test_process_and_form_of_stock(name, facts):
    _, process, form, words = TRUTH[name]
    part = facts(name)
    features = recognise(part)
    choice = choose_process(part, features)
    assert choice.process == process, choice.reason
    assert words in choice.reason
    assert (choice.axis is None) == (process == "milled")
    stock = choose_stock(part, choice, "aluminium")
    assert stock is not None
    assert form is None or stock.form == form, stock.label
    assert stock.volume_mm3 > part.volume_mm3
    assert stock.removed_mm3 == pytest.approx(stock.volume_mm3 - part.volume_mm3)


@pytest.mark.parametrize(
    "name",
    ["cross hole and flats", "pin with a hexagon head", "plate with many holes", "eccentric"],
)
def test_a_moved_solid_is_made_alike(name, facts):
    here = facts(name)
    solid = b3d.Pos(31, -17, 44) * b3d.Rot(23, 51, 77) * TRUTH[name][0]()
    there = facts(f"{name}, moved", solid)
    choices = [choose_process(p, recognise(p)) for p in (here, there)]
    assert choices[0].process == choices[1].process
    assert choices[0].reason == choices[1].reason
    assert len(choices[0].setup_directions) == len(choices[1].setup_directions)
    stocks = [choose_stock(p, c, "steel") for p, c in zip((here, there), choices, strict=True)]
    assert stocks[0] is not None
    assert stocks[1] is not None
    assert stocks[0].label == stocks[1].label
    assert stocks[0].volume_mm3 == pytest.approx(stocks[1].volume_mm3, rel=2e-3)


def test_a_spline_of_revolution_without_its_axis_is_still_turned(facts):
    """Some exports give a turned spline as a plain surface: the volume tells."""
    part = facts("dome of a spline")
    bare = tuple(
        replace(f, swept=None, axis=None, axis_point=None) if f.surface == "freeform" else f
        for f in part.faces
    )
    choice = choose_process(replace(part, faces=bare), ())
    assert choice.process == "turned"


def test_directions_of_milling_cover_what_each_side_holds(facts):
    solid = (
        box(60, 40, 20)
        - cylinder(5, 20)
        - b3d.Pos(0, 0, 10)
        * b3d.Rot(90, 0, 0)
        * (b3d.Pos(20, 0, 15) * b3d.Cylinder(2, 10, align=LOW))
    )
    part = facts("block drilled from two sides", solid)
    choice = choose_process(part, recognise(part))
    assert choice.process == "milled"
    found = {tuple(round(x) for x in d) for d in choice.setup_directions}
    assert (0, -1, 0) in found
    assert found & {(0, 0, 1), (0, 0, -1)}


def test_the_front_of_the_bar_is_the_slim_end(facts):
    part = facts("pin", cylinder(10, 4) + cylinder(6, 26, 4))
    choice = choose_process(part, recognise(part))
    assert choice.axis == pytest.approx((0, 0, 1))
    assert choice.setup_directions == (choice.axis,)


@pytest.mark.parametrize(
    ("solid", "sides"),
    [(tee_block, ()), (dovetail_block, ()), (i_section, ((1, 0, 0), (-1, 0, 0)))],
    ids=["tee", "dovetail", "i-section"],
)
@pytest.mark.parametrize("turn", [(0, 0, 0), (23, 51, 77)], ids=["as drawn", "turned"])
def test_long_profiles_lie_flat_and_are_not_milled_standing_on_end(solid, sides, turn, facts):
    rotated = b3d.Rot(*turn)
    part = facts(f"{solid.__name__} {turn}", rotated * solid())
    found = choose_process(part, recognise(part)).setup_directions
    wanted = [tuple((rotated * b3d.Pos(*d)).position) for d in ((0, 0, 1), (0, 0, -1), *sides)]
    assert len(found) == len(wanted)
    for d in found:
        assert any(math.dist(d, w) < 1e-3 for w in wanted)


@pytest.mark.parametrize("pieces", [1, 2, 6])
def test_faces_cut_into_pieces_leave_the_directions(pieces, facts):
    """Area weighs, not the count of faces: one end of the bar in pieces is no reason to start."""
    part = facts("flat block", block(60, 40, 15))
    end = max(part.faces, key=lambda f: f.centroid[0])
    more = [
        replace(end, index=len(part.faces) + k, area_mm2=end.area_mm2 / pieces)
        for k in range(pieces - 1)
    ]
    shared = [
        replace(f, area_mm2=f.area_mm2 / pieces) if f.index == end.index else f for f in part.faces
    ]
    cut = replace(part, faces=(*shared, *more))
    whole = choose_process(part, ()).setup_directions
    assert choose_process(cut, ()).setup_directions == whole
    assert abs(whole[0][2]) == pytest.approx(1.0)


@pytest.mark.parametrize("solid", [hub_with_keyway, toothed_wheel])
def test_keyways_and_gaps_of_teeth_need_no_setup_of_their_own(solid, facts):
    part = facts(solid.__name__, solid())
    choice = choose_process(part, recognise(part))
    assert choice.axis is not None
    for d in choice.setup_directions:
        assert abs(sum(a * b for a, b in zip(d, choice.axis, strict=True))) > 0.999


def test_a_keyway_in_a_block_is_cut_along_its_bore(facts):
    part = facts("bored block", block(60, 60, 20) - cylinder(15, 20) - block(5, 5, 20, 0, 7.3))
    choice = choose_process(part, recognise(part))
    assert choice.process == "milled"
    assert len(choice.setup_directions) == 2
    assert "slotted or broached" in choice.reason

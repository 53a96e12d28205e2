"""Cutting tools with known names: what each of their faces leaves in a part.

A tool is a solid that is cut away (or added, for bosses), in its own frame: it enters along -z
through the plane z = 0. Each face of the tool says which feature it makes; the answer thus comes
from how the part is made and from nothing in the recogniser.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from build123d import (
    Axis,
    Box,
    BuildLine,
    BuildSketch,
    Circle,
    Cone,
    Cylinder,
    Face,
    GeomType,
    Location,
    Plane,
    Polygon,
    Polyline,
    Pos,
    RectangleRounded,
    RegularPolygon,
    Rot,
    SlotCenterToCenter,
    Solid,
    Sphere,
    extrude,
    fillet,
    make_face,
)

OVER = 2.0
"""How far tools reach over open sides, in mm."""


Sizes = dict[str, float | bool | str]


@dataclass
class Tool:
    """A solid and the name of the feature that each of its faces makes.

    `names` go with `solid.faces()`; `closes` marks those that close the tool's far end: if none
    of them is left in the part, the feature ends open. `sizes` are what the feature is expected to
    measure; `add` marks metal that is put on instead of cut away.
    """

    solid: Solid
    names: list[str]
    closes: list[bool]
    sizes: Sizes = field(default_factory=dict)
    kind: str = ""
    add: bool = False

    def placed(self, where: Location) -> "Tool":
        """The tool at a place; faces keep their order and so their names."""
        return replace(self, solid=where * self.solid)


def _tool(
    solid: Solid, name: Callable[[Face], str] | str, kind: str, sizes: Sizes, *,
    add: bool = False, end: str = "down",
) -> Tool:  # fmt: skip
    names = [name if isinstance(name, str) else name(f) for f in solid.faces()]
    return Tool(solid, names, [_closes(f, end) for f in solid.faces()], sizes, kind, add)


def _closes(face: Face, end: str) -> bool:
    """Whether a face lies at the tool's lower end, or at its end towards -x."""
    n = face.normal_at()
    return n.Z < -0.3 if end == "down" else n.X < -0.3


def _solid(shape: object) -> Solid:
    solids = shape.solids()  # type: ignore[attr-defined]
    assert len(solids) == 1
    return solids[0]


# ---- holes


def hole(diameter: float, depth: float, *, through: bool = False, bottom: str = "flat") -> Tool:
    """A round hole; the bottom flat, a cone of 118 degrees, or round."""
    r = diameter / 2
    top = OVER
    length = depth + (OVER if through else 0.0)
    body = Pos(0, 0, (top - length) / 2) * Cylinder(r, length + top)
    if not through and bottom == "cone":
        height = r / math.tan(math.radians(59))
        body += Pos(0, 0, -depth - height / 2) * Cone(0.0, r, height)
    elif not through and bottom == "round":
        body += Pos(0, 0, -depth) * Sphere(r)
    name = "hole through" if through else "hole blind"
    sizes: Sizes = {"diameter_mm": diameter, "through": through}
    if not through:
        sizes |= {"depth_mm": depth}
    return _tool(_solid(body), name, "hole", sizes)


def counterbored(diameter: float, depth: float, wide: float, seat: float) -> Tool:
    """A through hole with a counterbore."""
    body = _solid(
        Pos(0, 0, (OVER - depth - OVER) / 2) * Cylinder(diameter / 2, depth + 2 * OVER)
        + Pos(0, 0, (OVER - seat) / 2) * Cylinder(wide / 2, seat + OVER)
    )

    def name(face: Face) -> str:
        if face.geom_type == GeomType.PLANE:
            return "counterbore"
        return "counterbore" if face.radius > (diameter + wide) / 4 else "hole through"

    return _tool(body, name, "hole", {"diameter_mm": diameter, "through": True})


def countersunk(diameter: float, depth: float, wide: float, angle: float) -> Tool:
    """A through hole with a countersink."""
    half = math.radians(angle / 2)
    height = (wide - diameter) / 2 / math.tan(half)
    over = OVER * math.tan(half)
    cone = Pos(0, 0, (OVER - height) / 2) * Cone(diameter / 2, wide / 2 + over, height + OVER)
    shaft = Pos(0, 0, -depth / 2) * Cylinder(diameter / 2, depth + 2 * OVER)

    def name(face: Face) -> str:
        return "countersink" if face.geom_type == GeomType.CONE else "hole through"

    sizes: Sizes = {"diameter_mm": diameter, "through": True}
    return _tool(_solid(shaft + cone), name, "hole", sizes)


# ---- pockets


def _prism(sketch: object, depth: float, *, through: bool) -> Solid:
    low = depth + (OVER if through else 0.0)
    return _solid(Pos(0, 0, -low) * extrude(sketch, low + OVER))  # type: ignore[arg-type]


def _with_floor_round(body: Solid, depth: float, radius: float) -> Solid:
    edges = [e for e in body.edges() if abs(e.bounding_box().max.Z + depth) < 1e-6]
    return _solid(fillet(edges, radius)) if radius > 0.0 else body


def _pocket_name(corner: float, kind: str) -> Callable[[Face], str]:
    """Arcs of the corner radius and all faces of the floor's edge are fillets."""

    def name(face: Face) -> str:
        if face.geom_type == GeomType.PLANE:
            return kind
        if face.geom_type == GeomType.CYLINDER:
            upright = abs(face.axis_of_rotation.direction.Z) > 0.99
            return "fillet inside" if not upright or abs(face.radius - corner) < 1e-6 else kind
        return "fillet inside"

    return name


def rectangular_pocket(
    length: float, width: float, depth: float, corner: float = 0.0, floor: float = 0.0,
    *, through: bool = False,
) -> Tool:  # fmt: skip
    """A rectangular pocket, with rounded corners and floor edge where asked for."""
    with BuildSketch() as sketch:
        if corner > 0.0:
            RectangleRounded(length, width, corner)
        else:
            Polygon(*_corners(length, width), align=None)
    kind = "pocket through" if through else "pocket"
    body = _prism(sketch.sketch, depth, through=through)
    if not through:
        body = _with_floor_round(body, depth, floor)
    sizes: Sizes = {
        "length_mm": max(length, width), "width_mm": min(length, width), "through": through,
        "corner_radius_mm": corner,
    }  # fmt: skip
    if not through:
        sizes["depth_mm"] = depth
    return _tool(body, _pocket_name(corner, kind), "pocket", sizes)


def _corners(length: float, width: float) -> list[tuple[float, float]]:
    a, b = length / 2, width / 2
    return [(-a, -b), (a, -b), (a, b), (-a, b)]


def polygon_pocket(sides: int, radius: float, depth: float, *, through: bool = False) -> Tool:
    """A pocket with a regular outline."""
    with BuildSketch() as sketch:
        RegularPolygon(radius, sides)
    kind = "pocket through" if through else "pocket"
    return _tool(
        _prism(sketch.sketch, depth, through=through), kind, "pocket", {"through": through}
    )


def obround_pocket(between: float, width: float, depth: float, *, through: bool = False) -> Tool:
    """A pocket with two straight walls and two half-round ends."""
    with BuildSketch() as sketch:
        SlotCenterToCenter(between, width)
    kind = "pocket through" if through else "pocket"
    sizes: Sizes = {"width_mm": width, "through": through, "outline": "obround"}
    return _tool(_prism(sketch.sketch, depth, through=through), kind, "pocket", sizes)


def shaped_pocket(
    points: Iterable[tuple[float, float]], depth: float, corner: float = 0.0,
    *, through: bool = False,
) -> Tool:  # fmt: skip
    """A pocket with any straight-sided outline (L, T, cross), inside corners rounded if asked."""
    outline = list(points)
    with BuildSketch() as sketch:
        with BuildLine():
            Polyline(*outline, close=True)
        make_face()
    body = _prism(sketch.sketch, depth, through=through)
    kind = "pocket through" if through else "pocket"
    if corner > 0.0:
        upright = [e for e in body.edges().filter_by(Axis.Z) if _bulges(e, outline)]
        body = _solid(fillet(upright, corner))
    return _tool(body, _pocket_name(corner, kind), "pocket", {"through": through})


def _bulges(edge: object, outline: list[tuple[float, float]]) -> bool:
    """True for a corner of the outline where the tool is convex, so that the part is hollow."""
    p = edge.center()  # type: ignore[attr-defined]
    n = len(outline)
    area = sum(
        outline[k][0] * outline[(k + 1) % n][1] - outline[(k + 1) % n][0] * outline[k][1]
        for k in range(n)
    )
    for k, (x, y) in enumerate(outline):
        if math.hypot(p.X - x, p.Y - y) < 1e-6:
            (ax, ay), (bx, by) = outline[k - 1], outline[(k + 1) % n]
            return ((x - ax) * (by - y) - (y - ay) * (bx - x)) * area > 0.0
    return False


def pocket_with_island(
    length: float, width: float, depth: float, corner: float, island: float, *, round_island: bool
) -> Tool:
    """A rectangular pocket with metal left standing in the middle: a boss."""
    with BuildSketch() as sketch:
        RectangleRounded(length, width, corner)
    body = _prism(sketch.sketch, depth, through=False)
    pillar = Cylinder(island / 2, 4 * depth) if round_island else Box(island, island, 4 * depth)
    inner = _pocket_name(corner, "pocket")

    def name(face: Face) -> str:
        c = face.center()
        near = math.hypot(c.X, c.Y) < island * 0.75 and abs(face.normal_at().Z) < 0.5
        return "boss" if near else inner(face)

    return _tool(_solid(body - pillar), name, "pocket", {"through": False, "depth_mm": depth})


# ---- slots


def slot(width: float, depth: float, length: float, floor: float = 0.0) -> Tool:
    """A straight slot through the whole block along x."""
    body = _solid(Pos(0, 0, (OVER - depth) / 2) * Box(length + 2 * OVER, width, depth + OVER))
    if floor > 0.0:
        low = [e for e in body.edges().filter_by(Axis.X) if abs(e.center().Z + depth) < 1e-6]
        body = _solid(fillet(low, floor))
    sizes: Sizes = {"width_mm": width, "depth_mm": depth, "through": True}
    return _tool(body, _pocket_name(-1.0, "slot"), "slot", sizes)


def vee_slot(width: float, depth: float, length: float) -> Tool:
    """A V-shaped slot along x."""
    slope = width / 2 / depth
    half = width / 2 + OVER * slope
    return _along_x(
        [(-half, OVER), (half, OVER), (0.0, -depth)], length, "slot", {"profile": "triangular"}
    )


def round_slot(radius: float, length: float) -> Tool:
    """A half-round slot along x."""
    body = _solid(Rot(0, 90, 0) * Cylinder(radius, length + 2 * OVER))
    return _tool(body, "slot", "slot", {"profile": "round", "through": True})


def tee_slot(neck: float, wide: float, depth: float, head: float, length: float) -> Tool:
    """A T-slot along x: neck above, wide below."""
    n, w = neck / 2, wide / 2
    outline = [
        (-n, OVER), (n, OVER), (n, head - depth), (w, head - depth), (w, -depth), (-w, -depth),
        (-w, head - depth), (-n, head - depth),
    ]  # fmt: skip
    return _along_x(outline, length, "slot", {"profile": "tee"})


def dovetail(top: float, bottom: float, depth: float, length: float) -> Tool:
    """A dovetail slot along x, wider below."""
    a, b = top / 2, bottom / 2
    over = (b - a) / depth * OVER
    outline = [(-a + over, OVER), (a - over, OVER), (b, -depth), (-b, -depth)]
    return _along_x(outline, length, "slot", {"profile": "dovetail"})


def _along_x(
    outline: list[tuple[float, float]], length: float, kind: str, sizes: Sizes
) -> Tool:  # fmt: skip
    with BuildSketch(Plane.YZ) as sketch:
        with BuildLine():
            Polyline(*outline, close=True)
        make_face()
    body = _solid(
        Pos(-length / 2 - OVER, 0, 0) * extrude(sketch.sketch, length + 2 * OVER, dir=(1, 0, 0))
    )
    return _tool(body, kind, kind, sizes | {"through": True})


def blind_slot(width: float, depth: float, length: float, *, end: str = "square") -> Tool:
    """A slot from the edge x = 0 towards -x; its end square, rounded in its corners, or round."""
    half = width / 2
    with BuildSketch() as sketch:
        Polygon((OVER, -half), (OVER, half), (-length, half), (-length, -half), align=None)
    body = _prism(sketch.sketch, depth, through=False)
    corner = {"square": 0.0, "corners": width / 6, "round": half}[end]
    if end == "round":
        with BuildSketch() as sketch:
            Polygon(
                (OVER, -half),
                (OVER, half),
                (half - length, half),
                (half - length, -half),
                align=None,
            )
        body = _solid(
            _prism(sketch.sketch, depth, through=False)
            + _prism(_disc(half, half - length), depth, through=False)
        )
    elif corner > 0.0:
        inner = [e for e in body.edges().filter_by(Axis.Z) if e.center().X < 0.0]
        body = _solid(fillet(inner, corner))
    name = _pocket_name(corner if end == "corners" else -1.0, "slot blind")
    sizes: Sizes = {"width_mm": width, "depth_mm": depth, "through": False}
    return _tool(body, name, "slot", sizes, end="back")


def _disc(radius: float, x: float) -> object:
    with BuildSketch() as sketch:
        Circle(radius)
    return Pos(x, 0, 0) * sketch.sketch


# ---- steps


def step(width: float, depth: float, length: float, slope: float = 0.0) -> Tool:
    """A step along the edge x = 0 (metal at x < 0 goes), through along y; its wall may lean."""
    lean = math.tan(math.radians(slope)) * (length / 2 + OVER)
    with BuildSketch() as sketch:
        Polygon(
            (OVER, -length / 2 - OVER), (OVER, length / 2 + OVER),
            (-width - lean, length / 2 + OVER), (-width + lean, -length / 2 - OVER), align=None,
        )  # fmt: skip
    body = _prism(sketch.sketch, depth, through=False)
    sizes: Sizes = {"through": True}
    return _tool(body, "step", "step", sizes)


def corner_step(length: float, width: float, depth: float, radius: float = 0.0) -> Tool:
    """A step in the corner x = y = 0 (metal at x, y < 0 goes)."""
    with BuildSketch() as sketch:
        Polygon((OVER, OVER), (-length, OVER), (-length, -width), (OVER, -width), align=None)
    body = _prism(sketch.sketch, depth, through=False)
    if radius > 0.0:
        inner = [e for e in body.edges().filter_by(Axis.Z) if e.center().X < 0 and e.center().Y < 0]
        body = _solid(fillet(inner, radius))
    name = _pocket_name(radius or -1.0, "step blind")
    return _tool(body, name, "step", {"through": False, "depth_mm": depth})


# ---- bosses


def round_boss(diameter: float, height: float) -> Tool:
    """A round boss on z = 0; its top belongs to it."""
    body = _solid(Pos(0, 0, height / 2 - 0.5) * Cylinder(diameter / 2, height + 1.0))
    sizes: Sizes = {"diameter_mm": diameter, "height_mm": height}
    return _tool(body, "boss", "boss", sizes, add=True)


def square_boss(length: float, width: float, height: float) -> Tool:
    """A rectangular boss on z = 0; its top belongs to it."""
    body = _solid(Pos(0, 0, height / 2 - 0.5) * Box(length, width, height + 1.0))
    sizes: Sizes = {"height_mm": height}
    return _tool(body, "boss", "boss", sizes, add=True)

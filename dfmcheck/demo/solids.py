"""Solids from the kernel's own building blocks, lengths in mm; imported when parts are made."""

import math
from collections.abc import Sequence
from typing import Any

from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Transform,
)
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakePrism, BRepPrimAPI_MakeRevol
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Shape

Point = tuple[float, float, float]
Profile = Sequence[tuple[float, float]]


def _edge(a: Point, b: Point) -> Any:
    return BRepBuilderAPI_MakeEdge(gp_Pnt(*a), gp_Pnt(*b)).Edge()


def _arc(a: Point, middle: Point, b: Point) -> Any:
    arc = GC_MakeArcOfCircle(gp_Pnt(*a), gp_Pnt(*middle), gp_Pnt(*b)).Value()
    return BRepBuilderAPI_MakeEdge(arc).Edge()


def _face(edges: Sequence[Any]) -> TopoDS_Shape:
    wire = BRepBuilderAPI_MakeWire()
    for edge in edges:
        wire.Add(edge)
    return BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()


def prism(outline: Profile, low: float, high: float) -> TopoDS_Shape:
    """A polygon in x and y, drawn from z = low to high."""
    points: list[Point] = [(x, y, low) for x, y in outline]
    edges = [_edge(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)]
    return BRepPrimAPI_MakePrism(_face(edges), gp_Vec(0.0, 0.0, high - low)).Shape()


def block(x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> TopoDS_Shape:
    """A block between limits."""
    return prism([(x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[0], y[1])], *z)


def rounded(
    x: tuple[float, float], y: tuple[float, float], z: tuple[float, float], radius: float
) -> TopoDS_Shape:
    """A block whose four edges along z are rounded."""
    (x0, x1), (y0, y1), low, r = x, y, z[0], radius
    edges: list[Any] = []
    corners = (
        (x1 - r, y0 + r, -90),
        (x1 - r, y1 - r, 0),
        (x0 + r, y1 - r, 90),
        (x0 + r, y0 + r, 180),
    )
    ends = [
        [_on(cx, cy, r, start + turn, low) for turn in (0, 45, 90)] for cx, cy, start in corners
    ]
    for i, (a, middle, b) in enumerate(ends):
        edges.append(_arc(a, middle, b))
        following = ends[(i + 1) % 4][0]
        if math.dist(b, following) > 1e-9:
            edges.append(_edge(b, following))
    return BRepPrimAPI_MakePrism(_face(edges), gp_Vec(0.0, 0.0, z[1] - low)).Shape()


def nosed(length: float, half: float, z: tuple[float, float]) -> TopoDS_Shape:
    """A block from x = 0 with y = -half to half whose far end is a half round about x = length."""
    low = z[0]
    near = [(0.0, half, low), (0.0, -half, low), (length, -half, low), (length, half, low)]
    edges = [
        _edge(near[0], near[1]),
        _edge(near[1], near[2]),
        _arc(near[2], (length + half, 0.0, low), near[3]),
        _edge(near[3], near[0]),
    ]
    return BRepPrimAPI_MakePrism(_face(edges), gp_Vec(0.0, 0.0, z[1] - low)).Shape()


def _on(cx: float, cy: float, r: float, degrees: float, z: float) -> Point:
    angle = math.radians(degrees)
    return (cx + r * math.cos(angle), cy + r * math.sin(angle), z)


def revolved(profile: Profile) -> TopoDS_Shape:
    """A closed profile of (radius, z) turned about the z axis."""
    points: list[Point] = [(r, 0.0, z) for r, z in profile]
    edges = [_edge(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)]
    axis = gp_Ax1(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(0.0, 0.0, 1.0))
    return BRepPrimAPI_MakeRevol(_face(edges), axis).Shape()


def cylinder(start: Point, direction: Point, radius: float, length: float) -> TopoDS_Shape:
    """A cylinder from a point along a direction."""
    axis = gp_Ax2(gp_Pnt(*start), gp_Dir(*direction))
    return BRepPrimAPI_MakeCylinder(axis, radius, length).Shape()


def drilled(start: Point, direction: Point, diameter: float, depth: float) -> TopoDS_Shape:
    """The metal that a drill with a point of 118 degrees takes: full diameter for `depth`."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCone

    r = diameter / 2.0
    tip = r / math.tan(math.radians(59.0))
    end = tuple(s + depth * d for s, d in zip(start, direction, strict=True))
    axis = gp_Ax2(gp_Pnt(*end), gp_Dir(*direction))
    point = BRepPrimAPI_MakeCone(axis, r, 0.0, tip).Shape()
    return fuse(cylinder(start, direction, r, depth), point)


def cut(shape: TopoDS_Shape, *tools: TopoDS_Shape) -> TopoDS_Shape:
    """The shape without the tools, one after the other, in their order."""
    for tool in tools:
        shape = BRepAlgoAPI_Cut(shape, tool).Shape()
    return _tidied(shape)


def fuse(shape: TopoDS_Shape, *others: TopoDS_Shape) -> TopoDS_Shape:
    """The shapes in one."""
    for other in others:
        shape = BRepAlgoAPI_Fuse(shape, other).Shape()
    return _tidied(shape)


def common(shape: TopoDS_Shape, other: TopoDS_Shape) -> TopoDS_Shape:
    """What the two shapes share."""
    return _tidied(BRepAlgoAPI_Common(shape, other).Shape())


def moved(shape: TopoDS_Shape, by: Point) -> TopoDS_Shape:
    """The shape shifted."""
    motion = gp_Trsf()
    motion.SetTranslation(gp_Vec(*by))
    return BRepBuilderAPI_Transform(shape, motion, True).Shape()


def laid_down(shape: TopoDS_Shape) -> TopoDS_Shape:
    """The shape turned by a quarter about the x axis: its y becomes z, its z becomes -y."""
    motion = gp_Trsf()
    motion.SetRotation(gp_Ax1(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(1.0, 0.0, 0.0)), math.pi / 2.0)
    return BRepBuilderAPI_Transform(shape, motion, True).Shape()


def rounded_uprights(shape: TopoDS_Shape, radius: float, x_below: float) -> TopoDS_Shape:
    """The shape with its straight edges along z at x < x_below rounded."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.GeomAbs import GeomAbs_CurveType

    maker = BRepFilletAPI_MakeFillet(shape)
    chosen: list[Any] = []
    explorer = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_EDGE)
    while explorer.More():
        edge = TopoDS.Edge(explorer.Current())
        curve = BRepAdaptor_Curve(edge)
        upright = (
            curve.GetType() == GeomAbs_CurveType.GeomAbs_Line
            and abs(curve.Line().Direction().Z()) > 0.999
        )
        known = any(edge.IsSame(e) for e in chosen)
        if upright and curve.Value(curve.FirstParameter()).X() < x_below and not known:
            chosen.append(edge)
        explorer.Next()
    for edge in chosen:
        maker.Add(radius, edge)
    return maker.Shape()


def _tidied(shape: TopoDS_Shape) -> TopoDS_Shape:
    """One solid with faces of one surface joined."""
    joined = ShapeUpgrade_UnifySameDomain(shape, True, True, False)
    joined.Build()
    explorer = TopExp_Explorer(joined.Shape(), TopAbs_ShapeEnum.TopAbs_SOLID)
    return explorer.Current()

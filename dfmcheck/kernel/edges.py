"""Edges: curve, length, and the angle of the material between their faces."""

import math
from typing import Any

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GCPnts import GCPnts_AbscissaPoint
from OCP.GeomAbs import GeomAbs_CurveType as C
from OCP.gp import gp_Pnt, gp_Vec

from dfmcheck.kernel.surfaces import Carrier, point_of
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Convexity, CurveKind, Edge
from dfmcheck.model.vector import cross, dot, norm, scale, unit

TANGENT_DEG = 1.0
"""Normals closer than this across an edge count as tangent."""

_CURVES: dict[Any, CurveKind] = {
    C.GeomAbs_Line: "line",
    C.GeomAbs_Circle: "circle",
    C.GeomAbs_Ellipse: "ellipse",
}


def edge_facts(
    index: int, edge: Any, uses: list[tuple[int, bool]], faces: list[Any], carriers: list[Carrier]
) -> Edge:
    """Facts of one edge.

    Args:
        index: number of the edge.
        edge: the kernel edge, in its own orientation.
        uses: (face index, True if the face runs along the edge backwards), one for each use.
        faces: the kernel faces.
        carriers: their carriers.
    """
    neighbours = tuple(f for f, _ in uses[:2])
    if BRep_Tool.Degenerated_s(edge):
        p = point_of(BRep_Tool.Pnt_s(_first_vertex(edge)))
        return Edge(
            index=index, faces=neighbours, curve="other", length_mm=0.0, convexity="seam",
            angle_deg=180.0, start=p, middle=p, end=p,
        )  # fmt: skip
    curve = BRepAdaptor_Curve(edge)
    first, last = curve.FirstParameter(), curve.LastParameter()
    kind = _CURVES.get(curve.GetType(), "other")
    half = (first + last) / 2
    at, along = gp_Pnt(), gp_Vec()
    curve.D1(half, at, along)
    middle, tangent = point_of(at), unit(point_of(along))
    centre = axis = radius = None
    if kind == "circle":
        circle = curve.Circle()
        centre, axis = point_of(circle.Location()), point_of(circle.Axis().Direction())
        radius = circle.Radius()
        length = radius * (last - first)
    elif kind == "line":
        length = last - first
    else:
        length = GCPnts_AbscissaPoint.Length_s(curve)
    convexity, angle = _across(edge, uses, faces, carriers, half, middle, tangent)
    return Edge(
        index=index, faces=neighbours, curve=kind, length_mm=length, convexity=convexity,
        angle_deg=angle, start=point_of(curve.Value(first)), middle=middle,
        end=point_of(curve.Value(last)), centre=centre, axis=axis, radius_mm=radius,
    )  # fmt: skip


def _first_vertex(edge: Any) -> Any:
    from OCP.TopExp import TopExp

    return TopExp.FirstVertex_s(edge)


def _across(
    edge: Any,
    uses: list[tuple[int, bool]],
    faces: list[Any],
    carriers: list[Carrier],
    parameter: float,
    middle: Vec,
    tangent: Vec,
) -> tuple[Convexity, float]:
    if len(uses) < 2:
        return "open", 0.0
    (a, a_back), (b, _) = uses[0], uses[1]
    if a == b:
        return "seam", 180.0
    na = _normal(edge, faces[a], carriers[a], parameter, middle)
    nb = _normal(edge, faces[b], carriers[b], parameter, middle)
    if norm(na) == 0.0 or norm(nb) == 0.0:
        return "tangent", 180.0
    t = scale(tangent, -1.0) if a_back else tangent
    into_a = cross(na, t)
    turn = math.degrees(math.acos(max(-1.0, min(1.0, dot(na, nb)))))
    if turn < TANGENT_DEG:
        return "tangent", 180.0
    if dot(into_a, nb) < 0.0:
        return "convex", 180.0 - turn
    return "concave", 180.0 + turn


def _normal(edge: Any, face: Any, carrier: Carrier, parameter: float, at: Vec) -> Vec:
    n = carrier.normal_at(at)
    if n is not None:
        return n
    first = last = 0.0
    result = BRep_Tool.CurveOnSurface_s(edge, face, first, last)
    curve = result[0] if isinstance(result, tuple) else result
    if curve is None:
        return (0.0, 0.0, 0.0)
    uv = curve.Value(parameter)
    _, natural = carrier.point_and_natural_normal(uv.X(), uv.Y())
    return scale(natural, carrier.sign)

"""How far the bounds of a face reach in the parameters of its surface, and along its axis.

The kernel's own answer encloses the poles of the curves that trim a face, which lie beyond it
where a hole meets a slanting or a round face.
"""

import math
from collections.abc import Callable
from typing import Any

from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Curve2d
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_Shape
from OCP.Standard import Standard_NoSuchObject, Standard_NullObject
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

from dfmcheck.model.base import Vec

Bounds = tuple[float, float, float, float]

_STEPS = 24
_MOST_PIECES = 16
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0


def trimmed(face: Any) -> Bounds:
    """(u first, u last, v first, v last) of a face; those of the kernel where curves are missing.

    Args:
        face: the kernel face.
    """
    lows, highs = [math.inf, math.inf], [-math.inf, -math.inf]
    try:
        for edge in _edges(face):
            curve = BRepAdaptor_Curve2d(edge, face)
            for k in (0, 1):
                low, high = _range(curve, _coordinate(curve, k))
                lows[k], highs[k] = min(lows[k], low), max(highs[k], high)
    except (Standard_NullObject, Standard_NoSuchObject):
        return _enclosing(face)
    if not all(map(math.isfinite, (*lows, *highs))):
        return _enclosing(face)
    return (lows[0], highs[0], lows[1], highs[1])


def along_edges(face: Any, direction: Vec) -> tuple[float, float]:
    """Least and greatest coordinate along a direction of the edges of a face, mm.

    (inf, -inf) for a face without edges.
    """
    low, high = math.inf, -math.inf
    x, y, z = direction
    for edge in _edges(face):
        try:
            curve = BRepAdaptor_Curve(edge)
        except (Standard_NullObject, Standard_NoSuchObject):
            continue

        def height(t: float, curve: Any = curve) -> float:
            a, b, c = curve.Value(t).Coord()
            return float(a * x + b * y + c * z)

        a, b = _range(curve, height)
        low, high = min(low, a), max(high, b)
    return low, high


def _edges(face: Any) -> list[Any]:
    explorer = TopExp_Explorer(face, TopAbs_ShapeEnum.TopAbs_EDGE)
    found = []
    while explorer.More():
        found.append(TopoDS.Edge(explorer.Current()))
        explorer.Next()
    return found


def _enclosing(face: Any) -> Bounds:
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    return (u0, u1, v0, v1)


def _coordinate(curve: Any, k: int) -> Callable[[float], float]:
    return lambda t: float(curve.Value(t).Coord()[k])


def _range(curve: Any, value: Callable[[float], float]) -> tuple[float, float]:
    """Least and greatest value on a curve: sampled, then closed in on."""
    first, last = curve.FirstParameter(), curve.LastParameter()
    if curve.GetType() == GeomAbs_CurveType.GeomAbs_Line:
        ends = value(first), value(last)
        return min(ends), max(ends)
    pieces = min(_MOST_PIECES, curve.NbIntervals(GeomAbs_Shape.GeomAbs_C2))
    n = _STEPS * max(1, pieces)
    places = [first + k / n * (last - first) for k in range(n + 1)]
    values = [value(t) for t in places]
    low = min(range(n + 1), key=values.__getitem__)
    high = max(range(n + 1), key=values.__getitem__)
    if max(values) - min(values) < 1e-9:
        return values[low], values[high]
    a, b = places[max(0, low - 1)], places[min(n, low + 1)]
    c, d = places[max(0, high - 1)], places[min(n, high + 1)]
    least = -_peak(lambda t: -value(t), a, b)
    return min(values[low], least), max(values[high], _peak(value, c, d))


def _peak(value: Callable[[float], float], a: float, b: float) -> float:
    """The greatest value between two places, by golden sections."""
    p, q = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
    at_p, at_q = value(p), value(q)
    for _ in range(24):
        if at_p > at_q:
            b, q, at_q = q, p, at_p
            p = b - _GOLDEN * (b - a)
            at_p = value(p)
        else:
            a, p, at_p = p, q, at_q
            q = a + _GOLDEN * (b - a)
            at_q = value(q)
    return max(at_p, at_q)

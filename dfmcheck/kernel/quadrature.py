"""Integration over spline faces and the like, knot by knot.

Green's theorem turns the integral over a trimmed face into one along its bounds in the
parameter plane: the integral of f du dv is that of F dv, where F is the integral of f along u
(or that of -G du, where G is the integral along v). Both are taken by Gauss-Legendre quadrature
in pieces within which the surface and the bounds are smooth, first with few and then with more
points, and in ever finer pieces until two agree.
"""

import math
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Curve2d
from OCP.collections import Array1_double
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_Shape
from OCP.gp import gp_Pnt, gp_Pnt2d, gp_Vec, gp_Vec2d
from OCP.Standard import Standard_NoSuchObject, Standard_NullObject
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

from dfmcheck.kernel.surfaces import ROUND, Carrier
from dfmcheck.kernel.topology import Topology

Floats = NDArray[np.float64]
Rule = tuple[tuple[float, float], ...]

EPS = 2e-5
"""Share of a face's area by which two quadratures may differ. The finer one is closer to the truth
than that: within 1e-7 on solids of known volume, within 1e-5 on the worst face of a public part."""

_LADDER = ((2, 1), (3, 1), (5, 1), (7, 1), (7, 2), (7, 4), (7, 8))
"""Points a piece, and parts into which each piece is cut."""

_MOST_POINTS = 400_000
_MANY_PIECES = 8
_CURVE_PIECES = 8


_PLAIN_CURVES = (
    GeomAbs_CurveType.GeomAbs_Line,
    GeomAbs_CurveType.GeomAbs_Circle,
    GeomAbs_CurveType.GeomAbs_Ellipse,
)


@dataclass(frozen=True)
class Samples:
    """Points of a face and the pieces of its skin that they stand for.

    points : (n, 3) float, mm; areas : (n, 3) float, mm^2, along the outward normal;
    weights : (n,) float, mm^2, negative where the quadrature takes away.
    """

    points: Floats
    areas: Floats
    weights: Floats

    @property
    def area(self) -> float:
        """In mm^2."""
        return float(self.weights.sum())

    @property
    def centroid(self) -> Floats:
        """(3,) float, mm."""
        found: Floats = self.weights @ self.points / self.area
        return found

    def moments(self, origin: Floats) -> tuple[float, Floats, Floats]:
        """Shares of volume (mm^3) and of its first (mm^4) and second moments (mm^5) about a point.

        They are those of the cone from the point to the face, so that shares of other faces that
        the kernel measures the same way can be added.
        """
        x = self.points - origin
        thrice = np.einsum("ij,ij->i", x, self.areas)
        second: Floats = (x * thrice[:, None]).T @ x / 5.0
        return float(thrice.sum() / 3.0), thrice @ x / 4.0, second


def sampled(topology: Topology, carriers: list[Carrier]) -> list[Samples | None]:
    """Samples of the faces that the kernel does not integrate well: None for all others.

    They are the spline faces, and others within curves that are no lines, circles or ellipses.

    Args:
        topology: faces and edges of the part.
        carriers: the carriers of the faces.
    """
    plain = [
        BRep_Tool.Degenerated_s(e) or BRepAdaptor_Curve(e).GetType() in _PLAIN_CURVES
        for e in topology.edges
    ]
    return [
        samples_of(face, carrier)
        if carrier.kind == "freeform" or not all(plain[e] for e in edges)
        else None
        for face, carrier, edges in zip(topology.faces, carriers, topology.edges_of, strict=True)
    ]


def samples_of(face: Any, carrier: Carrier) -> Samples | None:
    """Weighted points of a face, exact enough for its area and its share of the moments.

    Args:
        face: the kernel face.
        carrier: its carrier.

    Returns:
        None where its bounds in the parameter plane are missing or enclose nothing.
    """
    try:
        grid = _Grid(face, carrier)
    except (Standard_NullObject, Standard_NoSuchObject):
        return None
    last = found = grid.samples(*_LADDER[0])
    for order, parts in _LADDER[1:]:
        found = grid.samples(order, parts)
        if found is None or (last is not None and _agree(last, found)):
            break
        if 4 * len(found.points) > _MOST_POINTS:
            break
        last = found
    return found if found is not None and found.area > 0.0 else None


def _agree(one: Samples, other: Samples) -> bool:
    origin = other.points.mean(axis=0)
    size = float(np.abs(other.points - origin).max())
    allowed = EPS * abs(other.area)
    shares = [s.moments(origin)[0] for s in (one, other)]
    return abs(one.area - other.area) <= allowed and abs(shares[0] - shares[1]) <= allowed * size


class _Grid:
    """The smooth pieces of a face and of its bounds."""

    def __init__(self, face: Any, carrier: Carrier) -> None:
        self.adaptor, self.sign = carrier.adaptor, carrier.sign
        self.curved = carrier.kind in ROUND
        self.knots = (
            _knots(self.adaptor.NbUIntervals, self.adaptor.UIntervals),
            _knots(self.adaptor.NbVIntervals, self.adaptor.VIntervals),
        )
        self.inner_knots = [k[1:-1].tolist() for k in self.knots]
        self.bounds: list[tuple[Any, float, list[float]]] = []
        forward = TopoDS.Face(face.Oriented(TopAbs_Orientation.TopAbs_FORWARD))
        explorer = TopExp_Explorer(forward, TopAbs_ShapeEnum.TopAbs_EDGE)
        while explorer.More():
            self._bound(TopoDS.Edge(explorer.Current()), forward)
            explorer.Next()
        self.along, self.start = self._cheapest()

    def _cheapest(self) -> tuple[int, int]:
        """The parameter (0 or 1) to integrate along first, and the knot from which to start, so
        that the fewest pieces are crossed."""
        cells: tuple[list[int], list[int]] = ([], [])
        for curve, _, cuts in self.bounds:
            ends = [curve.Value(t).Coord() for t in cuts]
            for (a, b), (p, q) in zip(pairwise(cuts), pairwise(ends), strict=True):
                middle = curve.Value((a + b) / 2.0).Coord()
                for k in (0, 1):
                    if p[1 - k] != q[1 - k]:
                        cells[k].append(int(np.searchsorted(self.knots[k], middle[k])))
        choices = []
        for k in (0, 1):
            if cells[k]:
                start = min(int(np.median(cells[k])), len(self.knots[k]) - 1)
                choices.append((sum(abs(c - start) + 1 for c in cells[k]), k, start))
        return min(choices)[1:] if choices else (0, 0)

    def _bound(self, edge: Any, face: Any) -> None:
        sense = {
            TopAbs_Orientation.TopAbs_FORWARD: 1.0,
            TopAbs_Orientation.TopAbs_REVERSED: -1.0,
        }.get(edge.Orientation())
        if sense is None:
            return
        curve = BRepAdaptor_Curve2d(edge, face)
        # across a curved surface, a curve of many pieces only approximates where it was cut
        many = self.curved or math.prod(len(k) - 1 for k in self.knots) >= _MANY_PIECES
        smooth = GeomAbs_Shape.GeomAbs_C2 if many else GeomAbs_Shape.GeomAbs_CN
        marks = _knots(curve.NbIntervals, curve.Intervals, smooth).tolist()
        if self.curved and len(marks) == 2 and curve.GetType() != GeomAbs_CurveType.GeomAbs_Line:
            marks = np.linspace(marks[0], marks[1], _CURVE_PIECES + 1).tolist()
        cuts = list(marks)
        for a, b in pairwise(marks):
            cuts += self._crossings(curve, a, b, 8 if len(marks) < 9 else 2)
        self.bounds.append((curve, sense, sorted(cuts)))

    def _crossings(self, curve: Any, a: float, b: float, steps: int) -> list[float]:
        """Where a bound crosses knots of the surface."""
        found: list[float] = []
        times = [a + i / steps * (b - a) for i in range(steps + 1)]
        places = [curve.Value(t).Coord() for t in times]
        for k, knots in enumerate(self.inner_knots):
            cells = [bisect_left(knots, place[k]) for place in places]
            for i, (one, other) in enumerate(pairwise(cells)):
                found += [
                    _bisect(curve, k, knots[c], times[i], times[i + 1])
                    for c in range(min(one, other), max(one, other))
                ]
        return [t for t in found if a < t < b]

    def samples(self, order: int, parts: int) -> Samples | None:
        """Quadrature with so many points a piece, each piece cut into so many parts."""
        rule = _gauss(order)
        k = self.along
        inner = _Inner(_refined(self.knots[k], parts), self.start * parts, rule)
        places: list[tuple[list[float], float]] = []
        shares: list[float] = []
        at, along = gp_Pnt2d(), gp_Vec2d()
        for curve, sense, cuts in self.bounds:
            turn = sense if k == 0 else -sense
            for a, b in pairwise(_refined(np.array(cuts), parts)):
                for x, w in rule:
                    curve.D1(a + x * (b - a), at, along)
                    share = turn * w * (b - a) * along.Coord()[1 - k]
                    if abs(share) < 1e-14:
                        continue
                    place = at.Coord()
                    along_it, inside = inner.until(place[k])
                    places.append((along_it, place[1 - k]))
                    shares += [share * x for x in inside]
        if not places:
            return None
        found = self._at(places, np.array(shares))
        return found if len(found.points) else None

    def _at(self, places: list[tuple[list[float], float]], shares: Floats) -> Samples:
        p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
        rows: list[float] = []
        derive, more = self.adaptor.D1, rows.extend
        swapped = self.along == 1
        for many, one in places:
            for x in many:
                if swapped:
                    derive(one, x, p, du, dv)
                else:
                    derive(x, one, p, du, dv)
                more(p.Coord())
                more(du.Coord())
                more(dv.Coord())
        table = np.array(rows).reshape(-1, 9)
        normals = np.cross(table[:, 3:6], table[:, 6:9])
        return Samples(
            points=table[:, :3],
            areas=normals * (self.sign * shares)[:, None],
            weights=np.linalg.norm(normals, axis=1) * shares,
        )


class _Inner:
    """Places and weights of integrals along a parameter, from one of its marks to either side."""

    def __init__(self, marks: list[float], start: int, rule: Rule) -> None:
        self.marks, self.start, self.rule = marks, start, rule
        pieces = list(pairwise(marks))
        self.places = [a + x * (b - a) for a, b in pieces for x, _ in rule]
        self.shares = [w * (b - a) for a, b in pieces for _, w in rule]

    def until(self, end: float) -> tuple[list[float], list[float]]:
        """Places and weights of the integral to an end."""
        n, first = len(self.rule), self.start
        if end >= self.marks[first]:
            k = max(first, min(bisect_right(self.marks, end) - 1, len(self.marks) - 1))
            places, shares = self.places[first * n : k * n], self.shares[first * n : k * n]
        else:
            k = min(first, bisect_left(self.marks, end))
            places = self.places[k * n : first * n]
            shares = [-x for x in self.shares[k * n : first * n]]
        mark = self.marks[k]
        rest = end - mark
        if rest:
            places += [mark + x * rest for x, _ in self.rule]
            shares += [w * rest for _, w in self.rule]
        return places, shares


def _knots(count: Any, fill: Any, smooth: Any = GeomAbs_Shape.GeomAbs_CN) -> Floats:
    """Where a curve or surface is less than smooth, its ends counted."""
    n = count(smooth)
    marks = Array1_double(1, n + 1)
    fill(marks, smooth)
    return np.array([marks.Value(k) for k in range(1, n + 2)])


def _refined(marks: Floats, parts: int) -> list[float]:
    if parts == 1:
        return [float(m) for m in marks]
    steps = np.arange(len(marks) * parts - parts + 1) / parts
    return [float(m) for m in np.interp(steps, np.arange(len(marks)), marks)]


def _bisect(curve: Any, k: int, knot: float, a: float, b: float) -> float:
    below = curve.Value(a).Coord()[k] < knot
    for _ in range(40):
        middle = (a + b) / 2.0
        if (curve.Value(middle).Coord()[k] < knot) == below:
            a = middle
        else:
            b = middle
    return (a + b) / 2.0


@cache
def _gauss(order: int) -> Rule:
    """Points and weights of the quadrature from 0 to 1."""
    points, weights = np.polynomial.legendre.leggauss(order)
    halves = zip(((points + 1.0) / 2.0).tolist(), (weights / 2.0).tolist(), strict=True)
    return tuple(halves)

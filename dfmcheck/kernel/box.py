"""How far a part reaches in given directions, to within a thousandth of a millimetre or so.

The points of a mesh lie on the faces, but between them a curved face reaches further, by up to
the deflection. Only what comes within that much of the mesh's own extent is looked at again.
"""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GeomAbs import GeomAbs_CurveType as C
from OCP.gp import gp_Pnt, gp_Vec

from dfmcheck.kernel.mesh import Mesh
from dfmcheck.kernel.surfaces import Carrier, point_of

Floats = NDArray[np.float64]

_SAMPLES = 24


def reach(
    mesh: Mesh,
    faces: list[list[int]],
    carriers: list[Carrier],
    edges: list[Any],
    directions: Floats,
) -> tuple[Floats, Floats]:
    """Least and greatest coordinate of a part along directions.

    Args:
        mesh: its triangulation.
        faces: for each face the numbers of its edges.
        carriers: the carriers of the faces.
        edges: the kernel edges.
        directions: (k, 3) float, unit vectors.

    Returns:
        (k,) and (k,) float, mm.
    """
    finder = _Finder(mesh, faces, carriers, edges)
    signed = np.concatenate((directions, -directions))
    found = np.array([finder.furthest(d) for d in signed])
    k = len(directions)
    return -found[k:], found[:k]


class _Finder:
    def __init__(
        self, mesh: Mesh, faces: list[list[int]], carriers: list[Carrier], edges: list[Any]
    ) -> None:
        self.mesh, self.faces, self.carriers, self.edges = mesh, faces, carriers, edges
        self._curves: dict[int, Any] = {}

    def furthest(self, d: Floats) -> float:
        along = self.mesh.points @ d
        best = float(along.max())
        slack = 1.5 * self.mesh.deflection_mm
        edges: set[int] = set()
        for i, (start, stop) in enumerate(self.mesh.node_range):
            c = self.carriers[i]
            if c.kind == "plane" or start == stop:
                continue
            top = float(along[start:stop].max())
            if top < best - slack:
                continue
            edges.update(self.faces[i])
            node = self.mesh.points[start + int(np.argmax(along[start:stop]))]
            best = max(best, self._inside(i, d, node, top + slack))
        limit = best + slack
        return max([best, *(self._along_edge(e, d, best - slack, limit) for e in edges)])

    def _inside(self, i: int, d: Floats, node: Floats, limit: float) -> float:
        """The furthest point within a face, where its normal is the direction itself."""
        c = self.carriers[i]
        if c.kind in ("cylinder", "cone"):
            return -math.inf  # ruled: they are furthest on their edges
        if c.kind == "freeform":
            return self._freeform(i, d, limit)
        p = _summit(c, d, node)
        if p is None or not self._on_face(i, p):
            return -math.inf
        return float(p @ d)

    def _on_face(self, i: int, p: Floats) -> bool:
        """True where a point of the carrier lies over the triangles of a face."""
        mine = self.mesh.owner == i
        a, b, c = (k[mine] for k in self.mesh.corners)
        n = self.mesh.normals[mine]
        length = np.linalg.norm(n, axis=1)
        kept = length > 0.0
        a, b, c, n = a[kept], b[kept], c[kept], n[kept] / length[kept][:, None]
        height = np.einsum("ij,ij->i", p - a, n)
        q = p - height[:, None] * n
        inside = np.ones(len(a), dtype=bool)
        # a point above the edge between two triangles lies over neither of them
        spare = -0.1 * length[kept]
        for s, t in ((a, b), (b, c), (c, a)):
            inside &= np.einsum("ij,ij->i", np.cross(t - s, q - s), n) >= spare
        return bool((inside & (np.abs(height) < 3.0 * self.mesh.deflection_mm)).any())

    def _freeform(self, i: int, d: Floats, limit: float) -> float:
        """Newton's steps in the parameters, from a grid of points, to a level place."""
        c = self.carriers[i]
        u0, u1, v0, v1 = c.bounds
        grid = [
            (u0 + a / 8 * (u1 - u0), v0 + b / 8 * (v1 - v0)) for a in range(9) for b in range(9)
        ]
        points = np.array([point_of(c.adaptor.Value(u, v)) for u, v in grid])
        order = np.argsort(-(points @ d))[:3]
        best = -math.inf
        for k in order:
            p = _climb(c, d, grid[int(k)])
            value = float(p @ d)
            if best < value <= limit and self._on_face(i, p):
                best = value
        return best

    def _along_edge(self, number: int, d: Floats, floor: float, limit: float) -> float:
        curve = self._curve(number)
        if curve is None:
            return -math.inf
        kind, first, last = curve.GetType(), curve.FirstParameter(), curve.LastParameter()
        if kind == C.GeomAbs_Line:
            return -math.inf
        if kind == C.GeomAbs_Circle:
            axis = point_of(curve.Circle().Axis().Direction())
            if abs(axis[0] * d[0] + axis[1] * d[1] + axis[2] * d[2]) > 1.0 - 1e-12:
                return -math.inf  # level: every node of the mesh on it is as far
        if kind in (C.GeomAbs_Circle, C.GeomAbs_Ellipse):
            return _on_conic(curve, kind, d, first, last)
        return _on_curve(curve, d, first, last, floor, limit)

    def _curve(self, number: int) -> Any:
        if number not in self._curves:
            edge = self.edges[number]
            degenerate = BRep_Tool.Degenerated_s(edge)
            self._curves[number] = None if degenerate else BRepAdaptor_Curve(edge)
        return self._curves[number]


def _summit(c: Carrier, d: Floats, node: Floats) -> Floats | None:
    """The furthest point of a whole sphere or torus; of a level circle, the one next to `node`."""
    if c.origin is None or c.axis is None or c.radius is None:
        return None
    centre = np.array(c.origin)
    if c.kind == "sphere":
        found: Floats = centre + c.radius * d
        return found
    axis = np.array(c.axis)
    across = d - (d @ axis) * axis
    if float(np.linalg.norm(across)) < 1e-9:
        across = (node - centre) - ((node - centre) @ axis) * axis
    length = float(np.linalg.norm(across))
    if length < 1e-12:
        return None
    ring: Floats = centre + c.radius * across / length + (c.minor or 0.0) * d
    return ring


def _climb(c: Carrier, d: Floats, start: tuple[float, float]) -> Floats:
    u, v = start
    u0, u1, v0, v1 = c.bounds
    p, du, dv, duu, dvv, duv = gp_Pnt(), gp_Vec(), gp_Vec(), gp_Vec(), gp_Vec(), gp_Vec()
    for _ in range(12):
        c.adaptor.D2(u, v, p, du, dv, duu, dvv, duv)
        slope = np.array([np.dot(point_of(du), d), np.dot(point_of(dv), d)])
        cross = float(np.dot(point_of(duv), d))
        bend = np.array(
            [[np.dot(point_of(duu), d), cross], [cross, np.dot(point_of(dvv), d)]], dtype=float
        )
        step = np.linalg.pinv(bend, rcond=1e-9) @ slope
        nu, nv = min(max(u - step[0], u0), u1), min(max(v - step[1], v0), v1)
        if abs(nu - u) + abs(nv - v) < 1e-12:
            break
        u, v = nu, nv
    return np.array(point_of(c.adaptor.Value(u, v)))


def _on_conic(curve: Any, kind: Any, d: Floats, first: float, last: float) -> float:
    """The furthest point of an arc of a circle or ellipse."""
    if kind == C.GeomAbs_Circle:
        shape = curve.Circle()
        a = b = shape.Radius()
    else:
        shape = curve.Ellipse()
        a, b = shape.MajorRadius(), shape.MinorRadius()
    x = a * float(np.dot(point_of(shape.XAxis().Direction()), d))
    y = b * float(np.dot(point_of(shape.YAxis().Direction()), d))
    centre = float(np.dot(point_of(shape.Location()), d))
    summit = math.atan2(y, x)
    ends = [centre + x * math.cos(t) + y * math.sin(t) for t in (first, last)]
    within = (summit - first) % (2.0 * math.pi) <= last - first
    return float(max([*ends, centre + math.hypot(x, y)] if within else ends))


def _on_curve(
    curve: Any, d: Floats, first: float, last: float, floor: float, limit: float
) -> float:
    """The furthest point of any other curve, by sampling and then by thirds."""

    dx, dy, dz = d.tolist()

    def value(t: float) -> float:
        p = curve.Value(t)
        return float(p.X() * dx + p.Y() * dy + p.Z() * dz)

    ts = [first + k / _SAMPLES * (last - first) for k in range(_SAMPLES + 1)]
    points = np.array([point_of(curve.Value(t)) for t in ts])
    values: list[float] = (points @ d).tolist()
    best: float = max(values)
    step = float(np.linalg.norm(np.diff(points, axis=0), axis=1).max())
    if best < floor - step / 4.0:  # a half circle in 24 steps rises by less between two of them
        return -math.inf
    if best - min(values) < 1e-7:
        return best  # level
    # on a closed curve the furthest place may lie on either side of the seam
    top = [i for i, v in enumerate(values) if v > best - 1e-9]
    for k in {top[0], top[-1]}:
        found = _summit_between(value, ts[max(k - 1, 0)], ts[min(k + 1, _SAMPLES)])
        if best < found <= limit:
            best = found
    return best


def _summit_between(value: Callable[[float], float], low: float, high: float) -> float:
    """The greatest value of a function with one summit, by golden sections."""
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    a, b = high - golden * (high - low), low + golden * (high - low)
    at_a, at_b = value(a), value(b)
    for _ in range(22):
        if at_a < at_b:
            low, a, at_a = a, b, at_b
            b = low + golden * (high - low)
            at_b = value(b)
        else:
            high, b, at_b = b, a, at_a
            a = high - golden * (high - low)
            at_a = value(a)
    return max(at_a, at_b)

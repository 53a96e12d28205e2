"""The carrier surface of a face: kind, parameters, outward normal at a point."""

import math
from dataclasses import dataclass, field
from typing import Any

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import GeomAbs_SurfaceType as S
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_Orientation

from dfmcheck.kernel.vector import add, cross, dot, norm, scale, sub, tidy, unit
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Bend, SurfaceKind

_KINDS: dict[Any, SurfaceKind] = {
    S.GeomAbs_Plane: "plane",
    S.GeomAbs_Cylinder: "cylinder",
    S.GeomAbs_Cone: "cone",
    S.GeomAbs_Sphere: "sphere",
    S.GeomAbs_Torus: "torus",
}


def point_of(p: Any) -> Vec:
    """(x, y, z) of a kernel point, vector or direction."""
    return (p.X(), p.Y(), p.Z())


@dataclass
class Carrier:
    """The surface under a face, in mm.

    `sign` is +1 where the outward normal is the surface's own, -1 where it is reversed.
    `bounds` are (u first, u last, v first, v last) of the face.
    """

    adaptor: Any
    kind: SurfaceKind
    sign: float
    bounds: tuple[float, float, float, float]
    axis: Vec | None = None
    origin: Vec | None = None
    radius: float | None = None
    minor: float | None = None
    half_angle: float | None = None
    swept: Any = None
    _plane_normal: Vec | None = field(default=None)

    def point_and_natural_normal(self, u: float, v: float) -> tuple[Vec, Vec]:
        """Point and (not oriented) unit normal at parameters; null normal where degenerate."""
        p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
        self.adaptor.D1(u, v, p, du, dv)
        return point_of(p), unit(cross(point_of(du), point_of(dv)))

    def middle(self) -> tuple[Vec, Vec]:
        """Point and outward normal in the middle of the parameter range."""
        u0, u1, v0, v1 = self.bounds
        p, n = self.point_and_natural_normal((u0 + u1) / 2, (v0 + v1) / 2)
        if norm(n) == 0.0:
            p, n = self.point_and_natural_normal(u0 + 0.4 * (u1 - u0), v0 + 0.6 * (v1 - v0))
        return p, scale(n, self.sign)

    def normal_at(self, p: Vec) -> Vec | None:
        """Outward normal at a point on an analytic surface; None for freeform ones."""
        if self.kind == "plane":
            return self._plane_normal
        if self.axis is None or self.origin is None or self.kind == "freeform":
            return None
        d = sub(p, self.origin)
        along = dot(d, self.axis)
        radial = sub(d, scale(self.axis, along))
        if self.kind == "cylinder":
            n = unit(radial)
        elif self.kind == "sphere":
            n = unit(d)
        elif self.kind == "cone" and self.half_angle is not None:
            r = unit(radial)
            n = sub(
                scale(r, math.cos(self.half_angle)), scale(self.axis, math.sin(self.half_angle))
            )
        elif self.kind == "torus" and self.radius is not None:
            n = unit(sub(d, scale(unit(radial), self.radius)))
        else:
            return None
        return scale(n, self.outward)

    @property
    def outward(self) -> float:
        """+1 where the outward normal leads away from the axis (or tube centre), else -1."""
        return self._outward

    _outward: float = 1.0

    def bend(self) -> Bend:
        """Which side the material is on; "mixed" for freeform, decided elsewhere."""
        if self.kind == "plane":
            return "flat"
        if self.kind == "freeform":
            return "mixed"
        return "outside" if self._outward > 0 else "inside"


def carrier_of(face: Any) -> Carrier:
    """The carrier of a kernel face."""
    adaptor = BRepAdaptor_Surface(face, True)
    kind = _KINDS.get(adaptor.GetType(), "freeform")
    sign = -1.0 if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    c = Carrier(adaptor=adaptor, kind=kind, sign=sign, bounds=(u0, u1, v0, v1))
    _parameters(c)
    p, n = c.middle()
    if kind == "plane":
        c._plane_normal = tidy(n)
    elif kind != "freeform":
        c._outward = 1.0
        away = c.normal_at(p)
        c._outward = 1.0 if away is not None and dot(away, n) > 0 else -1.0
    return c


def _parameters(c: Carrier) -> None:
    a = c.adaptor
    if c.kind == "plane":
        return
    if c.kind == "cylinder":
        s = a.Cylinder()
        c.radius = s.Radius()
    elif c.kind == "cone":
        s = a.Cone()
        c.radius, c.half_angle = s.RefRadius(), s.SemiAngle()
    elif c.kind == "sphere":
        s = a.Sphere()
        c.radius = s.Radius()
        c.axis = tidy(point_of(s.Position().Direction()))
        c.origin = point_of(s.Location())
        return
    elif c.kind == "torus":
        s = a.Torus()
        c.radius, c.minor = s.MajorRadius(), s.MinorRadius()
    else:
        _sweep(c)
        return
    c.axis = tidy(point_of(s.Axis().Direction()))
    c.origin = point_of(s.Location())


def _sweep(c: Carrier) -> None:
    t = c.adaptor.GetType()
    if t == S.GeomAbs_SurfaceOfRevolution:
        axis = c.adaptor.AxeOfRevolution()
        c.swept, c.axis, c.origin = (
            "revolved",
            tidy(point_of(axis.Direction())),
            point_of(axis.Location()),
        )
    elif t == S.GeomAbs_SurfaceOfExtrusion:
        c.swept, c.axis = "extruded", tidy(point_of(c.adaptor.Direction()))


def along_axis(c: Carrier) -> tuple[tuple[float, float], tuple[float, float] | None] | None:
    """Limits along the axis from `origin` in mm, and the radii there (cones only)."""
    u0, u1, v0, v1 = c.bounds
    del u0, u1
    if c.kind == "cylinder":
        return (v0, v1), None
    if c.kind == "cone" and c.half_angle is not None and c.radius is not None:
        ca, sa = math.cos(c.half_angle), math.sin(c.half_angle)
        ends = sorted(((v0 * ca, c.radius + v0 * sa), (v1 * ca, c.radius + v1 * sa)))
        return (ends[0][0], ends[1][0]), (abs(ends[0][1]), abs(ends[1][1]))
    if c.kind == "sphere" and c.radius is not None:
        return (c.radius * math.sin(v0), c.radius * math.sin(v1)), None
    if c.kind == "torus" and c.minor is not None:
        heights = [c.minor * math.sin(v) for v in (v0, v1)]
        k = math.ceil((v0 - math.pi / 2) / math.pi)
        while math.pi / 2 + k * math.pi <= v1:
            heights.append(c.minor * math.sin(math.pi / 2 + k * math.pi))
            k += 1
        return (min(heights), max(heights)), None
    return None


def nearest_on_axis(origin: Vec, axis: Vec, p: Vec) -> tuple[Vec, float]:
    """The point of the axis nearest to `p`, and its distance along the axis from `origin`."""
    t = dot(sub(p, origin), axis)
    return add(origin, scale(axis, t)), t


def curvature(c: Carrier) -> tuple[Bend, float | None]:
    """Bend and least concave radius of a freeform face, from a 7 x 7 grid of its parameters.

    Curvature sign: positive where the surface bends towards its outward normal (concave).
    """
    from OCP.BRepLProp import BRepLProp_SLProps

    u0, u1, v0, v1 = c.bounds
    props = BRepLProp_SLProps(c.adaptor, 2, 1e-7)
    concave = convex = 0.0
    for i in range(7):
        for j in range(7):
            props.SetParameters(u0 + (i + 0.5) / 7 * (u1 - u0), v0 + (j + 0.5) / 7 * (v1 - v0))
            if not props.IsCurvatureDefined():
                continue
            for k in (props.MaxCurvature(), props.MinCurvature()):
                towards = k * c.sign
                concave, convex = max(concave, towards), max(convex, -towards)
    flat = 1e-6
    radius = 1.0 / concave if concave > flat else None
    if concave > flat and convex > flat:
        return "mixed", radius
    if concave > flat:
        return "inside", radius
    return ("outside", None) if convex > flat else ("flat", None)

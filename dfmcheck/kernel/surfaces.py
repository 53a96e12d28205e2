"""The carrier surface of a face: kind, parameters, outward normal at a point."""

import math
from dataclasses import dataclass
from typing import Any

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import GeomAbs_SurfaceType as S
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_Orientation

from dfmcheck.kernel.trims import trimmed
from dfmcheck.kernel.vector import tidy
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Bend, SurfaceKind
from dfmcheck.model.vector import add, cross, dot, norm, scale, sub, unit

KINDS: dict[Any, SurfaceKind] = {
    S.GeomAbs_Plane: "plane",
    S.GeomAbs_Cylinder: "cylinder",
    S.GeomAbs_Cone: "cone",
    S.GeomAbs_Sphere: "sphere",
    S.GeomAbs_Torus: "torus",
}

ROUND = ("cylinder", "cone", "sphere", "torus")
"""Kinds that are surfaces of revolution."""


def point_of(p: Any) -> Vec:
    """(x, y, z) of a kernel point, vector or direction."""
    return (p.X(), p.Y(), p.Z())


@dataclass
class Carrier:
    """The surface under a face, in mm.

    `sign` is +1 where the outward normal is the surface's own, -1 where it is reversed;
    `bounds` are (u first, u last, v first, v last) of the face in the adaptor's parameters;
    `outward` is +1 where the outward normal leads away from the axis (or the centre of the
    tube), else -1; `recognised` is True for a spline that is a plane, cylinder … in truth, whose
    parameters are then not those of the adaptor. `along` (limits along the axis from `origin`,
    mm), `radii` (of cones, there) and `span_deg` are limits of the face.
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
    outward: float = 1.0
    recognised: bool = False
    plane_normal: Vec | None = None
    along: tuple[float, float] | None = None
    radii: tuple[float, float] | None = None
    span_deg: float | None = None

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
            return self.plane_normal
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

    def bend(self) -> Bend:
        """Which side the material is on; "mixed" for freeform, decided elsewhere."""
        if self.kind == "plane":
            return "flat"
        if self.kind == "freeform":
            return "mixed"
        return "outside" if self.outward > 0 else "inside"


def carrier_of(face: Any) -> Carrier:
    """The carrier of a kernel face."""
    adaptor = BRepAdaptor_Surface(face, True)
    kind = KINDS.get(adaptor.GetType(), "freeform")
    sign = -1.0 if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
    bounds = trimmed(face) if kind in ROUND else BRepTools.UVBounds_s(face)
    c = Carrier(adaptor=adaptor, kind=kind, sign=sign, bounds=bounds)
    if kind == "freeform":
        _sweep(c)
        return c
    take_parameters(c, _elementary(adaptor, kind))
    _limits(c)
    return c


def _elementary(adaptor: Any, kind: SurfaceKind) -> Any:
    ask = {"plane": "Plane", "cylinder": "Cylinder", "cone": "Cone", "sphere": "Sphere"}
    return getattr(adaptor, ask.get(kind, "Torus"))()


def take_parameters(c: Carrier, surface: Any) -> None:
    """Set the parameters of a carrier from a kernel plane, cylinder, cone, sphere or torus."""
    p, n = c.middle()
    if c.kind == "plane":
        c.plane_normal = tidy(n)
        return
    position = surface.Position()
    c.axis, c.origin = tidy(point_of(position.Direction())), point_of(position.Location())
    if c.kind == "cone":
        c.radius, c.half_angle = surface.RefRadius(), surface.SemiAngle()
    elif c.kind == "torus":
        c.radius, c.minor = surface.MajorRadius(), surface.MinorRadius()
    else:
        c.radius = surface.Radius()
    away = c.normal_at(p)
    c.outward = 1.0 if away is not None and dot(away, n) > 0 else -1.0


def _sweep(c: Carrier) -> None:
    t = c.adaptor.GetType()
    if t == S.GeomAbs_SurfaceOfRevolution:
        axis = c.adaptor.AxeOfRevolution()
        c.swept = "revolved"
        c.axis, c.origin = tidy(point_of(axis.Direction())), point_of(axis.Location())
    elif t == S.GeomAbs_SurfaceOfExtrusion:
        c.swept, c.axis = "extruded", tidy(point_of(c.adaptor.Direction()))


def _limits(c: Carrier) -> None:
    """Limits along and about the axis, from the parameters of the kernel."""
    u0, u1, v0, v1 = c.bounds
    if c.kind != "plane":
        c.span_deg = min(360.0, math.degrees(u1 - u0))
    if c.kind == "cylinder":
        c.along = (v0, v1)
    elif c.kind == "cone" and c.half_angle is not None and c.radius is not None:
        ca, sa = math.cos(c.half_angle), math.sin(c.half_angle)
        ends = sorted(((v0 * ca, c.radius + v0 * sa), (v1 * ca, c.radius + v1 * sa)))
        c.along, c.radii = (ends[0][0], ends[1][0]), (abs(ends[0][1]), abs(ends[1][1]))
    elif c.kind == "sphere" and c.radius is not None:
        c.along = (c.radius * math.sin(v0), c.radius * math.sin(v1))
    elif c.kind == "torus" and c.minor is not None:
        heights = [c.minor * math.sin(v) for v in (v0, v1)]
        k = math.ceil((v0 - math.pi / 2) / math.pi)
        while math.pi / 2 + k * math.pi <= v1:
            heights.append(c.minor * math.sin(math.pi / 2 + k * math.pi))
            k += 1
        c.along = (min(heights), max(heights))


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

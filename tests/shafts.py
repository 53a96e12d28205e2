"""Turned parts made by hand: facts of a body of revolution from its diameters, without a kernel."""

import math
from dataclasses import dataclass, field

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face, Frame, PartFacts
from dfmcheck.model.vector import add, cross, perpendicular, scale, unit

Z: Vec = (0.0, 0.0, 1.0)


@dataclass
class _Body:
    """Faces and edges of a body of revolution about `axis` through `origin`."""

    axis: Vec
    origin: Vec
    u: Vec
    edges: list[Edge] = field(default_factory=list)
    faces: list[Face] = field(default_factory=list)

    def at(self, along: float, radius: float = 0.0, turn: float = 0.0) -> Vec:
        v = cross(self.axis, self.u)
        out = add(scale(self.u, math.cos(turn)), scale(v, math.sin(turn)))
        return add(self.origin, add(scale(self.axis, along), scale(out, radius)))

    def circle(self, along: float, radius: float) -> int:
        start = self.at(along, radius)
        edge = Edge(
            index=len(self.edges), faces=(-1, -1), curve="circle",
            length_mm=2 * math.pi * radius, convexity="convex", angle_deg=90.0,
            start=start, middle=self.at(along, radius, math.pi), end=start,
            centre=self.at(along), axis=self.axis, radius_mm=radius,
        )  # fmt: skip
        self.edges.append(edge)
        return edge.index

    def cylinder(self, low: int, high: int, outside: bool) -> None:
        a, b = self.edges[low], self.edges[high]
        radius, length = a.radius_mm or 0.0, math.dist(a.centre or Z, b.centre or Z)
        index = len(self.faces)
        seam = Edge(
            index=len(self.edges), faces=(index, index), curve="line", length_mm=length,
            convexity="seam", angle_deg=180.0, start=a.start,
            middle=scale(add(a.start, b.start), 0.5), end=b.start,
        )  # fmt: skip
        self.edges.append(seam)
        along = [self._along(e.centre or Z) for e in (a, b)]
        self.faces.append(Face(
            index=index, surface="cylinder", bend="outside" if outside else "inside",
            area_mm2=2 * math.pi * radius * length, centroid=self.at(sum(along) / 2),
            normal=scale(self.u, 1.0 if outside else -1.0), low_mm=(0.0, 0.0, 0.0),
            high_mm=(0.0, 0.0, 0.0), loops=((low, seam.index, high, seam.index),),
            fingerprint=f"cylinder {radius:.4f} {length:.4f}", axis=self.axis,
            axis_point=self.origin, radius_mm=radius, along_mm=(along[0], along[1]),
            span_deg=360.0,
        ))  # fmt: skip

    def plane(self, outer: int, inner: int | None, up: bool) -> None:
        rings = [outer] if inner is None else [outer, inner]
        radii = [self.edges[e].radius_mm or 0.0 for e in rings]
        area = math.pi * (radii[0] ** 2 - (radii[1] ** 2 if len(radii) > 1 else 0.0))
        self.faces.append(Face(
            index=len(self.faces), surface="plane", bend="flat", area_mm2=area,
            centroid=self.edges[outer].centre or Z, normal=scale(self.axis, 1.0 if up else -1.0),
            low_mm=(0.0, 0.0, 0.0), high_mm=(0.0, 0.0, 0.0),
            loops=tuple((e,) for e in rings), fingerprint=f"plane {area:.4f}",
        ))  # fmt: skip

    def _along(self, p: Vec) -> float:
        return sum((a - o) * d for a, o, d in zip(p, self.origin, self.axis, strict=True))


def shaft(
    *sections: tuple[float, float],
    bore_mm: float = 0.0,
    axis: Vec = Z,
    origin: Vec = (0.0, 0.0, 0.0),
    name: str = "Shaft",
) -> PartFacts:
    """A shaft of (diameter, length) sections from its back to its front, bored through or not."""
    axis = unit(axis)
    body = _Body(axis, origin, perpendicular(axis))
    z, volume = 0.0, 0.0
    bottom = body.circle(0.0, sections[0][0] / 2)
    bore_low = body.circle(0.0, bore_mm / 2) if bore_mm else None
    body.plane(bottom, bore_low, up=False)
    below = bottom
    for k, (diameter, length) in enumerate(sections):
        z += length
        top = body.circle(z, diameter / 2)
        body.cylinder(below, top, outside=True)
        volume += math.pi / 4 * (diameter**2 - bore_mm**2) * length
        if k + 1 < len(sections):
            following = sections[k + 1][0]
            below = body.circle(z, following / 2)
            wider = top if diameter > following else below
            narrower = below if diameter > following else top
            body.plane(wider, narrower, up=diameter > following)
        else:
            bore_high = body.circle(z, bore_mm / 2) if bore_mm else None
            body.plane(top, bore_high, up=True)
            if bore_low is not None and bore_high is not None:
                body.cylinder(bore_low, bore_high, outside=False)
    return _facts(body, z, max(d for d, _ in sections), volume, name)


def _facts(body: _Body, length: float, diameter: float, volume: float, name: str) -> PartFacts:
    v = cross(body.axis, body.u)
    centre = [sum(o * d for o, d in zip(body.origin, e, strict=True)) for e in (body.u, v)]
    along = sum(o * d for o, d in zip(body.origin, body.axis, strict=True))
    r = diameter / 2
    frame = Frame(
        x=body.u, y=v, z=body.axis,
        low_mm=(centre[0] - r, centre[1] - r, along),
        high_mm=(centre[0] + r, centre[1] + r, along + length),
    )  # fmt: skip
    return PartFacts(
        name=name, count=1, solids=1, closed=True, volume_mm3=volume,
        area_mm2=sum(f.area_mm2 for f in body.faces), centroid=body.at(length / 2),
        principal_mm5=(1.0, 1.0, 1.0), box_mm=(diameter, diameter, length),
        box_low_mm=(0.0, 0.0, 0.0), frame=frame, faces=tuple(body.faces),
        edges=_with_faces(body), fingerprint=name,
    )  # fmt: skip


def _with_faces(body: _Body) -> tuple[Edge, ...]:
    """The edges, each with the faces on both its sides and its convexity left as it is."""
    users: dict[int, list[int]] = {}
    for face in body.faces:
        for loop in face.loops:
            for edge in dict.fromkeys(loop):
                users.setdefault(edge, []).append(face.index)
    from msgspec.structs import replace

    return tuple(
        e if e.convexity == "seam" else replace(e, faces=tuple(users[e.index][:2]))
        for e in body.edges
    )

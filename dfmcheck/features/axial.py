"""A part seen about one axis: which faces are of revolution, and how round its outside is."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face, PartFacts
from dfmcheck.model.feature import Feature, Knurl, Thread
from dfmcheck.model.vector import add, cross, dot, from_axis, parallel, scale, sub, unit

AXIS_MM = 0.02
"""Axes closer than this are the same line."""

EDGE_MM = 1e-6
"""A ring reaches the slices of its own edges, whichever way they are rounded."""

BINS = 240
"""Slices along the axis of the profile."""

CLEARLY_ROUND = 0.98
"""A part rounder than this about an axis is not tried about another."""

ROUND_COVER = 0.55
"""A slice is round where faces of revolution cover at least this share of the turn."""

TEETH = 8
"""A slice with so many patches of one radius is round as well: the blank of a toothed part."""


WIDE_RATIO = 0.3
"""Rounds below this share of half the part's extent about their axis are no turned outside."""


@dataclass(frozen=True, slots=True)
class Ring:
    """One face of revolution about the axis.

    `z_mm` are its limits along the axis from the origin, `r_mm` the radii at both of them (a
    torus or sphere: least and greatest), `cover` the share of the turn it covers.
    """

    index: int
    outside: bool
    z_mm: tuple[float, float]
    r_mm: tuple[float, float]
    cover: float


@dataclass(frozen=True, slots=True)
class Shoulder:
    """A plane face square to the axis, made by facing; `up` looks along the axis."""

    index: int
    z_mm: float
    r_mm: tuple[float, float]
    up: bool


class Axial:
    """The faces of a part about one axis."""

    def __init__(
        self, part: PartFacts, axis: Vec, origin: Vec, known: Iterable[Feature] = ()
    ) -> None:
        """Look at a part about the line through `origin` (mm) along the unit vector `axis`.

        Threads and knurls among the `known` features count as round where they run about it.
        """
        self.part = part
        self.axis = axis
        self.origin = origin
        self.known = tuple(known)
        self.tolerance_mm = max(AXIS_MM, 1e-5 * math.dist((0, 0, 0), part.box_mm))

    @cached_property
    def rings(self) -> tuple[Ring, ...]:
        """Faces of revolution about the axis, planes apart."""
        found = (self._ring(f) for f in self.part.faces)
        return tuple(r for r in found if r is not None) + tuple(r for _, r in self._wound)

    @cached_property
    def shoulders(self) -> tuple[Shoulder, ...]:
        """Plane faces square to the axis that a facing cut makes: round about it, or bare ends."""
        found = (self._shoulder(f) for f in self.part.faces)
        return tuple(s for s in found if s is not None)

    @cached_property
    def turned_faces(self) -> frozenset[int]:
        """Rings, shoulders, and all faces of threads and knurls about the axis."""
        faces = {r.index for r in self.rings} | {s.index for s in self.shoulders}
        return frozenset(faces.union(*(f.faces for f, _ in self._wound)))

    @cached_property
    def z_mm(self) -> tuple[float, float]:
        """Extent of the part along the axis, from the origin."""
        frame = self.part.frame
        for k, direction in enumerate((frame.x, frame.y, frame.z)):
            if parallel(direction, self.axis, 0.01):
                shift = dot(self.origin, direction)
                ends = (frame.low_mm[k] - shift, frame.high_mm[k] - shift)
                return ends if dot(direction, self.axis) > 0 else (-ends[1], -ends[0])
        heights = [
            from_axis(p, self.origin, self.axis)[0] for e in self.part.edges for p in _ends(e)
        ]
        heights += [z for r in self.rings for z in r.z_mm]
        return (min(heights), max(heights)) if heights else (0.0, 0.0)

    @property
    def length_mm(self) -> float:
        """Length along the axis."""
        return self.z_mm[1] - self.z_mm[0]

    @cached_property
    def radius_mm(self) -> float:
        """Radius of the least cylinder about the axis that holds the part."""
        return max([self._half_extent(), *(r for _, _, r in self._reaches)])

    def _half_extent(self) -> float:
        """Farthest side of the part's box from the axis, where the axis lies along the box."""
        frame = self.part.frame
        three = (frame.x, frame.y, frame.z)
        if not any(parallel(d, self.axis, 0.01) for d in three):
            return 0.0
        found = 0.0
        for k, d in enumerate(three):
            if not parallel(d, self.axis, 0.01):
                at = dot(self.origin, d)
                found = max(found, frame.high_mm[k] - at, at - frame.low_mm[k])
        return found

    @cached_property
    def _reaches(self) -> tuple[tuple[float, float, float], ...]:
        """(z low, z high, greatest radius) of rings and edges."""
        found = [(r.z_mm[0], r.z_mm[1], max(r.r_mm)) for r in self.rings if r.outside]
        for e in self.part.edges:
            found.extend(self._edge_reach(e))
        return tuple(found)

    @cached_property
    def profile_mm(self) -> tuple[float, ...]:
        """Greatest radius in each of `BINS` slices along the axis."""
        low, high = self.z_mm
        step = (high - low) / BINS or 1.0
        radii = [0.0] * BINS
        for z0, z1, r in self._reaches:
            for k in range(_bin(z0, low, step), _bin(z1, low, step) + 1):
                radii[k] = max(radii[k], r)
        for ring in self.rings:
            if ring.outside:
                for k in range(_bin(ring.z_mm[0], low, step), _bin(ring.z_mm[1], low, step) + 1):
                    radii[k] = max(radii[k], min(ring.r_mm))
        return tuple(radii)

    @cached_property
    def round_share(self) -> float:
        """Share of the outside, slice by slice and weighted by radius, that is of revolution."""
        low, high = self.z_mm
        step = (high - low) / BINS or 1.0
        cover, patches = [0.0] * BINS, [0] * BINS
        for ring in self.rings:
            if not ring.outside:
                continue
            near = 0.97 * min(ring.r_mm)
            first = _bin(ring.z_mm[0] - EDGE_MM, low, step)
            for k in range(first, _bin(ring.z_mm[1] + EDGE_MM, low, step) + 1):
                if max(ring.r_mm) >= 0.97 * self.profile_mm[k] or near >= self.profile_mm[k]:
                    cover[k] += ring.cover
                    patches[k] += 1
        total = sum(self.profile_mm)
        rounded = [c >= ROUND_COVER or n >= TEETH for c, n in zip(cover, patches, strict=True)]
        good = sum(r for r, is_round in zip(self.profile_mm, rounded, strict=True) if is_round)
        return good / total if total > 0.0 else 0.0

    @cached_property
    def _wound(self) -> tuple[tuple[Feature, Ring], ...]:
        """Threads and knurls about the axis, each as one ring that covers the whole turn."""
        found: list[tuple[Feature, Ring]] = []
        for f in self.known:
            if isinstance(f, Thread):
                radius, outside, length = f.major_diameter_mm / 2, f.side == "outside", f.length_mm
            elif isinstance(f, Knurl):
                radius, outside, length = f.diameter_mm / 2, True, f.length_mm
            else:
                continue
            if parallel(f.direction, self.axis, 0.5) and self.on_axis(f.place):
                z = from_axis(f.place, self.origin, self.axis)[0]
                limits = (z - length / 2, z + length / 2)
                found.append((f, Ring(f.faces[0], outside, limits, (radius, radius), 1.0)))
        return tuple(found)

    def on_axis(self, point: Vec) -> bool:
        """True where a point lies on the axis."""
        return from_axis(point, self.origin, self.axis)[1] < self.tolerance_mm

    def coaxial(self, face: Face) -> bool:
        """True where a face's own axis is this line (a sphere: where its centre is on it)."""
        if face.axis_point is None or not self.on_axis(face.axis_point):
            return False
        if face.surface == "sphere":
            return True
        return face.axis is not None and parallel(face.axis, self.axis)

    def _ring(self, face: Face) -> Ring | None:
        if face.surface == "plane" or not self.coaxial(face):
            return None
        if face.surface == "freeform" and face.swept != "revolved":
            return None
        z, r = self._limits(face)
        return Ring(
            index=face.index,
            outside=face.bend != "inside",
            z_mm=z,
            r_mm=r,
            cover=_cover(face, z, r),
        )

    def _limits(self, face: Face) -> tuple[tuple[float, float], tuple[float, float]]:
        """Limits along the axis and radii there."""
        assert face.axis_point is not None  # noqa: S101  coaxial faces have one
        shift = from_axis(face.axis_point, self.origin, self.axis)[0]
        sign = 1.0 if face.axis is None or dot(face.axis, self.axis) > 0 else -1.0
        if face.along_mm is None:
            ends = [
                from_axis(p, self.origin, self.axis) for e in self._edges(face) for p in _ends(e)
            ]
            zs, rs = [e[0] for e in ends] or [shift], [e[1] for e in ends] or [0.0]
            return (min(zs), max(zs)), (min(rs), max(rs))
        a, b = (shift + sign * face.along_mm[0], shift + sign * face.along_mm[1])
        radii = self._radii(face)
        return ((a, b), radii) if a <= b else ((b, a), (radii[1], radii[0]))

    def _radii(self, face: Face) -> tuple[float, float]:
        if face.radii_mm is not None:
            return face.radii_mm
        radius = face.radius_mm or 0.0
        if face.surface == "sphere":
            a, b = face.along_mm or (0.0, 0.0)
            ends = [math.sqrt(max(0.0, radius * radius - h * h)) for h in (a, b)]
            return (min(ends), radius if a < 0.0 < b else max(ends))
        if face.surface == "torus":
            ends = [self._radius_at(e) for e in self._edges(face) if e.curve == "circle"]
            minor = face.minor_radius_mm or 0.0
            ends = ends or [radius - minor, radius + minor]
            return (min(ends), max(ends))
        return (radius, radius)

    def _radius_at(self, edge: Edge) -> float:
        return from_axis(edge.middle, self.origin, self.axis)[1]

    def _edges(self, face: Face) -> list[Edge]:
        return [self.part.edges[e] for loop in face.loops for e in loop]

    def _shoulder(self, face: Face) -> Shoulder | None:
        if face.surface != "plane" or not parallel(face.normal, self.axis) or not face.loops:
            return None
        outline = [self.part.edges[e] for e in face.loops[0]]
        total = sum(e.length_mm for e in outline)
        circles = sum(e.length_mm for e in outline if self.is_circle(e))
        if circles < 0.5 * total and not self._is_faced(face, outline):
            return None
        radii = [self._radius_at(e) for e in self._edges(face)]
        inner = min(radii) if len(face.loops) > 1 else 0.0
        z = from_axis(face.centroid, self.origin, self.axis)[0]
        return Shoulder(face.index, z, (inner, max(radii)), dot(face.normal, self.axis) > 0.0)

    def _is_faced(self, face: Face, outline: list[Edge]) -> bool:
        """True for a plane end of any outline about the axis with nothing standing around it."""
        widest = max(self._radius_at(e) for e in outline)
        off = from_axis(face.centroid, self.origin, self.axis)[1]
        return off < 0.25 * widest and all(e.convexity != "concave" for e in outline)

    def is_circle(self, edge: Edge) -> bool:
        """True for a circle, or an arc of one, about the axis."""
        return (
            edge.curve == "circle"
            and edge.centre is not None
            and edge.axis is not None
            and parallel(edge.axis, self.axis)
            and self.on_axis(edge.centre)
        )

    def _edge_reach(self, edge: Edge) -> Iterable[tuple[float, float, float]]:
        """Pieces (z low, z high, greatest radius) of one edge."""
        points = [from_axis(p, self.origin, self.axis) for p in points_of(edge)]
        for (za, ra), (zb, rb) in zip(points, points[1:] or points, strict=False):
            yield (min(za, zb), max(za, zb), max(ra, rb))


def points_of(edge: Edge) -> tuple[Vec, ...]:
    """Points along an edge, ends included, dense enough for arcs to be followed to 1 %."""
    if edge.curve == "line":
        return (edge.start, edge.end)
    if edge.curve != "circle" or edge.centre is None or edge.axis is None or not edge.radius_mm:
        return (edge.start, edge.middle, edge.end)
    u = unit(sub(edge.start, edge.centre))
    v = cross(edge.axis, u)
    middle = _angle(edge.middle, edge.centre, u, v)
    end = _angle(edge.end, edge.centre, u, v)
    full = math.dist(edge.start, edge.end) < 1e-6
    turn = 2 * math.pi if full else (end if middle <= end else end - 2 * math.pi)
    n = max(2, math.ceil(abs(turn) / math.radians(15)))
    return tuple(
        add(
            edge.centre,
            add(
                scale(u, edge.radius_mm * math.cos(turn * k / n)),
                scale(v, edge.radius_mm * math.sin(turn * k / n)),
            ),
        )
        for k in range(n + 1)
    )


def _angle(p: Vec, centre: Vec, u: Vec, v: Vec) -> float:
    d = sub(p, centre)
    return math.atan2(dot(d, v), dot(d, u)) % (2 * math.pi)


def _ends(edge: Edge) -> tuple[Vec, Vec, Vec]:
    return (edge.start, edge.middle, edge.end)


def _bin(z: float, low: float, step: float) -> int:
    return max(0, min(BINS - 1, int((z - low) / step)))


def _cover(face: Face, z: tuple[float, float], r: tuple[float, float]) -> float:
    """Share of the turn that a face of revolution covers, by its area where that is exact."""
    if face.surface in ("cylinder", "cone"):
        slant = math.hypot(z[1] - z[0], r[1] - r[0])
        whole = math.pi * (r[0] + r[1]) * slant
        return min(1.0, face.area_mm2 / whole) if whole > 0.0 else 0.0
    return (face.span_deg if face.span_deg is not None else 360.0) / 360.0


def main_axis(part: PartFacts, known: Iterable[Feature] = ()) -> Axial | None:
    """The axis about which most of the outside is round, or None where nothing is round.

    Axes of small rounds are not tried.
    """
    best: tuple[float, Axial] | None = None
    known = tuple(known)
    for axis, origin in _candidates(part, known):
        view = Axial(part, axis, origin, known)
        key = view.round_share
        if key > 0.0 and (best is None or key > best[0] + 1e-9):
            best = (key, view)
        if key > CLEARLY_ROUND:
            break
    return best[1] if best is not None else None


def _candidates(part: PartFacts, known: Iterable[Feature], most: int = 6) -> list[tuple[Vec, Vec]]:
    """Lines that carry large outside faces of revolution, the largest first, then threads."""
    lines: list[tuple[Vec, Vec, list[float]]] = []
    faces = [f for f in part.faces if f.axis is not None and f.axis_point is not None]
    faces = [f for f in faces if f.bend != "inside" and _is_wide(part, f)]
    for f in sorted(faces, key=lambda f: (-f.area_mm2, f.index))[:400]:
        assert f.axis is not None  # noqa: S101
        assert f.axis_point is not None  # noqa: S101
        for axis, origin, areas in lines:
            near = from_axis(f.axis_point, origin, axis)[1] < AXIS_MM
            if near and (f.surface == "sphere" or parallel(f.axis, axis)):
                areas.append(f.area_mm2)
                break
        else:
            lines.append((f.axis, f.axis_point, [f.area_mm2]))
    lines.sort(key=lambda x: -sum(x[2]))
    found = [(axis, origin) for axis, origin, _ in lines[:most]]
    for k in known:
        outside = isinstance(k, Knurl) or (isinstance(k, Thread) and k.side == "outside")
        if outside and len(found) < most + 4 and _is_wide_about(part, k.direction, _radius_of(k)):
            new = all(from_axis(k.place, o, a)[1] > AXIS_MM for a, o in found)
            found += [(k.direction, k.place)] if new else []
    return found


def _radius_of(feature: Feature) -> float:
    if isinstance(feature, Thread):
        return feature.major_diameter_mm / 2.0
    return feature.diameter_mm / 2.0 if isinstance(feature, Knurl) else 0.0


def _is_wide(part: PartFacts, face: Face) -> bool:
    radius = (face.radius_mm or 0.0) + (face.minor_radius_mm or 0.0)
    about = face.axis if face.surface != "sphere" else None
    return _is_wide_about(part, about, max((radius, *(face.radii_mm or ()))))


def _is_wide_about(part: PartFacts, axis: Vec | None, radius_mm: float) -> bool:
    """True where a radius is no small part of the part's own about that axis."""
    size = part.frame.size_mm
    reach = min(size) / 2.0
    for k, direction in enumerate((part.frame.x, part.frame.y, part.frame.z)):
        if axis is not None and parallel(axis, direction):
            reach = max(s for i, s in enumerate(size) if i != k) / 2.0
    return radius_mm >= WIDE_RATIO * reach

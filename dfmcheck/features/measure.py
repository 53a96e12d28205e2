"""Sizes of a cut: its rectangle, its depth, its radii, and what it is open to."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from dfmcheck.features.angles import off_plane
from dfmcheck.features.blends import Blend
from dfmcheck.features.cuts import Cut
from dfmcheck.features.gaps import Rim, open_rims, overlap, spread
from dfmcheck.features.graph import Graph, straight
from dfmcheck.model.base import Vec
from dfmcheck.model.vector import add, cross, dot, norm, parallel, scale


@dataclass(frozen=True)
class Box:
    """The rectangle round a cut: `u` along its length, `v` across, `w` out of it, with limits."""

    u: Vec
    v: Vec
    w: Vec
    low: Vec
    high: Vec

    @property
    def size(self) -> Vec:
        """Extents along u, v and w, in mm."""
        a, b = self.low, self.high
        return (b[0] - a[0], b[1] - a[1], b[2] - a[2])

    def at(self, a: float, b: float, c: float) -> Vec:
        """The place with these coordinates along u, v and w."""
        return add(add(scale(self.u, a), scale(self.v, b)), scale(self.w, c))


def box_of(graph: Graph, blends: dict[int, Blend], cut: Cut, along: Vec | None = None) -> Box:
    """The rectangle round a cut, its depth counted to where its edges would be sharp.

    Args:
        graph: the part.
        blends: its rounds and bevels.
        cut: the cut.
        along: direction of the length; None for the longer side along its greatest wall.
    """
    w = cut.direction
    v = _across(graph, cut) if along is None else cross(w, along)
    u = cross(v, w)
    faces = [*cut.faces, *cut.blends]
    spans = [_limits(graph, faces, d) for d in (u, v, w)]
    top = _rim_top(graph, blends, cut, w, spans[2][1])
    low = spans[2][0]
    if not cut.floors:
        low = -_rim_top(graph, blends, cut, scale(w, -1.0), -low)
    spans[2] = (low, top)
    box = Box(
        u, v, w,
        (spans[0][0], spans[1][0], spans[2][0]),
        (spans[0][1], spans[1][1], spans[2][1]),
    )  # fmt: skip
    if along is None and box.size[0] < box.size[1]:
        return Box(
            v, scale(u, -1.0), w,
            (box.low[1], -box.high[0], box.low[2]),
            (box.high[1], -box.low[0], box.high[2]),
        )  # fmt: skip
    return box


def _limits(graph: Graph, faces: Iterable[int], direction: Vec) -> tuple[float, float]:
    spans = [graph.span_along(graph.faces[f], direction) for f in faces]
    return min(s[0] for s in spans), max(s[1] for s in spans)


def _across(graph: Graph, cut: Cut) -> Vec:
    """A direction square to the greatest plane wall."""
    flat = [graph.faces[f] for f in cut.walls if graph.faces[f].surface == "plane"]
    flat = flat or [graph.faces[f] for f in cut.faces if graph.faces[f].surface == "plane"]
    for f in sorted(flat, key=lambda x: (-round(x.area_mm2, 3), x.index)):
        d = off_plane(f.normal, cut.direction)
        if norm(d) > 0.5:
            return d
    return graph.square_to(cut.direction)


def _rim_top(graph: Graph, blends: dict[int, Blend], cut: Cut, direction: Vec, top: float) -> float:
    """How high the walls would reach if their upper edges were sharp."""
    reach = top
    for f in cut.walls:
        for k in graph.links[f]:
            blend = blends.get(k.other)
            if blend is None or blend.side != "outside":
                continue
            high = graph.span_along(graph.faces[k.other], direction)[1]
            if top < high <= top + 1.01 * blend.size_mm:
                reach = max(reach, high)
    return reach


def radii(graph: Graph, blends: dict[int, Blend], cut: Cut) -> tuple[float | None, float | None]:
    """Least radius of the corners along the opening and of the floor's edge (None: no round)."""
    corner: list[float] = []
    floor: list[float] = []
    for b in cut.blends:
        if blends[b].kind != "round":
            continue
        upright = graph.faces[b].surface in ("cylinder", "cone") and parallel(
            blends[b].along, cut.direction, 5.0
        )
        (corner if upright else floor).append(blends[b].size_mm)
    return min(corner, default=None), min(floor, default=None)


def sharp_corner(graph: Graph, cut: Cut) -> bool:
    """True where two walls meet in a sharp inside edge along the opening."""
    walls = set(cut.walls)
    return any(
        k.other in walls
        and k.edge.convexity == "concave"
        and straight(k.edge)
        and abs(dot(k.edge.end, cut.direction) - dot(k.edge.start, cut.direction))
        > 0.7 * k.edge.length_mm
        for f in walls
        for k in graph.links[f]
    )


def sharp_floor(graph: Graph, cut: Cut) -> bool:
    """True where a wall meets the floor in a sharp inside edge."""
    floors = set(cut.floors)
    return any(
        k.other in floors and k.edge.convexity == "concave"
        for f in cut.walls
        for k in graph.links[f]
    )


def corner_radius(graph: Graph, blends: dict[int, Blend], cut: Cut) -> float | None:
    """Least inside radius of an axial corner: 0 where one is sharp, None where there is none."""
    if sharp_corner(graph, cut):
        return 0.0
    found = [radii(graph, blends, cut)[0]]
    found += [
        graph.faces[f].radius_mm
        for f in cut.walls
        if graph.faces[f].surface == "cylinder"
        and graph.faces[f].bend == "inside"
        and graph.faces[f].axis is not None
        and parallel(graph.faces[f].axis or (0.0, 0.0, 0.0), cut.direction, 5.0)
    ]
    found += [graph.faces[f].curvature_radius_mm for f in cut.walls if is_drawn(graph, f, cut)]
    return min((r for r in found if r is not None), default=None)


def is_drawn(graph: Graph, wall: int, cut: Cut) -> bool:
    """True for a wall of free outline drawn along the opening."""
    face = graph.faces[wall]
    return (
        face.swept == "extruded"
        and face.axis is not None
        and parallel(face.axis, cut.direction, 1.0)
    )


def floor_radius(graph: Graph, blends: dict[int, Blend], cut: Cut) -> float | None:
    """Radius between floor and wall: 0 where it is sharp, None where there is no floor."""
    if not cut.floors:
        return None
    if sharp_floor(graph, cut):
        return 0.0
    return radii(graph, blends, cut)[1] or 0.0


def outer_rims(graph: Graph, cut: Cut) -> list[Rim]:
    """The outside edges of the floor that nothing of the cut lies beyond."""
    rims: list[Rim] = []
    for f in cut.floors:
        face = graph.faces[f]
        for edge, out in open_rims(graph, face):
            if norm(out) == 0.0:
                continue
            reach = _limits(graph, cut.floors, out)[1]
            if dot(edge.middle, out) > reach - graph.tolerance_mm * 4 and not _before_wall(
                graph, cut, edge.middle, out, spread(edge, cross(face.normal, out))
            ):
                rims.append((edge, out))
    return rims


def _before_wall(
    graph: Graph, cut: Cut, place: Vec, out: Vec, lateral: tuple[float, float]
) -> bool:
    """True if a wall of the cut stands beyond an edge, or in line with it, looking back at it."""
    side = cross(cut.direction, out)
    width = (lateral[0], lateral[1])
    here = dot(place, out)
    middle = dot(place, side)
    half = (width[1] - width[0]) / 2
    for w in cut.walls:
        face = graph.faces[w]
        if dot(face.normal, out) > -0.5:
            continue
        in_line = abs(dot(place, face.normal) - graph.offset(face)) < graph.tolerance_mm * 4
        if face.surface == "plane" and dot(face.normal, out) < -0.99 and in_line:
            return True  # another cut has taken the wall away here
        span = graph.span_along(face, side)
        if dot(face.centroid, out) > here and overlap((middle - half, middle + half), span) > 0.5:
            return True
    return False


def inner_shoulder(graph: Graph, cut: Cut, wall: int) -> bool:
    """True for a plane wall beyond which the cut goes on: it only makes the cut narrower."""
    face = graph.faces[wall]
    if face.surface != "plane":
        return False
    out = scale(face.normal, -1.0)
    return _limits(graph, cut.walls, out)[1] > -graph.offset(face) + graph.tolerance_mm * 4


def opposed(rims: Iterable[Rim]) -> bool:
    """True if two of the rims lead out in opposite directions."""
    outs = [out for _, out in rims]
    return any(dot(a, b) < -0.85 for k, a in enumerate(outs) for b in outs[:k])


def middle_of(box: Box, height: float) -> Vec:
    """The place in the middle of a cut's rectangle at a height along its opening."""
    return box.at((box.low[0] + box.high[0]) / 2, (box.low[1] + box.high[1]) / 2, height)


def degrees_between(a: Vec, b: Vec) -> float:
    """Angle between two unit directions, in degrees."""
    return math.degrees(math.acos(max(-1.0, min(1.0, dot(a, b)))))

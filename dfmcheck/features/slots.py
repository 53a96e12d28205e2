"""Slots: cuts with walls that look at each other and at least one open end."""

from typing import Literal

from dfmcheck.features.angles import facing, off_plane
from dfmcheck.features.blends import Blend
from dfmcheck.features.context import Context
from dfmcheck.features.cuts import Cut
from dfmcheck.features.graph import Graph
from dfmcheck.features.measure import Box, box_of, corner_radius, floor_radius, middle_of
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.feature import Slot
from dfmcheck.model.vector import cross, dot, norm, unit

Profile = Literal["rectangular", "triangular", "round", "tee", "dovetail", "other"]


def slot_of(context: Context, blends: dict[int, Blend], cut: Cut, *, through: bool) -> Slot:
    """The slot a cut with facing walls is."""
    graph = context.graph
    along = _along(graph, cut)
    box = box_of(graph, blends, cut, along)
    length, widest, depth = box.size
    width = _width(graph, cut, box)
    return Slot(
        id=context.new_id("slot"),
        faces=cut.faces,
        place=middle_of(box, box.low[2]),
        direction=cut.direction,
        length_mm=length,
        width_mm=width,
        depth_mm=depth,
        through=through,
        profile=_profile(graph, cut),
        corner_radius_mm=corner_radius(graph, blends, cut),
        floor_radius_mm=floor_radius(graph, blends, cut),
        widest_mm=widest if cut.undercut and not graph.same_size(widest, width) else None,
    )


def _along(graph: Graph, cut: Cut) -> Vec | None:
    """The slot's run: square to its opening and to its facing walls."""
    pair = _facing_pair(graph, cut)
    if pair is not None:
        flat = off_plane(graph.faces[pair[0]].normal, cut.direction)
        if norm(flat) > 0.5:
            return unit(cross(flat, cut.direction))
    for f in cut.floors:
        face = graph.faces[f]
        if face.surface == "cylinder" and face.axis is not None:
            return off_plane(face.axis, cut.direction)
    return None


def _facing_pair(graph: Graph, cut: Cut) -> tuple[int, int] | None:
    """The two walls that look at each other along the greatest length, the nearest of them."""
    best: tuple[float, float, int, int] | None = None
    walls = [f for f in cut.walls if graph.faces[f].surface == "plane"]
    for k, a in enumerate(walls):
        for b in walls[k + 1 :]:
            p = off_plane(graph.faces[a].normal, cut.direction)
            q = off_plane(graph.faces[b].normal, cut.direction)
            if norm(p) == 0.0 or dot(p, q) > -0.85:
                continue
            gap = dot(graph.faces[b].centroid, p) - dot(graph.faces[a].centroid, p)
            run = unit(cross(p, cut.direction))
            mine, theirs = (graph.span_along(graph.faces[f], run) for f in (a, b))
            shared = min(mine[1], theirs[1]) - max(mine[0], theirs[0])
            rank = (-round(shared, 2), gap, a, b)
            if gap > 0.0 and shared > 0.0 and (best is None or rank < best):
                best = rank
    return None if best is None else (best[2], best[3])


def _width(graph: Graph, cut: Cut, box: Box) -> float:
    """The mouth: between the facing walls where they end, or across the whole of it."""
    pair = _facing_pair(graph, cut)
    if pair is None or cut.vee:
        return box.size[1]
    a, b = (graph.faces[f] for f in pair)
    if facing(a, cut.direction) < -0.02 and facing(b, cut.direction) < -0.02:
        sides = sorted((_upper(graph, f, cut.direction, box.v) for f in (a, b)), key=sum)
        return sides[1][0] - sides[0][1]
    if abs(facing(a, cut.direction)) > 0.02:
        return box.size[1]
    return abs(dot(b.centroid, a.normal) - dot(a.centroid, a.normal))


def _upper(graph: Graph, wall: Face, direction: Vec, across: Vec) -> tuple[float, float]:
    """Limits across the slot of a wall's upper edge."""
    points = [
        p
        for loop in wall.loops
        for e in (graph.edges[n] for n in loop)
        for p in (e.start, e.middle, e.end)
    ]
    top = max(dot(p, direction) for p in points) - 4 * graph.tolerance_mm
    places = [dot(p, across) for p in points if dot(p, direction) > top]
    return min(places), max(places)


def _profile(graph: Graph, cut: Cut) -> Profile:
    if cut.vee:
        return "triangular"
    if any(graph.faces[f].surface == "cylinder" for f in cut.floors):
        return "round"
    slopes = [facing(graph.faces[f], cut.direction) for f in cut.walls]
    if cut.undercut:
        if any(s < -0.9 for s in slopes):
            return "tee"
        return "dovetail" if any(s < -0.05 for s in slopes) else "other"
    return "rectangular" if all(abs(s) < 0.35 for s in slopes) else "other"

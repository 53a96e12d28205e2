"""Blends: rounds and bevels between other faces, told apart from faces in their own right.

A round is tangent to its neighbours on both long sides; a bevel meets both at an angle and is
narrow against what it joins. Pockets look through them; fillets and chamfers are made of them.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, cast

from dfmcheck.features.context import Context
from dfmcheck.features.graph import Graph, Link, normal_at, straight
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import angle_deg, cross, dot, parallel, perpendicular, sub, unit

ROUND_SPAN_DEG = 172.0
"""An arc that turns more than this is a wall (the end of an obround), not a rounded corner."""

DRAFT_DEG = 15.0
"""A cone of less half angle rounds the corner between two drafted walls."""

BEVEL_TURN_DEG = 12.0
"""A bevel turns at least this much on each side."""

BEVEL_REACH_RATIO = 0.45
"""A bevel of a square edge takes less than this share of the part in both directions."""

BEVEL_WIDTH_RATIO = 0.34
"""A bevel between faces that are not square to each other is narrower than this share of both."""

INSIDE_BEVEL_RATIO = 0.5
"""A bevel in an inside corner is narrower than this share of both faces it joins."""


@dataclass(frozen=True)
class Blend:
    """A round or a bevel: the faces on its two sides, and its size.

    `size_mm` is the radius of a round, the width across of a bevel; `along` the direction of the
    edge it replaces (the axis for rings); `turn_deg` the least angle to a neighbour (bevels).
    """

    face: int
    kind: Literal["round", "bevel"]
    side: Literal["inside", "outside"]
    size_mm: float
    along: Vec
    sides: tuple[int, int]
    turn_deg: float = 0.0


def blends_of(context: Context) -> dict[int, Blend]:
    """The rounds and bevels of a part by face, worked out once, when first asked for."""
    known = context.notes.get("blends")
    if known is None:
        known = context.notes["blends"] = find_blends(context)
    return cast("dict[int, Blend]", known)


def find_blends(context: Context) -> dict[int, Blend]:
    """All rounds and bevels among the faces that no feature owns, by face."""
    graph = context.graph
    free = [f for f in context.faces if context.free(f.index)]
    found: dict[int, Blend] = {}
    for face in free:
        blend = _round(graph, face)
        if blend is not None:
            found[face.index] = blend
    _add_cut_corners(graph, free, found)
    _add_patches(graph, free, found)
    for face in free:
        if face.index not in found:
            blend = _flat_bevel(graph, face) or _cone_bevel(graph, face)
            if blend is not None:
                found[face.index] = blend
    return found


# ---- rounds


def _round(graph: Graph, face: Face) -> Blend | None:
    if face.bend not in ("inside", "outside") or face.axis is None:
        return None
    if face.surface == "cylinder":
        links = [k for k in graph.links[face.index] if _along(k, face)]
        radius = face.radius_mm or 0.0
        if _turn(graph, face, links) > ROUND_SPAN_DEG:
            return None
    elif face.surface == "torus":
        links = [k for k in graph.links[face.index] if _about(k, face)]
        radius = face.minor_radius_mm or 0.0
    elif face.surface == "cone" and (face.half_angle_deg or 90.0) < DRAFT_DEG:
        links = [k for k in graph.links[face.index] if not _about(k, face)]
        radius = min(face.radii_mm or (0.0, 0.0))
        if (face.span_deg or 0.0) > ROUND_SPAN_DEG:
            return None
    else:
        return None
    sides = _tangent_sides(graph, face, links)
    if sides is None:
        return None
    side: Literal["inside", "outside"] = "inside" if face.bend == "inside" else "outside"
    return Blend(face.index, "round", side, radius, face.axis, sides)


def _along(link: Link, face: Face) -> bool:
    """A straight edge along the face's axis."""
    if not straight(link.edge) or face.axis is None:
        return False
    return parallel(unit(sub(link.edge.end, link.edge.start)), face.axis, 0.5)


def _about(link: Link, face: Face) -> bool:
    """An arc about the face's axis."""
    return (
        link.edge.axis is not None
        and face.axis is not None
        and parallel(link.edge.axis, face.axis, 0.5)
    )


def _turn(graph: Graph, face: Face, links: Iterable[Link]) -> float:
    """Angle covered by a cylinder together with its neighbours on the same carrier."""
    total = face.span_deg or 0.0
    for k in links:
        other = graph.faces[k.other]
        if other.surface == "cylinder" and same_carrier(graph, face, other):
            total += other.span_deg or 0.0
    return total


def same_carrier(graph: Graph, a: Face, b: Face) -> bool:
    """True where two faces lie on the same side of the same plane, cylinder or cone."""
    if a.surface != b.surface or a.bend != b.bend:
        return False
    if a.surface == "plane":
        return (
            dot(a.normal, b.normal) > 0.999999
            and abs(graph.offset(a) - graph.offset(b)) < graph.tolerance_mm * 2
        )
    if a.surface in ("cylinder", "torus", "sphere"):
        return graph.same_size(a.radius_mm or 0.0, b.radius_mm or 0.0) and graph.coaxial(a, b)
    return (
        a.surface == "cone"
        and graph.coaxial(a, b)
        and abs((a.half_angle_deg or 0.0) - (b.half_angle_deg or 0.0)) < 0.1
    )


def _tangent_sides(graph: Graph, face: Face, links: Iterable[Link]) -> tuple[int, int] | None:
    """The two neighbours a round runs into smoothly, one on each long side."""
    smooth = [
        (k.other, normal_at(graph.faces[k.other], k.edge.middle), k.edge.length_mm)
        for k in links
        if k.edge.convexity == "tangent" and not same_carrier(graph, face, graph.faces[k.other])
    ]
    if len(smooth) < 2:
        return None
    smooth.sort(key=lambda x: (-x[2], x[0]))
    first = smooth[0]
    for other in smooth[1:]:
        if angle_deg(first[1], other[1]) > 3.0 or face.surface == "torus":
            return (first[0], other[0])
    return None


def _add_cut_corners(graph: Graph, free: list[Face], found: dict[int, Blend]) -> None:
    """Corner rounds of which another cut has taken one side: known by the others beside them."""
    known = [graph.faces[f] for f in found if graph.faces[f].surface == "cylinder"]
    for face in free:
        if face.surface != "cylinder" or face.index in found or (face.span_deg or 0.0) > 100.0:
            continue
        links = [k for k in graph.links[face.index] if _along(k, face)]
        smooth = [k for k in links if k.edge.convexity == "tangent"]
        if len(smooth) != 1 or len(links) < 2 or face.axis is None:
            continue
        wall = smooth[0].other
        for other in known:
            blend = found[other.index]
            if (
                graph.same_size(blend.size_mm, face.radius_mm or 0.0)
                and blend.side == face.bend
                and parallel(blend.along, face.axis)
                and (wall in blend.sides or _beside(graph, wall, blend))
            ):
                cut = next(k.other for k in links if k.other != wall)
                found[face.index] = Blend(
                    face.index, "round", blend.side, blend.size_mm, face.axis, (wall, cut)
                )
                break


def _beside(graph: Graph, wall: int, blend: Blend) -> bool:
    """A wall of the same hollow as a round: both stand on one floor."""
    floors = graph.neighbours(wall, "concave")
    return bool(floors & graph.neighbours(blend.face, "concave"))


def _add_patches(graph: Graph, free: list[Face], found: dict[int, Blend]) -> None:
    """Corner patches: spheres and small freeform faces that run smoothly into two rounds."""
    for face in free:
        if face.index in found or face.surface not in ("sphere", "freeform", "torus"):
            continue
        smooth = [k for k in graph.links[face.index] if k.edge.convexity == "tangent"]
        rounds = sorted({k.other for k in smooth if k.other in found})
        if len(rounds) < 2:
            continue
        if sum(k.edge.length_mm for k in smooth) < 0.5 * sum(
            k.edge.length_mm for k in graph.links[face.index]
        ):
            continue
        a = found[rounds[0]]
        size = face.radius_mm if face.surface == "sphere" else a.size_mm
        found[face.index] = Blend(
            face.index, "round", a.side, size or a.size_mm, a.along, (rounds[0], rounds[1])
        )


# ---- bevels


def _flat_bevel(graph: Graph, face: Face) -> Blend | None:
    if face.surface != "plane" or on_box(graph, face):
        return None
    lines = [k for k in graph.links[face.index] if straight(k.edge)]
    for along in _directions(lines):
        across = cross(face.normal, along)
        low, high = graph.span_along(face, across)
        tolerance = graph.tolerance_mm * 4
        sides: list[list[Link]] = [[], []]
        for k in lines:
            if not parallel(unit(sub(k.edge.end, k.edge.start)), along, 0.5):
                continue
            place = dot(k.edge.middle, across)
            if place < low + tolerance:
                sides[0].append(k)
            elif place > high - tolerance:
                sides[1].append(k)
        blend = _bevel_of(graph, face, along, high - low, sides)
        if blend is not None:
            return blend
    return None


def _directions(lines: list[Link]) -> list[Vec]:
    """Directions of the straight edges, longest first, at most three."""
    result: list[Vec] = []
    for k in sorted(lines, key=lambda x: (-x.edge.length_mm, x.edge.index)):
        d = unit(sub(k.edge.end, k.edge.start))
        if not any(parallel(d, r, 0.5) for r in result):
            result.append(d)
    return result[:3]


def _bevel_of(
    graph: Graph, face: Face, along: Vec, width: float, sides: list[list[Link]]
) -> Blend | None:
    if not sides[0] or not sides[1] or width <= 0.0:
        return None
    links = [max(s, key=lambda k: (k.edge.length_mm, -k.other)) for s in sides]
    kinds = {k.edge.convexity for s in sides for k in s}
    if kinds not in ({"convex"}, {"concave"}):
        return None
    normals = [normal_at(graph.faces[k.other], k.edge.middle) for k in links]
    turns = [angle_deg(n, face.normal) for n in normals]
    if min(turns) < BEVEL_TURN_DEG or links[0].other == links[1].other:
        return None
    total = angle_deg(normals[0], normals[1])
    if abs(sum(turns) - total) > 2.0:
        return None
    around = [_breadth(graph, k, along) for k in links]
    if kinds == {"concave"}:
        if abs(total - 90.0) > 30.0 or width > INSIDE_BEVEL_RATIO * min(around):
            return None
        side: Literal["inside", "outside"] = "inside"
    else:
        if not _is_edge_bevel(graph, face, width, turns, total, normals, around):
            return None
        if _cut_from_corner(graph, face, along, links):
            return None
        side = "outside"
    return Blend(
        face.index, "bevel", side, width, along, (links[0].other, links[1].other), min(turns)
    )


def _is_edge_bevel(
    graph: Graph,
    face: Face,
    width: float,
    turns: list[float],
    total: float,
    normals: list[Vec],
    around: list[float],
) -> bool:
    if total > 150.0:
        return False
    if width <= BEVEL_WIDTH_RATIO * min(around):
        return True
    if abs(total - 90.0) > 15.0 or graph.neighbours(face.index, "concave"):
        return False
    return all(
        width * math.sin(math.radians(t)) <= BEVEL_REACH_RATIO * extent(graph, n)
        for t, n in zip(turns, normals, strict=True)
    )


def _cut_from_corner(graph: Graph, face: Face, along: Vec, sides: list[Link]) -> bool:
    """True where the bevel ends on a floor of its own, open to both sides: a triangular step."""
    beside = {k.other for k in sides}
    for k in graph.links[face.index]:
        floor = graph.faces[k.other]
        if k.edge.convexity != "concave" or floor.surface != "plane":
            continue
        if parallel(floor.normal, along, 5.0) and beside <= graph.neighbours(k.other, "convex"):
            return True
    return False


def on_box(graph: Graph, face: Face) -> bool:
    """True for a plane face on the part's canonical box."""
    frame = graph.part.frame
    if face.surface != "plane":
        return False
    for k, axis in enumerate((frame.x, frame.y, frame.z)):
        slope = dot(face.normal, axis)
        if abs(slope) > 0.99999:
            edge = frame.high_mm[k] if slope > 0.0 else frame.low_mm[k]
            return abs(dot(face.centroid, axis) - edge) < graph.tolerance_mm * 4
    return False


def extent(graph: Graph, direction: Vec) -> float:
    """Size of the part's canonical box along a direction, in mm."""
    frame = graph.part.frame
    return sum(
        abs(dot(direction, axis)) * size
        for axis, size in zip((frame.x, frame.y, frame.z), frame.size_mm, strict=True)
    )


def _breadth(graph: Graph, link: Link, along: Vec) -> float:
    """How far the neighbour reaches away from the edge, in mm."""
    face = graph.faces[link.other]
    n = normal_at(face, link.edge.middle)
    low, high = graph.span_along(face, unit(cross(n, along)))
    return high - low


def _cone_bevel(graph: Graph, face: Face) -> Blend | None:
    """A cone between two rims: the chamfer of a round edge, outside or inside."""
    if face.surface != "cone" or face.radii_mm is None or face.along_mm is None:
        return None
    if face.axis is None or face.axis_point is None:
        return None
    middle = sum(face.along_mm) / 2
    sides: list[list[Link]] = [[], []]
    for k in graph.links[face.index]:
        if straight(k.edge) or k.edge.convexity in ("seam", "open"):
            continue
        places = [dot(sub(p, face.axis_point), face.axis) for p in (k.edge.start, k.edge.middle)]
        sides[0 if sum(places) / 2 < middle else 1].append(k)
    if not sides[0] or not sides[1]:
        return None
    kinds = {k.edge.convexity for s in sides for k in s}
    if kinds not in ({"convex"}, {"concave"}):
        return None
    links = [max(s, key=lambda k: (k.edge.length_mm, -k.other)) for s in sides]
    turns = [
        angle_deg(normal_at(graph.faces[k.other], k.edge.middle), normal_at(face, k.edge.middle))
        for k in links
    ]
    legs = (abs(face.radii_mm[1] - face.radii_mm[0]), face.along_mm[1] - face.along_mm[0])
    if min(turns) < BEVEL_TURN_DEG or sum(turns) > 150.0:
        return None
    if (face.span_deg or 0.0) > 359.0:
        limits = (max(face.radii_mm), 4.0 * max(face.radii_mm))
    else:
        limits = (extent(graph, perpendicular(face.axis)), extent(graph, face.axis))
    if any(leg > BEVEL_REACH_RATIO * limit for leg, limit in zip(legs, limits, strict=True)):
        return None
    side: Literal["inside", "outside"] = "outside" if kinds == {"convex"} else "inside"
    return Blend(
        face.index, "bevel", side, math.hypot(*legs), face.axis,
        (links[0].other, links[1].other), min(turns),
    )  # fmt: skip

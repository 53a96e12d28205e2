"""Hollows: faces joined over inside edges, and the side they are open to.

The edges where two cuts run into each other are outside edges, so faces joined over inside edges
stem from one cut, or from cuts that share a face.
"""

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from dfmcheck.features.axes import signed
from dfmcheck.features.blends import Blend, on_box
from dfmcheck.features.context import Context
from dfmcheck.features.gaps import cut_apart, overlap
from dfmcheck.features.graph import Graph, Link
from dfmcheck.features.islands import islands_of
from dfmcheck.features.strays import relieved_roots, slits
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import cross, dot, norm, parallel, perpendicular, scale, sub, unit

FLOOR_COSINE = 0.9
"""Faces within about 25 degrees of the opening's direction are floors, the others walls."""

UNDERCUT_COSINE = -0.02
UNDERCUT_RATIO = 0.01

CLOSED_GAP_DEG = 176.0
"""Walls whose normals leave no greater gap than this surround the hollow."""


@dataclass
class Hollow:
    """Faces of one or several cuts, open towards `direction`.

    `blends` are the inside rounds and bevels between its faces. `ring` marks walls without a
    floor that run all round; `undercut` faces look away from the opening; `vee` walls meet at
    the bottom without a floor; the mouth of a `closed` one is a hole in a plane face.
    """

    direction: Vec
    floors: tuple[int, ...]
    walls: tuple[int, ...]
    blends: tuple[int, ...]
    ring: bool = False
    undercut: bool = False
    vee: bool = False
    closed: bool = False


def hollows(context: Context, blends: dict[int, Blend]) -> list[Hollow]:
    """All hollows of a part that no feature owns yet, in the order of their lowest face."""
    graph = context.graph
    nodes = _nodes(context, blends)
    parts = list(graph.components(nodes, lambda f, k: joins(graph, blends, f, k)))
    mouths = _mouths(graph, blends, set(nodes))
    result: list[Hollow] = []
    roots = list(relieved_roots(context, parts, {f: k for k, p in enumerate(parts) for f in p}))
    whole = _together(graph, blends, parts, mouths, roots)
    for a, b, direction in slits(context, whole):
        result.append(Hollow(direction, (), (a, b), ()))
    at_mouths = {f for m in mouths for f in m}
    for part in _with_necks(graph, blends, whole):
        hollow = _opened(graph, blends, part)
        if hollow is not None:
            hollow.closed = _is_closed(graph, hollow, at_mouths)
            result.append(hollow)
    return result


def _mouths(graph: Graph, blends: dict[int, Blend], nodes: set[int]) -> list[list[int]]:
    """For each hole in a plane face: the faces that go down from it, blends looked through."""
    found: list[list[int]] = []
    for face in graph.faces:
        if face.surface != "plane":
            continue
        for loop in face.loops[1:]:
            down: set[int] = set()
            for e in loop:
                edge = graph.edges[e]
                others = [f for f in edge.faces if f != face.index]
                if not others or edge.convexity not in ("convex", "tangent"):
                    break
                blend = blends.get(others[0])
                if blend is None:
                    down.add(others[0])
                elif blend.side == "outside":
                    down.update(f for f in blend.sides if f != face.index)
            else:
                inside = sorted(f for f in down if f in nodes and f not in blends)
                if inside:
                    found.append(inside)
    return found


def _is_closed(graph: Graph, hollow: Hollow, at_mouths: set[int]) -> bool:
    """True where all walls that reach the surface do so at a hole in a plane face."""
    inside = {*hollow.floors, *hollow.walls, *hollow.blends}
    for w in hollow.walls:
        if w in at_mouths:
            continue
        for k in graph.links[w]:
            face = graph.faces[k.other]
            if (
                k.other not in inside
                and k.edge.convexity == "convex"
                and face.surface == "plane"
                and dot(face.normal, hollow.direction) > 0.9
            ):
                return False
    return any(w in at_mouths for w in hollow.walls)


def _nodes(context: Context, blends: dict[int, Blend]) -> list[int]:
    graph = context.graph
    islands = {f for i in islands_of(context, blends) for f in (*i.walls, *i.feet)}
    result = []
    for face in context.faces:
        if not context.free(face.index) or on_box(graph, face) or face.index in islands:
            continue
        blend = blends.get(face.index)
        if blend is not None and blend.side == "outside":
            continue
        if face.bend == "outside" and _whole_turn(graph, face):
            continue
        result.append(face.index)
    return result


def _whole_turn(graph: Graph, face: Face) -> bool:
    """A convex face of revolution that runs (nearly) all round: a boss or a turned diameter."""
    if face.surface not in ("cylinder", "cone", "torus"):
        return False
    total = face.span_deg or 0.0
    for k in graph.links[face.index]:
        other = graph.faces[k.other]
        if other.surface == face.surface and other.bend == "outside" and graph.coaxial(face, other):
            total += other.span_deg or 0.0
    return total > 300.0


def joins(graph: Graph, blends: dict[int, Blend], face: int, link: Link) -> bool:
    """Whether a link lies inside a hollow: an inside edge, or a smooth run into an inside face."""
    a, b = graph.faces[face], graph.faces[link.other]
    if link.edge.convexity == "concave":
        return not (_round_island(graph, a, link) or _round_island(graph, b, link))
    if link.edge.convexity != "tangent":
        return False
    smooth = _is_hollow(blends, a) or _is_hollow(blends, b)
    return smooth and not (_round_island(graph, a, link) or _round_island(graph, b, link))


def _is_hollow(blends: dict[int, Blend], face: Face) -> bool:
    blend = blends.get(face.index)
    return face.bend == "inside" if blend is None else blend.side == "inside"


def _round_island(graph: Graph, floor: Face, link: Link) -> bool:
    """True where the edge belongs to an inner loop of a plane round metal that stands above it."""
    if floor.surface != "plane":
        return False
    for loop in floor.loops[1:]:
        if link.edge.index in loop:
            return all(graph.edges[e].convexity in ("concave", "tangent") for e in loop)
    return False


def _together(
    graph: Graph,
    blends: dict[int, Blend],
    parts: list[tuple[int, ...]],
    mouths: list[list[int]],
    roots: list[tuple[int, int]],
) -> list[tuple[int, ...]]:
    """Join components that something else has cut apart, or that go down from one mouth."""
    owner = {f: k for k, part in enumerate(parts) for f in part}
    root = list(range(len(parts)))

    def find(k: int) -> int:
        while root[k] != k:
            root[k] = root[root[k]]
            k = root[k]
        return k

    faces = [f for part in parts for f in part if f not in blends]
    pairs = list(cut_apart(graph, faces))
    met = Counter(f for pair in pairs for f in pair)
    for a, b in pairs:
        if any(len(parts[owner[f]]) == 1 and met[f] < 2 for f in (a, b)):
            continue  # a face alone belongs to what lies on both sides of it, or to nothing
        x, y = find(owner[a]), find(owner[b])
        if x != y and not back_to_back(graph, parts[owner[a]], parts[owner[b]]):
            root[max(x, y)] = min(x, y)
    for a, b in roots:
        x, y = find(owner[a]), find(owner[b])
        root[max(x, y)] = min(x, y)
    for mouth in mouths:
        for f in mouth[1:]:
            x, y = find(owner[mouth[0]]), find(owner[f])
            root[max(x, y)] = min(x, y)
    groups: dict[int, list[int]] = {}
    for k, part in enumerate(parts):
        groups.setdefault(find(k), []).extend(part)
    return [tuple(sorted(g)) for _, g in sorted(groups.items())]


def _with_necks(
    graph: Graph, blends: dict[int, Blend], parts: list[tuple[int, ...]]
) -> list[tuple[int, ...]]:
    """Put the neck of a T-shaped slot to its head: walls that rise from an overhang's edge."""
    owner = {f: k for k, p in enumerate(parts) for f in p}
    into: dict[int, int] = {}
    for k, part in enumerate(parts):
        hollow = _opened(graph, blends, part)
        if hollow is None or not hollow.undercut:
            continue
        over = [w for w in hollow.walls if facing(graph.faces[w], hollow.direction) < -0.9]
        for n in {n for w in over for n in graph.neighbours(w, "convex")}:
            other = owner.get(n, k)
            walls = [graph.faces[w] for w in parts[other] if w not in blends]
            if other != k and all(abs(facing(w, hollow.direction)) < 0.1 for w in walls):
                into[other] = k
    result: dict[int, list[int]] = {}
    for k, part in enumerate(parts):
        result.setdefault(into.get(k, k), []).extend(part)
    return [tuple(sorted(p)) for _, p in sorted(result.items())]


def back_to_back(graph: Graph, first: Iterable[int], second: Iterable[int]) -> bool:
    """True if walls of two sets turn their backs on each other: there is metal between them."""
    others = [graph.faces[g] for g in second if graph.faces[g].surface == "plane"]
    for f in (graph.faces[n] for n in first):
        if f.surface != "plane":
            continue
        for g in others:
            if dot(f.normal, g.normal) > -0.9:
                continue
            ahead = dot(sub(g.centroid, f.centroid), f.normal)
            u = perpendicular(f.normal)
            if ahead < -graph.tolerance_mm and all(
                overlap(graph.span_along(f, d), graph.span_along(g, d)) > 0.2
                for d in (u, cross(f.normal, u))
            ):
                return True
    return False


# ---- the side a hollow is open to


def _opened(graph: Graph, blends: dict[int, Blend], part: tuple[int, ...]) -> Hollow | None:
    core = [f for f in part if f not in blends]
    soft = [f for f in part if f in blends]
    if not core:
        return None
    faces = [graph.faces[f] for f in core]
    if len(core) == 1 and faces[0].surface == "plane":
        return None
    axis = common_axis(faces)
    if axis is not None and _runs_round(graph, faces, axis):
        return Hollow(signed(axis, graph), (), tuple(core), tuple(soft), ring=True)
    mouth = _vee_mouth(graph, blends, faces, set(core) | set(soft))
    if mouth is not None:
        return Hollow(mouth, (), tuple(core), tuple(soft), vee=True)
    direction = _best_direction(graph, blends, faces, "plane")
    direction = direction or _best_direction(graph, blends, faces, "cylinder")
    undercut = False
    if direction is None:
        undercut = True
        direction = _mouth_direction(graph, faces)
    if direction is None:
        return None
    floors = tuple(f.index for f in faces if facing(f, direction) >= FLOOR_COSINE)
    walls = tuple(f.index for f in faces if f.index not in floors)
    if not walls and all(graph.faces[f].surface == "plane" for f in floors):
        return None
    return Hollow(direction, floors, walls, tuple(soft), undercut=undercut)


def facing(face: Face, direction: Vec) -> float:
    """Cosine between a face's middle normal and a direction; 0 for walls curved about it."""
    return 0.0 if curved_about(face, direction) else dot(face.normal, direction)


def curved_about(face: Face, axis: Vec) -> bool:
    """True for a cylinder or cone whose axis runs along the given one."""
    return (
        face.surface in ("cylinder", "cone")
        and face.axis is not None
        and parallel(face.axis, axis, 1.0)
    )


def common_axis(faces: Iterable[Face]) -> Vec | None:
    """The direction all faces run along, as drawn out of one outline; None if there is none."""
    axis: Vec | None = None
    first: Vec | None = None
    for f in faces:
        if f.surface == "cylinder" and f.axis is not None:
            axis = axis or f.axis
        elif f.surface == "plane":
            if first is None:
                first = f.normal
            elif axis is None and not parallel(first, f.normal, 2.0):
                axis = unit(cross(first, f.normal))
        else:
            return None
    if axis is None:
        return None
    for f in faces:
        if f.surface == "cylinder":
            if f.axis is None or not parallel(f.axis, axis, 1.0):
                return None
        elif abs(dot(f.normal, axis)) > 0.02:
            return None
    return axis


def angles_about(face: Face, axis: Vec) -> list[float]:
    """Angles (degrees) of a wall's normals about an axis: one for a plane, several for an arc."""
    u = perpendicular(axis)
    v = cross(axis, u)
    middle = math.degrees(math.atan2(dot(face.normal, v), dot(face.normal, u)))
    if not curved_about(face, axis):
        return [middle]
    half = (face.span_deg or 0.0) / 2
    steps = max(2, math.ceil(half / 15.0))
    return [middle + half * k / steps for k in range(-steps, steps + 1)]


def widest_gap_deg(angles: Iterable[float]) -> float:
    """The widest gap between angles on a circle, in degrees."""
    return max(_gaps(angles))


def gaps_deg(angles: Iterable[float], least: float) -> int:
    """How many gaps between angles on a circle are at least this wide."""
    return sum(g >= least for g in _gaps(angles))


def _gaps(angles: Iterable[float]) -> list[float]:
    row = sorted(a % 360.0 for a in angles)
    if not row:
        return [360.0]
    return [*(b - a for a, b in pairwise(row)), 360.0 - row[-1] + row[0]]


def _runs_round(graph: Graph, faces: list[Face], axis: Vec) -> bool:
    """Walls along one axis on all sides, each looking at another one."""
    if widest_gap_deg(a for f in faces for a in angles_about(f, axis)) > CLOSED_GAP_DEG:
        return False
    total = missed = 0.0
    for f in faces:
        total += f.area_mm2
        if not _looks_at(graph, f, faces, axis):
            missed += f.area_mm2
    return missed <= 0.15 * total


def _looks_at(graph: Graph, face: Face, faces: Iterable[Face], axis: Vec) -> bool:
    """True if the line from the middle of a wall along its normal meets another one of them."""
    side = unit(cross(axis, face.normal))
    low, high = graph.span_along(face, side)
    middle = (low + high) / 2
    start = dot(face.centroid, face.normal)
    for other in faces:
        if other.index == face.index or dot(other.normal, face.normal) > 0.1:
            continue
        first, last = graph.span_along(other, side)
        if first - 1e-6 <= middle <= last + 1e-6:
            reach = graph.span_along(other, face.normal)[1]
            if reach > start + graph.tolerance_mm:
                return True
    return False


def _vee_mouth(
    graph: Graph, blends: dict[int, Blend], faces: list[Face], own: set[int]
) -> Vec | None:
    """The normal of the plane into which two slanting walls that meet below both run out."""
    for f, o, length in _meeting(graph, blends, faces, own):
        for mouth in _outlets(graph, blends, f, own, length):
            slopes = (dot(mouth, f.normal), dot(mouth, o.normal))
            if min(slopes) < 0.03 or max(slopes) > 0.985:
                continue
            back = _outlets(graph, blends, o, own, length)
            if any(dot(mouth, m) > 0.999 for m in back) and _opens_like_vee(faces, mouth):
                return mouth
    return None


def _meeting(
    graph: Graph, blends: dict[int, Blend], faces: list[Face], own: set[int]
) -> Iterator[tuple[Face, Face, float]]:
    """Pairs of plane walls that meet in an inside edge, sharp or rounded, and its length."""
    flat = {f.index for f in faces if f.surface == "plane"}
    for f in faces:
        if f.index not in flat:
            continue
        for k in graph.links[f.index]:
            if k.edge.convexity == "concave" and k.other in flat and k.other > f.index:
                yield f, graph.faces[k.other], k.edge.length_mm
    for b in sorted(own - flat):
        sides = blends[b].sides if b in blends else ()
        if len(sides) == 2 and sides[0] in flat and sides[1] in flat:
            yield (
                graph.faces[sides[0]],
                graph.faces[sides[1]],
                max(e.length_mm for e in graph.between(b, sides[0])),
            )


def _outlets(
    graph: Graph, blends: dict[int, Blend], face: Face, own: set[int], length: float
) -> list[Vec]:
    """Normals of the planes a wall runs out into over its outside edges, blends looked through."""
    result: list[Vec] = []
    for k in graph.links[face.index]:
        if k.other in own or k.edge.length_mm < 0.3 * length:
            continue
        blend = blends.get(k.other)
        beyond = [k.other] if blend is None else [s for s in blend.sides if s != face.index]
        result.extend(graph.faces[b].normal for b in beyond if graph.faces[b].surface == "plane")
    return result


def _opens_like_vee(faces: list[Face], mouth: Vec) -> bool:
    if any(facing(f, mouth) < UNDERCUT_COSINE or facing(f, mouth) > 0.985 for f in faces):
        return False
    return widest_gap_deg(a for f in faces for a in angles_about(f, mouth)) > CLOSED_GAP_DEG


def _best_direction(
    graph: Graph, blends: dict[int, Blend], faces: list[Face], surface: str
) -> Vec | None:
    """The direction out of the hollow from which all faces are seen and the floor is closed in."""
    total = sum(f.area_mm2 for f in faces)
    inside = {f.index for f in faces}
    best: tuple[float, bool, float, int] | None = None
    chosen: Vec | None = None
    for direction, number in _candidates(faces, surface):
        hidden = sum(f.area_mm2 for f in faces if facing(f, direction) < UNDERCUT_COSINE)
        if hidden > UNDERCUT_RATIO * total:
            continue
        floors = [f for f in faces if facing(f, direction) > 0.99]
        closed, around = 0.0, 0.0
        for f in floors:
            c, a = enclosed(graph, blends, f, inside)
            closed, around = closed + c, around + a
        share = closed / around if around > 0.0 else 0.0
        area = sum(f.area_mm2 for f in floors)
        level = square_to_box(graph, direction)
        score = (round(share, 1) if share > 0.52 else 0.0, level, area, -number)
        if best is None or score > best:
            best, chosen = score, direction
    return chosen


def _candidates(faces: Iterable[Face], surface: str) -> list[tuple[Vec, int]]:
    result: list[tuple[Vec, int]] = []
    for f in faces:
        fits = f.surface == surface and f.bend != "outside"
        if fits and not any(dot(d, f.normal) > 0.9999 for d, _ in result):
            result.append((f.normal, f.index))
    return result


def enclosed(
    graph: Graph, blends: dict[int, Blend], face: Face, inside: set[int]
) -> tuple[float, float]:
    """Length of a face's outer loop along which the hollow goes on, and its whole length."""
    closed = around = 0.0
    if not face.loops:
        return closed, around
    rim = set(face.loops[0])
    for k in graph.links[face.index]:
        if k.edge.index not in rim:
            continue
        around += k.edge.length_mm
        if (k.other in inside or k.other in blends) and joins(graph, blends, face.index, k):
            closed += k.edge.length_mm
    return closed, around


def _mouth_direction(graph: Graph, faces: list[Face]) -> Vec | None:
    """For undercut hollows: the normal of the greatest floor that looks out between the others."""
    best: tuple[float, int] | None = None
    chosen: Vec | None = None
    for f in faces:
        if f.surface != "plane":
            continue
        blocked = any(dot(o.normal, f.normal) < -0.05 and _above_middle(graph, f, o) for o in faces)
        if not blocked and (best is None or (f.area_mm2, -f.index) > best):
            best, chosen = (f.area_mm2, -f.index), f.normal
    return chosen


def _above_middle(graph: Graph, floor: Face, other: Face) -> bool:
    """True if another face lies over the middle of a floor."""
    u = perpendicular(floor.normal)
    for side in (u, cross(floor.normal, u)):
        low, high = graph.span_along(floor, side)
        middle = (low + high) / 2
        if overlap((middle, middle), graph.span_along(other, side)) == 0.0:
            return False
    return graph.span_along(other, floor.normal)[1] > graph.offset(floor) + graph.tolerance_mm


def square_to_box(graph: Graph, direction: Vec) -> bool:
    """True for a direction along an axis of the canonical frame."""
    frame = graph.part.frame
    return any(parallel(direction, a, 1.0) for a in (frame.x, frame.y, frame.z))


def off_plane(direction: Vec, normal: Vec) -> Vec:
    """The part of a direction square to a normal, as a unit vector (null where there is none)."""
    flat = sub(direction, scale(normal, dot(direction, normal)))
    return unit(flat) if norm(flat) > 1e-9 else (0.0, 0.0, 0.0)

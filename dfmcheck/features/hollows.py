"""Hollows: faces joined over inside edges, and the side they are open to.

The edges where two cuts run into each other are outside edges, so faces joined over inside edges
stem from one cut, or from cuts that share a face.
"""

from collections import Counter
from collections.abc import Iterable

from dfmcheck.features.angles import facing
from dfmcheck.features.axes import signed
from dfmcheck.features.blends import Blend, on_box
from dfmcheck.features.context import Context
from dfmcheck.features.gaps import cut_apart, overlap
from dfmcheck.features.graph import Graph
from dfmcheck.features.islands import islands_of
from dfmcheck.features.joints import joins
from dfmcheck.features.openings import Hollow, opened
from dfmcheck.features.strays import relieved_roots, slits
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import cross, dot, parallel, square, sub


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
    for part in _with_necks(graph, blends, whole):
        hollow = _window(graph, blends, part, mouths) or opened(graph, blends, part)
        if hollow is not None:
            hollow.closed = _is_closed(graph, hollow, mouths)
            result.append(hollow)
    return result


Mouth = tuple[Vec, list[int]]
"""The normal of a plane face with a hole in it, and the faces that go down from the hole."""


def _mouths(graph: Graph, blends: dict[int, Blend], nodes: set[int]) -> list[Mouth]:
    """For each hole in a plane face: the faces that go down from it, blends looked through."""
    found: list[Mouth] = []
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
                    found.append((face.normal, inside))
    return found


def _is_closed(graph: Graph, hollow: Hollow, mouths: list[Mouth]) -> bool:
    """True where all walls that reach the surface do so at a hole in a plane face."""
    at_mouths = {f for n, m in mouths if abs(dot(n, hollow.direction)) > 0.9 for f in m}
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


def _window(
    graph: Graph, blends: dict[int, Blend], part: tuple[int, ...], mouths: list[Mouth]
) -> Hollow | None:
    """Walls of any outline drawn through the part, from a hole in one plane to one opposite."""
    core = [f for f in part if f not in blends]
    if not any(graph.faces[f].swept == "extruded" for f in core):
        return None
    ends = [n for n, down in mouths if down == core and _drawn_along(graph, core, n)]
    for n in ends:
        if any(dot(n, m) < -0.999 for m in ends):
            soft = tuple(f for f in part if f in blends)
            return Hollow(signed(n, graph), (), tuple(core), soft, ring=True)
    return None


def _drawn_along(graph: Graph, faces: list[int], direction: Vec) -> bool:
    """True where all faces run along a direction."""
    return all(
        square(f.normal, direction, 1.0)
        if f.surface == "plane"
        else f.axis is not None
        and (f.surface == "cylinder" or f.swept == "extruded")
        and parallel(f.axis, direction, 1.0)
        for f in (graph.faces[n] for n in faces)
    )


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


def _together(
    graph: Graph,
    blends: dict[int, Blend],
    parts: list[tuple[int, ...]],
    mouths: list[Mouth],
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
    for _, mouth in mouths:
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
        hollow = opened(graph, blends, part)
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
            u = graph.grain(f)
            if ahead < -graph.tolerance_mm and all(
                overlap(graph.span_along(f, d), graph.span_along(g, d)) > 0.2
                for d in (u, cross(f.normal, u))
            ):
                return True
    return False

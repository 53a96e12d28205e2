"""Strays: plane faces that lost their inside edges because another cut took the root away.

A wall and its floor whose corner was relieved, and the two sides of a slit, belong together
though no inside edge joins them.
"""

from collections.abc import Iterator

from dfmcheck.features.context import Context
from dfmcheck.features.gaps import out_over, overlap, spread
from dfmcheck.features.graph import Graph, straight
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face
from dfmcheck.model.vector import cross, dot, norm, scale, sub, unit

Rim = tuple[Edge, int, Vec]
"""An outside edge of a face, the neighbour beyond, and the direction out over it."""


def relieved_roots(
    context: Context, parts: list[tuple[int, ...]], owner: dict[int, int]
) -> Iterator[tuple[int, int]]:
    """Pairs of plane faces, one of them alone, that would meet in an inside edge.

    Their rims face each other's planes over the hollow that took the edge away.
    """
    graph = context.graph
    body = _bodies(context, owner)
    rims = {f: _rims(graph, graph.faces[f]) for p in parts for f in p if _flat(graph, f)}
    at_body: dict[str, list[tuple[int, Rim]]] = {}
    for f, row in rims.items():
        for rim in row:
            if rim[1] in body:
                at_body.setdefault(body[rim[1]], []).append((f, rim))
    for part in parts:
        if len(part) != 1 or part[0] not in rims:
            continue
        stray = part[0]
        for rim in rims[stray]:
            for f, other in at_body.get(body.get(rim[1], ""), ()):
                if f != stray and _would_meet(graph, stray, rim, f, other):
                    yield stray, f


def slits(context: Context, parts: list[tuple[int, ...]]) -> Iterator[tuple[int, int, Vec]]:
    """Pairs of faces alone that face each other closely and run out into the same hole."""
    graph = context.graph
    alone = [p[0] for p in parts if len(p) == 1 and _flat(graph, p[0])]
    holes: dict[str, list[int]] = {}
    for f in alone:
        for n in graph.neighbours(f, "convex"):
            name = context.owner.get(n)
            if name is not None and graph.faces[n].surface == "cylinder":
                holes.setdefault(name, []).append(f)
    for name, faces in sorted(holes.items()):
        for k, a in enumerate(faces):
            for b in faces[k + 1 :]:
                if a != b and _face_closely(graph, graph.faces[a], graph.faces[b]):
                    yield a, b, _away_from(context, graph.faces[a], name)


def _flat(graph: Graph, face: int) -> bool:
    return graph.faces[face].surface == "plane"


def _bodies(context: Context, owner: dict[int, int]) -> dict[int, str]:
    """For each face of a hollow or hole, a name of the whole."""
    names = {f: f"part {k}" for f, k in owner.items()}
    names.update(context.owner)
    return names


def _rims(graph: Graph, face: Face) -> list[Rim]:
    return [
        (k.edge, k.other, out_over(graph, face, k.edge, k.other))
        for k in graph.links[face.index]
        if k.edge.convexity == "convex"
    ]


def _would_meet(graph: Graph, a: int, rim: Rim, b: int, other: Rim) -> bool:
    first, second = graph.faces[a], graph.faces[b]
    if dot(rim[2], second.normal) > -0.9 or dot(other[2], first.normal) > -0.9:
        return False
    tolerance = -graph.tolerance_mm * 4
    if dot(rim[0].middle, second.normal) - graph.offset(second) < tolerance:
        return False
    if dot(other[0].middle, first.normal) - graph.offset(first) < tolerance:
        return False
    along = cross(first.normal, second.normal)
    if norm(along) < 0.3:
        return False
    return overlap(spread(rim[0], unit(along)), spread(other[0], unit(along))) > 0.3


def _face_closely(graph: Graph, a: Face, b: Face) -> bool:
    """Parallel faces that look at each other, wider than they are apart."""
    if dot(a.normal, b.normal) > -0.999:
        return False
    apart = dot(sub(b.centroid, a.centroid), a.normal)
    if apart <= graph.tolerance_mm:
        return False
    u = graph.grain(a)
    spans = [(graph.span_along(a, d), graph.span_along(b, d)) for d in (u, cross(a.normal, u))]
    if any(overlap(x, y) < 0.8 for x, y in spans):
        return False
    return apart < max(x[1] - x[0] for x, _ in spans)


def _away_from(context: Context, face: Face, hole: str) -> Vec:
    """The direction in a face, along one of its edges, that leads away from a hole."""
    graph = context.graph
    out = next(out for _, other, out in _rims(graph, face) if context.owner.get(other) == hole)
    edges = [k.edge for k in graph.links[face.index] if straight(k.edge)]
    ways = [unit(sub(e.end, e.start)) for e in edges]
    ways += [scale(w, -1.0) for w in ways]
    return min(ways, key=lambda w: dot(w, out), default=scale(out, -1.0))

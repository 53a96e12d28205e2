"""Faces of one carrier that face each other over a free gap: one face, cut by something else."""

from collections.abc import Iterable, Iterator
from itertools import combinations

from dfmcheck.features.blends import same_carrier
from dfmcheck.features.graph import Graph, normal_at
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face
from dfmcheck.model.vector import add, cross, dot, norm, perpendicular, scale, sub, unit

Rim = tuple[Edge, Vec]
"""An edge of a face and the direction in the face that leads out over it."""


def out_over(graph: Graph, face: Face, edge: Edge, other: int) -> Vec:
    """The direction in a face, square to an edge, that leads out of the face over it.

    Convex and concave edges only; the null vector where the neighbour tells nothing.
    """
    n = normal_at(face, edge.middle)
    m = normal_at(graph.faces[other], edge.middle)
    flat = sub(m, scale(n, dot(m, n)))
    if norm(flat) < 1e-6:
        return (0.0, 0.0, 0.0)
    return unit(flat) if edge.convexity == "convex" else scale(unit(flat), -1.0)


def open_rims(graph: Graph, face: Face) -> list[Rim]:
    """The convex edges of a face with their directions out of it."""
    return [
        (k.edge, out_over(graph, face, k.edge, k.other))
        for k in graph.links[face.index]
        if k.edge.convexity == "convex"
    ]


def cut_apart(graph: Graph, faces: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Pairs of faces on the same side of the same carrier that face each other over a gap."""
    buckets: dict[tuple[int, ...], list[int]] = {}
    for number in faces:
        face = graph.faces[number]
        if face.surface == "plane":
            buckets.setdefault(_bucket(graph, face), []).append(number)
        elif face.surface == "cylinder" and face.bend == "inside":
            buckets.setdefault((round((face.radius_mm or 0.0) * 20),), []).append(number)
    for group in buckets.values():
        if len(group) < 2:
            continue
        rims = {f: open_rims(graph, graph.faces[f]) for f in group}
        for a, b in combinations(group, 2):
            if same_carrier(graph, graph.faces[a], graph.faces[b]) and _facing(
                graph, graph.faces[a], rims[a], rims[b]
            ):
                yield a, b


def _bucket(graph: Graph, face: Face) -> tuple[int, ...]:
    n = face.normal
    return (round(n[0] * 50), round(n[1] * 50), round(n[2] * 50), round(graph.offset(face) * 2))


def _facing(graph: Graph, face: Face, first: list[Rim], second: list[Rim]) -> bool:
    for edge, out in first:
        for other, back in second:
            if dot(out, back) > -0.7:
                continue
            way = sub(other.middle, edge.middle)
            if dot(way, out) <= graph.tolerance_mm:
                continue
            side = cross(normal_at(face, edge.middle), out)
            if overlap(spread(edge, side), spread(other, side)) > 0.2:
                return True
    return False


def spread(edge: Edge, direction: Vec) -> tuple[float, float]:
    """Extent of an edge along a direction: ends and middle, whole circles in full."""
    values = [dot(p, direction) for p in (edge.start, edge.middle, edge.end)]
    if edge.centre is not None and edge.axis is not None and norm(sub(edge.start, edge.end)) < 1e-6:
        radius = edge.radius_mm or 0.0
        u = perpendicular(edge.axis)
        v = cross(edge.axis, u)
        values.extend(
            dot(add(edge.centre, scale(p, radius)), direction)
            for p in (u, v, scale(u, -1.0), scale(v, -1.0))
        )
    return min(values), max(values)


def overlap(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Shared length of two intervals as a share of the shorter one (1 for points inside)."""
    shorter = min(a[1] - a[0], b[1] - b[0])
    shared = min(a[1], b[1]) - max(a[0], b[0])
    if shorter <= 1e-9:
        return 1.0 if shared >= -1e-9 else 0.0
    return max(0.0, shared) / shorter


def carriers(graph: Graph, faces: Iterable[int]) -> list[list[int]]:
    """Faces put together by carrier, in the order of their lowest face."""
    result: list[list[int]] = []
    for f in sorted(faces):
        for group in result:
            if same_carrier(graph, graph.faces[group[0]], graph.faces[f]):
                group.append(f)
                break
        else:
            result.append([f])
    return result

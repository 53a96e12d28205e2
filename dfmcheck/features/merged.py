"""A part whose faces and edges are whole again where an export has cut them into pieces.

Neighbours on one plane, cylinder, cone or ring that meet in a smooth edge are one face to the
shop, as are pieces of one line or circle between the same two faces one edge.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from typing import cast

from msgspec.structs import replace

from dfmcheck.features.blends import same_carrier
from dfmcheck.features.cuts import Union
from dfmcheck.features.graph import Graph
from dfmcheck.features.whole import along, radial, whole_face
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face, PartFacts
from dfmcheck.model.vector import add, cross, dot, norm, parallel, scale, sub, unit

SAME_POINT_MM = 1e-3
"""Ends of edges closer than this are one point."""

CELL_MM = 0.01

MERGED = ("plane", "cylinder", "cone", "torus")


@dataclass(frozen=True)
class Merged:
    """The part with whole faces, and the faces of the file that each of them stands for."""

    part: PartFacts
    members: tuple[tuple[int, ...], ...]

    def original(self, faces: Iterable[int]) -> tuple[int, ...]:
        """Faces of the file, ascending, for faces of the merged part."""
        return tuple(sorted(m for f in faces for m in self.members[f]))


def merged(part: PartFacts) -> Merged:
    """Put split faces and edges together; a part without any is given back as it is."""
    smooth = [e for e in part.edges if _may_join(part, e)]
    graph = Graph(part) if smooth else None
    groups = _groups(part, smooth, graph) if graph is not None else []
    if graph is None or len(groups) == len(part.faces):
        return Merged(part, tuple((f.index,) for f in part.faces))
    home = {m: n for n, g in enumerate(groups) for m in g}
    whole = {n for n, g in enumerate(groups) if len(g) > 1}
    edges, renamed = _edges(part, home, whole)
    faces = []
    for n, group in enumerate(groups):
        face = whole_face(graph, group) if len(group) > 1 else part.faces[group[0]]
        if n in whole:
            bounding = {renamed[e] for m in group for x in part.faces[m].loops for e in x
                        if e in renamed}  # fmt: skip
            loops = _loops([edges[e] for e in sorted(bounding)])
        else:
            loops = tuple(
                tuple(dict.fromkeys(renamed[e] for e in x if e in renamed)) for x in face.loops
            )
        faces.append(
            replace(
                face, index=n, loops=loops, wall_face=home.get(cast("int", face.wall_face)),
                gap_face=home.get(cast("int", face.gap_face)),
            )
        )  # fmt: skip
    return Merged(replace(part, faces=tuple(faces), edges=tuple(edges)), tuple(groups))


def _may_join(part: PartFacts, edge: Edge) -> bool:
    if edge.convexity != "tangent" or len(edge.faces) != 2 or edge.faces[0] == edge.faces[1]:
        return False
    a, b = (part.faces[f] for f in edge.faces)
    return a.surface == b.surface and a.bend == b.bend and a.surface in MERGED


def _groups(part: PartFacts, smooth: Iterable[Edge], graph: Graph) -> list[tuple[int, ...]]:
    """The faces of each whole face, in the order of their lowest."""
    union = Union(range(len(part.faces)))
    for e in smooth:
        a, b = (part.faces[f] for f in e.faces)
        if _one_surface(graph, a, b):
            union.join(a.index, b.index)
    return union.sets()


def _one_surface(graph: Graph, a: Face, b: Face) -> bool:
    if not same_carrier(graph, a, b):
        return False
    if a.surface != "torus":
        return True
    return (
        graph.same_size(a.minor_radius_mm or 0.0, b.minor_radius_mm or 0.0)
        and all(radial(f) is not None for f in (a, b))
        and all(
            abs(x - y) < graph.tolerance_mm * 2
            for x, y in zip(along(a, a), along(a, b), strict=True)
        )
    )


# ---- edges


def _edges(
    part: PartFacts, home: dict[int, int], whole: set[int]
) -> tuple[list[Edge], dict[int, int]]:
    """The edges that are left, and the new number of each old one that has not gone."""
    pieces: dict[tuple[object, ...], list[Edge]] = {}
    for e in part.edges:
        faces = tuple(home[f] for f in e.faces)
        within = len(faces) == 2 and faces[0] == faces[1]
        if within and faces[0] in whole:
            continue
        key: tuple[object, ...] = (e.index,)
        if not within and whole.intersection(faces) and e.curve in ("line", "circle"):
            key = (*sorted(faces), e.curve, e.convexity)
        pieces.setdefault(key, []).append(replace(e, faces=faces))
    edges: list[Edge] = []
    renamed: dict[int, int] = {}
    for chain in sorted((c for group in pieces.values() for c in _chains(group)),
                        key=lambda c: c[0].index):  # fmt: skip
        for e in chain:
            renamed[e.index] = len(edges)
        edges.append(replace(_one_edge(chain), index=len(edges)))
    return edges, renamed


def _chains(group: list[Edge]) -> list[list[Edge]]:
    """Edges put together that meet end to end on one line or circle."""
    result: list[list[Edge]] = []
    for touching in _touching(group):
        curves: list[list[Edge]] = []
        for e in touching:
            for curve in curves:
                if _one_curve(curve[0], e):
                    curve.append(e)
                    break
            else:
                curves.append([e])
        result.extend(chain for curve in curves for chain in _touching(curve))
    return result


def _one_curve(a: Edge, b: Edge) -> bool:
    """True for two pieces of one line or circle."""
    if a.curve == "line":
        way = unit(sub(a.end, a.start))
        return all(norm(cross(sub(p, a.start), way)) < SAME_POINT_MM for p in (b.start, b.end))
    if a.centre is None or b.centre is None or a.axis is None or b.axis is None:
        return False
    return (
        math.dist(a.centre, b.centre) < SAME_POINT_MM
        and parallel(a.axis, b.axis)
        and abs((a.radius_mm or 0.0) - (b.radius_mm or 0.0)) < SAME_POINT_MM
    )


def _one_edge(chain: list[Edge]) -> Edge:
    """One edge for pieces that meet end to end."""
    first = chain[0]
    if len(chain) == 1:
        return first
    length = sum(e.length_mm for e in chain)
    if first.curve == "line":
        way = unit(sub(first.end, first.start))
        ends = sorted((p for e in chain for p in (e.start, e.end)), key=lambda p: dot(p, way))
        start, end = ends[0], ends[-1]
        middle = scale(add(start, end), 0.5)
        return replace(first, length_mm=length, start=start, middle=middle, end=end)
    loose = _loose_ends(chain)
    start, end = loose if len(loose) == 2 else (first.start, first.start)
    by = next(e for e in chain if min(math.dist(start, e.start), math.dist(start, e.end)) < 1e-3)
    half = length / 2 / (first.radius_mm or 1.0)
    return replace(first, length_mm=length, start=start, middle=_turned(by, start, half), end=end)


def _loose_ends(chain: list[Edge]) -> list[Vec]:
    """The ends at which no other piece goes on."""
    ends = [p for e in chain for p in (e.start, e.end)]
    return [
        p for k, p in enumerate(ends)
        if not any(math.dist(p, q) < SAME_POINT_MM for n, q in enumerate(ends) if n != k)
    ]  # fmt: skip


def _turned(arc: Edge, start: Vec, radians: float) -> Vec:
    """The point of an arc's circle so far from one of its ends, on the side of its middle."""
    centre, axis = arc.centre or start, arc.axis or (0.0, 0.0, 1.0)
    out = sub(start, centre)
    side = cross(axis, out)
    if dot(side, sub(arc.middle, centre)) < 0.0 and arc.length_mm < 6.28 * norm(out):
        side = scale(side, -1.0)
    return add(centre, add(scale(out, math.cos(radians)), scale(side, math.sin(radians))))


# ---- loops


def _loops(edges: list[Edge]) -> tuple[tuple[int, ...], ...]:
    """Edges put together by the points they share, the loop of the greatest extent first."""
    found = [tuple(e.index for e in loop) for loop in _touching(edges)]
    by_index = {e.index: e for e in edges}

    def extent(loop: tuple[int, ...]) -> tuple[float, int]:
        points = [p for n in loop for p in _corners(by_index[n])]
        sizes = [max(p[k] for p in points) - min(p[k] for p in points) for k in range(3)]
        return (-round(math.hypot(*sizes), 6), loop[0])

    return tuple(sorted(found, key=extent))


def _corners(edge: Edge) -> tuple[Vec, ...]:
    return (edge.start, edge.middle, edge.end)


def _touching(edges: list[Edge]) -> list[list[Edge]]:
    """Edges put together by the points they share, each set in the order of their numbers."""
    if len(edges) < 2:
        return [edges] if edges else []
    union = Union(range(len(edges)))
    cells: dict[tuple[int, ...], list[tuple[Vec, int]]] = {}
    for n, e in enumerate(edges):
        for p in (e.start, e.end):
            cell = tuple(math.floor(x / CELL_MM) for x in p)
            for way in product((-1, 0, 1), repeat=3):
                near = cells.get(tuple(c + w for c, w in zip(cell, way, strict=True)), ())
                for q, other in near:
                    if math.dist(p, q) < SAME_POINT_MM:
                        union.join(n, other)
            cells.setdefault(cell, []).append((p, n))
    return [[edges[n] for n in group] for group in union.sets()]

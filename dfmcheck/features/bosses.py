"""Bosses: metal that stands on a floor, clear of it all round."""

from dataclasses import dataclass

from dfmcheck.features.blends import Blend, blends_of, on_box
from dfmcheck.features.context import Context
from dfmcheck.features.graph import Graph
from dfmcheck.features.islands import Island, islands_of
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.feature import Boss, Feature
from dfmcheck.model.vector import add, cross, dot, scale

LEVEL_COSINE = 0.999
"""A face this square to the floor's normal is the top of a boss."""


def find_bosses(context: Context) -> list[Feature]:
    """One boss for each island of metal, with its top."""
    blends = blends_of(context)
    found: list[Feature] = []
    for island in islands_of(context, blends):
        walls = [f for f in island.walls if context.free(f)]
        if walls:
            found.append(_boss(context, blends, island, walls))
    return found


@dataclass(frozen=True)
class _Size:
    middle: Vec
    height: float
    length: float
    width: float


def _boss(context: Context, blends: dict[int, Blend], island: Island, walls: list[int]) -> Boss:
    graph = context.graph
    floor = graph.faces[island.floor]
    tops = [t for t in _tops(graph, blends, floor, walls) if context.free(t)]
    size = _size(graph, floor, walls, tops)
    of = context.owner.get(island.floor)
    if of is not None:  # left standing in a hollow: a top on the block was there before
        tops = [t for t in tops if not on_box(graph, graph.faces[t])]
    return Boss(
        id=context.new_id("boss"),
        faces=tuple(sorted({*walls, *tops})),
        place=size.middle,
        direction=floor.normal,
        height_mm=size.height,
        length_mm=size.length,
        width_mm=size.width,
        diameter_mm=_diameter(graph, walls),
        of=of,
    )


def _tops(graph: Graph, blends: dict[int, Blend], floor: Face, walls: list[int]) -> list[int]:
    """The faces that close a boss, found over its outside edges, blends looked through."""
    tops: set[int] = set()
    for w in walls:
        for k in graph.links[w]:
            blend = blends.get(k.other)
            beyond = [k.other]
            if blend is not None and blend.side == "outside":
                beyond = [s for s in blend.sides if s != w]
            for b in beyond:
                face = graph.faces[b]
                if (
                    face.surface == "plane"
                    and dot(face.normal, floor.normal) > LEVEL_COSINE
                    and graph.offset(face) > graph.offset(floor) + graph.tolerance_mm
                    and b != floor.index
                ):
                    tops.add(b)
    return sorted(tops)


def _size(graph: Graph, floor: Face, walls: list[int], tops: list[int]) -> _Size:
    w = floor.normal
    flat = [graph.faces[f] for f in walls if graph.faces[f].surface == "plane"]
    greatest = max(flat, key=lambda f: (round(f.area_mm2, 3), -f.index), default=None)
    v = graph.square_to(w)
    if greatest is not None and abs(dot(greatest.normal, w)) < 0.1:
        v = greatest.normal
    u = cross(v, w)
    spans = [_span(graph, walls, d) for d in (u, v)]
    base = graph.offset(floor)
    high = max(_span(graph, walls, w)[1], *(graph.offset(graph.faces[t]) for t in tops), base)
    sides = sorted((s[1] - s[0] for s in spans), reverse=True)
    middle = add(
        add(scale(u, sum(spans[0]) / 2), scale(v, sum(spans[1]) / 2)),
        scale(w, high),
    )
    return _Size(middle, high - base, sides[0], sides[1])


def _span(graph: Graph, faces: list[int], direction: Vec) -> tuple[float, float]:
    spans = [graph.span_along(graph.faces[f], direction) for f in faces]
    return min(s[0] for s in spans), max(s[1] for s in spans)


def _diameter(graph: Graph, walls: list[int]) -> float | None:
    radii = {round(graph.faces[f].radius_mm or 0.0, 4) for f in walls}
    if len(radii) == 1 and all(graph.faces[f].surface == "cylinder" for f in walls):
        return 2.0 * (graph.faces[walls[0]].radius_mm or 0.0)
    return None

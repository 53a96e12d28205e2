"""Islands: where a plane face runs all round metal that stands on it."""

from dataclasses import dataclass
from typing import cast

from dfmcheck.features.blends import Blend
from dfmcheck.features.context import Context
from dfmcheck.features.graph import Graph
from dfmcheck.model.facts import Edge, Face
from dfmcheck.model.vector import from_axis, parallel


@dataclass(frozen=True)
class Island:
    """A floor and the walls that rise from one of its inner loops, blends looked through."""

    floor: int
    walls: tuple[int, ...]
    feet: tuple[int, ...]


def islands_of(context: Context, blends: dict[int, Blend]) -> list[Island]:
    """The islands of a part, worked out once, when first asked for."""
    known = context.notes.get("islands")
    if known is None:
        known = context.notes["islands"] = _islands(context, blends)
    return cast("list[Island]", known)


def _islands(context: Context, blends: dict[int, Blend]) -> list[Island]:
    graph = context.graph
    found: list[Island] = []
    for floor in graph.faces:
        for loop in graph.island_loops(floor):
            edges = [graph.edges[e] for e in loop]
            walls, feet = _raised(blends, floor, edges)
            if walls and not _turned(graph, floor, walls) and all(context.free(w) for w in walls):
                found.append(Island(floor.index, tuple(walls), tuple(feet)))
    return found


def _raised(
    blends: dict[int, Blend], floor: Face, edges: list[Edge]
) -> tuple[list[int], list[int]]:
    """Walls and base blends beyond an inner loop; none where they sink instead of rising."""
    walls: set[int] = set()
    feet: set[int] = set()
    for e in edges:
        for other in e.faces:
            if other == floor.index:
                continue
            blend = blends.get(other)
            if blend is None:
                walls.add(other)
            elif blend.side == "inside":
                feet.add(other)
                walls.update(s for s in blend.sides if s != floor.index)
            elif e.convexity == "concave":  # a rounded corner of the metal, upright on the floor
                walls.update(blend.sides)
            else:
                return [], []
    walls -= feet | {floor.index}
    corners = {w for w in walls if w in blends and blends[w].side == "outside"}
    return sorted(walls - corners or walls), sorted(feet)


def _turned(graph: Graph, floor: Face, walls: list[int]) -> bool:
    """A shoulder of a turned part: round outside about the axis of what stands on it."""
    first = graph.faces[walls[0]]
    if first.axis is None or not parallel(first.axis, floor.normal):
        return False
    if not all(graph.coaxial(first, graph.faces[w]) for w in walls):
        return False
    origin, axis = first.axis_point, first.axis
    return all(
        e.convexity != "concave"
        and e.centre is not None
        and e.axis is not None
        and parallel(e.axis, axis)
        and origin is not None
        and from_axis(e.centre, origin, axis)[1] < graph.tolerance_mm * 4
        for e in (graph.edges[n] for n in floor.loops[0])
    )

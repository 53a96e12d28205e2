"""Which edges hold a hollow together."""

from dfmcheck.features.blends import Blend
from dfmcheck.features.graph import Graph, Link
from dfmcheck.model.facts import Face


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
    return any(link.edge.index in loop for loop in graph.island_loops(floor))

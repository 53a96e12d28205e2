"""Which faces of a hollow meet over an inside edge, sharp, rounded or bevelled."""

from dfmcheck.features.blends import Blend
from dfmcheck.features.graph import Graph
from dfmcheck.features.joints import joins
from dfmcheck.features.openings import Hollow

Contacts = dict[int, dict[int, float]]
"""For each face of a hollow, the faces it meets over an inside edge and along what length."""


def contacts(graph: Graph, blends: dict[int, Blend], hollow: Hollow) -> Contacts:
    """Which faces of a hollow meet, directly or over a round or bevel."""
    core = {*hollow.floors, *hollow.walls}
    near: Contacts = {f: {} for f in core}
    for f in core:
        for k in graph.links[f]:
            if not joins(graph, blends, f, k):
                continue
            if k.other in core:
                _note(near, f, k.other, k.edge.length_mm)
            elif k.other in hollow.blends:
                for other in _over(graph, blends, hollow, f, k.other):
                    if other in core:
                        _note(near, f, other, k.edge.length_mm)
    return near


def _over(
    graph: Graph, blends: dict[int, Blend], hollow: Hollow, face: int, blend: int
) -> list[int]:
    """The faces on the far side of a blend, seen from one of its sides."""
    sides = [s for s in blends[blend].sides if s != face]
    if len(sides) == 1:
        return sides
    return [
        k.other
        for k in graph.links[blend]
        if k.other not in hollow.blends and joins(graph, blends, blend, k) and k.other != face
    ]


def _note(near: Contacts, a: int, b: int, length: float) -> None:
    near[a][b] = near[a].get(b, 0.0) + length
    near[b].setdefault(a, length)

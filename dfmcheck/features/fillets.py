"""Fillets: rounds between faces, inside and outside, put together along their run."""

from collections.abc import Iterable
from typing import Literal

from dfmcheck.features.blends import Blend, blends_of
from dfmcheck.features.context import Context
from dfmcheck.features.graph import Graph
from dfmcheck.model.base import Vec
from dfmcheck.model.feature import Feature, Fillet
from dfmcheck.model.vector import parallel, square

Role = Literal["corner", "floor", "edge", "other"]


def find_fillets(context: Context) -> list[Feature]:
    """One fillet for each run of rounds of one radius that pass into each other smoothly."""
    graph = context.graph
    blends = {f: b for f, b in blends_of(context).items() if b.kind == "round" and context.free(f)}
    runs = graph.components(
        blends,
        lambda f, k: (
            k.edge.convexity == "tangent"
            and blends[f].side == blends[k.other].side
            and graph.same_size(blends[f].size_mm, blends[k.other].size_mm)
        ),
    )
    return [_fillet(context, blends, run) for run in runs]


def _fillet(context: Context, blends: dict[int, Blend], run: tuple[int, ...]) -> Fillet:
    graph = context.graph
    largest = max(run, key=lambda f: (round(graph.faces[f].area_mm2, 6), -f))
    face, blend = graph.faces[largest], blends[largest]
    of = parent(context, run)
    role = _role(context, blend, of)
    return Fillet(
        id=context.new_id("fillet"),
        faces=run,
        place=face.centroid,
        direction=_direction(context, blend, of, face.normal),
        side=blend.side,
        role=role,
        radius_mm=blend.size_mm,
        length_mm=sum(run_length(graph, blends, f) for f in run),
        of=of,
    )


def parent(context: Context, run: Iterable[int]) -> str | None:
    """The feature that faces border along the greatest length, None where it is the block."""
    graph = context.graph
    own = set(run)
    lengths: dict[str, float] = {}
    for f in own:
        for k in graph.links[f]:
            name = context.owner.get(k.other)
            if name is not None and k.other not in own:
                lengths[name] = lengths.get(name, 0.0) + k.edge.length_mm
    if not lengths:
        return None
    order = {f.id: n for n, f in enumerate(context.features)}
    return max(lengths, key=lambda n: (round(lengths[n], 3), -order[n]))


def _role(context: Context, blend: Blend, of: str | None) -> Role:
    if blend.side == "outside":
        return "edge"
    if of is None:
        return "other"
    direction = context.feature(of).direction
    if parallel(blend.along, direction, 5.0):
        return "corner" if not _ring(context, blend) else "floor"
    return "floor" if square(blend.along, direction, 5.0) else "other"


def _ring(context: Context, blend: Blend) -> bool:
    """A torus runs about its axis: its edge lies square to it."""
    return context.graph.faces[blend.face].surface == "torus"


def _direction(context: Context, blend: Blend, of: str | None, normal: Vec) -> Vec:
    """The parent's opening where there is one, else outwards across the round."""
    if of is not None and blend.side == "inside":
        return context.feature(of).direction
    return normal


def run_length(graph: Graph, blends: dict[int, Blend], face: int) -> float:
    """Length of a blend along the edge it replaces, in mm: the mean of its two long sides."""
    sides = blends[face].sides
    lengths = [0.0, 0.0]
    for k in graph.links[face]:
        for n, s in enumerate(sides):
            if k.other == s:
                lengths[n] += k.edge.length_mm
    known = [x for x in lengths if x > 0.0]
    return sum(known) / len(known) if known else 0.0

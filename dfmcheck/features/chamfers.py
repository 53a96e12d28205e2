"""Chamfers: bevelled edges, planes and cones, put together along their run."""

from dfmcheck.features.blends import Blend, blends_of
from dfmcheck.features.context import Context
from dfmcheck.features.fillets import parent, run_length
from dfmcheck.model.feature import Chamfer, Feature


def find_chamfers(context: Context) -> list[Feature]:
    """One chamfer for each run of bevels that pass into each other smoothly."""
    graph = context.graph
    blends = {f: b for f, b in blends_of(context).items() if b.kind == "bevel" and context.free(f)}
    runs = graph.components(
        blends,
        lambda f, k: k.edge.convexity == "tangent" and blends[f].side == blends[k.other].side,
    )
    return [_chamfer(context, blends, run) for run in runs]


def _chamfer(context: Context, blends: dict[int, Blend], run: tuple[int, ...]) -> Chamfer:
    graph = context.graph
    largest = max(run, key=lambda f: (round(graph.faces[f].area_mm2, 6), -f))
    face, blend = graph.faces[largest], blends[largest]
    return Chamfer(
        id=context.new_id("chamfer"),
        faces=run,
        place=face.centroid,
        direction=face.normal,
        width_mm=blend.size_mm,
        length_mm=sum(run_length(graph, blends, f) for f in run),
        angle_deg=blend.turn_deg,
        of=parent(context, run),
    )

"""Pockets, slots and steps: the hollows of a part, taken apart and named."""

from dfmcheck.features.angles import CLOSED_GAP_DEG, angles_about, common_axis, gaps_deg
from dfmcheck.features.blends import Blend, blends_of
from dfmcheck.features.context import Context
from dfmcheck.features.cuts import SLOT_SPREAD_DEG, Cut, cuts, looks_at_itself
from dfmcheck.features.gaps import carriers
from dfmcheck.features.graph import Graph
from dfmcheck.features.hollows import hollows
from dfmcheck.features.measure import (
    box_of,
    corner_radius,
    floor_radius,
    inner_shoulder,
    middle_of,
    outer_rims,
)
from dfmcheck.features.pierce import blocked
from dfmcheck.features.slots import slot_of
from dfmcheck.features.steps import step_of
from dfmcheck.model.feature import Feature, Outline, Pocket
from dfmcheck.model.vector import add, angle_deg, dot, parallel, scale


def find_pockets(context: Context) -> list[Feature]:
    """Pockets, slots and steps among the faces that no feature owns yet."""
    blends = blends_of(context)
    found: list[Feature] = []
    for hollow in hollows(context, blends):
        for cut in cuts(context.graph, blends, hollow):
            feature = _named(context, blends, cut)
            if feature is not None:
                found.append(feature)
    return found


def _named(context: Context, blends: dict[int, Blend], cut: Cut) -> Feature | None:
    graph = context.graph
    if cut.ring or (cut.closed and cut.chains and not cut.undercut):
        return pocket_of(context, blends, cut)
    if cut.vee or cut.undercut:
        return slot_of(context, blends, cut, through=not _end_wall(graph, cut))
    if not cut.chains:
        kinds = {graph.faces[f].surface for f in cut.floors}
        if kinds <= {"sphere"}:
            return pocket_of(context, blends, cut)
        return slot_of(context, blends, cut, through=True) if kinds != {"plane"} else None
    if len(cut.chains) > 1:
        return _between_walls(context, blends, cut)
    spread = cut.spreads[0]
    if spread >= SLOT_SPREAD_DEG and not looks_at_itself(graph, cut):
        return step_of(context, blends, cut)
    if spread > 360.0 - CLOSED_GAP_DEG:
        return pocket_of(context, blends, cut)
    if spread >= SLOT_SPREAD_DEG:
        if _opens_inwards(graph, cut):
            return pocket_of(context, blends, cut)
        return slot_of(context, blends, cut, through=False)
    return step_of(context, blends, cut)


def _between_walls(context: Context, blends: dict[int, Blend], cut: Cut) -> Feature:
    """A cut whose walls look at each other: a slot, or a pocket that others have broken open."""
    graph = context.graph
    walls = [f for f in cut.walls if not inner_shoulder(graph, cut, f)]
    angles = [a for f in walls for a in angles_about(graph.faces[f], cut.direction)]
    angles += [
        a
        for b in cut.blends
        if parallel(blends[b].along, cut.direction, 5.0)
        for a in angles_about(graph.faces[b], cut.direction)
    ]
    wide = gaps_deg(angles, CLOSED_GAP_DEG)
    if wide == 0 and len(outer_rims(graph, cut)) < 2:
        return pocket_of(context, blends, cut)
    return slot_of(context, blends, cut, through=wide != 1)


def _opens_inwards(graph: Graph, cut: Cut) -> bool:
    """True where the open end of a cut looks at metal: it opens into another cut, not outside."""
    rims = outer_rims(graph, cut)
    top = max((graph.span_along(graph.faces[w], cut.direction)[1] for w in cut.walls), default=0.0)
    far = 2.0 * sum(graph.part.box_mm)
    for edge, out in rims:
        lift = 0.5 * (top - dot(edge.middle, cut.direction))
        start = add(edge.middle, scale(cut.direction, lift))
        if not blocked(graph, start, out, graph.tolerance_mm * 4, far):
            return False
    return bool(rims)


def _end_wall(graph: Graph, cut: Cut) -> bool:
    """True where an undercut or V-shaped slot has a wall at one of its ends."""
    return common_axis(graph.faces[f] for f in cut.faces) is None


def pocket_of(context: Context, blends: dict[int, Blend], cut: Cut) -> Pocket:
    """The pocket a cut with walls on all sides is."""
    graph = context.graph
    box = box_of(graph, blends, cut)
    length, width, depth = box.size
    return Pocket(
        id=context.new_id("pocket"),
        faces=cut.faces,
        place=middle_of(box, box.low[2]),
        direction=cut.direction,
        length_mm=length,
        width_mm=width,
        depth_mm=depth,
        through=not cut.floors,
        open=bool(outer_rims(graph, cut)),
        outline=outline_of(graph, cut),
        walls=len(carriers(graph, cut.walls)),
        corner_radius_mm=corner_radius(graph, blends, cut),
        floor_radius_mm=floor_radius(graph, blends, cut),
    )


def outline_of(graph: Graph, cut: Cut) -> Outline:
    """The shape of the outline seen along the opening, corner rounds apart."""
    groups = carriers(graph, cut.walls)
    if not groups:
        return "circular"
    flat = [g for g in groups if graph.faces[g[0]].surface == "plane"]
    curved = [g for g in groups if graph.faces[g[0]].surface != "plane"]
    if not curved:
        return _polygon(graph, flat)
    if any(graph.faces[g[0]].surface != "cylinder" for g in curved):
        return "free"
    if not flat and len(curved) == 1:
        return "circular"
    if len(flat) == len(curved) == 2:
        a, b = (graph.faces[g[0]].normal for g in flat)
        r = [graph.faces[g[0]].radius_mm or 0.0 for g in curved]
        if dot(a, b) < -0.999 and graph.same_size(r[0], r[1]):
            return "obround"
    return "free"


def _polygon(graph: Graph, flat: list[list[int]]) -> Outline:
    normals = [graph.faces[g[0]].normal for g in flat]
    if len(normals) == 3:
        return "triangular"
    if len(normals) == 4:
        return "rectangular"
    if len(normals) == 6:
        opposite = sum(angle_deg(a, b) > 178.0 for k, a in enumerate(normals) for b in normals[:k])
        if opposite == 3:
            return "hexagonal"
    return "polygonal"

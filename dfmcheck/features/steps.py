"""Steps: cuts that take an edge or a corner off the block."""

from dfmcheck.features.angles import facing, off_plane, square_to_box
from dfmcheck.features.blends import Blend
from dfmcheck.features.context import Context
from dfmcheck.features.cuts import Cut
from dfmcheck.features.gaps import carriers
from dfmcheck.features.graph import Graph
from dfmcheck.features.measure import (
    box_of,
    corner_radius,
    floor_radius,
    middle_of,
    opposed,
    outer_rims,
)
from dfmcheck.model.base import Vec
from dfmcheck.model.feature import Outline, Step
from dfmcheck.model.vector import cross, norm, unit


def step_of(context: Context, blends: dict[int, Blend], cut: Cut) -> Step:
    """The step a cut with walls on one side only is."""
    graph = context.graph
    walls = carriers(graph, cut.walls)
    through = opposed(outer_rims(graph, cut))
    outline: Outline = "triangular" if not through and len(walls) == 1 else "rectangular"
    box = box_of(graph, blends, cut, _along(graph, cut))
    length, width, depth = box.size
    return Step(
        id=context.new_id("step"),
        faces=cut.faces,
        place=middle_of(box, box.low[2]),
        direction=cut.direction,
        length_mm=length,
        width_mm=width,
        depth_mm=depth,
        through=through,
        slanted=_slanted(graph, cut),
        walls=len(walls),
        outline=outline,
        corner_radius_mm=corner_radius(graph, blends, cut),
        floor_radius_mm=floor_radius(graph, blends, cut),
    )


def _along(graph: Graph, cut: Cut) -> Vec | None:
    """The run of the greatest wall."""
    flat = [graph.faces[f] for f in cut.walls if graph.faces[f].surface == "plane"]
    if not flat:
        return None
    wall = max(flat, key=lambda f: (round(f.area_mm2, 3), -f.index))
    across = off_plane(wall.normal, cut.direction)
    return unit(cross(across, cut.direction)) if norm(across) > 0.5 else None


def _slanted(graph: Graph, cut: Cut) -> bool:
    """True where a plane wall is not square to the opening or to the block."""
    for f in cut.walls:
        face = graph.faces[f]
        if face.surface != "plane":
            continue
        if abs(facing(face, cut.direction)) > 0.02 or not square_to_box(graph, face.normal):
            return True
    return False

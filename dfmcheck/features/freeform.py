"""Freeform surfaces: connected patches of spline faces that only a ball cutter follows."""

import math

from dfmcheck.features.axial import main_axis
from dfmcheck.features.context import Context
from dfmcheck.features.graph import Link
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.feature import Feature, Freeform
from dfmcheck.model.vector import add, dot, parallel, scale, square, sub, unit

RULED_DEG = 0.2
"""Lines on the rim of a face closer to one direction than this are drawn along it."""


def find_freeform(context: Context) -> list[Feature]:
    """One feature for each connected patch of free spline faces.

    Faces drawn along a line (the wall of a contour, milled with the side of a cutter) and faces
    of revolution about the axis of a round part (turned) are left out.
    """
    turned = _turned(context)
    patch = [
        f.index
        for f in context.faces
        if f.surface == "freeform"
        and context.free(f.index)
        and f.index not in turned
        and drawn_along(context, f) is None
    ]
    inside = set(patch)

    def joined(_face: int, link: Link) -> bool:
        return link.other in inside

    return [_patch(context, faces) for faces in context.graph.components(patch, joined)]


def drawn_along(context: Context, face: Face) -> Vec | None:
    """The direction along which a spline face is drawn (a curve extruded), or None.

    Some exports say so; in others two straight, parallel edges square to the normal and two
    congruent curves between them tell.
    """
    if face.swept == "extruded":
        return face.axis
    if not face.loops:
        return None
    edges = [context.graph.edges[e] for e in face.loops[0]]
    lines = [e for e in edges if e.curve == "line"]
    curves = [e for e in edges if e.curve != "line"]
    if len(lines) < 2 or not curves:
        return None
    direction = unit(sub(lines[0].end, lines[0].start))
    if any(not parallel(unit(sub(e.end, e.start)), direction, RULED_DEG) for e in lines):
        return None
    if not square(face.normal, direction, 0.5):
        return None
    ends: dict[int, float] = {}
    for e in curves:
        for p in (e.middle, e.end):
            if abs(dot(sub(p, e.start), direction)) > 1e-3 * max(1.0, e.length_mm):
                return None
        level = round(dot(e.start, direction) * 100)
        ends[level] = ends.get(level, 0.0) + e.length_mm
    lengths = sorted(ends.values())
    alike = len(lengths) >= 2 and lengths[-1] - lengths[-2] < 1e-3 * lengths[-1] + 1e-3
    return direction if alike else None


def _turned(context: Context) -> frozenset[int]:
    """Spline faces of revolution about the axis of a part that is round outside."""
    if not any(f.swept == "revolved" for f in context.faces):
        return frozenset()
    view = main_axis(context.part, context.features)
    return view.turned_faces if view is not None and view.round_share >= 0.5 else frozenset()


def _patch(context: Context, faces: tuple[int, ...]) -> Freeform:
    members = [context.faces[f] for f in faces]
    area = math.fsum(f.area_mm2 for f in members)
    share = [f.area_mm2 / area if area > 0.0 else 1.0 / len(members) for f in members]
    middle = (0.0, 0.0, 0.0)
    out = (0.0, 0.0, 0.0)
    for f, part_of in zip(members, share, strict=True):
        middle = add(middle, scale(f.centroid, part_of))
        out = add(out, scale(f.normal, f.area_mm2))
    radii = [f.curvature_radius_mm for f in members if f.curvature_radius_mm is not None]
    closed = math.hypot(*out) <= 1e-3 * area
    return Freeform(
        id=context.new_id("freeform"),
        faces=faces,
        place=middle,
        direction=members[0].normal if closed else unit(out),
        area_mm2=area,
        inside_radius_mm=min(radii, default=None),
    )

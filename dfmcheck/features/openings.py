"""The side a hollow is open to, and which of its faces are floor and which wall."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from dfmcheck.features.angles import (
    CLOSED_GAP_DEG,
    angles_about,
    common_axis,
    facing,
    square_to_box,
    widest_gap_deg,
)
from dfmcheck.features.axes import signed
from dfmcheck.features.blends import Blend
from dfmcheck.features.gaps import overlap
from dfmcheck.features.graph import Graph
from dfmcheck.features.joints import joins
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import cross, dot, unit

FLOOR_COSINE = 0.9
"""Faces within about 25 degrees of the opening's direction are floors, the others walls."""

RAMP_COSINE = 0.5
"""Where nothing lies flatter, a slope of up to 60 degrees is the floor."""

UNDERCUT_COSINE = -0.02
UNDERCUT_RATIO = 0.01


@dataclass
class Hollow:
    """Faces of one or several cuts, open towards `direction`.

    `blends` are the inside rounds and bevels between its faces. `ring` marks walls without a
    floor that run all round; `undercut` faces look away from the opening; `vee` walls meet at
    the bottom without a floor; the mouth of a `closed` one is a hole in a plane face.
    """

    direction: Vec
    floors: tuple[int, ...]
    walls: tuple[int, ...]
    blends: tuple[int, ...]
    ring: bool = False
    undercut: bool = False
    vee: bool = False
    closed: bool = False


def opened(graph: Graph, blends: dict[int, Blend], part: tuple[int, ...]) -> Hollow | None:
    """The hollow that joined faces are, or None where they are none (a face alone, for one)."""
    core = [f for f in part if f not in blends]
    soft = [f for f in part if f in blends]
    if not core:
        return None
    faces = [graph.faces[f] for f in core]
    if len(core) == 1 and faces[0].surface == "plane":
        return None
    axis = common_axis(faces)
    if axis is not None and _runs_round(graph, faces, axis):
        return Hollow(signed(axis, graph), (), tuple(core), tuple(soft), ring=True)
    mouth = _vee_mouth(graph, blends, faces, set(core) | set(soft))
    if mouth is not None:
        return Hollow(mouth, (), tuple(core), tuple(soft), vee=True)
    own = set(core) | set(soft)
    direction = (
        _best_direction(graph, blends, faces, _normals(faces, "plane"))
        or _best_direction(graph, blends, faces, _mouth_normals(graph, blends, faces, own))
        or _best_direction(graph, blends, faces, _normals(faces, "cylinder"))
    )
    undercut = False
    if direction is None:
        undercut = True
        direction = _mouth_direction(graph, faces)
    if direction is None:
        return None
    floors = tuple(f.index for f in faces if facing(f, direction) >= FLOOR_COSINE)
    if not floors:
        floors = tuple(f.index for f in faces if facing(f, direction) >= RAMP_COSINE)
    walls = tuple(f.index for f in faces if f.index not in floors)
    if not walls and all(graph.faces[f].surface == "plane" for f in floors):
        return None
    return Hollow(direction, floors, walls, tuple(soft), undercut=undercut)


def _vee_mouth(
    graph: Graph, blends: dict[int, Blend], faces: list[Face], own: set[int]
) -> Vec | None:
    """The normal of the plane into which two slanting walls that meet below both run out."""
    for f, o, length in _meeting(graph, blends, faces, own):
        for mouth in _outlets(graph, blends, f, own, length):
            slopes = (dot(mouth, f.normal), dot(mouth, o.normal))
            if min(slopes) < 0.03 or max(slopes) > 0.985:
                continue
            back = _outlets(graph, blends, o, own, length)
            if any(dot(mouth, m) > 0.999 for m in back) and _opens_like_vee(faces, mouth):
                return mouth
    return None


def _meeting(
    graph: Graph, blends: dict[int, Blend], faces: list[Face], own: set[int]
) -> Iterator[tuple[Face, Face, float]]:
    """Pairs of plane walls that meet in an inside edge, sharp or rounded, and its length."""
    flat = {f.index for f in faces if f.surface == "plane"}
    for f in faces:
        if f.index not in flat:
            continue
        for k in graph.links[f.index]:
            if k.edge.convexity == "concave" and k.other in flat and k.other > f.index:
                yield f, graph.faces[k.other], k.edge.length_mm
    for b in sorted(own - flat):
        sides = blends[b].sides if b in blends else ()
        if len(sides) == 2 and sides[0] in flat and sides[1] in flat:
            yield (
                graph.faces[sides[0]],
                graph.faces[sides[1]],
                max(e.length_mm for e in graph.between(b, sides[0])),
            )


def _outlets(
    graph: Graph, blends: dict[int, Blend], face: Face, own: set[int], length: float
) -> list[Vec]:
    """Normals of the planes a wall runs out into over its outside edges, blends looked through."""
    result: list[Vec] = []
    for k in graph.links[face.index]:
        if k.other in own or k.edge.length_mm < 0.3 * length:
            continue
        blend = blends.get(k.other)
        beyond = [k.other] if blend is None else [s for s in blend.sides if s != face.index]
        result.extend(graph.faces[b].normal for b in beyond if graph.faces[b].surface == "plane")
    return result


def _opens_like_vee(faces: list[Face], mouth: Vec) -> bool:
    if any(facing(f, mouth) < UNDERCUT_COSINE or facing(f, mouth) > 0.985 for f in faces):
        return False
    return widest_gap_deg(a for f in faces for a in angles_about(f, mouth)) > CLOSED_GAP_DEG


def _runs_round(graph: Graph, faces: list[Face], axis: Vec) -> bool:
    """Walls along one axis on all sides, each looking at another one."""
    if widest_gap_deg(a for f in faces for a in angles_about(f, axis)) > CLOSED_GAP_DEG:
        return False
    total = missed = 0.0
    for f in faces:
        total += f.area_mm2
        if not _looks_at(graph, f, faces, axis):
            missed += f.area_mm2
    return missed <= 0.15 * total


def _looks_at(graph: Graph, face: Face, faces: Iterable[Face], axis: Vec) -> bool:
    """True if the line from the middle of a wall along its normal meets another one of them."""
    side = unit(cross(axis, face.normal))
    low, high = graph.span_along(face, side)
    middle = (low + high) / 2
    start = dot(face.centroid, face.normal)
    for other in faces:
        if other.index == face.index or dot(other.normal, face.normal) > 0.1:
            continue
        first, last = graph.span_along(other, side)
        if first - 1e-6 <= middle <= last + 1e-6:
            reach = graph.span_along(other, face.normal)[1]
            if reach > start + graph.tolerance_mm:
                return True
    return False


def _best_direction(
    graph: Graph, blends: dict[int, Blend], faces: list[Face], candidates: list[tuple[Vec, int]]
) -> Vec | None:
    """The direction out of the hollow from which all faces are seen and the floor is closed in."""
    total = sum(f.area_mm2 for f in faces)
    inside = {f.index for f in faces}
    best: tuple[bool, int, float, bool, float, int] | None = None
    chosen: Vec | None = None
    for direction, number in candidates:
        hidden = sum(f.area_mm2 for f in faces if facing(f, direction) < UNDERCUT_COSINE)
        open_ = any(facing(f, direction) >= RAMP_COSINE for f in faces)
        if hidden > UNDERCUT_RATIO * total or not open_:
            continue
        floors = [f for f in faces if facing(f, direction) > 0.99]
        closed, around = 0.0, 0.0
        for f in floors:
            c, a = enclosed(graph, blends, f, inside)
            closed, around = closed + c, around + a
        share = round(closed / around, 1) if closed > 0.52 * around else 0.0
        area = round(sum(f.area_mm2 for f in floors), 3)
        touched = _ways_about(graph, blends, floors, inside)
        score = (hidden == 0.0, touched, share, square_to_box(graph, direction), area, -number)
        if best is None or score > best:
            best, chosen = score, direction
    return chosen


def _ways_about(
    graph: Graph, blends: dict[int, Blend], floors: list[Face], inside: set[int]
) -> int:
    """In how many directions the faces look that meet a floor, directly or over a blend."""
    ways: list[Vec] = []
    for f in floors:
        for k in graph.links[f.index]:
            if not joins(graph, blends, f.index, k):
                continue
            blend = blends.get(k.other)
            beyond = [k.other] if blend is None else [s for s in blend.sides if s != f.index]
            for n in beyond:
                way = graph.faces[n].normal
                if n in inside and not any(dot(way, w) > 0.99 for w in ways):
                    ways.append(way)
    return len(ways)


def _normals(faces: Iterable[Face], surface: str) -> list[tuple[Vec, int]]:
    """The directions in which faces of one kind look, each once, with the face."""
    result: list[tuple[Vec, int]] = []
    for f in faces:
        fits = f.surface == surface and f.bend != "outside"
        if fits and not any(dot(d, f.normal) > 0.9999 for d, _ in result):
            result.append((f.normal, f.index))
    return result


def _mouth_normals(
    graph: Graph, blends: dict[int, Blend], faces: list[Face], own: set[int]
) -> list[tuple[Vec, int]]:
    """The normals of the planes the hollow runs out into, each once."""
    result: list[tuple[Vec, int]] = []
    for f in faces:
        for n in _outlets(graph, blends, f, own, 0.0):
            if not any(dot(d, n) > 0.9999 for d, _ in result):
                result.append((n, f.index))
    return result


def enclosed(
    graph: Graph, blends: dict[int, Blend], face: Face, inside: set[int]
) -> tuple[float, float]:
    """Length of a face's outer loop along which the hollow goes on, and its whole length."""
    closed = around = 0.0
    if not face.loops:
        return closed, around
    rim = set(face.loops[0])
    for k in graph.links[face.index]:
        if k.edge.index not in rim:
            continue
        around += k.edge.length_mm
        if (k.other in inside or k.other in blends) and joins(graph, blends, face.index, k):
            closed += k.edge.length_mm
    return closed, around


def _mouth_direction(graph: Graph, faces: list[Face]) -> Vec | None:
    """For undercut hollows: the normal of the greatest floor that looks out between the others."""
    best: tuple[float, int] | None = None
    chosen: Vec | None = None
    for f in faces:
        if f.surface != "plane":
            continue
        blocked = any(dot(o.normal, f.normal) < -0.05 and _above_middle(graph, f, o) for o in faces)
        if not blocked and (best is None or (f.area_mm2, -f.index) > best):
            best, chosen = (f.area_mm2, -f.index), f.normal
    return chosen


def _above_middle(graph: Graph, floor: Face, other: Face) -> bool:
    """True if another face lies over the middle of a floor."""
    u = graph.grain(floor)
    for side in (u, cross(floor.normal, u)):
        low, high = graph.span_along(floor, side)
        middle = (low + high) / 2
        if overlap((middle, middle), graph.span_along(other, side)) == 0.0:
            return False
    return graph.span_along(other, floor.normal)[1] > graph.offset(floor) + graph.tolerance_mm

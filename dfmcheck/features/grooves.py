"""Grooves cut as rings: on a shaft, in a bore, in a face; on turned and on milled parts."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from dfmcheck.features.axes import Axis, axes_of, turn_of
from dfmcheck.features.context import Context
from dfmcheck.features.graph import Graph
from dfmcheck.features.profiles import (
    Point,
    Profile,
    Segment,
    middle_radius,
    profile_of,
)
from dfmcheck.model.feature import Feature, Groove
from dfmcheck.model.vector import scale

Side = Literal["outside", "inside", "face"]

LEAST_DEPTH_MM = 0.05
"""Shallower rings are noise; the finest ring grooves (DIN 471, shaft 3 mm) are 0.1 mm deep."""

WIDEST_OVER_DEPTH = 12.0
"""Ring grooves wider than this are turned necks (common practice, no source). The widest
undercuts of DIN 509 and DIN 76 are about 8 times as wide as deep."""

WIDEST_OVER_DIAMETER = 0.5
DEEP_OVER_DIAMETER = 1.0
DEEP_RATIO = 5.0
"""Ring grooves wider than half the diameter at their bottom are turned necks, unless they are
less than 5 times as wide as deep (common practice, no source)."""

FACE_WIDEST_OVER_DEPTH = 5.0
"""Rings in a face wider than this are hollows (common practice, no source)."""

FACE_WIDEST_OVER_DIAMETER = 0.25
"""Rings in a face wider than this share of their middle diameter are hollows."""

LEAST_TURN_DEG = 181.0
"""A ring groove runs about its axis for more than half a turn."""

FLAT_MM = 1e-3


@dataclass
class Valley:
    """A dip of the half profile: its floor, the walls on both sides, and the rims.

    Heights are measured towards the opening: radius for a groove on a shaft, its negative in a
    bore, place along the axis (or its negative) in a face.
    """

    side: Side
    sign: float
    floor: list[Segment]
    walls: tuple[list[tuple[Segment, Point, Point]], list[tuple[Segment, Point, Point]]]
    floor_height: float
    rims: tuple[Point, Point]

    def height(self, p: Point) -> float:
        """Height of a point."""
        return self.sign * (p[0] if self.side == "face" else p[1])

    def place(self, p: Point) -> float:
        """Where a point stands across the opening."""
        return p[1] if self.side == "face" else p[0]

    @property
    def lower(self) -> float:
        """Height of the lower rim."""
        return min(self.height(r) for r in self.rims)

    @property
    def depth_mm(self) -> float:
        """From the lower rim to the floor."""
        return self.lower - self.floor_height


def find_grooves(context: Context) -> list[Feature]:
    """Ring grooves of all axes; faces that other features own are left alone."""
    graph = context.graph
    free = [f.index for f in context.faces if context.free(f.index) and _is_round(f.surface)]
    found: list[Feature] = []
    taken: set[int] = set()
    for axis in axes_of(graph, free):
        profile = profile_of(graph, axis)
        for valley in sorted(_valleys(graph, profile), key=lambda v: -v.depth_mm):
            faces = _faces_of(context, valley)
            if not faces or taken.intersection(faces) or not _is_groove(graph, axis, valley):
                continue
            taken.update(faces)
            found.append(_groove(context, axis, valley, faces))
    return found


def _is_round(surface: str) -> bool:
    return surface in ("cylinder", "cone", "torus")


def _valleys(graph: Graph, profile: Profile) -> Iterator[Valley]:
    for s in profile.segments:
        if len(s.points) == 2:
            if s.surface in ("cylinder", "plane"):
                yield from _from_floor(profile, s)
            elif s.surface == "torus" and s.bend == "inside":
                yield from _from_round(graph, profile, s)
            elif s.surface == "cone":
                yield from _from_tip(profile, s)


def _opening(along: float, radial: float) -> tuple[Side, float]:
    """Which way a dip opens whose normal in its middle leads this way."""
    if abs(radial) >= abs(along):
        return ("outside", 1.0) if radial > 0.0 else ("inside", -1.0)
    return "face", 1.0 if along > 0.0 else -1.0


def _from_floor(profile: Profile, s: Segment) -> Iterator[Valley]:
    """A flat floor: a cylinder, or a plane square to the axis."""
    if s.surface == "plane":
        side, sign = _opening(s.normal[0], 0.0)
    else:
        side, sign = _opening(0.0, s.normal[1])
    yield from _between(profile, side, sign, [s], s.points, None)


def _from_round(graph: Graph, profile: Profile, s: Segment) -> Iterator[Valley]:
    """A round floor: a concave torus whose middle lies deeper than both its ends."""
    face = graph.faces[s.faces[0]]
    radius, tube = face.radius_mm or 0.0, face.minor_radius_mm or 0.0
    middle = profile.axis.along(face.axis_point or profile.axis.origin)
    radial = middle_radius(graph, profile.axis, face) - radius
    if abs(radial) >= 0.5 * tube:
        side, sign = _opening(0.0, -radial)
        floor = sign * radius - tube
        ends = [sign * p[1] for p in s.points]
    else:
        side, sign = _opening(s.normal[0], 0.0)
        floor = sign * middle - tube
        ends = [sign * p[0] for p in s.points]
    if min(ends) > floor + LEAST_DEPTH_MM:
        yield from _between(profile, side, sign, [s], s.points, floor)


def _from_tip(profile: Profile, s: Segment) -> Iterator[Valley]:
    """The tip of a V: two cones that meet in a circle and both rise from it."""
    for p in s.points:
        for other in profile.beyond(p, s):
            if other.surface != "cone" or len(other.points) < 2 or other.faces < s.faces:
                continue
            along, radial = s.normal[0] + other.normal[0], s.normal[1] + other.normal[1]
            side, sign = _opening(along, radial)
            a, b = s.other(p), other.other(p)
            if a is None or b is None:
                continue
            valley = Valley(side, sign, [], ([(s, p, a)], [(other, p, b)]), 0.0, (a, b))
            valley.floor_height = valley.height(p)
            if min(valley.height(a), valley.height(b)) <= valley.floor_height + FLAT_MM:
                continue
            yield _risen(profile, valley)


def _between(
    profile: Profile,
    side: Side,
    sign: float,
    floor: list[Segment],
    ends: tuple[Point, ...],
    floor_height: float | None,
) -> Iterator[Valley]:
    a, b = ends
    valley = Valley(side, sign, floor, ([], []), 0.0, (a, b))
    valley.floor_height = valley.height(a) if floor_height is None else floor_height
    valley = _risen(profile, valley)
    if valley.depth_mm >= LEAST_DEPTH_MM:
        yield valley


def _risen(profile: Profile, valley: Valley) -> Valley:
    """Climb from both ends of the floor for as long as the profile does not fall again."""
    rims: list[Point] = []
    for k in (0, 1):
        point = valley.rims[k]
        walls = valley.walls[k]
        segment = walls[-1][0] if walls else valley.floor[0]
        while True:
            step = _step_up(profile, valley, point, segment)
            if step is None:
                break
            walls.append(step)
            segment, _, point = step
        while walls and abs(valley.height(walls[-1][1]) - valley.height(walls[-1][2])) < FLAT_MM:
            point = walls.pop()[1]
        rims.append(point)
    valley.rims = (rims[0], rims[1])
    return valley


def _step_up(
    profile: Profile, valley: Valley, point: Point, segment: Segment
) -> tuple[Segment, Point, Point] | None:
    """The next segment that leads on without falling, away from where it came."""
    for s in profile.beyond(point, segment):
        far = s.other(point)
        if far is None or s in valley.floor:
            continue
        used = any(s is w for side in valley.walls for w, _, _ in side)
        if not used and valley.height(far) >= valley.height(point) - FLAT_MM:
            return (s, point, far)
    return None


def _faces_of(context: Context, valley: Valley) -> tuple[int, ...]:
    """Floor and walls below the lower rim, as far as they are free."""
    faces = [f for s in valley.floor for f in s.faces]
    for side in valley.walls:
        for s, a, b in side:
            low, high = valley.height(a), valley.height(b)
            inside = min(high, valley.lower) - low
            if low < valley.lower - FLAT_MM and inside >= 0.5 * (high - low):
                faces.extend(s.faces)
    if not all(context.free(f) for f in faces):
        return ()
    return tuple(sorted(set(faces)))


def _is_groove(graph: Graph, axis: Axis, valley: Valley) -> bool:
    width, diameter = _width(valley), _diameter(valley)
    depth = valley.depth_mm
    if depth < LEAST_DEPTH_MM or width <= 0.0:
        return False
    faces = [f for s in valley.floor for f in s.faces]
    faces = faces or [f for side in valley.walls for s, _, _ in side[:1] for f in s.faces]
    rounds = [f for f in faces if graph.faces[f].surface != "plane"]
    if not rounds:
        rounds = [f for side in valley.walls for s, _, _ in side for f in s.faces]
        rounds = [f for f in rounds if graph.faces[f].surface != "plane"]
    if turn_of(graph, axis, rounds) < LEAST_TURN_DEG:
        return False
    if valley.side == "face":
        return (
            width <= FACE_WIDEST_OVER_DEPTH * depth
            and width <= FACE_WIDEST_OVER_DIAMETER * diameter
        )
    share = DEEP_OVER_DIAMETER if width <= DEEP_RATIO * depth else WIDEST_OVER_DIAMETER
    return width <= WIDEST_OVER_DEPTH * depth and width <= share * diameter


def _width(valley: Valley) -> float:
    """Width at half the depth where the floor is flat, else at the lower rim."""
    flat = bool(valley.floor) and valley.floor[0].surface != "torus"
    level = valley.floor_height + (0.5 if flat else 1.0) * valley.depth_mm
    ends = [_crossing(valley, k, level) for k in (0, 1)]
    return abs(ends[0] - ends[1])


def _flank_top(valley: Valley, side: int) -> float:
    """Height where a flank ends: at the lower rim, or below a bevel or round beside it."""
    flank = next((b for s, _, b in valley.walls[side] if s.surface != "torus"), None)
    top = valley.height(valley.rims[side] if flank is None else flank)
    return min(valley.lower, top)


def _mouth(valley: Valley) -> float:
    """Width where the flanks end."""
    ends = [_crossing(valley, k, _flank_top(valley, k)) for k in (0, 1)]
    return abs(ends[0] - ends[1])


def _widest(valley: Valley) -> float:
    """Width of the widest place from the floor to where the flanks end."""
    points = [p for s in valley.floor for p in s.points]
    for k in (0, 1):
        top = _flank_top(valley, k) + FLAT_MM
        points += [p for _, *ends in valley.walls[k] for p in ends if valley.height(p) <= top]
    places = [valley.place(p) for p in points]
    return max(places) - min(places)


def _crossing(valley: Valley, side: int, level: float) -> float:
    """Where a wall reaches a height, across the opening."""
    for _, a, b in valley.walls[side]:
        low, high = valley.height(a), valley.height(b)
        if high >= level - FLAT_MM and high - low > FLAT_MM:
            share = min(1.0, max(0.0, (level - low) / (high - low)))
            return valley.place(a) + share * (valley.place(b) - valley.place(a))
    return valley.place(valley.rims[side])


def _diameter(valley: Valley) -> float:
    if valley.side == "face":
        level = valley.floor_height + 0.5 * valley.depth_mm
        return _crossing(valley, 0, level) + _crossing(valley, 1, level)
    return 2.0 * abs(valley.floor_height)


def _groove(context: Context, axis: Axis, valley: Valley, faces: tuple[int, ...]) -> Groove:
    direction = axis.direction
    if valley.side == "face":
        place = axis.at(valley.sign * valley.floor_height)
        direction = scale(axis.direction, valley.sign)
    else:
        level = valley.floor_height + 0.5 * valley.depth_mm
        middle = (_crossing(valley, 0, level) + _crossing(valley, 1, level)) / 2.0
        place = axis.at(middle)
    rounds = [
        context.faces[f].minor_radius_mm
        for f in faces
        if context.faces[f].surface == "torus" and context.faces[f].bend == "inside"
    ]
    radii = [r for r in rounds if r is not None]
    width, widest = _mouth(valley), _widest(valley)
    return Groove(
        id=context.new_id("groove"),
        faces=faces,
        place=place,
        direction=direction,
        side=valley.side,
        width_mm=width,
        depth_mm=valley.depth_mm,
        diameter_mm=_diameter(valley),
        floor_radius_mm=min(radii) if radii else None,
        widest_mm=widest if widest > width + FLAT_MM else None,
    )

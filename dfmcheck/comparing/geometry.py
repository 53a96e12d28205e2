"""Faces placed in common coordinates, and motions applied to places and directions.

`Placed` is a face of one revision carried by a motion (and, after a unit mistake, a factor) into
the coordinates of the other, reduced to what matching looks at. Lengths in mm.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from dfmcheck.model.base import Vec
from dfmcheck.model.change import Motion
from dfmcheck.model.facts import Edge, Face, PartFacts
from dfmcheck.model.vector import add, cross, distance, dot, norm, sub
from dfmcheck.model.vector import scale as scaled

IDENTITY = Motion(
    rows=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), shift_mm=(0.0, 0.0, 0.0)
)


def turn(motion: Motion, a: Vec) -> Vec:
    """A direction after the motion."""
    r = motion.rows
    return (dot(r[0], a), dot(r[1], a), dot(r[2], a))


def carry(motion: Motion, p: Vec, scale: float = 1.0) -> Vec:
    """A point after scaling about the origin and the motion: R (scale p) + shift."""
    return add(turn(motion, scaled(p, scale)), motion.shift_mm)


def carrier_of(motion: Motion, scale: float = 1.0) -> Callable[[Vec], Vec]:
    """`carry` with motion and scale bound, unrolled: it runs for each edge of each trial."""
    (a, b, c), (d, e, f), (g, h, i) = (scaled(r, scale) for r in motion.rows)
    s, t, u = motion.shift_mm

    def carried(p: Vec) -> Vec:
        x, y, z = p
        return (a * x + b * y + c * z + s, d * x + e * y + f * z + t, g * x + h * y + i * z + u)

    return carried


def inverted(motion: Motion, scale: float = 1.0) -> Motion:
    """The motion that, with the factor 1/scale, undoes `carry(motion, p, scale)`."""
    r = motion.rows
    rows = (
        (r[0][0], r[1][0], r[2][0]),
        (r[0][1], r[1][1], r[2][1]),
        (r[0][2], r[1][2], r[2][2]),
    )
    back = Motion(rows=rows, shift_mm=(0.0, 0.0, 0.0), mirrored=motion.mirrored)
    shift = scaled(turn(back, motion.shift_mm), -1.0 / scale)
    tidy = (shift[0] + 0.0, shift[1] + 0.0, shift[2] + 0.0)
    return Motion(rows=rows, shift_mm=tidy, mirrored=motion.mirrored)


def off_line(p: Vec, point: Vec, axis: Vec) -> float:
    """Distance of `p` from the line through `point` along the unit vector `axis`."""
    d = sub(p, point)
    return norm(sub(d, scaled(axis, dot(d, axis))))


@dataclass(frozen=True, slots=True)
class Placed:
    """A face in common coordinates.

    `low`, `high` bound its edges along the common axes (for closed faces its carrier). `apex` is
    the point where a cone's radius is zero. `along` are the limits along `axis` from `point`.
    """

    index: int
    kind: str
    bend: str
    area: float
    centre: Vec
    normal: Vec
    low: Vec
    high: Vec
    axis: Vec | None
    point: Vec | None
    radius: float
    minor: float
    half_angle: float
    apex: Vec | None
    along: tuple[float, float] | None
    span: float
    neighbours: frozenset[int]


def placed_faces(
    part: PartFacts, motion: Motion = IDENTITY, scale: float = 1.0, *, rough: bool = False
) -> tuple[Placed, ...]:
    """All faces of a part, carried by the factor and the motion.

    With `rough` the boxes of faces are cubes about their centroids, which is enough to tell good
    motions from bad ones and several times faster.
    """
    neighbours: list[set[int]] = [set() for _ in part.faces]
    for edge in part.edges:
        if len(edge.faces) == 2 and edge.faces[0] != edge.faces[1]:
            a, b = edge.faces
            neighbours[a].add(b)
            neighbours[b].add(a)
    carried = carrier_of(motion, scale)
    boxes = None if rough else [_edge_box(edge, carried) for edge in part.edges]
    return tuple(
        _placed(face, boxes, frozenset(neighbours[face.index]), motion, scale)
        for face in part.faces
    )


def _edge_box(edge: Edge, carried: Callable[[Vec], Vec]) -> tuple[Vec, Vec]:
    points = [edge.start, edge.end] if edge.curve == "line" else [edge.start, edge.middle, edge.end]
    closed = distance(edge.start, edge.end) < 1e-6 * (1.0 + edge.length_mm)
    if closed and edge.centre is not None and edge.axis is not None:
        side = cross(edge.axis, sub(edge.start, edge.centre))
        points += (add(edge.centre, side), sub(edge.centre, side))
    return _around([carried(p) for p in points])


def _around(points: list[Vec]) -> tuple[Vec, Vec]:
    xs, ys, zs = zip(*points, strict=True)
    return (min(xs), min(ys), min(zs)), (max(xs), max(ys), max(zs))


def _placed(
    face: Face,
    boxes: list[tuple[Vec, Vec]] | None,
    neighbours: frozenset[int],
    motion: Motion,
    scale: float,
) -> Placed:
    point = None if face.axis_point is None else carry(motion, face.axis_point, scale)
    centre = carry(motion, face.centroid, scale)
    radius, minor = (face.radius_mm or 0.0) * scale, (face.minor_radius_mm or 0.0) * scale
    if boxes is None:
        r = distance(face.low_mm, face.high_mm) * scale
        corners = [add(centre, (r, r, r)), sub(centre, (r, r, r))]
    else:
        corners = [p for loop in face.loops for e in loop for p in boxes[e]]
        if point is not None and face.surface in ("sphere", "torus"):
            r = radius + minor
            if not corners or (face.span_deg or 0.0) > 359.0:
                corners += (add(point, (r, r, r)), sub(point, (r, r, r)))
    low, high = _around(corners or [centre])
    apex = _apex(face)
    return Placed(
        index=face.index,
        kind=face.surface,
        bend=face.bend,
        area=face.area_mm2 * scale * scale,
        centre=centre,
        normal=turn(motion, face.normal),
        low=low,
        high=high,
        axis=None if face.axis is None else turn(motion, face.axis),
        point=point,
        radius=radius,
        minor=minor,
        half_angle=face.half_angle_deg or 0.0,
        apex=None if apex is None else carry(motion, apex, scale),
        along=None
        if face.along_mm is None
        else (face.along_mm[0] * scale, face.along_mm[1] * scale),
        span=face.span_deg or 0.0,
        neighbours=neighbours,
    )


def _apex(face: Face) -> Vec | None:
    if face.radii_mm is None or face.along_mm is None:
        return None
    if face.axis is None or face.axis_point is None:
        return None
    (l0, l1), (r0, r1) = face.along_mm, face.radii_mm
    if abs(r1 - r0) < 1e-12:
        return None
    return add(face.axis_point, scaled(face.axis, l0 - r0 * (l1 - l0) / (r1 - r0)))


def boxes_meet(a: Placed, b: Placed, tolerance: float) -> bool:
    """True where the boxes of two placed faces overlap or touch."""
    return all(
        a.low[k] <= b.high[k] + tolerance and b.low[k] <= a.high[k] + tolerance for k in range(3)
    )


def around(faces: Sequence[Placed]) -> tuple[Vec, Vec]:
    """The box about several placed faces."""
    return _around([p for f in faces for p in (f.low, f.high)])

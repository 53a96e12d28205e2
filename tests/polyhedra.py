"""Facts of solids with plane faces, made by hand from their corners: no kernel needed."""

import math
from collections.abc import Sequence

from builders import make_face, make_facts

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face, Frame, PartFacts

Loop = Sequence[int]
Polygon = Sequence[Loop]
"""The outer loop counter-clockwise seen from outside, then holes clockwise; corner numbers."""


def polyhedron(corners: Sequence[Vec], polygons: Sequence[Polygon], turn: float = 0.0) -> PartFacts:
    """The facts of a solid.

    Args:
        corners: places in mm.
        polygons: the faces.
        turn: angle in radians by which the whole solid is turned about the direction (1, 2, 3).
    """
    points = [_turned(c, turn) for c in corners]
    axes = tuple(_turned(a, turn) for a in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
    uses: dict[tuple[int, int], list[tuple[int, tuple[int, int]]]] = {}
    for number, loops in enumerate(polygons):
        for loop in loops:
            for a, b in zip(loop, [*loop[1:], loop[0]], strict=True):
                uses.setdefault((min(a, b), max(a, b)), []).append((number, (a, b)))
    normals = [_normal([points[c] for c in loops[0]]) for loops in polygons]
    numbers = {key: k for k, key in enumerate(sorted(uses))}
    edges = tuple(_edge(numbers[key], points, uses[key], normals) for key in sorted(uses))
    faces = tuple(
        _face(number, loops, points, normals[number], numbers)
        for number, loops in enumerate(polygons)
    )
    spans = [[_dot(p, a) for p in points] for a in axes]
    low = tuple(min(s) for s in spans)
    high = tuple(max(s) for s in spans)
    middle = _sum(
        *(tuple(x * (lo + hi) / 2 for x in a) for a, lo, hi in zip(axes, low, high, strict=True))
    )
    frame = Frame(x=axes[0], y=axes[1], z=axes[2], low_mm=low, high_mm=high)  # type: ignore[arg-type]
    return make_facts(
        faces, edges=edges, frame=frame, centroid=middle,
        box_mm=tuple(h - lo for lo, h in zip(low, high, strict=True)),
    )  # fmt: skip


def _face(
    number: int,
    loops: Polygon,
    points: Sequence[Vec],
    normal: Vec,
    numbers: dict[tuple[int, int], int],
) -> Face:
    rings = [
        tuple(numbers[min(a, b), max(a, b)] for a, b in zip(r, [*r[1:], r[0]], strict=True))
        for r in loops
    ]
    area, moment = 0.0, (0.0, 0.0, 0.0)
    first = points[loops[0][0]]
    for ring in loops:
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
            piece = _dot(_cross(_less(points[a], first), _less(points[b], first)), normal) / 2
            third = _times(_sum(first, points[a], points[b]), 1 / 3)
            area, moment = area + piece, _sum(moment, _times(third, piece))
    return make_face(
        number, normal=normal, area_mm2=area, centroid=_times(moment, 1 / area), loops=tuple(rings)
    )


def _edge(
    number: int,
    points: Sequence[Vec],
    use: list[tuple[int, tuple[int, int]]],
    normals: Sequence[Vec],
) -> Edge:
    (first, (a, b)), (second, back) = use
    assert back == (b, a), "a face is turned inside out"
    p, q = points[a], points[b]
    into = _cross(normals[first], _less(q, p))
    turn = math.degrees(math.acos(max(-1.0, min(1.0, _dot(normals[first], normals[second])))))
    convex = _dot(into, normals[second]) < 0.0
    return Edge(
        index=number, faces=(first, second), curve="line", length_mm=math.dist(p, q),
        convexity="convex" if convex else "concave", angle_deg=180.0 + (-turn if convex else turn),
        start=p, middle=_times(_sum(p, q), 0.5), end=q,
    )  # fmt: skip


def _turned(p: Vec, angle: float) -> Vec:
    """Rodrigues' formula about (1, 2, 3)."""
    k = _times((1.0, 2.0, 3.0), 1 / math.sqrt(14))
    c, s = math.cos(angle), math.sin(angle)
    return _sum(_times(p, c), _times(_cross(k, p), s), _times(k, _dot(k, p) * (1 - c)))


def _normal(ring: Sequence[Vec]) -> Vec:
    n = (0.0, 0.0, 0.0)
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        n = _sum(n, _cross(_less(a, ring[0]), _less(b, ring[0])))
    return _times(n, 1 / math.sqrt(_dot(n, n)))


def _dot(a: Vec, b: Vec) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Vec, b: Vec) -> Vec:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _sum(*vectors: Vec) -> Vec:
    return (sum(v[0] for v in vectors), sum(v[1] for v in vectors), sum(v[2] for v in vectors))


def _less(a: Vec, b: Vec) -> Vec:
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def _times(a: Vec, k: float) -> Vec:
    return (a[0] * k, a[1] * k, a[2] * k)


# ---- solids


def prism(outline: Sequence[tuple[float, float]], height: float, turn: float = 0.0) -> PartFacts:
    """An outline (counter-clockwise) drawn up along z."""
    n = len(outline)
    corners = [(x, y, 0.0) for x, y in outline] + [(x, y, height) for x, y in outline]
    sides = [[(k, (k + 1) % n, (k + 1) % n + n, k + n)] for k in range(n)]
    bottom, top = [tuple(range(n - 1, -1, -1))], [tuple(range(n, 2 * n))]
    return polyhedron(corners, [*sides, bottom, top], turn)


def block_with_hollow(
    size: Vec, inner: Sequence[tuple[float, float]], depth: float | None, turn: float = 0.0
) -> PartFacts:
    """A block with a hollow of any straight outline (counter-clockwise) from above.

    `depth` None makes it go right through.
    """
    a, b, h = size
    outer = [(0.0, 0.0), (a, 0.0), (a, b), (0.0, b)]
    n, m = 4, len(inner)
    floor = 0.0 if depth is None else h - depth
    corners = [(x, y, 0.0) for x, y in outer] + [(x, y, h) for x, y in outer]
    corners += [(x, y, floor) for x, y in inner] + [(x, y, h) for x, y in inner]
    lower, upper = 2 * n, 2 * n + m
    sides: list[Polygon] = [[(k, (k + 1) % n, (k + 1) % n + n, k + n)] for k in range(n)]
    walls: list[Polygon] = [
        [(lower + (k + 1) % m, lower + k, upper + k, upper + (k + 1) % m)] for k in range(m)
    ]
    top: Polygon = [tuple(range(n, 2 * n)), tuple(range(upper + m - 1, upper - 1, -1))]
    below = tuple(range(n - 1, -1, -1))
    if depth is None:
        bottom: list[Polygon] = [[below, tuple(range(lower, lower + m))]]
    else:
        bottom = [[below], [tuple(range(lower, lower + m))]]
    return polyhedron(corners, [*sides, top, *walls, *bottom], turn)

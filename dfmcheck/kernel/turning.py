"""How a part fills space about its best turning axis."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dfmcheck.kernel.columns import crossings, ramp
from dfmcheck.kernel.mesh import Mesh
from dfmcheck.kernel.surfaces import Carrier
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import TurningFacts
from dfmcheck.model.vector import cross, dot, norm, perpendicular, scale, sub

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Profile = tuple[tuple[float, float], ...]

LEAST_SHARE = 0.1
"""An axis is tried if faces of revolution about it make up this share of the part's area."""

MOST_AXES = 3

RADII = 64
ANGLES = 48
LEVELS = 240

_LINE_MM = 0.01
_ANGLE = math.sin(math.radians(0.2))


@dataclass
class _Axis:
    direction: Vec
    point: Vec
    area: float
    faces: list[int]


def turning_facts(
    mesh: Mesh, carriers: list[Carrier], areas: list[float], flat_rings: list[Vec | None],
    volume_mm3: float,
) -> TurningFacts | None:  # fmt: skip
    """Facts about the best axis; None where no faces of revolution suggest one.

    Args:
        mesh: the triangulation.
        carriers: the carriers of the faces.
        areas: the areas of the faces, mm^2.
        flat_rings: for each plane face bounded by circles about one axis, the centre.
        volume_mm3: the part's volume.
    """
    total = sum(areas)
    if volume_mm3 <= 0.0 or total <= 0.0 or not len(mesh.triangles):
        return None
    found = _axes(carriers, areas)[:MOST_AXES]
    for axis in found:
        _add_rings(axis, carriers, areas, flat_rings)
    chosen = [a for a in found if a.area > LEAST_SHARE * total]
    facts = [_facts(a, mesh, carriers, total, volume_mm3) for a in chosen]
    return max(facts, key=lambda f: (round(f.ratio, 6), f.round_area_ratio), default=None)


def _axes(carriers: list[Carrier], areas: list[float]) -> list[_Axis]:
    """Axes of the faces of revolution, those of one line together, largest area first."""
    order = [
        i
        for i in sorted(range(len(carriers)), key=lambda i: (-areas[i], i))
        if carriers[i].axis is not None and carriers[i].origin is not None
    ]
    turned = [i for i in order if carriers[i].kind != "sphere"]
    axes = np.array([carriers[i].axis for i in turned]).reshape(-1, 3)
    points = np.array([carriers[i].origin for i in turned]).reshape(-1, 3)
    left = np.arange(len(turned))
    lines: list[_Axis] = []
    while len(left):
        a, p = axes[left[0]], points[left[0]]
        d = points[left] - p
        off = np.linalg.norm(d - np.outer(d @ a, a), axis=1)
        on = (np.linalg.norm(np.cross(axes[left], a), axis=1) < _ANGLE) & (off < _LINE_MM)
        on[0] = True
        members = [turned[k] for k in left[on]]
        c = carriers[members[0]]
        if c.axis is not None and c.origin is not None:
            lines.append(_Axis(c.axis, c.origin, sum(areas[i] for i in members), members))
        left = left[~on]
    for i in order:
        if carriers[i].kind == "sphere":
            _add_sphere(lines, i, carriers[i], areas[i])
    return sorted(lines, key=lambda a: (-a.area, a.faces[0]))


def _add_sphere(lines: list[_Axis], i: int, c: Carrier, area: float) -> None:
    if c.origin is None or c.axis is None:
        return
    for line in lines:
        if _on_line(line, c.origin, None):
            line.area += area
            line.faces.append(i)
            return
    lines.append(_Axis(c.axis, c.origin, area, [i]))


def _on_line(line: _Axis, point: Vec, direction: Vec | None) -> bool:
    if direction is not None and norm(cross(line.direction, direction)) > _ANGLE:
        return False
    d = sub(point, line.point)
    return norm(sub(d, scale(line.direction, dot(d, line.direction)))) < _LINE_MM


def _add_rings(
    axis: _Axis, carriers: list[Carrier], areas: list[float], flat_rings: list[Vec | None]
) -> None:
    for i, centre in enumerate(flat_rings):
        n = carriers[i].plane_normal
        if centre is not None and n is not None and _on_line(axis, centre, n):
            axis.area += areas[i]
            axis.faces.append(i)


def _facts(
    axis: _Axis, mesh: Mesh, carriers: list[Carrier], total: float, volume_mm3: float
) -> TurningFacts:
    z, x, y = _triad(axis.direction)
    origin = np.array(axis.point)
    middle = (mesh.points.min(axis=0) + mesh.points.max(axis=0)) / 2.0
    origin = origin + ((middle - origin) @ z) * z
    local = (mesh.points - origin) @ np.array((x, y, z)).T
    radius = np.hypot(local[:, 0], local[:, 1])
    round_faces = np.zeros(len(carriers), dtype=bool)
    round_faces[axis.faces] = True
    cut = _Cut(mesh, local, radius, round_faces)
    outer, inner = cut.profiles()
    enclosed = _volume(outer) - _volume(inner)
    low, high = float(local[:, 2].min()), float(local[:, 2].max())
    turned = _turned_ratio(mesh, local, low, high, float(radius.max()))
    return TurningFacts(
        axis=axis.direction,
        axis_point=(float(origin[0]), float(origin[1]), float(origin[2])),
        length_mm=high - low,
        diameter_mm=2.0 * float(radius.max()),
        ratio=min(1.0, volume_mm3 / enclosed) if enclosed > 0.0 else 0.0,
        turned_ratio=turned,
        round_area_ratio=min(1.0, axis.area / total),
        outer=outer,
        inner=inner,
    )


def _triad(direction: Vec) -> tuple[Floats, Floats, Floats]:
    x = perpendicular(direction)
    return np.array(direction), np.array(x), np.array(cross(direction, x))


def _volume(profile: Profile) -> float:
    """Volume of the body of revolution under a profile."""
    return sum(
        math.pi / 3.0 * (z1 - z0) * (r0 * r0 + r0 * r1 + r1 * r1)
        for (z0, r0), (z1, r1) in pairwise(profile)
    )


class _Cut:
    """The part cut by planes square to the axis: least and greatest radius at each level."""

    def __init__(self, mesh: Mesh, local: Floats, radius: Floats, round_faces: Floats) -> None:
        self.tri, self.local, self.radius = mesh.triangles, local, radius
        self.round = round_faces[mesh.owner]
        z = local[mesh.triangles][:, :, 2]
        self.low, self.high = z.min(axis=1), z.max(axis=1)
        self.levels = _levels(local[:, 2])

    def profiles(self) -> tuple[Profile, Profile]:
        """Outer and inner profile; the inner one is empty where the axis lies in the metal."""
        starts, stops = self.levels[:-1], self.levels[1:]
        nudge = 1e-3 * (stops - starts)
        heights = np.stack((starts + nudge, stops - nudge), axis=1).reshape(-1)
        least, most = self._radii(heights)
        least = np.where(self._solid_middle(heights), 0.0, np.where(np.isfinite(least), least, 0.0))
        most = np.where(np.isfinite(most), most, 0.0)
        z = np.stack((starts, stops), axis=1).reshape(-1)
        inner = _simplified(z, least) if (least > 1e-6).any() else ()
        return _simplified(z, most), inner

    def _radii(self, heights: Floats) -> tuple[Floats, Floats]:
        """Least and greatest radius of the cut at each height (ascending)."""
        first = np.searchsorted(heights, self.low, side="right")
        count = np.searchsorted(heights, self.high, side="left") - first
        count = np.maximum(count, 0)
        triangle = np.repeat(np.arange(len(count)), count)
        level = first[triangle] + ramp(count)
        h = heights[level]
        p, q, rp, rq = self._segment(triangle, h)
        direct = np.minimum(_nearest(p, q), np.minimum(rp, rq))
        inward = np.where(self.round[triangle], np.minimum(rp, rq), direct)
        least, most = np.full(len(heights), np.inf), np.full(len(heights), -np.inf)
        np.minimum.at(least, level, inward)
        np.maximum.at(most, level, np.maximum(rp, rq))
        return least, most

    def _segment(self, triangle: Ints, h: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Ends of the cut through triangles, and their radii.

        On faces of revolution about the axis the radius is interpolated between the nodes,
        which lie on the face, rather than taken from the chord between them.
        """
        nodes = self.tri[triangle]
        z = self.local[:, 2][nodes]
        above = z > h[:, None]
        # the corner that lies alone on its side of the plane comes first
        alone = np.argmax(above == (above.sum(axis=1) == 1)[:, None], axis=1)
        rows = np.arange(len(nodes))
        ends = []
        for other in ((alone + 1) % 3, (alone + 2) % 3):
            i, j = nodes[rows, alone], nodes[rows, other]
            zi, zj = self.local[i, 2], self.local[j, 2]
            with np.errstate(divide="ignore", invalid="ignore"):
                t = np.clip(np.nan_to_num((h - zi) / (zj - zi)), 0.0, 1.0)
            xy = self.local[i, :2] + t[:, None] * (self.local[j, :2] - self.local[i, :2])
            smooth = self.radius[i] + t * (self.radius[j] - self.radius[i])
            r = np.where(self.round[triangle], smooth, np.hypot(xy[:, 0], xy[:, 1]))
            ends.append((xy, r))
        return ends[0][0], ends[1][0], ends[0][1], ends[1][1]

    def _solid_middle(self, heights: Floats) -> NDArray[np.bool_]:
        """True at each height where the axis itself lies in the metal."""
        corners = tuple(self.local[self.tri[:, k]] for k in range(3))
        spread = 1e-4 * float(self.radius.max())
        found = crossings((corners[0], corners[1], corners[2]), np.array([[spread, 0.37 * spread]]))
        if not len(found.along):
            return np.zeros(len(heights), dtype=bool)
        k = np.searchsorted(found.along, heights, side="right")
        inside: NDArray[np.bool_] = np.where(k > 0, found.inside[np.maximum(k - 1, 0)], 0) > 0
        return inside


def _levels(z: Floats) -> Floats:
    """Heights at which the profile may bend: those of the nodes, at most `LEVELS` of them."""
    distinct = np.unique(np.round(z, 4))
    if len(distinct) <= LEVELS:
        return distinct
    # many nodes on one height are a shoulder; of the others a share is kept
    counts = np.bincount(np.searchsorted(distinct, np.round(z, 4)))
    rank = np.argsort(-counts, kind="stable")
    kept = set(rank[: LEVELS // 2].tolist()) | {0, len(distinct) - 1}
    kept |= set(np.linspace(0, len(distinct) - 1, LEVELS // 2).astype(int).tolist())
    return distinct[sorted(kept)]


def _nearest(p: Floats, q: Floats) -> Floats:
    """Distance of the origin from segments in the plane."""
    d = q - p
    length = np.maximum(np.einsum("ij,ij->i", d, d), 1e-18)
    t = np.clip(-np.einsum("ij,ij->i", p, d) / length, 0.0, 1.0)
    found: Floats = np.linalg.norm(p + t[:, None] * d, axis=1)
    return found


def _simplified(z: Floats, r: Floats) -> Profile:
    """The polyline without points that lie on the line between their neighbours."""
    points = [(float(a), float(b)) for a, b in zip(z, r, strict=True)]
    kept: list[tuple[float, float]] = []
    for p in points:
        if kept and math.dist(kept[-1], p) < 1e-3:
            continue
        while len(kept) >= 2 and _between(kept[-2], kept[-1], p):
            kept.pop()
        kept.append(p)
    return tuple((round(a, 6), round(b, 6)) for a, b in kept)


def _between(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    length = math.dist(a, c)
    if length < 1e-9:
        return False
    area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    return abs(area) / length < 2e-3 and a[0] <= b[0] <= c[0]


def _turned_ratio(mesh: Mesh, local: Floats, low: float, high: float, radius: float) -> float:
    """Share of the free space in the enclosing cylinder that is free over the whole turn.

    Rays along the axis, on circles, give how much of each turn is free at each radius and
    height. Mixed rings so thin that the chords of the mesh explain them count as turned.
    """
    r = (np.arange(RADII) + 0.5) / RADII * radius
    angle = 2.0 * math.pi * (np.arange(ANGLES) + 0.5) / ANGLES
    rays = np.stack((np.outer(r, np.cos(angle)), np.outer(r, np.sin(angle))), axis=-1)
    corners = tuple(local[mesh.triangles[:, k]] for k in range(3))
    found = crossings((corners[0], corners[1], corners[2]), rays.reshape(-1, 2))
    step = (high - low) / RADII
    middles = low + (np.arange(RADII) + 0.5) * step
    change = np.zeros((RADII, RADII + 1))
    at = np.searchsorted(middles, found.along)
    np.add.at(change, (found.ray // ANGLES, at), found.step / ANGLES)
    filled = np.cumsum(change, axis=1)[:, :RADII]
    filled = np.clip(filled, 0.0, 1.0)
    weight = np.broadcast_to(r[:, None], filled.shape)
    mixed = _thick((filled > 1e-6) & (filled < 1.0 - 1e-6))
    free = (weight * (1.0 - filled)).sum()
    if free <= 1e-3 * weight.sum():
        return 1.0
    milled = (weight * np.where(mixed, 1.0 - filled, 0.0)).sum()
    return float(np.clip(1.0 - milled / free, 0.0, 1.0))


def _thick(mixed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Runs of mixed rings along the radius of more than two."""
    two = mixed[:-1] & mixed[1:]
    three = two[:-1] & two[1:]
    kept = np.zeros_like(mixed)
    for k in range(3):
        kept[k : k + len(three)] |= three
    return kept

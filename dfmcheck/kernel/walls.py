"""The least thickness of metal behind each face, and the least free width in front of it.

From points spread over every face a ray goes into the metal and one out of it, square to the
face; what they meet first counts where the two faces look at each other. Rays find which
faces stand close; for pairs of planes, cylinders, spheres and coaxial cones the distance is
then computed from their parameters.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dfmcheck.kernel.aimed import aimed_rays
from dfmcheck.kernel.columns import ramp
from dfmcheck.kernel.mesh import Mesh
from dfmcheck.kernel.rays import Caster, Hits
from dfmcheck.kernel.surfaces import Carrier
from dfmcheck.model.base import Vec
from dfmcheck.model.vector import cross, dot, norm, scale, sub

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OPPOSED = 0.5
"""Faces look at each other where the cosine between one's ray and the other's normal is above."""

LEAST_RAYS = 8
FACE_RAYS = 48
PART_RAYS = 8000
"""Rays from each face at least and at most, and from all faces of a part about at most."""

FINENESS = 40.0
"""Rays start this many times within the diagonal of the part from each other, on large faces."""


@dataclass(frozen=True)
class Gaps:
    """Least distance and the face reached, for each face; None where nothing is met."""

    distance_mm: list[float | None]
    face: list[int | None]


def nothing(count: int) -> Gaps:
    """No distances, for `count` faces."""
    return Gaps([None] * count, [None] * count)


def walls_and_gaps(
    mesh: Mesh,
    carriers: list[Carrier],
    sharp: list[frozenset[int]],
    smooth: list[frozenset[int]],
) -> tuple[Gaps, Gaps]:
    """Walls behind the faces and gaps in front of them.

    Args:
        mesh: the triangulation.
        carriers: the carriers of the faces.
        sharp: for each face those that it meets along an edge with an angle: a wedge between
            them is no wall.
        smooth: for each face those into which it passes smoothly.
    """
    count = len(carriers)
    if not len(mesh.triangles):
        return nothing(count), nothing(count)
    caster = Caster(mesh.corners)
    origins, normals, owner = _samples(mesh, count)
    reach = 0.25 * float(np.ptp(mesh.points, axis=0).max())
    more = aimed_rays(carriers, reach)
    origins, normals = np.concatenate((origins, more[0])), np.concatenate((normals, more[1]))
    owner = np.concatenate((owner, more[2]))
    lift = 1e-6 * float(np.ptp(mesh.points, axis=0).max())
    found = []
    start = np.concatenate((origins - lift * normals, origins + lift * normals))
    both = caster.first(start, np.concatenate((-normals, normals)))
    for half, side in enumerate((-1.0, 1.0)):
        mine = slice(half * len(origins), (half + 1) * len(origins))
        hits = Hits(both.distance[mine], both.triangle[mine])
        met = np.flatnonzero(hits.triangle >= 0)
        triangle = hits.triangle[met]
        facing = np.einsum("ij,ij->i", side * normals[met], mesh.normals[triangle])
        length = np.linalg.norm(mesh.normals[triangle], axis=1)
        opposed = -side * facing > OPPOSED * length
        met, triangle = met[opposed], triangle[opposed]
        pairs = _least(owner[met], mesh.owner[triangle], hits.distance[met] + lift, count)
        found.append(_settle(pairs, carriers, sharp, smooth, mesh.deflection_mm))
    return found[0], found[1]


def _samples(mesh: Mesh, count: int) -> tuple[Floats, Floats, Ints]:
    """Points on each face, with outward normals and owners.

    How many, and where, depends on the face and on the size of the part alone, so that faces
    that do not change are measured in the same way in each revision. Half of the points lie in
    the corners of the triangles: walls that taper are thinnest along the edges of their faces.
    """
    areas = mesh.areas
    per_face = np.bincount(mesh.owner, weights=areas, minlength=count)
    spacing = float(np.linalg.norm(np.ptp(mesh.points, axis=0))) / FINENESS
    wanted = np.clip((per_face / max(spacing, 1e-9) ** 2).astype(np.int64), LEAST_RAYS, FACE_RAYS)
    if wanted.sum() > PART_RAYS:
        wanted = np.maximum(wanted * PART_RAYS // int(wanted.sum()), LEAST_RAYS // 2)
    wanted = np.where(per_face > 0.0, wanted, 0)
    owner = np.repeat(np.arange(count), wanted)
    k = ramp(wanted)
    ends = np.cumsum(areas)
    before = np.append(0.0, np.cumsum(per_face))[owner]
    target = before + (k + 0.5) / wanted[owner] * per_face[owner]
    triangle = np.minimum(np.searchsorted(ends, target), len(areas) - 1)
    # golden-ratio sequences spread the points within the triangles
    s = np.sqrt((0.5 + 0.7548776662466927 * (k + 1)) % 1.0)
    t = (0.5 + 0.5698402909980532 * (k + 1)) % 1.0
    weights = np.stack((1.0 - s, s * (1.0 - t), s * t), axis=1)
    corner = np.full((len(k), 3), 0.01)
    corner[np.arange(len(k)), k // 2 % 3] = 0.98
    weights = np.where((k % 2 == 0)[:, None], weights, corner)
    a, b, c = (x[triangle] for x in mesh.corners)
    points = weights[:, :1] * a + weights[:, 1:2] * b + weights[:, 2:] * c
    normals = mesh.normals[triangle]
    length = np.linalg.norm(normals, axis=1)
    good = length > 0.0
    return points[good], normals[good] / length[good][:, None], mesh.owner[triangle][good]


def _least(one: Ints, other: Ints, distance: Floats, count: int) -> list[tuple[float, int, int]]:
    """(distance, face, face) for each pair of faces, both ways round, nearest first."""
    key = np.concatenate((one * count + other, other * count + one))
    both = np.concatenate((distance, distance))
    keys, where = np.unique(key, return_inverse=True)
    least = np.full(len(keys), np.inf)
    np.minimum.at(least, where, both)
    order = np.lexsort((keys, least))
    return [(float(least[i]), int(keys[i] // count), int(keys[i] % count)) for i in order.tolist()]


def _settle(
    pairs: list[tuple[float, int, int]],
    carriers: list[Carrier],
    sharp: list[frozenset[int]],
    smooth: list[frozenset[int]],
    deflection_mm: float,
) -> Gaps:
    """For each face the nearest of those it looks at."""
    count = len(carriers)
    best: list[tuple[float, int] | None] = [None] * count
    most_slack = 2.0 * max((slack_mm(c, c, deflection_mm) for c in carriers), default=0.0)
    for sampled, i, j in pairs:
        if j in sharp[i]:
            continue
        if sampled < 3.0 * deflection_mm and (i == j or j in smooth[i]):
            continue  # a fold of the mesh
        known = best[i]
        if known is not None and sampled - most_slack > known[0]:
            continue
        slack = slack_mm(carriers[i], carriers[j], deflection_mm)
        if known is not None and sampled - slack > known[0]:
            continue
        exact = distance_mm(carriers[i], carriers[j], sampled, slack)
        if known is None or exact < known[0] - 1e-9:
            best[i] = (exact, j)
    return Gaps(
        [None if b is None else round(b[0], 6) for b in best],
        [None if b is None else b[1] for b in best],
    )


def slack_mm(one: Carrier, other: Carrier, deflection_mm: float) -> float:
    """How much further a ray may have gone than the true distance of two curved faces.

    The nearest of the rays may be up to 0.3 rad beside the shortest way.
    """
    curved = [c.radius or 0.0 for c in (one, other) if c.kind != "plane"]
    curved += [c.minor for c in (one, other) if c.minor is not None]
    return 3.0 * deflection_mm + 0.06 * sum(curved)


def distance_mm(one: Carrier, other: Carrier, sampled_mm: float, slack: float) -> float:
    """The distance of two faces from their parameters where a formula knows it, else sampled."""
    candidates = [d for d in _candidates(one, other) if d > 1e-9]
    near = [d for d in candidates if sampled_mm - slack <= d <= sampled_mm + slack]
    if not near:
        return sampled_mm
    return min(near, key=lambda d: (abs(d - sampled_mm), d))


def _candidates(one: Carrier, other: Carrier) -> list[float]:
    """Distances at which two carriers may stand, whichever side of each is meant."""
    if one.kind == "plane" and other.kind == "plane":
        return _planes(one, other)
    if "cone" in (one.kind, other.kind):
        return _cones(one, other)
    apart, radii = _middles(one, other)
    if apart is None:
        return []
    found = [apart]
    for r in radii:
        found = [d + s * r for d in found for s in (-1.0, 1.0)]
    return [abs(d) for d in found]


def _planes(one: Carrier, other: Carrier) -> list[float]:
    n, m = one.plane_normal, other.plane_normal
    if n is None or m is None or norm(cross(n, m)) > 1e-4:
        return []
    return [abs(dot(sub(one.middle()[0], other.middle()[0]), n))]


def _cones(one: Carrier, other: Carrier) -> list[float]:
    """Walls between coaxial cones of one slope."""
    if one.kind != other.kind or not _coaxial(one, other):
        return []
    if one.half_angle is None or other.half_angle is None or one.axis is None:
        return []
    same = dot(one.axis, other.axis or one.axis) > 0.0
    slope = other.half_angle if same else -other.half_angle
    if abs(one.half_angle - slope) > 1e-4 or one.origin is None or other.origin is None:
        return []
    shift = dot(sub(other.origin, one.origin), one.axis)
    there = (one.radius or 0.0) + shift * math.tan(one.half_angle)
    return [abs(there - (other.radius or 0.0)) * math.cos(one.half_angle)]


def _coaxial(one: Carrier, other: Carrier) -> bool:
    if one.axis is None or other.axis is None or one.origin is None or other.origin is None:
        return False
    if norm(cross(one.axis, other.axis)) > 1e-4:
        return False
    d = sub(other.origin, one.origin)
    return norm(sub(d, scale(one.axis, dot(d, one.axis)))) < 1e-3


def _middles(one: Carrier, other: Carrier) -> tuple[float | None, list[float]]:
    """Distance of the middles (plane, axis or centre) of two carriers, and their radii."""
    if other.kind == "plane":
        one, other = other, one
    if "torus" in (one.kind, other.kind) or "freeform" in (one.kind, other.kind):
        return None, []
    radii = [c.radius for c in (one, other) if c.kind != "plane" and c.radius is not None]
    if one.kind == "plane":
        return _plane_to_middle(one, other), radii
    if one.origin is None or other.origin is None:
        return None, []
    d = sub(other.origin, one.origin)
    axes = [c.axis for c in (one, other) if c.kind == "cylinder" and c.axis is not None]
    if one is other:
        return 0.0, radii
    if not axes:
        return norm(d), radii
    if len(axes) == 1:
        return norm(sub(d, scale(axes[0], dot(d, axes[0])))), radii
    return _lines_apart(d, axes[0], axes[1]), radii


def _plane_to_middle(plane: Carrier, other: Carrier) -> float | None:
    n = plane.plane_normal
    if n is None or other.origin is None:
        return None
    if other.kind == "cylinder" and (other.axis is None or abs(dot(other.axis, n)) > 1e-4):
        return None
    return abs(dot(sub(other.origin, plane.middle()[0]), n))


def _lines_apart(d: Vec, a: Vec, b: Vec) -> float:
    n = cross(a, b)
    if norm(n) < 1e-4:
        return norm(sub(d, scale(a, dot(d, a))))
    return abs(dot(d, n)) / norm(n)

"""Rays aimed from bores at what lies nearest beside them: other bores, and planes along them.

The thinnest metal beside a bore is often a small spot that rays spread evenly would miss.
"""

import numpy as np
from numpy.typing import NDArray

from dfmcheck.kernel.surfaces import Carrier

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST = 1500
"""So many rays are aimed at most, for the nearest pairs."""

HALF_TURN_DEG = 170.0
"""Bores that go round less than this are left to the rays that are spread."""


def aimed_rays(carriers: list[Carrier], farthest_mm: float) -> tuple[Floats, Floats, Ints]:
    """Points on bores, outward normals there, and the bores' faces.

    Args:
        carriers: the carriers of the faces.
        farthest_mm: pairs further apart than this are passed over.
    """
    bores = [
        i
        for i, c in enumerate(carriers)
        if c.kind == "cylinder" and c.outward < 0.0 and (c.span_deg or 0.0) >= HALF_TURN_DEG
    ]
    nothing = np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0, dtype=np.int64)
    if not bores:
        return nothing
    found = [_between_bores(carriers, bores, farthest_mm), _to_planes(carriers, bores, farthest_mm)]
    apart = np.concatenate([f[0] for f in found])
    order = np.argsort(apart, kind="stable")[:MOST]
    points, normals, owner = (np.concatenate([f[k] for f in found])[order] for k in (1, 2, 3))
    return points, normals, owner


_Rays = tuple[Floats, Floats, Floats, Ints]


def _lines(
    carriers: list[Carrier], bores: list[int]
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    origin = np.array([carriers[i].origin for i in bores])
    axis = np.array([carriers[i].axis for i in bores])
    radius = np.array([carriers[i].radius for i in bores])
    along = np.array([carriers[i].along for i in bores])
    return origin, axis, radius, along[:, 0], along[:, 1]


def _between_bores(carriers: list[Carrier], bores: list[int], farthest_mm: float) -> _Rays:
    origin, axis, radius, low, high = _lines(carriers, bores)
    i, j = np.triu_indices(len(bores), 1)
    d = origin[j] - origin[i]
    a, b = axis[i], axis[j]
    ab = np.einsum("ij,ij->i", a, b)
    da, db = np.einsum("ij,ij->i", d, a), np.einsum("ij,ij->i", d, b)
    slant = 1.0 - ab * ab
    parallel = slant < 1e-9
    with np.errstate(divide="ignore", invalid="ignore"):
        s = np.where(parallel, 0.0, (da - ab * db) / slant)
    # of parallel bores the middle of the length that they share is looked at
    first, last = (
        da + np.minimum(ab * low[j], ab * high[j]),
        da + np.maximum(ab * low[j], ab * high[j]),
    )
    shared = (np.maximum(low[i], first) + np.minimum(high[i], last)) / 2.0
    s = np.clip(np.where(parallel, shared, s), low[i], high[i])
    t = np.clip(ab * s - db, low[j], high[j])
    link = (origin[j] + t[:, None] * b) - (origin[i] + s[:, None] * a)
    link_a = link - np.einsum("ij,ij->i", link, a)[:, None] * a
    link_b = link - np.einsum("ij,ij->i", link, b)[:, None] * b
    length = np.linalg.norm(link, axis=1)
    apart = length - radius[i] - radius[j]
    wide = (np.linalg.norm(link_a, axis=1) > 1e-9) & (np.linalg.norm(link_b, axis=1) > 1e-9)
    kept = np.flatnonzero((apart > 0.0) & (apart < farthest_mm) & wide)
    rays = []
    for bore, along, across in ((i, s, link_a), (j, t, -link_b)):
        n = across[kept]
        n = n / np.linalg.norm(n, axis=1)[:, None]
        which = bore[kept]
        foot = origin[which] + along[kept][:, None] * axis[which]
        rays.append((apart[kept], foot + radius[which][:, None] * n, -n, np.array(bores)[which]))
    one, two = rays
    return (
        np.concatenate((one[0], two[0])),
        np.concatenate((one[1], two[1])),
        np.concatenate((one[2], two[2])),
        np.concatenate((one[3], two[3])),
    )


def _to_planes(carriers: list[Carrier], bores: list[int], farthest_mm: float) -> _Rays:
    planes = [c for c in carriers if c.plane_normal is not None]
    if not planes:
        return np.zeros(0), np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0, dtype=np.int64)
    origin, axis, radius, low, high = _lines(carriers, bores)
    normal = np.array([c.plane_normal for c in planes])
    place = np.array([c.middle()[0] for c in planes])
    middle = origin + ((low + high) / 2.0)[:, None] * axis
    # how deep the axis lies behind each plane
    depth = np.einsum("pj,pj->p", place, normal)[None, :] - middle @ normal.T
    along = np.abs(axis @ normal.T) < 1e-4
    apart = depth - radius[:, None]
    i, p = np.nonzero(along & (apart > 0.0) & (apart < farthest_mm))
    n = normal[p]
    points = middle[i] + radius[i][:, None] * n
    return apart[i, p], points, -n, np.array(bores)[i]

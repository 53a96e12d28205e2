"""Knurls modelled as geometry: many small equal faces at equal steps about an axis."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from dfmcheck.features.axes import Axis, axes_of
from dfmcheck.features.context import Context
from dfmcheck.features.helices import EdgePoints
from dfmcheck.features.threads import box_axes
from dfmcheck.model.facts import Face
from dfmcheck.model.feature import Feature, Knurl
from dfmcheck.model.vector import scale

LEAST_FACES = 24
"""A knurl has at least so many equal faces (16 ridges have 32 flanks)."""

LEAST_RIDGES = 14

WIDEST_PITCH_MM = 3.5
"""DIN 82 names pitches from 0.5 to 1.6 mm; ASME B94.6 coarse is 1.8 mm. Coarser toothing is no
knurl (common practice, no source)."""

DEEPEST_RATIO = 0.62
"""Depth over pitch of a 90 degree knurl is 0.5 (DIN 82); involute teeth have 0.72 (ISO 53)."""

SHALLOWEST_RATIO = 0.08

AREA_RATIO = 0.006
"""Faces whose areas differ by less than this in steps are equal."""

LEAST_COVER = 0.5
"""Share of the turn that the ridges must cover; flats may interrupt them."""

STRAIGHT_SLOPE = 0.05
"""Tangent of the angle between ridge and axis below which a knurl is straight."""

Pattern = Literal["straight", "diagonal", "crossed"]


@dataclass
class Group:
    """Equal faces about an axis; arrays over the faces, lengths in mm."""

    faces: list[int]
    z_mm: tuple[float, float]
    r_mm: tuple[float, float]
    step_rad: float
    count: int
    along: Any
    around: Any
    area_mm2: float


def find_knurls(context: Context) -> list[Feature]:
    """Knurls about any axis of the part."""
    equal = list(_equal_faces(context))
    if not equal:
        return []
    free = [f.index for f in context.faces if context.free(f.index)]
    edges = EdgePoints(context.graph)
    found: list[Feature] = []
    taken: set[int] = set()
    for axis in [*axes_of(context.graph, _shafts(context, free)), *box_axes(context)]:
        limits = edges.face_limits(axis.direction, axis.origin)
        groups = [g for faces in equal if (g := _group(context, axis, faces, limits))]
        for zone in _zones(groups):
            if any(taken.intersection(g.faces) for g in zone):
                continue
            knurl = _knurl(context, axis, zone, limits)
            if knurl is not None:
                taken.update(knurl.faces)
                found.append(knurl)
        equal = [faces for faces in equal if not taken.intersection(faces)]
        if not equal:
            break
    return found


def _equal_faces(context: Context) -> Iterator[list[int]]:
    """Free faces of one surface kind and one area, many enough for a knurl."""
    kinds: dict[tuple[str, str], list[Face]] = {}
    for f in context.faces:
        if context.free(f.index) and not _is_closed(f):
            kinds.setdefault((f.surface, f.bend if f.surface != "freeform" else ""), []).append(f)
    for faces in kinds.values():
        run: list[Face] = []
        for f in sorted(faces, key=lambda f: (f.area_mm2, f.index)):
            if run and f.area_mm2 > run[-1].area_mm2 * (1.0 + AREA_RATIO):
                if len(run) >= LEAST_FACES:
                    yield [x.index for x in run]
                run = []
            run.append(f)
        if len(run) >= LEAST_FACES:
            yield [x.index for x in run]


def _is_closed(face: Face) -> bool:
    return face.surface in ("cylinder", "cone") and (face.span_deg or 0.0) > 300.0


def _shafts(context: Context, free: list[int]) -> list[int]:
    """Outside faces of revolution that run round, the widest first."""
    rounds = [context.faces[f] for f in free if context.faces[f].bend == "outside"]
    rounds = [f for f in rounds if _is_closed(f)]
    return [f.index for f in sorted(rounds, key=lambda f: (-f.area_mm2, f.index))[:40]]


def _group(context: Context, axis: Axis, faces: list[int], limits: Any) -> Group | None:
    """The faces at equal steps about an axis, or None where they do not stand about it."""
    import numpy as np

    index = np.array(faces)
    a = np.array(axis.direction)
    d = np.array([context.faces[f].centroid for f in faces]) - np.array(axis.origin)
    z = d @ a
    out = d - np.outer(z, a)
    r = np.linalg.norm(out, axis=1)
    usual = float(np.median(r))
    near = (np.abs(r - usual) <= max(0.02 * usual, 0.02)) & (r > 0.02)
    if usual <= 0.0 or near.sum() < LEAST_FACES:
        return None
    index, z, out, r = index[near], z[near], out[near], r[near]
    radial = out / r[:, None]
    normal = np.array([context.faces[int(f)].normal for f in index])
    around = np.einsum("ij,ij->i", normal, np.cross(a, radial))
    along = normal @ a
    step, count = _step(radial, a, z, along, around)
    if count < LEAST_RIDGES or step * count < LEAST_COVER * 2.0 * math.pi:
        return None
    z0, z1, r0, r1 = (column[index] for column in limits)
    return Group(
        faces=[int(f) for f in index],
        z_mm=(float(z0.min()), float(z1.max())),
        r_mm=(float(np.median(r0)), float(np.median(r1))),
        step_rad=step,
        count=count,
        along=along,
        around=around,
        area_mm2=context.faces[int(index[0])].area_mm2,
    )


def _step(radial: Any, axis: Any, z: Any, along: Any, around: Any) -> tuple[float, int]:
    """Step of the angle between equal faces of one row, and how many the fullest row has."""
    import numpy as np

    first = radial[0]
    second = np.cross(axis, first)
    angle = np.arctan2(radial @ second, radial @ first) % (2.0 * math.pi)
    rows: dict[tuple[int, int, int], list[float]] = {}
    height = max(float(z.max() - z.min()), 1e-6)
    for k, value in enumerate(angle):
        sign = (_sign(float(along[k])), _sign(float(around[k])))
        row = round(float(z[k] - z.min()) / max(0.01 * height, 0.02))
        rows.setdefault((row, *sign), []).append(float(value))
    fullest = max(rows.values(), key=len)
    if len(fullest) < 3:
        return 0.0, len(fullest)
    ordered = np.sort(np.array(fullest))
    steps = np.diff(np.append(ordered, ordered[0] + 2.0 * math.pi))
    steps = steps[steps > 1e-4]
    step = float(np.median(steps))
    if (np.abs(steps - step) > 0.05 * step).mean() > 0.2:
        return 0.0, 0
    return step, len(steps)


def _sign(value: float) -> int:
    return 0 if abs(value) < 0.02 else (1 if value > 0.0 else -1)


def _zones(groups: list[Group]) -> Iterator[list[Group]]:
    """Groups that overlap along the axis and in radius."""
    left = sorted(groups, key=lambda g: (g.z_mm, g.r_mm))
    while left:
        zone = [left.pop(0)]
        changed = True
        while changed:
            changed = False
            for g in list(left):
                if any(_touch(g.z_mm, h.z_mm) and _touch(g.r_mm, h.r_mm) for h in zone):
                    zone.append(g)
                    left.remove(g)
                    changed = True
        yield zone


def _touch(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return a[0] <= b[1] + 0.05 and b[0] <= a[1] + 0.05


def _knurl(context: Context, axis: Axis, zone: list[Group], limits: Any) -> Knurl | None:
    import numpy as np

    main = max(zone, key=lambda g: (len(g.faces), -g.faces[0]))
    low, high = min(g.z_mm[0] for g in zone), max(g.z_mm[1] for g in zone)
    inner, outer = min(g.r_mm[0] for g in zone), max(g.r_mm[1] for g in zone)
    pattern, slope = _pattern(zone)
    pitch = main.step_rad * outer / math.hypot(1.0, slope)
    depth = outer - inner
    if pitch > WIDEST_PITCH_MM or not SHALLOWEST_RATIO * pitch <= depth <= DEEPEST_RATIO * pitch:
        return None
    z0, z1, r0, r1 = limits
    with np.errstate(invalid="ignore"):
        inside = (r0 >= inner - 0.02) & (r1 <= outer + 0.02)
        inside &= (z0 >= low - 0.02) & (z1 <= high + 0.02)
    faces = {int(f) for f in np.nonzero(inside)[0] if context.free(int(f))}
    faces = {f for f in faces if not _is_end(axis, context.faces[f], inner)}
    faces |= {f for g in zone for f in g.faces}
    first, last = float(np.nanmin(z0)), float(np.nanmax(z1))
    towards = 1.0 if last - high <= low - first else -1.0
    return Knurl(
        id=context.new_id("knurl"),
        faces=tuple(sorted(faces)),
        place=axis.at((low + high) / 2),
        direction=scale(axis.direction, towards),
        diameter_mm=2.0 * outer,
        length_mm=high - low,
        pitch_mm=pitch,
        pattern=pattern,
    )


def _is_end(axis: Axis, face: Face, inner: float) -> bool:
    """True for a plane end of the shaft, whose edges alone lie in the ring of the knurl."""
    along = abs(sum(n * a for n, a in zip(face.normal, axis.direction, strict=True)))
    return face.surface == "plane" and along > 0.98 and axis.away(face.centroid) < 0.5 * inner


def _pattern(zone: list[Group]) -> tuple[Pattern, float]:
    """Pattern by area, and tangent of the angle between ridge and axis.

    Both flanks of a ridge have the same quotient of normal along and around the axis; its sign
    is the ridge's hand.
    """
    right = left = straight = ringed = 0.0
    slopes: list[float] = []
    for g in zone:
        for along, around in zip(g.along, g.around, strict=True):
            if abs(along) > 0.98:
                continue  # the end of a groove, square to the axis
            if abs(around) < 0.05:
                ringed += g.area_mm2 if abs(along) > 0.05 else 0.0
                continue
            slope = float(along / around)
            if abs(slope) < STRAIGHT_SLOPE:
                straight += g.area_mm2
                continue
            slopes.append(abs(slope))
            if slope > 0.0:
                left += g.area_mm2
            else:
                right += g.area_mm2
    total = right + left + straight
    if min(right, left) > 0.2 * total or (straight > 0.0 and ringed > 0.5 * straight):
        return "crossed", sorted(slopes)[len(slopes) // 2] if slopes else 0.0
    if right + left > straight:
        return "diagonal", sorted(slopes)[len(slopes) // 2]
    return "straight", 0.0

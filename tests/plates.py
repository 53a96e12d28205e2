"""Plates with holes and pockets as facts made by hand: true geometry without a kernel.

`plate` builds one; `carried` moves, turns, mirrors or scales it; `renumbered` shuffles its faces;
`shaken` adds the noise of another system's last digits.
"""

import hashlib
import math
import random
from collections.abc import Sequence
from typing import Any

import msgspec

from dfmcheck.comparing.geometry import carry, turn
from dfmcheck.comparing.sizes import carried_feature
from dfmcheck.model.base import Vec
from dfmcheck.model.change import Motion
from dfmcheck.model.facts import Edge, Face, Frame, PartFacts
from dfmcheck.model.feature import Feature, Hole, Pocket
from dfmcheck.model.part import Part
from dfmcheck.testing import make_process, make_stock

HoleAt = tuple[float, float, float]
"""(x, y, diameter) in mm of a hole; through, along z."""
PocketAt = tuple[float, float, float, float, float]
"""(x, y, length, width, depth) in mm of a sharp-cornered pocket from above."""

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


class _Builder:
    def __init__(self) -> None:
        self.faces: list[dict[str, Any]] = []
        self.edges: list[dict[str, Any]] = []
        self.features: list[Feature] = []

    def plane(self, area: float, centroid: Vec, normal: Vec) -> int:
        self.faces.append(
            {"surface": "plane", "bend": "flat", "area_mm2": area, "centroid": centroid,
             "normal": normal, "loop": []}
        )  # fmt: skip
        return len(self.faces) - 1

    def line(self, a: int, b: int, start: Vec, end: Vec, *, concave: bool = False) -> None:
        middle = tuple((s + e) / 2 for s, e in zip(start, end, strict=True))
        self._edge(
            (a, b), curve="line", length_mm=math.dist(start, end), start=start, middle=middle,
            end=end, convexity="concave" if concave else "convex",
            angle_deg=270.0 if concave else 90.0,
        )  # fmt: skip

    def circle(self, a: int, b: int, centre: Vec, radius: float) -> None:
        start = (centre[0] + radius, centre[1], centre[2])
        middle = (centre[0] - radius, centre[1], centre[2])
        self._edge(
            (a, b), curve="circle", length_mm=2 * math.pi * radius, start=start, middle=middle,
            end=start, centre=centre, axis=Z, radius_mm=radius, convexity="convex",
            angle_deg=90.0,
        )  # fmt: skip

    def _edge(self, faces: tuple[int, int], **values: Any) -> None:
        for f in faces:
            self.faces[f]["loop"].append(len(self.edges))
        self.edges.append({"faces": faces, **values})


def plate(
    length: float = 100.0,
    width: float = 60.0,
    thickness: float = 10.0,
    holes: Sequence[HoleAt] = (),
    pockets: Sequence[PocketAt] = (),
    **values: Any,
) -> Part:
    """A plate on z = 0, its middle over the origin; `values` go to the `Part`."""
    b = _Builder()
    half_l, half_w, t = length / 2, width / 2, thickness
    top = b.plane(length * width, (0.0, 0.0, t), Z)
    bottom = b.plane(length * width, (0.0, 0.0, 0.0), (0.0, 0.0, -1.0))
    _walls(b, top, bottom, (0.0, 0.0), (half_l, half_w), (0.0, t), outside=True)
    volume = length * width * t
    for x, y, d in holes:
        _hole(b, top, bottom, (x, y, d), t)
        volume -= math.pi * d * d / 4 * t
    for x, y, pl, pw, depth in pockets:
        _pocket(b, top, (x, y, pl, pw, depth), t)
        volume -= pl * pw * depth
    faces, edges = _finished(b)
    low, high = (-half_l, -half_w, 0.0), (half_l, half_w, t)
    sizes = sorted(
        zip((length, width, thickness), (X, Y, Z), range(3), strict=True), key=lambda s: -s[0]
    )
    axes = [s[1] for s in sizes]
    frame = Frame(
        x=axes[0], y=axes[1], z=axes[2],
        low_mm=_vec(low[s[2]] for s in sizes), high_mm=_vec(high[s[2]] for s in sizes),
    )  # fmt: skip
    area = sum(f.area_mm2 for f in faces)
    facts = PartFacts(
        name="Plate", count=1, solids=1, closed=True, volume_mm3=volume, area_mm2=area,
        centroid=(0.0, 0.0, t / 2), principal_mm5=(1.0, 2.0, 3.0), box_mm=(length, width, t),
        box_low_mm=low, frame=frame, faces=faces, edges=edges,
        fingerprint=_digest(f"{volume:.6g}", sorted(f.fingerprint for f in faces)),
    )  # fmt: skip
    found: dict[str, Any] = {
        "file": "cad/plate.step", "number": "DL-1", "unit": "mm", "facts": facts,
        "features": tuple(b.features), "process": make_process(),
        "stock": make_stock(section_mm=(width + 6, t + 5), length_mm=length + 6,
                            label=f"plate {t + 5:g}",
                            volume_mm3=(width + 6) * (t + 5) * (length + 6)),
        **values,
    }  # fmt: skip
    return Part(**found)


def _vec(items: Any) -> Vec:
    x, y, z = items
    return (x, y, z)


def _walls(
    b: _Builder,
    top: int,
    bottom: int,
    middle: tuple[float, float],
    half: tuple[float, float],
    heights: tuple[float, float],
    *,
    outside: bool,
) -> list[int]:
    (cx, cy), (hx, hy), (z0, z1) = middle, half, heights
    s = 1.0 if outside else -1.0
    height, z = z1 - z0, (z0 + z1) / 2
    sides = [
        b.plane(2 * hy * height, (cx + hx, cy, z), (s, 0.0, 0.0)),
        b.plane(2 * hx * height, (cx, cy + hy, z), (0.0, s, 0.0)),
        b.plane(2 * hy * height, (cx - hx, cy, z), (-s, 0.0, 0.0)),
        b.plane(2 * hx * height, (cx, cy - hy, z), (0.0, -s, 0.0)),
    ]
    corners = [(cx + hx, cy - hy), (cx + hx, cy + hy), (cx - hx, cy + hy), (cx - hx, cy - hy)]
    for k, side in enumerate(sides):
        (x0, y0), (x1, y1) = corners[k], corners[(k + 1) % 4]
        b.line(side, bottom, (x0, y0, z0), (x1, y1, z0), concave=not outside)
        b.line(side, top, (x0, y0, z1), (x1, y1, z1))
        b.line(side, sides[(k + 1) % 4], (x1, y1, z0), (x1, y1, z1), concave=not outside)
    return sides


def _hole(b: _Builder, top: int, bottom: int, at: HoleAt, t: float) -> None:
    x, y, d = at
    b.faces.append(
        {"surface": "cylinder", "bend": "inside", "area_mm2": math.pi * d * t,
         "centroid": (x, y, t / 2), "normal": (-1.0, 0.0, 0.0), "axis": Z,
         "axis_point": (x, y, t / 2), "radius_mm": d / 2, "along_mm": (-t / 2, t / 2),
         "span_deg": 360.0, "loop": []}
    )  # fmt: skip
    wall = len(b.faces) - 1
    for face, z in ((top, t), (bottom, 0.0)):
        b.circle(face, wall, (x, y, z), d / 2)
        _cut(b, face, math.pi * d * d / 4, (x, y, z))
    number = sum(isinstance(f, Hole) for f in b.features) + 1
    b.features.append(
        Hole(id=f"hole-{number}", faces=(wall,), place=(x, y, t), direction=Z, diameter_mm=d,
             depth_mm=t, reach_mm=t, through=True)
    )  # fmt: skip


def _pocket(b: _Builder, top: int, at: PocketAt, t: float) -> None:
    x, y, length, width, depth = at
    z = t - depth
    floor = b.plane(length * width, (x, y, z), Z)
    walls = _walls(b, top, floor, (x, y), (length / 2, width / 2), (z, t), outside=False)
    _cut(b, top, length * width, (x, y, t))
    number = sum(isinstance(f, Pocket) for f in b.features) + 1
    b.features.append(
        Pocket(id=f"pocket-{number}", faces=(floor, *walls), place=(x, y, z), direction=Z,
               length_mm=max(length, width), width_mm=min(length, width), depth_mm=depth,
               through=False, open=False, outline="rectangular", walls=4, corner_radius_mm=0.0,
               floor_radius_mm=0.0)
    )  # fmt: skip


def _cut(b: _Builder, face: int, area: float, at: Vec) -> None:
    f = b.faces[face]
    rest = f["area_mm2"] - area
    f["centroid"] = _vec(
        (c * f["area_mm2"] - p * area) / rest for c, p in zip(f["centroid"], at, strict=True)
    )
    f["area_mm2"] = rest


def _finished(b: _Builder) -> tuple[tuple[Face, ...], tuple[Edge, ...]]:
    edges = tuple(Edge(index=k, **e) for k, e in enumerate(b.edges))
    faces = []
    for k, f in enumerate(b.faces):
        loop = tuple(f.pop("loop"))
        points = [p for e in loop for p in (edges[e].start, edges[e].middle, edges[e].end)]
        low, high = zip(*((min(c), max(c)) for c in zip(*points, strict=True)), strict=True)
        lengths = sorted(f"{edges[e].length_mm:.4g}" for e in loop)
        mark = _digest(f["surface"], f["bend"], f"{f['area_mm2']:.4g}", lengths)
        faces.append(Face(index=k, low_mm=_vec(low), high_mm=_vec(high), loops=(loop,),
                          fingerprint=mark, **f))  # fmt: skip
    return tuple(faces), edges


def _digest(*content: object) -> str:
    return hashlib.sha256(repr(content).encode()).hexdigest()[:16]


def carried(part: Part, motion: Motion, factor: float = 1.0) -> Part:
    """The part after scaling and a motion of either hand, with everything in its facts."""

    def at(p: Vec | None) -> Vec | None:
        return None if p is None else carry(motion, p, factor)

    def along(d: Vec | None) -> Vec | None:
        return None if d is None else turn(motion, d)

    def sized(v: float | None) -> float | None:
        return None if v is None else v * factor

    facts = part.facts
    faces = tuple(
        msgspec.structs.replace(
            f, area_mm2=f.area_mm2 * factor**2, centroid=at(f.centroid), normal=along(f.normal),
            axis=along(f.axis), axis_point=at(f.axis_point), radius_mm=sized(f.radius_mm),
            along_mm=None if f.along_mm is None else tuple(sized(v) for v in f.along_mm),
            fingerprint=f.fingerprint if factor == 1.0 else f"{f.fingerprint}-{factor:g}",
        )
        for f in facts.faces
    )  # fmt: skip
    edges = tuple(
        msgspec.structs.replace(
            e, length_mm=e.length_mm * factor, start=at(e.start), middle=at(e.middle),
            end=at(e.end), centre=at(e.centre), axis=along(e.axis), radius_mm=sized(e.radius_mm),
        )
        for e in facts.edges
    )  # fmt: skip
    new = msgspec.structs.replace(
        facts, faces=faces, edges=edges, volume_mm3=facts.volume_mm3 * factor**3,
        area_mm2=facts.area_mm2 * factor**2, centroid=at(facts.centroid),
        frame=_carried_frame(facts.frame, motion, factor),
        box_mm=_vec(v * factor for v in facts.box_mm),
    )  # fmt: skip
    features = tuple(carried_feature(f, motion, factor) for f in part.features)
    return msgspec.structs.replace(part, facts=new, features=features)


def _carried_frame(frame: Frame, motion: Motion, factor: float) -> Frame:
    x, y = turn(motion, frame.x), turn(motion, frame.y)
    z = turn(motion, frame.z)
    shifts = [sum(a * b for a, b in zip(motion.shift_mm, d, strict=True)) for d in (x, y, z)]
    low = [v * factor + s for v, s in zip(frame.low_mm, shifts, strict=True)]
    high = [v * factor + s for v, s in zip(frame.high_mm, shifts, strict=True)]
    if motion.mirrored:
        z = _vec(-v for v in z)
        low[2], high[2] = -high[2], -low[2]
    return Frame(x=x, y=y, z=z, low_mm=_vec(low), high_mm=_vec(high))


def renumbered(part: Part, seed: int) -> Part:
    """The same part with its faces and edges in another order."""
    facts, shuffle = part.facts, random.Random(seed)
    order = list(range(len(facts.faces)))
    shuffle.shuffle(order)
    place = {old: new for new, old in enumerate(order)}
    edge_order = list(range(len(facts.edges)))
    shuffle.shuffle(edge_order)
    edge_place = {old: new for new, old in enumerate(edge_order)}
    faces = tuple(
        msgspec.structs.replace(
            facts.faces[old], index=new,
            loops=tuple(tuple(edge_place[e] for e in loop) for loop in facts.faces[old].loops),
        )
        for new, old in enumerate(order)
    )  # fmt: skip
    edges = tuple(
        msgspec.structs.replace(
            facts.edges[old], index=new, faces=tuple(place[f] for f in facts.edges[old].faces)
        )
        for new, old in enumerate(edge_order)
    )
    features = tuple(
        msgspec.structs.replace(f, faces=tuple(place[i] for i in f.faces)) for f in part.features
    )
    new_facts: PartFacts = msgspec.structs.replace(facts, faces=faces, edges=edges)
    return msgspec.structs.replace(part, facts=new_facts, features=features)


def shaken(part: Part, seed: int, size_mm: float = 1e-4) -> Part:
    """The same part with noise of this size on every place and the like share on every area."""
    noise = random.Random(seed)

    def off() -> float:
        return noise.uniform(-size_mm, size_mm)

    def near(p: Vec) -> Vec:
        return _vec(v + off() for v in p)

    faces = tuple(
        msgspec.structs.replace(
            f, centroid=near(f.centroid),
            area_mm2=f.area_mm2 * (1.0 + 0.1 * off()),
            radius_mm=None if f.radius_mm is None else f.radius_mm + off(),
            fingerprint=f"{f.fingerprint}-{noise.random():.3f}",
        )
        for f in part.facts.faces
    )  # fmt: skip
    facts = msgspec.structs.replace(part.facts, faces=faces, fingerprint=str(noise.random()))
    features = tuple(msgspec.structs.replace(f, place=near(f.place)) for f in part.features)
    return msgspec.structs.replace(part, facts=facts, features=features)


def motion_of(angles_deg: Vec, shift: Vec, *, mirrored: bool = False) -> Motion:
    """Turns about x, then y, then z, then the shift; mirrored in x first if asked."""
    rows = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    if mirrored:
        rows[0][0] = -1.0
    for k, degrees in enumerate(angles_deg):
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        i, j = (k + 1) % 3, (k + 2) % 3
        for col in range(3):
            u, v = rows[i][col], rows[j][col]
            rows[i][col], rows[j][col] = c * u - s * v, s * u + c * v
    r = tuple(_vec(row) for row in rows)
    return Motion(rows=(r[0], r[1], r[2]), shift_mm=shift, mirrored=mirrored)

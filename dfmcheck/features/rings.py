"""Threads drawn as rings: equal pairs of cones stacked along an axis at a constant pitch."""

from collections.abc import Iterator
from dataclasses import dataclass

from dfmcheck.features.axes import Axis
from dfmcheck.features.graph import Graph

LEAST_RINGS = 3
"""So many equal rings make a thread."""

SHARP_FLANK_DEG = (24.0, 37.0)
"""Flank to the plane square to the axis: 30 degrees for ISO 68-1 and unified threads, 27.5 for
Whitworth (ISO 228-1). Belt pulleys have 16 to 20 (ISO 4183), so they do not count."""

SQUARE_FLANK_DEG = (10.0, 15.6)
"""As above: 15 degrees for ISO 2904 trapezoidal, 14.5 for ASME B1.5 threads."""

FLAT_RATIO = 0.6
"""Crest and root together take at most this share of the pitch."""

COARSE_FACTOR = 0.27
COARSE_POWER = 0.74
COARSE_SLACK = 1.4
"""Coarse pitches of ISO 261 follow 0.27 d^0.74 within 10 % from M1 to M64 (own fit)."""

PITCH_RATIO = 0.02
"""Steps along the axis that differ by less than this are equal."""


@dataclass(frozen=True)
class Stack:
    """Rings of one thread: limits along the axis, least and greatest radius, pitch, faces."""

    inside: bool
    z_mm: tuple[float, float]
    r_mm: tuple[float, float]
    pitch_mm: float
    faces: tuple[int, ...]


@dataclass(frozen=True)
class _Cone:
    faces: tuple[int, ...]
    z_mm: tuple[float, float]
    r_mm: tuple[float, float]
    flank_deg: float
    rising: bool


def ring_stacks(graph: Graph, axis: Axis) -> Iterator[Stack]:
    """Stacks of equal cones about one axis that read as a thread."""
    for bend in ("outside", "inside"):
        cones = _cones(graph, axis, bend)
        if len(cones) < 2 * LEAST_RINGS:
            continue
        rising = [c for c in cones if c.rising]
        for run in _runs(rising):
            yield from _stack(run, [c for c in cones if not c.rising], bend == "inside")


def _cones(graph: Graph, axis: Axis, bend: str) -> list[_Cone]:
    """Cones about the axis, split faces merged, in their order along it."""
    merged: dict[tuple[int, ...], list[int]] = {}
    for f in axis.faces:
        face = graph.faces[f]
        if face.surface == "cone" and face.bend == bend:
            key = tuple(round(v * 100) for v in (*axis.limits(face), *axis.radii(face)))
            merged.setdefault(key, []).append(f)
    found = []
    for faces in merged.values():
        face = graph.faces[faces[0]]
        z, r = axis.limits(face), axis.radii(face)
        flank = 90.0 - (face.half_angle_deg or 0.0)
        found.append(_Cone(tuple(faces), z, (min(r), max(r)), flank, r[1] > r[0]))
    return sorted(found, key=lambda c: c.z_mm)


def _runs(cones: list[_Cone]) -> Iterator[list[_Cone]]:
    """Runs of equal cones at equal steps; unequal ones between them do not part a run."""
    left = list(cones)
    while len(left) >= LEAST_RINGS:
        first = left[0]
        equal = [c for c in left if _equal(first, c)]
        left = [c for c in left if not _equal(first, c)]
        run = equal[:1]
        for c in equal[1:]:
            step = c.z_mm[0] - run[-1].z_mm[0]
            if len(run) > 1:
                last = run[-1].z_mm[0] - run[-2].z_mm[0]
                if abs(step - last) > PITCH_RATIO * last + 2e-3:
                    if len(run) >= LEAST_RINGS:
                        yield run
                    run = [run[-1]] if step < last else []
            run = [*run, c]
        if len(run) >= LEAST_RINGS:
            yield run


def _equal(a: _Cone, b: _Cone) -> bool:
    return (
        abs(a.r_mm[0] - b.r_mm[0]) < 0.01
        and abs(a.r_mm[1] - b.r_mm[1]) < 0.01
        and abs(a.flank_deg - b.flank_deg) < 0.2
    )


def _stack(run: list[_Cone], falling: list[_Cone], inside: bool) -> Iterator[Stack]:
    pitch = (run[-1].z_mm[0] - run[0].z_mm[0]) / (len(run) - 1)
    inner, outer = run[0].r_mm
    low, high = run[0].z_mm[0] - pitch, run[-1].z_mm[1] + pitch
    partners = [
        c
        for c in falling
        if low - 1e-3 <= c.z_mm[0]
        and c.z_mm[1] <= high + 1e-3
        and abs(c.r_mm[0] - inner) < 0.01
        and abs(c.r_mm[1] - outer) < 0.01
    ]
    if len(partners) < LEAST_RINGS - 1:
        return
    flanks = (run[0].z_mm[1] - run[0].z_mm[0]) + (partners[0].z_mm[1] - partners[0].z_mm[0])
    if pitch - flanks > FLAT_RATIO * pitch or not _is_thread(run[0], pitch, 2.0 * outer):
        return
    every = sorted([*run, *partners], key=lambda c: c.z_mm)
    yield Stack(
        inside=inside,
        z_mm=(every[0].z_mm[0], every[-1].z_mm[1]),
        r_mm=(inner, outer),
        pitch_mm=pitch,
        faces=tuple(sorted(f for c in every for f in c.faces)),
    )


def _is_thread(cone: _Cone, pitch: float, major: float) -> bool:
    """Whether flank angle and pitch are those of a thread of this diameter."""
    low, high = SQUARE_FLANK_DEG
    if low <= cone.flank_deg <= high:
        return pitch <= 0.3 * major
    low, high = SHARP_FLANK_DEG
    coarse = COARSE_FACTOR * major**COARSE_POWER
    return low <= cone.flank_deg <= high and pitch <= COARSE_SLACK * coarse

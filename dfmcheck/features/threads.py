"""Threads modelled as geometry: helical surfaces, or rings stacked along an axis."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Any, Literal

from dfmcheck.features.axes import Axis, axes_of
from dfmcheck.features.context import Context
from dfmcheck.features.helices import EdgePoints, Helix
from dfmcheck.features.rings import ring_stacks
from dfmcheck.model.feature import Feature, Thread
from dfmcheck.model.vector import add, dot, scale

LEAD_RATIO = 0.02
"""Helices whose leads differ by less than this belong together."""

LEAST_TURNS = 1.0
"""A thread has at least so many turns of a flank."""

STEEPEST_RATIO = 1.8
"""Greatest lead of a thread over its major diameter (a helix angle of 30 degrees); steeper
helices are flutes or knurls (common practice, no source)."""

SHALLOWEST_RATIO = 0.2
DEEPEST_RATIO = 1.2
"""Depth over pitch: 0.5 to 0.65 for ISO 68-1 and ISO 2904, wider for worms."""

STRAY_RATIO = 0.15
"""Radii with fewer turns than this share of the most frequent one are ends of the ridge."""

CORE_RATIO = 0.8
"""A shank or bore belongs to a thread whose ridge covers this share of its length."""

LEAST_TAPER = 0.01
"""Radii that grow by less than this along the axis are those of a straight thread."""


@dataclass
class Found:
    """A thread about an axis, in mm along it and from it.

    `r_mm` are the minor and major radius, `span_mm` the radii its faces reach: a ridge that is a
    body of its own is sunk into shank or bore.
    """

    axis: Axis
    form: Literal["helical", "rings"]
    inside: bool
    z_mm: tuple[float, float]
    r_mm: tuple[float, float]
    span_mm: tuple[float, float]
    pitch_mm: float
    faces: set[int]


def find_threads(context: Context) -> list[Feature]:
    """Modelled threads, helical ones first."""
    graph = context.graph
    free = [f.index for f in context.faces if context.free(f.index)]
    edges = EdgePoints(graph)
    found: list[Feature] = []
    taken: set[int] = set()
    for axis in _axes(context, free, edges):
        helices = edges.helices(axis.direction, axis.origin)
        limits = None
        threads = list(_helical(context, axis, helices)) if helices else []
        threads += [
            Found(axis, "rings", s.inside, s.z_mm, s.r_mm, s.r_mm, s.pitch_mm, set(s.faces))
            for s in ring_stacks(graph, axis)
        ]
        for thread in threads:
            if thread.faces & taken:
                continue
            limits = limits or edges.face_limits(axis.direction, axis.origin)
            thread.faces |= _within(context, thread, limits) - taken
            taken |= thread.faces
            found.append(_feature(context, thread, limits))
    return found


def _axes(context: Context, free: list[int], edges: EdgePoints) -> list[Axis]:
    """Axis lines of the faces of revolution, and those of the box where an edge may wind."""
    axes = axes_of(context.graph, free)
    if len(edges.curved):
        for axis in box_axes(context):
            if all(
                abs(dot(a.direction, axis.direction)) < 0.999 or a.away(axis.origin) > 0.02
                for a in axes
            ):
                axes.append(axis)
    return axes


def box_axes(context: Context) -> list[Axis]:
    """The three lines through the middle of the part's box along its edges."""
    frame = context.part.frame
    three = (frame.x, frame.y, frame.z)
    centre = (0.0, 0.0, 0.0)
    for low, high, d in zip(frame.low_mm, frame.high_mm, three, strict=True):
        centre = add(centre, scale(d, (low + high) / 2))
    return [Axis(centre, d) for d in reversed(three)]


def _helical(context: Context, axis: Axis, helices: list[Helix]) -> Iterator[Found]:
    """Threads of each lead about an axis, parted where a gap or another diameter parts them."""
    for lead, group in _by_lead(helices):
        faces: dict[int, list[Helix]] = {}
        for h in group:
            for f in context.graph.edges[h.edge].faces:
                if context.free(f):
                    faces.setdefault(f, []).append(h)
        for members in _parted(faces, lead):
            thread = _thread_of(context, axis, members, lead)
            if thread is not None:
                yield thread


def _by_lead(helices: list[Helix]) -> Iterator[tuple[float, list[Helix]]]:
    """Helices of one lead, those with most turns first."""
    left = sorted(helices, key=lambda h: (h.lead_mm, h.edge))
    while left:
        leads = [h.lead_mm for h in left]
        sums = [0.0, *accumulate(h.turns for h in left)]
        ends = [bisect_right(leads, lead * (1.0 + LEAD_RATIO)) for lead in leads]
        first = max(range(len(left)), key=lambda k: (sums[ends[k]] - sums[k], -k))
        best = left[first : ends[first]]
        total = sum(h.turns for h in best)
        if total < LEAST_TURNS:
            return
        yield sum(h.lead_mm * h.turns for h in best) / total, best
        left = left[:first] + left[ends[first] :]


def _parted(faces: dict[int, list[Helix]], lead: float) -> Iterator[dict[int, list[Helix]]]:
    """Part faces by gaps along the axis of more than a lead, then by gaps in radius."""

    def z_of(f: int) -> tuple[float, float]:
        return min(h.z_mm[0] for h in faces[f]), max(h.z_mm[1] for h in faces[f])

    def r_of(f: int) -> tuple[float, float]:
        return min(h.radius_mm for h in faces[f]), max(h.radius_mm for h in faces[f])

    for part in _runs(sorted(faces, key=z_of), z_of, 1.01 * lead):
        for ring in _runs(sorted(part, key=r_of), r_of, 0.3 * lead):
            yield {f: faces[f] for f in ring}


def _runs(ordered: list[int], limits: Any, gap: float) -> Iterator[list[int]]:
    run: list[int] = []
    reached = 0.0
    for f in ordered:
        low, high = limits(f)
        if run and low > reached + gap:
            yield run
            run = []
        reached = max(reached, high) if run else high
        run.append(f)
    if run:
        yield run


def _thread_of(
    context: Context, axis: Axis, members: dict[int, list[Helix]], lead: float
) -> Found | None:
    helices = [h for hs in members.values() for h in hs]
    low, high = min(h.z_mm[0] for h in helices), max(h.z_mm[1] for h in helices)
    span = (min(h.radius_mm for h in helices), max(h.radius_mm for h in helices))
    taper = _taper(helices)
    if taper:
        members = {f: _levelled(hs, taper, (low + high) / 2.0) for f, hs in members.items()}
        helices = [h for hs in members.values() for h in hs]
    inner, outer = _usual_radii(helices)
    flanks = {f: hs for f, hs in members.items() if _rises(hs, 0.3 * (outer - inner))}
    if not flanks or lead > STEEPEST_RATIO * 2.0 * outer or high - low < LEAST_TURNS * lead:
        return None
    pitch = lead / _starts(context, axis, flanks, lead, outer - 0.1 * (outer - inner))
    inside = _leads_in(context, axis, flanks, members)
    radii = (inner, outer)
    thread = Found(axis, "helical", inside, (low, high), radii, span, pitch, set(members))
    _hidden_root(context, thread)
    depth = thread.r_mm[1] - thread.r_mm[0]
    return thread if SHALLOWEST_RATIO * pitch <= depth <= DEEPEST_RATIO * pitch else None


def _taper(helices: list[Helix]) -> float:
    """Growth of the radius along the axis that most turns share; 0 for a straight thread."""
    ordered = sorted(helices, key=lambda h: (h.taper, h.edge))
    half = sum(h.turns for h in ordered) / 2.0
    reached = 0.0
    for h in ordered:
        reached += h.turns
        if reached >= half:
            return h.taper if abs(h.taper) > LEAST_TAPER else 0.0
    return 0.0


def _levelled(helices: list[Helix], taper: float, middle_mm: float) -> list[Helix]:
    """The helices with their radii carried to the middle of a tapered thread."""
    return [
        replace(h, radius_mm=h.radius_mm - taper * (sum(h.z_mm) / 2.0 - middle_mm)) for h in helices
    ]


def _usual_radii(helices: list[Helix]) -> tuple[float, float]:
    """Least and greatest radius; those of a few stray turns at the ends do not count."""
    turns: dict[int, float] = {}
    for h in helices:
        for step in (0, 1):  # two rows of bins, so that no radius falls between two
            key = 2 * round(h.radius_mm * 25 + step / 2) + step
            turns[key] = turns.get(key, 0.0) + h.turns
    least = STRAY_RATIO * max(turns.values())
    usual = [
        h.radius_mm
        for h in helices
        if max(turns[2 * round(h.radius_mm * 25 + k / 2) + k] for k in (0, 1)) >= least
    ]
    return min(usual), max(usual)


def _rises(helices: list[Helix], least: float) -> bool:
    radii = [h.radius_mm for h in helices]
    return max(radii) - min(radii) > max(least, 1e-3)


def _starts(
    context: Context, axis: Axis, flanks: dict[int, list[Helix]], lead: float, crest_mm: float
) -> int:
    """How many flanks that look along the axis and reach a crest follow each other in one lead."""
    every = [h for hs in flanks.values() for h in hs]
    hand = 1.0 if sum(h.hand * h.turns for h in every) >= 0.0 else -1.0
    phases: list[float] = []
    for f, helices in flanks.items():
        if dot(context.faces[f].normal, axis.direction) <= 0.0:
            continue
        crest = max(helices, key=lambda h: (h.radius_mm, -h.edge))
        if crest.radius_mm < crest_mm:
            continue
        phase = ((crest.start_mm - hand * lead * crest.start_turn) / lead) % 1.0
        if all(abs((phase - p + 0.5) % 1.0 - 0.5) > 0.08 for p in phases):
            phases.append(phase)
    return max(1, len(phases))


def _leads_in(
    context: Context, axis: Axis, flanks: dict[int, list[Helix]], members: dict[int, list[Helix]]
) -> bool:
    """True for an inside thread: its flanks look towards the axis.

    Square flanks look along it; there the faces at the greatest radius tell.
    """
    towards = 0.0
    for f in flanks:
        face = context.faces[f]
        towards += face.area_mm2 * _radial(axis, context, f)
    total = sum(context.faces[f].area_mm2 for f in flanks)
    if abs(towards) > 0.02 * total:
        return towards < 0.0
    outer = max(h.radius_mm for hs in members.values() for h in hs)
    widest = [f for f, hs in members.items() if min(h.radius_mm for h in hs) > outer - 1e-2]
    return sum(_radial(axis, context, f) for f in widest) < 0.0


def _radial(axis: Axis, context: Context, face: int) -> float:
    """Radial component of a flank's normal, positive away from the axis.

    The place of the normal is not known for a face that winds about the axis; the edges that
    cross the flank are not either. The normal in the middle of the parameters belongs to the
    side opposite the seam of a full turn, so the middles of its helices tell where it stands.
    """
    f = context.faces[face]
    edges = [context.graph.edges[e] for loop in f.loops for e in loop]
    if not edges:
        return 0.0
    longest = max(edges, key=lambda e: (e.length_mm, -e.index))
    d = [m - o for m, o in zip(longest.middle, axis.origin, strict=True)]
    along = sum(x * a for x, a in zip(d, axis.direction, strict=True))
    out = [x - along * a for x, a in zip(d, axis.direction, strict=True)]
    size = sum(x * x for x in out) ** 0.5 or 1.0
    return sum(n * x for n, x in zip(f.normal, out, strict=True)) / size


def _hidden_root(context: Context, thread: Found) -> None:
    """Where the ridge is a body of its own sunk into shank or bore, their cylinder bounds it.

    A cylinder that the ridge covers for most of its length belongs to the thread.
    """
    low, high = thread.r_mm
    bend = "inside" if thread.inside else "outside"
    for f in thread.axis.faces:
        face = context.faces[f]
        if face.surface != "cylinder" or face.bend != bend or face.radius_mm is None:
            continue
        if not context.free(f):
            continue
        z0, z1 = thread.axis.limits(face)
        overlap = min(z1, thread.z_mm[1]) - max(z0, thread.z_mm[0])
        if overlap <= 0.3 * (thread.z_mm[1] - thread.z_mm[0]):
            continue
        r = face.radius_mm
        if low < r < high and overlap >= CORE_RATIO * (z1 - z0):
            thread.faces.add(f)
        if low + 1e-3 < r < (low + high) / 2 and not thread.inside:
            low = r
        if (low + high) / 2 < r < high - 1e-3 and thread.inside:
            high = r
    thread.r_mm = (low, high)


def _within(context: Context, thread: Found, limits: Any) -> set[int]:
    """Free faces that lie wholly in the thread's ring: run-outs, ends of turns, crests, roots."""
    import numpy as np

    z0, z1, r0, r1 = limits
    low, high = thread.z_mm
    run_out = 1.05 * thread.pitch_mm
    slack = 0.35 * (thread.r_mm[1] - thread.r_mm[0]) if thread.form == "helical" else 1e-2
    inner = thread.span_mm[0] - slack
    outer = thread.span_mm[1] + (slack if thread.inside else 1e-2)
    with np.errstate(invalid="ignore"):
        inside = (r0 >= inner) & (r1 <= outer)
        inside &= (z0 >= low - run_out) & (z1 <= high + run_out)
    found: set[int] = set()
    for f in np.nonzero(inside)[0]:
        face = context.faces[int(f)]
        if not context.free(face.index):
            continue
        if face.surface == "freeform":
            found.add(face.index)
        elif face.surface == "plane":
            if abs(dot(face.normal, thread.axis.direction)) < 0.9:
                found.add(face.index)
        elif (thread.form == "helical" and _wound(context, face.index)) or (
            z0[f] >= low - 1e-3 and z1[f] <= high + 1e-3
        ):
            found.add(face.index)
    return found


def _wound(context: Context, face: int) -> bool:
    """True where curves that are no circles and no lines bound most of a face."""
    edges = [context.graph.edges[e] for loop in context.faces[face].loops for e in loop]
    total = sum(e.length_mm for e in edges)
    return sum(e.length_mm for e in edges if e.curve == "other") > 0.5 * total


def _feature(context: Context, thread: Found, limits: Any) -> Thread:
    import numpy as np

    low, high = thread.z_mm
    axis = thread.axis
    first, last = float(np.nanmin(limits[0])), float(np.nanmax(limits[1]))
    towards = 1.0 if last - high <= low - first else -1.0
    return Thread(
        id=context.new_id("thread"),
        faces=tuple(sorted(thread.faces)),
        place=axis.at((low + high) / 2),
        direction=scale(axis.direction, towards),
        side="inside" if thread.inside else "outside",
        form=thread.form,
        major_diameter_mm=2.0 * thread.r_mm[1],
        minor_diameter_mm=2.0 * thread.r_mm[0],
        pitch_mm=thread.pitch_mm,
        length_mm=high - low,
    )

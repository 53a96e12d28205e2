"""Turned, turned with milling, or milled: chosen from the part's shape, with the reason."""

from collections import Counter
from dataclasses import dataclass

from dfmcheck.features.axial import Axial, main_axis
from dfmcheck.features.prisms import Hexagon, hexagons
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import (
    Counterbore,
    Countersink,
    Engraving,
    Feature,
    Groove,
    Hole,
    Pocket,
    Slot,
)
from dfmcheck.model.stock import ProcessChoice
from dfmcheck.model.vector import dot, from_axis, parallel
from dfmcheck.planning.catalogue import allowances, shipped_series
from dfmcheck.planning.directions import flipped, milling_directions
from dfmcheck.planning.reach import EASY_MM, is_drawn_along, keyway_bore
from dfmcheck.planning.rectangles import BAR_RATIO, Rectangle, widest_rectangle

ROUND_SHARE = 0.5
"""Least share of the outside that is round about the axis of a turned part."""

PLATE_RATIO = 8.0
"""A disc this much wider than high and too wide for a bar is cut from plate if milled at all."""

FILLED_RATIO = 0.985
"""Volume over that of the enclosing body of revolution; a 12-sided prism has 0.955."""

SLIVER_RATIO = 1e-6
"""Faces below this share of the part's area decide nothing."""

SAME_MM = 1e-3

SLIMMER_RATIO = 0.05
"""Ends whose outlines differ by less than this are equally slim."""


@dataclass(frozen=True)
class Turning:
    """A part seen as a turned one: its axis, the bar it fits, what turning leaves over."""

    view: Axial
    bar: Hexagon | None
    left_over: tuple[int, ...]
    sockets: tuple[Hexagon, ...]
    square: Rectangle | None = None
    flange: bool = False


def choose_process(part: PartFacts, features: tuple[Feature, ...]) -> ProcessChoice:
    """The process of a part, why, and from where it is worked.

    Args:
        part: the facts.
        features: its recognised features; without them the choice rests on the faces alone.
    """
    turning = turning_of(part, features)
    if turning is None or turning.flange or _is_drilled_plate(turning, features):
        return _milled(part, features, turning)
    axis, directions = _worked_from(turning, features)
    if not turning.left_over and turning.square is None:
        return ProcessChoice(
            process="turned",
            reason=_turned_reason(turning),
            axis=axis,
            axis_point=turning.view.origin,
            setup_directions=directions,
        )
    return ProcessChoice(
        process="turned-with-milling",
        reason=_mixed_reason(turning, part, features),
        axis=axis,
        axis_point=turning.view.origin,
        setup_directions=directions,
    )


def turning_of(part: PartFacts, features: tuple[Feature, ...]) -> Turning | None:
    """The part as a turned one, or None where its outside is not round enough."""
    prisms = hexagons(part)
    view = main_axis(part, features)
    bar = None
    for h in prisms:
        about = Axial(part, h.axis, h.centre, features)
        if h.outside and about.radius_mm <= 0.585 * h.across_flats_mm:  # corner: AF / sqrt(3)
            bar, view = h, about
            break
    block = widest_rectangle(view) if view is not None and bar is None else None
    flange = block is not None and view is not None and not _is_bar(view, block)
    square = block if block is not None and not flange and _is_square_bar(block) else None
    if view is None or (bar is None and square is None and view.round_share < ROUND_SHARE):
        return _filled(part, features)
    hexagon_bar = bar is not None and _is_sold("hexagon", bar.across_flats_mm)
    bar = bar if hexagon_bar else None
    taken = set(view.turned_faces) | set(bar.faces if bar else ())
    taken |= set(square.faces if square else ())
    least = SLIVER_RATIO * part.area_mm2
    left = tuple(f.index for f in part.faces if f.index not in taken and f.area_mm2 > least)
    inside = tuple(h for h in prisms if not h.outside and parallel(h.axis, view.axis))
    sockets = tuple(h for h in inside if view.on_axis(h.centre))
    return Turning(view, bar, left, sockets, square, flange)


def _is_bar(view: Axial, block: Rectangle) -> bool:
    return view.length_mm >= BAR_RATIO * block.sides_mm[0]


def _is_square_bar(block: Rectangle) -> bool:
    return block.is_square and _is_sold("square", block.sides_mm[0])


def _filled(part: PartFacts, features: tuple[Feature, ...]) -> Turning | None:
    """A part whose metal fills a body of revolution, though its outside is given as splines."""
    facts = part.turning
    if facts is None or facts.ratio < FILLED_RATIO:
        return None
    view = Axial(part, facts.axis, facts.axis_point, features)
    left = tuple(
        f.index
        for f in part.faces
        if f.index not in view.turned_faces
        and f.surface != "freeform"
        and f.area_mm2 > SLIVER_RATIO * part.area_mm2
    )
    return Turning(view, None, left, ())


def _is_sold(form: str, across_mm: float) -> bool:
    """True where a bar of that form and very size is in the catalogue, in mm or inch."""
    tolerance = allowances().bar_skin_tolerance_mm
    sizes = (x for s in shipped_series() if s.form == form for x in s.sizes_mm)
    return any(abs(size - across_mm) <= tolerance for size in sizes)


def _is_drilled_plate(turning: Turning, features: tuple[Feature, ...]) -> bool:
    """A wide thin disc whose work is mostly holes and pockets off its axis."""
    view = turning.view
    diameter = 2.0 * view.radius_mm
    if diameter <= allowances().bar_capacity_mm or diameter < PLATE_RATIO * view.length_mm:
        return False
    left = set(turning.left_over)
    milled = sum(1 for f in features if left.intersection(f.faces))
    inside_rings = len({round(max(r.r_mm), 2) for r in view.rings if not r.outside})
    return milled >= 3 and milled > 2 * inside_rings


def _milled(
    part: PartFacts, features: tuple[Feature, ...], turning: Turning | None
) -> ProcessChoice:
    directions = milling_directions(part, features)
    if turning is None:
        why = "too little of its outside is round about one line to turn it on a lathe"
    elif turning.flange:
        why = "it is a block or flange with corners and only a short round part"
    else:
        why = "it is a wide, thin disc with most of its work away from its middle"
    holes = [f for f in features if isinstance(f, Hole)]
    keyways = sum(
        1 for f in features if isinstance(f, Slot) and keyway_bore(part, f, holes) is not None
    )
    also = f" {_keyways(keyways).capitalize()}." if keyways else ""
    return ProcessChoice(
        process="milled",
        reason=f"Milled from {len(directions)} sides: {why}.{also}",
        setup_directions=directions,
    )


def _keyways(count: int) -> str:
    if count == 1:
        return "a keyway in the bore (slotted or broached along it)"
    return f"{count} keyways in the bore (slotted or broached along it)"


def _worked_from(turning: Turning, features: tuple[Feature, ...]) -> tuple[Vec, tuple[Vec, ...]]:
    """The axis, looking out of the front of the bar, and the directions of work.

    Directions at one angle to the axis are one setup: the part is indexed about it, by live
    tools on the lathe or in a dividing head afterwards. The front is the slimmer end, or that
    with more blind work in it. The back is worked too where blind work opens there, or where
    the parted-off face may not stay.
    """
    view = turning.view
    ends = {True: flipped(flipped(view.axis)), False: flipped(view.axis)}
    blind = {True: 0, False: 0}
    others: list[Vec] = []
    for f in features:
        if parallel(f.direction, view.axis, 1.0):
            blind[dot(f.direction, view.axis) > 0.0] += _is_blind(f)
        elif (
            set(f.faces).intersection(turning.left_over)
            and not _is_cut_along(turning, f, features)
            and not any(_same_setup(view.axis, f.direction, d) for d in others)
        ):
            others.append(flipped(flipped(f.direction)))
    middle = sum(view.z_mm) / 2.0
    for socket in turning.sockets:
        blind[from_axis(socket.centre, view.origin, view.axis)[0] > middle] += 1
    half = len(view.profile_mm) // 2
    low, high = sum(view.profile_mm[:half]), sum(view.profile_mm[-half:])
    front = high <= low
    if abs(high - low) < SLIMMER_RATIO * (high + low) and blind[True] != blind[False]:
        front = blind[True] > blind[False]
    stays = allowances().parted_face_mm + SAME_MM
    back = blind[not front] > 0 or 2.0 * view.radius_mm > stays
    worked = (ends[front], ends[not front]) if back else (ends[front],)
    return ends[front], worked + tuple(others)


def _same_setup(axis: Vec, a: Vec, b: Vec) -> bool:
    """True for directions that indexing about the axis brings to the same cutter."""
    return abs(dot(a, axis) - dot(b, axis)) < 0.02


def _is_cut_along(turning: Turning, feature: Feature, features: tuple[Feature, ...]) -> bool:
    """True for keyways in the bore and short gaps of teeth: made along the axis, from an end."""
    if not isinstance(feature, Slot):
        return False
    view = turning.view
    if keyway_bore(view.part, feature, [f for f in features if isinstance(f, Hole)]) is not None:
        return True
    edges = {e for i in feature.faces for loop in view.part.faces[i].loops for e in loop}
    heights = [
        dot(p, view.axis)
        for e in (view.part.edges[k] for k in edges)
        for p in (e.start, e.middle, e.end)
    ]
    return (
        bool(heights)
        and max(heights) - min(heights) <= EASY_MM
        and is_drawn_along(view.part, feature.faces, view.axis)
    )


def _is_blind(feature: Feature) -> bool:
    """True for work that one end of the part only gives access to."""
    if isinstance(feature, Hole | Pocket):
        return not feature.through
    return isinstance(feature, Counterbore | Countersink | Engraving) or (
        isinstance(feature, Groove) and feature.side == "face"
    )


def _turned_reason(turning: Turning) -> str:
    view = turning.view
    size = f"{2 * view.radius_mm:.4g} mm"
    if turning.bar is not None:
        across = f"{turning.bar.across_flats_mm:.4g} mm"
        return f"Turned from hexagon bar: all faces but six flats {across} across are round."
    return f"Turned: every face is round about one axis, largest diameter {size}."


def _mixed_reason(turning: Turning, part: PartFacts, features: tuple[Feature, ...]) -> str:
    left = set(turning.left_over)
    pieces: list[str] = []
    if turning.square is not None:
        side = f"{turning.square.sides_mm[0]:.4g} mm"
        bar = f"Turned from square bar {side}, whose flats stay or are milled"
        if not left:
            return f"{bar}; all else is round."
    else:
        bar = "Turned on a lathe"
    for h in turning.sockets:
        if left.intersection(h.faces):
            left -= set(h.faces).union(*(f.faces for f in features if set(h.faces) & set(f.faces)))
            pieces.append(f"a hexagon socket {h.across_flats_mm:.4g} mm (broached or milled)")
    off, journal = _eccentricity(turning, part)
    if journal:
        left -= journal
        pieces.append(f"a diameter {off:.3g} mm off the axis (a second chucking or milling)")
    holes = [f for f in features if isinstance(f, Hole)]
    keyways = [
        f for f in features if isinstance(f, Slot) and keyway_bore(part, f, holes) is not None
    ]
    if keyways:
        pieces.append(_keyways(len(keyways)))
        left = left.difference(*(f.faces for f in keyways))
    counts = Counter(
        str(type(f).__struct_config__.tag) for f in features if left.intersection(f.faces)
    )
    pieces += [f"{n} {kind}{'s' if n > 1 else ''}" for kind, n in sorted(counts.items())]
    owned = {i for f in features for i in f.faces}
    bare = len(left - owned)
    if not pieces or (bare and not turning.sockets and not journal):
        pieces.append("1 face" if bare == 1 else f"{bare} faces")
    return f"{bar}; a lathe tool alone cannot make {_listed(pieces)}."


def _eccentricity(turning: Turning, part: PartFacts) -> tuple[float, set[int]]:
    """Distance of the farthest outside cylinder parallel to the axis but off it, and all such."""
    view = turning.view
    found: dict[int, float] = {}
    for i in turning.left_over:
        f = part.faces[i]
        if f.surface != "cylinder" or f.bend != "outside" or f.axis is None or not f.axis_point:
            continue
        if parallel(f.axis, view.axis) and (f.span_deg or 0.0) > 170.0:
            found[i] = from_axis(f.axis_point, view.origin, view.axis)[1]
    return max(found.values(), default=0.0), set(found)


def _listed(pieces: list[str]) -> str:
    if len(pieces) == 1:
        return pieces[0]
    return ", ".join(pieces[:-1]) + " and " + pieces[-1]

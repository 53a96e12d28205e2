"""Blanks for turned parts: round, hexagon and square bar, tube."""

import math
from dataclasses import dataclass
from typing import Literal

from msgspec.structs import replace

from dfmcheck.features.axial import Axial
from dfmcheck.features.prisms import hexagons
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature, Knurl, Thread
from dfmcheck.model.stock import NextSmaller, ProcessChoice, Series, Stock
from dfmcheck.model.vector import dot, parallel
from dfmcheck.planning.blank import Blank, closest, stock_label
from dfmcheck.planning.catalogue import Allowances
from dfmcheck.planning.rectangles import BAR_RATIO, widest_rectangle

HEXAGON_AREA = math.sqrt(3.0) / 2.0
"""Area of a regular hexagon over the square of its width across flats."""


DIMENSION: dict[str, Literal["across-flats", "width"]] = {
    "hexagon": "across-flats",
    "square": "width",
}
"""The dimension of bars that are not round."""


@dataclass(frozen=True)
class Turned:
    """What a bar must hold: sizes of the part about its turning axis, in mm.

    `plain_skin` is True where the largest diameter is a plain cylinder, or knurled, so that a
    drawn skin of that size could stay. `square_mm` is the side of a square section that is as wide
    as the part. `bore_mm` is the widest bore that runs through (0: none).
    """

    diameter_mm: float
    length_mm: float
    plain_skin: bool
    bore_mm: float
    across_flats_mm: float | None
    both_ends: bool
    square_mm: float | None = None


def bar_candidates(
    part: PartFacts,
    process: ProcessChoice,
    series: tuple[Series, ...],
    allowed: Allowances,
    features: tuple[Feature, ...] = (),
) -> list[Blank]:
    """The least bar of each form that holds a turned part; tube only where it spares enough."""
    need = turned_need(part, process, features)
    if need is None:
        return []
    rounds = _smallest(part, process, need, _of_form(series, "round"), allowed)
    tubes = _smallest(part, process, need, _of_form(series, "tube"), allowed)
    hexes = []
    if need.across_flats_mm is not None and process.process == "turned":
        hexes = _smallest(part, process, need, _of_form(series, "hexagon"), allowed)
    if need.square_mm is not None and need.length_mm >= BAR_RATIO * need.square_mm:
        hexes = hexes or _smallest(part, process, need, _of_form(series, "square"), allowed)
    if hexes:
        return hexes
    bar = rounds[0].bought_mm3 if rounds else math.inf
    return rounds + [t for t in tubes if t.bought_mm3 <= allowed.tube_volume_share * bar]


def turned_need(
    part: PartFacts, process: ProcessChoice, features: tuple[Feature, ...] = ()
) -> Turned | None:
    """Sizes that a bar must hold, or None where the process names no axis."""
    if process.axis is None or process.axis_point is None:
        return None
    view = Axial(part, process.axis, process.axis_point, features)
    knurled = {f for k in features if isinstance(k, Knurl) for f in k.faces}
    axis = process.axis
    hexagon = next(
        (h for h in hexagons(part) if h.outside and parallel(h.axis, axis)),
        None,
    )
    widest = view.radius_mm
    block = widest_rectangle(view) if hexagon is None else None
    return Turned(
        diameter_mm=2.0 * widest,
        length_mm=view.length_mm,
        plain_skin=any(
            abs(max(r.r_mm) - widest) < 1e-3
            for r in view.rings
            if r.outside
            and (part.faces[r.index].surface == "cylinder" or r.index in knurled)
            and not _is_threaded(r.index, features)
        ),
        bore_mm=2.0 * through_bore_radius(view),
        across_flats_mm=hexagon.across_flats_mm if hexagon else None,
        both_ends=any(dot(d, axis) < -0.9 for d in process.setup_directions),
        square_mm=block.sides_mm[0] if block is not None and block.is_square else None,
    )


def _is_threaded(face: int, features: tuple[Feature, ...]) -> bool:
    """True for a face of a thread, whose crest is turned and never left as drawn."""
    return any(isinstance(f, Thread) and face in f.faces for f in features)


def through_bore_radius(view: Axial) -> float:
    """Least radius of the bore, if faces of revolution line it over the whole length, else 0."""
    low, high = view.z_mm
    tolerance = 0.01 * (high - low)
    inside = sorted(
        (r for r in view.rings if not r.outside and r.cover > 0.5), key=lambda r: r.z_mm
    )
    reached = low
    for ring in inside:
        if ring.z_mm[0] > reached + tolerance:
            return 0.0
        reached = max(reached, ring.z_mm[1])
    if not inside or reached < high - tolerance:
        return 0.0
    return min(min(r.r_mm) for r in inside)


def _of_form(series: tuple[Series, ...], form: str) -> list[Series]:
    return [s for s in series if s.form == form]


def _smallest(
    part: PartFacts,
    process: ProcessChoice,
    need: Turned,
    series: list[Series],
    allowed: Allowances,
) -> list[Blank]:
    """The cheapest blank among these series, as a list of at most one."""
    found = []
    for s in series:
        for k, size in enumerate(s.sizes_mm):
            bore = s.second_mm[k] if s.second_mm else 0.0
            excess, kept = shortfall(need, s, size, bore, allowed)
            if excess <= 0.0:
                blank = _blank(part, process, need, s, (size, bore), kept, allowed)
                found.append((blank.bought_mm3, not kept, s.name, blank))
    if not found:
        return []
    best = min(found, key=lambda f: f[:3])[3]
    smaller = _next_smaller(need, series, best.stock, allowed)
    return [Blank(replace(best.stock, next_smaller=smaller), best.bought_mm3)]


def shortfall(
    need: Turned, series: Series, size_mm: float, bore_mm: float, allowed: Allowances
) -> tuple[float, bool]:
    """How much the part is too big for a size (0 or less: it fits), and whether skin is kept.

    For tubes the worse of outside and bore counts; both skins stay where both sizes agree.
    """
    tolerance = allowed.bar_skin_tolerance_mm
    if series.form == "hexagon":
        flats = need.across_flats_mm or 0.0
        return (0.0, True) if abs(flats - size_mm) <= tolerance else (math.inf, False)
    if series.form == "square":
        side = need.square_mm or 0.0
        same = series.skin == "drawn" and abs(side - size_mm) <= tolerance
        return (0.0, True) if same else (math.inf, False)
    side = allowed.bar_side_mm(series.skin, size_mm)
    if bore_mm > 0.0:
        if need.bore_mm < allowed.tube_smallest_bore_mm:
            return math.inf, False
        if (
            need.plain_skin
            and series.skin in ("drawn", "extruded")
            and abs(need.diameter_mm - size_mm) <= tolerance
            and abs(need.bore_mm - bore_mm) <= tolerance
        ):
            return 0.0, True
        outside = need.diameter_mm + 2.0 * side - size_mm
        return max(outside, bore_mm + 2.0 * side - need.bore_mm), False
    if need.plain_skin and series.skin == "drawn":
        over = need.diameter_mm - size_mm
        if abs(over) <= tolerance:
            return 0.0, True
        if over > 0.0:
            return over, True
    over = need.diameter_mm + 2.0 * side - size_mm
    return (0.0 if over <= 1e-6 else over), False


def _blank(
    part: PartFacts,
    process: ProcessChoice,
    need: Turned,
    series: Series,
    sizes_mm: tuple[float, float],
    kept: bool,
    allowed: Allowances,
) -> Blank:
    size, bore = sizes_mm
    sawn = size > allowed.bar_capacity_mm
    length = need.length_mm + (
        2.0 * allowed.sawn_end_mm
        if sawn
        else allowed.bar_front_mm
        + (allowed.bar_back_mm if need.both_ends else 0.0)
        + allowed.part_off.at(size)
    )
    area = (
        HEXAGON_AREA * size * size
        if series.form == "hexagon"
        else size * size
        if series.form == "square"
        else math.pi / 4.0 * (size * size - bore * bore)
    )
    section = (size, bore) if series.form == "tube" else (size,)
    assert process.axis is not None  # noqa: S101  turned_need has asked for it
    stock = Stock(
        form=series.form,
        label=stock_label(series, *section),
        section_mm=section,
        length_mm=length,
        axis=process.axis,
        volume_mm3=area * length,
        removed_mm3=area * length - part.volume_mm3,
        removed_ratio=1.0 - part.volume_mm3 / (area * length),
        allowance_mm=0.0 if kept else allowed.bar_side_mm(series.skin, size),
        grip_mm=0.0,
        skin_kept=kept,
        series=series.name,
        source=series.source,
    )
    return Blank(stock, area * (length + (allowed.kerf_mm if sawn else 0.0)))


def _next_smaller(
    need: Turned, series: list[Series], chosen: Stock, allowed: Allowances
) -> NextSmaller | None:
    """The size below the chosen one in its form that the part misses by least."""
    if chosen.form == "tube":
        return None
    found = []
    for s in series:
        for x in s.sizes_mm:
            if x >= chosen.section_mm[0] - 1e-6:
                continue
            if chosen.form == "hexagon":
                over = (need.across_flats_mm or 0.0) - x
            elif chosen.form == "square":
                over = (need.square_mm or 0.0) - x
            else:
                over = shortfall(need, s, x, 0.0, allowed)[0]
            found.append(
                NextSmaller(
                    label=stock_label(s, x),
                    size_mm=x,
                    excess_mm=over,
                    dimension=DIMENSION.get(chosen.form, "diameter"),
                )
            )
    return closest(found)

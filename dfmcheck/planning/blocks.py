"""Blanks for milled parts: plate, flat, square, sawn block."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import permutations

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.stock import NextSmaller, ProcessChoice, Series, Stock
from dfmcheck.model.vector import parallel
from dfmcheck.planning.blank import Blank, closest, stock_label
from dfmcheck.planning.catalogue import Allowances

SAWN_SOURCE = "sawn on all sides from larger stock"

EQUAL_MM = 1e-6


@dataclass(frozen=True)
class Box:
    """What a block must hold: the part's extents along three directions, in mm.

    `first` is the direction worked first: a skim on top and the grip below are added there; on
    both other pairs of sides the side allowance. `flat` is True where the part is so flat along
    `first` that a plate's own skins may stay.
    """

    directions: tuple[Vec, Vec, Vec]
    size_mm: Vec
    first: int
    flat: bool


@dataclass(frozen=True)
class Fit:
    """A series and size that hold the part.

    `axes` are the directions of `Box` along the blank's width, thickness and length, `edges_mm`
    its edges along them.
    """

    series: Series
    sizes_mm: tuple[float, ...]
    axes: tuple[int, int, int]
    edges_mm: Vec
    kept: bool
    bought_mm3: float


def box_of(part: PartFacts, process: ProcessChoice, allowed: Allowances) -> Box:
    """The part's box with the direction worked first (the thinnest where none is named)."""
    frame = part.frame
    three = (frame.x, frame.y, frame.z)
    size = frame.size_mm
    thin = min(range(3), key=lambda k: (size[k], -k))
    first = thin
    if process.setup_directions:
        d = process.setup_directions[0]
        first = next((k for k in range(3) if parallel(three[k], d, 1.0)), thin)
    others = min(size[k] for k in range(3) if k != first)
    return Box(three, size, first, others >= allowed.plate_skin_extent * size[first])


def needed_mm(box: Box, k: int, allowed: Allowances) -> float:
    """Extent of a sawn blank along a direction."""
    if k == box.first:
        return box.size_mm[k] + allowed.milled_top_mm + allowed.milled_grip_mm
    return box.size_mm[k] + 2.0 * allowed.milled_side_mm


def shortfall_mm(box: Box, k: int, series: Series, size_mm: float, allowed: Allowances) -> float:
    """How much the part is too big along a direction for a size as bought (0 or less: it fits)."""
    skin = allowed.flat_skin_mm(series.skin, size_mm)
    if k == box.first:
        added = max(allowed.milled_top_mm, skin) + max(allowed.milled_grip_mm, skin)
    else:
        added = 2.0 * max(allowed.milled_side_mm, skin)
    over = box.size_mm[k] + added - size_mm
    return over if over > EQUAL_MM else min(over, 0.0)


def plate_shortfall(
    box: Box, k: int, series: Series, size_mm: float, allowed: Allowances
) -> tuple[float, bool]:
    """As `shortfall_mm` for a plate's thickness, and whether both skins stay."""
    bare = box.size_mm[k] - size_mm
    if k == box.first and box.flat and bare >= -allowed.plate_skin_tolerance_mm:
        return (0.0 if bare <= allowed.plate_skin_tolerance_mm else bare), True
    return shortfall_mm(box, k, series, size_mm, allowed), False


def block_candidates(
    part: PartFacts, process: ProcessChoice, series: tuple[Series, ...], allowed: Allowances
) -> list[Blank]:
    """The cheapest blank of each form; a block sawn on all sides only where nothing else fits."""
    box = box_of(part, process, allowed)
    found = []
    for form in ("plate", "flat", "square"):
        of_form = [s for s in series if s.form == form]
        fits = [f for s in of_form for f in _fits(box, s, allowed)]
        if fits:
            best = min(fits, key=lambda f: (f.bought_mm3, not f.kept, f.axes))
            stock = _stock(part, box, best, allowed, _next_smaller(box, best, of_form, allowed))
            found.append(Blank(stock, best.bought_mm3))
    return found or [_sawn(part, box, allowed)]


def _fits(box: Box, series: Series, allowed: Allowances) -> Iterator[Fit]:
    seconds = series.second_mm or (None,) * len(series.sizes_mm)
    for size, second in zip(series.sizes_mm, seconds, strict=True):
        for w, t, along in permutations(range(3)):
            if series.form == "plate":
                fit = _plate(box, series, size, (w, t, along), allowed)
            else:
                fit = _bar(box, series, (size, second or size), (w, t, along), allowed)
            if fit is not None:
                yield fit


def _plate(
    box: Box, series: Series, size_mm: float, axes: tuple[int, int, int], allowed: Allowances
) -> Fit | None:
    w, t, along = axes
    width, length = needed_mm(box, w, allowed), needed_mm(box, along, allowed)
    over, kept = plate_shortfall(box, t, series, size_mm, allowed)
    if width > length or over > 0.0:
        return None
    kerf = allowed.kerf_mm
    bought = (width + kerf) * size_mm * (length + kerf)
    return Fit(series, (size_mm,), axes, (width, size_mm, length), kept, bought)


def _bar(
    box: Box,
    series: Series,
    section_mm: tuple[float, float],
    axes: tuple[int, int, int],
    allowed: Allowances,
) -> Fit | None:
    w, t, along = axes
    width, thick = section_mm
    if shortfall_mm(box, w, series, width, allowed) > 0.0:
        return None
    if shortfall_mm(box, t, series, thick, allowed) > 0.0:
        return None
    length = needed_mm(box, along, allowed)
    sizes = section_mm if series.form == "flat" else (width,)
    bought = width * thick * (length + allowed.kerf_mm)
    return Fit(series, sizes, axes, (width, thick, length), False, bought)


def _stock(
    part: PartFacts, box: Box, fit: Fit, allowed: Allowances, smaller: NextSmaller | None
) -> Stock:
    width, thick, length = fit.edges_mm
    volume = width * thick * length
    return Stock(
        form=fit.series.form,
        label=stock_label(fit.series, *fit.sizes_mm),
        section_mm=(width,) if fit.series.form == "square" else (width, thick),
        length_mm=length,
        axis=box.directions[fit.axes[2]],
        volume_mm3=volume,
        removed_mm3=volume - part.volume_mm3,
        removed_ratio=1.0 - part.volume_mm3 / volume,
        allowance_mm=max(allowed.milled_side_mm, allowed.flat_skin_mm(fit.series.skin, width)),
        grip_mm=0.0 if fit.kept else allowed.milled_grip_mm,
        skin_kept=fit.kept,
        series=fit.series.name,
        source=fit.series.source,
        next_smaller=smaller,
    )


def _sawn(part: PartFacts, box: Box, allowed: Allowances) -> Blank:
    """A block sawn on all sides, in whole millimetres."""
    edges = sorted((math.ceil(needed_mm(box, k, allowed) - EQUAL_MM), k) for k in range(3))
    thick, width, length = (float(e) for e, _ in edges)
    volume = thick * width * length
    kerf = allowed.kerf_mm
    stock = Stock(
        form="block",
        label=f"block {length:.0f} x {width:.0f} x {thick:.0f}",
        section_mm=(width, thick),
        length_mm=length,
        axis=box.directions[edges[2][1]],
        volume_mm3=volume,
        removed_mm3=volume - part.volume_mm3,
        removed_ratio=1.0 - part.volume_mm3 / volume,
        allowance_mm=allowed.milled_side_mm,
        grip_mm=allowed.milled_grip_mm,
        skin_kept=False,
        series="",
        source=SAWN_SOURCE,
    )
    return Blank(stock, (thick + kerf) * (width + kerf) * (length + kerf))


def _next_smaller(
    box: Box, fit: Fit, series: list[Series], allowed: Allowances
) -> NextSmaller | None:
    """The size below the chosen one that the part misses by least, in the same position."""
    w, t, _ = fit.axes
    width, thick, _ = fit.edges_mm
    found: list[NextSmaller] = []
    for s in series:
        if s.form == "plate":
            for x in _below(s.sizes_mm, thick):
                over = plate_shortfall(box, t, s, x, allowed)[0]
                found.append(_smaller(s, (x,), x, over, "thickness"))
        elif s.form == "square":
            for x in _below(s.sizes_mm, width):
                over = max(shortfall_mm(box, k, s, x, allowed) for k in (w, t))
                found.append(_smaller(s, (x,), x, over, "width"))
        else:
            pairs = tuple(zip(s.sizes_mm, s.second_mm, strict=True))
            for x in _below([a for a, b in pairs if abs(b - thick) < EQUAL_MM], width):
                over = shortfall_mm(box, w, s, x, allowed)
                found.append(_smaller(s, (x, thick), x, over, "width"))
            for x in _below([b for a, b in pairs if abs(a - width) < EQUAL_MM], thick):
                over = shortfall_mm(box, t, s, x, allowed)
                found.append(_smaller(s, (width, x), x, over, "thickness"))
    return closest([n for n in found if n.excess_mm > 0.0])


def _below(sizes_mm: Iterable[float], than_mm: float) -> list[float]:
    """The sizes below a given one."""
    return [x for x in sizes_mm if x < than_mm - EQUAL_MM]


def _smaller(
    series: Series, sizes_mm: tuple[float, ...], size_mm: float, excess_mm: float, dimension: str
) -> NextSmaller:
    return NextSmaller(
        label=stock_label(series, *sizes_mm),
        size_mm=size_mm,
        excess_mm=excess_mm,
        dimension="width" if dimension == "width" else "thickness",
    )

"""Blanks for milled parts: plate, flat, square, sawn block."""

import math
from collections.abc import Iterable, Iterator, Sequence
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


ALIKE_RATIO = 1.25
"""Edges up to this much longer than the shortest may lie along a plate's thickness as well."""


@dataclass(frozen=True)
class Box:
    """What a block must hold: the part's extents along three directions, in mm.

    `first` is the direction worked first: a skim on top and the grip below are added there; on
    both other pairs of sides the side allowance (`added_mm`: both ends of each direction).
    `flat` is True where the part is so flat along `first` that a plate's own skins may stay.
    """

    directions: tuple[Vec, Vec, Vec]
    size_mm: Vec
    first: int
    flat: bool
    added_mm: tuple[tuple[float, float], ...] = ((0.0, 0.0),) * 3

    def fits(self, k: int, room_mm: float, skin_mm: float) -> bool:
        """True where the part, the metal to come off and both skins fit along a direction."""
        a, b = self.added_mm[k]
        return self.size_mm[k] + max(a, skin_mm) + max(b, skin_mm) <= room_mm + EQUAL_MM

    def is_thin(self, k: int) -> bool:
        """True for the thinnest direction and those about as thin."""
        return self.size_mm[k] <= ALIKE_RATIO * min(self.size_mm)

    def lies_flat(self, axes: tuple[int, ...]) -> bool:
        """True where the thinnest direction lies across the stock's thickness, never along it."""
        _, t, along = axes
        return self.is_thin(t) and (self.size_mm[along] >= self.size_mm[t] or self.is_thin(along))


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
    ratio = allowed.plate_skin_extent.at(size[first])
    added = tuple(
        (allowed.milled_top.at(x), allowed.milled_grip.at(x))
        if k == first
        else (allowed.milled_side.at(x),) * 2
        for k, x in enumerate(size)
    )
    return Box(three, size, first, others >= ratio * size[first], added)


def needed_mm(box: Box, k: int) -> float:
    """Extent of a sawn blank along a direction."""
    return box.size_mm[k] + sum(box.added_mm[k])


def shortfall_mm(box: Box, k: int, series: Series, size_mm: float, allowed: Allowances) -> float:
    """How much the part is too big along a direction for a size as bought (0 or less: it fits)."""
    skin = allowed.flat_skin_mm(series.skin, size_mm)
    if box.fits(k, size_mm, skin):
        return 0.0
    if k == box.first:
        largest = _largest_gripped(size_mm, skin, allowed)
    else:
        largest = allowed.milled_side.largest_within(size_mm, skin, times=2.0)
    return box.size_mm[k] - largest


def _largest_gripped(room_mm: float, skin_mm: float, allowed: Allowances) -> float:
    """The largest extent that fits with the skim on top and the grip below."""
    limits = [a for a, _ in (*allowed.milled_top.rows, *allowed.milled_grip.rows)]
    last = max(limits)
    return max(
        min(
            math.inf if limit == last else limit,
            room_mm
            - max(allowed.milled_top.at(limit), skin_mm)
            - max(allowed.milled_grip.at(limit), skin_mm),
        )
        for limit in limits
    )


def is_section(
    box: Box,
    axes: tuple[int, int, int],
    series: Series,
    section_mm: tuple[float, float],
    allowed: Allowances,
) -> bool:
    """True where a long part has the very section of a drawn bar, so that its skins may stay."""
    w, t, along = axes
    tolerance = allowed.plate_skin_tolerance_mm
    return (
        series.skin == "drawn"
        and abs(box.size_mm[w] - section_mm[0]) <= tolerance
        and abs(box.size_mm[t] - section_mm[1]) <= tolerance
        and box.size_mm[along] >= allowed.bar_skin_length * box.size_mm[w]
    )


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
    """The cheapest blank of each form, the part's thinnest direction across its thickness.

    Other positions (cut on edge out of thicker stock) count only where none fits so; a block
    sawn on all sides only where nothing else does.
    """
    box = box_of(part, process, allowed)
    for lying in (True, False):
        positions = [p for p in permutations(range(3)) if box.lies_flat(p) == lying]
        found = []
        for form in ("plate", "flat", "square"):
            of_form = [s for s in series if s.form == form]
            fits = [f for s in of_form for f in _fits(box, s, positions, allowed)]
            if fits:
                best = min(fits, key=lambda f: (f.bought_mm3, not f.kept, f.axes))
                stock = _stock(part, box, best, allowed, _next_smaller(box, best, of_form, allowed))
                found.append(Blank(stock, best.bought_mm3))
        if found:
            return found
    return [_sawn(part, box, allowed)]


def _fits(
    box: Box, series: Series, positions: Sequence[tuple[int, ...]], allowed: Allowances
) -> Iterator[Fit]:
    """What of a series holds the part; of plates and squares the least size."""
    seconds = series.second_mm or (None,) * len(series.sizes_mm)
    for w, t, along in positions:
        for size, second in zip(series.sizes_mm, seconds, strict=True):
            if size < box.size_mm[w if second else t] - allowed.plate_skin_tolerance_mm:
                continue
            if series.form == "plate":
                fit = _plate(box, series, size, (w, t, along), allowed)
            else:
                fit = _bar(box, series, (size, second or size), (w, t, along), allowed)
            if fit is not None:
                yield fit
                if second is None:
                    break


def _plate(
    box: Box, series: Series, size_mm: float, axes: tuple[int, int, int], allowed: Allowances
) -> Fit | None:
    w, t, along = axes
    width, length = needed_mm(box, w), needed_mm(box, along)
    if width > length:
        return None
    over, kept = plate_shortfall(box, t, series, size_mm, allowed)
    if over > 0.0:
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
    kept = is_section(box, axes, series, section_mm, allowed)
    if not kept:
        skins = [allowed.flat_skin_mm(series.skin, x) for x in section_mm]
        if not (box.fits(w, width, skins[0]) and box.fits(t, thick, skins[1])):
            return None
    length = needed_mm(box, along)
    sizes = section_mm if series.form == "flat" else (width,)
    bought = width * thick * (length + allowed.kerf_mm)
    return Fit(series, sizes, axes, (width, thick, length), kept, bought)


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
        allowance_mm=_allowance_mm(box, fit, allowed),
        grip_mm=0.0 if fit.kept else allowed.milled_grip.at(box.size_mm[box.first]),
        skin_kept=fit.kept,
        series=fit.series.name,
        source=fit.series.source,
        next_smaller=smaller,
    )


def _allowance_mm(box: Box, fit: Fit, allowed: Allowances) -> float:
    """Metal on each machined side of the section (for a plate of the sawn sides)."""
    if fit.kept and fit.series.form != "plate":
        return 0.0
    side = max(allowed.milled_side.at(box.size_mm[k]) for k in range(3) if k != box.first)
    return max(side, allowed.flat_skin_mm(fit.series.skin, fit.edges_mm[0]))


def _sawn(part: PartFacts, box: Box, allowed: Allowances) -> Blank:
    """A block sawn on all sides, in whole millimetres."""
    edges = sorted((math.ceil(needed_mm(box, k) - EQUAL_MM), k) for k in range(3))
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
        allowance_mm=max(
            allowed.milled_side.at(box.size_mm[k]) for k in range(3) if k != box.first
        ),
        grip_mm=allowed.milled_grip.at(box.size_mm[box.first]),
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

"""The blank: the next standard bar, plate, tube or sawn block, with allowances and grip."""

from collections.abc import Iterable

from msgspec.structs import replace

from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature
from dfmcheck.model.stock import ProcessChoice, Series, Stock
from dfmcheck.planning.blank import Blank
from dfmcheck.planning.blocks import block_candidates
from dfmcheck.planning.catalogue import Allowances, allowances, shipped_series
from dfmcheck.planning.rounds import bar_candidates

INCH_UNITS = frozenset(["inch", "in", "foot", "ft", "mil", "yard", "microinch"])
"""Units of files whose parts are cut from inch sizes."""

EXACT_MM = 0.002
"""A size of the other unit was meant only where the part has it to this."""


def choose_stock(
    part: PartFacts,
    process: ProcessChoice,
    family: str,
    extra: tuple[Series, ...] = (),
    unit: str = "mm",
    features: tuple[Feature, ...] = (),
) -> Stock | None:
    """The blank a shop would buy for one part, or None where the part is not machined.

    Args:
        part: the facts.
        process: how it is made; its axis and directions place the allowances and the grip.
        family: the material's family, which decides the series that fit.
        extra: further series, tried beside the shipped ones.
        unit: the file's length unit. Parts in inches are cut from inch sizes, the others from
            metric ones; a size of the other unit serves only where its own skin can stay.
        features: the recognised features; a modelled knurl counts as the plain diameter that
            it is rolled into.
    """
    known = (*shipped_series(), *extra)
    wanted = "inch" if unit.casefold() in INCH_UNITS else "mm"
    other = "mm" if wanted == "inch" else "inch"
    here = stock_from(part, process, series_for(family, known, wanted), allowances(), features)
    if here is not None and not here.skin_kept:
        exact = replace(
            allowances(),
            bar_skin_tolerance_mm=EXACT_MM,
            plate_skin_tolerance_mm=EXACT_MM,
        )
        there = stock_from(part, process, series_for(family, known, other), exact, features)
        if there is not None and there.skin_kept and there.form == here.form:
            return there
    return here


def stock_from(
    part: PartFacts,
    process: ProcessChoice,
    series: tuple[Series, ...],
    allowed: Allowances,
    features: tuple[Feature, ...] = (),
) -> Stock | None:
    """The blank that costs least metal, saw cuts counted, among the given series.

    None where the part is not machined. A turned part too wide for every bar is cut from a block.
    """
    if process.process == "not-machined":
        return None
    found: list[Blank] = []
    if process.process in ("turned", "turned-with-milling"):
        found = bar_candidates(part, process, series, allowed, features)
    if not found:
        found = block_candidates(part, process, series, allowed)
    return min(found, key=lambda b: (b.bought_mm3, b.stock.label)).stock


def series_for(family: str, known: Iterable[Series], unit: str) -> tuple[Series, ...]:
    """The series a part may be cut from: its family's own, else those that fit every family."""
    every = [s for s in known if s.unit == unit and s.family in (family, "all")]
    own = {s.form for s in every if s.family == family}
    return tuple(s for s in every if s.family == family or s.form not in own)

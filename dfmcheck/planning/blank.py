"""What bars and blocks share: a possible blank, its label, the next smaller size."""

from dataclasses import dataclass
from fractions import Fraction

from dfmcheck.model.stock import NextSmaller, Series, Stock
from dfmcheck.planning.catalogue import INCH_MM


@dataclass(frozen=True)
class Blank:
    """A possible blank; `bought_mm3` counts the saw cuts that it costs."""

    stock: Stock
    bought_mm3: float


def size_label(size_mm: float, unit: str) -> str:
    """A size as it reads on an order: "25" or "1 1/4"."""
    if unit != "inch":
        return f"{size_mm:.4g}"
    whole = Fraction(size_mm / INCH_MM).limit_denominator(64)
    n, rest = divmod(whole, 1)
    if rest == 0:
        return str(n)
    return f"{n} {rest}" if n else str(rest)


def stock_label(series: Series, *sizes_mm: float) -> str:
    """A stock as it reads on an order: "round 25", "flat 50 x 20", "plate 1/4 in"."""
    sizes = " x ".join(size_label(s, series.unit) for s in sizes_mm)
    return f"{series.form} {sizes}{' in' if series.unit == 'inch' else ''}"


def closest(found: list[NextSmaller]) -> NextSmaller | None:
    """The next smaller stock that the part misses by least."""
    return min(found, key=lambda n: (n.excess_mm, -n.size_mm, n.label), default=None)

"""Sizes of drills and tapped holes, with their sources.

Figures only; each table names where its figures come from and whether they were read there or
are remembered.
"""

from bisect import bisect_left
from functools import cache
from typing import NamedTuple

INCH_MM = 25.4

TAP_DRILL_SOURCE = (
    "ISO 2306:1972, read in public data files that cite it (M12, M14, M22 and M24 from memory); "
    "minor diameters by ISO 724, D1 = d - 1.082532 P"
)
UNIFIED_SOURCE = (
    "tap drills read in the public data files of cq_warehouse, 1-12 in Machinery's Handbook, "
    "31st edition, page 2168, table 4; minor diameters by the formula of ASME B1.1"
)
DRILL_SOURCE = (
    "DIN 338 twist drills as sold in sets, in steps of 0.05 mm below 1 mm, 0.1 mm up to 13 mm and "
    "0.5 mm up to 20 mm: common practice, no source"
)


class Tapped(NamedTuple):
    """A thread, the drill used before tapping, the inside thread's minor diameter; all in mm."""

    thread: str
    major_mm: float
    pitch_mm: float
    drill_mm: float
    minor_mm: float


METRIC: tuple[Tapped, ...] = (
    Tapped("M1.6", 1.6, 0.35, 1.25, 1.221),
    Tapped("M2", 2.0, 0.4, 1.6, 1.567),
    Tapped("M2.5", 2.5, 0.45, 2.05, 2.013),
    Tapped("M3", 3.0, 0.5, 2.5, 2.459),
    Tapped("M4", 4.0, 0.7, 3.3, 3.242),
    Tapped("M5", 5.0, 0.8, 4.2, 4.134),
    Tapped("M6", 6.0, 1.0, 5.0, 4.917),
    Tapped("M8", 8.0, 1.25, 6.8, 6.647),
    Tapped("M10", 10.0, 1.5, 8.5, 8.376),
    Tapped("M12", 12.0, 1.75, 10.2, 10.106),
    Tapped("M14", 14.0, 2.0, 12.0, 11.835),
    Tapped("M16", 16.0, 2.0, 14.0, 13.835),
    Tapped("M18", 18.0, 2.5, 15.5, 15.294),
    Tapped("M20", 20.0, 2.5, 17.5, 17.294),
    Tapped("M22", 22.0, 2.5, 19.5, 19.294),
    Tapped("M24", 24.0, 3.0, 21.0, 20.752),
)
"""Metric coarse threads. Source: TAP_DRILL_SOURCE."""

_NUMBERED_INCH = (
    0.2280, 0.2210, 0.2130, 0.2090, 0.2055, 0.2040, 0.2010, 0.1990, 0.1960, 0.1935,
    0.1910, 0.1890, 0.1850, 0.1820, 0.1800, 0.1770, 0.1730, 0.1695, 0.1660, 0.1610,
    0.1590, 0.1570, 0.1540, 0.1520, 0.1495, 0.1470, 0.1440, 0.1405, 0.1360, 0.1285,
    0.1200, 0.1160, 0.1130, 0.1110, 0.1100, 0.1065, 0.1040, 0.1015, 0.0995, 0.0980,
    0.0960, 0.0935, 0.0890, 0.0860, 0.0820, 0.0810, 0.0785, 0.0760, 0.0730, 0.0700,
    0.0670, 0.0635, 0.0595, 0.0550, 0.0520, 0.0465, 0.0430, 0.0420, 0.0410, 0.0400,
)  # fmt: skip
_LETTERED_INCH = (
    0.234, 0.238, 0.242, 0.246, 0.250, 0.257, 0.261, 0.266, 0.272, 0.277, 0.281, 0.290, 0.295,
    0.302, 0.316, 0.323, 0.332, 0.339, 0.348, 0.358, 0.368, 0.377, 0.386, 0.397, 0.404, 0.413,
)  # fmt: skip

INCH_DRILLS: dict[str, float] = (
    {f"#{i}": inch * INCH_MM for i, inch in enumerate(_NUMBERED_INCH, 1)}
    | dict(zip("ABCDEFGHIJKLMNOPQRSTUVWXYZ", (i * INCH_MM for i in _LETTERED_INCH), strict=True))
    | {f"{i}/64": i / 64.0 * INCH_MM for i in range(1, 51)}
)
"""Number, letter and fraction drills in mm. ASME B94.11M, from memory; the number and letter
drills agree with the public data files of bd_warehouse to a thousandth of an inch."""

_UNIFIED_INCH: tuple[tuple[str, float, int, float, float], ...] = (
    # thread, major diameter, threads per inch, tap drill, minor diameter of the inside thread
    ("#2-56 UNC", 0.086, 56, 0.07, 0.0667),
    ("#4-40 UNC", 0.112, 40, 0.089, 0.0849),
    ("#6-32 UNC", 0.138, 32, 0.1065, 0.1042),
    ("#8-32 UNC", 0.164, 32, 0.136, 0.1302),
    ("#10-24 UNC", 0.19, 24, 0.1495, 0.1449),
    ("#10-32 UNF", 0.19, 32, 0.159, 0.1562),
    ("1/4-20 UNC", 0.25, 20, 0.201, 0.1959),
    ("1/4-28 UNF", 0.25, 28, 0.213, 0.2113),
    ("5/16-18 UNC", 0.3125, 18, 0.257, 0.2524),
    ("5/16-24 UNF", 0.3125, 24, 0.272, 0.2674),
    ("3/8-16 UNC", 0.375, 16, 0.3125, 0.3073),
    ("3/8-24 UNF", 0.375, 24, 0.332, 0.3299),
    ("7/16-14 UNC", 0.4375, 14, 0.368, 0.3602),
    ("7/16-20 UNF", 0.4375, 20, 0.390625, 0.3834),
    ("1/2-13 UNC", 0.5, 13, 0.421875, 0.4167),
    ("1/2-20 UNF", 0.5, 20, 0.453125, 0.4459),
    ("5/8-11 UNC", 0.625, 11, 0.53125, 0.5266),
    ("5/8-18 UNF", 0.625, 18, 0.578125, 0.5649),
    ("3/4-10 UNC", 0.75, 10, 0.65625, 0.6417),
    ("3/4-16 UNF", 0.75, 16, 0.6875, 0.6823),
    ("1-8 UNC", 1.0, 8, 0.875, 0.8647),
    ("1-12 UNF", 1.0, 12, 0.921875, 0.9098),
)

UNIFIED: tuple[Tapped, ...] = tuple(
    Tapped(name, major * INCH_MM, INCH_MM / tpi, drill * INCH_MM, minor * INCH_MM)
    for name, major, tpi, drill, minor in _UNIFIED_INCH
)
"""Unified threads, coarse and fine. Source: UNIFIED_SOURCE."""

LARGEST_DRILL_MM = 20.0
"""Where the table of DIN 338 ends; wider holes are bored or milled, to any size."""


@cache
def drill_sizes_mm(*, inch: bool) -> tuple[float, ...]:
    """Diameters of drills that a shop has at hand, ascending, up to 20 mm.

    With `inch` the drills of an inch shop are among them.
    """
    sizes = {round(0.05 * i, 2) for i in range(6, 20)}
    sizes |= {round(0.1 * i, 1) for i in range(10, 131)}
    sizes |= {0.5 * i for i in range(27, 41)}
    sizes |= {t.drill_mm for t in METRIC}
    if inch:
        sizes |= set(INCH_DRILLS.values())
    return tuple(sorted(s for s in sizes if s <= LARGEST_DRILL_MM))


def is_inch_drill(diameter_mm: float) -> bool:
    """Whether a diameter is that of an inch drill, to 0.004 mm."""
    return any(abs(size - diameter_mm) <= 0.004 for size in INCH_DRILLS.values())


def nearest_drill_mm(diameter_mm: float, *, inch: bool) -> float:
    """The nearest size of `drill_sizes_mm`."""
    sizes = drill_sizes_mm(inch=inch)
    place = bisect_left(sizes, diameter_mm)
    beside = sizes[max(place - 1, 0) : place + 1]
    return min(beside, key=lambda size: abs(size - diameter_mm))


def threads_drilled_at(diameter_mm: float, *, inch: bool) -> tuple[Tapped, ...]:
    """Threads for which a hole of this size is drilled, or whose minor diameter it has.

    The file's own system of threads is matched to 0.02 mm on the drill and 0.01 mm on the minor
    diameter; the other system only to 0.004 mm, since a hole of 2.7 mm in a metric file is not
    likely to be meant for #6-32, whose drill is 2.705 mm.
    """
    own, other = (UNIFIED, METRIC) if inch else (METRIC, UNIFIED)
    near = 1e-9
    return tuple(
        t
        for t in own
        if abs(t.drill_mm - diameter_mm) <= 0.02 + near
        or abs(t.minor_mm - diameter_mm) <= 0.01 + near
    ) + tuple(
        t
        for t in other
        if min(abs(t.drill_mm - diameter_mm), abs(t.minor_mm - diameter_mm)) <= 0.004 + near
    )


def thread_named(major_mm: float, pitch_mm: float) -> str:
    """The thread of these sizes ("M8"), or diameter x pitch where the tables have none."""
    for t in METRIC + UNIFIED:
        if (
            abs(t.major_mm - major_mm) <= 0.02 * t.major_mm
            and abs(t.pitch_mm - pitch_mm) <= 0.02 * t.pitch_mm
        ):
            return t.thread
    return f"{major_mm:.4g} x {pitch_mm:.4g}"

"""The shipped catalogue: materials, stock series, allowances. The only place that reads its files.

The data are TOML beside this module; everything else in this layer takes them as values.
"""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from dfmcheck.model.base import Value
from dfmcheck.model.stock import Series, Skin

INCH_MM = 25.4


class Material(Value, frozen=True):
    """A material people order parts in.

    `family` decides which stock series fit. `generic` means that the family is said and the
    alloy is not. `kind` tells whether the text of `source` was seen ("read") or is remembered
    ("memory").
    """

    name: str
    family: str
    aliases: tuple[str, ...]
    density_g_cm3: float
    source: str
    kind: str
    generic: bool = False


class Steps(Value, frozen=True):
    """A figure that grows with size: rows of (up to this size in mm, figure in mm)."""

    rows: tuple[tuple[float, float], ...]
    source: str

    def at(self, size_mm: float) -> float:
        """The figure for a size; beyond the last row that of the last row."""
        return next((v for limit, v in self.rows if size_mm <= limit), self.rows[-1][1])

    def largest_within(self, room_mm: float, least_mm: float = 0.0, times: float = 1.0) -> float:
        """The largest size that fits with `times` its figure (each at least `least_mm`)."""
        rows = (*self.rows[:-1], (float("inf"), self.rows[-1][1]))
        return max(min(limit, room_mm - times * max(v, least_mm)) for limit, v in rows)


class Allowances(Value, frozen=True):
    """What planning adds to a part; units and sources stand in the data file beside each figure.

    `bar_side` and `flat_side` give the metal that must come off each side by skin.
    """

    milled_side: Steps
    milled_top: Steps
    milled_grip: Steps
    plate_skin_extent: Steps
    plate_skin_tolerance_mm: float
    bar_skin_length: float
    bar_front_mm: float
    bar_back_mm: float
    parted_face_mm: float
    bar_capacity_mm: float
    sawn_end_mm: float
    kerf_mm: float
    bar_skin_tolerance_mm: float
    part_off: Steps
    bar_side: tuple[tuple[Skin, Steps], ...]
    flat_side: tuple[tuple[Skin, Steps], ...]
    tube_volume_share: float
    tube_smallest_bore_mm: float
    source: str

    def bar_side_mm(self, skin: Skin, size_mm: float) -> float:
        """Metal turned off each side of a round or hexagon bar of this size."""
        return next((s.at(size_mm) for k, s in self.bar_side if k == skin), 0.0)

    def flat_skin_mm(self, skin: Skin, size_mm: float) -> float:
        """Metal that must come off each side of a flat, square or plate for its skin's sake."""
        return next((s.at(size_mm) for k, s in self.flat_side if k == skin), 0.0)


@cache
def materials() -> tuple[Material, ...]:
    """The shipped materials."""
    rows = _table("materials.toml")["material"]
    return tuple(Material(**{**row, "aliases": tuple(row["aliases"])}) for row in rows)


@cache
def shipped_series() -> tuple[Series, ...]:
    """The shipped series of stock sizes, in mm."""
    return tuple(_series(row) for row in _table("stock.toml")["series"])


@cache
def allowances() -> Allowances:
    """The shipped allowances."""
    t = _table("allowances.toml")
    milled, bar, tube = t["milled"], t["bar"], t["tube"]
    return Allowances(
        milled_side=_steps(milled["side_mm"], milled["side_source"]),
        milled_top=_steps(milled["top_mm"], milled["top_source"]),
        milled_grip=_steps(milled["grip_mm"], milled["grip_source"]),
        plate_skin_extent=_steps(
            t["plate_skin"]["extent_over_thickness"], t["plate_skin"]["source"]
        ),
        bar_skin_length=t["bar_skin"]["length_over_width"],
        plate_skin_tolerance_mm=t["plate_skin"]["size_tolerance_mm"],
        bar_front_mm=bar["front_mm"],
        bar_back_mm=bar["back_mm"],
        parted_face_mm=bar["parted_face_stays_up_to_mm"],
        bar_capacity_mm=bar["capacity_mm"],
        sawn_end_mm=bar["sawn_end_mm"],
        kerf_mm=bar["kerf_mm"],
        bar_skin_tolerance_mm=bar["skin_tolerance_mm"],
        part_off=_steps(bar["part_off_mm"], bar["part_off_source"]),
        bar_side=_by_skin(t["skin"]),
        flat_side=_by_skin(t["flat_skin"]),
        tube_volume_share=tube["volume_share"],
        tube_smallest_bore_mm=tube["smallest_bore_mm"],
        source=f"{milled['side_source']}; {bar['front_source']}",
    )


def _table(name: str) -> dict[str, Any]:
    return tomllib.loads((files("dfmcheck.planning") / "data" / name).read_text("utf-8"))


def _series(row: dict[str, Any]) -> Series:
    k = INCH_MM if row["unit"] == "inch" else 1.0
    pairs: list[tuple[float, float | None]] = [(s, None) for s in row.get("sizes", ())]
    if "pairs" in row:
        pairs = [(a, b) for a, b in row["pairs"]]
    elif row["form"] == "flat":
        pairs = [(w, t) for w in row["widths"] for t in row["thicknesses"] if t < w]
    seen = "" if row["kind"] == "read" else " (from memory)"
    return Series(
        form=row["form"],
        family=row["family"],
        name=row["name"],
        sizes_mm=tuple(round(a * k, 6) for a, _ in pairs),
        second_mm=tuple(round(b * k, 6) for _, b in pairs if b is not None),
        source=row["source"] + seen,
        skin=row["skin"],
        unit=row["unit"],
    )


def _steps(rows: list[list[float]], source: str) -> Steps:
    return Steps(rows=tuple((float(a), float(b)) for a, b in rows), source=source)


def _by_skin(rows: list[dict[str, Any]]) -> tuple[tuple[Skin, Steps], ...]:
    return tuple((skin, _steps(r["per_side_mm"], r["source"])) for r in rows for skin in r["skin"])

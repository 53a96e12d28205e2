"""Stock and process: what the part is cut from and on which kind of machine."""

from typing import Literal

from dfmcheck.model.base import Value, Vec

Process = Literal["turned", "turned-with-milling", "milled", "not-machined"]
StockForm = Literal["round", "hexagon", "square", "flat", "plate", "tube", "block"]


Skin = Literal["drawn", "extruded", "rolled", "milled", "cut"]
"""How the stock's own surface was made: it decides the allowance, and whether it may stay."""


class Series(Value, frozen=True):
    """A series of sizes in which a stock form is sold, in mm, ascending.

    `sizes_mm` are diameters, widths across flats, sides, plate thicknesses; for flats the widths
    and for tubes the outer diameters, each with its thickness or bore in `second_mm`, pair by
    pair. `family` is that of the material ("all" fits every one); `unit` is the one in which the
    sizes are named on an order.

    Raises:
        ValueError: sizes and second sizes do not pair up, or a size is not positive.
    """

    form: StockForm
    family: str
    name: str
    sizes_mm: tuple[float, ...]
    source: str
    second_mm: tuple[float, ...] = ()
    skin: Skin = "cut"
    unit: Literal["mm", "inch"] = "mm"

    def __post_init__(self) -> None:
        """Refuse sizes that do not pair up."""
        super().__post_init__()
        expected = len(self.sizes_mm) if self.form in ("flat", "tube") else 0
        if len(self.second_mm) != expected:
            got = len(self.second_mm)
            msg = f"series {self.name!r}: {self.form} needs {expected} second sizes, not {got}"
            raise ValueError(msg)
        if any(size <= 0.0 for size in self.sizes_mm + self.second_mm):
            msg = f"series {self.name!r} holds a size that is not positive"
            raise ValueError(msg)


class NextSmaller(Value, frozen=True):
    """The next smaller stock and by how much the part misses it.

    `excess_mm` is how much the part would have to lose in `dimension`, allowances and grip counted.
    """

    label: str
    size_mm: float
    excess_mm: float
    dimension: Literal["diameter", "across-flats", "thickness", "width", "length"]


class Stock(Value, frozen=True):
    """The blank of one part.

    `section_mm` is (diameter,), (across flats,), (side,), (outer diameter, bore) or
    (width, thickness), `length_mm` the length cut off a bar (the cut between two pieces counted
    where the lathe makes it), or the block's longest edge. `axis` is the bar's axis, or the
    block's length direction, in the part's own axes. `allowance_mm` is added on each machined
    side of the section (for a plate: of the sawn sides), `grip_mm` for holding; both are counted
    in the sizes.
    `label` reads as on an order: "round 25", "plate 20".
    """

    form: StockForm
    label: str
    section_mm: tuple[float, ...]
    length_mm: float
    axis: Vec
    volume_mm3: float
    removed_mm3: float
    removed_ratio: float
    allowance_mm: float
    grip_mm: float
    skin_kept: bool
    series: str
    source: str
    next_smaller: NextSmaller | None = None


class ProcessChoice(Value, frozen=True):
    """The process and why, in one sentence.

    `axis` is the turning axis where there is one, looking out of the end worked first, and
    `axis_point` a point of it. `setup_directions` name where the cutter comes from.
    """

    process: Process
    reason: str
    axis: Vec | None = None
    setup_directions: tuple[Vec, ...] = ()
    axis_point: Vec | None = None

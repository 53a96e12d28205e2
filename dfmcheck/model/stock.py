"""Stock and process: what the part is cut from and on which kind of machine."""

from typing import Literal

from dfmcheck.model.base import Value, Vec

Process = Literal["turned", "turned-with-milling", "milled", "not-machined"]
StockForm = Literal["round", "hexagon", "square", "flat", "plate", "tube", "block"]


class Series(Value, frozen=True):
    """A series of sizes in which a stock form is sold, in mm, ascending."""

    form: StockForm
    family: str
    name: str
    sizes_mm: tuple[float, ...]
    source: str


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

    `section_mm` is (diameter,), (across flats,) or (width, thickness), `length_mm` the length cut off a bar, or the
    block's longest edge. `axis` is the bar's axis, or the block's length direction, in the part's own axes.
    `allowance_mm` is added on each machined side, `grip_mm` for holding; both are counted in the sizes.
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
    """The process and why, in one sentence. `axis` is the turning axis where there is one."""

    process: Process
    reason: str
    axis: Vec | None = None
    setup_directions: tuple[Vec, ...] = ()

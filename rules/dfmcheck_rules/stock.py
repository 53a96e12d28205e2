"""Rules about the stock that a part is cut from."""

from collections.abc import Iterator

from dfmcheck.api import Limit, Remark, View, rule
from dfmcheck_rules.words import PRACTICE, num, percent


@rule(
    name="stock-rise",
    title="stock grew",
    level="warning",
    looks_at="change",
    limits=(
        Limit(
            name="stock_rise",
            default=5.0,
            unit="%",
            sense="most",
            source=PRACTICE,
            meaning="rise of the volume of the stock of one piece",
        ),
    ),
)
def stock_rise(view: View) -> Iterator[Remark]:
    """Bars and plates come in steps, so half a millimetre more can cost a whole size of stock.

    The next size is paid for by weight and then cut to chips. A larger bar may also no longer
    pass through the spindle of the lathe, which means sawn blanks loaded by hand. The allowance
    for facing and the metal to grip are counted in the size.

    Limit: a rise of 5 % in the volume of the stock (common practice, no source).
    """
    former = view.comparable_former
    before = former.stock if former else None
    after = view.part.stock
    if before is None or after is None:
        return
    for change in view.changes("stock-grew"):
        rise = percent(before.volume_mm3, after.volume_mm3)
        yield Remark(
            message=f"{change.text}: {num(rise)} % more metal to buy",
            cost="more metal by weight, and all of the rise is cut to chips or to length",
            advice="bring the part back below the former size, allowances counted",
            limit="stock_rise",
            measured=rise,
            signature="stock",
        )


@rule(
    name="stock-form-change",
    title="stock changed form",
    level="warning",
    looks_at="change",
)
def stock_form_change(view: View) -> Iterator[Remark]:
    """Another form of stock means another route: other jaws, other cuts, often another machine.

    Round bar is cheap by the metre and fed through a lathe; plate and block are sawn, squared
    and turned over in a vice. A part that leaves the round bar loses the bar feeder. Prices that
    a shop gave for the former form no longer hold.

    No limit: each change of form is named. Common practice, no source.
    """
    for change in view.changes("stock-form"):
        yield Remark(
            message=f"{change.text}: another form of stock",
            cost="another way of holding and cutting the blank",
            advice="check that the former form really no longer does",
            faces=change.faces_after,
        )


@rule(
    name="stock-near-miss",
    title="part just misses a smaller stock",
    level="note",
    looks_at="part",
    limits=(
        Limit(
            name="stock_excess",
            default=1.0,
            unit="mm",
            sense="least",
            source=PRACTICE,
            meaning="by how much a part may exceed the next smaller stock without a remark",
        ),
    ),
)
def stock_near_miss(view: View) -> Iterator[Remark]:
    """A part that misses the next smaller bar or plate by a hair pays for the larger one whole.

    Standard sizes rise in steps of one to ten millimetres. If the part exceeds the smaller one
    by less than a millimetre, with allowances and grip counted, that millimetre may be the
    cheapest saving there is: metal, sawing and the time to cut the difference away. Where the
    bar's own skin may stay, no allowance is needed on it.

    Limit: a miss of less than 1 mm is named (common practice, no source).
    """
    stock = view.part.stock
    if stock is None or stock.next_smaller is None:
        return
    smaller = stock.next_smaller
    yield Remark(
        message=(
            f"{stock.label} is needed for {num(smaller.excess_mm)} mm of {smaller.dimension}; "
            f"the next smaller is {smaller.label}"
        ),
        cost="the larger stock is bought, and the difference cut away",
        advice=f"take {num(smaller.excess_mm)} mm off the {smaller.dimension} if the part allows",
        limit="stock_excess",
        measured=smaller.excess_mm,
        signature=smaller.dimension,
    )


RULES = (stock_rise, stock_form_change, stock_near_miss)

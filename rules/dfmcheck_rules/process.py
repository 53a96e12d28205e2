"""Rules about the machine that makes a part and how often the part is set up on it."""

import re
from collections.abc import Iterator

from dfmcheck.api import Limit, Remark, View, rule
from dfmcheck_rules.words import PRACTICE, num, number, plural

_COST = "each setup is paid once a lot, and each piece is turned over by hand"


@rule(
    name="setups",
    title="number of setups",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="setups",
            default=None,
            unit="setups",
            sense="most",
            source=PRACTICE,
            meaning="how many times a part is clamped to be machined",
        ),
    ),
)
def setups(view: View) -> Iterator[Remark]:
    """Each time a part is turned over in the vice, somebody prepares the vice and tries a piece.

    A setup on a mill takes about 25 minutes (15 to 45) before the first piece, and half a minute
    of handling with each piece. Each turn also loses a few hundredths of a millimetre between the
    features of one side and of the other. At ten pieces a further setup often costs more than the
    metal.

    No limit unless the configuration sets one: `setups` in `[limits]`. The minutes are common
    practice, no source.
    """
    count = len(view.part.process.setup_directions)
    if count:
        yield Remark(
            message=f"{count} {plural('setup', count)} needed",
            cost=_COST,
            advice="let features be reached from the same side, or open them to it",
            limit="setups",
            measured=float(count),
            signature="setups",
        )


@rule(
    name="setups-rise",
    title="more setups are needed",
    level="warning",
    looks_at="change",
    limits=(
        Limit(
            name="setups_rise",
            default=0.0,
            unit="setups",
            sense="most",
            source=PRACTICE,
            meaning="by how many the setups may rise",
        ),
    ),
)
def setups_rise(view: View) -> Iterator[Remark]:
    """A feature on a side that was not machined before costs far more than its own metal.

    The part has to be clamped once more: about 25 minutes (15 to 45) for each lot before the
    first piece, half a minute of handling for each piece, and a new error between the sides.

    Limit: no rise (common practice, no source).
    """
    for change in view.changes("setups-more"):
        before, after = number(change.before), number(change.after)
        if before is None or after is None:
            continue
        yield Remark(
            message=f"setups {num(before)} -> {num(after)}",
            cost=_COST,
            advice="move what needs the new direction to a side that is machined already",
            limit="setups_rise",
            measured=after - before,
            signature="setups",
        )


@rule(
    name="process-change",
    title="another kind of machine is needed",
    level="warning",
    looks_at="change",
)
def process_change(view: View) -> Iterator[Remark]:
    """A plain lathe is the cheapest way to make a part; all that it cannot do costs extra.

    One flat or one cross hole on a turned part asks for a lathe with driven tools, at an hourly
    rate about a third higher, or for a second setup on a mill. A part that can no longer be
    turned at all is milled from a block, most of which becomes chips. Prices and shops chosen for
    the former process may no longer fit. A change to plain turning is a saving and is not
    remarked on.

    No limit: each change of process is named. The rates are common practice, no source.
    """
    before, after = view.former.process if view.former else None, view.part.process
    if before is None or after.process == "turned":
        return
    for change in view.changes("process-changed"):
        yield Remark(
            message=f"{_words(before.process)} -> {_words(after.process)}: {_why(after.reason)}",
            cost="another machine or one more setup, at another rate",
            advice="look for the feature that forces the change, and whether it is worth it",
            faces=change.faces_after,
            signature="process",
        )


def _why(reason: str) -> str:
    """The reason without the name of the process before it and the stop behind it."""
    why = re.sub(r"^(Turned|Milled)( [^:;,]{1,40})?(:|;|, since) ", "", reason)
    return why.removesuffix(".")


def _words(process: str) -> str:
    return process.replace("-", " ")


RULES = (setups, setups_rise, process_change)

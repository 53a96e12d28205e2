"""Rules about completeness: what a shop must know before it can quote."""

from collections import Counter
from collections.abc import Iterator

from dfmcheck.api import Remark, View, rule
from dfmcheck_rules.threads import (
    callout_finds_nothing,
    callout_without_sizes,
    looking_tapped,
    modelled_knurl,
    modelled_thread,
)
from dfmcheck_rules.words import num, plural

_ABOUT_CALLOUTS = (
    (modelled_thread, "modelled thread", "not called out"),
    (modelled_knurl, "modelled knurl", "not called out"),
    (callout_without_sizes, "callout", "without all its sizes"),
    (callout_finds_nothing, "callout", "whose features are not found"),
)
"""Rules that tell each point at length; here the points are counted."""


@rule(
    name="material-missing",
    title="no material is set",
    level="error",
    looks_at="stage",
    piece="material",
)
def material_missing(view: View) -> Iterator[Remark]:
    """Without a material there is no price: one metal costs and cuts ten times as dear as another.

    "Aluminium" is not enough either. The designation says how hard it is and how it takes a
    finish, and the temper belongs to it: EN AW-6082-T6.

    No limit: asked for by the stage "request" through the piece "material".
    """
    entry = view.part.entry
    if entry is None or not entry.material:
        yield Remark(
            message="no material is set",
            cost="a shop cannot quote without it",
            advice=f'set it: [part.{view.part.number}] material = "…"',
            signature="material",
        )


@rule(
    name="finish-missing",
    title="no finish is set",
    level="error",
    looks_at="stage",
    piece="finish",
)
def finish_missing(view: View) -> Iterator[Remark]:
    """A finish is often made by another firm, with a lot price of its own and days of delay.

    It also changes sizes: a hard anodised hole is tighter than it was milled. A part that is to
    stay as it leaves the machine says so as well, so that nobody has to ask.

    No limit: asked for by the stage "request" through the piece "finish".
    """
    entry = view.part.entry
    if entry is None or not entry.finish:
        yield Remark(
            message="no finish is set",
            cost="a shop asks back, or quotes bare metal",
            advice=f'set it: [part.{view.part.number}] finish = ["as-machined"], or another',
            signature="finish",
        )


@rule(
    name="callouts-missing",
    title="callouts are missing or incomplete",
    level="error",
    looks_at="stage",
    piece="callouts",
)
def callouts_missing(view: View) -> Iterator[Remark]:
    """A STEP file carries no threads, fits or tolerances, so they must be said beside it.

    Before a request goes out, each hole that looks tapped, each modelled thread or knurl and each
    callout must be settled: called out in full, or noted to stay as drawn. A thread that was
    forgotten comes back as a plain hole, and the second order is paid in full.

    No limit: asked for by the stage "request" through the piece "callouts".
    """
    part = view.part
    tapped = Counter(
        (num(hole.diameter_mm), " or ".join(t.thread for t in found))
        for hole, found in looking_tapped(part)
    )
    points = [
        (size, count, f"dia {size} {'looks' if count == 1 else 'look'} tapped ({names})")
        for (size, names), count in sorted(tapped.items())
    ]
    for size, count, looks in points:
        yield _point(f"hole {size}", count, f"{count} {plural('hole', count)} {looks}, no callout")
    for about, what, lacking in _ABOUT_CALLOUTS:
        count = sum(1 for _ in about.check(view))
        if count:
            yield _point(f"{what} {lacking}", count, f"{count} {plural(what, count)} {lacking}")


def _point(signature: str, count: int, message: str) -> Remark:
    return Remark(
        message=message,
        cost="the shop asks, or makes it plain",
        advice="write the callout, or a note that it stays as drawn",
        measured=float(count),
        signature=signature,
    )


RULES = (material_missing, finish_missing, callouts_missing)

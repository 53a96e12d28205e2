"""Stages: what must be known before a part is sent out for prices, or ordered."""

from collections.abc import Iterable

from dfmcheck.model.finding import NotChecked
from dfmcheck.model.rule import Rule, View
from dfmcheck.model.settings import Settings, Stage

DEFAULT_PIECES: dict[Stage, tuple[str, ...]] = {
    "request": ("material", "finish", "callouts"),
    "order": (),
}
"""Pieces asked for where the configuration's `[stages]` does not say."""


def _nothing(view: View) -> tuple[()]:
    """Before a shop is asked for a price it must know the material, the finish and the threads.

    A shop that has to ask back answers days later, or guesses and prices the guess. While a part
    is being drawn, what is still missing is summed up in one note; it holds nothing. Run the
    check for the stage "request" to have each missing piece hold.
    """
    del view
    return ()


SUMMARY = Rule(
    name="before-a-request",
    title="what a shop would still have to ask",
    level="note",
    looks_at="part",
    check=_nothing,
    plugin="dfmcheck",
)
"""The note that sums up the stage rules while no stage is asked for; made by the engine."""


def pieces_asked(settings: Settings, stage: Stage) -> tuple[str, ...]:
    """The pieces of a stage, in their order; an order needs those of a request first."""
    configured = dict(settings.policy.stages)
    pieces = configured.get(stage, DEFAULT_PIECES[stage])
    if stage == "order":
        pieces = configured.get("request", DEFAULT_PIECES["request"]) + pieces
    return tuple(dict.fromkeys(pieces))


def pieces_without_rule(
    settings: Settings, stage: Stage, rules: Iterable[Rule], part: str
) -> tuple[NotChecked, ...]:
    """Pieces that the stage asks for and no loaded rule checks: never taken as present."""
    known = {rule.piece for rule in rules}
    return tuple(
        NotChecked(
            rule=piece,
            plugin="dfmcheck",
            part=part,
            reason=f"the stage '{stage}' asks for the piece '{piece}', which no loaded rule checks",
        )
        for piece in pieces_asked(settings, stage)
        if piece not in known
    )

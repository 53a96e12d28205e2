"""The changes of a part, each with what follows from it."""

from dfmcheck.model.change import Change
from dfmcheck.reporting.sanitise import clean
from dfmcheck.reporting.sheet.paper import CHANGED, Paper
from dfmcheck.reporting.sheet.words import count

MOST_CHANGES = 12
"""Changes told at length; further ones are counted, and stand in the JSON report."""

MOST_CONSEQUENCES = 4

_IN_THE_TABLE = ("volume-grew", "volume-shrank", "mass-grew", "mass-shrank")
"""Kinds whose figures stand in the table: what follows from every cut is not told with each."""


def told_changes(changes: tuple[Change, ...]) -> tuple[Change, ...]:
    """The changes that the list tells, and those whose figures are left to the table."""
    told = [c for c in changes if c.kind in _IN_THE_TABLE]
    for cause in _causes(changes)[:MOST_CHANGES]:
        told += [changes[cause], *_consequences(changes, cause)[:MOST_CONSEQUENCES]]
    return tuple(told)


def all_told(changes: tuple[Change, ...]) -> bool:
    """Whether there are changes, and the list tells every one that follows from no other."""
    return 0 < len(_causes(changes)) <= MOST_CHANGES


def set_changes(paper: Paper, changes: tuple[Change, ...]) -> None:
    """The list of changes, largest first, equal ones counted."""
    causes = _causes(changes)
    if not causes:
        return
    paper.blank()
    paper.heading("Changes, largest first", indent=2)
    room = len(str(len(causes))) + 1
    for place, index in enumerate(causes[:MOST_CHANGES], start=1):
        mark = f"{place:>{room - 1}}"
        paper.item(mark, clean(changes[index].text, 400), indent=3, room=room, style=CHANGED)
        follow = _consequences(changes, index)
        for change in follow[:MOST_CONSEQUENCES]:
            paper.item("so:", clean(change.text, 400), indent=3 + room, room=4, style=CHANGED)
        if len(follow) > MOST_CONSEQUENCES:
            more = len(follow) - MOST_CONSEQUENCES
            paper.line(f"    and {more} more that follow from it", indent=3 + room)
    more = len(causes) - MOST_CHANGES
    if more > 0:
        paper.line(
            f"and {count(more, 'smaller change')}, listed in the JSON report", indent=3 + room
        )


def _causes(changes: tuple[Change, ...]) -> list[int]:
    return [i for i, c in enumerate(changes) if c.caused_by is None or c.caused_by == i]


def _consequences(changes: tuple[Change, ...], cause: int) -> list[Change]:
    return [
        c
        for i, c in enumerate(changes)
        if c.caused_by == cause and i != cause and c.kind not in _IN_THE_TABLE
    ]

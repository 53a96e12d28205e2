"""Rules about the part as a whole: is it what it was meant to be."""

from collections.abc import Iterator

from dfmcheck.api import Remark, View, rule


@rule(
    name="solid-not-closed",
    title="solid is not closed",
    level="error",
    looks_at="part",
    makes="any",
)
def solid_not_closed(view: View) -> Iterator[Remark]:
    """A solid with a gap in its skin has no inside: no shop can compute a path or a weight for it.

    Gaps come from faces that were deleted, from surfaces that do not quite meet, or from an
    export with too coarse a tolerance. The shop sends the file back, or mends it and perhaps
    mends it wrongly. All other figures of such a part are doubtful too.

    No limit: a solid is closed or it is not.
    """
    if not view.part.facts.closed:
        yield Remark(
            message="the skin of the solid is not closed",
            cost="the shop sends the file back, or mends it by guess",
            advice="close the gaps in the CAD system and export again",
            signature="open",
        )


@rule(
    name="unit-change",
    title="every length changed by the ratio of two units",
    level="error",
    looks_at="change",
    makes="any",
)
def unit_change(view: View) -> Iterator[Remark]:
    """A part whose lengths all change by a ratio of units was exported in the wrong unit.

    A factor of 25.4 tells of inches taken for millimetres, one of 10 or 1000 of centimetres or
    metres. A shop that quotes the wrong size quotes nonsense, and one that makes it makes scrap.
    If the new size is the right one after all, a permit for this part says so.

    No limit: every such factor is named.
    """
    for change in view.changes("unit-changed"):
        yield Remark(
            message=change.text,
            cost="quoted and made in the wrong size",
            advice="check the unit of the export",
            signature="unit",
        )


@rule(
    name="part-scaled",
    title="every length changed by one factor",
    level="warning",
    looks_at="change",
    makes="any",
)
def part_scaled(view: View) -> Iterator[Remark]:
    """A part that grows or shrinks by one factor keeps its looks and loses all its standard sizes.

    Holes leave the drill series, threads leave their standard, walls and stock change with them.
    A scale is often set by accident, for a render or a print, and saved. If it is meant, holes
    and threads still have to be brought back to their sizes.

    No limit: every such factor is named.
    """
    for change in view.changes("scaled-up", "scaled-down"):
        yield Remark(
            message=change.text,
            cost="no hole, thread or stock has a standard size any more",
            advice="take the scale back, or bring holes and threads back to their sizes",
            signature="scale",
        )


@rule(
    name="mirrored-part",
    title="part is mirrored",
    level="warning",
    looks_at="change",
    makes="any",
)
def mirrored_part(view: View) -> Iterator[Remark]:
    """A mirrored part looks right in every list of sizes and fits nowhere.

    Left and right hand are swapped easily when a part is copied to the other side of an assembly
    and the wrong one is saved. Sizes, mass and price do not show it.

    No limit: it is named whenever the part is the mirror image of what it was.
    """
    for change in view.changes("mirrored"):
        yield Remark(
            message=change.text,
            cost="a left-hand part in place of a right-hand one: scrap",
            advice="check that the other hand is meant; if both are, give them two numbers",
            signature="mirrored",
        )


@rule(
    name="part-vanished",
    title="part is gone",
    level="warning",
    looks_at="change",
    makes="any",
)
def part_vanished(view: View) -> Iterator[Remark]:
    """A part that is no longer in its file is no longer ordered either.

    Most deletions are meant. One that is not, such as a solid that was suppressed before the
    export or a file that was moved outside the folders looked at, shows only when the assembly
    lacks a part.

    No limit: each part that is gone is named once.
    """
    for change in view.changes("part-removed"):
        yield Remark(
            message=change.text,
            cost="nobody orders what is not there",
            advice="if it is meant, take its entry out of dfmcheck.toml as well"
            if view.part.entry is not None
            else "if it is not meant, bring it back; git has it still",
            signature="gone",
        )


@rule(
    name="part-count",
    title="part is in its file more or less often",
    level="warning",
    looks_at="change",
    makes="any",
)
def part_count(view: View) -> Iterator[Remark]:
    """A part that lies in its file twice is quoted twice, or the shop asks which one is meant.

    Doubles come from a copy left in place or from an assembly exported instead of the part.

    No limit: each change of the count is named.
    """
    for change in view.changes("part-doubled", "part-halved", "part-more", "part-fewer"):
        yield Remark(
            message=change.text,
            cost="the wrong number is quoted and made",
            advice="export the part alone, once",
            signature="count",
        )


@rule(
    name="part-replaced",
    title="file holds another part",
    level="warning",
    looks_at="change",
    makes="any",
)
def part_replaced(view: View) -> Iterator[Remark]:
    """A file whose part has nothing in common with the former one mostly holds the wrong part.

    Saving over the wrong name is quickly done. Comparing the two revisions says nothing then, and
    what was quoted or ordered under this number is something else.

    No limit: it is named whenever hardly a face of the former part is found again.
    """
    for change in view.changes("replaced"):
        yield Remark(
            message=change.text,
            cost="quotes and orders under this number are for another part",
            advice="give the new part a number and a file of its own",
            signature="replaced",
        )


RULES = (
    solid_not_closed,
    unit_change,
    part_scaled,
    mirrored_part,
    part_vanished,
    part_count,
    part_replaced,
)

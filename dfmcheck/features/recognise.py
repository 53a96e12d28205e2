"""The pipeline: which recogniser runs when, and the numbering of what they found."""

from collections.abc import Callable, Iterable

from msgspec.structs import replace

from dfmcheck.features import (
    bosses,
    chamfers,
    engraving,
    fillets,
    freeform,
    grooves,
    holes,
    knurls,
    pockets,
    threads,
    turned,
)
from dfmcheck.features.context import Context
from dfmcheck.features.merged import merged
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature

Recogniser = Callable[[Context], Iterable[Feature]]


def recognisers() -> tuple[Recogniser, ...]:
    """The recognisers in their order: small and repeated things first, leftovers last.

    Each sees what the earlier ones found (`context.features`, `context.free`) and returns new
    features named by `context.new_id`. A module `x.py` brings `find_x(context)`.
    """
    return (
        threads.find_threads,
        knurls.find_knurls,
        engraving.find_engraving,
        grooves.find_grooves,
        holes.find_holes,
        turned.find_turned,
        pockets.find_pockets,
        bosses.find_bosses,
        fillets.find_fillets,
        chamfers.find_chamfers,
        freeform.find_freeform,
    )


def recognise(part: PartFacts) -> tuple[Feature, ...]:
    """Recognise the features of a part.

    Args:
        part: the facts of one part.

    Returns:
        Features, kind by kind in the order of their lowest face; no face is in two features.
    """
    whole = merged(part)
    context = Context(whole.part)
    for find in recognisers():
        context.add(find(context))
    return numbered(replace(f, faces=whole.original(f.faces)) for f in context.features)


def numbered(features: Iterable[Feature]) -> tuple[Feature, ...]:
    """Renumber features kind by kind in the order of their lowest face, references included."""
    ordered = sorted(features, key=lambda f: (_kind(f), f.faces))
    names: dict[str, str] = {}
    counts: dict[str, int] = {}
    for f in ordered:
        kind = _kind(f)
        counts[kind] = counts.get(kind, 0) + 1
        names[f.id] = f"{kind}-{counts[kind]}"
    return tuple(
        replace(f, id=names[f.id], of=names.get(f.of) if f.of is not None else None)
        for f in ordered
    )


def _kind(feature: Feature) -> str:
    return str(type(feature).__struct_config__.tag)

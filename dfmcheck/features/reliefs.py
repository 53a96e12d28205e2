"""Seats with a relief groove in their corner: a wider bore parted from the narrower by the groove.

The groove is a feature of its own; hole and counterbore run to the shoulder as if it were not
there.
"""

from dataclasses import replace

from dfmcheck.features.bores import Bore
from dfmcheck.features.context import Context
from dfmcheck.features.pieces import Piece
from dfmcheck.model.feature import Groove
from dfmcheck.model.vector import parallel


def over_relief(context: Context, a: Bore, b: Bore, widest_ratio: float) -> Bore | None:
    """The one bore that two on one axis are, if only a groove between them keeps them apart.

    Args:
        context: the part, with its grooves found.
        a: the bore that ends first along the axis.
        b: the one that begins next.
        widest_ratio: a wider bore than this, against the narrower, is no seat.
    """
    if a.high_end != "open" or b.low_end != "open" or b.low <= a.high:
        return None
    last, first = a.pieces[-1], b.pieces[0]
    if not last.shape == first.shape == "cylinder":
        return None
    narrow_below = last.r_high < first.r_low
    narrow, wide = sorted((last.r_high, first.r_low))
    if context.graph.same_size(narrow, wide) or wide > widest_ratio * narrow:
        return None
    inner, outer = (a.high_faces, b.low_faces) if narrow_below else (b.low_faces, a.high_faces)
    shoulder = _shoulder(context, a, inner, outer)
    if shoulder is None:
        return None
    at = a.high if narrow_below else b.low
    step = Piece("shoulder", shoulder, at, at, last.r_high, first.r_low)
    if narrow_below:
        pieces = [*a.pieces, step, replace(first, low=at), *b.pieces[1:]]
    else:
        pieces = [*a.pieces[:-1], replace(last, high=at), step, *b.pieces]
    return replace(
        a,
        pieces=pieces,
        high_end=b.high_end,
        high_faces=b.high_faces,
        broken=a.broken or b.broken,
        gaps=a.gaps + b.gaps,
    )


def _shoulder(
    context: Context, bore: Bore, inner: tuple[int, ...], outer: tuple[int, ...]
) -> tuple[int, ...] | None:
    """The free faces of the shoulder; None where no one groove lies between it and the seat."""
    grooves = {context.owner.get(f) for f in outer}
    if len(grooves) != 1 or not inner:
        return None
    name = grooves.pop()
    groove = context.feature(name) if name is not None else None
    if not isinstance(groove, Groove) or groove.side != "inside":
        return None
    graph = context.graph
    for f in inner:
        face = graph.faces[f]
        if face.surface != "plane" or not parallel(face.normal, bore.axis.direction):
            return None
        beyond = graph.neighbours(f, "concave", "tangent")
        if f not in groove.faces and not beyond & set(groove.faces):
            return None
    return tuple(sorted(f for f in inner if context.free(f)))

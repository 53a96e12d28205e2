"""Features that were only trimmed: nothing of theirs moved, something beside them came or went."""

from collections.abc import Iterable

from dfmcheck.comparing.kinds import KINDS
from dfmcheck.comparing.raw import Raw, Sides


def link_trimmed(shapes: list[Raw], sides: Sides) -> None:
    """Set `cause` of uncaused changes of features all of whose faces lie where they lay.

    Such a feature is longer, shorter or read as another kind because a neighbour was trimmed:
    an edge was rounded, a slot was cut beside it. The neighbour's change is the cause, if it is
    told; a change with a neighbour that no other change tells stands for itself.
    """
    matches = sides.alignment.matches
    moved_before = {i for i, _ in matches.moved} | set(matches.gone)
    moved_after = {j for _, j in matches.moved} | set(matches.new)
    near_before = {f.index: f.neighbours for f in sides.alignment.before}
    near_after = {f.index: f.neighbours for f in sides.alignment.after}

    def trimmed(r: Raw) -> bool:
        return KINDS[r.kind].about == "feature" and not (
            moved_before.intersection(r.faces_before) or moved_after.intersection(r.faces_after)
        )

    open_ones = [r for r in shapes if r.cause is None]
    roots = [r for r in open_ones if not trimmed(r)]
    for r in open_ones:
        if not trimmed(r):
            continue
        beside_before = _beside(r.faces_before, near_before) & moved_before
        beside_after = _beside(r.faces_after, near_after) & moved_after
        found = [
            c
            for c in roots
            if beside_before.intersection(c.faces_before)
            or beside_after.intersection(c.faces_after)
        ]
        told_before = {i for c in found for i in c.faces_before}
        told_after = {j for c in found for j in c.faces_after}
        if beside_before <= told_before and beside_after <= told_after:
            nearest = found or (roots if len(roots) == 1 else [])
            r.cause = max(nearest, key=lambda c: c.effect_mm3) if nearest else None


def _beside(faces: Iterable[int], near: dict[int, frozenset[int]]) -> set[int]:
    return {n for i in faces for n in near[i]}

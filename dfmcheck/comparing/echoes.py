"""Changes of features that are none, or that another change tells already."""

from dfmcheck.comparing.align import Alignment
from dfmcheck.comparing.faces import POINT_MM
from dfmcheck.comparing.geometry import around
from dfmcheck.comparing.raw import Raw, Sides, Value
from dfmcheck.comparing.sizes import MOVED_MM
from dfmcheck.model.base import Vec
from dfmcheck.model.callouts import kind_of
from dfmcheck.model.feature import Fillet
from dfmcheck.model.vector import distance

_FOLLOWS = ("counterbore", "countersink", "fillet", "chamfer")


class Untouched:
    """Tells changes of features whose every face is as it was: only the reading differs."""

    def __init__(self, alignment: Alignment) -> None:
        """Take the faces that are unchanged, and those that kept their outline."""
        self._strict = alignment.matches.unchanged
        before, after = _pierced(alignment)
        self._loose = (self._strict[0] | before, self._strict[1] | after)

    def __call__(self, r: Raw) -> bool:
        """True where the change is none.

        For sizes and places, and for what came or went, it is enough that faces keep their
        outline: a hole drilled into the wall of a pocket makes the pocket no wider.
        """
        if not r.faces_before and not r.faces_after:
            return False
        loose = r.delta != 0.0 or r.shift is not None or r.first is None or r.second is None
        before, after = self._loose if loose else self._strict
        return before.issuperset(r.faces_before) and after.issuperset(r.faces_after)


def _pierced(alignment: Alignment) -> tuple[set[int], set[int]]:
    """Faces before and after that lie on one carrier within one outline, of different area."""
    at_before = {f.index: f for f in alignment.before}
    at_after = {f.index: f for f in alignment.after}
    before: set[int] = set()
    after: set[int] = set()
    for g in alignment.matches.groups:
        low, high = around([at_before[i] for i in g.before])
        other_low, other_high = around([at_after[j] for j in g.after])
        if distance(low, other_low) <= POINT_MM and distance(high, other_high) <= POINT_MM:
            before.update(g.before)
            after.update(g.after)
    return before, after


def without_echoes(raws: list[Raw], sides: Sides) -> list[Raw]:
    """Drop what says a second time what the feature it belongs to says already."""
    radii: dict[tuple[str, str], set[tuple[Value, Value]]] = {}
    moved: dict[str, Vec] = {}
    for r in raws:
        if r.second is None or isinstance(r.second, Fillet):
            continue
        if r.kind.split("-")[0] in ("corner", "floor"):
            said = (_rounded(r.before), _rounded(r.after))
            radii.setdefault((r.second.id, r.kind), set()).add(said)
        if r.shift is not None:
            moved[r.second.id] = r.shift
    turned = {r.second.id for r in raws if r.second is not None and r.kind.endswith("-turned")}

    def echo(r: Raw) -> bool:
        f = r.second
        if f is None or f.of is None or kind_of(f) not in _FOLLOWS:
            return False
        if r.shift is not None and f.of in moved and distance(r.shift, moved[f.of]) < MOVED_MM:
            return True
        if r.kind.endswith("-turned") and f.of in turned:
            return True
        return (_rounded(r.before), _rounded(r.after)) in radii.get((f.of, r.kind), set())

    kept = [r for r in raws if not echo(r)]
    return _without_new_radii(kept, sides)


def _rounded(v: Value) -> Value:
    return round(v, 2) if isinstance(v, float) else v


def _without_new_radii(raws: list[Raw], sides: Sides) -> list[Raw]:
    """A corner rounded (sharp before) is one change: the fillet it got is not told again."""
    before = {f.id: f for f in sides.before.features}
    after = {f.id: f for f in sides.after.features}
    eased = {r.second.id for r in raws if r.kind == "corner-eased" and r.second is not None}
    eased |= {r.second.id for r in raws if r.kind == "floor-eased" and r.second is not None}
    tight = {r.first.id for r in raws if r.kind == "corner-tightened" and r.first is not None}
    tight |= {r.first.id for r in raws if r.kind == "floor-tightened" and r.first is not None}

    def told(r: Raw) -> bool:
        if r.kind == "fillet-added" and isinstance(r.second, Fillet):
            return r.second.of in eased and r.second.of in after
        if r.kind == "fillet-removed" and isinstance(r.first, Fillet):
            return r.first.of in tight and r.first.of in before
        return False

    return [r for r in raws if not told(r)]

"""From single changes to the list that is reported: grouped, ordered, worded."""

from collections import defaultdict
from typing import Any

import msgspec

from dfmcheck.comparing.geometry import IDENTITY
from dfmcheck.comparing.kinds import KINDS, inverse
from dfmcheck.comparing.raw import Raw, Sides, Value
from dfmcheck.comparing.sizes import carried_feature
from dfmcheck.comparing.words import described, text_of
from dfmcheck.model.base import Vec
from dfmcheck.model.callouts import kind_of
from dfmcheck.model.change import Change
from dfmcheck.model.feature import Feature

_WEIGHTS = {
    "unit-changed": 1000.0, "scaled-up": 900.0, "scaled-down": 900.0, "mirrored": 800.0,
    "replaced": 700.0, "unit-declared": 600.0, "solid-opened": 550.0, "solid-closed": 550.0,
    "part-doubled": 500.0, "part-halved": 500.0, "part-more": 500.0, "part-fewer": 500.0,
    "make-changed": 40.0, "material-changed": 30.0, "process-changed": 20.0, "setups-more": 15.0,
    "setups-fewer": 15.0, "stock-form": 10.0, "finish-changed": 5.0, "callout-added": 3.0,
    "callout-removed": 3.0, "callout-changed": 3.0, "tolerance-changed": 3.0,
    "quantities-changed": 0.3, "target-cost-changed": 0.2, "letter-changed": 0.1,
    "number-changed": 0.1, "name-changed": 0.05,
}  # fmt: skip
"""Weights of changes that no volume of metal measures; a change of shape weighs 1 to 2."""


def grouped(raws: list[Raw]) -> list[Raw]:
    """Equal changes of several features as one, with the others as members."""
    keys = {id(r): _key(r) for r in raws}
    groups: dict[tuple[Any, ...], list[Raw]] = defaultdict(list)
    for r in raws:
        cause = None if r.cause is None else keys[id(r.cause)]
        groups[(*keys[id(r)], cause)].append(r)
    result: list[Raw] = []
    stands_for: dict[int, Raw] = {}
    for members in groups.values():
        one = members[0] if len(members) == 1 else _together(members)
        result.append(one)
        stands_for.update((id(m), one) for m in members)
    for r in result:
        if r.cause is not None:
            r.cause = stands_for[id(r.cause)]
    return result


def _key(r: Raw) -> tuple[Any, ...]:
    feature = r.second or r.first
    if r.kind == "face-moved":
        return (r.kind, _rounded(r.after))
    if feature is None:
        return (r.kind, id(r))
    values: tuple[Any, ...] = (_rounded(r.before), _rounded(r.after))
    if r.shift is not None:
        values = tuple(round(x, 1) + 0.0 for x in r.shift)
    whole = described(feature) if r.first is None or r.second is None else ""
    return (r.kind, kind_of(feature), values, whole)


def _rounded(v: Value) -> Value:
    return round(v, 2) if isinstance(v, float) else v


def _together(members: list[Raw]) -> Raw:
    first = members[0]
    return Raw(
        kind=first.kind,
        before=first.before,
        after=first.after,
        first=first.first,
        second=first.second,
        features_before=tuple(i for m in members for i in m.features_before),
        features_after=tuple(i for m in members for i in m.features_after),
        faces_before=tuple(sorted(i for m in members for i in m.faces_before)),
        faces_after=tuple(sorted(i for m in members for i in m.faces_after)),
        effect_mm3=sum(m.effect_mm3 for m in members),
        delta=first.delta,
        direction=first.direction,
        shift=first.shift,
        what=first.what,
        derived=first.derived,
        turned=first.turned,
        cause=first.cause,
        members=members,
    )


def ordered(raws: list[Raw], sides: Sides) -> list[Raw]:
    """Largest effect first, each followed by the changes it caused."""
    metal = max(sides.before.facts.volume_mm3, sides.after.facts.volume_mm3, 1e-9)

    def key(r: Raw) -> tuple[Any, ...]:
        return (-weight(r, metal), r.kind if r.kind <= inverse(r.kind) else inverse(r.kind),
                sorted((_sortable(r.before), _sortable(r.after))),
                sorted((r.faces_before, r.faces_after)))  # fmt: skip

    followers: dict[int, list[Raw]] = defaultdict(list)
    for r in raws:
        if r.cause is not None:
            followers[id(r.cause)].append(r)
    result: list[Raw] = []
    for root in sorted((r for r in raws if r.cause is None), key=key):
        result += [root, *sorted(followers[id(root)], key=key)]
    return result


def _sortable(v: Value) -> str:
    return f"{v:020.6f}" if isinstance(v, float) else str(v)


def weight(r: Raw, metal_mm3: float) -> float:
    """What orders changes: fixed for some kinds, else 1 plus the share of metal concerned."""
    fixed = _WEIGHTS.get(r.kind)
    if fixed is not None:
        return fixed
    share = min(1.0, r.effect_mm3 / metal_mm3)
    return round(share if r.derived else 1.0 + share, 6)


def inverted_raw(r: Raw, factor: float) -> Raw:
    """The same change seen from the other revision.

    Args:
        r: the change, its lengths in the size of the second revision.
        factor: second revision's size over the first's; lengths come back in the first's size.
    """
    before, after = r.after, r.before
    if r.kind == "face-moved" and isinstance(r.after, float):
        before, after = 0.0, -r.after
    elif r.kind == "mirrored" or r.kind.endswith("-turned"):
        before, after = r.before, r.after
    elif r.kind in ("unit-changed", "scaled-up", "scaled-down") and isinstance(r.after, float):
        before, after = 1.0, 1.0 / r.after
    power = {"mm": 1, "mm2": 2, "mm3": 3}.get(KINDS[r.kind].unit, 0)
    back = factor**-power
    shift: Vec | None = None
    if r.shift is not None:
        x, y, z = (-v / factor + 0.0 for v in r.shift)
        shift = (x, y, z)
    return Raw(
        kind=inverse(r.kind),
        before=before * back if isinstance(before, float) else before,
        after=after * back if isinstance(after, float) else after,
        first=_resized(r.second, 1.0 / factor),
        second=_resized(r.first, 1.0 / factor),
        features_before=r.features_after,
        features_after=r.features_before,
        faces_before=r.faces_after,
        faces_after=r.faces_before,
        effect_mm3=r.effect_mm3,
        shift=shift,
        what=r.what,
        derived=r.derived,
        turned=r.turned,
        members=[inverted_raw(m, factor) for m in r.members],
    )


def _resized(f: Feature | None, factor: float) -> Feature | None:
    if f is None or factor == 1.0:
        return f
    sized = carried_feature(f, IDENTITY, factor)
    return msgspec.structs.replace(sized, place=f.place)


def as_changes(raws: list[Raw], sides: Sides) -> tuple[Change, ...]:
    """The values that are reported; `raws` are in their final order."""
    metal = max(sides.before.facts.volume_mm3, sides.after.facts.volume_mm3, 1e-9)
    places = {id(r): n for n, r in enumerate(raws)}
    return tuple(
        Change(
            kind=r.kind,
            text=text_of(r, sides),
            what=r.what or KINDS[r.kind].quantity,
            unit=KINDS[r.kind].unit,
            before=_tidy(r.before, KINDS[r.kind].unit),
            after=_tidy(r.after, KINDS[r.kind].unit),
            feature_before=r.features_before[0] if r.features_before else None,
            feature_after=r.features_after[0] if r.features_after else None,
            faces_before=r.faces_before,
            faces_after=r.faces_after,
            weight=weight(r, metal),
            caused_by=None if r.cause is None else places[id(r.cause)],
            count=r.count,
            features_before=r.features_before,
            features_after=r.features_after,
        )
        for r in raws
    )


def _tidy(v: Value, unit: str) -> Value:
    """Lengths and angles to four decimals, everything else to nine digits."""
    if not isinstance(v, float):
        return v
    return (round(v, 4) if unit in ("mm", "deg") else float(f"{v:.9g}")) + 0.0

"""The comparison of two revisions of one part."""

from typing import Any

import msgspec

from dfmcheck.comparing.align import align
from dfmcheck.comparing.body import body_changes
from dfmcheck.comparing.causes import link_causes
from dfmcheck.comparing.changes import as_changes, grouped, inverted_raw, ordered
from dfmcheck.comparing.entries import entry_changes
from dfmcheck.comparing.feature_changes import feature_changes, place
from dfmcheck.comparing.features import match_features
from dfmcheck.comparing.geometry import carry, inverted
from dfmcheck.comparing.raw import Raw, Sides
from dfmcheck.comparing.whole import derived_changes, first_changes
from dfmcheck.model.change import Comparison, Motion
from dfmcheck.model.part import Part


def compare(before: Part, after: Part) -> Comparison:
    """Compare two revisions of a part: shape, stock, process and the configuration's entry.

    The work is always done in one order of the two revisions, given by their content, and turned
    round where need be: so compare(after, before) mirrors compare(before, after) exactly.

    Returns:
        The motion (and hand) that carries `before` onto `after`, the matched faces and features,
        and the changes, largest effect first, each followed by those it caused. Where every
        length changed by a factor, values of both sides are given in the size of `after`; both
        places of a feature that moved are given in the coordinates of `after`.
    """
    swapped = _order(before) > _order(after)
    first, second = (after, before) if swapped else (before, after)
    sides = _matched(first, second)
    same_shape = _same_shape(sides)
    raws = _raws(sides, same_shape=same_shape)
    alignment = sides.alignment
    faces, features = alignment.matches.pairs, sides.features.ids
    motion, scale = alignment.motion, alignment.factor
    if swapped:
        turned = {id(r): inverted_raw(r, scale) for r in raws}
        for r in raws:
            if r.cause is not None:
                turned[id(r)].cause = turned[id(r.cause)]
        raws = [turned[id(r)] for r in raws]
        faces = tuple(sorted((j, i) for i, j in faces))
        features = tuple(sorted((j, i) for i, j in features))
        motion, scale = inverted(motion, scale), 1.0 / scale
        sides = Sides(before=before, after=after, alignment=alignment, features=sides.features)
    _in_one_frame(raws, motion, scale)
    return Comparison(
        same_shape=same_shape,
        motion=motion,
        changes=as_changes(raws, sides),
        faces=faces,
        features=features,
        scale=scale,
    )


def _in_one_frame(raws: list[Raw], motion: Motion, scale: float) -> None:
    """Both places of what moved in the coordinates of the later revision: they differ by it."""
    for r in raws:
        if r.shift is not None and r.first is not None and r.second is not None:
            r.before = place(carry(motion, r.first.place, scale))
            r.after = place(r.second.place)


def _order(part: Part) -> tuple[Any, ...]:
    """A total order of parts by content; equal only for parts that compare alike."""
    f = part.facts
    return (
        round(f.volume_mm3, 6),
        round(f.area_mm2, 6),
        f.fingerprint,
        f.centroid,
        f.box_low_mm,
        tuple(face.centroid for face in f.faces),
        part.unit,
        f.count,
        msgspec.json.encode((part.entry, part.process, part.stock)),
        tuple(x.id for x in part.features),
    )


def _matched(before: Part, after: Part) -> Sides:
    alignment = align(before.facts, after.facts)
    features = match_features(before.features, after.features, alignment)
    return Sides(before=before, after=after, alignment=alignment, features=features)


WRITTEN_RATIO = 1e-4
"""Volumes of one shape written by two systems, perhaps as splines, differ by less than this."""


def _same_shape(sides: Sides) -> bool:
    """True for a re-export: every face has its equal, and so have volume and area."""
    alignment = sides.alignment
    if alignment.factor != 1.0 or alignment.motion.mirrored or not alignment.matches.complete:
        return False
    x, y = sides.before.facts, sides.after.facts
    faces = max(len(x.faces), len(y.faces))
    return (
        abs(x.volume_mm3 - y.volume_mm3) <= WRITTEN_RATIO * max(x.volume_mm3, y.volume_mm3)
        and abs(x.area_mm2 - y.area_mm2) <= 1e-4 * max(x.area_mm2, y.area_mm2) + 1e-3 * faces
        and x.closed == y.closed
    )


def _raws(sides: Sides, *, same_shape: bool) -> list[Raw]:
    raws = first_changes(sides)
    if not same_shape:
        raws += [*body_changes(sides), *feature_changes(sides)]
    raws += derived_changes(sides, same_shape=same_shape)
    raws += entry_changes(sides.before, sides.after)
    if not same_shape and not raws:
        raws.append(_unnamed(sides))
    link_causes(raws, sides)
    return ordered(grouped(raws), sides)


def _unnamed(sides: Sides) -> Raw:
    """The shapes differ and no feature tells how: never silent."""
    matches = sides.alignment.matches
    raw = Raw(kind="shape-changed")
    raw.before, raw.after = float(len(matches.gone)), float(len(matches.new))
    other = [g for g in matches.groups if not g.same]
    ours = [*matches.gone, *(i for i, _ in matches.moved), *(i for g in other for i in g.before)]
    theirs = [*matches.new, *(j for _, j in matches.moved), *(j for g in other for j in g.after)]
    raw.faces_before, raw.faces_after = tuple(sorted(ours)), tuple(sorted(theirs))
    return raw

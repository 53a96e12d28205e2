"""From which directions a milled part must be worked: a least cover of its faces (first form)."""

from collections.abc import Iterable, Sequence

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face, PartFacts
from dfmcheck.model.feature import Feature, Hole, Thread
from dfmcheck.model.vector import dot, parallel

BEHIND = -0.02
"""A face whose normal leads further against the cutter's direction than this is not reached."""

SAME_DEG = 0.5
"""Directions closer than this are one setup."""

MOST = 24
"""Candidate directions that are tried, the box's own six among them."""


def milling_directions(part: PartFacts, features: tuple[Feature, ...]) -> tuple[Vec, ...]:
    """Directions that together reach every feature and every free face.

    Each names where the cutter comes from. The first reaches most; the second turns the part
    over, to face off what held it. Visibility past other features is not looked at here.
    """
    frame = part.frame
    box = [d for axis in (frame.z, frame.y, frame.x) for d in (axis, flipped(axis))]
    candidates = _candidates(box, features)
    owned = {f for feature in features for f in feature.faces}
    items = [_feature_reach(part, feature, candidates) for feature in features]
    items += [_face_reach(f, candidates) for f in part.faces if f.index not in owned]
    left = [reach for reach in items if reach]
    first = _best(left, len(candidates))
    chosen = [first, _opposite(candidates, first)]
    left = [reach for reach in left if reach.isdisjoint(chosen)]
    while left:
        chosen.append(_best(left, len(candidates)))
        left = [reach for reach in left if chosen[-1] not in reach]
    return tuple(candidates[k] for k in chosen)


def _best(left: Sequence[frozenset[int]], candidates: int) -> int:
    """The direction that reaches most of what is left, the first of equals."""
    return max(range(candidates), key=lambda k: (sum(1 for reach in left if k in reach), -k))


def flipped(v: Vec) -> Vec:
    """The opposite direction, without negative zeros."""
    return (0.0 - v[0], 0.0 - v[1], 0.0 - v[2])


def _candidates(box: list[Vec], features: Iterable[Feature]) -> list[Vec]:
    found = list(box)
    for f in features:
        for d in (f.direction, flipped(f.direction)):
            known = any(dot(d, c) > 0.0 and parallel(d, c, SAME_DEG) for c in found)
            if not known and len(found) < MOST:
                found.append(d)
    return found


def _opposite(candidates: Sequence[Vec], k: int) -> int:
    return min(range(len(candidates)), key=lambda i: dot(candidates[i], candidates[k]))


def _feature_reach(part: PartFacts, feature: Feature, candidates: Sequence[Vec]) -> frozenset[int]:
    """Candidates from which every face of a feature can be worked."""
    if isinstance(feature, Hole | Thread):
        through = isinstance(feature, Hole) and feature.through and feature.form == "plain"
        return frozenset(
            k
            for k, d in enumerate(candidates)
            if parallel(d, feature.direction, SAME_DEG)
            and (through or dot(d, feature.direction) > 0.0)
        )
    faces = [part.faces[i] for i in feature.faces]
    reach = [_face_reach(f, candidates) for f in faces]
    common = frozenset(range(len(candidates))).intersection(*reach) if reach else frozenset()
    if common:
        return common
    return frozenset(k for k, d in enumerate(candidates) if dot(d, feature.direction) > 1.0 - 1e-4)


def _face_reach(face: Face, candidates: Sequence[Vec]) -> frozenset[int]:
    """Candidates from which a face can be worked by the end or the side of a cutter."""
    if face.surface in ("cylinder", "cone") and face.axis is not None and face.bend == "inside":
        axis = face.axis
        across = [k for k, d in enumerate(candidates) if abs(dot(d, axis)) < 0.02]
        along = [k for k, d in enumerate(candidates) if parallel(d, axis, SAME_DEG)]
        if (face.span_deg or 360.0) > 181.0:
            across = []
        reached = along + [k for k in across if dot(face.normal, candidates[k]) > 0.0]
        if face.surface == "cone":
            reached = [k for k in reached if _cone_opens(face, candidates[k])]
        return frozenset(reached)
    return frozenset(k for k, d in enumerate(candidates) if dot(face.normal, d) >= BEHIND)


def _cone_opens(face: Face, direction: Vec) -> bool:
    """True where the cone widens towards the cutter, or the cutter comes from the side."""
    if face.radii_mm is None or face.axis is None:
        return True
    wider = face.radii_mm[1] - face.radii_mm[0]
    return wider * dot(face.axis, direction) >= -1e-9

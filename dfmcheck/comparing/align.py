"""How one revision lies in the coordinates of the other: factor, motion, hand.

Identity first, and left only for a clear gain in what matches that leaves no end of the box
behind: where the outside stays and a feature moves, it is the feature that moved, however many
faces it has. Unit mistakes are tried where the sizes suggest one.
"""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from dfmcheck.comparing.extents import BOX_MM, Boxes
from dfmcheck.comparing.faces import FaceMatches, match_faces
from dfmcheck.comparing.geometry import IDENTITY, Placed, placed_faces
from dfmcheck.comparing.motions import angle_of, candidate_motions, fitted_motion
from dfmcheck.model.base import Vec
from dfmcheck.model.change import Motion
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.vector import add, norm

UNIT_FACTORS = (25.4, 10.0, 1000.0, 100.0, 2.54, 304.8, 12.0, 39.37007874015748, 1000.0 / 304.8)
"""Factors between inch, foot, millimetre, centimetre and metre: the marks of a unit mistake."""

CLEAR_GAIN = 0.05
"""Share of the parts that must match more before identity is left for a motion."""
MIRROR_GAIN = 0.2
"""Share that must match more before a part is called mirrored."""
SCALE_GAIN = 0.2
"""Share that must match more before a part is called scaled."""
BOX_CREDIT = 0.35
"""Share that may match less where both ends of an edge of the box stay instead."""
_ENOUGH = 0.9


@dataclass(frozen=True)
class Alignment:
    """Factor and motion that carry the first revision onto the second, and what then matches.

    `before` are the faces of the first revision after factor and motion, `after` those of the
    second; `factor` is 1 unless every length changed by it; `unit_mistake` tells whether it is
    the ratio of two units.
    """

    motion: Motion
    factor: float
    unit_mistake: bool
    before: tuple[Placed, ...]
    after: tuple[Placed, ...]
    matches: FaceMatches


def align(before: PartFacts, after: PartFacts) -> Alignment:
    """Lay the first revision over the second."""
    placed = placed_faces(after, rough=True)
    best = _aligned(before, after, placed, 1.0, unit_mistake=False)
    if best.matches.score <= _ENOUGH:
        for factor, unit_mistake in _factors(before, after):
            trial = _aligned(before, after, placed, factor, unit_mistake=unit_mistake)
            if trial.matches.score > best.matches.score + SCALE_GAIN:
                best = trial
    return _finished(best, before, after)


def _finished(a: Alignment, before: PartFacts, after: PartFacts) -> Alignment:
    """The same with true boxes of faces, moved faces matched as well."""
    ours, theirs = placed_faces(before, a.motion, a.factor), placed_faces(after)
    return Alignment(
        motion=a.motion,
        factor=a.factor,
        unit_mistake=a.unit_mistake,
        before=ours,
        after=theirs,
        matches=match_faces(ours, theirs),
    )


def _factors(before: PartFacts, after: PartFacts) -> list[tuple[float, bool]]:
    """Factors worth trying: unit ratios near the ratio of sizes, then that ratio itself."""
    if min(before.volume_mm3, after.volume_mm3, before.area_mm2, after.area_mm2) <= 0.0:
        return []
    by_volume = (after.volume_mm3 / before.volume_mm3) ** (1.0 / 3.0)
    by_area = math.sqrt(after.area_mm2 / before.area_mm2)
    result: list[tuple[float, bool]] = []
    for f in (*UNIT_FACTORS, *(1.0 / f for f in UNIT_FACTORS)):
        nearness = abs(math.log(by_area / f)) + abs(math.log(by_volume / f))
        if nearness < 0.5:
            result.append((f, True))
    uniform = abs(by_volume - by_area) < 1e-4 * by_area and abs(by_area - 1.0) > 1e-3
    if uniform and not any(abs(by_area / f - 1.0) < 1e-4 for f, _ in result):
        result.append((by_area, False))
    return result


def _aligned(
    before: PartFacts,
    after: PartFacts,
    placed: tuple[Placed, ...],
    factor: float,
    *,
    unit_mistake: bool,
) -> Alignment:
    own = placed_faces(before, scale=factor, rough=True)
    matches = match_faces(own, placed, moved=False)
    best = Alignment(
        motion=IDENTITY, factor=factor, unit_mistake=unit_mistake, before=own, after=placed,
        matches=matches,
    )  # fmt: skip
    image_possible = _same_sizes(own, placed)
    if matches.complete or (matches.score >= _ENOUGH and not image_possible):
        return best
    trials: list[Alignment] = []
    for motion in candidate_motions(own, placed, (before.frame, after.frame)):
        trial = _trial(before, placed, factor, unit_mistake, motion)
        trials.append(trial)
        enough = trial.matches.complete or (trial.matches.score >= _ENOUGH and not image_possible)
        if enough and not motion.mirrored:
            break
    boxes = Boxes(before, after)
    trials += _boxed(trials, before, boxes)
    return _refined(_choose(best, trials, boxes), before)


def _boxed(trials: Sequence[Alignment], before: PartFacts, boxes: Boxes) -> list[Alignment]:
    """The best trial of either hand, shifted to where the ends of the box meet."""
    found: list[Alignment] = []
    for hand in (False, True):
        same = [t for t in trials if t.motion.mirrored == hand]
        best = min(same, key=_preference, default=None)
        if best is None or best.matches.complete:
            continue
        d = boxes.shift(best.motion, best.factor)
        if norm(d) > BOX_MM:
            shift = add(best.motion.shift_mm, d)
            motion = Motion(rows=best.motion.rows, shift_mm=shift, mirrored=hand)
            found.append(_trial(before, best.after, best.factor, best.unit_mistake, motion))
    return found


def _refined(a: Alignment, before: PartFacts) -> Alignment:
    """The motion of least squares through the centroids of the faces that match exactly."""
    if a.motion.is_identity or len(a.matches.exact) < 4:
        return a
    own = {f.index: f for f in placed_faces(before, scale=a.factor, rough=True)}
    theirs = {f.index: f for f in a.after}
    motion = fitted_motion(
        [(own[i].centre, theirs[j].centre) for i, j in a.matches.exact],
        mirrored=a.motion.mirrored,
    )
    if motion is None:
        return a
    trial = _trial(before, a.after, a.factor, a.unit_mistake, motion)
    return trial if trial.matches.score >= a.matches.score else a


def _same_sizes(before: Sequence[Placed], after: Sequence[Placed]) -> bool:
    """True where both parts have the same faces by size, wherever they lie."""
    if len(before) != len(after):
        return False
    ours = Counter((f.kind, f.bend, f"{f.area:.3g}", round(f.radius, 2)) for f in before)
    theirs = Counter((f.kind, f.bend, f"{f.area:.3g}", round(f.radius, 2)) for f in after)
    return (ours - theirs).total() <= 0.02 * len(before)


def _trial(
    before: PartFacts,
    placed: tuple[Placed, ...],
    factor: float,
    unit_mistake: bool,
    motion: Motion,
) -> Alignment:
    motion = _tidy(motion)
    carried = placed_faces(before, motion, factor, rough=True)
    return Alignment(
        motion=motion, factor=factor, unit_mistake=unit_mistake, before=carried, after=placed,
        matches=match_faces(carried, placed, moved=False),
    )  # fmt: skip


def _tidy(motion: Motion) -> Motion:
    """Rows and shift without the last digits of noise."""

    def clean(x: float, step: float) -> float:
        near = round(x)
        return float(near) + 0.0 if abs(x - near) < step else x

    rows = tuple(tuple(clean(x, 1e-9) for x in r) for r in motion.rows)
    shift = tuple(clean(x, 1e-7) for x in motion.shift_mm)
    return Motion(rows=_three(rows), shift_mm=_vec(shift), mirrored=motion.mirrored)


def _three(rows: tuple[tuple[float, ...], ...]) -> tuple[Vec, Vec, Vec]:
    return (_vec(rows[0]), _vec(rows[1]), _vec(rows[2]))


def _vec(v: tuple[float, ...]) -> Vec:
    return (v[0], v[1], v[2])


def _choose(identity: Alignment, trials: Sequence[Alignment], boxes: Boxes) -> Alignment:
    """Identity unless a motion gains clearly or explains all; mirrored only for a large gain.

    A complete mirror image is taken where no motion is complete, unless all that differs lies in
    one place: then that place changed.
    """

    def kept(t: Alignment) -> int:
        return boxes.kept(t.motion, t.factor)

    best, ends = identity, kept(identity)
    rigid = _first([t for t in trials if not t.motion.mirrored], kept)
    if rigid is not None and (
        rigid.matches.complete
        or (
            rigid.matches.score > identity.matches.score + CLEAR_GAIN
            and kept(rigid) >= ends + (angle_of(rigid.motion.rows) < 1e-6)
        )
    ):
        best, ends = rigid, kept(rigid)
    mirrored = _first([t for t in trials if t.motion.mirrored], kept)
    if mirrored is not None and not best.matches.complete:
        gain = mirrored.matches.score - best.matches.score
        if mirrored.matches.complete:
            return best if gain <= MIRROR_GAIN and _differs_in_one_place(identity) else mirrored
        if gain > MIRROR_GAIN and kept(mirrored) >= ends:
            return mirrored
    return best


def _first(trials: Sequence[Alignment], kept: Callable[[Alignment], int]) -> Alignment | None:
    """The preferred trial; one that keeps two more ends of the box may match less."""
    ranked = sorted(trials, key=_preference)
    if not ranked or ranked[0].matches.complete:
        return ranked[0] if ranked else None
    least = ranked[0].matches.score - BOX_CREDIT
    worth = [(t, kept(t)) for t in ranked if t.matches.score >= least]
    most = max(n for _, n in worth)
    if most < worth[0][1] + 2:
        return ranked[0]
    return next(t for t, n in worth if n == most)


def _differs_in_one_place(a: Alignment) -> bool:
    """True where the faces without an equal hang together and are the lesser part: a moved hole.

    A part that lies elsewhere in its file has no face in common with itself: that is no place.
    """
    left = set(a.matches.gone)
    if not left or len(left) > 0.5 * len(a.before):
        return False
    todo = [left.pop()]
    while todo:
        near = a.before[todo.pop()].neighbours & left
        left -= near
        todo.extend(near)
    return not left


def _preference(t: Alignment) -> tuple[float, float, float, tuple[Vec, Vec, Vec], Vec]:
    """Most matched first, then the least motion, then a fixed order."""
    return (
        -round(t.matches.score, 4),
        round(angle_of(t.motion.rows), 4),
        round(norm(t.motion.shift_mm), 2),
        t.motion.rows,
        t.motion.shift_mm,
    )

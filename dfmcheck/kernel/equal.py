"""Parts that are equal: the same shape, moved or not, under the same name."""

import math
from itertools import permutations, product

import msgspec
import numpy as np
from numpy.typing import NDArray

from dfmcheck.kernel.bodies import base_name
from dfmcheck.model.facts import PartFacts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_BLOCK = 256

RATIO = 1e-6
"""Volumes and areas of equal parts differ by less than this."""

PLACE_MM = 0.01
"""Faces and edges of equal parts lie in the same place within this."""


def equal_counted(parts: list[PartFacts]) -> tuple[PartFacts, ...]:
    """The parts with equal ones counted together, in order of their first.

    Equal are parts of the same shape, not mirrored, whose names differ at most in the number of
    an instance: two part numbers stay two parts even while they are alike.
    """
    found: list[PartFacts] = []
    for part in parts:
        for i, known in enumerate(found):
            if base_name(known.name) == base_name(part.name) and same_shape(known, part):
                found[i] = msgspec.structs.replace(
                    known, name=base_name(known.name), count=known.count + part.count
                )
                break
        else:
            found.append(part)
    return tuple(found)


def same_shape(one: PartFacts, other: PartFacts) -> bool:
    """True where a rigid motion, without mirroring, carries one part onto the other."""
    if one.fingerprint != other.fingerprint or one.doubts or other.doubts:
        return False
    for a, b in ((one.volume_mm3, other.volume_mm3), (one.area_mm2, other.area_mm2)):
        if abs(a - b) > RATIO * max(a, b):
            return False
    here, there = _marks(one), _marks(other)
    labels = [f.fingerprint for f in one.faces], [f.fingerprint for f in other.faces]
    return any(
        _agree(here @ turn, there, labels) for turn in [*_TURNS, *_spins(here, there, labels)]
    )


def _spins(here: Floats, there: Floats, labels: tuple[list[str], list[str]]) -> list[Floats]:
    """Turns about the longest axis, either way up, that carry a rare face beside it onto another.

    The other axes of the canonical frame of a turned part may be those of any of its cross
    holes.
    """
    off = np.linalg.norm(here[: len(labels[0]), 1:], axis=1) > 10.0 * PLACE_MM
    beside = [i for i in range(len(labels[0])) if off[i]]
    if not beside:
        return []
    rare = min(beside, key=lambda i: (labels[0].count(labels[0][i]), labels[0][i]))
    angle = math.atan2(here[rare, 2], here[rare, 1])
    found = []
    for j, label in enumerate(labels[1]):
        if label == labels[0][rare]:
            to = math.atan2(there[j, 2], there[j, 1])
            # upside down, about the second axis, the angle changes its sign
            found += [_about_x(to - angle), np.diag([-1.0, 1.0, -1.0]) @ _about_x(to + angle)]
    return found


def _about_x(angle: float) -> Floats:
    """Turns rows of coordinates about the first axis."""
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[1.0, 0.0, 0.0], [0.0, c, s], [0.0, -s, c]])


def _turns() -> list[Floats]:
    """The 24 rotations that carry the axes onto each other."""
    found = []
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            turn = np.zeros((3, 3))
            turn[range(3), order] = signs
            if np.linalg.det(turn) > 0.0:
                found.append(turn)
    return found


_TURNS = _turns()


def _marks(part: PartFacts) -> Floats:
    """Centroids of the faces and then middles of the edges, in the canonical frame."""
    frame = np.array((part.frame.x, part.frame.y, part.frame.z)).T
    places = [f.centroid for f in part.faces] + [e.middle for e in part.edges]
    marks: Floats = (np.array(places) - np.array(part.centroid)) @ frame
    return marks


def _agree(here: Floats, there: Floats, labels: tuple[list[str], list[str]]) -> bool:
    """True where each mark has one of the same kind in its place."""
    if len(here) != len(there):
        return False
    faces = len(labels[0])
    kinds = {name: k for k, name in enumerate(sorted(set(labels[0]) | set(labels[1])))}
    a = np.array([kinds[x] for x in labels[0]])
    b = np.array([kinds[x] for x in labels[1]])
    if not _all_met(here[:faces], there[:faces], a, b):
        return False
    alike = np.zeros(len(here) - faces, dtype=np.int64)
    return _all_met(here[faces:], there[faces:], alike, alike)


def _all_met(here: Floats, there: Floats, a: Ints, b: Ints) -> bool:
    """True where each place has one of its kind beside it, looked for in blocks of rows."""
    for start in range(0, len(here), _BLOCK):
        rows = slice(start, start + _BLOCK)
        near = np.linalg.norm(here[rows, None] - there[None], axis=2) < PLACE_MM
        if not (near & (a[rows, None] == b[None])).any(axis=1).all():
            return False
    return True

"""Which part of a file before is which part after: by shape and name."""

import math
from collections import Counter

from dfmcheck.model.part import Part

_ENOUGH = 0.3
"""Likeness of shape (0 to 1) from which parts of different names are taken for one part."""


def pair_parts(
    before: tuple[Part, ...], after: tuple[Part, ...]
) -> tuple[tuple[Part | None, Part | None], ...]:
    """Pair the parts of two revisions of one file.

    Equal shapes of one name first, then one name, then like shapes; a file of a single part
    always keeps its part. Equal parts of one revision are counted in their facts, not listed.

    Returns:
        Pairs in the order of `after` (None before: added), then those removed (None after).
    """
    if len(before) == 1 and len(after) == 1:
        return ((before[0], after[0]),)
    ranked = sorted(
        (_rank(a, b, i, j), i, j)
        for i, a in enumerate(before)
        for j, b in enumerate(after)
        if _may_be_one(a, b)
    )
    partner_of_after: dict[int, int] = {}
    taken: set[int] = set()
    for _, i, j in ranked:
        if i not in taken and j not in partner_of_after:
            taken.add(i)
            partner_of_after[j] = i
    left = [i for i in range(len(before)) if i not in taken]
    open_after = [j for j in range(len(after)) if j not in partner_of_after]
    if len(left) == len(open_after) == 1 and len(before) == len(after):
        partner_of_after[open_after[0]] = left[0]
        left = []
    found: list[tuple[Part | None, Part | None]] = [
        (before[partner_of_after[j]] if j in partner_of_after else None, b)
        for j, b in enumerate(after)
    ]
    return (*found, *((before[i], None) for i in left))


def _name(part: Part) -> str:
    return " ".join(part.facts.name.split()).casefold()


def _may_be_one(a: Part, b: Part) -> bool:
    return _name(a) == _name(b) or likeness(a, b) >= _ENOUGH


def _rank(a: Part, b: Part, i: int, j: int) -> tuple[float, int, int, int]:
    """Best pair first; ties by the distance of places in the file, the same both ways round."""
    same_shape = a.facts.fingerprint == b.facts.fingerprint
    worth = 2.0 * same_shape + 1.5 * (_name(a) == _name(b)) + likeness(a, b)
    worth += 0.2 * (a.facts.count == b.facts.count)
    return (-round(worth, 6), abs(i - j), min(i, j), max(i, j))


def likeness(a: Part, b: Part) -> float:
    """Likeness of two shapes, 0 to 1: shared faces by size, and what no scale changes."""
    if a.facts.fingerprint == b.facts.fingerprint:
        return 1.0
    ours, theirs = _sizes(a), _sizes(b)
    shared = (ours & theirs).total()
    faces = shared / max(ours.total(), theirs.total(), 1)
    x, y = _compactness(a), _compactness(b)
    scaled = abs(x - y) < 1e-4 * max(x, y) and len(a.facts.faces) == len(b.facts.faces)
    return max(faces, 0.9 if scaled else 0.0, 0.5 * _box_likeness(a, b) * (0.2 + faces))


def _sizes(part: Part) -> Counter[tuple[str, str, float]]:
    return Counter((f.surface, f.bend, float(f"{f.area_mm2:.4g}")) for f in part.facts.faces)


def _compactness(part: Part) -> float:
    """Volume over area to the power of 3/2: the same at every scale."""
    area = max(part.facts.area_mm2, 1e-12)
    return part.facts.volume_mm3 / (area * math.sqrt(area))


def _box_likeness(a: Part, b: Part) -> float:
    """Product of the ratios of the edges of both boxes, smaller over larger."""
    result = 1.0
    sizes = zip(sorted(a.facts.frame.size_mm), sorted(b.facts.frame.size_mm), strict=True)
    for x, y in sizes:
        result *= min(x, y) / max(x, y, 1e-12)
    return result

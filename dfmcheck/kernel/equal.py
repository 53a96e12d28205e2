"""Parts that are equal: the same shape, moved or not, under the same name."""

import msgspec

from dfmcheck.kernel.bodies import base_name
from dfmcheck.kernel.faces import handedness
from dfmcheck.model.facts import PartFacts

RATIO = 1e-6
"""Volumes and areas of equal parts differ by less than this."""


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
    """True where a rigid motion carries one part onto the other."""
    if one.fingerprint != other.fingerprint or one.doubts or other.doubts:
        return False
    for a, b in ((one.volume_mm3, other.volume_mm3), (one.area_mm2, other.area_mm2)):
        if abs(a - b) > RATIO * max(a, b):
            return False
    for a, b in zip(one.principal_mm5, other.principal_mm5, strict=True):
        if abs(a - b) > 100.0 * RATIO * max(one.principal_mm5):
            return False
    a, b = handedness(one.faces, one.centroid), handedness(other.faces, other.centroid)
    return abs(a - b) <= 1e-4 * max(abs(a), abs(b)) + 1e-9 * one.volume_mm3

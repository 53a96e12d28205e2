"""Rules about turned parts."""

import math
from collections.abc import Iterator
from itertools import pairwise

from dfmcheck.api import Face, Limit, Part, Remark, Vec, View, rule
from dfmcheck_rules.words import num

Profile = tuple[tuple[float, float], ...]
"""Points (z, radius) in mm in their order along a turning axis; a shoulder has two at one z."""


@rule(
    name="slender-turned-part",
    title="turned part long for its diameter",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="turned_length_ratio",
            default=10.0,
            unit="x diameter",
            sense="most",
            source="turning textbooks: a steady or a sliding head from about 10 diameters on "
            "(from memory; 8 to 12 are quoted)",
            meaning="length of a turned part, or of a thin length of it, in its diameters",
        ),
    ),
)
def slender_turned_part(view: View) -> Iterator[Remark]:
    """A thin shaft bends away from the tool, so that it comes out thicker in the middle.

    Up to about four diameters a part is turned held at one end. Longer ones are supported by a
    centre in the far end, which needs a centre hole there. From about ten diameters on the lathe
    needs a steady that follows the tool, or a sliding head that feeds the bar through a bush
    close to it: fewer shops have it, and it takes time to set. The whole part counts, and so does
    a long thin neck or end of an otherwise stout part.

    Limit: 10 diameters. Source: turning textbooks, from memory; 8 to 12 are quoted.
    """
    profile = outline(view.part)
    if len(profile) < 2:
        return
    whole_mm = profile[-1][0] - profile[0][0]
    widest_mm = 2.0 * max(radius for _, radius in profile)
    found = [(whole_mm / widest_mm, whole_mm, widest_mm), *_thin_lengths(profile)]
    ratio, length, diameter = max(found)
    whole = length >= whole_mm - 1e-6
    what = "turned part" if whole else "thin length of a turned part"
    yield Remark(
        message=f"{what} dia {num(diameter)} x {num(length)} long is {num(ratio)} times as long "
        "as thick",
        cost="it bends away from the tool: a steady, a sliding head, or light cuts",
        advice="make it shorter or thicker, or make the long thin piece of bought ground bar",
        limit="turned_length_ratio",
        measured=ratio,
        signature="slender",
    )


def outline(part: Part) -> Profile:
    """The outer profile of a turned part; () for others.

    It is the one that was measured, else that of the outer faces about the turning axis. Where
    no such face lies, the radius counts as that of the whole part.
    """
    process, turning = part.process, part.facts.turning
    if process.process not in ("turned", "turned-with-milling"):
        return ()
    if turning is not None:
        measured = turning.outer
        if measured and measured[0][0] > measured[-1][0]:
            return tuple(reversed(measured))
        return measured
    if process.axis is None or process.axis_point is None:
        return ()
    return _stacked(_outer_faces(part.facts.faces, process.axis, process.axis_point))


_Piece = tuple[float, float, float, float]
"""z and radius at the lower end, z and radius at the upper end; mm."""


def _outer_faces(faces: tuple[Face, ...], axis: Vec, point: Vec) -> list[_Piece]:
    pieces = []
    for face in faces:
        if face.bend != "outside" or face.axis is None or face.axis_point is None:
            continue
        if face.along_mm is None or face.surface not in ("cylinder", "cone"):
            continue
        turned = _dot(face.axis, axis)
        offset = tuple(a - b for a, b in zip(face.axis_point, point, strict=True))
        z = _dot(offset, axis)
        apart = math.sqrt(sum((o - z * a) ** 2 for o, a in zip(offset, axis, strict=True)))
        if abs(turned) < 0.9999 or apart > 0.01:
            continue
        radii = face.radii_mm or (face.radius_mm or 0.0, face.radius_mm or 0.0)
        ends = sorted((z + turned * a, r) for a, r in zip(face.along_mm, radii, strict=True))
        pieces.append((*ends[0], *ends[1]))
    return pieces


def _stacked(pieces: list[_Piece]) -> Profile:
    """The outermost of the pieces all along the axis."""
    if not pieces:
        return ()
    widest = max(max(r0, r1) for _, r0, _, r1 in pieces)
    cuts = sorted({round(z, 6) for z0, _, z1, _ in pieces for z in (z0, z1)})
    profile: list[tuple[float, float]] = []
    for low, high in pairwise(cuts):
        if high - low < 1e-4:
            continue
        here = [
            (_radius(piece, low), _radius(piece, high))
            for piece in pieces
            if piece[0] <= low + 1e-4 and piece[2] >= high - 1e-4
        ]
        profile += [
            (low, max((r for r, _ in here), default=widest)),
            (high, max((r for _, r in here), default=widest)),
        ]
    return tuple(profile)


def _radius(piece: _Piece, z: float) -> float:
    z0, r0, z1, r1 = piece
    return r0 + (r1 - r0) * min(max((z - z0) / (z1 - z0), 0.0), 1.0) if z1 > z0 else max(r0, r1)


def _dot(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    return sum(x * y for x, y in zip(a, b, strict=True))


def _thin_lengths(profile: Profile) -> list[tuple[float, float, float]]:
    """Ratio, length and diameter of each run of the profile that stays within a radius.

    Each radius of the profile is tried, with 5 % to spare so that a slight taper counts as one
    length; runs are measured along the axis.
    """
    radii = sorted({round(radius, 3) for _, radius in profile if radius > 1e-3})
    found = []
    for radius in radii[:200]:
        length = _longest_within(profile, 1.05 * radius)
        if length > 0.0:
            found.append((length / (2.0 * radius), length, 2.0 * radius))
    return found


def _longest_within(profile: Profile, bound: float) -> float:
    """The longest stretch along the axis over which the polyline's radius stays within a bound."""
    longest = current = 0.0
    for (z0, r0), (z1, r1) in pairwise(profile):
        within = _share_within(r0, r1, bound)
        span = z1 - z0
        if within >= 1.0:
            current += span
        else:
            # the part of this piece next to its thin end joins the run on that side
            head = within * span if r0 <= bound else 0.0
            tail = within * span if r1 <= bound else 0.0
            longest = max(longest, current + head)
            current = tail
        longest = max(longest, current)
    return longest


def _share_within(r0: float, r1: float, bound: float) -> float:
    low, high = min(r0, r1), max(r0, r1)
    if high <= bound:
        return 1.0
    if low > bound:
        return 0.0
    return (bound - low) / (high - low)


RULES = (slender_turned_part,)

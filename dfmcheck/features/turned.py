"""What turning makes of a part: faces about the main axis, diameters, shoulders, spigots."""

from collections.abc import Iterable
from dataclasses import dataclass

from dfmcheck.features.axial import Axial, Ring, main_axis
from dfmcheck.features.context import Context
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Boss, Feature
from dfmcheck.model.vector import add, scale

ROUND_SHARE = 0.5
"""Least share of the outside that is round about the axis of a turned part."""

SAME_MM = 1e-3


@dataclass(frozen=True)
class Section:
    """One turned diameter: a cylinder about the main axis, its limits from the view's origin."""

    diameter_mm: float
    z_mm: tuple[float, float]
    faces: tuple[int, ...]


def turned_view(part: PartFacts, known: Iterable[Feature] = ()) -> Axial | None:
    """The part about its turning axis, or None where its outside is not round enough."""
    view = main_axis(part, known)
    return view if view is not None and view.round_share >= ROUND_SHARE else None


def sections(view: Axial, owned: Iterable[int] = ()) -> tuple[Section, ...]:
    """The outside cylinders about the axis in their order along it, split faces merged.

    Grooves, threads and other features whose faces are `owned` do not part a diameter.
    """
    taken = set(owned)
    bounds = [r.z_mm for r in view.rings if r.outside and r.index not in taken]
    bounds += [(s.z_mm, s.z_mm) for s in view.shoulders if s.index not in taken]
    rings = [
        r
        for r in view.rings
        if r.outside and r.index not in taken and view.part.faces[r.index].surface == "cylinder"
    ]
    found: list[Section] = []
    for ring in sorted(rings, key=lambda r: (r.z_mm, r.index)):
        last = found[-1] if found else None
        if last is not None and _continues(last, ring, bounds):
            z = (min(last.z_mm[0], ring.z_mm[0]), max(last.z_mm[1], ring.z_mm[1]))
            found[-1] = Section(last.diameter_mm, z, tuple(sorted({*last.faces, ring.index})))
        else:
            found.append(Section(2.0 * ring.r_mm[0], ring.z_mm, (ring.index,)))
    return tuple(found)


def _continues(section: Section, ring: Ring, bounds: list[tuple[float, float]]) -> bool:
    """Same diameter, and nothing free between them but what a feature took out."""
    if abs(section.diameter_mm - 2.0 * ring.r_mm[0]) >= SAME_MM:
        return False
    low, high = section.z_mm[1] + SAME_MM, ring.z_mm[0] - SAME_MM
    return low >= high or not any(a >= low and b <= high for a, b in bounds)


def _overtopped(view: Axial, section: Section) -> bool:
    """The bottom between teeth or splines: round metal stands out beyond it all along."""
    low, high = section.z_mm
    radius = section.diameter_mm / 2.0 + SAME_MM
    return any(
        r.outside
        and min(r.r_mm) > radius
        and min(r.z_mm[1], high) - max(r.z_mm[0], low) > 0.5 * (high - low)
        for r in view.rings
    )


def find_turned(context: Context) -> list[Feature]:
    """Spigots and journals of a turned part: every outside diameter but the largest, as a boss.

    Each takes its cylinder and the shoulder that ends it towards the free end.
    """
    view = turned_view(context.part, context.features)
    if view is None:
        return []
    found: list[Feature] = []
    largest = 2.0 * view.radius_mm
    middle = sum(view.z_mm) / 2.0
    for s in sections(view, context.owner):
        if s.diameter_mm > largest - SAME_MM or not all(context.free(f) for f in s.faces):
            continue
        if _overtopped(view, s):
            continue
        up = sum(s.z_mm) / 2.0 > middle
        end = s.z_mm[1] if up else s.z_mm[0]
        faces = set(s.faces) | {
            h.index
            for h in view.shoulders
            if h.up == up
            and abs(h.z_mm - end) < SAME_MM
            and h.r_mm[1] <= s.diameter_mm / 2.0 + SAME_MM
            and context.free(h.index)
        }
        found.append(
            Boss(
                id=context.new_id("boss"),
                faces=tuple(sorted(faces)),
                place=add(view.origin, scale(view.axis, end)),
                direction=view.axis if up else scale(view.axis, -1.0),
                height_mm=s.z_mm[1] - s.z_mm[0],
                length_mm=s.diameter_mm,
                width_mm=s.diameter_mm,
                diameter_mm=s.diameter_mm,
            )
        )
    return found

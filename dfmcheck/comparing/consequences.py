"""What follows from changes of shape: metal, mass, walls, stock, process and setups.

Each is claimed for a change only where that change explains it; otherwise it stands alone.
"""

from collections.abc import Iterable, Sequence

from dfmcheck.comparing.geometry import inverted, turn
from dfmcheck.comparing.kinds import KINDS
from dfmcheck.comparing.metal import added_mm3
from dfmcheck.comparing.raw import Raw, Sides
from dfmcheck.model.base import Vec
from dfmcheck.model.feature import Feature
from dfmcheck.model.part import Part
from dfmcheck.model.vector import dot, parallel
from dfmcheck.planning.reach import SAME_DEG, Reach

_SAME_TILT = 0.02
_RADII = ("corner-", "floor-", "round-", "fillet-", "chamfer-")


def link_derived(raws: list[Raw], shapes: list[Raw], sides: Sides) -> None:
    """Set `cause` of derived changes; `shapes` are the others of shape, their causes known."""
    roots = sorted((r for r in shapes if r.cause is None), key=lambda r: -r.effect_mm3)
    first = [r for r in raws if KINDS[r.kind].about == "whole" and r.kind != "unit-declared"]
    if first:
        for r in raws:
            if r.derived:
                r.cause = first[0]
        return
    material = [r for r in raws if r.kind == "material-changed"]
    process = _process_causes(raws, shapes, roots, sides)
    for r in raws:
        if not r.derived:
            continue
        about = KINDS[r.kind].about
        if r.kind.startswith(("volume-", "mass-")):
            r.cause = _of_metal(r, roots, material)
        elif r.kind.startswith("wall-"):
            r.cause = next((c for c in roots if _holds(c, r)), None) or _only(roots)
        elif about == "process":
            r.cause = process
        elif about == "stock":
            r.cause = _of_stock(shapes, roots, material, process)
    _below_process(raws)


def _only(roots: Sequence[Raw]) -> Raw | None:
    """The one change of shape there is: all that follows, follows from it."""
    return roots[0] if len(roots) == 1 else None


def _root(r: Raw) -> Raw:
    return r if r.cause is None else r.cause


def _of_metal(r: Raw, roots: Sequence[Raw], material: Sequence[Raw]) -> Raw | None:
    """The change that gave or took most metal, the same way as the whole did."""
    if r.kind.startswith("mass-") and material:
        return material[0]
    grew = r.kind.endswith("-grew")
    worth = [(added_mm3(c) * (1.0 if grew else -1.0), c) for c in roots]
    most = max(worth, key=lambda w: w[0], default=None)
    if most is not None and most[0] > 0.0:
        return most[1]
    # where no size tells how much metal a change is worth, the largest of those stands for it
    unknown = [c for value, c in worth if value == 0.0]
    return _only(roots) or (unknown[0] if unknown else None)


def _holds(c: Raw, wall: Raw) -> bool:
    """True where a change concerns a face of the thinnest wall, before or after."""
    return bool(
        set(c.faces_after).intersection(wall.faces_after)
        or set(c.faces_before).intersection(wall.faces_before)
    )


def _of_stock(
    shapes: Sequence[Raw], roots: Sequence[Raw], material: Sequence[Raw], process: Raw | None
) -> Raw | None:
    """Stock follows the box, the process, the material; or what alone changed."""
    boxes = sorted((r for r in shapes if r.kind.startswith("box-")), key=lambda r: -r.effect_mm3)
    if boxes:
        return _root(boxes[0])
    if process is not None:
        return process
    if material:
        return material[0]
    return _only(roots)


def _process_causes(
    raws: Sequence[Raw], shapes: Sequence[Raw], roots: Sequence[Raw], sides: Sides
) -> Raw | None:
    """What brought or spared a direction of work, or another process."""
    if not any(KINDS[r.kind].about == "process" for r in raws):
        return None
    able = [c for c in shapes if not c.kind.startswith(_RADII)]
    found = [c for c in able if KINDS[c.kind].about == "feature" and _turns(c, sides)]
    if found:
        return _root(max(found, key=lambda c: c.effect_mm3))
    only = _only(roots)
    return only if only in able else None


def _below_process(raws: Sequence[Raw]) -> None:
    """Setups that nothing else explains follow from a process that changed."""
    process = next((r for r in raws if r.kind == "process-changed" and r.cause is None), None)
    for r in raws:
        if process is not None and r.cause is None and r.kind.startswith("setups-"):
            r.cause = process


def _turns(c: Raw, sides: Sides) -> bool:
    """True where features of a change need a direction from which the other side is not worked."""
    motion = sides.alignment.motion
    before, after = sides.before, sides.after
    carried = [turn(motion, d) for d in before.process.setup_directions]
    still = inverted(motion)
    back = [turn(still, d) for d in after.process.setup_directions]
    fewer = len(carried) > len(back)
    more = len(back) > len(carried)
    return (not fewer and _needs(after, c.features_after, carried)) or (
        not more and _needs(before, c.features_before, back)
    )


def _needs(part: Part, names: Iterable[str], known: Sequence[Vec]) -> bool:
    """True where a feature is worked from a direction that is not among the known ones."""
    axis = part.process.axis
    fresh = [d for d in part.process.setup_directions if not _among(d, known, axis)]
    if not fresh:
        return False
    wanted = set(names)
    return any(_needs_one(part, f, fresh, known) for f in part.features if f.id in wanted)


def _needs_one(part: Part, f: Feature, fresh: Sequence[Vec], known: Sequence[Vec]) -> bool:
    axis = part.process.axis
    if axis is not None:
        return _among(f.direction, fresh, axis) and not _among(f.direction, known, axis)
    features = part.features
    return bool(Reach(part.facts, fresh, features).of_feature(f)) and not (
        known and Reach(part.facts, known, features).of_feature(f)
    )


def _among(d: Vec, known: Sequence[Vec], axis: Vec | None) -> bool:
    """True where a direction is one of the known, or is indexed into one about the axis."""
    if axis is not None:
        return any(abs(dot(d, axis) - dot(k, axis)) < _SAME_TILT for k in known)
    return any(dot(d, k) > 0.0 and parallel(d, k, SAME_DEG) for k in known)

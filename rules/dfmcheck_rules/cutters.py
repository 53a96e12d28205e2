"""Which cutter makes a hollow: an end mill, a disc, a broach; and how thick it may be."""

from dfmcheck.api import Face, Feature, Fillet, Groove, Part, Pocket, Slot, Step, Vec

SOCKET_MM = 36.0
"""Widest hexagon socket that keys are made for, across flats (ISO 2936; from memory)."""

DISC_DEPTH_MM = 50.0
"""How deep saws and disc cutters of up to 160 mm reach beside their arbor (from memory)."""

DISC_RATIO = 25.0
"""A saw thinner than its depth by more than this wanders (common practice, no source)."""

_WALL = 0.05
"""Faces whose normals lie this near to square to the cutter's direction are walls."""

_OPPOSED = -0.9
"""Plane walls between which a cutter passes look at each other (cosine of their normals)."""

Hollow = Pocket | Slot | Step


def is_socket(feature: Feature) -> bool:
    """A hexagon socket for a key: broached, so that its corners need no cutter."""
    if not isinstance(feature, Pocket) or feature.outline != "hexagonal":
        return False
    regular = abs(feature.width_mm / feature.length_mm - 0.75**0.5) < 0.01
    return regular and not feature.corner_radius_mm and feature.width_mm <= SOCKET_MM


def cutter_mm(hollow: Hollow, part: Part) -> float | None:
    """Diameter of the largest end mill that makes the hollow; None where nothing bounds it.

    V-slots and undercuts have cutters of their own. The end mill passes the narrowest place
    between the walls, islands counted, and fits the corners.
    """
    undercut = isinstance(hollow, Slot) and hollow.profile in ("tee", "dovetail", "triangular")
    if undercut or is_socket(hollow):
        return None
    if isinstance(hollow, Slot) and is_cut_by_disc(hollow, part):
        return None
    bounds = [] if isinstance(hollow, Step) else [narrowest_mm(hollow, part)]
    if hollow.corner_radius_mm:
        bounds.append(2.0 * hollow.corner_radius_mm)
    return min(bounds, default=None)


def narrowest_mm(hollow: Pocket | Slot, part: Part) -> float:
    """The narrowest free width between the walls of a hollow, and of what stands in it, in mm."""
    faces = part.facts.faces
    rounds = {
        i
        for f in part.features
        if isinstance(f, Fillet) and f.side == "inside"
        for i in f.faces
    }  # fmt: skip
    found = hollow.width_mm
    for i in hollow.faces:
        wall = faces[i]
        if wall.gap_mm is None or wall.gap_face is None or wall.gap_face in rounds:
            continue
        if not _is_wall(wall, hollow.direction) or not _opposed(wall, faces[wall.gap_face]):
            continue
        if wall.gap_mm < 0.98 * found:
            found = wall.gap_mm
    return found


def needed_mm(feature: Feature, part: Part) -> float | None:
    """Diameter of the end mill that a feature needs at most; None where it needs none."""
    if isinstance(feature, (Pocket, Slot, Step)):
        return cutter_mm(feature, part)
    if isinstance(feature, Groove):
        milled = feature.side == "face" and part.process.process == "milled"
        return feature.width_mm if milled else None
    if isinstance(feature, Fillet) and feature.side == "inside" and feature.role == "corner":
        return 2.0 * feature.radius_mm
    return None


def is_cut_by_disc(slot: Slot, part: Part) -> bool:
    """Whether a saw or a disc cutter makes a slot: it runs in at one end and out at the other.

    The slot is open at both ends, with a plain floor, and nothing stands in the plane of the
    disc before or behind it. Boxes of faces are looked at, so that it is rather taken for an
    obstacle than overlooked.
    """
    if not slot.through or slot.profile != "rectangular" or slot.floor_radius_mm:
        return False
    if slot.depth_mm > min(DISC_DEPTH_MM, DISC_RATIO * slot.width_mm):
        return False
    faces, up = part.facts.faces, slot.direction
    walls = [faces[i] for i in slot.faces if _is_wall(faces[i], up)]
    if len(walls) < 2 or any(w.surface != "plane" for w in walls):
        return False
    across = walls[0].normal
    if any(abs(_dot(w.normal, across)) < -_OPPOSED for w in walls):
        return False
    along = _cross(up, across)
    across_mm, along_mm, up_mm = (_extent(walls, d, part) for d in (across, along, up))
    run_out = 0.25 * slot.width_mm
    for face in faces:
        if face.index in slot.faces:
            continue
        side, ends, height = (_extent([face], d, part) for d in (across, along, up))
        beside = side[1] < across_mm[0] + 1e-3 or side[0] > across_mm[1] - 1e-3
        below = height[1] < up_mm[0] + 1e-3
        within = ends[0] > along_mm[0] - run_out and ends[1] < along_mm[1] + run_out
        if not (beside or below or within):
            return False
    return True


def _is_wall(face: Face, direction: Vec) -> bool:
    if face.surface == "plane":
        return abs(_dot(face.normal, direction)) < _WALL
    return face.axis is not None and abs(_dot(face.axis, direction)) > 1.0 - _WALL


def _opposed(one: Face, other: Face) -> bool:
    if one.surface != "plane" or other.surface != "plane":
        return True
    return _dot(one.normal, other.normal) < _OPPOSED


def _extent(faces: list[Face], direction: Vec, part: Part) -> tuple[float, float]:
    """How far the boxes of faces reach along a direction, in mm."""
    frame = part.facts.frame
    parts = [_dot(direction, axis) for axis in (frame.x, frame.y, frame.z)]
    lows, highs = [], []
    for face in faces:
        ends = [
            sorted((p * low, p * high))
            for p, low, high in zip(parts, face.low_mm, face.high_mm, strict=True)
        ]
        lows.append(sum(e[0] for e in ends))
        highs.append(sum(e[1] for e in ends))
    return min(lows), max(highs)


def _dot(a: Vec, b: Vec) -> float:
    return sum(x * y for x, y in zip(a, b, strict=True))


def _cross(a: Vec, b: Vec) -> Vec:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])

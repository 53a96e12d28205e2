"""From which directions a cutter reaches the faces of a part, and how deep it has to go."""

from collections.abc import Sequence
from functools import cached_property

from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face, PartFacts
from dfmcheck.model.feature import Feature, Hole, Slot, Thread
from dfmcheck.model.vector import cross, dot, norm, parallel, scale, sub

BEHIND = -0.02
"""A face whose normal leads further against the cutter's direction than this is not reached."""

SAME_DEG = 0.5
"""Directions closer than this are one setup."""

WALL = 0.02
"""A plane is the side wall of a cutter whose direction leans less than this out of it."""

EASY_MM = 50.0
"""Depth of wall that usual end mills cut: dia 12 to 16, three to four times as deep (common
practice, no source)."""

LONG_MM = 75.0
"""Depth of an open wall that the longest usual end mills cut, dia 20 and more (common practice,
no source). From both ends of the part it is twice as much."""

GAP_RATIO = 5.0
"""A wall that faces another is cut this many times as deep as their distance, the reach of long
end mills (DIN 844 long series; from memory)."""

KEYWAY_RATIO = 1.6
"""A keyway's floor lies within this many radii of its bore's axis."""


class Reach:
    """What can be worked from which of the candidate directions (where the cutter comes from)."""

    def __init__(
        self,
        part: PartFacts,
        candidates: Sequence[Vec],
        features: Sequence[Feature] = (),
        open_mm: float | None = None,
    ) -> None:
        """Look at a part from the candidates; holes among the features may hold keyways.

        `open_mm` is the depth of open walls that counts as reached, LONG_MM a side where None.
        """
        self.open_mm = open_mm
        self.part = part
        self.candidates = candidates
        self.holes = tuple(f for f in features if isinstance(f, Hole))

    @cached_property
    def _along_box(self) -> dict[int, int]:
        """Candidates along the part's own box, by number, with the box direction."""
        frame = self.part.frame
        return {
            k: j
            for k, d in enumerate(self.candidates)
            for j, axis in enumerate((frame.x, frame.y, frame.z))
            if parallel(axis, d, 0.01)
        }

    def of_feature(self, feature: Feature) -> frozenset[int]:
        """Candidates from which every face of a feature can be worked."""
        if isinstance(feature, Hole | Thread):
            through = isinstance(feature, Hole) and feature.through and feature.form == "plain"
            return frozenset(
                k
                for k, d in enumerate(self.candidates)
                if parallel(d, feature.direction, SAME_DEG)
                and (through or dot(d, feature.direction) > 0.0)
            )
        if isinstance(feature, Slot):
            bore = keyway_bore(self.part, feature, self.holes)
            if bore is not None:
                along = (k for k, d in enumerate(self.candidates) if parallel(d, bore, SAME_DEG))
                return frozenset(along)
            if feature.profile in ("tee", "dovetail"):
                return self._from_mouth(feature)
        reach = [self.of_face(self.part.faces[i]) for i in feature.faces]
        common = frozenset(range(len(self.candidates))).intersection(*reach) if reach else None
        return common or self._from_mouth(feature)

    def _from_mouth(self, feature: Feature) -> frozenset[int]:
        return frozenset(
            k for k, d in enumerate(self.candidates) if dot(d, feature.direction) > 1.0 - 1e-4
        )

    def of_face(self, face: Face) -> frozenset[int]:
        """Candidates from which a face can be worked by the end or the side of a cutter."""
        if face.surface in ("cylinder", "cone") and face.axis is not None and face.bend == "inside":
            return self._of_hollow(face, face.axis)
        reached = [k for k, d in enumerate(self.candidates) if dot(face.normal, d) >= BEHIND]
        if face.surface != "plane":
            return frozenset(reached)
        depth = {
            k: self._depth_mm(face, k)
            for k in reached
            if abs(dot(face.normal, self.candidates[k])) <= WALL
        }
        return frozenset(k for k in reached if k not in depth or self._is_within(face, k, depth))

    def _is_within(self, face: Face, k: int, depth: dict[int, float]) -> bool:
        """True where a wall is no deeper than a cutter reaches, or least deep from there."""
        if face.gap_mm is not None:
            limit = min(EASY_MM, GAP_RATIO * face.gap_mm)
            return depth[k] <= max(limit, 1.001 * min(depth.values()))
        if self.open_mm is not None:
            return depth[k] <= self.open_mm
        j = self._along_box.get(k)
        whole = j is not None and depth[k] >= 0.98 * self.part.frame.size_mm[j]
        return depth[k] <= (2.0 * LONG_MM if whole else LONG_MM)

    def ease(self, face: Face, k: int) -> float:
        """Share of a face's area that speaks for a candidate from which it is reached.

        A face met head on counts whole, a wall half at most and less the deeper it is: so a
        block is worked first onto its largest side.
        """
        if face.surface != "plane":
            return 0.5
        if abs(dot(face.normal, self.candidates[k])) > WALL:
            return 1.0
        return max(0.0, 0.5 * (1.0 - self._depth_mm(face, k) / EASY_MM))

    def _depth_mm(self, face: Face, k: int) -> float:
        """Extent of a face along a candidate."""
        j = self._along_box.get(k)
        if j is not None:
            return face.high_mm[j] - face.low_mm[j]
        edges = (self.part.edges[e] for loop in face.loops for e in loop)
        heights = [dot(p, self.candidates[k]) for e in edges for p in (e.start, e.middle, e.end)]
        return max(heights) - min(heights) if heights else 0.0

    def _of_hollow(self, face: Face, axis: Vec) -> frozenset[int]:
        across = [k for k, d in enumerate(self.candidates) if abs(dot(d, axis)) < 0.02]
        along = [k for k, d in enumerate(self.candidates) if parallel(d, axis, SAME_DEG)]
        if (face.span_deg or 360.0) > 181.0:
            across = []
        reached = along + [k for k in across if dot(face.normal, self.candidates[k]) > 0.0]
        if face.surface == "cone":
            reached = [k for k in reached if _cone_opens(face, self.candidates[k])]
        return frozenset(reached)


def keyway_bore(part: PartFacts, slot: Slot, holes: Sequence[Hole]) -> Vec | None:
    """The axis of the bore in whose wall a slot is a keyway, or None.

    The slot opens into the bore, runs along it, and its floor lies a little beyond the wall.
    """
    for hole in holes:
        axis = hole.direction
        radius = hole.diameter_mm / 2.0
        to_axis = sub(hole.place, slot.place)
        to_axis = sub(to_axis, scale(axis, dot(to_axis, axis)))
        out = dot(to_axis, slot.direction)
        if abs(dot(axis, slot.direction)) > WALL or not 0.5 * radius < out < KEYWAY_RATIO * radius:
            continue
        if norm(sub(to_axis, scale(slot.direction, out))) > 0.25 * radius:
            continue
        if slot.width_mm < 2.0 * radius and is_drawn_along(part, slot.faces, axis):
            return axis
    return None


def is_drawn_along(part: PartFacts, faces: Sequence[int], axis: Vec) -> bool:
    """True where all edges of the faces run along an axis or square to it, and no face across."""
    for i in faces:
        face = part.faces[i]
        if abs(dot(face.normal, axis)) > WALL or norm(cross(face.normal, axis)) < 0.5:
            return False
        if face.surface != "plane":
            for e in (part.edges[e] for loop in face.loops for e in loop):
                ends = [dot(p, axis) for p in (e.start, e.middle, e.end)]
                if e.curve != "line" and max(ends) - min(ends) > 1e-3:
                    return False
    return True


def _cone_opens(face: Face, direction: Vec) -> bool:
    """True where the cone widens towards the cutter, or the cutter comes from the side."""
    if face.radii_mm is None or face.axis is None:
        return True
    wider = face.radii_mm[1] - face.radii_mm[0]
    return wider * dot(face.axis, direction) >= -1e-9

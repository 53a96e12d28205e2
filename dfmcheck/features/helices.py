"""Helical edges about an axis, found from their ends, middle and length."""

import math
from dataclasses import dataclass
from typing import Any

from dfmcheck.features.graph import Graph
from dfmcheck.model.base import Vec

RADIUS_MM = 0.01
RADIUS_RATIO = 0.003
"""Ends and middle of a helix lie on one radius within these tolerances (spline exports)."""

TAPER_RATIO = 0.04
"""A pipe thread of ASME B1.20.1 or ISO 7-1 tapers 1 in 16: 0.031 of its length in radius."""

LEAST_TURN = 0.05
"""Shorter pieces say too little about their lead."""

ANGLE_DEG = 4.0
"""Agreement of the angle between the ends with the turns that the length implies."""


@dataclass(frozen=True)
class Helix:
    """One helical edge: its mean radius, lead (mm a turn), turns and limits along the axis.

    `taper` is the growth of the radius along the axis, 0 on a cylinder.

    `hand` is positive for a right-hand helix, negative for a left-hand one, near 0 where ends
    and middle cannot tell. It begins at `start_mm` along the axis and `start_turn` of the turn.
    """

    edge: int
    radius_mm: float
    lead_mm: float
    hand: float
    turns: float
    z_mm: tuple[float, float]
    start_mm: float
    start_turn: float
    taper: float = 0.0


class EdgePoints:
    """Ends and middles of all edges as arrays, to look at them about many axes quickly.

    `points` : (3, n, 3) in mm; `curved` : indices of edges that may be helices.
    """

    def __init__(self, graph: Graph) -> None:
        """Gather the edges of a part."""
        import numpy as np

        self.graph = graph
        edges = graph.edges
        triples = [[e.start for e in edges], [e.middle for e in edges], [e.end for e in edges]]
        self.points = np.array(triples, dtype=float).reshape(3, len(edges), 3)
        self.length = np.array([e.length_mm for e in edges], dtype=float)
        chord = np.linalg.norm(self.points[2] - self.points[0], axis=-1)
        other = np.array([e.curve == "other" for e in edges], dtype=bool)
        self.curved = np.nonzero(other & (self.length > 1.002 * chord + 1e-9))[0]
        loops = [sorted({e for loop in f.loops for e in loop}) for f in graph.faces]
        self._flat = np.array([e for loop in loops for e in loop], dtype=int)
        self._starts = np.cumsum([0] + [len(x) for x in loops[:-1]])
        self._bare = np.array([not x for x in loops], dtype=bool)

    def about(self, axis: Vec, origin: Vec, which: Any = None) -> tuple[Any, Any, Any]:
        """Place along the axis, radius and angle of the points, each (3, n)."""
        import numpy as np

        a = np.array(axis)
        first = np.cross(a, np.eye(3)[int(np.argmin(np.abs(a)))])
        first /= np.linalg.norm(first)
        second = np.cross(a, first)
        points = self.points if which is None else self.points[:, which]
        d = points - np.array(origin)
        return d @ a, np.hypot(d @ first, d @ second), np.arctan2(d @ second, d @ first)

    def helices(self, axis: Vec, origin: Vec) -> list[Helix]:
        """The helical edges about an axis, lead below four times the diameter."""
        import numpy as np

        if not len(self.curved):
            return []
        z, r, angle = self.about(axis, origin, self.curved)
        length = self.length[self.curved]
        radius = r.mean(axis=0)
        rise = z[2] - z[0]
        slack = np.maximum(RADIUS_MM, RADIUS_RATIO * radius)
        even = np.abs(r[1] - (r[0] + r[2]) / 2) <= slack
        even &= np.abs(r[2] - r[0]) <= slack + TAPER_RATIO * np.abs(rise)
        even &= np.abs(z[1] - (z[0] + z[2]) / 2) <= 0.02 * np.abs(rise) + 0.01
        even &= (np.abs(rise) > 0.01) & (length > np.abs(rise)) & (radius > 0.05)
        around = np.sqrt(np.maximum(0.0, length**2 - rise**2))
        turns = around / (2 * math.pi * np.maximum(radius, 1e-9))
        even &= turns >= LEAST_TURN
        step = (angle[2] - angle[0]) / (2 * math.pi)
        tolerance = ANGLE_DEG / 360.0 + 0.01 * turns
        ahead = np.abs((step - turns + 0.5) % 1.0 - 0.5) <= tolerance
        back = np.abs((step + turns + 0.5) % 1.0 - 0.5) <= tolerance
        found = []
        for k in np.nonzero(even & (ahead | back))[0]:
            lead = float(abs(rise[k]) / turns[k])
            if lead > 8.0 * radius[k]:
                continue
            half = (angle[1][k] - angle[0][k]) / (2 * math.pi)
            forward = abs((half - turns[k] / 2 + 0.5) % 1.0 - 0.5)
            backward = abs((half + turns[k] / 2 + 0.5) % 1.0 - 0.5)
            ends = (float(min(z[0][k], z[2][k])), float(max(z[0][k], z[2][k])))
            found.append(
                Helix(
                    edge=int(self.curved[k]),
                    radius_mm=float(radius[k]),
                    lead_mm=lead,
                    hand=float((backward - forward) * math.copysign(1.0, rise[k])),
                    turns=float(turns[k]),
                    z_mm=ends,
                    start_mm=float(z[0][k]),
                    start_turn=float(angle[0][k] / (2 * math.pi)),
                    taper=float((r[2][k] - r[0][k]) / rise[k]),
                )
            )
        return found

    def face_limits(self, axis: Vec, origin: Vec) -> tuple[Any, Any, Any, Any]:
        """For each face the least and greatest place along the axis and radius of its edges."""
        import numpy as np

        z, r, _ = self.about(axis, origin)
        if not len(self._flat):
            empty = np.zeros(len(self.graph.faces))
            return empty, empty, empty, empty
        starts = np.minimum(self._starts, len(self._flat) - 1)
        limits = []
        for value in (z, r):
            limits.append(np.minimum.reduceat(value.min(axis=0)[self._flat], starts))
            limits.append(np.maximum.reduceat(value.max(axis=0)[self._flat], starts))
        for column in limits:
            column[self._bare] = np.nan
        return limits[0], limits[1], limits[2], limits[3]

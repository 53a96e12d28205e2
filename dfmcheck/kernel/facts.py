"""Facts of one part from its kernel shape."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from OCP.Bnd import Bnd_Box
from OCP.BRepBndLib import BRepBndLib

from dfmcheck.kernel import trust
from dfmcheck.kernel.box import reach
from dfmcheck.kernel.canonical import recognise
from dfmcheck.kernel.edges import edge_facts
from dfmcheck.kernel.faces import face_facts, part_fingerprint, ring_centre
from dfmcheck.kernel.frame import axes, ordered
from dfmcheck.kernel.masses import areas_of, mass_of
from dfmcheck.kernel.mesh import Mesh, mesh_of
from dfmcheck.kernel.overlaps import as_vec, shared_space
from dfmcheck.kernel.quadrature import sampled
from dfmcheck.kernel.surfaces import Carrier, carrier_of
from dfmcheck.kernel.topology import Topology, topology_of
from dfmcheck.kernel.turning import turning_facts
from dfmcheck.kernel.walls import Gaps, nothing, walls_and_gaps
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face, Frame, PartFacts
from dfmcheck.model.vector import dot

Floats = NDArray[np.float64]


def part_facts(
    shape: Any,
    *,
    name: str,
    count: int = 1,
    solids: int = 1,
    overlapping: bool = False,
    closed: bool = True,
    doubts: tuple[str, ...] = (),
    lines: dict[int, tuple[int, int]] | None = None,
) -> PartFacts:
    """Measure a shape.

    Args:
        shape: a solid, or a compound of overlapping ones, in mm, in the part's own axes.
        name: the product's name.
        count: how often equal parts occur in the file.
        solids: how many solids were combined.
        overlapping: True if these are still several solids that fill the same space in places.
        closed: False if a shell is known to be open.
        doubts: sentences found so far that make the reading untrustworthy.
        lines: face index -> (line, entity number) in the STEP file.
    """
    top = topology_of(shape)
    carriers = [carrier_of(f) for f in top.faces]
    samples = sampled(top, carriers)
    areas, centroids = areas_of(top.faces, samples)
    mesh = mesh_of(shape, top.faces, rough_diagonal(shape))
    for carrier, face, (start, stop) in zip(carriers, top.faces, mesh.node_range, strict=True):
        recognise(carrier, face, mesh.points[start:stop])
    shared = shared_space(mesh) if overlapping else None
    mass = mass_of(shape, top.faces, samples, _middle(areas, centroids), shared)
    if not overlapping and trust.disagree(mesh.volume_mm3, mass.volume):
        mesh = mesh_of(shape, top.faces, rough_diagonal(shape), careful=True)
    area = sum(areas)
    if shared is not None:
        area = max(0.0, area - shared.buried_mm2)
    reach_of = _Reach(mesh, top, carriers)
    low, high = reach_of.along(np.eye(3))
    frame = _frame(carriers, areas, mass.centroid, mass.least, reach_of)
    edges = tuple(
        edge_facts(i, e, top.uses[i], top.faces, carriers) for i, e in enumerate(top.edges)
    )
    walls, gaps = nothing(len(carriers)), nothing(len(carriers))
    if not overlapping:  # where solids overlap, faces inside the metal would be taken for its skin
        sharp = _across(edges, len(carriers), ("convex", "concave"))
        smooth = _across(edges, len(carriers), ("tangent",))
        walls, gaps = walls_and_gaps(mesh, carriers, sharp, smooth)
    faces = _faces(top, carriers, areas, centroids, edges, mass.centroid, frame, mesh, walls, gaps,
                   lines or {})  # fmt: skip
    rings = [ring_centre(c, top.loops[i], edges) for i, c in enumerate(carriers)]
    opened = [e.index for e in edges if e.convexity == "open"]
    measured = trust.size_doubts(
        mass.volume, area, as_vec(high - low), None if overlapping else mesh
    )
    return PartFacts(
        name=name,
        count=count,
        solids=solids,
        closed=closed and not opened,
        volume_mm3=mass.volume,
        area_mm2=area,
        centroid=mass.centroid,
        principal_mm5=mass.principal,
        box_mm=as_vec(high - low),
        box_low_mm=as_vec(low),
        frame=frame,
        faces=faces,
        edges=edges,
        fingerprint=part_fingerprint(faces),
        turning=turning_facts(mesh, carriers, areas, rings, mass.volume),
        doubts=(*doubts, *trust.open_doubts(len(opened)), *measured),
    )


def topology(shape: Any) -> tuple[list[Any], list[list[list[tuple[int, bool]]]], list[Any]]:
    """Faces in traversal order, their loops of (edge, backwards), and the edges."""
    top = topology_of(shape)
    return top.faces, top.loops, top.edges


def rough_diagonal(shape: Any) -> float:
    """A diagonal in mm no shorter than that of the shape's box, found fast."""
    box = Bnd_Box()
    BRepBndLib.Add_s(shape, box)
    return 0.0 if box.IsVoid() else float(box.CornerMin().Distance(box.CornerMax()))


def _middle(areas: list[float], centroids: list[Vec]) -> Vec:
    """Centroid of the skin."""
    total = sum(areas) or 1.0
    mean = [sum(a * c[i] for a, c in zip(areas, centroids, strict=True)) / total for i in range(3)]
    return (mean[0], mean[1], mean[2])


class _Reach:
    """How far a part reaches along directions, each asked for once."""

    def __init__(self, mesh: Mesh, top: Topology, carriers: list[Carrier]) -> None:
        self._given = mesh, top, carriers
        self._known: dict[Vec, tuple[float, float]] = {}

    def along(self, directions: Floats) -> tuple[Floats, Floats]:
        """Least and greatest coordinates, each (3,) float, mm."""
        mesh, top, carriers = self._given
        if not len(mesh.points):
            return np.zeros(3), np.zeros(3)
        keys = [as_vec(d) for d in directions]
        fresh = [k for k in keys if k not in self._known]
        if fresh:
            low, high = reach(mesh, top.edges_of, carriers, top.edges, np.array(fresh))
            for k, a, b in zip(fresh, low, high, strict=True):
                self._known[k] = (float(a), float(b))
                self._known[as_vec(-np.array(k) + 0.0)] = (-float(b), -float(a))
        found = np.array([self._known[k] for k in keys])
        return found[:, 0], found[:, 1]


def _frame(
    carriers: list[Carrier],
    areas: list[float],
    centroid: Vec,
    least: Vec,
    reach_of: _Reach,
) -> Frame:
    planes = [
        (c.plane_normal, a)
        for c, a in zip(carriers, areas, strict=True)
        if c.plane_normal is not None
    ]
    rounds = [
        (c.axis, a)
        for c, a in zip(carriers, areas, strict=True)
        if c.kind in ("cylinder", "cone", "torus") and c.axis is not None
    ]
    three = axes(planes, rounds, least)
    low, high = reach_of.along(np.array(three))
    middles = tuple(dot(centroid, d) - float(low[i] + high[i]) / 2 for i, d in enumerate(three))
    x, y, z = ordered(three, as_vec(high - low), (middles[0], middles[1], middles[2]))
    # the new axes are the old ones in another order and with other signs
    turn = np.array([[dot(a, b) for b in three] for a in (x, y, z)]).round()
    ends = np.stack((turn @ low, turn @ high))
    return Frame(x=x, y=y, z=z, low_mm=as_vec(ends.min(axis=0)), high_mm=as_vec(ends.max(axis=0)))


def _across(edges: tuple[Edge, ...], count: int, kinds: tuple[str, ...]) -> list[frozenset[int]]:
    """For each face those that it meets along an edge of one of these convexities."""
    found: list[set[int]] = [set() for _ in range(count)]
    for e in edges:
        if e.convexity in kinds and len(e.faces) == 2:
            a, b = e.faces
            found[a].add(b)
            found[b].add(a)
    return [frozenset(s) for s in found]


def _faces(
    top: Topology,
    carriers: list[Carrier],
    areas: list[float],
    centroids: list[Vec],
    edges: tuple[Edge, ...],
    centroid: Vec,
    frame: Frame,
    mesh: Mesh,
    walls: Gaps,
    gaps: Gaps,
    lines: dict[int, tuple[int, int]],
) -> tuple[Face, ...]:
    local = mesh.points @ np.array((frame.x, frame.y, frame.z)).T
    found = []
    for i, c in enumerate(carriers):
        start, stop = mesh.node_range[i]
        if stop > start:
            low, high = as_vec(local[start:stop].min(axis=0)), as_vec(local[start:stop].max(axis=0))
        else:
            low = high = (
                dot(centroids[i], frame.x), dot(centroids[i], frame.y), dot(centroids[i], frame.z)
            )  # fmt: skip
        found.append(
            face_facts(
                i,
                c,
                area=areas[i],
                centroid=centroids[i],
                loops=top.loops[i],
                edges=edges,
                part_centroid=centroid,
                low=low,
                high=high,
                wall=(walls.distance_mm[i], walls.face[i]),
                gap=(gaps.distance_mm[i], gaps.face[i]),
                line=lines.get(i),
            )
        )
    return tuple(found)

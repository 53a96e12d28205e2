"""Facts of one part from its kernel shape."""

import hashlib
from typing import Any

import numpy as np
from OCP.BRepGProp import BRepGProp
from OCP.BRepTools import BRepTools
from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeMap
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopAbs import TopAbs_ShapeEnum as T
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS

from dfmcheck.kernel.edges import edge_facts
from dfmcheck.kernel.frame import axes, ordered
from dfmcheck.kernel.mesh import Mesh, mesh_of
from dfmcheck.kernel.surfaces import (
    Carrier,
    along_axis,
    carrier_of,
    curvature,
    nearest_on_axis,
    point_of,
)
from dfmcheck.kernel.vector import dot
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face, Frame, PartFacts


def part_facts(
    shape: Any,
    *,
    name: str,
    count: int = 1,
    solids: int = 1,
    closed: bool = True,
    doubts: tuple[str, ...] = (),
    lines: dict[int, tuple[int, int]] | None = None,
) -> PartFacts:
    """Measure a shape.

    Args:
        shape: a solid or compound, in mm, in the part's own axes.
        name: the product's name.
        count: how often equal parts occur in the file.
        solids: how many solids were combined.
        closed: False if a shell is open.
        doubts: sentences found so far that make the reading untrustworthy.
        lines: face index -> (line, entity number) in the STEP file.
    """
    faces, loops, edges = topology(shape)
    carriers = [carrier_of(f) for f in faces]
    areas, centroids = _areas(faces)
    volume, centroid, principal, least = _mass(shape)
    mesh = mesh_of(shape, faces, _rough_diagonal(shape))
    frame = _frame(carriers, areas, centroid, least, mesh)
    uses = _uses(loops, len(edges))
    edge_values = tuple(edge_facts(i, e, uses[i], faces, carriers) for i, e in enumerate(edges))
    low, high = mesh.points.min(axis=0), mesh.points.max(axis=0)
    face_values = tuple(
        _face(
            i,
            carriers[i],
            areas[i],
            centroids[i],
            loops[i],
            edge_values,
            centroid,
            frame,
            mesh,
            lines,
        )
        for i in range(len(faces))
    )
    return PartFacts(
        name=name,
        count=count,
        solids=solids,
        closed=closed,
        volume_mm3=volume,
        area_mm2=sum(areas),
        centroid=centroid,
        principal_mm5=principal,
        box_mm=_vec(high - low),
        box_low_mm=_vec(low),
        frame=frame,
        faces=face_values,
        edges=edge_values,
        fingerprint=_part_fingerprint(volume, sum(areas), face_values),
        doubts=doubts,
    )


def topology(shape: Any) -> tuple[list[Any], list[list[list[tuple[int, bool]]]], list[Any]]:
    """Faces in traversal order, their loops of (edge, backwards), and the edges."""
    face_map, edge_map = ShapeMap(), ShapeMap()  # loose edges (annotation) belong to no face
    explorer = TopExp_Explorer(shape, T.TopAbs_FACE)
    faces: list[Any] = []
    while explorer.More():
        face = TopoDS.Face(explorer.Current())
        before = face_map.Extent()
        face_map.Add(face)
        if face_map.Extent() > before:
            faces.append(face)
            TopExp.MapShapes_s(face, T.TopAbs_EDGE, edge_map)
        explorer.Next()
    edges = [TopoDS.Edge(edge_map.FindKey(i + 1)) for i in range(edge_map.Extent())]
    edges = [TopoDS.Edge(e.Oriented(TopAbs_Orientation.TopAbs_FORWARD)) for e in edges]
    return faces, [_loops(f, edge_map) for f in faces], edges


def _loops(face: Any, edge_map: Any) -> list[list[tuple[int, bool]]]:
    outer = BRepTools.OuterWire_s(face)
    result: list[list[tuple[int, bool]]] = []
    wires = TopExp_Explorer(face, T.TopAbs_WIRE)
    while wires.More():
        wire = wires.Current()
        loop: list[tuple[int, bool]] = []
        edges = TopExp_Explorer(wire, T.TopAbs_EDGE)
        while edges.More():
            e = edges.Current()
            back = e.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
            loop.append((edge_map.FindIndex(e) - 1, back))
            edges.Next()
        if not outer.IsNull() and wire.IsSame(outer):
            result.insert(0, loop)
        else:
            result.append(loop)
        wires.Next()
    return result


def _uses(loops: list[list[list[tuple[int, bool]]]], edges: int) -> list[list[tuple[int, bool]]]:
    uses: list[list[tuple[int, bool]]] = [[] for _ in range(edges)]
    for face, wires in enumerate(loops):
        for wire in wires:
            for edge, back in wire:
                uses[edge].append((face, back))
    return uses


def _areas(faces: list[Any]) -> tuple[list[float], list[Vec]]:
    areas: list[float] = []
    centroids: list[Vec] = []
    for face in faces:
        props = GProp_GProps()
        BRepGProp.SurfaceProperties_s(face, props)
        areas.append(abs(props.Mass()))
        centroids.append(point_of(props.CentreOfMass()))
    return areas, centroids


def _mass(shape: Any) -> tuple[float, Vec, Vec, Vec]:
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    principal = props.PrincipalProperties()
    moments = sorted(abs(m) for m in principal.Moments())
    directions = (
        principal.FirstAxisOfInertia(),
        principal.SecondAxisOfInertia(),
        principal.ThirdAxisOfInertia(),
    )
    pairs = list(zip(principal.Moments(), directions, strict=True))
    least = min(pairs, key=lambda x: abs(x[0]))[1]
    return (
        props.Mass(),
        point_of(props.CentreOfMass()),
        (moments[0], moments[1], moments[2]),
        point_of(least),
    )


def _rough_diagonal(shape: Any) -> float:
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.Add_s(shape, box)
    return float(box.CornerMin().Distance(box.CornerMax()))


def _frame(
    carriers: list[Carrier], areas: list[float], centroid: Vec, least: Vec, mesh: Mesh
) -> Frame:
    planes = [(c.middle()[1], a) for c, a in zip(carriers, areas, strict=True) if c.kind == "plane"]
    rounds = [
        (c.axis, a)
        for c, a in zip(carriers, areas, strict=True)
        if c.kind in ("cylinder", "cone", "torus") and c.axis is not None
    ]
    three = axes(planes, rounds, least)
    low, high = _extent(mesh, three)
    sizes = (high[0] - low[0], high[1] - low[1], high[2] - low[2])
    middles = tuple(dot(centroid, d) - (low[i] + high[i]) / 2 for i, d in enumerate(three))
    x, y, z = ordered(three, sizes, (middles[0], middles[1], middles[2]))
    low, high = _extent(mesh, (x, y, z))
    return Frame(x=x, y=y, z=z, low_mm=low, high_mm=high)


def _extent(mesh: Mesh, three: tuple[Vec, Vec, Vec]) -> tuple[Vec, Vec]:
    projected = mesh.points @ np.array(three).T
    return _vec(projected.min(axis=0)), _vec(projected.max(axis=0))


def _face(
    index: int,
    c: Carrier,
    area: float,
    centroid: Vec,
    loops: list[list[tuple[int, bool]]],
    edges: tuple[Edge, ...],
    part_centroid: Vec,
    frame: Frame,
    mesh: Mesh,
    lines: dict[int, tuple[int, int]] | None,
) -> Face:
    _, normal = c.middle()
    bend, concave = (c.bend(), None) if c.kind != "freeform" else curvature(c)
    axis_point, along, radii = None, None, None
    if c.axis is not None and c.origin is not None:
        axis_point, shift = nearest_on_axis(c.origin, c.axis, part_centroid)
        limits = along_axis(c)
        if c.kind in ("sphere", "torus"):
            axis_point, shift = c.origin, 0.0
        if limits is not None:
            along = (limits[0][0] - shift, limits[0][1] - shift)
            radii = limits[1]
    start, stop = mesh.node_range[index]
    three = np.array((frame.x, frame.y, frame.z)).T
    local = mesh.points[start:stop] @ three if stop > start else np.array([centroid]) @ three
    line, entity = (lines or {}).get(index, (None, None))
    u0, u1 = c.bounds[0], c.bounds[1]
    round_kind = c.kind in ("cylinder", "cone", "sphere", "torus")
    return Face(
        index=index,
        surface=c.kind,
        bend=bend,
        area_mm2=area,
        centroid=centroid,
        normal=normal,
        low_mm=_vec(local.min(axis=0)),
        high_mm=_vec(local.max(axis=0)),
        loops=tuple(tuple(e for e, _ in loop) for loop in loops),
        fingerprint=_face_fingerprint(c, bend, area, loops, edges),
        axis=c.axis,
        axis_point=axis_point,
        radius_mm=c.radius if c.kind != "cone" else None,
        minor_radius_mm=c.minor,
        half_angle_deg=abs(float(np.degrees(c.half_angle))) if c.half_angle is not None else None,
        along_mm=along,
        radii_mm=radii,
        span_deg=min(360.0, float(np.degrees(u1 - u0))) if round_kind else None,
        curvature_radius_mm=concave,
        line=line,
        entity=entity,
        swept=c.swept,
    )


def _vec(a: Any) -> Vec:
    return (float(a[0]), float(a[1]), float(a[2]))


def _face_fingerprint(
    c: Carrier, bend: str, area: float, loops: list[list[tuple[int, bool]]], edges: tuple[Edge, ...]
) -> str:
    lengths = sorted(_round(edges[e].length_mm) for loop in loops for e, _ in loop)
    parts = (c.kind, bend, _round(area), _round(c.radius or 0.0), _round(c.minor or 0.0), lengths)
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:16]


def _round(x: float) -> str:
    """Five significant digits, but nothing finer than 0.001."""
    return f"{round(x, 3):.5g}"


def _part_fingerprint(volume: float, area: float, faces: tuple[Face, ...]) -> str:
    content = (f"{volume:.6g}", f"{area:.6g}", sorted(f.fingerprint for f in faces))
    return hashlib.sha256(repr(content).encode()).hexdigest()[:24]

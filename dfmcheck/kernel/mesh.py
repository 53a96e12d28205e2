"""The triangulation of a shape as numpy arrays, face by face."""

import io
import struct
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OCP.BinTools import BinTools
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.IMeshTools import IMeshTools_MeshAlgoType, IMeshTools_Parameters
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Compound, TopoDS_Face

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ANGLE_RAD = 0.3
"""Angular deflection of the mesh."""

_RECORD = struct.Struct("<ii??d")


@dataclass(frozen=True)
class Mesh:
    """Triangles of a part.

    points : (n, 3) float, mm; triangles : (m, 3) int, counter-clockwise seen from outside;
    owner : (m,) int, the index of the face, ascending; node_range : for each face, its slice of
    points; deflection_mm : how far the triangles may lie from the faces.
    """

    points: Floats
    triangles: Ints
    owner: Ints
    node_range: tuple[tuple[int, int], ...]
    deflection_mm: float

    @cached_property
    def corners(self) -> tuple[Floats, Floats, Floats]:
        """The three corners of each triangle, each (m, 3) float, mm."""
        a, b, c = (self.points[self.triangles[:, k]] for k in range(3))
        return a, b, c

    @cached_property
    def normals(self) -> Floats:
        """(m, 3) float: outward normals, as long as twice the triangle's area in mm^2."""
        a, b, c = self.corners
        return np.cross(b - a, c - a)

    @cached_property
    def areas(self) -> Floats:
        """(m,) float: areas of the triangles in mm^2."""
        found: Floats = np.linalg.norm(self.normals, axis=1) / 2.0
        return found

    @property
    def volume_mm3(self) -> float:
        """Volume by the divergence theorem."""
        if not len(self.triangles):
            return 0.0
        a = self.corners[0] - self.points.mean(axis=0)
        return float(np.einsum("ij,ij->", a, self.normals) / 6.0)


def deflection_mm(diagonal_mm: float) -> float:
    """Linear deflection for a part of this diagonal."""
    return max(diagonal_mm / 2000.0, 0.01)


def mesh_of(shape: Any, faces: list[Any], diagonal_mm: float, *, careful: bool = False) -> Mesh:
    """Triangulate a shape; faces the mesher failed on have an empty range.

    Args:
        shape: the kernel shape.
        faces: its faces.
        diagonal_mm: the diagonal of its box.
        careful: mesh afresh by the slower of the kernel's two methods.
    """
    wanted = deflection_mm(diagonal_mm)
    parameters = _parameters(wanted)
    if careful:
        parameters.MeshAlgo = IMeshTools_MeshAlgoType.IMeshTools_MeshAlgoType_Watson
        BRepTools.Clean_s(shape)
    BRepMesh_IncrementalMesh(shape, parameters)
    return _gather(faces, wanted)


def _parameters(wanted: float) -> Any:
    parameters = IMeshTools_Parameters()
    parameters.Deflection = wanted
    parameters.Angle = ANGLE_RAD
    # files are read side by side in processes of their own, and processes do not fork well once
    # they have threads
    parameters.InParallel = False
    # as exact as the default and two to four times as fast on plates with many holes
    parameters.MeshAlgo = IMeshTools_MeshAlgoType.IMeshTools_MeshAlgoType_Delabella
    return parameters


def mesh_of_solid(solid: Any, *, fine: bool = False) -> Mesh:
    """The mesh of one solid, by its own size.

    Args:
        solid: the kernel solid.
        fine: about a tenth of the usual chords; on a copy, so that the usual mesh stays.
    """
    if fine:
        solid = BRepBuilderAPI_Copy(solid).Shape()
    explorer = TopExp_Explorer(solid, TopAbs_ShapeEnum.TopAbs_FACE)
    faces = []
    while explorer.More():
        faces.append(TopoDS.Face(explorer.Current()))
        explorer.Next()
    box = Bnd_Box()
    BRepBndLib.Add_s(solid, box)
    diagonal = 0.0 if box.IsVoid() else float(box.CornerMin().Distance(box.CornerMax()))
    parameters = _parameters(deflection_mm(diagonal))
    if fine:
        parameters.Deflection, parameters.Angle = parameters.Deflection / 20.0, ANGLE_RAD / 4.0
    BRepMesh_IncrementalMesh(solid, parameters)
    return _gather(faces, parameters.Deflection)


def joined(meshes: list[Mesh], place: Any) -> Mesh:
    """Several meshes as one, moved to a place (a location of the kernel)."""
    points, triangles, owners = [], [], []
    ranges: list[tuple[int, int]] = []
    start = 0
    matrix = _matrix(place.Transformation())
    mirrored = bool(np.linalg.det(matrix[:, :3]) < 0.0)
    for mesh in meshes:
        points.append(mesh.points @ matrix[:, :3].T + matrix[:, 3])
        flipped = mesh.triangles[:, ::-1] if mirrored else mesh.triangles
        triangles.append(flipped + start)
        owners.append(mesh.owner + len(ranges))
        ranges += [(a + start, b + start) for a, b in mesh.node_range]
        start += len(mesh.points)
    return Mesh(
        points=np.concatenate(points),
        triangles=np.concatenate(triangles),
        owner=np.concatenate(owners),
        node_range=tuple(ranges),
        deflection_mm=max(m.deflection_mm for m in meshes),
    )


def _gather(faces: list[Any], wanted: float) -> Mesh:
    points: list[Floats] = []
    triangles: list[Ints] = []
    counts: list[int] = []
    ranges: list[tuple[int, int]] = []
    start = 0
    found = [_triangulation(f) for f in faces]
    arrays = _arrays([t for t, _ in found if t is not None])
    for face, (triangulation, location) in zip(faces, found, strict=True):
        if triangulation is None:
            ranges.append((start, start))
            counts.append(0)
            continue
        p, t = arrays[id(triangulation)]
        flip = face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
        if not location.IsIdentity():
            matrix = _matrix(location.Transformation())
            p = p @ matrix[:, :3].T + matrix[:, 3]
            flip ^= bool(np.linalg.det(matrix[:, :3]) < 0.0)
        t = t + (start - 1)
        triangles.append(t[:, ::-1] if flip else t)
        points.append(p)
        counts.append(len(t))
        ranges.append((start, start + len(p)))
        start += len(p)
    return Mesh(
        points=np.concatenate(points) if points else np.zeros((0, 3)),
        triangles=np.concatenate(triangles) if triangles else np.zeros((0, 3), dtype=np.int64),
        owner=np.repeat(np.arange(len(faces)), counts),
        node_range=tuple(ranges),
        deflection_mm=wanted,
    )


def _triangulation(face: Any) -> tuple[Any, Any]:
    location = TopLoc_Location()
    return BRep_Tool.Triangulation_s(face, location), location


def _matrix(transformation: Any) -> Floats:
    return np.array(
        [[transformation.Value(i, j) for j in range(1, 5)] for i in range(1, 4)], dtype=np.float64
    )


def _arrays(triangulations: list[Any]) -> dict[int, tuple[Floats, Ints]]:
    """Points and triangles (counted from 1) of kernel triangulations, by their id."""
    distinct = list({id(t): t for t in triangulations}.values())
    try:
        arrays = _from_binary(distinct)
    except (ValueError, struct.error):
        arrays = [_one_by_one(t) for t in distinct]
    return {id(t): a for t, a in zip(distinct, arrays, strict=True)}


def _from_binary(triangulations: list[Any]) -> list[tuple[Floats, Ints]]:
    """All triangulations at once, through the kernel's binary format.

    Asking the kernel for each point takes seven times as long.

    Raises:
        ValueError: the stream is not laid out as expected.
    """
    compound, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(compound)
    for triangulation in triangulations:
        face = TopoDS_Face()
        builder.MakeFace(face, triangulation)
        builder.Add(compound, face)
    stream = io.BytesIO()
    BinTools.Write_s(compound, stream)
    data = stream.getvalue()
    title = f"Triangulations {len(triangulations)}\n".encode()
    at = data.find(title) + len(title)
    if at < len(title):
        msg = "no section of triangulations"
        raise ValueError(msg)
    found = []
    for triangulation in triangulations:
        n, m, has_uv, has_normals, _ = _RECORD.unpack_from(data, at)
        if (n, m) != (triangulation.NbNodes(), triangulation.NbTriangles()) or has_normals:
            msg = "another order of triangulations"
            raise ValueError(msg)
        at += _RECORD.size
        points = np.frombuffer(data, "<f8", 3 * n, at).reshape(n, 3)
        at += (40 if has_uv else 24) * n
        triangles = np.frombuffer(data, "<i4", 3 * m, at).reshape(m, 3).astype(np.int64)
        at += 12 * m
        if m and (triangles.min() < 1 or triangles.max() > n):
            msg = "not the numbers of points"
            raise ValueError(msg)
        found.append((points, triangles))
    return found


def _one_by_one(triangulation: Any) -> tuple[Floats, Ints]:
    points = [triangulation.Node(k).Coord() for k in range(1, triangulation.NbNodes() + 1)]
    triangles = [triangulation.Triangle(k).Get() for k in range(1, triangulation.NbTriangles() + 1)]
    return (
        np.array(points, dtype=np.float64).reshape(-1, 3),
        np.array(triangles, dtype=np.int64).reshape(-1, 3),
    )

"""The triangulation of a shape as numpy arrays, face by face."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location

ANGLE_RAD = 0.3
"""Angular deflection of the mesh."""


@dataclass(frozen=True)
class Mesh:
    """Triangles of a part.

    points : (n, 3) float, mm; triangles : (m, 3) int, counter-clockwise seen from outside;
    owner : (m,) int, the index of the face; node_range : for each face, its slice of points.
    """

    points: NDArray[np.float64]
    triangles: NDArray[np.int64]
    owner: NDArray[np.int64]
    node_range: tuple[tuple[int, int], ...]

    @property
    def volume_mm3(self) -> float:
        """Volume by the divergence theorem."""
        a, b, c = (self.points[self.triangles[:, k]] for k in range(3))
        return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


def deflection_mm(diagonal_mm: float) -> float:
    """Linear deflection for a part of this diagonal."""
    return max(diagonal_mm / 2000.0, 0.01)


def mesh_of(shape: Any, faces: list[Any], diagonal_mm: float) -> Mesh:
    """Triangulate a shape; faces the mesher failed on have an empty range."""
    BRepMesh_IncrementalMesh(shape, deflection_mm(diagonal_mm), False, ANGLE_RAD, True)
    points: list[tuple[float, float, float]] = []
    triangles: list[tuple[int, int, int]] = []
    owner: list[int] = []
    ranges: list[tuple[int, int]] = []
    for index, face in enumerate(faces):
        location = TopLoc_Location()
        tri = BRep_Tool.Triangulation_s(face, location)
        start = len(points)
        if tri is None:
            ranges.append((start, start))
            continue
        trsf = location.Transformation() if not location.IsIdentity() else None
        for k in range(1, tri.NbNodes() + 1):
            p = tri.Node(k)
            if trsf is not None:
                p = p.Transformed(trsf)
            points.append((p.X(), p.Y(), p.Z()))
        back = face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
        for k in range(1, tri.NbTriangles() + 1):
            i, j, m = tri.Triangle(k).Get()
            i, j, m = i + start - 1, j + start - 1, m + start - 1
            triangles.append((i, m, j) if back else (i, j, m))
        owner.extend([index] * tri.NbTriangles())
        ranges.append((start, len(points)))
    return Mesh(
        points=np.array(points, dtype=np.float64).reshape(-1, 3),
        triangles=np.array(triangles, dtype=np.int64).reshape(-1, 3),
        owner=np.array(owner, dtype=np.int64),
        node_range=tuple(ranges),
    )

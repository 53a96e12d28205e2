"""Area, volume, centroid and moments of inertia."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps

from dfmcheck.kernel.overlaps import Shared, as_vec
from dfmcheck.kernel.surfaces import point_of
from dfmcheck.model.base import Vec


@dataclass(frozen=True)
class Mass:
    """Of a solid at unit density: volume in mm^3, centroid in mm, principal moments in mm^5.

    `least` is the axis of the least moment.
    """

    volume: float
    centroid: Vec
    principal: Vec
    least: Vec


def areas_of(faces: list[Any]) -> tuple[list[float], list[Vec]]:
    """Area in mm^2 and centroid of each face."""
    areas: list[float] = []
    centroids: list[Vec] = []
    for face in faces:
        props = GProp_GProps()
        BRepGProp.SurfaceProperties_s(face, props)
        areas.append(abs(props.Mass()))
        centroids.append(point_of(props.CentreOfMass()))
    return areas, centroids


def mass_of(shape: Any, shared: Shared | None = None) -> Mass:
    """Mass properties of a shape.

    Args:
        shape: a solid, or a compound of solids.
        shared: what these fill more than once; it is counted once.
    """
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    volume = props.Mass()
    centroid = np.array(point_of(props.CentreOfMass()))
    inertia = props.MatrixOfInertia()
    matrix = np.array([[inertia.Value(i, j) for j in (1, 2, 3)] for i in (1, 2, 3)])
    if shared is not None and 0.0 < shared.volume_mm3 < volume:
        volume, centroid, matrix = _without(volume, centroid, matrix, shared)
    # tiny differences of equal moments must not turn the axes: they count as equal
    moments, axes = np.linalg.eigh(matrix)
    return Mass(volume, as_vec(centroid), as_vec(np.abs(moments)), as_vec(axes[:, 0]))


def _without(
    volume: float, centroid: np.ndarray, matrix: np.ndarray, shared: Shared
) -> tuple[float, np.ndarray, np.ndarray]:
    # second moments S = integral of x xT: the inertia tensor is tr(S) I - S
    second = 0.5 * np.trace(matrix) * np.eye(3) - matrix + volume * np.outer(centroid, centroid)
    second = second - shared.second
    left = volume - shared.volume_mm3
    moved = (volume * centroid - shared.moment) / left
    second = second - left * np.outer(moved, moved)
    return left, moved, np.trace(second) * np.eye(3) - second

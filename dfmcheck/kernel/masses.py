"""Area, volume, centroid and moments of inertia."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from OCP.BRepGProp import BRepGProp, BRepGProp_Domain, BRepGProp_Face, BRepGProp_Vinert
from OCP.gp import gp_Pnt
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


EPS = 1e-3
"""Relative error asked for on spline faces. With the kernel's fixed number of points, which does
for all others, splines gave volumes wrong by up to 1.6 %; with this by 0.005 %."""


def areas_of(faces: list[Any], splines: list[bool]) -> tuple[list[float], list[Vec]]:
    """Area in mm^2 and centroid of each face.

    Args:
        faces: the kernel faces.
        splines: for each whether it is a spline surface or the like.
    """
    areas: list[float] = []
    centroids: list[Vec] = []
    for face, spline in zip(faces, splines, strict=True):
        props = GProp_GProps()
        if spline:
            BRepGProp.SurfaceProperties_s(face, props, EPS, False)
        else:
            BRepGProp.SurfaceProperties_s(face, props)
        areas.append(abs(props.Mass()))
        centroids.append(point_of(props.CentreOfMass()))
    return areas, centroids


def mass_of(
    shape: Any,
    faces: list[Any],
    splines: list[bool],
    near: Vec,
    shared: Shared | None = None,
) -> Mass:
    """Mass properties of a shape.

    Args:
        shape: a solid, or a compound of solids.
        faces: its faces.
        splines: for each whether it is a spline surface or the like.
        near: a place within the part or close to it, about which errors stay small.
        shared: what the solids fill more than once; it is counted once.
    """
    props = _by_face(faces, splines, near) if any(splines) else GProp_GProps()
    if not any(splines):
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


def _by_face(faces: list[Any], splines: list[bool], near: Vec) -> Any:
    origin = gp_Pnt(*near)
    total = GProp_GProps(origin)
    for face, spline in zip(faces, splines, strict=True):
        carrier, part = BRepGProp_Face(), BRepGProp_Vinert()
        carrier.Load(face)
        part.SetLocation(origin)
        if spline:
            part.Perform(carrier, BRepGProp_Domain(face), EPS)
        else:
            part.Perform(carrier, BRepGProp_Domain(face))
        total.Add(part)
    return total


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

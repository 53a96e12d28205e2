"""Faces in the order of traversal, their loops and edges."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from OCP.BRepTools import BRepTools
from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeMap
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopAbs import TopAbs_ShapeEnum as T
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Iterator

Loop = list[tuple[int, bool]]


@dataclass(frozen=True)
class Topology:
    """The faces and edges of a shape, each counted once, and how they meet.

    `loops` holds for each face its loops, the outer one first, of (edge, True if the face runs
    along it backwards).
    """

    faces: list[Any]
    loops: list[list[Loop]]
    edges: list[Any]

    @cached_property
    def uses(self) -> list[list[tuple[int, bool]]]:
        """For each edge, (face, backwards) of each use."""
        uses: list[list[tuple[int, bool]]] = [[] for _ in self.edges]
        for face, wires in enumerate(self.loops):
            for wire in wires:
                for edge, back in wire:
                    uses[edge].append((face, back))
        return uses

    @cached_property
    def edges_of(self) -> list[list[int]]:
        """For each face the numbers of its edges."""
        return [[e for wire in wires for e, _ in wire] for wires in self.loops]


def topology_of(shape: Any) -> Topology:
    """The topology of a shape; loose edges and faces met twice are left out."""
    face_map, edge_map = ShapeMap(), ShapeMap()
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
    return Topology(faces, [_loops(f, edge_map) for f in faces], edges)


def _loops(face: Any, edge_map: Any) -> list[list[tuple[int, bool]]]:
    wires = [w for w in _children(face) if w.ShapeType() == T.TopAbs_WIRE]
    outer = BRepTools.OuterWire_s(face) if len(wires) > 1 else None
    result: list[list[tuple[int, bool]]] = []
    for wire in wires:
        loop = [
            (edge_map.FindIndex(e) - 1, e.Orientation() == TopAbs_Orientation.TopAbs_REVERSED)
            for e in _children(wire)
        ]
        if outer is not None and not outer.IsNull() and wire.IsSame(outer):
            result.insert(0, loop)
        else:
            result.append(loop)
    return result


def _children(shape: Any) -> list[Any]:
    found = []
    iterator = TopoDS_Iterator(shape, True, True)
    while iterator.More():
        found.append(iterator.Value())
        iterator.Next()
    return found

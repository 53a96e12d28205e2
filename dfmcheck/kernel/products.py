"""The products of a file: their names, shapes in their own axes, and how often they occur."""

from dataclasses import dataclass, field
from typing import Any

from OCP.collections import Sequence_TDF_Label
from OCP.TCollection import TCollection_AsciiString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_Tool
from OCP.TopAbs import TopAbs_ShapeEnum as T
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.XCAFDoc import XCAFDoc_DocumentTool, XCAFDoc_ShapeTool


@dataclass
class Product:
    """A product with a shape of its own, counted over the whole tree."""

    name: str
    shape: Any
    count: int = 0


@dataclass
class Node:
    """An assembly: its name and (product's key, place) of the products directly under it."""

    name: str
    children: list[tuple[str, Any]] = field(default_factory=list)
    count: int = 0


@dataclass
class Tree:
    """All products and assemblies of a file, by key, in file order."""

    products: dict[str, Product] = field(default_factory=dict)
    nodes: dict[str, Node] = field(default_factory=dict)


def product_tree(document: Any) -> Tree:
    """The products of a transferred document."""
    tree = Tree()
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    free = Sequence_TDF_Label()
    tool.GetFreeShapes(free)
    for label in _labels(free):
        _visit(tree, label, 1)
    return tree


def _visit(tree: Tree, label: Any, times: int) -> None:
    key = _key(label)
    if not XCAFDoc_ShapeTool.IsAssembly_s(label):
        if key not in tree.products:
            shape = XCAFDoc_ShapeTool.GetShape_s(label).Located(TopLoc_Location())
            tree.products[key] = Product(_name(label), shape)
        tree.products[key].count += times
        return
    first = key not in tree.nodes
    node = tree.nodes.setdefault(key, Node(_name(label)))
    node.count += times
    components = Sequence_TDF_Label()
    XCAFDoc_ShapeTool.GetComponents_s(label, components, False)
    seen: dict[str, tuple[Any, int]] = {}
    for component in _labels(components):
        child = TDF_Label()
        if not XCAFDoc_ShapeTool.GetReferredShape_s(component, child):
            continue
        child_key = _key(child)
        _, n = seen.get(child_key, (child, 0))
        seen[child_key] = (child, n + 1)
        if first and not XCAFDoc_ShapeTool.IsAssembly_s(child):
            node.children.append((child_key, XCAFDoc_ShapeTool.GetLocation_s(component)))
    for child, n in seen.values():
        _visit(tree, child, times * n)


def solids_of(shape: Any) -> list[Any]:
    """The solids of a shape in traversal order."""
    return _explore(shape, T.TopAbs_SOLID)


def faces_of(shape: Any) -> list[Any]:
    """The faces of a shape in traversal order."""
    return _explore(shape, T.TopAbs_FACE)


def _explore(shape: Any, kind: Any) -> list[Any]:
    found = []
    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def _labels(sequence: Any) -> list[Any]:
    return [sequence.Value(i) for i in range(1, sequence.Length() + 1)]


def _key(label: Any) -> str:
    entry = TCollection_AsciiString()
    TDF_Tool.Entry_s(label, entry)
    return str(entry.ToCString())


def _name(label: Any) -> str:
    attribute = TDataStd_Name()
    if not label.FindAttribute(TDataStd_Name.GetID_s(), attribute):
        return ""
    return " ".join(str(attribute.Get().ToExtString()).split())

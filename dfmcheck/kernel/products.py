"""The products of a file: their names, shapes in their own axes, and how often they occur."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from OCP.BRep import BRep_Builder
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.collections import Sequence_TDF_Label
from OCP.GeomAbs import GeomAbs_SurfaceType as S
from OCP.TCollection import TCollection_AsciiString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_Tool
from OCP.TopAbs import TopAbs_ShapeEnum as T
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Compound
from OCP.XCAFDoc import XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

_MADE_UP = frozenset(
    ("", "SOLID", "COMPOUND", "COMPSOLID", "SHELL", "FACE", "WIRE", "EDGE", "VERTEX")
)

_FREEFORM = (S.GeomAbs_BSplineSurface, S.GeomAbs_BezierSurface, S.GeomAbs_OtherSurface)


@dataclass
class Product:
    """A product with a shape of its own, counted over the whole tree."""

    name: str
    shape: Any
    count: int = 0

    @cached_property
    def solids(self) -> list[Any]:
        """The solids in traversal order."""
        return solids_of(self.shape)

    @cached_property
    def freeform_share(self) -> float:
        """Share of the faces that are spline surfaces, by number."""
        faces = faces_of(self.shape)
        kinds = [BRepAdaptor_Surface(TopoDS.Face(f), False).GetType() for f in faces]
        freeform = sum(k in _FREEFORM for k in kinds)
        return freeform / len(faces) if faces else 0.0


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


def product_tree(document: Any, named: frozenset[str]) -> Tree:
    """The products of a transferred document.

    Args:
        document: the kernel's document.
        named: the names of the products in the text of the file. The kernel makes up names
            for solids that are items of a product and no products themselves.
    """
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    free = Sequence_TDF_Label()
    tool.GetFreeShapes(free)
    walk = _Walk(named)
    for label in _labels(free):
        walk.visit(label, 1)
    products = {k: p for k, p in walk.tree.products.items() if faces_of(p.shape)}
    return Tree(products, walk.tree.nodes)


class _Walk:
    """Walks the labels of a document from the roots."""

    def __init__(self, named: frozenset[str]) -> None:
        self.named = named
        self.tree = Tree()

    def visit(self, label: Any, times: int) -> None:
        """Count a label and everything under it."""
        key = _key(label)
        if not XCAFDoc_ShapeTool.IsAssembly_s(label):
            self._count(key, _name(label), XCAFDoc_ShapeTool.GetShape_s(label), times)
            return
        first = key not in self.tree.nodes
        node = self.tree.nodes.setdefault(key, Node(_name(label)))
        node.count += times
        own: list[Any] = []
        counted: dict[str, tuple[Any, int]] = {}
        for child, place in _components(label):
            if self._is_item(child):
                own.append(XCAFDoc_ShapeTool.GetShape_s(child).Moved(place))
                continue
            child_key = _key(child)
            counted[child_key] = (child, counted.get(child_key, (child, 0))[1] + 1)
            if first and not XCAFDoc_ShapeTool.IsAssembly_s(child):
                node.children.append((child_key, place))
        if own:
            own_key = f"{key}/own"
            self._count(own_key, node.name, own[0] if len(own) == 1 else compound_of(own), times)
            if first:
                node.children.append((own_key, TopLoc_Location()))
        for child, n in counted.values():
            self.visit(child, times * n)

    def _is_item(self, label: Any) -> bool:
        """True for a shape that belongs to the product above it and is no product itself."""
        name = _name(label)
        return name in _MADE_UP and name not in self.named

    def _count(self, key: str, name: str, shape: Any, times: int) -> None:
        if key not in self.tree.products:
            self.tree.products[key] = Product(name, shape)
        self.tree.products[key].count += times


def _components(label: Any) -> list[tuple[Any, Any]]:
    """(label referred to, place) of the components of an assembly."""
    components = Sequence_TDF_Label()
    XCAFDoc_ShapeTool.GetComponents_s(label, components, False)
    found = []
    for component in _labels(components):
        child = TDF_Label()
        if XCAFDoc_ShapeTool.GetReferredShape_s(component, child):
            found.append((child, XCAFDoc_ShapeTool.GetLocation_s(component)))
    return found


def compound_of(shapes: list[Any]) -> Any:
    """The shapes as one compound, in their order."""
    compound, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(compound)
    for shape in shapes:
        builder.Add(compound, shape)
    return compound


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
    if not label.IsAttribute(TDataStd_Name.GetID_s()):
        return ""  # asking for an attribute that is not there crashes
    attribute = TDataStd_Name()
    label.FindAttribute(TDataStd_Name.GetID_s(), attribute)
    return " ".join(str(attribute.Get().ToExtString()).split())

"""A part made step by step, with the answer kept: which face comes from which tool."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from build123d import Box, Edge, Location, Plane, Pos, Rot, Solid, Vector
from made_parts.cutters import Sizes, Tool
from OCP.BRep import BRep_Tool
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.gp import gp_Pnt
from OCP.TopLoc import TopLoc_Location

from dfmcheck.kernel.facts import part_facts, topology
from dfmcheck.model.facts import PartFacts

NEAR_MM = 1e-4
"""A face lies on a tool's face if its middle is this close to it."""


@dataclass
class Mark:
    """One face of a tool: what it makes, by which tool, and whether it closes its far end."""

    face: object
    name: str
    tool: int
    closes: bool = False


@dataclass
class Answer:
    """What is known of one face of the finished part: names it may bear, and their tools."""

    names: set[str]
    tools: set[int]


@dataclass
class Bench:
    """A block on which tools are used one after the other."""

    title: str
    size: tuple[float, float, float]
    solid: Solid = field(init=False)
    marks: list[Mark] = field(default_factory=list)
    tools: list[tuple[str, Sizes]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.solid = Box(*self.size).solids()[0]
        self.marks = [Mark(f.wrapped, "stock", -1) for f in self.solid.faces()]

    # ---- places: the origin of a tool on one of the block's faces

    def top(self, x: float = 0.0, y: float = 0.0, turn: float = 0.0) -> Location:
        return Pos(x, y, self.size[2] / 2) * Rot(0, 0, turn)

    def bottom(self, x: float = 0.0, y: float = 0.0, turn: float = 0.0) -> Location:
        return Pos(x, y, -self.size[2] / 2) * Rot(180, 0, 0) * Rot(0, 0, turn)

    def front(self, x: float = 0.0, z: float = 0.0, turn: float = 0.0) -> Location:
        plane = Plane((x, -self.size[1] / 2, z), x_dir=(1, 0, 0), z_dir=(0, -1, 0))
        return Location(plane) * Rot(0, 0, turn)

    def right(self, y: float = 0.0, z: float = 0.0, turn: float = 0.0) -> Location:
        plane = Plane((self.size[0] / 2, y, z), x_dir=(0, 1, 0), z_dir=(1, 0, 0))
        return Location(plane) * Rot(0, 0, turn)

    # ---- work

    def use(self, tool: Tool, where: Location) -> "Bench":
        """Cut (or add) a tool at a place."""
        placed = tool.placed(where)
        number = len(self.tools)
        self.tools.append((tool.kind, tool.sizes))
        result = self.solid + placed.solid if tool.add else self.solid - placed.solid
        solids = result.solids()
        assert len(solids) == 1, f"{self.title}: the part fell apart"
        self.solid = solids[0]
        self.marks += [
            Mark(f.wrapped, n, number, e)
            for f, n, e in zip(placed.solid.faces(), placed.names, placed.closes, strict=True)
        ]
        return self

    def round_off(self, radius: float, pick: Callable[[Edge], bool], side: str) -> "Bench":
        """Round edges; the faces this makes are fillets, outside or inside."""
        self.solid = _alone(self.solid)
        edges = [e for e in self.solid.edges() if pick(e)]
        return self._blended(self.solid.fillet(radius, edges), f"fillet {side}")

    def bevel(self, width: float, pick: Callable[[Edge], bool]) -> "Bench":
        """Chamfer edges."""
        self.solid = _alone(self.solid)
        edges = [e for e in self.solid.edges() if pick(e)]
        return self._blended(self.solid.chamfer(width, None, edges), "chamfer")

    def _blended(self, result: Solid, name: str) -> "Bench":
        number = len(self.tools)
        self.tools.append((name.split(maxsplit=1)[0], {}))
        fresh = [
            f.wrapped for f in result.faces() if not self._found(_middle(f.wrapped), self.marks)
        ]
        assert fresh, f"{self.title}: nothing was blended"
        self.solid = result
        self.marks += [Mark(f, name, number) for f in fresh]
        return self

    # ---- the answer

    def facts(self) -> PartFacts:
        """Facts of the finished part."""
        return part_facts(self.solid.wrapped, name=self.title)

    def answers(self) -> list[Answer]:
        """For each face in traversal order, what it may be called."""
        faces, _, _ = topology(self.solid.wrapped)
        found = [self._found(_middle(face), self.marks) for face in faces]
        assert all(found), f"{self.title}: a face comes from no tool"
        closed = {m.tool for marks in found for m in marks if m.closes}
        return [
            Answer(
                {n for m in marks for n in _ends(m.name, m.tool in closed)},
                {m.tool for m in marks},
            )
            for marks in found
        ]

    @staticmethod
    def _found(point: gp_Pnt, marks: Iterable[Mark]) -> list[Mark]:
        vertex = BRepBuilderAPI_MakeVertex(point).Vertex()
        return [
            m for m in marks
            if BRepExtrema_DistShapeShape(vertex, m.face).Value() < NEAR_MM
        ]  # fmt: skip


def _alone(solid: Solid) -> Solid:
    """The same solid without memory of the compound it came from."""
    return Solid(solid.wrapped)


def _middle(face: object) -> gp_Pnt:
    """A point well inside a face: the middle of its greatest triangle, put onto the face."""
    BRepMesh_IncrementalMesh(face, 0.2, False, 0.3, False)
    where = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, where)
    best, middle = -1.0, Vector()
    for k in range(1, mesh.NbTriangles() + 1):
        a, b, c = (
            Vector(*_xyz(mesh.Node(n).Transformed(where.Transformation())))
            for n in mesh.Triangle(k).Get()
        )
        area = (b - a).cross(c - a).length
        if area > best:
            best, middle = area, (a + b + c) * (1 / 3)
    vertex = BRepBuilderAPI_MakeVertex(gp_Pnt(*middle)).Vertex()
    nearest = BRepExtrema_DistShapeShape(vertex, face)
    return nearest.PointOnShape2(1)


def _xyz(p: gp_Pnt) -> tuple[float, float, float]:
    return p.X(), p.Y(), p.Z()


OPENED = {"hole blind": "hole through", "pocket": "pocket through", "slot blind": "slot"}
"""What a feature becomes when nothing is left of its far end."""


def _ends(name: str, closed: bool) -> set[str]:
    return {name} if closed or name not in OPENED else {name, OPENED[name]}


# ---- picking edges


def upright(edge: Edge) -> bool:
    """Vertical straight edges."""
    d = edge.tangent_at(0.5)
    return edge.geom_type.name == "LINE" and abs(d.Z) > 0.999


def outer_upright(bench: Bench) -> Callable[[Edge], bool]:
    """Vertical edges at the corners of the block."""
    a, b = bench.size[0] / 2, bench.size[1] / 2

    def pick(e: Edge) -> bool:
        c = e.center()
        return upright(e) and abs(abs(c.X) - a) < 1e-6 and abs(abs(c.Y) - b) < 1e-6

    return pick


def at_height(z: float) -> Callable[[Edge], bool]:
    """Edges that lie flat at a height."""

    def pick(e: Edge) -> bool:
        return all(abs(e.position_at(t).Z - z) < 1e-4 for t in (0.0, 0.25, 0.5, 1.0))

    return pick


def both(*picks: Callable[[Edge], bool]) -> Callable[[Edge], bool]:
    """Edges that all of these pick."""
    return lambda e: all(p(e) for p in picks)


def round_edge(radius: float) -> Callable[[Edge], bool]:
    """Circles of a radius."""
    return lambda e: e.geom_type.name == "CIRCLE" and abs(e.radius - radius) < 1e-4


def on_outline(bench: Bench) -> Callable[[Edge], bool]:
    """Straight edges on the block's four upright sides."""
    a, b = bench.size[0] / 2, bench.size[1] / 2

    def pick(e: Edge) -> bool:
        c = e.center()
        side = abs(abs(c.X) - a) < 1e-6 or abs(abs(c.Y) - b) < 1e-6
        return side and e.geom_type.name == "LINE"

    return pick

"""Whether a reading may be trusted: the kernel's fails, open and invalid shapes, odd sizes."""

from typing import Any

from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.ShapeAnalysis import ShapeAnalysis_ShapeTolerance

from dfmcheck.kernel.mesh import Mesh
from dfmcheck.kernel.network import Network

MESH_VOLUME = 0.03
"""Largest share by which the volume of the mesh may differ from that of the solid: a ball meshed
at 0.3 rad loses 1.2 %."""

_NOTES = (
    "StepVisual_",
    "StepAP242_",
    "StepDimTol_",
    "StepKinematics_",
    "StepRepr_PropertyDefinition",
    "StepRepr_MechanicalDesign",
    "StepRepr_IntegerRepresentationItem",
    "StepRepr_RealRepresentationItem",
    "StepRepr_DescriptiveRepresentationItem",
    "StepRepr_MeasureRepresentationItem",
    "StepRepr_ValueRepresentationItem",
    "StepBasic_GeneralProperty",
)

GAP_MM = 0.03
GAP_RATIO = 1e-4
"""Edges and corners may miss their faces by so much, absolutely or by the part's diagonal. Sound
files show up to 0.01 mm on a part of a metre."""


def fails(checks: Any) -> list[tuple[int, str]]:
    """(number of the entity, message) of every fail in a list of checks of the kernel."""
    found: list[tuple[int, str]] = []
    checks.Start()
    while checks.More():
        check = checks.Value()
        number = checks.Number()
        found += [(number, str(check.CFail(i))) for i in range(1, check.NbFails() + 1)]
        checks.Next()
    return found


def text_doubts(network: Network) -> list[str]:
    """Doubts about a file whose entities do not hang together."""
    doubts: list[str] = []
    missing = network.unresolved()
    if missing:
        line = network.line_of_reference(missing[0])
        doubts.append(
            f"it refers to {_counted(len(missing), 'entity', 'entities')} that it does not hold "
            f"(#{missing[0]}, line {line})"
        )
    strange = network.strange()
    if strange:
        doubts.append(f"its text is damaged: {_counted(strange, 'byte', 'bytes')} of garbage in it")
    lost = network.unplaced()
    if lost:
        doubts.append(
            f"{_counted(len(lost), 'part of its assemblies has', 'parts of its assemblies have')} "
            f"lost the place (#{lost[0]}, line {network.line_of(lost[0])})"
        )
    twice = network.doubled()
    if twice:
        doubts.append(
            f"{_counted(len(twice), 'number of an entity is', 'numbers of entities are')} "
            f"given twice (#{twice[0]})"
        )
    return doubts


def load_doubts(checks: Any, network: Network, model: Any) -> list[str]:
    """Doubts about a file in which the kernel could not make sense of entities.

    Args:
        checks: the kernel's list of checks.
        network: the entities by the text.
        model: the kernel's model of the file.
    """
    found = [(k, text) for k, text in fails(checks) if not _is_note(model, k)]
    if not found:
        return []
    order = network.defined
    if len(order) == model.NbEntities():
        numbers = [int(order[k - 1]) if 0 < k <= len(order) else 0 for k, _ in found]
        hit = sorted({n for n in numbers if n == 0 or n in network.shape_entities})
    else:
        hit = [0]
    if not hit:
        return []
    if hit[0] == 0:
        return ["its text breaks the rules of ISO 10303-21"]
    which = _counted(len(hit), "entity that its shape is built on breaks", "")
    if len(hit) > 1:
        which = f"{len(hit)} entities that its shape is built on break"
    return [f"{which} the rules of ISO 10303 (#{hit[0]}, line {network.line_of(hit[0])})"]


def _is_note(model: Any, number: int) -> bool:
    """True for entities that carry notes, tolerances or looks and no shape."""
    if not 0 < number <= model.NbEntities():
        return False
    return str(model.Value(number).DynamicType().Name()).startswith(_NOTES)


def transfer_doubts(checks: Any) -> list[str]:
    """Doubts about a file of which the kernel could not build everything."""
    found = {number for number, _ in fails(checks)}
    if not found:
        return []
    return [f"{_counted(len(found), 'entity', 'entities')} of its shape could not be built"]


def solid_doubts(solids: tuple[Any, ...], diagonal_mm: float) -> list[str]:
    """Doubts about the solids of a part: none, invalid, or with gaps that were bridged.

    Args:
        solids: the kernel solids.
        diagonal_mm: the diagonal of the part's box.
    """
    if not solids:
        return ["it is a skin of faces and no closed solid"]
    doubts: list[str] = []
    if not all(BRepCheck_Analyzer(s).IsValid() for s in solids):
        doubts.append("the geometry kernel finds faults in its solid")
    gap = max(ShapeAnalysis_ShapeTolerance().Tolerance(s, 1) for s in solids)
    if gap > max(GAP_MM, GAP_RATIO * diagonal_mm):
        doubts.append(f"its faces and edges miss each other by up to {gap:.2g} mm")
    return doubts


def lost_face_doubts(listed: int, built: int) -> list[str]:
    """Doubts about a part of which the file lists more faces than were built."""
    if built >= listed:
        return []
    return [f"{listed - built} of its {listed} faces were lost"]


def _counted(n: int, one: str, many: str) -> str:
    return f"{n} {one if n == 1 else many}"


def disagree(mesh_mm3: float, solid_mm3: float) -> bool:
    """True where a mesh does not enclose the volume of its solid."""
    return abs(mesh_mm3 - solid_mm3) > MESH_VOLUME * abs(solid_mm3)


def open_doubts(edges: int) -> list[str]:
    """Doubts about a part with edges that belong to one face only."""
    if not edges:
        return []
    what = "edge belongs" if edges == 1 else "edges belong"
    return [f"its skin is open: {edges} {what} to one face only"]


def size_doubts(
    volume_mm3: float, area_mm2: float, box_mm: tuple[float, float, float], mesh: Mesh | None
) -> list[str]:
    """Doubts about a part from its measures alone."""
    doubts: list[str] = []
    if volume_mm3 <= 0.0:
        doubts.append("its solid is inside out or empty: its volume is not above zero")
        return doubts
    box = box_mm[0] * box_mm[1] * box_mm[2]
    if volume_mm3 > box * 1.001 + 1e-6:
        doubts.append("its solid has more volume than the box around it")
    # of all bodies the ball has the least area for its volume: A^3 >= 36 pi V^2
    if area_mm2**3 < 113.09 * volume_mm3**2 * 0.999:
        doubts.append("its faces have less area than its volume needs")
    if mesh is not None and disagree(mesh.volume_mm3, volume_mm3):
        doubts.append("its faces do not enclose the volume that its solid claims")
    longest = max(box_mm)
    if longest > 20_000.0:
        doubts.append(f"it is {longest / 1000:.0f} m long: the unit of the file may be wrong")
    elif longest < 0.5:
        doubts.append(f"it is only {longest:.2g} mm long: the unit of the file may be wrong")
    return doubts

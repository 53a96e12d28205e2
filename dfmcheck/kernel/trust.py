"""Whether a reading may be trusted: the kernel's fails, open and invalid shapes, odd sizes."""

from typing import Any

from dfmcheck.kernel.mesh import Mesh

MESH_VOLUME = 0.03
"""Largest share by which the volume of the mesh may differ from that of the solid: a ball meshed
at 0.3 rad loses 1.2 %."""


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

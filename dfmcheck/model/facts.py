"""Facts: what the kernel measured in a STEP file, before any interpretation.

All lengths in mm, places and directions in the part's own axes (the product's coordinate
system in the file), whatever unit the file declares.
"""

from typing import Literal

from dfmcheck.model.base import Value, Vec

SurfaceKind = Literal["plane", "cylinder", "cone", "sphere", "torus", "freeform"]
Bend = Literal["flat", "inside", "outside", "mixed"]
CurveKind = Literal["line", "circle", "ellipse", "other"]
Convexity = Literal["convex", "concave", "tangent", "seam", "open"]


class Frame(Value, frozen=True):
    """The canonical frame of a part, given in the part's own axes.

    `x`, `y`, `z` are right-handed unit directions; `low_mm` and `high_mm` bound the part in
    the coordinates (p·x, p·y, p·z), so that the canonical box is high - low.
    """

    x: Vec
    y: Vec
    z: Vec
    low_mm: Vec
    high_mm: Vec

    @property
    def size_mm(self) -> Vec:
        """Edges of the box along x, y and z of this frame."""
        low, high = self.low_mm, self.high_mm
        return (high[0] - low[0], high[1] - low[1], high[2] - low[2])


class Edge(Value, frozen=True):
    """One edge, not counted twice: seam and degenerate edges carry their own convexity.

    `angle_deg` is the angle of the material between the two faces seen across the edge: less
    than 180 on a convex edge, more on a concave one, 180 where they are tangent.
    `faces` holds the two neighbours (twice the same for a seam, one for an open edge).
    """

    index: int
    faces: tuple[int, ...]
    curve: CurveKind
    length_mm: float
    convexity: Convexity
    angle_deg: float
    start: Vec
    middle: Vec
    end: Vec
    centre: Vec | None = None
    axis: Vec | None = None
    radius_mm: float | None = None


class Face(Value, frozen=True):
    """One face in traversal order, with the parameters of its carrier surface.

    `normal` points out of the material, at a point in the middle of the face. `bend` is "inside"
    where the material lies outside the curve (a bore, an inside fillet), "outside" where it is
    convex (a shaft, a rounded edge), "mixed" for saddles. For cylinders, cones, tori and spheres
    `axis_point` is the point of the axis nearest to the part's centroid (the centre for tori and
    spheres); `along_mm` are the limits along the axis measured from `axis_point`; `span_deg` the
    angle covered about the axis. `radius_mm` is the cylinder's, sphere's or the torus' major
    radius; `minor_radius_mm` the torus' tube; for cones `radii_mm` are the radii at both ends of
    `along_mm` and `half_angle_deg` the half angle. `curvature_radius_mm` is the least radius of
    curvature on the concave side of a freeform face (None where it has no concave side). `loops`
    lists edge indices, the outer loop first. `low_mm`, `high_mm` bound the face in the coordinates
    of the part's canonical frame. `wall_mm` is the least thickness of metal met behind the face
    and `wall_face` the face reached; `gap_mm` the least free distance in front of it and
    `gap_face` the face reached. `line` is the line of the face's entity in the STEP file and
    `entity` its number. `fingerprint` does not change under rigid motion, re-export or
    renumbering. `swept` is set for a freeform face that is a surface of revolution ("revolved",
    about `axis` through `axis_point`) or a curve drawn along `axis` ("extruded").
    """

    index: int
    surface: SurfaceKind
    bend: Bend
    area_mm2: float
    centroid: Vec
    normal: Vec
    low_mm: Vec
    high_mm: Vec
    loops: tuple[tuple[int, ...], ...]
    fingerprint: str
    axis: Vec | None = None
    axis_point: Vec | None = None
    radius_mm: float | None = None
    minor_radius_mm: float | None = None
    half_angle_deg: float | None = None
    along_mm: tuple[float, float] | None = None
    radii_mm: tuple[float, float] | None = None
    span_deg: float | None = None
    curvature_radius_mm: float | None = None
    wall_mm: float | None = None
    wall_face: int | None = None
    gap_mm: float | None = None
    gap_face: int | None = None
    line: int | None = None
    entity: int | None = None
    swept: Literal["revolved", "extruded"] | None = None


class TurningFacts(Value, frozen=True):
    """How the part fills space about its best turning axis.

    `outer` and `inner` are profiles of (z from `axis_point` along `axis`, radius) in mm that bound
    the body of revolution which encloses the part; `ratio` is the part's volume over that body's.
    `turned_ratio` is the share of free space inside the enclosing cylinder that is free over the
    whole turn (f(r, z) = 1): near 1 where turning alone makes the part. `round_area_ratio` is the
    share of the part's area on faces of revolution about the axis.
    """

    axis: Vec
    axis_point: Vec
    length_mm: float
    diameter_mm: float
    ratio: float
    turned_ratio: float
    round_area_ratio: float
    outer: tuple[tuple[float, float], ...]
    inner: tuple[tuple[float, float], ...]


class RemovalRow(Value, frozen=True):
    """One row of the removals table: free cells that see the same faces and reach codes.

    `faces` are the six faces seen along -x, +x, -y, +y, -z, +z of the canonical frame (-1 = open).
    """

    faces: tuple[int, int, int, int, int, int]
    reach: tuple[int, ...]
    volume_mm3: float
    depth_mm: tuple[float, ...]


class PartFacts(Value, frozen=True):
    """One part: a product of the file, or the overlapping solids of one product.

    `box_mm` are the edges of the box along the file's own axes. `count` says how often equal parts
    occur in the file; `solids` how many solids it was made of. `closed` is False if a shell is
    open; `doubts` are sentences that make the reading untrustworthy. `principal_mm5` are the
    principal moments of inertia of the volume at unit density (mm^5), ascending. `fingerprint`
    does not change under rigid motion, re-export or renumbering.
    """

    name: str
    count: int
    solids: int
    closed: bool
    volume_mm3: float
    area_mm2: float
    centroid: Vec
    principal_mm5: Vec
    box_mm: Vec
    box_low_mm: Vec
    frame: Frame
    faces: tuple[Face, ...]
    edges: tuple[Edge, ...]
    fingerprint: str
    turning: TurningFacts | None = None
    removals: tuple[RemovalRow, ...] | None = None
    doubts: tuple[str, ...] = ()


class FileFacts(Value, frozen=True):
    """Everything read from one STEP file.

    `unit` is the length unit the file declares ("mm", "inch", "m" …), `units` all of them;
    `doubts` concern the file as a whole: with any of them the parts are not to be trusted.
    """

    schema: str
    unit: str
    units: tuple[str, ...]
    originating_system: str
    time_stamp: str
    parts: tuple[PartFacts, ...]
    doubts: tuple[str, ...] = ()


class NotRead(Value, frozen=True):
    """The clear answer for a file that could not be read.

    `reason` completes the sentence "not read: …"; `kind` says at which stage; `remedy` what to do.
    """

    kind: Literal[
        "damaged",
        "empty",
        "not-step",
        "lfs-pointer",
        "no-solid",
        "crash",
        "timeout",
        "memory",
        "missing",
    ]
    reason: str
    remedy: str

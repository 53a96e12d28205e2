"""Features: what the faces of a part mean in the shop.

Each feature lists its faces by index in traversal order; no face belongs to two features. `id` is
the kind and a running number ("hole-3"), stable for the same bytes. `place` is a point of the
feature (a hole's mouth, a pocket's floor centre, a groove's centre on the axis) and `direction`
points out of the material the way the cutter comes from (for turned features the axis). `of` names
the feature it belongs to (the hole of a counterbore, the pocket of a fillet).
"""

from typing import Literal

from dfmcheck.model.base import Value, Vec

HoleForm = Literal["plain", "counterbored", "countersunk", "stepped"]
Bottom = Literal["none", "flat", "cone", "round", "other"]
Outline = Literal[
    "circular", "obround", "triangular", "rectangular", "hexagonal", "polygonal", "free"
]


class Hole(Value, frozen=True, tag_field="kind", tag="hole"):
    """A drilled, bored or reamed round hole: the narrowest cylinder and its bottom.

    `depth_mm` is the length of the full diameter, and `reach_mm` the distance from the outermost
    mouth (counterbore and countersink counted) to the end of the full diameter, both along the
    axis: a hole that opens into a slanting or a round face begins or ends where its axis passes
    through that face, be it a plane, cylinder, cone or sphere; into any other face, and over a
    step, where its wall ends last. `place` is on the axis in that mouth. `bottom_angle_deg` is the
    whole angle of a cone bottom. `entry_slant_deg` and `exit_slant_deg` are the angles between the
    axis and the normals of the faces entered and left (0 = square on). `interrupted` is True where
    the wall is broken by other features or gaps (coaxial across gaps). `tilted` is True where the
    axis is parallel to no axis of the canonical frame.
    """

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    diameter_mm: float
    depth_mm: float
    reach_mm: float
    through: bool
    form: HoleForm = "plain"
    bottom: Bottom = "none"
    bottom_angle_deg: float | None = None
    entry_slant_deg: float = 0.0
    exit_slant_deg: float = 0.0
    interrupted: bool = False
    tilted: bool = False
    of: str | None = None


class Counterbore(Value, frozen=True, tag_field="kind", tag="counterbore"):
    """A wider, flat-bottomed mouth or step of a hole, coaxial with it."""

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    diameter_mm: float
    depth_mm: float
    of: str | None = None


class Countersink(Value, frozen=True, tag_field="kind", tag="countersink"):
    """A conical mouth of a hole; `diameter_mm` at its wide end, `angle_deg` the whole angle."""

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    diameter_mm: float
    depth_mm: float
    angle_deg: float
    of: str | None = None


class Pocket(Value, frozen=True, tag_field="kind", tag="pocket"):
    """A hollow with walls all round (closed) or nearly so (open); through if it has no floor.

    `walls` counts the plane or large curved walls, corner fillets apart and those in one plane
    once; `corner_radius_mm` is the least inside radius of an axial corner (0 = sharp, None = no
    corner), `floor_radius_mm` the fillet between floor and wall (0 = sharp). `length_mm` >=
    `width_mm` are those of its rectangle; `depth_mm` counts to where its rim would be sharp.
    """

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    length_mm: float
    width_mm: float
    depth_mm: float
    through: bool
    open: bool
    outline: Outline
    walls: int
    corner_radius_mm: float | None = None
    floor_radius_mm: float | None = None
    of: str | None = None


class Slot(Value, frozen=True, tag_field="kind", tag="slot"):
    """A hollow open at one end (blind) or both ends (`through`) between facing walls.

    `profile` is the cross-section: "rectangular", "triangular" (V), "round", "tee", "dovetail",
    "other". `width_mm` is that of the mouth, where the cutter enters; `widest_mm` that of the
    widest part below it, None where nothing is wider than the mouth.
    """

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    length_mm: float
    width_mm: float
    depth_mm: float
    through: bool
    profile: Literal["rectangular", "triangular", "round", "tee", "dovetail", "other"]
    corner_radius_mm: float | None = None
    floor_radius_mm: float | None = None
    of: str | None = None
    widest_mm: float | None = None


class Step(Value, frozen=True, tag_field="kind", tag="step"):
    """Metal taken from an edge or corner of the block.

    `through` runs from side to side; otherwise blind (closed at one end or a corner).
    `slanted` has walls that are not square to the block. `walls` counts its walls, the floor
    apart and those in one plane once; `depth_mm` runs along `direction`, the normal of its floor
    (of the greatest face, where several could be the floor).
    """

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    length_mm: float
    width_mm: float
    depth_mm: float
    through: bool
    slanted: bool
    walls: int
    outline: Outline = "rectangular"
    corner_radius_mm: float | None = None
    floor_radius_mm: float | None = None
    of: str | None = None


class Boss(Value, frozen=True, tag_field="kind", tag="boss"):
    """Metal that stands above the floor around it; `diameter_mm` for round ones."""

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    height_mm: float
    length_mm: float
    width_mm: float
    diameter_mm: float | None = None
    of: str | None = None


class Groove(Value, frozen=True, tag_field="kind", tag="groove"):
    """A ring cut: "outside" on a shaft, "inside" in a bore, "face" in an end face.

    `width_mm` is that of the mouth, along the axis (radially for face grooves), broken edges
    apart; `widest_mm` that of the widest part below it, None where nothing is wider. `depth_mm`
    is measured from the lower shoulder, `diameter_mm` at its bottom (at its middle for face
    grooves).
    """

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    side: Literal["outside", "inside", "face"]
    width_mm: float
    depth_mm: float
    diameter_mm: float
    floor_radius_mm: float | None = None
    of: str | None = None
    widest_mm: float | None = None


class Fillet(Value, frozen=True, tag_field="kind", tag="fillet"):
    """A round between faces: "inside" where a cutter's radius leaves it, "outside" a rounded edge.

    `role` is "corner" along the cutter's axis, "floor" between floor and wall, "edge" outside,
    "other".
    """

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    side: Literal["inside", "outside"]
    role: Literal["corner", "floor", "edge", "other"]
    radius_mm: float
    length_mm: float
    of: str | None = None


class Chamfer(Value, frozen=True, tag_field="kind", tag="chamfer"):
    """A bevelled edge; `width_mm` across the bevel, `angle_deg` to the face it leaves flattest."""

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    width_mm: float
    length_mm: float
    angle_deg: float
    of: str | None = None


class Freeform(Value, frozen=True, tag_field="kind", tag="freeform"):
    """A connected patch of faces that are none of plane, cylinder, cone, sphere, torus."""

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    area_mm2: float
    inside_radius_mm: float | None = None
    of: str | None = None


class Thread(Value, frozen=True, tag_field="kind", tag="thread"):
    """A thread modelled as geometry, helical or as rings."""

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    side: Literal["outside", "inside"]
    form: Literal["helical", "rings"]
    major_diameter_mm: float
    minor_diameter_mm: float
    pitch_mm: float
    length_mm: float
    of: str | None = None


class Knurl(Value, frozen=True, tag_field="kind", tag="knurl"):
    """A knurl modelled as geometry: many small equal faces about a turning axis."""

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    diameter_mm: float
    length_mm: float
    pitch_mm: float
    pattern: Literal["straight", "diagonal", "crossed"]
    of: str | None = None


class Engraving(Value, frozen=True, tag_field="kind", tag="engraving"):
    """A cluster of many small shallow hollows or raised strokes, as of letters."""

    id: str
    faces: tuple[int, ...]
    place: Vec
    direction: Vec
    length_mm: float
    width_mm: float
    depth_mm: float
    narrowest_mm: float
    raised: bool = False
    of: str | None = None


Feature = (
    Hole
    | Counterbore
    | Countersink
    | Pocket
    | Slot
    | Step
    | Boss
    | Groove
    | Fillet
    | Chamfer
    | Freeform
    | Thread
    | Knurl
    | Engraving
)

"""Engraving: clusters of small shallow hollows, or of raised strokes, as of letters."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from dfmcheck.features.axial import points_of
from dfmcheck.features.context import Context
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Edge, Face
from dfmcheck.model.feature import Engraving, Feature
from dfmcheck.model.vector import add, cross, dot, parallel, perpendicular, scale, sub, unit

DEEPEST_MM = 2.0
"""Deeper hollows are pockets. Marking by cutter is 0.1 to 1 mm deep (common practice)."""

WIDEST_STROKE_MM = 3.0
"""Wider strokes are milled as pockets (common practice, no source)."""

STROKE_RATIO = 0.35
"""Stroke over the height of a letter; bold types have 0.2, light ones 0.07 (ISO 3098: 0.1)."""

LARGEST_MM = 40.0
"""A letter or sign is no larger than this."""

LETTER_SIDES = 5
SIGN_SIDES = 12
"""A letter has at least so many sides; a single sign needs more to be told from a pocket."""

NEAR_RATIO = 1.5
"""Letters of one text stand closer than this times the tallest (spaces and lines counted)."""

DEPTH_RATIO = 0.05
MOST_FACES = 600


@dataclass(frozen=True)
class _Base:
    """The surface that carries letters, unrolled: (u, v) on it and height above it, in mm."""

    face: Face
    origin: Vec
    u: Vec
    v: Vec
    normal: Vec
    radius_mm: float | None

    def local(self, p: Vec) -> Vec:
        """(u, v, height) of a point; height is positive outside the material."""
        d = sub(p, self.origin)
        if self.radius_mm is None:
            return (dot(d, self.u), dot(d, self.v), dot(d, self.normal))
        along, a, b = dot(d, self.u), dot(d, self.normal), dot(d, self.v)
        r = math.hypot(a, b)
        out = 1.0 if self.face.bend == "outside" else -1.0
        return (along, self.radius_mm * math.atan2(b, a), out * (r - self.radius_mm))


@dataclass
class _Glyph:
    """One hollow or stroke in the coordinates of its base."""

    base: _Base
    faces: tuple[int, ...]
    raised: bool
    depth_mm: float
    low: tuple[float, float]
    high: tuple[float, float]
    sides: int
    stroke_mm: float
    dot: bool

    @property
    def height_mm(self) -> float:
        """The longer edge of its rectangle."""
        return max(self.high[0] - self.low[0], self.high[1] - self.low[1])

    @property
    def is_letter(self) -> bool:
        """True for an outline with the sides and thin strokes of a letter."""
        return (
            not self.dot
            and self.sides >= LETTER_SIDES
            and self.stroke_mm <= min(WIDEST_STROKE_MM, STROKE_RATIO * self.height_mm)
        )


def find_engraving(context: Context) -> list[Feature]:
    """Texts and signs on plane and cylindrical faces."""
    clusters: list[list[_Glyph]] = []
    for face in context.faces:
        if face.surface not in ("plane", "cylinder") or not context.free(face.index):
            continue
        loops = _inner_loops(context, face)
        if loops:
            base = _base(context, face, loops)
            glyphs = [g for loop in loops if (g := _glyph(context, base, loop)) is not None]
            clusters += [c for c in _clusters(glyphs) if _reads_as_text(c)]
    found: list[Feature] = []
    taken: set[int] = set()
    for cluster in sorted(clusters, key=lambda c: -sum(len(g.faces) for g in c)):
        faces = {f for g in cluster for f in g.faces}
        if not faces & taken:
            taken |= faces
            found.append(_engraving(context, cluster))
    return found


def _base(context: Context, face: Face, loops: list[tuple[int, ...]]) -> _Base:
    if face.surface == "plane" or face.axis is None or face.axis_point is None:
        u = perpendicular(face.normal)
        return _Base(face, face.centroid, u, cross(face.normal, u), face.normal, None)
    out = (0.0, 0.0, 0.0)
    for e in (context.graph.edges[number] for loop in loops for number in loop):
        d = sub(e.middle, face.axis_point)
        out = add(out, unit(sub(d, scale(face.axis, dot(d, face.axis)))))
    ahead = unit(out) if math.hypot(*out) > 1e-6 else perpendicular(face.axis)
    return _Base(face, face.axis_point, face.axis, cross(face.axis, ahead), ahead, face.radius_mm)


def _inner_loops(context: Context, face: Face) -> list[tuple[int, ...]]:
    """Loops inside a face's outline; on a full cylinder its seam may cut through some of them."""
    if face.surface == "plane" or (face.span_deg or 0.0) < 359.0:
        return list(face.loops[1:])
    edges = [context.graph.edges[e] for e in sorted({e for loop in face.loops for e in loop})]
    left = [e for e in edges if e.convexity != "seam" and not _goes_round(e, face)]
    loops: list[tuple[int, ...]] = []
    while left:
        chain = [left.pop(0)]
        queue = list(chain)
        while queue:
            e = queue.pop()
            near = [o for o in left if _meet(e, o)]
            left = [o for o in left if all(o is not n for n in near)]
            chain.extend(near)
            queue.extend(near)
        loops.append(tuple(e.index for e in chain))
    return loops


def _goes_round(edge: Edge, face: Face) -> bool:
    return (
        edge.curve == "circle"
        and edge.axis is not None
        and face.axis is not None
        and parallel(edge.axis, face.axis)
        and abs((edge.radius_mm or 0.0) - (face.radius_mm or 0.0)) < 1e-3
        and math.dist(edge.start, edge.end) < 1e-6
    )


def _meet(a: Edge, b: Edge) -> bool:
    return any(math.dist(p, q) < 1e-4 for p in (a.start, a.end) for q in (b.start, b.end))


def _glyph(context: Context, base: _Base, loop: tuple[int, ...]) -> _Glyph | None:
    """The hollow or stroke inside one inner loop of a base, or None where it is neither."""
    edges = [context.graph.edges[e] for e in loop]
    edges = [e for e in edges if e.convexity != "tangent"]  # to a piece of the same surface
    kinds = {e.convexity for e in edges}
    if kinds not in ({"convex"}, {"concave"}):
        return None
    raised = kinds == {"concave"}
    outline = [base.local(p) for e in edges for p in points_of(e)]
    low = (min(p[0] for p in outline), min(p[1] for p in outline))
    high = (max(p[0] for p in outline), max(p[1] for p in outline))
    if max(high[0] - low[0], high[1] - low[1]) > LARGEST_MM:
        return None
    flood = _flood(context, base, edges, low, high)
    if flood is None:
        return None
    faces, depth = flood
    if (depth > 0.0) != raised or not 0.01 < abs(depth) <= DEEPEST_MM:
        return None
    area = math.fsum(_seen_from_above(base, context.faces[f]) for f in faces)
    rim = math.fsum(e.length_mm for e in edges) + _islands(context, base, faces, set(loop))
    return _Glyph(
        base=base,
        faces=tuple(sorted(faces)),
        raised=raised,
        depth_mm=abs(depth),
        low=low,
        high=high,
        sides=len(edges),
        stroke_mm=2.0 * area / rim if rim > 0.0 else 0.0,
        dot=_is_circle(edges),
    )


def _is_circle(edges: list[Edge]) -> bool:
    centres = {tuple(round(x, 3) for x in e.centre) for e in edges if e.centre is not None}
    return len(centres) == 1 and all(e.curve == "circle" for e in edges)


def _flood(
    context: Context,
    base: _Base,
    edges: list[Edge],
    low: tuple[float, float],
    high: tuple[float, float],
) -> tuple[set[int], float] | None:
    """Faces inside the loop and their greatest height off the base; None where they leave it."""
    graph = context.graph
    queue = [f for e in edges for f in e.faces if f != base.face.index]
    faces: set[int] = set()
    depth = 0.0
    length, width = high[0] - low[0], high[1] - low[1]
    slack = 0.05 + 0.01 * max(length, width)
    largest = 1.5 * (length * width + 2.0 * (length + width) * DEEPEST_MM)
    while queue:
        f = queue.pop()
        if f in faces or _on_base(base, graph.faces[f]):
            continue
        if not context.free(f) or len(faces) >= MOST_FACES or graph.faces[f].area_mm2 > largest:
            return None
        faces.add(f)
        for link in graph.links[f]:
            for p in (link.edge.start, link.edge.middle, link.edge.end):
                u, v, h = base.local(p)
                if abs(h) > DEEPEST_MM + 1e-6 or h * depth < -1e-4:
                    return None
                s = slack + abs(h)  # walls may lean out, as those of letters projected on a shaft
                if not (low[0] - s <= u <= high[0] + s and low[1] - s <= v <= high[1] + s):
                    return None
                depth = h if abs(h) > abs(depth) else depth
            queue.append(link.other)
    return (faces, depth) if faces else None


def _on_base(base: _Base, face: Face) -> bool:
    """True for the base itself and for islands of the same surface, as inside an O."""
    if face.index == base.face.index:
        return True
    if face.surface != base.face.surface or face.bend != base.face.bend:
        return False
    if base.radius_mm is None:
        same = dot(face.normal, base.normal) > 0.9999
        return same and abs(base.local(face.centroid)[2]) < 1e-3
    return (
        face.axis is not None
        and face.axis_point is not None
        and parallel(face.axis, base.u)
        and abs((face.radius_mm or 0.0) - base.radius_mm) < 1e-3
        and math.dist(face.axis_point, base.origin) < 1e-2
    )


def _islands(context: Context, base: _Base, faces: set[int], loop: set[int]) -> float:
    """Length of further rims of the base inside the loop, in mm."""
    rims = {
        link.edge.index: link.edge.length_mm
        for f in faces
        for link in context.graph.links[f]
        if link.edge.index not in loop and _on_base(base, context.faces[link.other])
    }
    return math.fsum(rims[k] for k in sorted(rims))


def _seen_from_above(base: _Base, face: Face) -> float:
    """Area of a face as it shows from outside the base."""
    if base.radius_mm is None:
        return face.area_mm2 * abs(dot(face.normal, base.normal))
    if face.surface == "cylinder" and face.axis is not None and parallel(face.axis, base.u):
        return face.area_mm2
    return 0.0


def _clusters(glyphs: list[_Glyph]) -> list[list[_Glyph]]:
    """Glyphs of one base, one depth and one side that stand close together."""
    left = list(glyphs)
    found: list[list[_Glyph]] = []
    while left:
        cluster = [left.pop(0)]
        queue = list(cluster)
        while queue:
            g = queue.pop()
            near = [o for o in left if _together(g, o)]
            left = [o for o in left if all(o is not n for n in near)]
            cluster.extend(near)
            queue.extend(near)
        found.append(cluster)
    return found


def _together(a: _Glyph, b: _Glyph) -> bool:
    if a.raised != b.raised:
        return False
    if abs(a.depth_mm - b.depth_mm) > DEPTH_RATIO * max(a.depth_mm, b.depth_mm) + 0.005:
        return False
    reach = NEAR_RATIO * max(a.height_mm, b.height_mm)
    return all(a.low[k] - b.high[k] <= reach and b.low[k] - a.high[k] <= reach for k in (0, 1))


def _reads_as_text(cluster: Iterable[_Glyph]) -> bool:
    """True for three signs or more with a letter among them, or one many-sided sign."""
    glyphs = list(cluster)
    letters = [g for g in glyphs if g.is_letter]
    if any(g.sides >= SIGN_SIDES for g in letters):
        return True
    return len(glyphs) >= 3 and len(letters) >= 2


def _engraving(context: Context, cluster: list[_Glyph]) -> Engraving:
    base = cluster[0].base
    low = tuple(min(g.low[k] for g in cluster) for k in (0, 1))
    high = tuple(max(g.high[k] for g in cluster) for k in (0, 1))
    sizes = sorted((high[k] - low[k] for k in (0, 1)), reverse=True)
    place, direction = _middle(base, [(low[k] + high[k]) / 2 for k in (0, 1)])
    raised = cluster[0].raised
    strokes = [g.stroke_mm for g in cluster if not g.dot and g.stroke_mm > 0.0]
    faces = tuple(sorted(f for g in cluster for f in g.faces))
    return Engraving(
        id=context.new_id("engraving"),
        faces=faces,
        place=place,
        direction=direction,
        length_mm=sizes[0],
        width_mm=sizes[1],
        depth_mm=max(g.depth_mm for g in cluster),
        narrowest_mm=_narrowest(context, faces, raised, min(strokes, default=0.0)),
        raised=raised,
    )


def _middle(base: _Base, at: list[float]) -> tuple[Vec, Vec]:
    """The point of the base at (u, v), and the direction out of the material there."""
    if base.radius_mm is None:
        return add(base.origin, add(scale(base.u, at[0]), scale(base.v, at[1]))), base.normal
    turn = at[1] / base.radius_mm
    ahead = add(scale(base.normal, math.cos(turn)), scale(base.v, math.sin(turn)))
    place = add(base.origin, add(scale(base.u, at[0]), scale(ahead, base.radius_mm)))
    return place, ahead if base.face.bend == "outside" else scale(ahead, -1.0)


def _narrowest(context: Context, faces: Iterable[int], raised: bool, stroke_mm: float) -> float:
    """The narrowest stroke: the kernel's gap or wall where it is no more than the mean width."""
    inside = set(faces)
    measured: list[float] = []
    for f in inside:
        face = context.faces[f]
        across = face.wall_face if raised else face.gap_face
        value = face.wall_mm if raised else face.gap_mm
        if value is not None and across in inside and value >= 0.2 * stroke_mm:
            measured.append(value)
    return min([stroke_mm, *measured])

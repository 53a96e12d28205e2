"""Rules about walls: metal that bends away from the cutter."""

from collections.abc import Iterator

from dfmcheck.api import Face, Limit, Part, Remark, View, kind_of, rule
from dfmcheck_rules.words import PRACTICE, num, number

_NO_WALLS = ("thread", "knurl", "engraving", "chamfer")
"""Features whose faces stand close together by nature."""


@rule(
    name="thin-wall",
    title="thin wall",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="wall",
            default=0.8,
            unit="mm",
            sense="least",
            source=PRACTICE,
            meaning="thickness of a wall of metal",
        ),
    ),
)
def thin_wall(view: View) -> Iterator[Remark]:
    """A thin wall bends away from the cutter and springs back behind it.

    It comes out thicker than drawn, wavy, and with chatter marks. The shop takes light cuts,
    leaves the wall thick until the end, supports it, or turns a jaw for it, and still scraps
    some. High walls suffer at greater thickness than low ones. Holes drilled close to a side
    break out. Threads, knurls, engravings and chamfers are passed over.

    Limit: 0.8 mm (common practice, no source).
    """
    for pair, thickness in _walls(view.part, view.limit("wall")):
        yield Remark(
            message=f"wall {num(thickness)} thick{_between(view.part, pair)}",
            cost="it bends away from the cutter: light cuts, support, scrap",
            advice="thicken the wall, or lower it",
            limit="wall",
            measured=thickness,
            faces=tuple(sorted(set(pair))),
        )


_Pair = tuple[int, int]


def _walls(part: Part, limit_mm: float | None) -> list[tuple[_Pair, float]]:
    """Walls below the limit as pairs of faces with their thickness, each at its thinnest.

    A corner or an end of a wall has faces of its own: a pair is left out where a neighbouring
    pair, whose faces are the same or meet these in an edge, is thinner.
    """
    faces = part.facts.faces
    passed = _thin_by_nature(part)
    walls: dict[_Pair, float] = {}
    for face in faces:
        other = face.wall_face
        if face.wall_mm is None or other is None or not 0 <= other < len(faces):
            continue
        if limit_mm is not None and face.wall_mm >= limit_mm:
            continue
        if face.index in passed or other in passed or not _opposed(face, faces[other]):
            continue
        pair = (min(face.index, other), max(face.index, other))
        walls[pair] = min(face.wall_mm, walls.get(pair, face.wall_mm))
    near = {i: {i} for i in range(len(faces))}
    for edge in part.facts.edges:
        for i in edge.faces:
            near[i].update(edge.faces)

    def thickness(pair: _Pair) -> tuple[float, _Pair]:
        return (round(walls[pair], 3), pair)

    def neighbours(pair: _Pair) -> Iterator[_Pair]:
        for i in near[pair[0]]:
            for j in near[pair[1]]:
                other = (min(i, j), max(i, j))
                if other in walls:
                    yield other

    return sorted(
        (pair, walls[pair])
        for pair in walls
        if all(thickness(other) >= thickness(pair) for other in neighbours(pair))
    )


def _thin_by_nature(part: Part) -> set[int]:
    return {i for f in part.features if kind_of(f) in _NO_WALLS for i in f.faces}


def _opposed(one: Face, other: Face) -> bool:
    """False for two planes that meet in a wedge, whose thickness goes to nothing by nature."""
    if one.surface != "plane" or other.surface != "plane":
        return True
    return sum(a * b for a, b in zip(one.normal, other.normal, strict=True)) < -0.5


def _between(part: Part, pair: tuple[int, int]) -> str:
    names = sorted({kind_of(f) for f in part.features if set(f.faces) & set(pair)})
    return f" beside {' and '.join(names)}" if names else ""


@rule(
    name="wall-thinner",
    title="wall became thinner",
    level="warning",
    looks_at="change",
    limits=(
        Limit(
            name="thinned_wall",
            default=1.5,
            unit="mm",
            sense="least",
            source=PRACTICE,
            meaning="thickness to which a wall may be thinned",
        ),
    ),
)
def wall_thinner(view: View) -> Iterator[Remark]:
    """The stiffness of a wall falls with the third power of its thickness.

    A wall of half the thickness bends eight times as far under the same cutter. Above about one
    and a half millimetres that hardly matters in metal; below, each tenth is felt in lighter
    cuts, chatter and scrap. Threads, knurls, engravings and chamfers are passed over.

    Limit: 1.5 mm after the change (common practice, no source).
    """
    passed = _thin_by_nature(view.part)
    for change in view.changes("wall-thinner"):
        before, after = number(change.before), number(change.after)
        if after is None or passed & set(change.faces_after):
            continue
        was = f"{num(before)} -> " if before is not None else ""
        yield Remark(
            message=f"wall {was}{num(after)} thick",
            cost="it bends further away from the cutter",
            advice="keep the former thickness if weight does not ask for the new one",
            limit="thinned_wall",
            measured=after,
            before_value=before,
            faces=change.faces_after,
        )


RULES = (thin_wall, wall_thinner)

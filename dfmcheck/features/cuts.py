"""Cuts: a hollow taken apart into the single pockets, slots and steps that make it up.

A hollow whose floors lie at several levels holds several cuts; walls that stand on one level
but are parted by outside edges are put together only where they look at each other.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from dfmcheck.features.angles import angles_about, widest_gap_deg
from dfmcheck.features.blends import Blend
from dfmcheck.features.contacts import Contacts, contacts
from dfmcheck.features.gaps import carriers, cut_apart, overlap
from dfmcheck.features.graph import Graph, straight
from dfmcheck.features.hollows import back_to_back
from dfmcheck.features.openings import Hollow
from dfmcheck.model.base import Vec
from dfmcheck.model.facts import Face
from dfmcheck.model.vector import cross, dot, unit

SLOT_SPREAD_DEG = 150.0
"""Walls whose normals differ by this much look at each other."""


@dataclass
class Cut:
    """One pocket, slot or step before it is named.

    `chains` are sets of walls joined over inside edges; walls of different chains look at
    each other.
    """

    direction: Vec
    floors: tuple[int, ...]
    chains: tuple[tuple[int, ...], ...]
    blends: tuple[int, ...] = ()
    ring: bool = False
    undercut: bool = False
    vee: bool = False
    closed: bool = False
    spreads: tuple[float, ...] = field(default=())

    @property
    def walls(self) -> tuple[int, ...]:
        """All walls, ascending."""
        return tuple(sorted(f for c in self.chains for f in c))

    @property
    def faces(self) -> tuple[int, ...]:
        """Floors and walls, ascending; blends apart."""
        return tuple(sorted((*self.floors, *self.walls)))


class Union:
    """Sets of numbers that are merged step by step."""

    def __init__(self, members: Iterable[int]) -> None:
        """Each member alone."""
        self.root = {m: m for m in members}

    def find(self, m: int) -> int:
        """The lowest member of the set."""
        while self.root[m] != m:
            self.root[m] = self.root[self.root[m]]
            m = self.root[m]
        return m

    def join(self, a: int, b: int) -> None:
        """Merge the sets of two members."""
        x, y = self.find(a), self.find(b)
        if x != y:
            self.root[max(x, y)] = min(x, y)

    def sets(self) -> list[tuple[int, ...]]:
        """The sets, each ascending, in the order of their lowest member."""
        groups: dict[int, list[int]] = {}
        for m in sorted(self.root):
            groups.setdefault(self.find(m), []).append(m)
        return [tuple(g) for _, g in sorted(groups.items())]


def cuts(graph: Graph, blends: dict[int, Blend], hollow: Hollow) -> list[Cut]:
    """The cuts that make up a hollow, in the order of their lowest face."""
    if hollow.ring or hollow.vee:
        spreads = (360.0 if hollow.ring else 180.0,)
        whole = Cut(hollow.direction, (), (hollow.walls,), hollow.blends, spreads=spreads)
        whole.ring, whole.vee = hollow.ring, hollow.vee
        return [whole]
    if hollow.undercut:
        spread = _spread(graph, hollow.direction, hollow.walls)
        return [
            Cut(
                hollow.direction, hollow.floors, (hollow.walls,), hollow.blends,
                undercut=True, spreads=(spread,),
            )
        ]  # fmt: skip
    near = contacts(graph, blends, hollow)
    result: list[Cut] = []
    for floors, walls in _levels(graph, hollow, near):
        result.extend(_level_cuts(graph, hollow, floors, walls, near))
    result = _without_ledges(result, near)
    _share_blends(graph, hollow, result)
    return result


def _without_ledges(found: list[Cut], near: Contacts) -> list[Cut]:
    """Floors without walls of their own go to the cut whose walls they lie against."""
    walled = [c for c in found if c.chains]
    if not walled:
        return found
    owner = {w: c for c in walled for w in c.walls}
    for ledge in (c for c in found if not c.chains):
        lengths: dict[int, float] = {}
        for f in ledge.floors:
            for w, length in near[f].items():
                if w in owner:
                    n = walled.index(owner[w])
                    lengths[n] = lengths.get(n, 0.0) + length
        if lengths:
            best = walled[max(lengths, key=lambda n: (round(lengths[n], 3), -n))]
            best.floors = tuple(sorted((*best.floors, *ledge.floors)))
        else:
            walled.append(ledge)
    return walled


def _levels(
    graph: Graph, hollow: Hollow, near: Contacts
) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Floors that hang together with the walls that stand on them."""
    if not hollow.floors:
        return [((), hollow.walls)]
    union = Union(hollow.floors)
    for f in hollow.floors:
        for other in near[f]:
            if other in union.root:
                union.join(f, other)
    for group in carriers(graph, hollow.floors):
        for f in group[1:]:
            union.join(group[0], f)
    levels = union.sets()
    bare = _bare(hollow, near)
    standing = tuple(w for w in hollow.walls if w not in bare)
    found = (
        [(levels[0], standing)] if len(levels) == 1 else _deal_walls(standing, near, levels, union)
    )
    return [*found, ((), tuple(sorted(bare)))] if bare else found


def _bare(hollow: Hollow, near: Contacts) -> set[int]:
    """Walls that no inside edge connects to a floor: they go right through, beside the others."""
    reached = set(hollow.floors)
    queue = list(reached)
    while queue:
        for other in near[queue.pop()]:
            if other not in reached:
                reached.add(other)
                queue.append(other)
    return set(hollow.walls) - reached if hollow.closed else set()


def _deal_walls(
    walls: tuple[int, ...], near: Contacts, levels: list[tuple[int, ...]], union: Union
) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Each wall to the floor it meets along the greatest length; others to their neighbours'."""
    level_of: dict[int, int] = {}
    waiting = []
    for w in walls:
        lengths: dict[int, float] = {}
        for f, length in near[w].items():
            if f in union.root:
                root = union.find(f)
                lengths[root] = lengths.get(root, 0.0) + length
        if lengths:
            level_of[w] = max(lengths, key=lambda r: (round(lengths[r], 3), -r))
        else:
            waiting.append(w)
    while waiting:
        left = []
        for w in waiting:
            known = [level_of[o] for o in near[w] if o in level_of]
            if known:
                level_of[w] = known[0]
            else:
                left.append(w)
        if len(left) == len(waiting):
            for w in left:
                level_of[w] = union.find(levels[0][0])
            break
        waiting = left
    return [(floors, tuple(w for w in walls if level_of[w] == floors[0])) for floors in levels]


def _level_cuts(
    graph: Graph,
    hollow: Hollow,
    floors: tuple[int, ...],
    walls: tuple[int, ...],
    near: Contacts,
) -> list[Cut]:
    """The cuts on one level: chains of walls, joined where they look at each other."""
    if not walls:
        return [Cut(hollow.direction, floors, ())] if floors else []
    chains = _chains(graph, walls, near)
    spreads = {c: _spread(graph, hollow.direction, c) for c in chains}
    if hollow.closed:
        sets = [tuple(range(len(chains)))]
    else:
        sets = _grouped(graph, hollow.direction, chains)
        sets = _with_shoulders(graph, walls, chains, spreads, sets)
    owner = _deal_floors(floors, [[w for k in s for w in chains[k]] for s in sets], near, graph)
    return [
        Cut(
            hollow.direction,
            tuple(f for f in floors if owner[f] == n),
            tuple(chains[k] for k in members),
            closed=hollow.closed,
            spreads=tuple(spreads[chains[k]] for k in members),
        )
        for n, members in enumerate(sets)
    ]


def _spread(graph: Graph, direction: Vec, walls: Iterable[int]) -> float:
    """How far the normals of walls turn about the opening's direction, in degrees."""
    angles = [a for w in walls for a in angles_about(graph.faces[w], direction)]
    return 360.0 - widest_gap_deg(angles)


def _chains(graph: Graph, walls: tuple[int, ...], near: Contacts) -> list[tuple[int, ...]]:
    """Walls joined over inside edges, and over gaps that something else has cut."""
    union = Union(walls)
    for w in walls:
        for other in near[w]:
            if other in union.root:
                union.join(w, other)
    whole = {w: c for c in union.sets() for w in c}
    for a, b in cut_apart(graph, walls):
        if union.find(a) != union.find(b) and not back_to_back(graph, whole[a], whole[b]):
            union.join(a, b)
    return union.sets()


def _grouped(graph: Graph, direction: Vec, chains: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Indices of the chains that make up one cut: those that look at each other."""
    owner = {w: k for k, c in enumerate(chains) for w in c}
    partner = {w: _partner(graph, direction, w, owner) for w in owner}
    closed = [
        _looks_at_itself(graph, direction, c, k, partner, owner) for k, c in enumerate(chains)
    ]
    groups = Union(range(len(chains)))
    for w, other in partner.items():
        if other is not None and not closed[owner[w]] and not closed[owner[other]]:
            groups.join(owner[w], owner[other])
    return groups.sets()


def _with_shoulders(
    graph: Graph,
    walls: tuple[int, ...],
    chains: list[tuple[int, ...]],
    spreads: dict[tuple[int, ...], float],
    sets: list[tuple[int, ...]],
) -> list[tuple[int, ...]]:
    """Give single walls between two others to them: the shoulder where a slot gets wider."""
    owner = {w: k for k, c in enumerate(chains) for w in c}
    union = Union(range(len(chains)))
    for s in sets:
        for k in s[1:]:
            union.join(s[0], k)
    for s in sets:
        if len(s) > 1 or spreads[chains[s[0]]] >= SLOT_SPREAD_DEG:
            continue
        beside = {
            owner[k.other]
            for w in chains[s[0]]
            for k in graph.links[w]
            if k.other in owner and owner[k.other] != s[0] and straight(k.edge)
        }
        if len(beside) > 1 and len(walls) > 2:
            for k in beside:
                union.join(s[0], k)
    return union.sets()


def _partner(graph: Graph, direction: Vec, wall: int, owner: dict[int, int]) -> int | None:
    """The wall that looks back at a wall: the nearest that covers half of it, else the widest."""
    best: tuple[bool, float, int] | None = None
    for other in owner:
        if other == wall:
            continue
        seen = _distance(graph, direction, graph.faces[wall], graph.faces[other])
        if seen is None:
            continue
        ahead, share = seen
        rank = (share < 0.5, ahead if share >= 0.5 else -share, other)
        if best is None or rank < best:
            best = rank
    return None if best is None else best[2]


def _looks_at_itself(
    graph: Graph,
    direction: Vec,
    chain: tuple[int, ...],
    number: int,
    partner: dict[int, int | None],
    owner: dict[int, int],
) -> bool:
    """True for a chain that makes a cut by itself: much of its wall looks at its own wall."""
    inner = whole = 0.0
    for w in chain:
        face = graph.faces[w]
        if face.surface != "plane":
            continue
        low, high = graph.span_along(face, unit(cross(direction, face.normal)))
        whole += high - low
        other = partner[w]
        if other is not None and owner[other] == number:
            inner += high - low
    return inner > 0.25 * whole


def looks_at_itself(graph: Graph, cut: Cut) -> bool:
    """True where two plane walls look at each other, or curved walls turn far enough to."""
    flat = [graph.faces[w] for w in cut.walls if graph.faces[w].surface == "plane"]
    if len(flat) < 2:
        return True
    return any(
        _distance(graph, cut.direction, a, b) is not None
        for k, a in enumerate(flat)
        for b in flat[k + 1 :]
    ) or any(graph.faces[w].bend == "inside" for w in cut.walls)


def _distance(graph: Graph, direction: Vec, wall: Face, other: Face) -> tuple[float, float] | None:
    """How far in front of a wall another one looks back at it, and which share of it is covered."""
    if dot(wall.normal, other.normal) > -0.85:
        return None
    ahead = dot(other.centroid, wall.normal) - dot(wall.centroid, wall.normal)
    if ahead <= graph.tolerance_mm:
        return None
    if overlap(graph.span_along(wall, direction), graph.span_along(other, direction)) < 0.05:
        return None
    side = unit(cross(direction, wall.normal))
    mine, theirs = graph.span_along(wall, side), graph.span_along(other, side)
    shared = min(mine[1], theirs[1]) - max(mine[0], theirs[0])
    if shared <= 0.02 * (mine[1] - mine[0]):
        return None
    return ahead, shared / (mine[1] - mine[0])


def _deal_floors(
    floors: tuple[int, ...], groups: list[list[int]], near: Contacts, graph: Graph
) -> dict[int, int]:
    """Each floor to the group of walls it meets along the greatest length."""
    owner: dict[int, int] = {}
    for f in floors:
        lengths = [sum(near[f].get(w, 0.0) for w in g) for g in groups]
        if max(lengths) > 0.0:
            owner[f] = max(range(len(groups)), key=lambda k: (round(lengths[k], 3), -k))
    waiting = [f for f in floors if f not in owner]
    for a, b in list(cut_apart(graph, floors)) if waiting else []:
        for x, y in ((a, b), (b, a)):
            if x in waiting and y in owner:
                owner.setdefault(x, owner[y])
    for f in waiting:
        known = [owner[o] for o in near[f] if o in owner]
        owner.setdefault(f, known[0] if known else 0)
    return owner


def _share_blends(graph: Graph, hollow: Hollow, found: list[Cut]) -> None:
    """Each blend to the cut it touches along the greatest length; patches to their neighbours'."""
    where = {f: n for n, c in enumerate(found) for f in c.faces}
    waiting = sorted(hollow.blends)
    for _ in range(3):
        left = []
        for b in waiting:
            lengths: dict[int, float] = {}
            for k in graph.links[b]:
                if k.other in where:
                    n = where[k.other]
                    lengths[n] = lengths.get(n, 0.0) + k.edge.length_mm
            if lengths:
                where[b] = max(lengths, key=lambda n: (round(lengths[n], 3), -n))
            else:
                left.append(b)
        waiting = left
    for n, c in enumerate(found):
        c.blends = tuple(b for b in sorted(hollow.blends) if where.get(b) == n)

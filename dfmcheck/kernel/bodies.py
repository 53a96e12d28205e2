"""From products to parts: disjoint solids taken apart, overlapping ones put together."""

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from dfmcheck.kernel.entities import Entities
from dfmcheck.kernel.mesh import Mesh, joined, mesh_of_solid
from dfmcheck.kernel.overlaps import TOUCH_MM, close_pairs, common_mm3, groups
from dfmcheck.kernel.products import Node, Product, Tree, compound_of

OVERLAP = 1e-4
"""Solids of one product that share more than this of the smaller one's volume are one body."""

EMBEDDED = 0.1
"""A fragment that shares more than this of its volume with a product beside it belongs to it."""

MOST_PAIRS = 3000
"""So many pairs of solids are looked at in a file; beyond, solids stay apart."""


@dataclass
class Body:
    """What becomes a part: one solid, or several that overlap.

    `lines` holds (line, entity number) for each face in the order of traversal; `listed` is how
    many faces the file lists for its solids.
    """

    name: str
    shape: Any
    solids: tuple[Any, ...]
    count: int
    lines: list[tuple[int, int] | None]
    listed: int = 0


def bodies(tree: Tree, entities: Entities, fallback: str) -> list[Body]:
    """The bodies of a file, in its order, with names that tell them apart.

    Args:
        tree: the products.
        entities: the text of the file.
        fallback: the name of a product that has none.
    """
    meshes = _Meshes()
    merged = _merged(tree, meshes, entities)
    found: list[Body] = []
    for product in tree.products.values():
        if product.count > 0:
            found += _split(product, meshes, entities, fallback)
    for body in merged:
        body.name = body.name or fallback
    return _named_apart(found + merged)


class _Meshes:
    """Meshes of solids, each made once."""

    def __init__(self) -> None:
        self._of: dict[int, tuple[Any, Mesh]] = {}
        self.pairs = MOST_PAIRS

    def solid(self, solid: Any) -> Mesh:
        key = id(solid)
        if key not in self._of:
            self._of[key] = (solid, mesh_of_solid(solid))
        return self._of[key][1]


def _split(product: Product, meshes: _Meshes, entities: Entities, fallback: str) -> list[Body]:
    name = product.name or fallback
    solids = product.solids
    if len(solids) < 2:
        shape = solids[0] if solids else product.shape
        lines = _lines(solids, entities)
        return [Body(name, shape, tuple(solids), product.count, lines, _listed(solids, entities))]
    sets = groups(len(solids), _overlapping(solids, meshes))
    found = []
    for number, members in enumerate(sets, 1):
        chosen = [solids[i] for i in members]
        shape = chosen[0] if len(chosen) == 1 else compound_of(chosen)
        own = entities.name_of(chosen[0]) if len(sets) > 1 else ""
        called = name if len(sets) == 1 else f"{name}/{own}" if own else f"{name} {number}"
        lines = _lines(chosen, entities)
        listed = _listed(chosen, entities)
        found.append(Body(called, shape, tuple(chosen), product.count, lines, listed))
    return found


def _overlapping(solids: list[Any], meshes: _Meshes) -> list[tuple[int, int]]:
    found = [meshes.solid(s) for s in solids]
    pairs = close_pairs(
        np.array([m.points.min(axis=0) for m in found]),
        np.array([m.points.max(axis=0) for m in found]),
    )
    joins = []
    for i, j in pairs:
        if meshes.pairs <= 0:
            break
        meshes.pairs -= 1
        smaller = min(found[i].volume_mm3, found[j].volume_mm3)
        share = common_mm3(found[i], found[j])
        if share > OVERLAP * smaller and _holds_when_finer(solids[i], solids[j], share):
            joins.append((i, j))
    return joins


def _holds_when_finer(one: Any, other: Any, share_mm3: float) -> bool:
    """True if two solids overlap truly: what meshes of touching faces share vanishes as they
    grow finer."""
    fine = common_mm3(mesh_of_solid(one, fine=True), mesh_of_solid(other, fine=True))
    return fine > 0.5 * share_mm3


def _listed(solids: list[Any], entities: Entities) -> int:
    return sum(entities.listed(s) for s in solids)


def _lines(solids: list[Any], entities: Entities) -> list[tuple[int, int] | None]:
    from dfmcheck.kernel.products import faces_of

    return [line for s in solids for line in entities.faces_of(s, len(faces_of(s)))]


def _merged(tree: Tree, meshes: _Meshes, entities: Entities) -> list[Body]:
    """Bodies made of several products under one assembly; the products' counts fall."""
    found: list[Body] = []
    for node in tree.nodes.values():
        children = [
            (tree.products[k], k, place) for k, place in node.children if k in tree.products
        ]
        if len(children) < 2 or not any(_is_fragment(p, meshes) for p, _, _ in children):
            continue
        for members in groups(len(children), _embedded(children, meshes)):
            if len(members) > 1:
                found.append(_merge(node, [children[i] for i in members], entities))
                for i in members:
                    children[i][0].count -= node.count
    return found


def _merge(node: Node, members: list[tuple[Product, str, Any]], entities: Entities) -> Body:
    solids = [s.Moved(place) for product, _, place in members for s in product.solids]
    lines = [line for product, _, _ in members for line in _lines(product.solids, entities)]
    listed = sum(_listed(product.solids, entities) for product, _, _ in members)
    return Body(node.name, compound_of(solids), tuple(solids), node.count, lines, listed)


def _is_fragment(product: Product, meshes: _Meshes) -> bool:
    """True for what cannot be a part by itself: pieces in contact, or a bare coil.

    Threads are modelled so: a row of crests, or one coil, set into the shank. A screw in a
    plate overlaps it too, and stays a part of its own.
    """
    solids = product.solids
    found = [meshes.solid(s) for s in solids]
    if not found:
        return False
    if len(found) == 1:
        size = found[0].points.max(axis=0) - found[0].points.min(axis=0)
        hollow = found[0].volume_mm3 < 0.3 * float(np.prod(size))
        return hollow and product.freeform_share > 0.7
    lows = np.array([m.points.min(axis=0) for m in found]) - 2 * TOUCH_MM
    highs = np.array([m.points.max(axis=0) for m in found]) + 2 * TOUCH_MM
    return len(groups(len(found), close_pairs(lows, highs))) == 1


def _embedded(children: list[tuple[Product, str, Any]], meshes: _Meshes) -> list[tuple[int, int]]:
    """Pairs of products of which one is a fragment set into the other."""
    placed = [joined([meshes.solid(s) for s in p.solids], place) for p, _, place in children]
    pairs = close_pairs(
        np.array([m.points.min(axis=0) for m in placed]),
        np.array([m.points.max(axis=0) for m in placed]),
    )
    joins = []
    for i, j in pairs:
        small = min((i, j), key=lambda k: placed[k].volume_mm3)
        if not _is_fragment(children[small][0], meshes) or meshes.pairs <= 0:
            continue
        meshes.pairs -= 1
        if common_mm3(placed[i], placed[j], 96) > EMBEDDED * placed[small].volume_mm3:
            joins.append((i, j))
    return joins


_INSTANCE = re.compile(r"(?: \(\d+\)|:\d+|#\d+| \d+)$")


def base_name(name: str) -> str:
    """A name without the number that tells instances apart: "pin:2", "pin (2)", "pin 2"."""
    return _INSTANCE.sub("", name) or name


def _named_apart(found: list[Body]) -> list[Body]:
    seen: dict[str, int] = {}
    for body in found:
        n = seen[body.name] = seen.get(body.name, 0) + 1
        if n > 1:
            body.name = f"{body.name} ({n})"
    return found

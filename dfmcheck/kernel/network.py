"""The entities of a STEP file and how they refer to each other, from its text alone."""

import re
from functools import cached_property

_DEFINED = re.compile(rb"#(\d+)\s*=")
_REFERRED = re.compile(rb"#(\d+)")
_NOT_CODE = re.compile(rb"'(?:[^']|'')*'|/\*.*?\*/", re.DOTALL)
_STATEMENT = re.compile(rb"#(\d+)\s*=\s*([A-Z0-9_]*)([^;]*);")

_OCCURRENCE = re.compile(rb"#(\d+)\s*=\s*NEXT_ASSEMBLY_USAGE_OCCURRENCE\b")
_DEFINITION = re.compile(rb"#(\d+)\s*=\s*PRODUCT_DEFINITION_SHAPE\s*\([^;]*?#(\d+)\s*\)\s*;")
_PLACE = re.compile(rb"=\s*CONTEXT_DEPENDENT_SHAPE_REPRESENTATION\s*\(\s*#\d+\s*,\s*#(\d+)\s*\)")
_PLAIN = bytes(range(32, 127)) + b"\t\n\r\f\v"

_ROOTS = (
    b"MANIFOLD_SOLID_BREP",
    b"BREP_WITH_VOIDS",
    b"FACETED_BREP",
    b"ADVANCED_BREP_SHAPE_REPRESENTATION",
    b"NEXT_ASSEMBLY_USAGE_OCCURRENCE",
    b"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION",
)
"""What the shapes and their places hang from; notes and tolerances hang from other entities."""


class Network:
    """The entities of a prepared file."""

    def __init__(self, data: bytes) -> None:
        """Take the bytes of the file."""
        self._data = data

    @cached_property
    def _code(self) -> bytes:
        """The text without strings and comments, which may hold anything."""
        return _NOT_CODE.sub(b"''", self._data)

    @cached_property
    def defined(self) -> list[bytes]:
        """The numbers of the entities, in the order of the file."""
        return _DEFINED.findall(self._code)

    def unresolved(self) -> list[int]:
        """Numbers that are referred to and not defined, ascending."""
        found = set(_REFERRED.findall(self._data)) - set(_DEFINED.findall(self._data))
        if found:
            found = set(_REFERRED.findall(self._code)) - set(self.defined)
        return sorted(int(n) for n in found)

    def doubled(self) -> list[int]:
        """Numbers that are defined more than once, ascending."""
        found = _DEFINED.findall(self._data)
        if len(found) == len(set(found)):
            return []
        seen: set[bytes] = set()
        twice = {n for n in self.defined if n in seen or seen.add(n)}  # type: ignore[func-returns-value]
        return sorted(int(n) for n in twice)

    def strange(self) -> int:
        """How many bytes outside of strings and comments are no characters of the format."""
        if not self._data.translate(None, _PLAIN):
            return 0
        return len(self._code.translate(None, _PLAIN))

    def unplaced(self) -> list[int]:
        """Occurrences of products in assemblies that have a shape but no place, ascending.

        Files that place nothing in this way at all are left alone.
        """
        occurrences = set(_OCCURRENCE.findall(self._data))
        if not occurrences:
            return []
        shaped = {
            definition: occurrence
            for definition, occurrence in _DEFINITION.findall(self._data)
            if occurrence in occurrences
        }
        placed = set(_PLACE.findall(self._data))
        if not placed:
            return []
        return sorted(int(o) for d, o in shaped.items() if d not in placed)

    def line_of_reference(self, number: int) -> int:
        """The line, from 1, on which a number is referred to first."""
        match = re.search(rb"#%d\b" % number, self._data)
        return 1 if match is None else self._data.count(b"\n", 0, match.start()) + 1

    def line_of(self, number: int) -> int:
        """The line, from 1, on which an entity is defined."""
        match = re.search(rb"#%d\s*=" % number, self._data)
        return 1 if match is None else self._data.count(b"\n", 0, match.start()) + 1

    @cached_property
    def shape_entities(self) -> frozenset[int]:
        """Numbers of all entities that the shapes of the file and their places are built on."""
        kinds: dict[int, bytes] = {}
        references: dict[int, list[int]] = {}
        for match in _STATEMENT.finditer(self._code):
            number = int(match[1])
            kinds[number] = match[2]
            references[number] = [int(n) for n in _REFERRED.findall(match[3])]
        waiting = [n for n, kind in kinds.items() if kind in _ROOTS]
        found = set(waiting)
        while waiting:
            for n in references.get(waiting.pop(), ()):
                if n not in found:
                    found.add(n)
                    waiting.append(n)
        return frozenset(found)

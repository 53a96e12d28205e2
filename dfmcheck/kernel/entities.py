"""Which line and which entity of the STEP file each solid and each face came from."""

import re
from functools import cached_property
from typing import Any

import numpy as np

_DEFINITION = re.compile(rb"#(\d+)\s*=\s*([A-Z0-9_]*)")
_WANTED = re.compile(
    rb"#(\d+)\s*=\s*(MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS|FACETED_BREP|CLOSED_SHELL|OPEN_SHELL"
    rb"|ORIENTED_CLOSED_SHELL|ADVANCED_FACE|FACE_SURFACE)\b"
)
_NUMBERS = re.compile(rb"#(\d+)")
_SOLIDS = (b"MANIFOLD_SOLID_BREP", b"BREP_WITH_VOIDS", b"FACETED_BREP")
_SHELLS = (b"CLOSED_SHELL", b"OPEN_SHELL")


class Entities:
    """Finds the text of a file behind what the kernel made of it.

    The kernel's own search for a face takes longer than all else that is done with it, but the
    faces of a solid are visited in the order in which its shells list them.
    """

    def __init__(self, data: bytes, reader: Any) -> None:
        """Take the prepared bytes of the file and the kernel's reader of them."""
        self._data = data
        self._model = reader.StepModel()
        self._transfer = reader.WS().TransferReader()

    @cached_property
    def _found(self) -> dict[int, tuple[bytes, int]]:
        """Type and place in the bytes of each solid, shell and face, by number."""
        return {int(m[1]): (m[2], m.start()) for m in _WANTED.finditer(self._data)}

    @cached_property
    def _solids(self) -> list[tuple[Any, int]]:
        """Each entity of a solid with its number. The kernel's objects are told apart by `is`."""
        numbers = [n for n, (kind, _) in self._found.items() if kind in _SOLIDS]
        if len(numbers) == 1:
            return [(None, numbers[0])]
        order = [int(m[1]) for m in _DEFINITION.finditer(self._data)]
        if len(order) != self._model.NbEntities():
            return []
        wanted = set(numbers)
        return [(self._model.Value(i), n) for i, n in enumerate(order, 1) if n in wanted]

    @cached_property
    def _line_ends(self) -> Any:
        return np.flatnonzero(np.frombuffer(self._data, dtype=np.uint8) == 10)

    def line(self, number: int) -> int | None:
        """The line, from 1, on which an entity is defined."""
        if number not in self._found:
            return None
        return int(np.searchsorted(self._line_ends, self._found[number][1])) + 1

    def number_of(self, solid: Any) -> int | None:
        """The number of the entity that a solid was made from."""
        if len(self._solids) == 1 and self._solids[0][0] is None:
            return self._solids[0][1]
        entity = self._entity(solid)
        return next((n for e, n in self._solids if e is entity), None)

    def name_of(self, solid: Any) -> str:
        """The solid's own name in the file, "" if it has none."""
        entity = self._entity(solid)
        name = entity.Name() if entity is not None and hasattr(entity, "Name") else None
        text = "" if name is None else " ".join(str(name.ToCString()).split())
        return "" if text.upper() in ("NONE", "SOLID") else text

    def _entity(self, solid: Any) -> Any:
        return self._transfer.EntityFromShapeResult(solid, -1)

    def faces_of(self, solid: Any, count: int) -> list[tuple[int, int] | None]:
        """(line, entity number) of each face of a solid, in the order of traversal.

        Nothing is known of any where the kernel split or dropped faces.

        Args:
            solid: the kernel solid.
            count: how many faces it has.
        """
        faces = self._listed(solid)
        if len(faces) != count:
            return [None] * count
        lines = [self.line(f) for f in faces]
        return [None if k is None else (k, f) for k, f in zip(lines, faces, strict=True)]

    def listed(self, solid: Any) -> int:
        """How many faces the file lists for a solid; 0 where that is not known."""
        return len(self._listed(solid))

    def _listed(self, solid: Any) -> list[int]:
        number = self.number_of(solid)
        shells = [] if number is None else self._shells(number)
        return [f for shell in shells for f in self._references(shell)]

    def _shells(self, solid: int) -> list[int]:
        found = []
        for number in self._references(solid):
            kind = self._kind(number)
            if kind == b"ORIENTED_CLOSED_SHELL":
                found += [n for n in self._references(number) if self._kind(n) in _SHELLS]
            elif kind in _SHELLS:
                found.append(number)
        return found

    def _kind(self, number: int) -> bytes:
        return self._found.get(number, (b"", 0))[0]

    def _references(self, number: int) -> list[int]:
        if number not in self._found:
            return []
        start = self._found[number][1]
        stop = self._data.find(b";", start)
        text = self._data[start : stop if stop >= 0 else len(self._data)]
        return [int(n) for n in _NUMBERS.findall(text)[1:]]

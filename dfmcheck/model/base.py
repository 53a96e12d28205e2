"""What every value of the model shares: frozen, strict, finite.

Conventions: a unit stands in each name that carries one; places and directions are given in
the file's own axes, in millimetres, unless a name says otherwise; directions are unit vectors.
"""

import msgspec
from msgspec.structs import astuple

Vec = tuple[float, float, float]
"""A place in mm or a unit direction: (x, y, z)."""


class Value(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Base of all values: hashable, compared by content, no NaN and no infinity.

    msgspec does not validate on construction and writes NaN as null, so numbers are
    checked here.

    Raises:
        ValueError: a float field, or a float in a tuple field, is not finite.
    """

    def __post_init__(self) -> None:
        """Refuse numbers that are not finite."""
        # a value minus itself is zero unless it is infinite or NaN; this runs for every value read
        for value in astuple(self):
            if isinstance(value, float):
                if value - value != 0.0:
                    self._refuse(value)
            elif isinstance(value, tuple):
                for item in value:
                    if isinstance(item, float) and item - item != 0.0:
                        self._refuse(value)

    def _refuse(self, culprit: object) -> None:
        name = next(n for n in self.__struct_fields__ if getattr(self, n) is culprit)
        if isinstance(culprit, tuple):
            msg = f"{type(self).__name__}.{name} holds a number that is not finite"
        else:
            msg = f"{type(self).__name__}.{name} is not a finite number"
        raise ValueError(msg)

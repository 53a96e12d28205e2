"""What every value of the model shares: frozen, strict, finite.

Conventions: a unit stands in each name that carries one; places and directions are given in
the file's own axes, in millimetres, unless a name says otherwise; directions are unit vectors.
"""

import math

import msgspec

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
        for name in self.__struct_fields__:
            value = getattr(self, name)
            if isinstance(value, float):
                if not math.isfinite(value):
                    msg = f"{type(self).__name__}.{name} is not a finite number"
                    raise ValueError(msg)
            elif isinstance(value, tuple):
                for item in value:
                    if isinstance(item, float) and not math.isfinite(item):
                        msg = f"{type(self).__name__}.{name} holds a number that is not finite"
                        raise ValueError(msg)

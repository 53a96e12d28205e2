"""What differs between two revisions of a part, in words of the trade."""

from typing import Literal

from dfmcheck.model.base import Value, Vec

Status = Literal[
    "added",
    "removed",
    "changed",
    "renamed",
    "re-exported",
    "unchanged",
    "configuration",
    "unreadable",
]


class Motion(Value, frozen=True):
    """Motion that carries the first revision onto the second: p' = R p + shift.

    `mirrored` if det R < 0.
    """

    rows: tuple[Vec, Vec, Vec]
    shift_mm: Vec
    mirrored: bool = False

    @property
    def is_identity(self) -> bool:
        """True where nothing moved (1e-6 in direction, 1e-3 mm)."""
        unit = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
        turned = any(
            abs(a - b) > 1e-6
            for r, u in zip(self.rows, unit, strict=True)
            for a, b in zip(r, u, strict=True)
        )
        return not turned and all(abs(s) <= 1e-3 for s in self.shift_mm)


class Change(Value, frozen=True):
    """One change, named for a designer.

    `kind` is a plain hyphenated word ("hole-added", "hole-deepened", "corner-tightened",
    "stock-grew", "material-changed", "unit-changed" …); `text` one line with both values; `what`
    the quantity, `before` and `after` its values with `unit`. `faces_before` and `faces_after` are
    traversal indices; `feature_before` and `feature_after` feature ids. Where `count` equal
    features changed the same way, one change stands for all: `features_before` and
    `features_after` list them, the first one stands above. `caused_by` is the index of the change
    it follows from. `weight` orders changes, largest effect first.
    """

    kind: str
    text: str
    what: str = ""
    unit: str = ""
    before: float | str | None = None
    after: float | str | None = None
    feature_before: str | None = None
    feature_after: str | None = None
    faces_before: tuple[int, ...] = ()
    faces_after: tuple[int, ...] = ()
    weight: float = 0.0
    caused_by: int | None = None
    count: int = 1
    features_before: tuple[str, ...] = ()
    features_after: tuple[str, ...] = ()


class Comparison(Value, frozen=True):
    """The comparison of two revisions of one part.

    `faces` pairs indices (before, after) of matched faces, many to many where faces were split
    or merged; `features` pairs feature ids. `same_shape` is True for a re-export.
    """

    same_shape: bool
    motion: Motion
    changes: tuple[Change, ...]
    faces: tuple[tuple[int, int], ...] = ()
    features: tuple[tuple[str, str], ...] = ()
    scale: float = 1.0

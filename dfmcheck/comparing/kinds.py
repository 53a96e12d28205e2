"""The table of change kinds: name, words, quantity, unit, and the kind seen the other way round.

`KINDS` maps each `Change.kind` that a comparison can give to its row. compare(B, A) gives the
inverse kind of compare(A, B) with the two values exchanged.
"""

from typing import Literal

from dfmcheck.model.base import Value

About = Literal["whole", "count", "shape", "feature", "stock", "process", "entry"]


class Kind(Value, frozen=True):
    """One kind of change.

    `words` says what happened to `noun` ("widened"); `quantity` is what is measured and becomes
    `Change.what`, `unit` its unit ("" for words and counts). `inverse` is the kind given when the
    revisions are exchanged (itself where both directions read alike). `about` groups kinds:
    "whole" (said first: unit, mirror), "count" (how many parts), "shape" (the part as a whole),
    "feature", "stock", "process", "entry" (the configuration's entry).
    `noun` is the feature kind where there is one.
    """

    name: str
    about: About
    noun: str
    words: str
    quantity: str
    unit: str
    inverse: str


_PAIRS: dict[str, tuple[str, str, str, str]] = {
    # grown kind: (shrunk kind, words of both, unit)
    "added": ("removed", "added", "removed", ""),
    "widened": ("narrowed", "wider", "narrower", "mm"),
    "lengthened": ("shortened", "longer", "shorter", "mm"),
    "deepened": ("shallower", "deeper", "shallower", "mm"),
    "higher": ("lower", "higher", "lower", "mm"),
    "through": ("blind", "now through", "now blind", ""),
    "opened": ("closed", "now open at the side", "now closed all round", ""),
    "split": ("merged", "now in several", "now joined into one", ""),
    "grew": ("shrank", "larger", "smaller", "mm2"),
    "coarser": ("finer", "coarser", "finer", "mm"),
    "raised": ("sunk", "now raised", "now cut in", ""),
}

_SAME: dict[str, tuple[str, str]] = {
    # kind that reads alike both ways: (words, unit)
    "moved": ("moved", "mm"),
    "turned": ("turned", "deg"),
    "bottom": ("with another bottom", ""),
    "angle": ("with another angle", "deg"),
    "outline": ("with another outline", ""),
    "profile": ("with another cross-section", ""),
    "slant": ("meets the surface at another angle", "deg"),
    "sizes": ("with other sizes", ""),
}

_QUANTITIES: dict[str, dict[str, str]] = {
    # noun: {suffix of the kind: quantity}
    "hole": {
        "added": "diameter", "moved": "place", "turned": "angle", "widened": "diameter",
        "deepened": "depth", "through": "through", "bottom": "bottom", "slant": "entry angle",
    },
    "counterbore": {
        "added": "diameter", "moved": "place", "turned": "angle", "widened": "diameter",
        "deepened": "depth",
    },
    "countersink": {
        "added": "diameter", "moved": "place", "turned": "angle", "widened": "diameter",
        "deepened": "depth", "angle": "angle",
    },
    "pocket": {
        "added": "depth", "moved": "place", "turned": "angle", "lengthened": "length",
        "widened": "width", "deepened": "depth", "through": "through", "opened": "open",
        "outline": "outline", "split": "number",
    },
    "slot": {
        "added": "width", "moved": "place", "turned": "angle", "lengthened": "length",
        "widened": "width", "deepened": "depth", "through": "open ends", "profile": "cross-section",
        "split": "number",
    },
    "step": {
        "added": "depth", "moved": "place", "turned": "angle", "lengthened": "length",
        "widened": "width", "deepened": "depth", "through": "open ends", "outline": "outline",
        "split": "number",
    },
    "boss": {
        "added": "height", "moved": "place", "turned": "angle", "lengthened": "length",
        "widened": "width", "higher": "height", "split": "number",
    },
    "groove": {
        "added": "width", "moved": "place", "turned": "angle", "widened": "width",
        "deepened": "depth",
    },
    "fillet": {"added": "radius", "moved": "place"},
    "chamfer": {"added": "leg", "moved": "place", "widened": "leg", "angle": "angle"},
    "freeform": {"added": "area", "moved": "place", "grew": "area"},
    "thread": {"moved": "place", "lengthened": "length", "sizes": "size"},
    "knurl": {"moved": "place", "lengthened": "length", "sizes": "size"},
    "engraving": {
        "added": "narrowest place", "moved": "place", "deepened": "depth",
        "coarser": "narrowest place", "lengthened": "length", "raised": "raised",
    },
}  # fmt: skip

_ADDED_UNITS = {"freeform": "mm2"}

_OTHERS: tuple[tuple[str, str, About, str, str, str, str, str], ...] = (
    # kind, inverse, about, noun, words, words of the inverse, quantity, unit
    ("unit-changed", "unit-changed", "whole", "unit", "taken for another", "", "factor", ""),
    ("scaled-up", "scaled-down", "whole", "part", "larger in every length",
     "smaller in every length", "factor", ""),
    ("unit-declared", "unit-declared", "whole", "unit", "declared otherwise, same sizes", "",
     "unit", ""),
    ("mirrored", "mirrored", "whole", "part", "mirrored", "", "hand", ""),
    ("replaced", "replaced", "whole", "part", "another part altogether", "", "volume", "mm3"),
    ("part-added", "part-removed", "count", "part", "added", "removed", "number", ""),
    ("part-doubled", "part-halved", "count", "part", "doubled", "halved", "number", ""),
    ("part-more", "part-fewer", "count", "part", "more often", "less often", "number", ""),
    ("solid-opened", "solid-closed", "shape", "solid", "no longer closed", "closed", "closed", ""),
    ("box-grew", "box-shrank", "shape", "part", "larger", "smaller",
     "length, width, height or diameter", "mm"),
    ("volume-grew", "volume-shrank", "shape", "part", "more metal", "less metal", "volume", "mm3"),
    ("mass-grew", "mass-shrank", "shape", "part", "heavier", "lighter", "mass", "g"),
    ("wall-thicker", "wall-thinner", "shape", "wall", "thicker", "thinner", "wall", "mm"),
    ("face-moved", "face-moved", "shape", "face", "moved", "", "distance", "mm"),
    ("diameter-larger", "diameter-smaller", "shape", "outside diameter", "larger", "smaller",
     "diameter", "mm"),
    ("shape-changed", "shape-changed", "shape", "part", "changed outside its features", "",
     "faces", ""),
    ("corner-eased", "corner-tightened", "feature", "inside corner", "eased", "tightened",
     "corner radius", "mm"),
    ("floor-eased", "floor-tightened", "feature", "floor radius", "eased", "tightened",
     "floor radius", "mm"),
    ("round-larger", "round-smaller", "feature", "rounded edge", "larger", "smaller", "radius",
     "mm"),
    ("freeform-eased", "freeform-tightened", "feature", "freeform", "eased", "tightened",
     "inside radius", "mm"),
    ("thread-modelled", "thread-removed", "feature", "thread", "now modelled",
     "no longer modelled", "major diameter", "mm"),
    ("knurl-modelled", "knurl-removed", "feature", "knurl", "now modelled",
     "no longer modelled", "diameter", "mm"),
    ("became", "became", "feature", "feature", "became another", "", "kind", ""),
    ("stock-grew", "stock-shrank", "stock", "stock", "larger", "smaller", "stock volume", "mm3"),
    ("stock-form", "stock-form", "stock", "stock", "of another form", "", "form", ""),
    ("process-changed", "process-changed", "process", "process", "changed", "", "process", ""),
    ("setups-more", "setups-fewer", "process", "setups", "more", "fewer", "setups", ""),
    ("make-changed", "make-changed", "entry", "way of making", "changed", "", "make", ""),
    ("material-changed", "material-changed", "entry", "material", "changed", "", "material", ""),
    ("finish-changed", "finish-changed", "entry", "finish", "changed", "", "finish", ""),
    ("callout-added", "callout-removed", "entry", "callout", "added", "removed", "callout", ""),
    ("callout-changed", "callout-changed", "entry", "callout", "changed", "", "callout", ""),
    ("letter-changed", "letter-changed", "entry", "revision letter", "changed", "", "letter", ""),
    ("number-changed", "number-changed", "entry", "part number", "changed", "", "number", ""),
    ("name-changed", "name-changed", "entry", "name", "changed", "", "name", ""),
    ("quantities-changed", "quantities-changed", "entry", "quantities", "changed", "",
     "quantities", ""),
    ("tolerance-changed", "tolerance-changed", "entry", "general tolerance", "changed", "",
     "general tolerance", ""),
    ("target-cost-changed", "target-cost-changed", "entry", "target cost", "changed", "",
     "target cost", ""),
)  # fmt: skip


def _feature_kinds() -> dict[str, Kind]:
    table: dict[str, Kind] = {}
    for noun, quantities in _QUANTITIES.items():
        for suffix, quantity in quantities.items():
            if suffix in _SAME:
                words, unit = _SAME[suffix]
                sides = [(suffix, suffix, words)]
            else:
                other, words, other_words, unit = _PAIRS[suffix]
                sides = [(suffix, other, words), (other, suffix, other_words)]
                if suffix == "added":
                    unit = _ADDED_UNITS.get(noun, "mm")
            for name, inverse, said in sides:
                table[f"{noun}-{name}"] = Kind(
                    name=f"{noun}-{name}",
                    about="feature",
                    noun=noun,
                    words=said,
                    quantity=quantity,
                    unit=unit,
                    inverse=f"{noun}-{inverse}",
                )
    return table


def _other_kinds() -> dict[str, Kind]:
    table: dict[str, Kind] = {}
    for name, inverse, about, noun, words, inverse_words, quantity, unit in _OTHERS:
        sides = [(name, inverse, words)]
        if inverse != name:
            sides.append((inverse, name, inverse_words))
        for one, other, said in sides:
            table[one] = Kind(
                name=one,
                about=about,
                noun=noun,
                words=said,
                quantity=quantity,
                unit=unit,
                inverse=other,
            )
    return table


KINDS: dict[str, Kind] = {**_other_kinds(), **_feature_kinds()}
"""All kinds of change by name."""


def inverse(kind: str) -> str:
    """The kind given when the two revisions are exchanged.

    Raises:
        KeyError: the kind is not in the table.
    """
    return KINDS[kind].inverse

"""Finding a material by any of the names under which people order it."""

import re

from dfmcheck.planning.catalogue import Material, materials

__all__ = ["Material", "find_material", "match_material"]

_TEMPER = re.compile(
    r"""
    t\d{1,5} | h\d{2,3} | [of] | r\d{3} | h\d{3}            # aluminium, copper alloys
    | \+?(?:n|c|a|at|qt|sh|s|u|cr|ar|p960|qt\d{3})          # EN 10277, EN 10088-3
    | ann | annealed | bright | drawn | cold | hot | rolled | ground | peeled | extruded
    | solution | treated | aged | round | bar | plate
    """,
    re.VERBOSE,
)
"""Words after the name that say how the material was treated, not what it is."""

_PREFIXES = frozenset(
    [
        "en", "aw", "aisi", "sae", "astm", "uns", "din", "iso", "bs", "jis", "w", "nr", "wnr", "no",
        "mat", "material", "werkstoff", "alloy", "al", "alu", "ss", "sus", "grade", "type",
    ]
)  # fmt: skip
"""Words before the name that say which list it is from."""

_STANDARD = re.compile(r"\b(?:en|din|astm|iso|bs|jis)(?:\s+iso)?\s*[a-z]?\d{3,5}(?:-\d+)?\b", re.I)
"""The number of a standard, as in "EN 10025-2: S235JR"."""

_FAMILY_WORDS = {
    "aluminium": "aluminium", "aluminum": "aluminium", "alu": "aluminium", "al": "aluminium",
    "brass": "brass", "copper": "copper", "bronze": "bronze", "steel": "steel",
    "stainless": "stainless", "inox": "stainless", "ss": "stainless", "titanium": "titanium",
    "ti": "titanium", "plastic": "plastic", "nylon": "plastic",
}  # fmt: skip


def find_material(text: str) -> Material | None:
    """The shipped material of this name, or None.

    Case, spaces, hyphens, a list's prefix ("EN AW-", "AISI", "1.4305 /") and a temper or
    condition ("-T6", "+C", "annealed") do not matter. Two names in one text must agree.
    """
    return match_material(text, materials())


def match_material(text: str, known: tuple[Material, ...]) -> Material | None:
    """As `find_material`, among the given materials."""
    index = {_squeeze(n): m for m in known for n in (m.name, *m.aliases)}
    whole = _lookup(text, index)
    if whole is not None:
        return whole
    pieces = [p for p in re.split(r"[/(),;:|=]+", _STANDARD.sub(" ", text)) if p.strip()]
    found = [m for m in (_lookup(p, index) for p in pieces) if m is not None]
    named = [m for m in found if not m.generic]
    if not named and found:
        named = found[:1]
    if not named or any(m != named[0] for m in named):
        return None
    return named[0] if _agrees(text, named[0]) else None


def _lookup(text: str, index: dict[str, Material]) -> Material | None:
    """Try the words as they stand, then without treatment at the end and list at the start."""
    words = _words(text)
    for stop in range(len(words), 0, -1):
        if stop < len(words) and not _is_tail(words[stop]):
            break
        for start in range(stop):
            if start and not _is_head(words[start - 1]):
                break
            material = index.get(_squeeze("".join(words[start:stop])))
            if material is not None and _agrees(text, material):
                return material
    return None


def _words(text: str) -> list[str]:
    """Words in lower case; a list's prefix glued to a number ("AL6061") stands apart."""
    spaced = text.casefold().replace("+", " +")
    return [
        w
        for word in re.findall(r"[^\s\-_–]+", spaced)
        for w in re.sub(r"^(al|aw|ss|sus|aisi|sae|uns)(?=\d{3})", r"\1 ", word).split()
    ]


def _is_tail(word: str) -> bool:
    return _TEMPER.fullmatch(word) is not None or word in _FAMILY_WORDS


def _is_head(word: str) -> bool:
    return _squeeze(word) in _PREFIXES or word in _FAMILY_WORDS


def _agrees(text: str, material: Material) -> bool:
    """False where a word of the text names another family."""
    families = {_FAMILY_WORDS[w] for w in re.findall(r"\w+", text.casefold()) if w in _FAMILY_WORDS}
    if "stainless" in families:
        families.discard("steel")
    return not families or material.family in families


def _squeeze(text: str) -> str:
    return re.sub(r"[\s\-_–.]+", "", text.casefold())

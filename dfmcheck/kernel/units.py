"""Units of length: their names, and whether a file means by them what everyone else does."""

import re

_NAMES = {
    "millimetre": "mm",
    "millimeter": "mm",
    "centimetre": "cm",
    "centimeter": "cm",
    "decimetre": "dm",
    "metre": "m",
    "meter": "m",
    "kilometre": "km",
    "micrometre": "µm",
    "nanometre": "nm",
    "in": "inch",
    "inches": "inch",
    "ft": "foot",
    "feet": "foot",
    "mile": "mile",
    "yard": "yard",
    "mil": "mil",
    "microinch": "microinch",
}

MILLIMETRES = {
    "inch": 25.4,
    "foot": 304.8,
    "yard": 914.4,
    "mile": 1_609_344.0,
    "mil": 0.0254,
    "thou": 0.0254,
    "microinch": 2.54e-5,
}
"""The international yard and pound agreement of 1959: an inch is 25.4 mm exactly."""

_PREFIXES = {b".MILLI.": 1.0, b".CENTI.": 10.0, b".DECI.": 100.0, b".MICRO.": 1e-3, b"$": 1000.0}

_CONVERSION = re.compile(rb"CONVERSION_BASED_UNIT\s*\(\s*'([^']*)'\s*,\s*#(\d+)\s*\)")
_MEASURE = re.compile(rb"LENGTH_MEASURE\s*\(\s*([-+0-9.E]+)\s*\)\s*,\s*#(\d+)")
_SI = re.compile(rb"SI_UNIT\s*\(\s*([.A-Z$]+)\s*,\s*\.METRE\.")


def unit_name(written: str) -> str:
    """Our name for a unit as a file names it ("MILLIMETRE", "INCH", "inches" …)."""
    plain = written.strip().lower()
    return _NAMES.get(plain, plain)


def unit_doubts(data: bytes) -> list[str]:
    """Doubts about a prepared file that calls something else an inch or a foot.

    Units that it names otherwise are left alone: their factor is all that is known of them.
    """
    doubts: list[str] = []
    for match in _CONVERSION.finditer(data):
        name = unit_name(match[1].decode("utf-8", "replace"))
        expected = MILLIMETRES.get(name)
        found = None if expected is None else _millimetres(data, match[2])
        if expected is None or found is None:
            continue
        if abs(found - expected) > 1e-4 * expected:
            doubts.append(f"it takes {found:.6g} mm for one {name}, which is {expected:g} mm")
    return list(dict.fromkeys(doubts))


def _millimetres(data: bytes, number: bytes) -> float | None:
    """The length that an entity gives for a unit, in mm; None where it gives none in SI."""
    measure = _MEASURE.search(_statement(data, number))
    if measure is None:
        return None
    base = _SI.search(_statement(data, measure[2]))
    if base is None or base[1] not in _PREFIXES:
        return None
    try:
        return float(measure[1]) * _PREFIXES[base[1]]
    except ValueError:
        return None


def _statement(data: bytes, number: bytes) -> bytes:
    match = re.search(rb"#" + number + rb"\s*=\s*([^;]*);", data)
    return match[1] if match is not None else b""

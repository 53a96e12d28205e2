"""Drafts of permit and callout blocks, as text; nothing is written by itself.

A draft that lacks its reason or owner is refused by the parser until someone has filled it in, so
that no permit comes about by copying. Adding a block to a configuration leaves every byte that was
there as it was.
"""

from collections.abc import Iterable
from datetime import date, timedelta
from math import ceil, floor, log10
from typing import Any, Literal

import tomli
import tomlkit

from dfmcheck.config.lines import key_lines
from dfmcheck.config.problems import key
from dfmcheck.errors import UsageError
from dfmcheck.model.feature import Feature
from dfmcheck.model.finding import Finding
from dfmcheck.model.settings import Callout, CalloutTarget, Permit

PERMIT_DAYS = 90
"""Days for which a drafted permit holds."""


def permit_for(
    finding: Finding, today: date, *, sense: Literal["most", "least"] = "most"
) -> Permit:
    """A permit that would cover a finding; reason and owner are left empty.

    Args:
        finding: the finding.
        today: the day it begins.
        sense: whether the finding's limit is a greatest or a least value: the measured value is
            rounded to four digits, outward.
    """
    measured = finding.measured
    return Permit(
        part=finding.part,
        limit=finding.limit or finding.rule,
        up_to=None if measured is None else _outward(measured, sense),
        feature=finding.feature,
        reason="",
        owner="",
        until=(today + timedelta(days=PERMIT_DAYS)).isoformat(),
    )


def _outward(value: float, sense: str) -> float:
    if value == 0:
        return 0.0
    scale = 10.0 ** (3 - floor(log10(abs(value))))
    rounded = (ceil if sense == "most" else floor)(round(value * scale, 6)) / scale
    return float(f"{rounded:.6g}")


def target_for(features: Iterable[Feature]) -> CalloutTarget:
    """A target that finds features of one kind and size.

    Args:
        features: one or more features; kind, size and place are the first one's, sizes rounded to
            0.01 mm and the place to 0.1 mm. With several the place is left out.

    Raises:
        ValueError: there is no feature.
    """
    several = tuple(features)
    if not several:
        msg = "a callout needs a feature"
        raise ValueError(msg)
    first = several[0]
    diameter = getattr(first, "diameter_mm", None)
    radius = getattr(first, "radius_mm", None)
    x, y, z = (round(p, 1) + 0.0 for p in first.place)
    return CalloutTarget(
        kind=str(first.__struct_config__.tag),
        diameter_mm=None if diameter is None else round(diameter, 2),
        radius_mm=None if radius is None else round(radius, 2),
        near_mm=(x, y, z) if len(several) == 1 else None,
        count=len(several),
    )


def draft_permit(permit: Permit) -> str:
    """The block `[[permit]]`."""
    table = tomlkit.table()
    table["part"] = permit.part
    table["limit"] = permit.limit
    if permit.feature is not None:
        table["feature"] = permit.feature
    if permit.up_to is not None:
        table["up_to"] = _number(permit.up_to)
        table["up_to"].comment("holds again beyond this value")
    table["reason"] = permit.reason
    if not permit.reason:
        table["reason"].comment("why this may be so; a permit without a reason is refused")
    table["owner"] = permit.owner
    if not permit.owner:
        table["owner"].comment("who answers for it")
    table["until"] = date.fromisoformat(permit.until)
    table["until"].comment("the last day it holds")
    return f"[[permit]]\n{table.as_string()}"


def draft_callout(number: str, callout: Callout) -> str:
    """The block `[[part.NUMBER.callout]]`; without anything called out, with a line to fill in."""
    table = tomlkit.table()
    find = tomlkit.inline_table()
    for name in callout.find.__struct_fields__:
        value = getattr(callout.find, name)
        if value is not None:
            find[name] = _value(value)
    table["find"] = find
    names = [n for n in callout.__struct_fields__ if n != "find"]
    given = [n for n in names if getattr(callout, n) is not None]
    for name in given:
        table[name] = _value(getattr(callout, name))
    text = f"[[part.{_key(number)}.callout]]\n{table.as_string()}"
    if set(given) <= {"depth_mm"}:
        text += 'thread = ""  # as on a drawing, "M3"; or fit, tolerance_mm, texture_ra_um, knurl\n'
    return text


def _key(name: str) -> str:
    bare = key(name)
    return bare if not bare.startswith('"') else tomlkit.key([name]).as_string()


def _value(value: object) -> Any:
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, tuple):
        row = tomlkit.array()
        row.extend([_value(v) for v in value])
        return row
    return value


def _number(value: float) -> Any:
    """A whole number without its point, as one writes it."""
    return tomlkit.item(int(value) if value == int(value) and abs(value) < 1e15 else value)


def with_permit(text: str, permit: Permit) -> str:
    """A configuration with a permit added at its end; all that was there stays as it was.

    Raises:
        UsageError: the block cannot be added to this file without rewriting it.
    """
    return _joined(text, len(text), draft_permit(permit), ("permit",))


def with_callout(text: str, number: str, callout: Callout) -> str:
    """A configuration with a callout added below its part's entry, or at the end if it has none.

    Raises:
        UsageError: the block cannot be added to this file without rewriting it.
    """
    block = draft_callout(number, callout)
    return _joined(text, _end_of_part(text, number), block, ("part", number, "callout"))


def _end_of_part(text: str, number: str) -> int:
    """Where the lines of a part's tables end, before blank lines and comments of the next table."""
    places = key_lines(text).items()
    own = [line for path, line in places if path[:2] == ("part", number)]
    if not own:
        return len(text)
    last = max(own)
    others = [line for path, line in places if path[:2] != ("part", number) and line > last]
    lines = text.split("\n")
    end = min(others) - 1 if others else len(lines)
    while end > last and lines[end - 1].lstrip()[:1] in ("", "#"):
        end -= 1
    return min(len(text), sum(len(line) + 1 for line in lines[:end]))


def _joined(text: str, at: int, block: str, path: tuple[str, ...]) -> str:
    newline = "\r\n" if "\r\n" in text else "\n"
    before, after = text[:at], text[at:]
    gap = "" if not before.strip() else newline if before.endswith("\n") else newline * 2
    added = block.rstrip("\n").replace("\n", newline) + newline
    tail = newline if after.strip() and not after.startswith(("\n", "\r\n")) else ""
    joined = before + gap + added + tail + after
    if not _only_added(text, joined, block, path):
        msg = (
            f"{'.'.join(map(key, path))} stands in a form to which no block can be added "
            "(or the file is no valid TOML); write it in by hand"
        )
        raise UsageError(msg)
    return joined


def _only_added(before: str, after: str, block: str, path: tuple[str, ...]) -> bool:
    """Whether a configuration became another by the block's one element of a list, and no more."""
    try:
        expected, element, found = tomli.loads(before), tomli.loads(block), tomli.loads(after)
    except (tomli.TOMLDecodeError, RecursionError):
        return False
    table: Any = expected
    for step in path[:-1]:
        table = table.setdefault(step, {}) if isinstance(table, dict) else None
        element = element[step]
    if not isinstance(table, dict):
        return False
    several = table.setdefault(path[-1], [])
    if not isinstance(several, list):
        return False
    several.extend(element[path[-1]])
    return bool(expected == found)

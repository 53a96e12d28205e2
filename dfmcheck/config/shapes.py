"""Shapes that values of the configuration may have: each checks, explains, and describes itself.

`check` gives the value in the form the model wants (tuples for lists, ISO text for dates), or `BAD`
after having told `Problems` what is wrong. Nothing is converted silently: text is no number, true
is no number, a single value is no list.
"""

import re
from collections.abc import Callable
from datetime import date, datetime
from math import isfinite
from typing import Any, Final

import msgspec

from dfmcheck.config.problems import Path, Problems, key, listed, nearest, quoted

BAD: Final = object()
"""What `check` gives for a value that is wrong."""

Schema = dict[str, Any]


class Shape(msgspec.Struct, frozen=True, kw_only=True):
    """A shape; `allowed` says in words what fits it, `refuse` what is wrong with a value that fits.

    `refuse` gets the checked value and returns a sentence's end, or None.
    """

    allowed: str
    refuse: Callable[[Any], str | None] | None = None

    def check(self, value: object, at: Path, problems: Problems) -> Any:
        """The value in the model's form, or `BAD`."""
        found = self.fit(value, at, problems)
        if found is not BAD and self.refuse is not None:
            trouble = self.refuse(found)
            if trouble:
                given = isinstance(value, str) and not problems.secret
                start = f"{problems.value(value)} will not do: " if given else ""
                problems.add(at, start + trouble)
                return BAD
        return found

    def fit(self, value: object, at: Path, problems: Problems) -> Any:
        """The value in the model's form without further conditions, or `BAD`."""
        raise NotImplementedError

    def schema(self) -> Schema:
        """The shape in JSON Schema."""
        raise NotImplementedError

    def wrong(self, value: object, at: Path, problems: Problems, hint: str = "") -> Any:
        """Say that a value does not fit, and what would."""
        tail = f"; {hint}" if hint else ""
        given = problems.value(value)
        problems.add(at, f"{given} is not allowed here; allowed: {self.allowed}{tail}")
        return BAD


class Text(Shape, frozen=True, kw_only=True):
    """Text of one line (several with `lines`) without control characters, not empty."""

    longest: int = 200
    lines: bool = False
    pattern: str | None = None

    def fit(self, value: object, at: Path, problems: Problems) -> Any:
        """The text."""
        if not isinstance(value, str):
            hint = "" if problems.secret else _write_as_text(value)
            return self.wrong(value, at, problems, hint)
        if not value.strip():
            problems.add(at, f"is empty; allowed: {self.allowed}")
            return BAD
        if len(value) > self.longest:
            problems.add(at, f"has {len(value)} characters; allowed: at most {self.longest}")
            return BAD
        kept = value.replace("\n", "").replace("\t", "") if self.lines else value
        if any(ord(c) < 32 or ord(c) == 127 for c in kept):
            problems.add(at, f"holds control characters or a line break; allowed: {self.allowed}")
            return BAD
        if self.pattern is not None and not re.fullmatch(self.pattern, value):
            return self.wrong(value, at, problems)
        return value

    def schema(self) -> Schema:
        """A string."""
        found: Schema = {"type": "string", "minLength": 1, "maxLength": self.longest}
        found["pattern"] = f"^(?:{self.pattern})$" if self.pattern else r"\S"
        return found


def _write_as_text(value: object) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return f'write it in quotes: "{value}"' if abs(value) < 10**15 else ""
    return ""


class Choice(Shape, frozen=True, kw_only=True):
    """One of a few words."""

    words: tuple[str, ...]

    def fit(self, value: object, at: Path, problems: Problems) -> Any:
        """The word."""
        if isinstance(value, str) and value in self.words:
            return value
        near = nearest(value, self.words) if isinstance(value, str) and len(value) < 60 else None
        return self.wrong(value, at, problems, f"did you mean {quoted(near)}?" if near else "")

    def schema(self) -> Schema:
        """An enumeration."""
        return {"enum": list(self.words)}


class Number(Shape, frozen=True, kw_only=True):
    """A finite number (whole ones too), from `least` or more than `above`, up to `most`."""

    least: float | None = None
    above: float | None = None
    most: float = 1e9
    whole: bool = False

    def fit(self, value: object, at: Path, problems: Problems) -> Any:
        """An int if `whole`, otherwise a float."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            hint = "write it without quotes" if isinstance(value, str) and _numeric(value) else ""
            return self.wrong(value, at, problems, hint)
        if self.whole and not isinstance(value, int):
            return self.wrong(value, at, problems)
        if isinstance(value, float) and not isfinite(value):
            return self.wrong(value, at, problems)
        low = (self.least is not None and value < self.least) or (
            self.above is not None and value <= self.above
        )
        if low or value > self.most or value < -self.most:
            return self.wrong(value, at, problems)
        return value if self.whole else float(value)

    def schema(self) -> Schema:
        """A number with its bounds."""
        found: Schema = {"type": "integer" if self.whole else "number", "maximum": self.most}
        if self.above is not None:
            found["exclusiveMinimum"] = self.above
        else:
            found["minimum"] = -self.most if self.least is None else self.least
        return found


def _numeric(text: str) -> bool:
    return re.fullmatch(r"[+-]?\d+(\.\d+)?", text.strip()) is not None


class Day(Shape, frozen=True, kw_only=True):
    """A date without a time, as a TOML date or as text."""

    def fit(self, value: object, at: Path, problems: Problems) -> Any:
        """ISO 8601 text, as in 2026-06-30."""
        if isinstance(value, date) and not isinstance(value, datetime):
            return value.isoformat()
        if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", value):
            try:
                return date.fromisoformat(value).isoformat()
            except ValueError:
                problems.add(at, f"the calendar has no such day; allowed: {self.allowed}")
                return BAD
        return self.wrong(value, at, problems)

    def schema(self) -> Schema:
        """A string with the form of a date (editors show a TOML date as one)."""
        return {"type": "string", "format": "date", "pattern": r"^\d{4}-\d{2}-\d{2}$"}


class Listing(Shape, frozen=True, kw_only=True):
    """A list of values of one shape, each once."""

    item: Shape
    least: int = 0
    most: int = 10_000
    repeats: bool = False

    def fit(self, value: object, at: Path, problems: Problems) -> Any:
        """A tuple."""
        if not isinstance(value, list):
            one = isinstance(value, str) and len(value) < 60
            hint = f"write [{quoted(str(value))}]" if one and not problems.secret else ""
            return self.wrong(value, at, problems, hint)
        if not self.least <= len(value) <= self.most:
            return self.wrong(value, at, problems)
        found = [self.item.check(v, (*at, i), problems) for i, v in enumerate(value)]
        if any(f is BAD for f in found):
            return BAD
        if not self.repeats:
            first: dict[Any, int] = {}
            for i, one in enumerate(found):
                if i > first.setdefault(one, i):
                    problems.add((*at, i), f"{problems.value(value[i])} is there twice")
                    return BAD
        return tuple(found)

    def schema(self) -> Schema:
        """An array."""
        found: Schema = {"type": "array", "items": self.item.schema(), "minItems": self.least}
        found["maxItems"] = self.most
        if not self.repeats:
            found["uniqueItems"] = True
        return found


class Key(msgspec.Struct, frozen=True):
    """A key of a table: the shape of its value, what it means, whether it must be there."""

    shape: Shape
    meaning: str
    required: bool = False


class Keyed(Shape, frozen=True, kw_only=True):
    """A table with fixed keys; `hint` may explain an unknown key (its place, name and content)."""

    keys: dict[str, Key]
    hint: Callable[[Path, str, object], str | None] | None = None

    def fit(self, value: object, at: Path, problems: Problems) -> Any:
        """A dict of the keys that are there and right; `BAD` if any is wrong or missing."""
        if not isinstance(value, dict):
            return self.wrong(value, at, problems)
        found: dict[str, Any] = {}
        explained = False
        for name, content in value.items():
            known = self.keys.get(name)
            if known is None:
                special = self.hint(at, name, content) if self.hint is not None else None
                text = special or self._unknown(name, problems)
                explained = explained or special is not None
                problems.add((*at, name), f"unknown key; {text}")
                continue
            found[name] = known.shape.check(content, (*at, name), problems)
        required = [n for n, k in self.keys.items() if k.required and n not in value]
        missing = [] if explained else required
        for name in missing:
            problems.add(at, f"{name} is missing; it takes {self.keys[name].shape.allowed}")
        right = not missing and all(f is not BAD for f in found.values())
        whole = right and len(found) == len(value)
        return found if whole else BAD

    def _unknown(self, name: str, problems: Problems) -> str:
        near = nearest(name, self.keys) if len(name) < 60 else None
        places = problems.elsewhere.get(name, ())
        hint = f"did you mean {near}? " if near else ""
        if places and not near:
            hint = f"{key(name)} belongs {' or '.join(places)}. "
        return f"{hint}allowed here: {listed(self.keys)}"

    def schema(self) -> Schema:
        """An object without further properties."""
        properties = {
            n: k.shape.schema() | {"description": k.meaning} for n, k in self.keys.items()
        }
        found: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
        required = [n for n, k in self.keys.items() if k.required]
        if required:
            found["required"] = required
        return found


class Named(Shape, frozen=True, kw_only=True):
    """A table whose keys are free names (of parts, rules); `shape_of` gives each one's shape."""

    name: Text
    shape_of: Callable[[str], Shape]
    described: tuple[str, ...] = ()

    def fit(self, value: object, at: Path, problems: Problems) -> Any:
        """A dict of the entries that are right; `BAD` if any is wrong."""
        if not isinstance(value, dict):
            return self.wrong(value, at, problems)
        found = {}
        for name, content in value.items():
            if self.name.check(name, (*at, name), problems) is BAD:
                found[name] = BAD
                continue
            found[name] = self.shape_of(name).check(content, (*at, name), problems)
        return BAD if any(f is BAD for f in found.values()) else found

    def schema(self) -> Schema:
        """An object; names that have a shape of their own are spelt out."""
        found: Schema = {
            "type": "object",
            "propertyNames": self.name.schema(),
            "additionalProperties": self.shape_of("").schema(),
        }
        if self.described:
            found["properties"] = {n: self.shape_of(n).schema() for n in self.described}
        return found

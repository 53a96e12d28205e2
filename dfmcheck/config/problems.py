"""Problems of a configuration: gathered, placed, and worded so that nothing in them can do harm."""

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, time

Path = tuple[str | int, ...]
"""A place in the configuration: keys, and indices from 0 in lists."""

MOST = 200
"""Problems that are spelt out; of the others the number is given."""

MASK = "…"
"""Stands for a name that is not shown."""

LONGEST = 60
"""Characters of a quoted text or key that are shown."""


def shown(value: object) -> str:
    """A value as it may be printed: its sort and itself, cut short, controls escaped."""
    if isinstance(value, str):
        return f"the text {quoted(value)}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return f"the number {value}" if abs(value) < 10**15 else "a very large number"
    if isinstance(value, float):
        return f"the number {value:g}"
    if isinstance(value, datetime):
        return f"the date with a time {value.isoformat()}"
    if isinstance(value, date | time):
        return f"the {'date' if isinstance(value, date) else 'time'} {value.isoformat()}"
    if isinstance(value, list):
        return f"a list of {len(value)}" if value else "an empty list"
    return "a table" if isinstance(value, dict) else type(value).__name__


def quoted(text: str) -> str:
    """A text in quotes, cut at `LONGEST` characters, with what does not print escaped."""
    cut = text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"
    return '"' + plain(cut).replace('"', '\\"') + '"'


def plain(text: str) -> str:
    """A text with every character that does not print (controls, direction marks) escaped."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else _escaped(c) for c in text)


def _escaped(character: str) -> str:
    code = ord(character)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def key_path(path: Path) -> str:
    """A place as a user reads it: `part.DL-102.callout[1].find`; lists count from 1."""
    words = ""
    for step in path:
        if isinstance(step, int):
            words += f"[{step + 1}]"
        else:
            words += ("." if words else "") + key(step)
    return words


def key(name: str) -> str:
    """A key as it is written in TOML: bare, or in quotes where it must be."""
    if name == MASK:
        return name
    bare = name.isascii() and name.replace("-", "a").replace("_", "a").isalnum()
    return name if bare and len(name) <= LONGEST else quoted(name)


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name most like a wrong one, or None if none is like it."""
    from difflib import get_close_matches

    by_form = {k.lower().replace("_", "-"): k for k in known}
    close = get_close_matches(name.lower().replace("_", "-"), by_form, n=1, cutoff=0.6)
    return by_form[close[0]] if close else None


def listed(names: Iterable[str], most: int = 16) -> str:
    """Names in a row for a sentence, sorted as given, the rest counted."""
    all_names = [key(n) for n in names]
    more = len(all_names) - most
    return ", ".join(all_names[:most]) + (f" and {more} more" if more > 0 else "")


class Problems:
    """Gathers what is wrong (`add`) and what is only doubtful (`warn`) in one file.

    `line_of` maps places to lines and is asked for only when a line is needed. `elsewhere` maps
    keys to the places where they belong, for keys that stand in the wrong table. With `secret`
    neither values nor names of the user's own are shown.
    """

    def __init__(
        self,
        source: str,
        line_of: Callable[[], Mapping[Path, int]],
        *,
        elsewhere: Mapping[str, tuple[str, ...]] | None = None,
        secret: bool = False,
    ) -> None:
        """Nothing is wrong yet."""
        self.source = source
        self.elsewhere = elsewhere or {}
        self.secret = secret
        self._line_of = line_of
        self._wrong: list[tuple[int, str]] = []
        self._doubtful: list[tuple[int, str]] = []

    def add(self, path: Path, text: str) -> None:
        """Something is wrong at a place."""
        self._wrong.append(self._sentence(path, text))

    def warn(self, path: Path, text: str) -> None:
        """Something is doubtful at a place."""
        self._doubtful.append(self._sentence(path, text))

    def value(self, value: object) -> str:
        """A value as it may be printed here."""
        if not self.secret:
            return shown(value)
        return "another sort of value"

    @property
    def sentences(self) -> tuple[str, ...]:
        """What is wrong, by line."""
        found = [text for _, text in sorted(self._wrong, key=lambda p: p[0])]
        if len(found) > MOST:
            rest = len(found) - MOST
            found[MOST:] = [f"{where(self.source)}: and {rest} more problems"]
        return tuple(found)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is doubtful, by line."""
        return tuple(text for _, text in sorted(self._doubtful, key=lambda p: p[0]))

    def line(self, path: Path) -> int | None:
        """The line of a place, or of the nearest table around it."""
        lines = self._line_of()
        for end in range(len(path), 0, -1):
            found = lines.get(path[:end])
            if found is not None:
                return found
        return None

    def _sentence(self, path: Path, text: str) -> tuple[int, str]:
        line = self.line(path)
        named = key_path(self._masked(path)) if path else ""
        return line or 0, f"{where(self.source, line)}: {named + ': ' if named else ''}{text}"

    def _masked(self, path: Path) -> Path:
        if not self.secret:
            return path
        return tuple(s if isinstance(s, int) or s in self.elsewhere else MASK for s in path)


def where(source: str, line: int | None = None) -> str:
    """The file, and the line if it is known, as every sentence begins."""
    name = plain(source or "dfmcheck.toml")
    return f"{name}, line {line}" if line else name

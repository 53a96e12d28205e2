"""On which line each key of a TOML text stands.

TOML readers give values without places. This scanner goes over a text that a reader has already
accepted, so it need only find its way: headers, keys, and where each value ends.
"""

import re
from bisect import bisect_right
from functools import cache

from dfmcheck.config.problems import Path

_STRINGS = (
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})|\'\'\'.*?\'\'\'(?:\'{0,2})'
    r'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\''
)


@cache
def _blank() -> re.Pattern[str]:
    return re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*+")


@cache
def _value() -> re.Pattern[str]:
    return re.compile(
        rf"(?P<text>{_STRINGS})|(?P<open>[\[{{])|(?P<shut>[\]}}])|(?P<skip>#[^\n]*)"
        r"|(?P<end>\n)|[^\"'\[\]{}#\n]+",
        re.DOTALL,
    )


@cache
def _key() -> re.Pattern[str]:
    return re.compile(r"""[ \t]*([A-Za-z0-9_-]+|"(?:\\.|[^"\\\n])*"|'[^'\n]*')[ \t]*(\.?)""")


def key_lines(text: str) -> dict[Path, int]:
    """The line (from 1) of every table and key outside inline tables.

    Args:
        text: a valid TOML document; for any other the answer is unspecified but given.
    """
    return _Scan(text).lines


class _Scan:
    def __init__(self, text: str) -> None:
        self.text = text
        self.breaks = [m.start() for m in re.finditer("\n", text)]
        self.lines: dict[Path, int] = {}
        self._explicit: set[Path] = set()
        self._table: Path = ()
        self._counts: dict[Path, int] = {}
        at = 0
        while (at := self._skip_blank(at)) < len(text):
            step = self._header(at) if text[at] == "[" else self._pair(at)
            if step <= at:
                break
            at = step

    def _skip_blank(self, at: int) -> int:
        found = _blank().match(self.text, at)
        return found.end() if found else at

    def _header(self, at: int) -> int:
        several = self.text.startswith("[[", at)
        names, end = self._names(at + (2 if several else 1))
        table = self._placed(names[:-1]) + names[-1:] if names else ()
        if several:
            index = self._counts.get(table, -1) + 1
            self._counts[table] = index
            table = (*table, index)
        elif table in self._counts:
            table = (*table, self._counts[table])
        self._table = table
        for count in range(1, len(table)):
            self._note(table[:count], at)
        if table not in self._explicit:
            self._explicit.add(table)
            self.lines[table] = self._line(at)
        return self._line_end(end)

    def _pair(self, at: int) -> int:
        names, end = self._names(at)
        for count in range(1, len(names) + 1):
            self._note(self._table + names[:count], at)
        equals = self.text.find("=", end)
        return self._value_end(equals + 1) if equals >= 0 else len(self.text)

    def _names(self, at: int) -> tuple[Path, int]:
        names: list[str] = []
        while found := _key().match(self.text, at):
            names.append(_unquoted(found.group(1)))
            at = found.end()
            if not found.group(2):
                break
        return tuple(names), at

    def _placed(self, names: Path) -> Path:
        """Names with the index of the latest element after each array of tables."""
        path: Path = ()
        for name in names:
            path = (*path, name)
            if path in self._counts:
                path = (*path, self._counts[path])
        return path

    def _value_end(self, at: int) -> int:
        depth = 0
        while at < len(self.text) and (found := _value().match(self.text, at)):
            at = found.end()
            kind = found.lastgroup
            if kind == "open":
                depth += 1
            elif kind == "shut":
                depth -= 1
            elif kind == "end" and depth <= 0:
                return at
        return len(self.text)

    def _line_end(self, at: int) -> int:
        end = self.text.find("\n", at)
        return end + 1 if end >= 0 else len(self.text)

    def _note(self, path: Path, at: int) -> None:
        if path not in self.lines:
            self.lines[path] = self._line(at)

    def _line(self, at: int) -> int:
        return bisect_right(self.breaks, at) + 1


def _unquoted(token: str) -> str:
    if token[0] == '"' and "\\" in token:
        import tomli

        try:
            return str(tomli.loads(f"key = {token}")["key"])
        except tomli.TOMLDecodeError:
            return token[1:-1]
    return token[1:-1] if token[0] in "\"'" else token

"""Names and messages from files are data: made harmless before they meet a terminal or JSON.

What a terminal, a log viewer or a reader's eye could take for something else is written out as
a visible escape: control characters and terminal escapes, bidirectional overrides, zero-width
and other invisible characters, private and unassigned code points, bytes that are no UTF-8.
Letters of any script stay as they are.
"""

import re
import unicodedata

LIMIT = 200
"""Longest text shown, in characters, where the caller says nothing."""

MOST_MARKS = 4
"""Combining marks kept on one letter; more would run over the neighbouring lines."""

_NAMED = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}

_BLANK_LETTERS = re.compile("[\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0]")
"""Letters by category that show nothing."""

_STACKED = re.compile(
    "[\u0300-\u036f\u0483-\u0489\u0591-\u05bd\u064b-\u065f\u0e31-\u0e4e"
    "\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20ff\ufe00-\ufe0f\ufe20-\ufe2f]{5,}"
)
_SURROGATE = re.compile("[\ud800-\udfff]")


def clean(text: str, limit: int = LIMIT) -> str:
    """Text made harmless for one place on one line, at most `limit` characters long.

    A text that is too long loses its middle, so that a path keeps its folder and its file name.
    """
    if len(text) > limit * 4:
        # only what can survive is looked at, so that an endless name costs nothing
        head, tail = text[: limit * 2], text[-limit * 2 :]
        return _shorten(f"{_escape(head)}...{_escape(tail)}", limit)
    return _shorten(_escape(text), limit)


def _escape(text: str) -> str:
    if not text.isprintable() or _BLANK_LETTERS.search(text):
        text = "".join(map(_visible, text))
    if not text.isascii() and _STACKED.search(text):
        text = _STACKED.sub(lambda m: m.group()[:MOST_MARKS], text)
    return text


def _visible(char: str) -> str:
    if _BLANK_LETTERS.match(char):
        return _code(char)
    if char.isprintable():
        return char
    if unicodedata.category(char) == "Zs":
        return " "
    return _NAMED.get(char) or _code(char)


def _code(char: str) -> str:
    point = ord(char)
    if 0xDC80 <= point <= 0xDCFF:  # a byte that is no UTF-8, as the file system gave it
        return f"\\x{point - 0xDC00:02x}"
    if point < 0x100:
        return f"\\x{point:02x}"
    return f"\\u{point:04x}" if point < 0x10000 else f"\\U{point:08x}"


def _shorten(text: str, limit: int) -> str:
    if len(text) <= limit:
        return text
    if limit < 8:
        return text[:limit]
    head = (limit - 3) // 2
    tail = limit - 3 - head
    return text[:head] + "..." + text[-tail:]


def encodable(text: str) -> str:
    """Text that UTF-8 can carry: a byte that is no UTF-8 becomes `\\xNN`.

    In a text that holds such a byte the backslashes of its own are doubled, so that the original
    can be had back; any other text is returned as it is.
    """
    if text.isascii() or not _SURROGATE.search(text):
        return text
    return _SURROGATE.sub(lambda m: _code(m.group()), text.replace("\\", "\\\\"))


def json_string(text: str) -> str:
    """A JSON string literal that says exactly `text` and shows nothing a terminal could obey.

    Everything that is not printable is written as a JSON escape; letters stay readable.
    """
    text = encodable(text).replace("\\", "\\\\").replace('"', '\\"')
    if text.isprintable():
        return f'"{text}"'
    return '"' + "".join(c if c.isprintable() else _json_escape(c) for c in text) + '"'


def _json_escape(char: str) -> str:
    point = ord(char)
    if point < 0x10000:
        return f"\\u{point:04x}"
    point -= 0x10000
    return f"\\u{0xD800 + (point >> 10):04x}\\u{0xDC00 + (point & 0x3FF):04x}"

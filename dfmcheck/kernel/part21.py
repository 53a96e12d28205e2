"""The text of a STEP file (ISO 10303-21) as far as it is read without the kernel.

What is plainly wrong is answered here, before the kernel is asked: it crashes on much of it.
"""

import re
from dataclasses import dataclass

from dfmcheck.errors import NotReadError
from dfmcheck.model.facts import NotRead

_LFS = b"version https://git-lfs.github.com/spec/"
_START = re.compile(rb"\s*(?:/\*.*?\*/\s*)*ISO-10303-21\s*;", re.DOTALL)
_END = re.compile(rb"END-ISO-10303-21\s*;")
_CONFLICT = re.compile(rb"^(?:<{7} |>{7} |={7}\r?$)", re.MULTILINE)
_HEADER_END = re.compile(rb"\bENDSEC\s*;")
_TOKEN = re.compile(r"'((?:[^']|'')*)'|([(),;$*])|([^'(),;\s]+)")
_ESCAPES = re.compile(
    r"\\X2\\((?:[0-9A-Fa-f]{4})*)\\X0\\|\\X4\\((?:[0-9A-Fa-f]{8})*)\\X0\\"
    r"|\\X\\([0-9A-Fa-f]{2})|\\S\\(.)|\\P([A-I])\\|\\(\\)|\\N\\|''",
    re.DOTALL,
)

_PRODUCT = re.compile(
    rb"\bPRODUCT\s*\(\s*'((?:[^']|'')*)'\s*,\s*(?:'((?:[^']|'')*)'|\$)", re.DOTALL
)

_EXPORT = "export the part again as STEP (AP242 or AP214) from the CAD program"


@dataclass(frozen=True)
class Header:
    """What the header says of the file: schema, and where it came from, as written."""

    schema: str
    originating_system: str
    time_stamp: str


def prepare(data: bytes) -> bytes:
    """The bytes as the kernel should get them: no byte order mark, text in UTF-8.

    Raises:
        NotReadError: they cannot be a whole STEP file.
    """
    _refuse(data)
    data = data.removeprefix(b"\xef\xbb\xbf")
    if data.isascii():
        return data
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace").encode("utf-8")
    return data


def _refuse(data: bytes) -> None:
    if data.startswith(_LFS):
        raise _not_read(
            "lfs-pointer",
            "it is a Git LFS pointer, not the STEP file it stands for",
            "run 'git lfs pull' and check again",
        )
    if not data.strip():
        raise _not_read("empty", "the file is empty", _EXPORT)
    start = _START.match(data.removeprefix(b"\xef\xbb\xbf"))
    if start is None:
        raise _not_read("not-step", _what_else(data), _EXPORT)
    if _CONFLICT.search(data) is not None:
        raise _not_read(
            "damaged",
            "it holds conflict markers of a merge in git",
            "take one side whole: git checkout --ours (or --theirs) for this file",
        )
    if _END.search(data, max(0, len(data) - 65536)) is None and _END.search(data) is None:
        lines = data.count(b"\n") + 1
        raise _not_read(
            "damaged",
            f"it ends in line {lines} without END-ISO-10303-21: the file was cut short",
            "fetch or export the file again",
        )


def _what_else(data: bytes) -> str:
    head = data[:512]
    if head.startswith(b"PK\x03\x04"):
        return "it is a zip archive, not a STEP file"
    if head.lstrip().startswith(b"<?xml"):
        return "it is XML, not a STEP file in the text form of ISO 10303-21"
    if head.lstrip().startswith(b"solid ") or b"facet normal" in head:
        return "it is a mesh (STL), not a STEP file"
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "it is written in UTF-16; a STEP file is plain text"
    if b"\x00" in head:
        return "it is binary data, not a STEP file"
    return "it does not begin with ISO-10303-21, so it is not a STEP file"


def _not_read(kind: str, reason: str, remedy: str) -> NotReadError:
    return NotReadError(NotRead(kind=kind, reason=reason, remedy=remedy))  # type: ignore[arg-type]


def read_header(data: bytes) -> Header:
    """The header of a prepared file; what it does not say is left empty."""
    end = _HEADER_END.search(data)
    text = data[: end.start() if end else 65536].decode("utf-8", "replace")
    text = re.sub(r"/\*.*?\*/", " ", text, flags=re.DOTALL)
    name = _arguments(text, "FILE_NAME")
    schema = _arguments(text, "FILE_SCHEMA")
    return Header(
        schema=_first(schema, 0).split("{")[0].strip(),
        originating_system=_first(name, 5) or _first(name, 4),
        time_stamp=_first(name, 1),
    )


def product_names(data: bytes) -> frozenset[str]:
    """Names and numbers of all products in a prepared file."""
    found = {part or b"" for match in _PRODUCT.finditer(data) for part in match.groups()}
    return frozenset(_one_line(raw.decode("utf-8", "replace")) for raw in found)


def _one_line(text: str) -> str:
    """A string decoded; a line break in the file is no part of it."""
    return " ".join(decode_string(text.replace("\r", "").replace("\n", "")).split())


def _arguments(text: str, entity: str) -> list[list[str]]:
    """The strings of each argument of a header entity."""
    found = re.search(rf"\b{entity}\s*\(", text)
    if found is None:
        return []
    arguments: list[list[str]] = [[]]
    depth = 1
    for token in _TOKEN.finditer(text, found.end()):
        string, mark, _ = token.groups()
        if string is not None:
            arguments[-1].append(decode_string(string))
        elif mark == "(":
            depth += 1
        elif mark == ")":
            depth -= 1
            if depth == 0:
                break
        elif mark == "," and depth == 1:
            arguments.append([])
    return arguments


def _first(arguments: list[list[str]], index: int) -> str:
    if index >= len(arguments) or not arguments[index]:
        return ""
    return " ".join(arguments[index][0].split())


def decode_string(text: str) -> str:
    r"""A string of the file, without its quotes, with the escapes of ISO 10303-21 decoded.

    These are '' and \\, \X\hh, \X2\hhhh…\X0\, \X4\hhhhhhhh…\X0\ and \S\c (ISO 8859-1).
    """
    if "\\" not in text and "'" not in text:
        return text
    return _ESCAPES.sub(_decoded, text)


def _decoded(match: re.Match[str]) -> str:
    two, four, one, shifted, page, backslash = match.groups()
    try:
        if two is not None:
            return bytes.fromhex(two).decode("utf-16-be", "replace")
        if four is not None:
            return bytes.fromhex(four).decode("utf-32-be", "replace")
    except ValueError:
        return "\N{REPLACEMENT CHARACTER}"
    if one is not None:
        return chr(int(one, 16))
    if shifted is not None:
        return chr(ord(shifted) % 128 + 128)
    if page is not None:
        return ""
    if backslash is not None:
        return "\\"
    return "'" if match.group(0) == "''" else " "

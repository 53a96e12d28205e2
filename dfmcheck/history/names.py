"""Names of files as git gives them: bytes on its side, text with surrogate escapes on ours."""

import os
import re

STEP_SUFFIXES = (".step", ".stp", ".p21")
CONFIGURATION = "dfmcheck.toml"

_BRANCH_REFUSED = re.compile(
    r"[\x00-\x20\x7f~^:?*\[\\]|\.\.|@\{|//|^[/-]|/$|\.$|^@$|/\.|^\.|\.lock(/|$)"
)


def decode(name: bytes) -> str:
    """Text of a name; bytes that are not UTF-8 become surrogate escapes."""
    return name.decode("utf-8", "surrogateescape")


def encode(name: str) -> bytes:
    """The bytes of a name that `decode` gave."""
    return name.encode("utf-8", "surrogateescape")


def as_argument(name: str) -> str:
    """A name of ours as the text that reaches git's command line unaltered in any locale."""
    return os.fsdecode(encode(name))


def c_quoted(name: str) -> bytes:
    """A name in git's C-style quotes, for lists whose items end with a newline."""
    escaped = encode(name).replace(b"\\", b"\\\\").replace(b'"', b'\\"').replace(b"\n", b"\\n")
    return b'"' + escaped + b'"'


def is_step(path: str) -> bool:
    """True for names that end in .step, .stp or .p21, in any letter case."""
    return path.lower().endswith(STEP_SUFFIXES)


def is_configuration(path: str) -> bool:
    """True for a `dfmcheck.toml` in any folder."""
    return path.rpartition("/")[2] == CONFIGURATION


def is_ours(path: str) -> bool:
    """True for STEP files and for configuration."""
    return is_step(path) or is_configuration(path)


def is_branch_name(name: str) -> bool:
    """True where git accepts the name for a branch (git-check-ref-format); never an option."""
    return bool(name) and len(name) <= 250 and _BRANCH_REFUSED.search(name) is None

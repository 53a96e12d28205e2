"""What a pre-push hook is told on its standard input (githooks(5), "pre-push")."""

import re
from typing import NamedTuple

from dfmcheck.errors import UsageError

_ID = re.compile(r"[0-9a-f]{40}([0-9a-f]{24})?")


class PushedRef(NamedTuple):
    """One ref about to be pushed.

    `remote` is what the remote has there now, None where the ref is new.
    """

    name: str
    local: str
    remote: str | None


def parse_pushed(text: str) -> tuple[PushedRef, ...]:
    """The refs of a push; deletions are left out.

    Args:
        text: lines `<local ref> <local id> <remote ref> <remote id>`.

    Raises:
        UsageError: a line is of another form.
    """
    refs = []
    for line in text.split("\n"):
        if not line.strip():
            continue
        words = line.rstrip("\r").rsplit(" ", 3)  # the local ref may be an expression with spaces
        if len(words) != 4 or not (_ID.fullmatch(words[1]) and _ID.fullmatch(words[3])):
            msg = (
                f"the line {line[:80]!r} on standard input is not what git gives a pre-push hook "
                "(local ref, local id, remote ref, remote id)"
            )
            raise UsageError(msg)
        if words[1].strip("0"):
            remote = words[3] if words[3].strip("0") else None
            refs.append(PushedRef(words[2], words[1], remote))
    return tuple(refs)

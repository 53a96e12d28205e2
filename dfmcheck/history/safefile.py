"""Files of the work tree, read without following links and without opening pipes or devices."""

import os
import stat
from typing import Literal

from dfmcheck.errors import NotReadError
from dfmcheck.history.names import as_argument
from dfmcheck.model.facts import NotRead

Kind = Literal["file", "absent", "link", "folder", "special"]

_SPECIAL = (
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISLNK, "a symbolic link, which is not followed"),
)


def place_of(top: str, path: str) -> str:
    """The file's place on disk; `path` is relative to `top`, with forward slashes."""
    return os.path.join(top, *as_argument(path).split("/"))  # noqa: PTH118 - bytes must survive


def kind_of(top: str, path: str) -> Kind:
    """What stands at a path of the work tree, links not followed.

    A file below a linked folder is absent, as for git.
    """
    if {"", ".", ".."}.intersection(path.split("/")):
        return "absent"
    folder = os.path.dirname(place_of(top, path))  # noqa: PTH120 - as above
    relative = os.path.dirname(as_argument(path))  # noqa: PTH120
    if os.path.realpath(folder) != os.path.normpath(os.path.join(os.path.realpath(top), relative)):  # noqa: PTH118
        return "absent"
    try:
        mode = os.lstat(place_of(top, path)).st_mode
    except OSError:
        return "absent"
    if stat.S_ISREG(mode):
        return "file"
    if stat.S_ISLNK(mode):
        return "link"
    return "folder" if stat.S_ISDIR(mode) else "special"


def read_regular(place: str) -> bytes:
    """The bytes of a regular file.

    It is opened without following a link and without waiting for a pipe's other end.

    Raises:
        NotReadError: it is gone, no regular file, or not to be opened.
    """
    flags = os.O_RDONLY
    for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_NOCTTY", "O_CLOEXEC", "O_BINARY"):
        flags |= getattr(os, name, 0)
    try:
        before = os.lstat(place)
        if not stat.S_ISREG(before.st_mode):
            raise _refused(before.st_mode)
        with open(os.open(place, flags), "rb") as file:  # noqa: PTH123 - flags matter
            opened = os.fstat(file.fileno())
            if not stat.S_ISREG(opened.st_mode):
                raise _refused(opened.st_mode)
            return file.read()
    except OSError as error:
        reason = f"it cannot be opened ({(error.strerror or str(error)).lower()})"
        raise NotReadError(
            NotRead(kind="missing", reason=reason, remedy="see that the file is there and readable")
        ) from error


def _refused(mode: int) -> NotReadError:
    what = next((words for test, words in _SPECIAL if test(mode)), "no regular file")
    return NotReadError(
        NotRead(
            kind="not-step",
            reason=f"it is {what}, not a regular file",
            remedy="put the STEP file itself in its place",
        )
    )

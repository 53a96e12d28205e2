"""Configuration as git sees it, and how content filters are kept from running.

`git status` and `git hash-object` run the clean filters that attributes name and configuration
defines. Whoever wrote `.git/config` chose those programs, so none of them is run, wherever it was
configured: each driver found is emptied on the command line. What LFS does is done by
`dfmcheck.history.lfs`.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

from dfmcheck.errors import HistoryError
from dfmcheck.history.names import decode
from dfmcheck.history.process import GitProcess

_FILTER = re.compile(r"filter\.(.+)\.(clean|smudge|process|required)$", re.DOTALL)


class Setting(NamedTuple):
    """One value of git's configuration; `own` where the repository set it, not the user."""

    key: str
    value: str
    own: bool


def read_configuration(process: GitProcess) -> tuple[Setting, ...]:
    """All of git's configuration in effect, in the order in which later values win.

    Raises:
        HistoryError: git cannot read it.
    """
    output = process.run("config", "--list", "-z", "--show-scope", good=(0, 129))
    if output.status == 129:  # before git 2.26: nobody knows whose a value is
        items = process.run("config", "--list", "-z").out.split(b"\0")[:-1]
        pairs = [(b"local", item) for item in items]
    else:
        parts = output.out.split(b"\0")[:-1]
        pairs = list(zip(parts[::2], parts[1::2], strict=True))
    settings = []
    for scope, item in pairs:
        key, _, value = decode(item).partition("\n")
        settings.append(Setting(key, value, scope not in {b"system", b"global", b"command"}))
    return tuple(settings)


def value_of(settings: Sequence[Setting], key: str) -> str | None:
    """The value in effect; `key` in lower case but for its middle part."""
    return next((s.value for s in reversed(settings) if s.key == key), None)


def filter_drivers(settings: Sequence[Setting]) -> frozenset[str]:
    """Names of the content filters that the configuration defines."""
    return frozenset(found[1] for s in settings if (found := _FILTER.match(s.key)))


def without_filters(settings: Sequence[Setting]) -> tuple[str, ...]:
    """Options for git that empty every filter driver.

    Raises:
        HistoryError: a driver's name cannot be given on a command line.
    """
    options: list[str] = []
    for driver in sorted(filter_drivers(settings)):
        if "=" in driver:
            msg = (
                f"git's configuration defines a content filter named {driver!r}, which cannot be "
                "switched off: rename or remove it, or compare two commits instead of the work tree"
            )
            raise HistoryError(msg)
        for key, value in (("clean", ""), ("smudge", ""), ("process", ""), ("required", "false")):
            options += ["-c", f"filter.{driver}.{key}={value}"]
    return tuple(options)

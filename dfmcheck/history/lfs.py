"""Large file storage: pointers in place of content, and where the content is.

The pointer's format and the layout of the store are published with LFS (its specification and the
manual of git-lfs). The object id is the SHA-256 of the content, so whatever is found is checked.
"""

import hashlib
import re
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from dfmcheck.errors import DfmcheckError, NotReadError
from dfmcheck.history.filters import Setting, value_of
from dfmcheck.history.process import GitProcess
from dfmcheck.history.safefile import read_regular
from dfmcheck.model.facts import NotRead

LARGEST_POINTER = 1023
"""A pointer has fewer than 1024 bytes (LFS specification, "The Pointer")."""

_VERSIONS = (
    b"version https://git-lfs.github.com/spec/v1\n",
    b"version https://hawser.github.com/spec/v1\n",
    b"version http://git-media.io/v/2\n",
)
_OID = re.compile(rb"^oid sha256:([0-9a-f]{64})\r?$", re.MULTILINE)
_SIZE = re.compile(rb"^size (\d{1,15})\r?$", re.MULTILINE)
_EXTENSION = re.compile(rb"^ext-\d", re.MULTILINE)

_RUNS = re.compile(
    r"lfs\.customtransfer\.|lfs\.(.*\.)?standalonetransferagent$|lfs\.extension\."
    r"|core\.(sshcommand|gitproxy|askpass)$|credential\.(.*\.)?helper$|remote\..*\.(vcs|proxy)$"
    r"|url\..*\.(insteadof|pushinsteadof)$"
)
"""Settings that make git-lfs run a program of the repository's choice, or go elsewhere."""


class Pointer(NamedTuple):
    """What stands in git for content kept elsewhere.

    `extended`: programs altered the content on its way in.
    """

    oid: str
    size: int
    extended: bool = False


def parse_pointer(data: bytes) -> Pointer | None:
    """The pointer, or None where the bytes are something else."""
    if len(data) > LARGEST_POINTER:
        return None
    if not data.replace(b"\r\n", b"\n").startswith(_VERSIONS):
        return None
    oid, size = _OID.search(data), _SIZE.search(data)
    if oid is None or size is None:
        return None
    return Pointer(oid[1].decode(), int(size[1]), _EXTENSION.search(data) is not None)


class LargeFiles:
    """Finds content by its pointer: in the store of this clone, in the work tree, by git-lfs."""

    def __init__(
        self,
        process: GitProcess,
        common_dir: str,
        settings: Callable[[], Sequence[Setting]],
        has_own_server: Callable[[], bool],
    ) -> None:
        """`settings` gives git's configuration, `has_own_server` if an `.lfsconfig` names one."""
        self._process = process
        self._common_dir = common_dir
        self._settings = settings
        self._has_own_server = has_own_server

    def read(self, pointer: Pointer, path: str, work_place: str | None) -> bytes:
        """The content of a pointer.

        Args:
            pointer: what git holds.
            path: path in the repository.
            work_place: the file in the work tree, where there is one that may hold the content.

        Raises:
            NotReadError: the content is not here and cannot be fetched; says why.
        """
        if pointer.extended:
            raise _absent("LFS extensions altered it, which dfmcheck does not undo")
        digest = pointer.oid
        stored = self._store() / digest[:2] / digest[2:4] / digest
        for place in (str(stored), work_place):
            data = _checked(place, pointer) if place is not None else None
            if data is not None:
                return data
        return self._fetched(pointer, path)

    def _store(self) -> Path:
        named = value_of(self._settings(), "lfs.storage")
        return Path(self._common_dir, named or "lfs", "objects")

    def _fetched(self, pointer: Pointer, path: str) -> bytes:
        if shutil.which("git-lfs") is None:
            raise _absent("git-lfs is not installed")
        reason = self._refusal()
        if reason is not None:
            raise _absent(reason)
        text = f"{_VERSIONS[0].decode()}oid sha256:{pointer.oid}\nsize {pointer.size}\n"
        output = self._process.run(
            *("lfs", "smudge", "--", path),
            stdin=text.encode(),
            variables={
                "GIT_ALLOW_PROTOCOL": "file:git:http:https:ssh",
                "GIT_LFS_SKIP_SMUDGE": "0",
                "GIT_LFS_SET_LOCKABLE_READONLY": "0",
            },
            good=range(256),
        )
        if hashlib.sha256(output.out).hexdigest() != pointer.oid:
            said = next(
                (line for line in output.err.splitlines() if line.strip()), "no reason given"
            )
            raise _absent(f"git-lfs did not deliver it ({said.strip()[:200]})")
        return output.out

    def _refusal(self) -> str | None:
        """Why git-lfs is not asked; None where it may be."""
        chosen = next((s.key for s in self._settings() if s.own and _RUNS.match(s.key)), None)
        if chosen is not None:
            return f"git-lfs is not run, because this repository's own configuration sets {chosen}"
        if self._has_own_server():
            return (
                "git-lfs is not run, because the repository's .lfsconfig names a server of its own"
            )
        return None


def _checked(place: str, pointer: Pointer) -> bytes | None:
    try:
        if Path(place).stat().st_size != pointer.size:
            return None
        data = read_regular(place)
    except (OSError, DfmcheckError):
        return None
    return data if hashlib.sha256(data).hexdigest() == pointer.oid else None


def _absent(why: str) -> NotReadError:
    return NotReadError(
        NotRead(
            kind="lfs-pointer",
            reason=f"its content is kept in LFS and is not in this clone: {why}",
            remedy="run `git lfs pull` (in CI: fetch LFS files at the checkout step)",
        )
    )

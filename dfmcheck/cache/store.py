"""A store of bytes by key, shared by all runs of one user; losing any of it costs time only.

- An entry is written to a file of its own and then put in place at once: other runs see the whole
  entry or none. There is no `fsync`: after a power cut an entry may be empty or cut short, which
  its checksum shows, so that it is computed again; waiting for the disk would cost more than that.
- Whatever cannot be read, is not whole or is another key's entry is a miss.
- Where nothing can be written (no folder, no rights, disk full) the store goes on without, and
  says so once in `warnings`.
- Entries that have not been used for longest go first when the store outgrows its bound. A run that
  is reading one of them has it open and reads on; a run that comes later has a miss.
"""

import contextlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType

from dfmcheck.cache.entry import packed, unpacked
from dfmcheck.cache.folder import Folder, Unusable, default_folder

MOST_BYTES = 1 << 30
"""Bound of the store's size on the disk."""

_BLOCK = 4096
_TEMPORARY = "tmp"
_WRITTEN = "written"
_STALE_SECONDS = 3600
_TOUCH_SECONDS = 60


class Cache:
    """The store in a folder.

    It is opened when it is first used, so a run that needs nothing from it touches no file.
    `warnings` holds at most one sentence.
    """

    def __init__(self, folder: Path | None = None, *, most_bytes: int = MOST_BYTES) -> None:
        """Name the store's folder.

        Args:
            folder: its folder; None for `DFMCHECK_CACHE` or the user's cache folder.
            most_bytes: bound of its size; the oldest eighth and more goes when it is reached.
        """
        self.warnings: tuple[str, ...] = ()
        self._named = folder
        self._most = most_bytes
        self._folder: Folder | None = None
        self._opened = False
        self._writes = True

    @classmethod
    def none(cls) -> "Cache":
        """A store that keeps nothing and warns of nothing."""
        found = cls()
        found._opened = True
        return found

    def get(self, key: str) -> bytes | None:
        """The data put under a key, or None.

        Args:
            key: 64 hexadecimal digits, as `keys` makes them.

        Raises:
            ValueError: that is no key.
        """
        name = _name(key)
        folder = self._open()
        if folder is None:
            return None
        try:
            fd = folder.open(name, os.O_RDONLY)
        except OSError:
            return None
        try:
            found = os.fstat(fd)
            if not stat.S_ISREG(found.st_mode):
                return None
            with os.fdopen(fd, "rb", closefd=False) as file:
                data = unpacked(key, file.read())
            if data is not None:
                _touch(fd, found)
            return data
        except OSError:
            return None
        finally:
            os.close(fd)

    def put(self, key: str, data: bytes) -> None:
        """Keep data under a key, in the place of what was there.

        Args:
            key: 64 hexadecimal digits, as `keys` makes them.
            data: the data; more than an eighth of the bound is not kept.

        Raises:
            ValueError: that is no key.
        """
        name = _name(key)
        folder = self._open()
        if folder is None or not self._writes or len(data) > self._most // 8:
            return
        temporary = f"{_TEMPORARY}/{os.getpid()}-{os.urandom(8).hex()}"
        try:
            folder.mkdir(_TEMPORARY)
            folder.mkdir(name.partition("/")[0])
            try:
                _write(folder, temporary, packed(key, data))
                folder.replace(temporary, name)
            except OSError:
                folder.remove(temporary)
                raise
            self._account(folder, len(data))
        except OSError as error:
            self._writes = False
            reason = error.strerror or type(error).__name__
            self._warn(f"cache: {folder.path} cannot be written to ({reason}); nothing is kept")

    def close(self) -> None:
        """Let the folder go; the store can be used again."""
        if self._folder is not None:
            self._folder.close()
            self._folder = None
            self._opened = False

    def __enter__(self) -> "Cache":
        """The store itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let the folder go."""
        self.close()

    def __del__(self) -> None:
        """Let the folder go."""
        self.close()

    def _open(self) -> Folder | None:
        if self._opened:
            return self._folder
        self._opened = True
        path = self._named if self._named is not None else default_folder()
        if path is None:
            self._warn("cache: there is no home folder to keep it in; set DFMCHECK_CACHE to one")
            return None
        try:
            self._folder = Folder(path)
        except Unusable as error:
            self._warn(f"cache: {error}; nothing is kept")
        return self._folder

    def _warn(self, text: str) -> None:
        if not self.warnings:
            self.warnings = (text,)

    def _account(self, folder: Folder, size: int) -> None:
        """Count blocks written by all runs since the last sweep, as bytes of one file's length."""
        blocks = -(-size // _BLOCK) + 1
        fd = folder.open(_WRITTEN, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        try:
            os.write(fd, bytes(blocks))
            written = os.fstat(fd).st_size * _BLOCK
        finally:
            os.close(fd)
        if written > self._most // 8:
            folder.remove(_WRITTEN)
            sweep(folder, self._most)


def _name(key: str) -> str:
    if len(key) != 64 or not set(key) <= set("0123456789abcdef"):
        msg = f"a key of the cache has 64 hexadecimal digits, not {key!r}"
        raise ValueError(msg)
    return f"{key[:2]}/{key[2:]}"


def _write(folder: Folder, name: str, data: bytes) -> None:
    fd = folder.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    with os.fdopen(fd, "wb", buffering=0) as file:
        rest = memoryview(data)
        while rest:
            rest = rest[file.write(rest) or 0 :]


def _touch(fd: int, found: os.stat_result) -> None:
    """Note the use; the time of change serves, since many systems keep no time of reading."""
    import time

    if os.utime in os.supports_fd and time.time() - found.st_mtime > _TOUCH_SECONDS:
        with contextlib.suppress(OSError):
            os.utime(fd)


def sweep(folder: Folder, most_bytes: int) -> int:
    """Remove the entries unused for longest until the store has three quarters of its bound.

    Runs that sweep at once remove the same entries in the same order, and no more than one alone.

    Args:
        folder: the open folder.
        most_bytes: the bound; seven eighths of it may stay.

    Returns:
        The number of entries removed.
    """
    import time

    for entry in folder.list(_TEMPORARY):
        if time.time() - _state(entry)[0] > _STALE_SECONDS:
            folder.remove(f"{_TEMPORARY}/{entry.name}")
    entries = sorted(_entries(folder))
    total = sum(size for _, _, size in entries)
    if total <= most_bytes * 7 // 8:
        return 0
    removed = 0
    for _, name, size in entries:
        if total <= most_bytes * 3 // 4:
            break
        folder.remove(name)
        total -= size
        removed += 1
    return removed


def _entries(folder: Folder) -> Iterator[tuple[float, str, int]]:
    """Last use, name and size on the disk of each entry."""
    for sub in folder.list():
        if len(sub.name) == 2 and sub.is_dir(follow_symlinks=False):
            for entry in folder.list(sub.name):
                used, size = _state(entry)
                yield used, f"{sub.name}/{entry.name}", -(-size // _BLOCK) * _BLOCK


def _state(entry: "os.DirEntry[str]") -> tuple[float, int]:
    try:
        found = entry.stat(follow_symlinks=False)
    except OSError:
        return 0.0, 0
    return found.st_mtime, found.st_size

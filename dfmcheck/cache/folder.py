"""The folder of the cache: found, made for its owner alone, and held open.

Where the system allows it every file is reached through the folder's descriptor, so that nobody
can slip another folder in between the check and the use.
"""

import contextlib
import os
import stat
from pathlib import Path

LAYOUT = "v1"
"""Subfolder in which this layout lives; what else lies in the cache's folder is left alone."""

_DIR_FLAGS = getattr(os, "O_DIRECTORY", 0) | getattr(os, "O_NOFOLLOW", 0)
_FILE_FLAGS = (
    getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
)
_BY_DESCRIPTOR = all(
    f in os.supports_dir_fd for f in (os.open, os.mkdir, os.unlink, os.rename, os.utime)
)


class Unusable(Exception):  # noqa: N818
    """The folder cannot serve as a cache; the text says why and what to do."""


def default_folder(environ: "os._Environ[str] | dict[str, str] | None" = None) -> Path | None:
    """`DFMCHECK_CACHE` if it is set, else the user's cache folder, None where there is neither."""
    named = (os.environ if environ is None else environ).get("DFMCHECK_CACHE", "")
    if named:
        return Path(named)
    import platformdirs

    found = Path(platformdirs.user_cache_dir("dfmcheck", appauthor=False))
    return found if found.is_absolute() else None


class Folder:
    """An open cache folder; names are relative to it and have at most one slash.

    Raises:
        Unusable: it cannot be made or opened, belongs to someone else, or others may write to it.
    """

    def __init__(self, path: Path) -> None:
        """Make the folder if need be, and open it."""
        self.path = Path(os.path.abspath(path)) / LAYOUT  # noqa: PTH100
        self._fd: int | None = None
        try:
            self._prepare()
        except OSError as error:
            reason = error.strerror or type(error).__name__
            msg = f"{path} cannot be used ({reason}); name another folder in DFMCHECK_CACHE"
            raise Unusable(msg) from None

    def _prepare(self) -> None:
        parent = self.path.parent
        _no_foreign_links(parent)
        parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        _trusted(parent, os.stat(parent), sticky_is_fine=True)  # noqa: PTH116
        if not self.path.is_symlink() and not self.path.exists():
            with contextlib.suppress(FileExistsError):
                self.path.mkdir(mode=0o700)
        found = os.lstat(self.path)
        if not stat.S_ISDIR(found.st_mode):
            msg = f"{self.path} is no folder but a link or a file; remove it"
            raise Unusable(msg)
        if _BY_DESCRIPTOR:
            self._fd = os.open(self.path, os.O_RDONLY | _DIR_FLAGS)
            found = os.fstat(self._fd)
        try:
            self._own(found)
        except (OSError, Unusable):
            self.close()
            raise

    def _own(self, found: os.stat_result) -> None:
        _trusted(self.path, found, sticky_is_fine=False)
        mine = not hasattr(os, "geteuid") or found.st_uid == os.geteuid()
        if mine and os.name == "posix" and stat.S_IMODE(found.st_mode) != 0o700:
            os.chmod(self.path if self._fd is None else self._fd, 0o700)  # noqa: PTH101

    def _at(self, name: str) -> str:
        return name if self._fd is not None else str(self.path / name)

    def open(self, name: str, flags: int, mode: int = 0o600) -> int:
        """A descriptor of a file; links are not followed."""
        return os.open(self._at(name), flags | _FILE_FLAGS, mode, dir_fd=self._fd)

    def mkdir(self, name: str) -> None:
        """Make a subfolder if it is not there."""
        with contextlib.suppress(FileExistsError):
            os.mkdir(self._at(name), 0o700, dir_fd=self._fd)

    def replace(self, name: str, new: str) -> None:
        """Put a file in the place of another at once."""
        os.replace(self._at(name), self._at(new), src_dir_fd=self._fd, dst_dir_fd=self._fd)

    def remove(self, name: str) -> None:
        """Remove a file; it is no fault if it is gone or in use."""
        with contextlib.suppress(OSError):
            os.unlink(self._at(name), dir_fd=self._fd)

    def list(self, name: str = "") -> list[os.DirEntry[str]]:
        """What lies in the folder or in a subfolder; nothing if it cannot be listed."""
        try:
            if self._fd is None:
                with os.scandir(self.path / name if name else self.path) as found:
                    return list(found)
            fd = os.open(name or ".", os.O_RDONLY | _DIR_FLAGS, dir_fd=self._fd)
        except OSError:
            return []
        try:
            with os.scandir(fd) as found:
                entries = list(found)
                for entry in entries:
                    _remember(entry)
                return entries
        except OSError:
            return []
        finally:
            os.close(fd)

    def close(self) -> None:
        """Let the descriptor go."""
        if self._fd is not None:
            os.close(self._fd)
            self._fd = None


def _remember(entry: "os.DirEntry[str]") -> None:
    """Have an entry remember its state while the folder's descriptor is still open."""
    with contextlib.suppress(OSError):
        entry.stat(follow_symlinks=False)


def _trusted(path: Path, found: os.stat_result, *, sticky_is_fine: bool) -> None:
    """Whether nobody but this user and the superuser can put entries there.

    Raises:
        Unusable: someone else can.
    """
    if not hasattr(os, "geteuid"):
        return
    if found.st_uid not in (os.geteuid(), 0):
        msg = f"{path} belongs to another user; name a folder of your own in DFMCHECK_CACHE"
        raise Unusable(msg)
    if found.st_mode & 0o022 and not (sticky_is_fine and found.st_mode & stat.S_ISVTX):
        msg = f"other users may write to {path}; take that right away or remove it"
        raise Unusable(msg)


def _no_foreign_links(path: Path) -> None:
    """Refuse a path that leads through a link which another user has laid.

    Raises:
        Unusable: it does.
    """
    if not hasattr(os, "geteuid"):
        return
    for step in (*reversed(path.parents), path):
        try:
            found = os.lstat(step)
        except FileNotFoundError:
            return
        if stat.S_ISLNK(found.st_mode) and found.st_uid not in (os.geteuid(), 0):
            msg = f"{step} is a link that belongs to another user; name another folder"
            raise Unusable(msg)

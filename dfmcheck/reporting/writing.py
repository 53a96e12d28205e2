"""Writing a report to a file: whole or not at all."""

import contextlib
import os
import stat
import tempfile
from pathlib import Path

from dfmcheck.errors import UsageError
from dfmcheck.reporting.sanitise import clean


def write_file(path: str, data: bytes) -> None:
    """Write a file so that a reader finds the old content or the new, never half of it.

    A symbolic link is followed; what is no regular file (a device, a pipe) is written to.

    Raises:
        UsageError: the file cannot be written.
    """
    try:
        target = Path(path).resolve()
        if target.exists() and not target.is_file():
            _into(target, data)
        else:
            _replace(target, data)
    except (OSError, ValueError) as error:
        raise _refused(path, error) from error


def check_writable(path: str) -> None:
    """Find out whether a report could be written, without leaving a trace.

    Raises:
        UsageError: the folder is missing or nothing may be written to it.
    """
    try:
        target = Path(path).resolve()
        if target.is_dir():
            raise IsADirectoryError(None, "it is a folder")
        if target.exists() and not target.is_file():
            return
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=".dfmcheck-")
        os.close(handle)
        Path(name).unlink()
    except (OSError, ValueError) as error:
        raise _refused(path, error) from error


def _into(target: Path, data: bytes) -> None:
    if target.is_dir():
        raise IsADirectoryError(None, "it is a folder")
    with target.open("wb") as file:
        file.write(data)


def _replace(target: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=".dfmcheck-")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        temporary.chmod(_mode(target))
        temporary.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise


def _mode(target: Path) -> int:
    """The mode of the file that is replaced, or what a new file gets from the umask."""
    with contextlib.suppress(OSError):
        return stat.S_IMODE(target.stat().st_mode)
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _refused(path: str, error: OSError | ValueError) -> UsageError:
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return UsageError(
        f"the report {clean(path)} cannot be written: {clean(reason)}; "
        "name a path in a folder that exists and may be written to"
    )

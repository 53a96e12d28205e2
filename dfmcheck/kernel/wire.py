"""What the pool, its server and the workers say to each other.

Pool to server, over one socket: a header (seconds, memory) with two descriptors, the job's file
and the job's socket. The job's file holds the name and the STEP bytes. On the job's socket the
worker writes its answer and then the server, once the worker is gone, how it ended (`Ending`).
"""

import mmap
import os
import struct
import tempfile
from collections.abc import Callable

import msgspec

from dfmcheck.model.facts import FileFacts, NotRead

HEADER = struct.Struct("<dQ")
"""Seconds and bytes of memory allowed for one job."""

READY = b"R"
"""Sent by the server once the kernel is loaded."""

_LENGTH = struct.Struct("<I")

Mark = Callable[..., None]
"""Called with the number of a stage that begins and a note on what is wrong, see `Progress`."""

STAGES = (
    "starting",
    "reading the text of the file",
    "building its solids",
    "sorting its products",
    "measuring its parts",
)


class Ending(msgspec.Struct, frozen=True):
    """How a worker ended, as its server saw it.

    `status` is what `os.waitpid` gave; `killed` "timeout" or "memory" where the server ended it;
    `stage` an index of `STAGES`; `note` what was known to be wrong with the file by then; `text`
    the last of what the kernel printed; `missing` the sentence of a kernel that could not be
    loaded (nothing ran).
    """

    status: int = 0
    killed: str = ""
    stage: int = 0
    note: str = ""
    text: str = ""
    missing: str = ""


class Progress:
    """Memory shared by a worker and its server: how far the worker is, whatever ends it."""

    SIZE = 1024

    def __init__(self) -> None:
        """Get the memory; a process forked later shares it."""
        self._memory = mmap.mmap(-1, self.SIZE)

    def mark(self, stage: int, note: str = "") -> None:
        """Say which stage begins, and what is known to be wrong with the file."""
        text = note.encode()[: self.SIZE - 3]
        self._memory[1 : 3 + len(text)] = len(text).to_bytes(2, "little") + text
        self._memory[0] = stage

    def read(self) -> tuple[int, str]:
        """Stage and note as last marked."""
        length = int.from_bytes(self._memory[1:3], "little")
        return self._memory[0], self._memory[3 : 3 + length].decode("utf-8", "replace")

    def close(self) -> None:
        """Give the memory back."""
        self._memory.close()


def job_file(data: bytes, name: str) -> int:
    """Descriptor of an unnamed file with the name and the bytes of a job."""
    encoded = name.encode("utf-8", "surrogateescape")
    if hasattr(os, "memfd_create"):
        fd = os.memfd_create("dfmcheck-job", os.MFD_CLOEXEC)
    else:
        with tempfile.TemporaryFile() as file:
            fd = os.dup(file.fileno())
    with os.fdopen(os.dup(fd), "wb") as file:
        file.write(_LENGTH.pack(len(encoded)) + encoded)
        file.write(data)
    return fd


def read_job(fd: int) -> tuple[bytes, str]:
    """Bytes and name of a job; closes the descriptor."""
    os.lseek(fd, 0, os.SEEK_SET)
    with os.fdopen(fd, "rb") as file:
        (length,) = _LENGTH.unpack(file.read(_LENGTH.size))
        name = file.read(length).decode("utf-8", "surrogateescape")
        return file.read(), name


def pack_answer(answer: FileFacts | NotRead) -> bytes:
    """The worker's answer as bytes."""
    tag = b"F" if isinstance(answer, FileFacts) else b"N"
    return tag + msgspec.msgpack.encode(answer)


def unpack_answer(data: bytes) -> FileFacts | NotRead | None:
    """The worker's answer, or None if it is not whole."""
    try:
        if data[:1] == b"F":
            return msgspec.msgpack.decode(data[1:], type=FileFacts)
        if data[:1] == b"N":
            return msgspec.msgpack.decode(data[1:], type=NotRead)
    except (msgspec.DecodeError, ValueError):
        return None
    return None


def pack_ending(ending: Ending) -> bytes:
    """The server's last words about a job."""
    data = msgspec.msgpack.encode(ending)
    return data + _LENGTH.pack(len(data))


def split_ending(stream: bytes) -> tuple[bytes, Ending] | None:
    """What the worker wrote and how it ended; None if the server's words are missing."""
    if len(stream) < _LENGTH.size:
        return None
    (length,) = _LENGTH.unpack(stream[-_LENGTH.size :])
    start = len(stream) - _LENGTH.size - length
    if start < 0:
        return None
    try:
        ending = msgspec.msgpack.decode(stream[start : -_LENGTH.size], type=Ending)
    except (msgspec.DecodeError, ValueError):
        return None
    return stream[:start], ending

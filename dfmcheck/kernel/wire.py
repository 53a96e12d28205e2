"""What the pool, its server and the workers say to each other.

Pool to server, over one socket: a header (seconds, memory) with two descriptors, the job's file
and the job's socket. The job's file holds the name and the STEP bytes. On the job's socket the
worker writes its answer and then the server, once the worker is gone, how it ended (`Ending`).
"""

import os
import struct
import tempfile

import msgspec

from dfmcheck.model.facts import FileFacts, NotRead

HEADER = struct.Struct("<dQ")
"""Seconds and bytes of memory allowed for one job."""

READY = b"R"
"""Sent by the server once the kernel is loaded."""

_LENGTH = struct.Struct("<I")

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
    `stage` an index of `STAGES`; `text` the last of what the kernel printed; `missing` the
    sentence of a kernel that could not be loaded (nothing ran).
    """

    status: int = 0
    killed: str = ""
    stage: int = 0
    text: str = ""
    missing: str = ""


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

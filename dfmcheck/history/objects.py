"""Objects of the store through one `git cat-file` process that stays open."""

import contextlib
import subprocess
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from dfmcheck.errors import HistoryError
from dfmcheck.history.complaints import needs_newer_git
from dfmcheck.history.names import encode
from dfmcheck.history.process import GitProcess

_AT_ONCE = 300
"""Requests sent before the first answer is read; they must fit into a pipe (64 KiB)."""


class ObjectInfo(NamedTuple):
    """Id, type ("blob", "tree", "commit", "tag") and size in bytes of an object."""

    oid: str
    kind: str
    size: int


class DamagedObjectError(HistoryError):
    """The object store cannot give an object that it should have."""


class Objects:
    """Answers questions about objects, in the order asked; missing ones are None.

    A name is an object id or any revision expression without a newline. Not for several threads.
    """

    def __init__(self, process: GitProcess) -> None:
        """Nothing is started before the first question."""
        self._process = process
        self._both: _Batch | None = None
        self._check: _Batch | None = None
        self._old_git = False

    def info(self, names: Sequence[str]) -> list[ObjectInfo | None]:
        """Id, type and size of each object.

        Raises:
            DamagedObjectError: the store is damaged, or a partial clone lacks the object.
        """
        batch, command = self._batch("info")
        return [info for info, _ in batch.ask(command, names, contents=False)]

    def contents(self, names: Sequence[str]) -> Iterator[tuple[ObjectInfo, bytes] | None]:
        """Info and bytes of each object.

        Raises:
            DamagedObjectError: the store is damaged, or a partial clone lacks the object.
        """
        batch, command = self._batch("contents")
        for info, data in batch.ask(command, names, contents=True):
            yield None if info is None else (info, data)

    def one(self, name: str) -> tuple[ObjectInfo, bytes] | None:
        """Info and bytes of one object."""
        return next(iter(list(self.contents([name]))))

    def close(self) -> None:
        """End the process."""
        for batch in (self._both, self._check):
            if batch is not None:
                batch.close()
        self._both = self._check = None

    def _batch(self, command: str) -> "tuple[_Batch, bytes]":
        """The process for a command, and what stands before a name. A dead one is replaced."""
        if not self._old_git:
            if self._both is None or self._both.dead:
                self._both = _Batch(self._process, "--batch-command")
                if self._both.unknown():
                    self._both, self._old_git = None, True
            if self._both is not None:
                return self._both, command.encode() + b" "
        if command == "info":
            if self._check is None or self._check.dead:
                self._check = _Batch(self._process, "--batch-check")
            return self._check, b""
        if self._both is None or self._both.dead:
            self._both = _Batch(self._process, "--batch")
        return self._both, b""


class _Batch:
    """One running `git cat-file`."""

    def __init__(self, process: GitProcess, mode: str) -> None:
        self._owner = process
        self._running: subprocess.Popen[bytes] = process.start("cat-file", mode)
        self._said: deque[bytes] = deque(maxlen=20)
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()
        self.dead = False

    def unknown(self) -> bool:
        """True where this git does not know the mode (it came with 2.36)."""
        try:
            next(self.ask(b"info ", ["HEAD"], contents=False))
        except DamagedObjectError:
            return needs_newer_git(self._words())
        return False

    def ask(
        self, command: bytes, names: Sequence[str], *, contents: bool
    ) -> Iterator[tuple[ObjectInfo | None, bytes]]:
        for begin in range(0, len(names), _AT_ONCE):
            part = names[begin : begin + _AT_ONCE]
            lines = [command + encode(name) for name in part]
            if any(b"\n" in line or b"\0" in line for line in lines):
                msg = "a name of a revision holds a line break"
                raise HistoryError(msg)
            self._send(b"\n".join(lines) + b"\n")
            # Answers are taken in full before they are handed on, so that a caller may stop early.
            yield from [self._answer(contents=contents) for _ in part]

    def _send(self, lines: bytes) -> None:
        assert self._running.stdin is not None  # noqa: S101 - always piped
        try:
            self._running.stdin.write(lines)
            self._running.stdin.flush()
        except OSError as error:
            raise self._died() from error

    def _answer(self, *, contents: bool) -> tuple[ObjectInfo | None, bytes]:
        assert self._running.stdout is not None  # noqa: S101 - always piped
        line = self._running.stdout.readline()
        if not line.endswith(b"\n"):
            raise self._died()
        words = line[:-1].rsplit(b" ", 2)
        if words[-1] in {b"missing", b"ambiguous"} or len(words) != 3:
            return None, b""
        info = ObjectInfo(
            words[0].decode("ascii", "replace"), words[1].decode("ascii", "replace"), int(words[2])
        )
        if not contents:
            return info, b""
        data = self._running.stdout.read(info.size)
        if len(data) != info.size or self._running.stdout.read(1) != b"\n":
            raise self._died()
        return info, data

    def _died(self) -> DamagedObjectError:
        self.close()
        complaint = self._owner.complaint(self._words(), "cat-file")
        return DamagedObjectError(str(complaint))

    def _listen(self) -> None:
        assert self._running.stderr is not None  # noqa: S101 - always piped
        for line in self._running.stderr:
            self._said.append(line)

    def _words(self) -> str:
        return b"".join(self._said).decode("utf-8", "replace")

    def close(self) -> None:
        if self.dead:
            return
        self.dead = True
        assert self._running.stdin is not None  # noqa: S101 - always piped
        with contextlib.suppress(OSError):
            self._running.stdin.close()
        if self._running.stdout is not None:
            self._running.stdout.close()
        try:
            self._running.wait(timeout=5)
        except subprocess.TimeoutExpired:
            self._running.kill()
            self._running.wait()
        self._listener.join(timeout=5)
        if self._running.stderr is not None and not self._listener.is_alive():
            self._running.stderr.close()  # while it listens, closing would wait for it

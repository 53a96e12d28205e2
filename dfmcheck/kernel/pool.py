"""The pool of kernel workers: STEP bytes in, futures out, every file isolated.

A fork server (`dfmcheck.kernel.server`) loads the kernel once and forks a process for each file,
so that a crash, a hang or a hunger for memory costs one file its answer and nothing else.
Importing this module does not import the kernel, nor does anything in the process that uses it.
"""

import fcntl
import logging
import os
import signal
import socket
import subprocess
import sys
import threading
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from dfmcheck.errors import KernelMissingError
from dfmcheck.kernel import wire
from dfmcheck.model.facts import FileFacts, NotRead

log = logging.getLogger(__name__)

Answer = FileFacts | NotRead

LOAD_S = 300.0
"""Longest wait for the kernel to load, beyond a file's own time."""

_RUN = "import sys; sys.path.append(sys.argv[1]); from dfmcheck.kernel.server import main; main()"


class _Server:
    """The fork server's process and the socket over which it gets jobs."""

    def __init__(self) -> None:
        ours, theirs = (_above_standard(s) for s in socket.socketpair())
        home = str(Path(__file__).resolve().parents[2])
        environment = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
        self.control = ours
        self.lock = threading.Lock()
        with theirs:
            self.process = subprocess.Popen(
                [sys.executable, "-P", "-W", "ignore", "-c", _RUN, home],
                stdin=theirs.fileno(),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
                env=environment,
            )

    def send(self, header: bytes, fds: list[int]) -> bool:
        with self.lock:
            try:
                socket.send_fds(self.control, [header], fds)
            except OSError:
                return False
        return True

    def was_ready(self) -> bool:
        """True if the kernel had been loaded."""
        try:
            return self.control.recv(1, socket.MSG_PEEK | socket.MSG_DONTWAIT) == wire.READY
        except OSError:
            return False

    def close(self) -> int:
        """Hang up, wait for the end, and give the return code."""
        with suppress(OSError):
            self.control.shutdown(socket.SHUT_WR)
        try:
            code: int = self.process.wait(timeout=5.0)
        except subprocess.TimeoutExpired:
            self.process.kill()
            code = self.process.wait()
        self.control.close()
        return code


class KernelPool:
    """Reads STEP files in isolated processes.

    Args:
        workers: files read at the same time; None for one a core, at most four.
        seconds: wall time allowed for each file.
        memory_mb: memory each file may use beside the kernel's own.
    """

    def __init__(
        self, workers: int | None = None, seconds: float = 120.0, memory_mb: int = 4096
    ) -> None:
        """Set the limits; nothing is started yet."""
        self.workers = max(1, workers if workers is not None else min(4, os.cpu_count() or 1))
        self.seconds = seconds
        self.memory_mb = memory_mb
        self._lock = threading.Lock()
        self._server: _Server | None = None
        self._restarts = 2
        self._closed = False
        self._threads = ThreadPoolExecutor(self.workers, thread_name_prefix="dfmcheck-kernel")

    def start(self) -> None:
        """Begin to load the kernel in the background; returns at once."""
        self._running()

    def submit(self, data: bytes, name: str) -> Future[Answer]:
        """Read one file.

        Args:
            data: the STEP bytes.
            name: the file's name, for messages.

        Returns:
            A future with the facts, or the clear answer why there are none. It raises
            KernelMissingError if the kernel cannot be loaded, and nothing else.
        """
        self._running()
        return self._threads.submit(self._answer, data, name)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End the pool, as `concurrent.futures.Executor.shutdown`.

        With `cancel_futures` running workers are ended too.
        """
        if cancel_futures:
            self._close_server()
        self._threads.shutdown(wait=wait, cancel_futures=cancel_futures)
        if wait:
            self._close_server()

    def __enter__(self) -> Self:
        """Use the pool in a with statement."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Wait for all answers; after an exception, end everything at once."""
        self.shutdown(wait=True, cancel_futures=error is not None)

    def _running(self) -> _Server:
        with self._lock:
            if self._closed:
                msg = "the pool has been shut down"
                raise RuntimeError(msg)
            if self._server is None:
                self._server = _Server()
            return self._server

    def _close_server(self) -> None:
        with self._lock:
            self._closed = True
            if self._server is not None:
                self._server.close()
                self._server = None

    def _answer(self, data: bytes, name: str) -> Answer:
        for _ in range(2):
            try:
                server = self._running()
            except RuntimeError:
                break
            stream = self._ask(server, data, name)
            parts = None if stream is None else wire.split_ending(stream)
            if parts is not None:
                return self._judge(name, *parts)
            self._lost(server)
        return NotRead(
            kind="crash",
            reason="the process that reads it was ended from outside",
            remedy="run again; if it happens again, look for a lack of memory on this machine",
        )

    def _ask(self, server: _Server, data: bytes, name: str) -> bytes | None:
        """Everything written about one job; None if the server is gone."""
        ours, theirs = (_above_standard(s) for s in socket.socketpair())
        job = wire.job_file(data, name)
        header = wire.HEADER.pack(self.seconds, self.memory_mb << 20)
        with ours:
            try:
                sent = server.send(header, [job, theirs.fileno()])
            finally:
                theirs.close()
                os.close(job)
            if not sent:
                return None
            ours.settimeout(self.seconds + LOAD_S)
            chunks = []
            try:
                while chunk := ours.recv(1 << 20):
                    chunks.append(chunk)
            except TimeoutError:
                return wire.pack_ending(wire.Ending(killed="timeout"))
            except OSError:
                return None
        return b"".join(chunks)

    def _lost(self, server: _Server) -> None:
        """The server is gone: let the next job start another one, a few times.

        Raises:
            KernelMissingError: it went while it loaded the kernel.
        """
        with self._lock:
            if self._closed or self._server is not server:
                return
            ready = server.was_ready()
            code = server.close()
            self._server = None
            self._restarts -= 1
            if ready and self._restarts >= 0:
                return
        if not ready:
            how = signal.Signals(-code).name if code < 0 else f"exit status {code}"
            msg = f"the geometry kernel cannot be loaded: its process ended at once ({how})"
            raise KernelMissingError(msg)

    def _judge(self, name: str, written: bytes, ending: wire.Ending) -> Answer:
        if ending.missing:
            raise KernelMissingError(ending.missing)
        if ending.text:
            log.debug("the kernel on %r: %s", name, ending.text)
        answer = wire.unpack_answer(written)
        if answer is not None:
            return answer
        return _no_answer(ending, self.seconds, self.memory_mb)


def _no_answer(ending: wire.Ending, seconds: float, memory_mb: int) -> NotRead:
    also = f"; {ending.note}" if ending.note else ""
    doing = wire.STAGES[min(ending.stage, len(wire.STAGES) - 1)]
    how = os.waitstatus_to_exitcode(ending.status)
    if ending.killed == "timeout" or -how == signal.SIGXCPU:
        return NotRead(
            kind="timeout",
            reason=f"not done within {seconds:g} s (it was {doing}){also}",
            remedy="raise the limit on time, or simplify the part and export it again",
        )
    if ending.killed == "memory":
        return NotRead(
            kind="memory",
            reason=f"it needs more than the {memory_mb} MB it may use (it was {doing})",
            remedy="raise the limit on memory, or split the file",
        )
    name = signal.Signals(-how).name if how < 0 else f"exit status {how}"
    return NotRead(
        kind="crash",
        reason=f"the geometry kernel crashed on it ({name}, while {doing}){also}",
        remedy="export the part again from the CAD program and check that it is one valid solid",
    )


def _above_standard(sock: socket.socket) -> socket.socket:
    """The same socket on a descriptor above 2, so that closed standard streams do no harm."""
    if sock.fileno() > 2:
        return sock
    with sock:
        return socket.socket(fileno=fcntl.fcntl(sock.fileno(), fcntl.F_DUPFD_CLOEXEC, 3))

"""The fork server: loads the kernel once, then forks one worker for each file.

It runs in a process and a session of its own, started by `dfmcheck.kernel.pool`. It ends, and ends
its workers, as soon as the pool's end of the control socket is closed, however the pool's process
ended.
"""

import gc
import os
import selectors
import signal
import socket
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass

from dfmcheck.errors import KernelMissingError
from dfmcheck.kernel import guard, limits, wire

WATCH_S = 0.05
"""How often time and memory of running workers are looked at."""

TEXT_BYTES = 2000


@dataclass
class Job:
    """A running worker: `alive` is a pipe that closes when it ends."""

    pid: int
    answer: socket.socket
    alive: int
    log: int
    progress: wire.Progress
    until: float
    memory_bytes: int
    killed: str = ""


class Server:
    """Forks a worker for each job, watches it, and says how it ended."""

    def __init__(self, control: socket.socket) -> None:
        """Take the socket over which jobs come."""
        self.control = control
        self.selector = selectors.DefaultSelector()
        self.jobs: dict[int, Job] = {}
        self.missing = ""
        self.own_bytes = 0

    def serve(self) -> None:
        """Load the kernel and answer jobs until the pool hangs up."""
        gc.disable()  # loading makes very many objects and no garbage
        try:
            from dfmcheck.kernel import worker

            worker.warm_up()
        except KernelMissingError as error:
            self.missing = str(error)
        except Exception as error:  # noqa: BLE001 - whatever it is, the pool must hear of it
            self.missing = f"the geometry kernel cannot be used ({guard.describe(error)})"
        gc.freeze()
        gc.set_threshold(50_000)
        gc.enable()
        self.own_bytes = limits.resident_bytes(os.getpid()) or 0
        with suppress(OSError):
            self.control.sendall(wire.READY)
        self.selector.register(self.control, selectors.EVENT_READ)
        try:
            while self._turn():
                pass
        finally:
            for job in self.jobs.values():
                _kill(job.pid)

    def _turn(self) -> bool:
        for key, _ in self.selector.select(WATCH_S if self.jobs else None):
            if key.fileobj is self.control:
                if not self._accept():
                    return False
            else:
                self._ended(self.jobs.pop(key.fd))
        self._watch()
        return True

    def _accept(self) -> bool:
        try:
            header, fds, _, _ = socket.recv_fds(self.control, wire.HEADER.size, 2)
        except OSError:
            return False
        if len(header) < wire.HEADER.size or len(fds) != 2:
            return False
        seconds, memory = wire.HEADER.unpack(header)
        data, answer = fds[0], socket.socket(fileno=fds[1])
        if self.missing:
            os.close(data)
            _finish(answer, wire.Ending(missing=self.missing))
            return True
        self._fork(data, answer, seconds, memory)
        os.close(data)
        return True

    def _fork(self, data: int, answer: socket.socket, seconds: float, memory: int) -> None:
        alive, tell = os.pipe()
        log = _log_file()
        progress = wire.Progress()
        pid = os.fork()
        if pid == 0:
            try:
                os.close(alive)
                self._forget()
                _work(data, answer, log, progress, seconds, memory)
            finally:
                os._exit(70)
        os.close(tell)
        until = time.monotonic() + seconds
        self.jobs[alive] = Job(pid, answer, alive, log, progress, until, memory)
        self.selector.register(alive, selectors.EVENT_READ)

    def _forget(self) -> None:
        """In a worker: let go of everything that belongs to the server and to other workers."""
        self.selector.close()
        self.control.close()
        for job in self.jobs.values():
            job.answer.close()
            os.close(job.alive)
            os.close(job.log)

    def _watch(self) -> None:
        now = time.monotonic()
        for job in self.jobs.values():
            if job.killed:
                continue
            held = limits.resident_bytes(job.pid)
            if now > job.until:
                job.killed = "timeout"
            elif held is not None and held > self.own_bytes + job.memory_bytes:
                job.killed = "memory"
            elif _hung_up(job.answer):
                job.killed = "unwanted"
            if job.killed:
                _kill(job.pid)

    def _ended(self, job: Job) -> None:
        self.selector.unregister(job.alive)
        os.close(job.alive)
        _, status = os.waitpid(job.pid, 0)
        stage, note = job.progress.read()
        job.progress.close()
        ending = wire.Ending(
            status=status, killed=job.killed, stage=stage, note=note, text=_tail(job.log)
        )
        _finish(job.answer, ending)


def _work(
    data: int,
    answer: socket.socket,
    log: int,
    progress: wire.Progress,
    seconds: float,
    memory: int,
) -> None:
    from dfmcheck.kernel import worker

    limits.die_with_parent()
    limits.limit_this_process(seconds, memory)
    guard.redirect_output(log)

    answer.sendall(worker.answer(*wire.read_job(data), progress.mark))
    answer.shutdown(socket.SHUT_RD)
    os._exit(0)


def _log_file() -> int:
    with tempfile.TemporaryFile() as file:
        return os.dup(file.fileno())


def _tail(log: int) -> str:
    size = os.lseek(log, 0, os.SEEK_END)
    os.lseek(log, max(0, size - TEXT_BYTES), os.SEEK_SET)
    data = os.read(log, TEXT_BYTES)
    os.close(log)
    return data.decode("utf-8", "replace")


def _hung_up(answer: socket.socket) -> bool:
    """True where nobody waits for the answer any more."""
    try:
        return answer.recv(1, socket.MSG_PEEK | socket.MSG_DONTWAIT) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True


def _finish(answer: socket.socket, ending: wire.Ending) -> None:
    with suppress(OSError), answer:
        answer.settimeout(10.0)
        answer.sendall(wire.pack_ending(ending))


def _kill(pid: int) -> None:
    with suppress(ProcessLookupError):
        os.kill(pid, signal.SIGKILL)


def main() -> None:
    """Serve on the socket given as file descriptor 0."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_IGN if number == signal.SIGINT else signal.SIG_DFL)
    control = socket.socket(fileno=os.dup(0))
    with open(os.devnull, "rb") as null:  # noqa: PTH123 - a descriptor, not a path
        os.dup2(null.fileno(), 0)
    Server(control).serve()
    control.close()
    sys.exit(0)

"""A crash, a hang or a hunger for memory costs one file its answer and nothing else."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, as_completed
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from build123d import Box, Cylinder, GridLocations

from dfmcheck.errors import KernelMissingError
from dfmcheck.kernel import pool as pools
from dfmcheck.kernel.pool import KernelPool
from dfmcheck.model.facts import FileFacts, NotRead

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/stat").exists(), reason="finds processes through /proc"
)


def children_of(pid: int) -> list[int]:
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with suppress(OSError):
                fields = (entry / "stat").read_text().rsplit(")", 1)[1].split()
                if int(fields[1]) == pid:
                    found.append(int(entry.name))
    return found


def alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state != "Z"


def eventually(condition: Callable[[], Any], seconds: float = 30.0) -> Any:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        found = condition()
        if found:
            return found
        time.sleep(0.01)
    pytest.fail("it did not happen in time")


@pytest.fixture(scope="module")
def small(as_step: Callable[..., bytes]) -> bytes:
    return as_step(Box(10, 20, 30), "block")


@pytest.fixture(scope="module")
def large(as_step: Callable[..., bytes]) -> bytes:
    """A plate with 900 holes: a second or more of work."""
    return as_step(Box(400, 400, 8) - GridLocations(13, 13, 30, 30) * Cylinder(2, 8), "sieve")


def server_of(pool: KernelPool) -> int:
    assert pool._server is not None
    return pool._server.process.pid


def worker_of(pool: KernelPool) -> int:
    return int(eventually(lambda: children_of(server_of(pool)))[0])


@pytest.fixture
def pool() -> Iterator[KernelPool]:
    with KernelPool(workers=1, seconds=60) as opened:
        yield opened


def test_a_crash_costs_one_file_its_answer(pool: KernelPool, small: bytes, large: bytes) -> None:
    lost, after = pool.submit(large, "sieve.step"), pool.submit(small, "block.step")
    os.kill(worker_of(pool), signal.SIGSEGV)
    answer = lost.result()
    assert isinstance(answer, NotRead)
    assert answer.kind == "crash"
    assert "SIGSEGV" in answer.reason
    assert isinstance(after.result(), FileFacts)


def test_a_hang_is_ended_in_time(small: bytes, large: bytes) -> None:
    with KernelPool(workers=1, seconds=2.0) as pool:
        assert isinstance(pool.submit(small, "block.step").result(), FileFacts)
        lost = pool.submit(large, "sieve.step")
        started = time.monotonic()
        os.kill(worker_of(pool), signal.SIGSTOP)
        answer = lost.result()
        assert isinstance(answer, NotRead)
        assert answer.kind == "timeout"
        assert "2 s" in answer.reason
        assert time.monotonic() - started < 20.0
        assert isinstance(pool.submit(small, "block.step").result(), FileFacts)


def test_a_file_that_needs_too_much_memory(small: bytes, large: bytes) -> None:
    with KernelPool(workers=1, seconds=60, memory_mb=12) as pool:
        answer = pool.submit(large, "sieve.step").result()
        assert isinstance(answer, NotRead)
        assert answer.kind == "memory"
        assert "12 MB" in answer.reason


def test_the_loss_of_the_server_costs_nothing(pool: KernelPool, small: bytes) -> None:
    assert isinstance(pool.submit(small, "block.step").result(), FileFacts)
    os.kill(server_of(pool), signal.SIGKILL)
    assert isinstance(pool.submit(small, "block.step").result(), FileFacts)


def test_futures_come_as_they_are_done(small: bytes, large: bytes) -> None:
    with KernelPool(workers=2) as pool:
        slow, fast = pool.submit(large, "sieve.step"), pool.submit(small, "block.step")
        order = list(as_completed([slow, fast]))
    assert order == [fast, slow]
    assert all(isinstance(f, Future) for f in order)


def test_nothing_is_left_behind(small: bytes) -> None:
    with KernelPool(workers=2) as pool:
        pool.submit(small, "block.step").result()
        server = server_of(pool)
    assert not alive(server)
    assert server not in children_of(os.getpid())


def test_an_exception_ends_the_work_at_once(large: bytes) -> None:
    started = time.monotonic()
    with pytest.raises(KeyboardInterrupt), KernelPool(workers=1) as pool:  # noqa: PT012
        waiting = [pool.submit(large, f"{i}.step") for i in range(20)]
        worker, server = worker_of(pool), server_of(pool)
        started = time.monotonic()
        raise KeyboardInterrupt
    assert time.monotonic() - started < 10.0
    assert not alive(worker)
    assert not alive(server)
    assert all(f.done() for f in waiting)


def test_after_shutdown_nothing_is_taken(small: bytes) -> None:
    pool = KernelPool(workers=1)
    pool.shutdown()
    with pytest.raises(RuntimeError, match="shut down"):
        pool.submit(small, "block.step")


def test_start_returns_at_once() -> None:
    pool = KernelPool(workers=1)
    started = time.monotonic()
    pool.start()
    took = time.monotonic() - started
    pool.shutdown(cancel_futures=True)
    assert took < 0.5


def test_a_kernel_that_cannot_load_is_said_clearly(
    monkeypatch: pytest.MonkeyPatch, small: bytes, tmp_path: Path
) -> None:
    package = tmp_path / "OCP"
    package.mkdir()
    text = "raise ImportError('libGL.so.1: cannot open shared object file')\n"
    (package / "__init__.py").write_text(text)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with KernelPool(workers=2) as pool:
        futures = [pool.submit(small, "block.step") for _ in range(3)]
        for future in futures:
            with pytest.raises(KernelMissingError, match=r"libGL\.so\.1.*libgl1"):
                future.result()


def test_a_kernel_that_dies_while_it_loads_is_said_clearly(
    monkeypatch: pytest.MonkeyPatch, small: bytes, tmp_path: Path
) -> None:
    package = tmp_path / "OCP"
    package.mkdir()
    (package / "__init__.py").write_text("import os\nos.abort()\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with KernelPool(workers=1) as pool, pytest.raises(KernelMissingError, match="SIGABRT"):
        pool.submit(small, "block.step").result()


def test_nothing_in_the_working_folder_is_run(
    monkeypatch: pytest.MonkeyPatch, pool: KernelPool, small: bytes, tmp_path: Path
) -> None:
    (tmp_path / "numpy.py").write_text("import os\nos.abort()\n")
    monkeypatch.chdir(tmp_path)
    assert isinstance(pool.submit(small, "block.step").result(), FileFacts)


SCRIPT = textwrap.dedent(
    """
    import os, signal, sys, time
    from dfmcheck.kernel.pool import KernelPool
    # a shell that runs the tests in the background has them ignore it
    signal.signal(signal.SIGINT, signal.default_int_handler)
    data = open(sys.argv[1], "rb").read()
    with KernelPool(workers=1) as pool:
        futures = [pool.submit(data, "a.step") for _ in range(int(sys.argv[2]))]
        if len(sys.argv) > 3:
            while pool._server is None:
                time.sleep(0.01)
            with open(sys.argv[3], "w") as told:
                told.write(str(pool._server.process.pid))
        names = [f.result().parts[0].name for f in futures]
    with open(sys.argv[1] + ".names", "w") as told:
        told.write(" ".join(names))
    """
)


def test_it_works_with_closed_standard_streams(small: bytes, tmp_path: Path) -> None:
    file = tmp_path / "a.step"
    file.write_bytes(small)
    script = tmp_path / "script.py"
    script.write_text(SCRIPT)
    command = f"{sys.executable} {script} {file} 2 <&- >&- 2>&-"
    assert subprocess.run(["sh", "-c", command], check=False).returncode == 0
    assert (tmp_path / "a.step.names").read_text() == "block block"


def test_the_kernel_prints_nothing(small: bytes, tmp_path: Path) -> None:
    damaged = small.replace(b"CLOSED_SHELL", b"CLOSED_SHELF")
    code = (
        "import sys; from dfmcheck.kernel.pool import KernelPool\n"
        "with KernelPool() as p: p.submit(sys.stdin.buffer.read(), 'a').result()"
    )
    done = subprocess.run([sys.executable, "-c", code], input=damaged, capture_output=True,
                          check=True)  # fmt: skip
    assert (done.stdout, done.stderr) == (b"", b"")


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL, signal.SIGINT])
def test_however_the_process_ends_no_worker_outlives_it(
    large: bytes, tmp_path: Path, number: signal.Signals
) -> None:
    file, told = tmp_path / "a.step", tmp_path / "server"
    file.write_bytes(large)
    with subprocess.Popen(
        [sys.executable, "-c", SCRIPT, str(file), "50", str(told)], stderr=subprocess.DEVNULL
    ) as process:
        server = int(eventually(lambda: told.exists() and told.read_text()))
        eventually(lambda: children_of(server))
        process.send_signal(number)
        try:
            process.wait(timeout=20)
        finally:
            process.kill()
    eventually(lambda: not alive(server))
    eventually(lambda: not children_of(server))


def test_sockets_stay_clear_of_the_standard_streams() -> None:
    import socket

    a, b = socket.socketpair()
    with a, b:
        moved = pools._above_standard(a)
        assert moved.fileno() > 2

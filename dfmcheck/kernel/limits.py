"""Limits of one worker process: time, memory, no core files."""

import os
import resource
import signal
from contextlib import suppress
from pathlib import Path

SLACK_BYTES = 1 << 30
"""Address space beyond the limit on memory: stacks and arenas that are reserved, not used."""


def resident_bytes(pid: int) -> int | None:
    """Memory that a process holds, or None where the system does not tell."""
    try:
        fields = Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()
    except OSError:
        return None
    return int(fields[1]) * os.sysconf("SC_PAGE_SIZE") if len(fields) > 1 else None


def _address_space_bytes() -> int | None:
    try:
        fields = Path("/proc/self/statm").read_text(encoding="ascii").split()
    except OSError:
        return None
    return int(fields[0]) * os.sysconf("SC_PAGE_SIZE")


def limit_this_process(seconds: float, memory_bytes: int) -> None:
    """Bound processor time and address space of this process, and leave no core file.

    These are backstops: the server that forked the process watches both more closely.
    """
    cores = os.cpu_count() or 1
    processor_s = int(seconds * cores) + 10
    wanted = [(resource.RLIMIT_CORE, 0), (resource.RLIMIT_CPU, processor_s)]
    held = _address_space_bytes()
    if held is not None:
        wanted.append((resource.RLIMIT_AS, held + memory_bytes + SLACK_BYTES))
    for which, value in wanted:
        with suppress(OSError, ValueError):
            _, hard = resource.getrlimit(which)
            bound = value if hard == resource.RLIM_INFINITY else min(value, hard)
            resource.setrlimit(which, (bound, hard))


def die_with_parent() -> None:
    """Ask the system to end this process when the one that forked it ends (Linux only)."""
    import ctypes

    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(1, int(signal.SIGKILL), 0, 0, 0)  # 1: PR_SET_PDEATHSIG

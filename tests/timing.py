"""Paired timings of whole processes, told as ratios of medians."""

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path


def seconds(command: list[str], cwd: Path, environ: dict[str, str]) -> float:
    """Wall time of one run; fails if the command does."""
    start = time.perf_counter()
    done = subprocess.run(command, cwd=cwd, env=environ, capture_output=True, check=False)
    spent = time.perf_counter() - start
    assert done.returncode in (0, 3), done.stderr.decode(errors="replace")
    return spent


def ratio(
    command: list[str],
    against: list[str],
    cwd: Path,
    *,
    runs: int = 7,
    extra: dict[str, str] | None = None,
) -> float:
    """Median time of `command` over that of `against`, run in turns."""
    environ = {k: v for k, v in os.environ.items() if not k.startswith(("GITHUB_", "CI"))}
    # an installed program has its bytecode; give both the same right to write and find it
    environ.pop("PYTHONDONTWRITEBYTECODE", None)
    environ["PYTHONPYCACHEPREFIX"] = str(cwd.parent / "bytecode")
    environ.update(extra or {})
    pairs = [
        (seconds(command, cwd, environ), seconds(against, cwd, environ)) for _ in range(runs + 1)
    ]
    mine, theirs = zip(*pairs[1:], strict=True)
    return statistics.median(mine) / statistics.median(theirs)


BARE = [
    sys.executable,
    "-c",
    """
import rich.console, git, pluggy
r = git.Repo('.')
names = r.git.diff('HEAD~1', 'HEAD', '--name-only', '-z').split(chr(0))
print(len([n for n in names if n.lower().endswith('.step')]))
""",
]
"""What a person would script: import the same libraries and list the changed files by git."""

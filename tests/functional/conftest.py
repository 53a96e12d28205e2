"""The command line in real repositories with real STEP files."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from git_fixtures import git_at, make_repo, own_git, repo

__all__ = ["git_at", "make_repo", "own_git", "repo"]


@dataclass
class Ran:
    """What one call of the command line gave."""

    status: int
    out: str
    err: str
    report: dict[str, Any]

    def part(self, file: str) -> dict[str, Any]:
        """The entry of a file in the JSON report."""
        (found,) = [p for p in self.report["parts"] if p["file"] == file]
        return found


@pytest.fixture(scope="session")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One cache for all functional tests, so that each content is read once."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def dfmcheck(cache: Path, tmp_path: Path) -> Callable[..., Ran]:
    """Run `dfmcheck ARGUMENTS` as a process; gate and part also write JSON, which is parsed."""

    def run(*arguments: str, cwd: Path, stdin: bytes = b"", **variables: str) -> Ran:
        report = tmp_path / "report.json"
        report.unlink(missing_ok=True)
        command = [sys.executable, "-m", "dfmcheck", *arguments]
        if arguments[:1] in (("gate",), ("part",)) and not any("=-" in a for a in arguments):
            command[4:4] = ["--report", f"json={report}"]
        environ = {**os.environ, "DFMCHECK_CACHE": str(cache), "COLUMNS": "80", **variables}
        done = subprocess.run(
            command,
            cwd=cwd,
            input=stdin,
            capture_output=True,
            env=environ,
            check=False,
            timeout=120,
        )
        out, err = (x.decode("utf-8", "replace") for x in (done.stdout, done.stderr))
        assert "Traceback" not in err, err
        parsed = json.loads(report.read_bytes()) if report.exists() else {}
        return Ran(done.returncode, out, err, parsed)

    return run


@pytest.fixture(scope="session")
def steps(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """STEP files made by build123d: a plate 60 x 40 x 10 with four holes, and its changes."""
    from build123d import Box, Cylinder, GridLocations, Pos, export_step

    folder = tmp_path_factory.mktemp("steps")

    def plate(thick: float = 10, hole: float = 5.5, pocket: float = 0) -> bytes:
        shape = Box(60, 40, thick)
        shape -= GridLocations(40, 20, 2, 2) * Cylinder(hole / 2, thick)
        if pocket:
            shape -= Pos(0, 0, thick / 2 - pocket / 2) * Box(20, 12, pocket)
        path = folder / f"plate-{thick}-{hole}-{pocket}.step"
        export_step(shape, str(path))
        return path.read_bytes()

    return {
        "plate": plate(),
        "thicker": plate(thick=12),
        "wider-holes": plate(hole=6.6),
        "pocket": plate(pocket=6),
    }

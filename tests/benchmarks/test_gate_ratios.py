"""How long the gate takes as a whole process, as ratios in one run on one machine."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from timing import BARE, ratio

FILES = 1000
GATE = [sys.executable, "-m", "dfmcheck", "gate"]
CUBE = "box-{n}.step"


def _git(folder: Path, *arguments: str) -> None:
    environ = {
        **{k: v for k, v in os.environ.items() if not k.startswith("GIT_")},
        "GIT_AUTHOR_NAME": "Ada (invented)", "GIT_AUTHOR_EMAIL": "ada@example.invalid",
        "GIT_COMMITTER_NAME": "Ada (invented)", "GIT_COMMITTER_EMAIL": "ada@example.invalid",
        "GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull,
    }  # fmt: skip
    subprocess.run(["git", *arguments], cwd=folder, env=environ, check=True, capture_output=True)


def _step(folder: Path, sizes: tuple[float, float, float], name: str) -> bytes:
    from build123d import Box, export_step

    path = folder / f"{name}.step"
    export_step(Box(*sizes), str(path))
    return path.read_bytes()


@pytest.fixture(scope="module")
def thousand(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A repository of 1,000 STEP files; HEAD~1..HEAD changes a text file alone."""
    scratch = tmp_path_factory.mktemp("scratch")
    small = _step(scratch, (10, 20, 30), "small")
    changed = _step(scratch, (10, 20, 31), "changed")
    folder = tmp_path_factory.mktemp("thousand")
    _git(folder, "init", "-q", "-b", "main")
    (folder / "cad").mkdir()
    for n in range(FILES):
        (folder / "cad" / CUBE.format(n=n)).write_bytes(small + b"/* %d */\n" % n)
    _git(folder, "add", ".")
    _git(folder, "commit", "-q", "-m", "parts")
    for n in range(3):
        (folder / "cad" / CUBE.format(n=n)).write_bytes(changed + b"/* %d */\n" % n)
    _git(folder, "commit", "-q", "-a", "-m", "three parts changed")
    (folder / "notes.txt").write_text("nothing about parts\n", encoding="utf-8")
    _git(folder, "add", ".")
    _git(folder, "commit", "-q", "-m", "notes")
    return folder


@pytest.mark.benchmark
def test_nothing_changed_costs_at_most_two_and_a_half_times_listing(
    thousand: Path, tmp_path: Path
) -> None:
    measured = ratio(GATE, BARE, thousand, extra={"DFMCHECK_CACHE": str(tmp_path)})
    print(f"gate without changes over bare listing: {measured:.2f}")
    assert measured <= 2.5


@pytest.mark.benchmark
def test_three_changed_and_cached_cost_at_most_four_times_listing(
    thousand: Path, tmp_path: Path
) -> None:
    command = [*GATE, "HEAD~2..HEAD~1"]
    measured = ratio(command, BARE, thousand, extra={"DFMCHECK_CACHE": str(tmp_path)})
    print(f"gate with 3 changed and cached over bare listing: {measured:.2f}")
    assert measured <= 4.0


@pytest.mark.parametrize("revisions", [(), ("HEAD~2..HEAD~1",)])
def test_a_run_without_reading_never_imports_the_kernel(
    thousand: Path, tmp_path: Path, revisions: tuple[str, ...]
) -> None:
    environ = {**os.environ, "DFMCHECK_CACHE": str(tmp_path)}
    command = [*GATE, *revisions]
    subprocess.run(command, cwd=thousand, env=environ, check=False, capture_output=True)
    script = (
        "import sys\n"
        "from dfmcheck.cli.main import main\n"
        f"sys.argv = ['dfmcheck', 'gate', *{list(revisions)!r}]\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert end.code in (0, 3), end.code\n"
        "assert 'OCP' not in sys.modules\n"
        "assert 'multiprocessing.forkserver' not in sys.modules\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=thousand,
        env=environ,
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr

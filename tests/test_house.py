"""Rules of the house that a machine can watch."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
MODULES = sorted([*ROOT.glob("dfmcheck/**/*.py"), *ROOT.glob("rules/**/*.py")])
TRACKED = [
    ROOT / p
    for p in subprocess.run(
        ["git", "-C", str(ROOT), "ls-files", "-z"], capture_output=True, check=False, text=True
    ).stdout.split("\0")
    if p
]


@pytest.mark.parametrize("module", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_module_is_over_500_lines(module: Path) -> None:
    assert len(module.read_text(encoding="utf-8").splitlines()) <= 500


def test_top_level_is_as_agreed() -> None:
    if not TRACKED:
        pytest.skip("not a git checkout: nothing to list")
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "dfmcheck",
        "rules",
        "tests",
    }
    top = {p.relative_to(ROOT).parts[0] for p in TRACKED}
    assert {t for t in top if not t.startswith(".")} == allowed


def test_no_path_of_a_machine_and_no_kept_step_file() -> None:
    if not TRACKED:
        pytest.skip("not a git checkout: nothing to list")
    suspicious = re.compile(r"/(?:home|root|work|Users)/\w")
    for path in TRACKED:
        assert path.suffix.lower() not in {".stp", ".p21"}, path
        if path.suffix in {".py", ".md", ".toml", ".yml", ".json"}:
            found = suspicious.search(path.read_text(encoding="utf-8"))
            assert found is None, f"{path}: {found}"


@pytest.mark.parametrize(
    "folder", sorted(p for p in ROOT.glob("tests/reference/*") if p.is_dir()), ids=lambda p: p.name
)
def test_each_reference_names_its_source(folder: Path) -> None:
    if folder.name == "__pycache__":
        return
    source = tomllib.loads((folder / "SOURCE.toml").read_text(encoding="utf-8"))
    for key in ("title", "publisher", "licence", "transcribed_by", "date"):
        assert source.get(key), f"{folder.name}/SOURCE.toml lacks {key}"


@pytest.mark.parametrize(
    "module",
    [
        "dfmcheck.cli.main",
        "dfmcheck.cli.commands",
        "dfmcheck.app.gate",
        "dfmcheck.api",
        "dfmcheck.reporting.text",
    ],
)
def test_importing_is_quiet_and_brings_no_kernel(module: str) -> None:
    script = (
        f"import sys, {module}\n"
        "heavy = {'OCP', 'scipy', 'shapely', 'build123d'} & set(sys.modules)\n"
        "assert not heavy, heavy"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == ""

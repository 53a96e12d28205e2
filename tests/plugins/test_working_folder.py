"""`python -m dfmcheck` in a folder full of traps runs none of them."""

import subprocess
import sys
from pathlib import Path

import pytest

TRAPS = ("click", "rich", "msgspec", "pluggy", "git", "tomli", "numpy", "dfmcheck_rules", "re")


@pytest.mark.parametrize("arguments", [("--version",), ("rules",), ("rules", "deep-hole")])
def test_modules_of_the_working_folder_are_not_imported(
    tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    for name in TRAPS:
        text = f"open('sprung-{name}', 'w').close()\nraise ImportError('a trap')\n"
        (tmp_path / f"{name}.py").write_text(text, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "dfmcheck", *arguments],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert list(tmp_path.glob("sprung-*")) == []
    assert done.returncode == 0, done.stderr

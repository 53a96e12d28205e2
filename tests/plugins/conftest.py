"""Packages installed into a folder of their own, as pip would leave them."""

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from installed import Install, write_metadata

HERE = Path(__file__).parent


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder on the search path for packages; what is imported from it is forgotten again."""
    folder = tmp_path / "site-packages"
    folder.mkdir()
    monkeypatch.syspath_prepend(folder)
    before = set(sys.modules)
    yield folder
    for name in set(sys.modules) - before:
        if str(getattr(sys.modules[name], "__file__", "") or "").startswith(str(tmp_path)):
            del sys.modules[name]


@pytest.fixture
def install(site: Path) -> Install:
    """Install a module as a distribution with one entry point of the same name."""

    def do(name: str, text: str) -> None:
        (site / f"{name}.py").write_text(text, encoding="utf-8")
        write_metadata(site, name.replace("_", "-"), "1.0", {name: name})

    return do


@pytest.fixture
def lamp_rules(site: Path) -> None:
    """The example plugin of `tests/plugins/lamp_rules`, installed."""
    shutil.copytree(HERE / "lamp_rules" / "lamp_rules", site / "lamp_rules")
    write_metadata(site, "lamp-rules", "1.2.0", {"lamp_rules": "lamp_rules.plugin"})

"""What pip would leave of an installed package, for tests of plugins."""

from collections.abc import Callable
from pathlib import Path

Install = Callable[[str, str], None]
"""Installs a module of this name and text, with one entry point of the same name."""


def write_metadata(folder: Path, distribution: str, version: str, points: dict[str, str]) -> None:
    """What `importlib.metadata` reads of an installed distribution."""
    info = folder / f"{distribution.replace('-', '_')}-{version}.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: {distribution}\nVersion: {version}\n", encoding="utf-8"
    )
    lines = "".join(f"{name} = {value}\n" for name, value in points.items())
    (info / "entry_points.txt").write_text(f"[dfmcheck]\n{lines}", encoding="utf-8")

"""Writing files: nothing is overwritten unasked, nothing goes astray, all is told."""

import stat
from pathlib import Path

import pytest

from dfmcheck.config.templates import starter_config
from dfmcheck.config.write import Planned, init_plans, write_planned
from dfmcheck.errors import UsageError


def plan(folder: Path, name: str = "dfmcheck.toml", text: str = "new\n", **more: object) -> Planned:
    return Planned(folder=folder, name=name, text=text, **more)  # type: ignore[arg-type]


def test_all_files_of_init(tmp_path: Path) -> None:
    hooks = tmp_path / "elsewhere" / "hooks"
    root = tmp_path / "root"
    root.mkdir()
    plans = init_plans(
        root, files=["cad/pin.step"], requirement="dfmcheck==0.1.0", hooks=hooks, hook="pre-push",
        keep_bytes=True,
    )  # fmt: skip
    assert write_planned(plans) == (
        "dfmcheck.toml: written",
        ".github/workflows/parts.yml: written",
        "pre-push: written",
        ".gitattributes: written",
    )
    assert (root / "dfmcheck.toml").read_text() == starter_config(["cad/pin.step"])
    assert (hooks / "pre-push").stat().st_mode & stat.S_IXUSR
    assert not (root / "dfmcheck.toml").stat().st_mode & stat.S_IXUSR
    assert write_planned(plans, overwrite=True) == (
        "dfmcheck.toml: is there already, the same",
        ".github/workflows/parts.yml: is there already, the same",
        "pre-push: is there already, the same",
        ".gitattributes: has all these lines already",
    )
    assert sorted(p.name for p in tmp_path.rglob("*") if p.is_file()) == [
        ".gitattributes", "dfmcheck.toml", "parts.yml", "pre-push"
    ]  # fmt: skip


def test_init_writes_the_configuration_alone_unless_asked(tmp_path: Path) -> None:
    assert [p.name for p in init_plans(tmp_path)] == ["dfmcheck.toml"]


def test_nothing_is_overwritten_unasked(tmp_path: Path) -> None:
    file = tmp_path / "dfmcheck.toml"
    file.write_text("mine\n")
    file.chmod(0o640)
    assert write_planned([plan(tmp_path)]) == (
        "dfmcheck.toml: left as it is: it exists (--overwrite replaces it)",
    )
    assert file.read_text() == "mine\n"
    assert write_planned([plan(tmp_path)], overwrite=True) == ("dfmcheck.toml: replaced",)
    assert file.read_text() == "new\n"
    assert stat.S_IMODE(file.stat().st_mode) == 0o640


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (b"", b"# c\n*.step -text\n*.stp -text\n", "written"),
        (b"*.step -text\n", b"*.step -text\n# c\n*.stp -text\n", "1 lines added"),
        (b"a text", b"a text\n# c\n*.step -text\n*.stp -text\n", "2 lines added"),
        (b"a\r\n", b"a\r\n# c\r\n*.step -text\r\n*.stp -text\r\n", "2 lines added"),
        (b" *.stp -text\r\n*.step -text", b" *.stp -text\r\n*.step -text",
         "has all these lines already"),
    ],
)  # fmt: skip
def test_lines_are_added_and_none_is_lost(
    tmp_path: Path, old: bytes, new: bytes, told: str
) -> None:
    file = tmp_path / ".gitattributes"
    file.write_bytes(old)
    lines = plan(tmp_path, ".gitattributes", "# c\n*.step -text\n*.stp -text\n", how="lines")
    assert write_planned([lines]) == (f".gitattributes: {told}",)
    assert file.read_bytes() == new


def test_links_are_never_written_through(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    root = tmp_path / "root"
    outside.mkdir()
    root.mkdir()
    (outside / "file").write_text("theirs\n")
    (root / "dfmcheck.toml").symlink_to(outside / "file")
    (root / ".gitattributes").symlink_to(outside / "nowhere")
    (root / ".github").symlink_to(outside)
    told = write_planned(
        [
            plan(root),
            plan(root, ".gitattributes", how="lines"),
            plan(root, ".github/workflows/parts.yml"),
        ],
        overwrite=True,
    )
    assert told == (
        "dfmcheck.toml: left alone: it is a link",
        ".gitattributes: left alone: it is a link",
        ".github/workflows/parts.yml: left alone: a link leads out of the folder",
    )
    assert [p.name for p in outside.iterdir()] == ["file"]
    assert (outside / "file").read_text() == "theirs\n"


def test_a_folder_in_the_place_of_a_file(tmp_path: Path) -> None:
    (tmp_path / "dfmcheck.toml").mkdir()
    assert write_planned([plan(tmp_path)]) == ("dfmcheck.toml: left alone: it is no file",)


def test_what_was_written_is_told_when_the_rest_fails(tmp_path: Path) -> None:
    (tmp_path / ".github").write_text("a file in the place of a folder")
    with pytest.raises(UsageError) as caught:
        write_planned([plan(tmp_path), plan(tmp_path, ".github/x.yml"), plan(tmp_path, "later")])
    assert str(caught.value) == (
        "dfmcheck.toml: written\n.github/x.yml: cannot be written: File exists"
    )
    assert not (tmp_path / "later").exists()


def test_a_file_that_comes_in_between_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Path.hardlink_to

    def late(self: Path, target: Path) -> None:
        self.write_text("theirs\n")
        real(self, target)

    monkeypatch.setattr(Path, "hardlink_to", late)
    with pytest.raises(UsageError, match=r"dfmcheck\.toml: cannot be written: File exists"):
        write_planned([plan(tmp_path)])
    assert (tmp_path / "dfmcheck.toml").read_text() == "theirs\n"
    assert [p.name for p in tmp_path.iterdir()] == ["dfmcheck.toml"]


def test_a_file_system_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path, target: Path) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    assert write_planned([plan(tmp_path)]) == ("dfmcheck.toml: written",)
    assert [p.name for p in tmp_path.iterdir()] == ["dfmcheck.toml"]

"""The demo repository: invented, whole, and the same at every run."""

import io
import math
import subprocess
import sys
from pathlib import Path

import pytest

from dfmcheck.demo.build import DemoCommit, make_demo
from dfmcheck.demo.parts import Base, Clamp, Collar, Knob, LowerKnuckle, Pin, UpperKnuckle
from dfmcheck.demo.story import chapters
from dfmcheck.errors import UsageError


def git(folder: Path, *arguments: str) -> str:
    done = subprocess.run(
        ["git", "-C", str(folder), *arguments], capture_output=True, text=True, check=True
    )
    return done.stdout


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[DemoCommit, ...]]:
    folder = tmp_path_factory.mktemp("demo") / "lamp"
    return folder, make_demo(folder)


def test_made_twice_gives_the_same_commits(
    demo: tuple[Path, tuple[DemoCommit, ...]], tmp_path: Path
) -> None:
    """The second time in a process of its own, where the kernel counts exports from one."""
    script = (
        "import sys; from pathlib import Path; from dfmcheck.demo.build import make_demo\n"
        "print(*(c.sha for c in make_demo(Path(sys.argv[1]))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "again")],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == [c.sha for c in demo[1]]


def test_git_agrees_and_nothing_is_left_over(demo: tuple[Path, tuple[DemoCommit, ...]]) -> None:
    folder, commits = demo
    assert git(folder, "log", "--reverse", "--format=%H").split() == [c.sha for c in commits]
    assert git(folder, "status", "--porcelain") == ""
    assert git(folder, "branch", "--show-current").strip() == "main"
    git(folder, "fsck", "--strict")
    dates = git(folder, "log", "--reverse", "--format=%aI").split()
    assert dates == [c.date for c in commits] == sorted(dates)
    assert 8 <= len(commits) <= 12


def test_everything_says_that_it_is_invented(demo: tuple[Path, tuple[DemoCommit, ...]]) -> None:
    folder, commits = demo
    assert all("(invented)" in c.author for c in commits)
    bodies = git(folder, "log", "--format=%b%x00").split("\0")[:-1]
    assert all("Invented for the demo" in body for body in bodies)
    for path in (folder / "cad").iterdir():
        assert b"invented for the demo" in path.read_bytes()[:1000]
    assert "invented" in (folder / "dfmcheck.toml").read_text(encoding="utf-8")
    assert "invented" in (folder / "README.md").read_text(encoding="utf-8")


def test_the_files_declare_their_schema_and_unit(
    demo: tuple[Path, tuple[DemoCommit, ...]],
) -> None:
    for path in (demo[0] / "cad").iterdir():
        text = path.read_text(encoding="ascii")
        assert "AUTOMOTIVE_DESIGN { 1 0 10303 214" in text
        assert "SI_UNIT(.MILLI.,.METRE.)" in text


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "note.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="not empty"):
        make_demo(tmp_path)
    with pytest.raises(UsageError, match="not empty"):
        make_demo(tmp_path / "note.txt")
    assert [p.name for p in tmp_path.iterdir()] == ["note.txt"]


def test_an_empty_folder_will_do(tmp_path: Path) -> None:
    assert make_demo(tmp_path)
    assert (tmp_path / "dfmcheck.toml").is_file()


def test_gits_environment_does_not_mislead_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    git(other, "init", "-q")
    monkeypatch.setenv("GIT_DIR", str(other / ".git"))
    monkeypatch.setenv("GIT_AUTHOR_DATE", "2001-01-01T00:00:00Z")
    made = make_demo(tmp_path / "lamp")
    monkeypatch.delenv("GIT_DIR")
    assert git(tmp_path / "lamp", "rev-parse", "HEAD").strip() == made[-1].sha
    assert not list((other / ".git" / "refs" / "heads").iterdir())


def test_a_failure_leaves_the_folder_empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from dfmcheck.demo.repository import DemoRepository

    def fail(*_: object) -> str:
        msg = "no space left"
        raise OSError(msg)

    monkeypatch.setattr(DemoRepository, "commit", fail)
    with pytest.raises(OSError, match="no space left"):
        make_demo(tmp_path)
    assert list(tmp_path.iterdir()) == []


def measured_mm3(shape: object) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, properties)
    return float(properties.Mass())


@pytest.mark.parametrize("part", [Base(), Base(diameter=90.5), Pin(), Pin(shank=6.0, length=30.0)])
def test_turned_parts_have_the_volume_of_the_formulas(part: Base | Pin) -> None:
    """Cylinder and frustum, as in any book of formulas."""
    assert measured_mm3(part.shape()) == pytest.approx(part.volume_mm3, rel=1e-9)


def test_the_pocket_has_the_volume_of_the_formula() -> None:
    """A pocket with rounded corners: (a b - (4 - pi) R^2) times its depth."""
    shallow, deep = (LowerKnuckle(pocket_depth=d) for d in (9.0, 10.0))
    # the hole of dia 6 for the cable goes through both floors
    area = 20.0 * 16.0 - (4.0 - math.pi) * 4.0**2 - math.pi * 3.0**2
    taken = measured_mm3(shallow.shape()) - measured_mm3(deep.shape())
    assert taken == pytest.approx(area * 1.0, rel=1e-9)


@pytest.mark.parametrize(
    "part",
    [LowerKnuckle(), LowerKnuckle(pocket_depth=16.0, corner=1.5, slot=5.0), UpperKnuckle(), Knob(),
     Knob(modelled=True), Collar(), Clamp(), Pin(cross=3.0)],
)  # fmt: skip
def test_every_part_is_one_sound_solid(part: object) -> None:
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopAbs import TopAbs_ShapeEnum

    shape = part.shape()  # type: ignore[attr-defined]
    assert shape.ShapeType() == TopAbs_ShapeEnum.TopAbs_SOLID
    assert BRepCheck_Analyzer(shape).IsValid()
    assert measured_mm3(shape) > 0.0


def test_the_configuration_is_right_in_every_chapter() -> None:
    from dfmcheck.config.load import parse_settings

    for chapter in chapters():
        settings = parse_settings(chapter.settings.text().encode(), "dfmcheck.toml")
        assert settings.warnings == ()
        assert len(settings.parts) in (5, 7)


def test_a_second_export_has_other_bytes_and_the_same_shape() -> None:
    from OCP.STEPControl import STEPControl_Reader

    from dfmcheck.demo.writing import step_bytes

    first = step_bytes(Clamp(), "Cable clamp", "2026-01-01")
    second = step_bytes(Clamp(), "Cable clamp", "2026-02-01", exporter="another program")
    assert first != second
    volumes = []
    for data in (first, second):
        reader = STEPControl_Reader()
        reader.ReadStream("x", io.BytesIO(data))
        reader.TransferRoots()
        volumes.append(measured_mm3(reader.OneShape()))
    assert volumes[0] == pytest.approx(volumes[1], rel=1e-12)

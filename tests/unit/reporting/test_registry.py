"""Which reporters there are, and where their reports go."""

import json
import stat
from pathlib import Path

import pytest
from report_builders import a_run, changed_knuckle, held_run

from dfmcheck.errors import PluginError, UsageError
from dfmcheck.model.rule import Reporter
from dfmcheck.reporting.registry import Target, check_targets, parse_targets, write_targets
from dfmcheck.reporting.text import render_text

RUN = a_run(changed_knuckle())


def test_targets_are_understood() -> None:
    assert parse_targets(("json=a=b.json", "text=-")) == (
        Target(format="json", path="a=b.json"),
        Target(format="text", path="-"),
    )
    assert parse_targets(()) == ()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("json",), "write FORMAT=PATH"),
        (("=a.json",), "write FORMAT=PATH"),
        (("json=",), "write FORMAT=PATH"),
        (("json=-", "text=-"), "another report already goes to stdout"),
        (("json=a.json", "text=./a.json"), "another report already goes to ./a.json"),
        (("js\x1b[31m",), r"js\x1b[31m"),
    ],
)
def test_wrong_targets_get_one_clear_sentence(asked: tuple[str, ...], said: str) -> None:
    with pytest.raises(UsageError) as caught:
        parse_targets(asked)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_an_unknown_format_names_the_known_ones(tmp_path: Path) -> None:
    targets = parse_targets((f"sheet={tmp_path / 'a'}",))
    for function in (lambda: check_targets(targets), lambda: write_targets(targets, (RUN,))):
        with pytest.raises(UsageError, match="no such format; known are json, text"):
            function()


def test_files_are_written_whole_with_ordinary_rights(tmp_path: Path) -> None:
    target = tmp_path / "report.json"
    write_targets(parse_targets((f"json={target}", f"text={tmp_path / 'r.txt'}")), (RUN,))
    assert json.loads(target.read_bytes())["verdict"] == "release"
    assert (tmp_path / "r.txt").read_text(encoding="utf-8") == render_text(RUN)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["r.txt", "report.json"]
    assert stat.S_IMODE(target.stat().st_mode) & 0o600 == 0o600
    probe = tmp_path / "probe"
    probe.touch()
    assert target.stat().st_mode == probe.stat().st_mode


def test_an_existing_file_keeps_its_rights_and_a_link_its_target(tmp_path: Path) -> None:
    real = tmp_path / "real.json"
    real.write_text("old", encoding="utf-8")
    real.chmod(0o640)
    link = tmp_path / "link.json"
    link.symlink_to(real)
    write_targets((Target(format="json", path=str(link)),), (RUN,))
    assert link.is_symlink()
    assert json.loads(real.read_bytes())["format"] == 1
    assert stat.S_IMODE(real.stat().st_mode) == 0o640


def test_a_device_is_written_to_and_not_replaced() -> None:
    write_targets((Target(format="json", path="/dev/null"),), (RUN,))
    assert not Path("/dev/null").is_file()


@pytest.mark.parametrize("make", ["missing/report.json", "folder"])
def test_an_unwritable_path_is_one_clear_sentence(tmp_path: Path, make: str) -> None:
    (tmp_path / "folder").mkdir()
    targets = (Target(format="json", path=str(tmp_path / make)),)
    for function in (lambda: check_targets(targets), lambda: write_targets(targets, (RUN,))):
        with pytest.raises(UsageError, match=r"cannot be written: .*; name a path in a folder"):
            function()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder"]


def test_a_name_the_system_refuses(tmp_path: Path) -> None:
    for bad in (f"{tmp_path}/a\0b", f"{tmp_path}/{'x' * 300}"):
        with pytest.raises(UsageError, match="cannot be written"):
            write_targets((Target(format="json", path=bad),), (RUN,))
    assert list(tmp_path.iterdir()) == []


def test_checking_leaves_no_trace(tmp_path: Path) -> None:
    old = tmp_path / "old.json"
    old.write_text("old", encoding="utf-8")
    check_targets(parse_targets((f"json={old}", f"text={tmp_path / 'new.txt'}", "json=-")))
    assert old.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["old.json"]


def test_stdout_gets_the_report_and_nothing_else(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    write_targets(parse_targets(("json=-",)), (held_run(),))
    out, err = capfdbinary.readouterr()
    assert json.loads(out)["exit_status"] == 3
    assert out.endswith(b"}\n")
    assert err == b""


def plugin(render: object, name: str = "sheet") -> Reporter:
    return Reporter(name=name, description="for a test", render=render)  # type: ignore[arg-type]


def test_a_plugins_reporter_stands_beside_the_shipped_ones(tmp_path: Path) -> None:
    seen = plugin(lambda run: f"{run.verdict} \udcff".encode("utf-8", "surrogateescape"))
    write_targets((Target(format="sheet", path=str(tmp_path / "a.bin")),), (RUN,), (seen,))
    assert (tmp_path / "a.bin").read_bytes() == b"release \xff"
    text = plugin(lambda run: f"{run.verdict} \udcff")
    write_targets((Target(format="sheet", path=str(tmp_path / "a.txt")),), (RUN,), (text,))
    assert (tmp_path / "a.txt").read_bytes() == rb"release \xff"


def test_a_plugin_that_fails_is_named(tmp_path: Path) -> None:
    def broken(run: object) -> str:
        msg = "no\x1b ink"
        raise RuntimeError(msg)

    target = (Target(format="sheet", path=str(tmp_path / "a")),)
    with pytest.raises(PluginError, match=r"reporter sheet failed: RuntimeError: no\\x1b ink"):
        write_targets(target, (RUN,), (plugin(broken),))
    with pytest.raises(PluginError, match="gave int, neither text nor bytes"):
        write_targets(target, (RUN,), (plugin(lambda _: 7),))
    with pytest.raises(PluginError, match="two reporters are called json"):
        write_targets(target, (RUN,), (plugin(lambda _: "", name="json"),))
    assert list(tmp_path.iterdir()) == []


def test_a_push_of_several_branches(tmp_path: Path) -> None:
    asked = (f"json={tmp_path / 'r.json'}", f"text={tmp_path / 'r.txt'}",
             f"sheet={tmp_path / 'r.tar.gz'}")  # fmt: skip
    write_targets(parse_targets(asked), (RUN, held_run()), (plugin(lambda run: run.verdict),))
    assert len(json.loads((tmp_path / "r.json").read_bytes())["runs"]) == 2
    text = (tmp_path / "r.txt").read_text(encoding="utf-8")
    assert text == render_text(RUN) + "\n" + render_text(held_run())
    assert (tmp_path / "r.tar.gz").read_text(encoding="utf-8") == "release"
    assert (tmp_path / "r.tar-2.gz").read_text(encoding="utf-8") == "hold"

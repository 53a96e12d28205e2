"""Wrong use and wrong configuration: one clear message, the documented status, no traceback."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from git_folder import GitFolder

WRONG_USE = {
    "an unknown command": (("bend",), "bend"),
    "an unknown option": (("gate", "--fast"), "--fast"),
    "an unknown revision": (("gate", "no-such-branch"), "no-such-branch"),
    "three revisions": (("gate", "HEAD", "HEAD", "HEAD"), "two"),
    "staged with a revision": (("gate", "--staged", "HEAD"), "--staged"),
    "an unknown report format": (("gate", "--report", "papyrus=x"), "papyrus"),
    "a report without a path": (("gate", "--report", "json"), "FORMAT=PATH"),
    "a report into a missing folder": (("gate", "--report", "json=no/where/x.json"), "no/where"),
    "a file that is not there": (("part", "none.step"), "none.step"),
    "a folder instead of a file": (("part", "cad"), "folder"),
    "no file": (("part",), "FILE"),
    "a revision without that file": (("part", "HEAD:none.step"), "none.step"),
    "an unknown rule": (("rules", "deep-hloe"), "deep-hole"),
    "a date that is none": (("gate", "--today", "tomorrow"), "tomorrow"),
    "a negative limit of time": (("gate", "--seconds", "-1"), "--seconds"),
    "a folder that is none": (("-C", "nowhere", "gate"), "nowhere"),
    "an option as a revision": (("gate", "--", "--output=x"), "--output"),
}

WRONG_CONFIGURATION = {
    "no TOML": ("limits = [", "dfmcheck.toml"),
    "an unknown key": ('curency = "EUR"', "did you mean currency"),
    "an unknown limit": ("[limits]\nsetup = 2", "setups"),
    "an unknown rule": ('[rules]\ndeep-hloe = "off"', "deep-hole"),
    "a level that is none": ('[rules]\ndeep-hole = "fatal"', "warning"),
    "text for a number": ('[limits]\nsetups = "2"', "setups"),
    "a mode that is none": ('[gate]\nmode = "warn"', "advise"),
    "a permit without a reason": (
        '[[permit]]\npart = "A"\nlimit = "setups"\nowner = "ada"\nuntil = 2026-06-30',
        "reason",
    ),
    "a part without a file": ('[part.A]\nmaterial = "C45"', "file"),
    "a file outside the repository": ('[part.A]\nfile = "../x.step"', "../x.step"),
    "a piece that is none": ('[stages]\nrequest = ["matrial"]', "material"),
    "a plugin that is not installed": ('plugins = ["acme_rules"]', "acme_rules"),
    "not UTF-8": (b"# \xff", "UTF-8"),
}


@pytest.fixture
def plate(repo: GitFolder, steps: dict[str, bytes]) -> GitFolder:
    """A repository with one committed plate."""
    repo.put("cad/plate.step", steps["plate"], "plate")
    return repo


@pytest.mark.parametrize("case", WRONG_USE)
def test_wrong_use(case: str, plate: GitFolder, dfmcheck: Callable) -> None:
    arguments, said = WRONG_USE[case]
    ran = dfmcheck(*arguments, cwd=plate.path)
    assert ran.status == 2, (ran.out, ran.err)
    assert said in ran.err
    assert ran.out == ""


@pytest.mark.parametrize("case", WRONG_CONFIGURATION)
def test_wrong_configuration(case: str, plate: GitFolder, dfmcheck: Callable) -> None:
    text, said = WRONG_CONFIGURATION[case]
    plate.put("dfmcheck.toml", text, "configuration")
    ran = dfmcheck("gate", cwd=plate.path)
    expected = 1 if "plugin" in case else 2
    assert ran.status == expected, (ran.out, ran.err)
    assert said in ran.err
    assert ran.out == ""


def test_all_errors_of_a_configuration_are_told_together(
    plate: GitFolder, dfmcheck: Callable
) -> None:
    plate.put("dfmcheck.toml", 'a = 1\n[limits]\nnone = 2\nsetups = "x"\n', "configuration")
    ran = dfmcheck("gate", cwd=plate.path)
    assert ran.status == 2
    for said in ("a: unknown key", "none", "setups"):
        assert said in ran.err


def test_outside_a_repository(tmp_path: Path, dfmcheck: Callable) -> None:
    ran = dfmcheck("gate", cwd=tmp_path)
    assert ran.status == 2
    assert "git" in ran.err


def test_init_overwrites_nothing(plate: GitFolder, dfmcheck: Callable) -> None:
    first = dfmcheck("init", "--hook", "pre-push", "--ci", "github", "--attributes", cwd=plate.path)
    assert first.status == 0, first.err
    assert dfmcheck("gate", cwd=plate.path).status == 0
    config = plate.path / "dfmcheck.toml"
    config.write_text("# mine\n", encoding="utf-8")
    again = dfmcheck("init", cwd=plate.path)
    assert again.status == 0
    assert config.read_text(encoding="utf-8") == "# mine\n"


def test_all_missing_files_are_named_together(plate: GitFolder, dfmcheck: Callable) -> None:
    """Exit status 2 before anything is read."""
    ran = dfmcheck("part", "one.step", "cad/plate.step", "two.step", cwd=plate.path)
    assert ran.status == 2
    assert "one.step and two.step: there are no such files" in ran.err
    assert ran.err.strip().count("\n") == 0
    ran = dfmcheck("part", "one.step", "cad", "HEAD:three.step", cwd=plate.path)
    assert ran.status == 2
    for said in ("one.step: there is no such file", "cad: this is a folder", "three.step"):
        assert said in ran.err
    assert ran.out == ""


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_what_is_no_regular_file_costs_only_its_own_answer(
    plate: GitFolder, dfmcheck: Callable
) -> None:
    os.mkfifo(plate.path / "pipe.step")
    (step,) = (p for p in plate.path.rglob("*.step") if p.name != "pipe.step")
    ran = dfmcheck("part", "pipe.step", str(step.relative_to(plate.path)), cwd=plate.path)
    assert ran.status == 4, (ran.out, ran.err)
    assert "named pipe" in ran.out
    assert "Features" in ran.out or "volume, area" in ran.out

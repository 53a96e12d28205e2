"""Texts of `dfmcheck init`: each is tried in what reads it (the parser, git, a shell)."""

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dfmcheck.config.load import parse_settings
from dfmcheck.config.templates import (
    MOST_PARTS,
    attributes,
    git_hook,
    github_workflow,
    starter_config,
)
from dfmcheck.model.settings import Policy


def test_the_starter_configuration_is_right_and_changes_nothing() -> None:
    found = parse_settings(starter_config().encode(), "dfmcheck.toml")
    assert found.policy == Policy()
    assert (found.parts, found.warnings) == ((), ())


def test_its_settings_are_right_when_they_are_switched_on() -> None:
    text = re.sub(r"(?m)^#(?=[a-z\[])", "", starter_config())
    found = parse_settings(text.encode(), "dfmcheck.toml")
    assert found.warnings == ()
    assert [p.number for p in found.parts] == ["DL-102"]
    assert len(found.parts[0].callouts) == len(found.policy.permits) == 1
    assert {x.name for x in found.policy.limits} == {
        "setups", "unit_cost_rise", "rise_since_reference"
    }  # fmt: skip
    assert dict(found.policy.stages) == {
        "request": ("material", "finish", "callouts"), "order": ()
    }  # fmt: skip


def test_files_get_entries_by_their_names() -> None:
    files = ["cad/pin.step", "a/cap.STEP", "b/cap.stp", "x y.p21", "a\nb.step", "cad/pin.step"]
    found = parse_settings(starter_config(files).encode(), "dfmcheck.toml")
    assert {p.number: p.file for p in found.parts} == {
        "pin": "cad/pin.step", "a/cap": "a/cap.STEP", "b/cap": "b/cap.stp", "x y": "x y.p21"
    }  # fmt: skip


def test_very_many_files_are_counted() -> None:
    text = starter_config(f"{i:04}.step" for i in range(MOST_PARTS + 7))
    assert len(parse_settings(text.encode(), "dfmcheck.toml").parts) == MOST_PARTS
    assert "# 7 more STEP files were found" in text


@settings(max_examples=200, deadline=None)
@given(st.lists(st.text(max_size=20).map(lambda s: f"{s}.step"), max_size=6))
def test_any_names_of_files_give_a_right_configuration(files: list[str]) -> None:
    real = [f for f in files if "/" not in f and "\0" not in f]
    found = parse_settings(starter_config(real).encode("utf-8", "replace"), "dfmcheck.toml")
    assert {p.file for p in found.parts} <= set(real)


def test_attributes_keep_the_bytes_in_any_letter_case(tmp_path: Path) -> None:
    subprocess.run(["git", "init", "-q", str(tmp_path)], check=True)
    (tmp_path / ".gitattributes").write_text("* text=auto eol=crlf\n" + attributes())
    names = ["a.step", "a.STEP", "a.Step", "x/b.stp", "x/b.StP", "c.p21", "c.P21", "d.txt"]
    asked = subprocess.run(
        ["git", "-C", str(tmp_path), "-c", "core.ignorecase=false", "check-attr", "text", "--",
         *names],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    answers = [line.rpartition(": ")[2] for line in asked.stdout.splitlines()]
    assert answers == ["unset"] * 7 + ["auto"]


@pytest.mark.skipif(shutil.which("sh") is None, reason="needs a shell")
@pytest.mark.parametrize(
    ("kind", "option"), [("pre-commit", "--staged"), ("pre-push", "--pre-push origin")]
)
def test_hooks_run_the_gate_and_pass_its_status_on(tmp_path: Path, kind: str, option: str) -> None:
    hook = tmp_path / kind
    hook.write_text(git_hook(kind))  # type: ignore[arg-type]
    tool = tmp_path / "bin" / "dfmcheck"
    tool.parent.mkdir()
    tool.write_text('#!/bin/sh\necho "$@"\ncat\nexit 3\n')
    tool.chmod(0o755)
    path = f"{tool.parent}:{os.environ['PATH']}"
    ran = subprocess.run(
        ["sh", str(hook), "origin", "url"], input="ranges\n", capture_output=True, text=True,
        env={"PATH": path}, check=False,
    )  # fmt: skip
    assert (ran.returncode, ran.stdout) == (3, f"gate {option}\nranges\n")
    missing = subprocess.run(
        [shutil.which("sh") or "sh", str(hook)], capture_output=True, text=True,
        env={"PATH": str(tmp_path)}, check=False,
    )  # fmt: skip
    assert missing.returncode == 1
    assert missing.stderr.strip() == (
        "dfmcheck is not found; activate its environment, or skip with --no-verify"
    )


def test_a_real_commit_is_held_by_the_hook(tmp_path: Path) -> None:
    git = ["git", "-C", str(tmp_path), "-c", "user.name=ada", "-c", "user.email=ada@example.org"]
    subprocess.run(["git", "init", "-q", str(tmp_path)], check=True)
    hook = tmp_path / ".git" / "hooks" / "pre-commit"
    hook.parent.mkdir(exist_ok=True)
    hook.write_text(git_hook("pre-commit"))
    hook.chmod(0o755)
    tool = tmp_path / "bin" / "dfmcheck"
    tool.parent.mkdir()
    commit = [*git, "commit", "-q", "--allow-empty", "-m", "x"]
    env = os.environ | {"PATH": f"{tool.parent}:{os.environ['PATH']}"}
    for status in (3, 0):
        tool.write_text(f"#!/bin/sh\nexit {status}\n")
        tool.chmod(0o755)
        ran = subprocess.run(commit, capture_output=True, env=env, check=False)
        assert (ran.returncode == 0) == (status == 0)


def test_the_workflow_reads_only_and_sees_the_history() -> None:
    text = github_workflow("dfmcheck==0.1.0")
    assert "\t" not in text
    assert re.findall(r"(?m)^permissions:\n  (.*)$", text) == ["contents: read"]
    assert "pull_request_target" not in text
    assert "secrets." not in text
    assert "fetch-depth: 0" in text
    assert 'pip install "dfmcheck==0.1.0"' in text
    assert "${{ github.sha }}" in text

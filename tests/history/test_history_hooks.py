"""Within real hooks: git's variables guide us where they are meant for us, and only there."""

import json
import os
import shlex
import sys
from pathlib import Path

import pytest

from dfmcheck.errors import UsageError
from dfmcheck.history.repository import Repository

LOOK = """
import json, os, sys
from dfmcheck.errors import DfmcheckError
from dfmcheck.history.repository import Repository
where, mode, out, *rest = sys.argv[1:]
found = []
try:
    with Repository.open(where) as repository:
        pushed = sys.stdin.read() if mode == "pushed" else None
        spans = repository.choose_ranges(
            tuple(rest) if mode == "named" else (),
            staged=mode == "staged", pushed=pushed,
            remote=rest[0] if mode == "pushed" and rest else "", environ={},
        )
        for span in spans:
            changes = repository.changes(span)
            found.append({
                "before": span.before.sha, "after": span.after.sha, "kind": span.after.kind,
                "notes": span.notes, "chosen": span.chosen,
                "changes": [[c.status, (c.after or c.before).path,
                             repository.read(c.after).decode() if c.after else None] for c in
                             changes],
            })
except DfmcheckError as error:
    found = {"error": str(error)}
variables = {k: v for k, v in os.environ.items() if k.startswith("GIT_")}
with open(out, "w") as file:
    json.dump({"ranges": found, "variables": variables}, file)
"""


@pytest.fixture
def look(tmp_path):
    """A command for a hook that looks and writes down what it saw; and how to read that."""
    program = tmp_path / "look.py"
    program.write_text(LOOK)
    out = tmp_path / "seen.json"

    def command(mode: str, where: str = ".", *rest: str) -> str:
        words = [sys.executable, str(program), where, mode, str(out), *rest]
        return shlex.join(words).replace("'$1'", '"$1"')

    def seen():
        found = json.loads(out.read_text())
        out.unlink()
        return found["ranges"], found["variables"]

    return command, seen


def hook(repo, name: str, text: str, folder: Path | None = None) -> None:
    place = (folder or repo.path / ".git" / "hooks") / name
    place.parent.mkdir(exist_ok=True)
    place.write_text(f"#!/bin/sh\n{text}\n")
    place.chmod(0o755)


@pytest.fixture
def started(repo):
    repo.commit(**{"a.step": "1", "b.step": "1", "sub/c.step": "1"})
    return repo


def test_pre_commit_sees_what_is_staged(started, look):
    command, seen = look
    hook(started, "pre-commit", command("staged"))
    started.write("a.step", "staged")
    started.git("add", "a.step")
    started.write("b.step", "in hand")
    started.git("commit", "-q", "-m", "x")
    ((span,), _) = seen()
    assert span["changes"] == [["changed", "a.step", "staged"]]


def test_pre_commit_of_commit_all_sees_the_temporary_index(started, look):
    command, seen = look
    hook(started, "pre-commit", command("staged"))
    started.write("a.step", "2")
    started.write("new.step", "untracked")
    started.git("commit", "-q", "-a", "-m", "x")
    ((span,), variables) = seen()
    assert variables["GIT_INDEX_FILE"].endswith("index.lock")
    assert span["changes"] == [["changed", "a.step", "2"]]


def test_pre_commit_of_named_files_sees_only_these(started, look):
    """`git commit FILE` leaves what was staged before out of the commit."""
    command, seen = look
    hook(started, "pre-commit", command("staged"))
    started.write("a.step", "staged before")
    started.git("add", "a.step")
    started.write("b.step", "named")
    started.git("commit", "-q", "-m", "x", "b.step")
    ((span,), variables) = seen()
    assert "next-index" in variables["GIT_INDEX_FILE"]
    assert span["changes"] == [["changed", "b.step", "named"]]


def test_pre_commit_from_a_folder_below(started, look):
    command, seen = look
    hook(started, "pre-commit", f"cd sub && {command('staged')}")
    started.write("a.step", "2")
    started.git("-C", "sub", "commit", "-q", "-a", "-m", "x")
    ((span,), _) = seen()
    assert span["changes"] == [["changed", "a.step", "2"]]


def test_pre_commit_with_the_folders_named_by_hand(started, look, tmp_path):
    command, seen = look
    hook(started, "pre-commit", command("staged"))
    started.write("a.step", "2")
    place = ("--git-dir", str(started.path / ".git"), "--work-tree", str(started.path))
    started.git("-C", str(started.path / "sub"), *place, "commit", "-q", "-a", "-m", "x")
    ((span,), variables) = seen()
    assert variables["GIT_DIR"]
    assert span["changes"] == [["changed", "a.step", "2"]]


def test_pre_commit_in_a_linked_work_tree(started, look, tmp_path, git_at):
    command, seen = look
    hook(started, "pre-commit", command("staged"))
    started.git("worktree", "add", "-q", str(tmp_path / "linked"))
    started.write("b.step", "in the main work tree")
    linked = git_at(tmp_path / "linked")
    for arguments in (("-a",), ("a.step",)):
        linked.write("a.step", f"linked {arguments}")
        linked.git("commit", "-q", "-m", "x", *arguments)
        ((span,), variables) = seen()
        assert variables["GIT_DIR"].endswith("worktrees/linked")
        assert span["changes"] == [["changed", "a.step", f"linked {arguments}"]]


def test_pre_commit_with_an_index_of_the_users_own(started, look, tmp_path):
    command, seen = look
    hook(started, "pre-commit", command("staged"))
    mine = {"GIT_INDEX_FILE": str(tmp_path / "my-index")}
    started.git("read-tree", "HEAD", **mine)
    started.write("a.step", "2")
    started.git("add", "a.step", **mine)
    started.git("commit", "-q", "-m", "x", **mine)
    ((span,), _) = seen()
    assert span["changes"] == [["changed", "a.step", "2"]]


def test_post_commit_and_post_rewrite_see_the_last_commit(started, look):
    command, seen = look
    hook(started, "post-commit", command("unnamed"))
    started.write("a.step", "2")
    started.git("commit", "-q", "-a", "-m", "x")
    ((span,), _) = seen()
    assert (span["after"], span["changes"]) == (started.id(), [["changed", "a.step", "2"]])


@pytest.mark.parametrize("arguments", [("-a",), ("a.step",)])
def test_a_hook_that_looks_at_another_repository_is_not_misled(started, look, make_repo, arguments):
    command, seen = look
    other = make_repo("other")
    other.commit(**{"z.step": "1"})
    other.write("z.step", "2")
    other.git("add", "z.step")
    for mode in ("staged", "unnamed"):
        hook(started, "pre-commit", command(mode, str(other.path)))
        started.write("a.step", f"{mode} {arguments}")
        started.git("commit", "-q", "-m", "x", *arguments)
        ((span,), variables) = seen()
        assert "GIT_INDEX_FILE" in variables
        assert span["before"] == other.id()
        assert span["changes"] == [["changed", "z.step", "2"]]


def test_a_linked_work_trees_hook_that_looks_at_another_repository(
    started, look, make_repo, tmp_path, git_at
):
    command, seen = look
    other = make_repo("other")
    other.commit(**{"z.step": "1"})
    started.git("worktree", "add", "-q", str(tmp_path / "linked"))
    hook(started, "pre-commit", command("unnamed", str(other.path)))
    linked = git_at(tmp_path / "linked")
    linked.write("a.step", "2")
    linked.git("commit", "-q", "-a", "-m", "x")
    ((span,), variables) = seen()
    assert variables["GIT_DIR"].endswith("worktrees/linked")
    assert span["changes"] == [["added", "z.step", "1"]]
    assert any("GIT_DIR names another repository" in note for note in span["notes"])


def test_rebase_exec(started, look):
    command, seen = look
    started.commit(**{"a.step": "2"})
    started.commit(**{"a.step": "3"})
    started.git("rebase", "-q", "--exec", command("unnamed"), "HEAD~1")
    ((span,), _) = seen()
    assert span["changes"] == [["changed", "a.step", "3"]]


def test_an_alias(started, look):
    command, seen = look
    started.write("a.step", "2")
    started.git("config", "alias.look", f"!{command('unnamed')}")
    started.git("-C", "sub", "look")
    ((span,), _) = seen()
    assert span["changes"] == [["changed", "a.step", "2"]]


def test_a_repository_and_work_tree_apart_named_by_variables(make_repo, tmp_path, monkeypatch):
    """As some keep their home folder under version control."""
    bare = make_repo("apart.git", "--bare")
    tree = tmp_path / "tree"
    tree.mkdir()
    place = ("--work-tree", str(tree))
    (tree / "a.step").write_text("1")
    bare.git(*place, "add", "a.step", GIT_DIR=str(bare.path))
    bare.git(*place, "commit", "-q", "-m", "x", GIT_DIR=str(bare.path))
    (tree / "a.step").write_text("2")
    monkeypatch.setenv("GIT_DIR", str(bare.path))
    monkeypatch.setenv("GIT_WORK_TREE", str(tree))
    with Repository.open(tree) as repository:
        (change,) = repository.changes(repository.choose_range(environ={}))
        assert repository.read(change.after) == b"2"


def test_a_relative_git_dir_holds_wherever_the_command_runs(started, monkeypatch):
    monkeypatch.chdir(started.path)
    monkeypatch.setenv("GIT_DIR", ".git")
    started.write("a.step", "2")
    with Repository.open(started.path / "sub") as repository:
        assert [c.after.path for c in repository.changes(repository.choose_range(environ={}))] == [
            "a.step"
        ]


def test_a_missing_index_of_somebody_is_ignored(started, monkeypatch, tmp_path):
    """Git would take it for an empty index and every file for deleted."""
    monkeypatch.setenv("GIT_INDEX_FILE", str(tmp_path / "gone"))
    started.write("a.step", "2")
    with Repository.open(started.path) as repository:
        span = repository.choose_range(environ={})
        assert [c.status for c in repository.changes(span)] == ["changed"]
        assert any("GIT_INDEX_FILE" in note for note in span.notes)


def test_the_environment_is_as_it_was(started, monkeypatch):
    monkeypatch.setenv("GIT_INDEX_FILE", ".git/index")
    monkeypatch.setenv("GIT_DIR", str(started.path / ".git"))
    before = dict(os.environ)
    with Repository.open(started.path) as repository:
        repository.choose_range(environ={})
    assert dict(os.environ) == before


def test_pre_push(started, look, tmp_path, git_at, make_repo):
    """Several refs at once: altered, new, deleted, a tag; each against what the remote has."""
    command, seen = look
    remote = make_repo("remote.git", "--bare")
    started.git("remote", "add", "up", str(remote.path))
    first = started.id()
    started.git("branch", "doomed")
    started.git("push", "-q", "up", "main", "doomed")
    second = started.commit(**{"a.step": "2"})
    started.git("checkout", "-q", "-b", "topic")
    started.commit(**{"b.step": "2"})
    third = started.commit(**{"b.step": "3"})
    started.git("tag", "-a", "v1", "-m", "v1", "HEAD~1")
    hook(started, "pre-push", command("pushed", ".", "$1"))
    started.git("push", "-q", "up", "main", "topic", "v1", ":doomed")
    spans, _ = seen()
    found = {(s["before"], s["after"]): [c[:2] for c in s["changes"]] for s in spans}
    assert found == {
        (first, second): [["changed", "a.step"]],
        (first, third): [["changed", "a.step"], ["changed", "b.step"]],
        (first, started.id("v1^{commit}")): [["changed", "a.step"], ["changed", "b.step"]],
    }
    started.git("checkout", "-q", "-b", "nothing-new", "topic")
    started.git("push", "-q", "up", "nothing-new")
    ((span,), _) = seen()
    assert span["changes"] == []


def test_pre_push_of_the_very_first_branch(started, look, make_repo):
    command, seen = look
    remote = make_repo("remote.git", "--bare")
    hook(started, "pre-push", command("pushed", ".", "$1"))
    started.commit(**{"a.step": "2"})
    started.git("push", "-q", str(remote.path), "main")
    ((span,), _) = seen()
    assert span["before"] is None
    assert [c[0] for c in span["changes"]] == ["added"] * 3


def test_pre_push_that_rewrites_the_branch(started, look, make_repo):
    command, seen = look
    remote = make_repo("remote.git", "--bare")
    started.git("remote", "add", "up", str(remote.path))
    old = started.commit(**{"a.step": "2"})
    started.git("push", "-q", "up", "main")
    started.git("reset", "-q", "--hard", "HEAD~1")
    new = started.commit(**{"a.step": "other"})
    hook(started, "pre-push", command("pushed", ".", "$1"))
    started.git("push", "-q", "--force", "up", "main")
    ((span,), _) = seen()
    assert (span["before"], span["after"]) == (old, new)


def test_pre_push_over_a_commit_that_is_not_here(started, look, make_repo, tmp_path, git_at):
    command, seen = look
    remote = make_repo("remote.git", "--bare")
    started.git("push", "-q", str(remote.path), "main")
    started.git("clone", "-q", str(remote.path), str(tmp_path / "colleague"))
    colleague = git_at(tmp_path / "colleague")
    colleague.commit(**{"b.step": "2"})
    colleague.git("push", "-q", "origin", "main")
    started.commit(**{"a.step": "2"})
    hook(started, "pre-push", command("pushed", ".", "$1"))
    started.git("push", "-q", "--force", str(remote.path), "main")
    found, _ = seen()
    assert "that the remote has for refs/heads/main" in found["error"]
    assert "git fetch" in found["error"]


@pytest.mark.parametrize(
    "line", ["x", "a b c d", f"refs/heads/a {'0' * 39} refs/heads/a {'0' * 40}", "--output=x 1 2 3"]
)
def test_lines_that_no_hook_is_given(started, line):
    with (
        Repository.open(started.path) as repository,
        pytest.raises(UsageError, match="pre-push hook"),
    ):
        repository.choose_ranges(pushed=line + "\n")


def test_no_lines_are_no_ranges(started):
    with Repository.open(started.path) as repository:
        assert repository.choose_ranges(pushed="") == ()
        with pytest.raises(UsageError, match="name no revision"):
            repository.choose_ranges(("HEAD",), pushed="")


def test_the_local_end_of_a_push_may_be_an_expression(started):
    line = f"HEAD^{{/some words}} {started.id()} refs/heads/x {'0' * 40}\n"
    with Repository.open(started.path) as repository:
        (span,) = repository.choose_ranges(pushed=line)
    assert span.after.sha == started.id()


@pytest.mark.parametrize(
    "name", ["up; rm -rf", "--all", "*", "https://example.invalid/x.git", "../x"]
)
def test_remotes_that_are_no_names(started, name):
    line = f"refs/heads/main {started.id()} refs/heads/x {'0' * 40}\n"
    with Repository.open(started.path) as repository:
        (span,) = repository.choose_ranges(pushed=line, remote=name)
    assert span.before.kind == "empty"


def test_pre_receive_sees_objects_in_quarantine(started, look, make_repo):
    command, seen = look
    remote = make_repo("remote.git", "--bare")
    started.git("push", "-q", str(remote.path), "main")
    old = started.id()
    new = started.commit(**{"a.step": "2"})
    hook(remote, "pre-receive", command("named", ".", old, new), remote.path / "hooks")
    started.git("push", "-q", str(remote.path), "main")
    ((span,), variables) = seen()
    assert "GIT_QUARANTINE_PATH" in variables
    assert span["changes"] == [["changed", "a.step", "2"]]
    hook(remote, "post-receive", command("unnamed"), remote.path / "hooks")
    (remote.path / "hooks" / "pre-receive").unlink()
    started.commit(**{"a.step": "3"})
    started.git("push", "-q", str(remote.path), "main")
    ((span,), _) = seen()
    assert span["changes"] == [["changed", "a.step", "3"]]


def test_renames_in_quarantine_and_with_several_object_stores(started, look, make_repo, tmp_path):
    command, seen = look
    text = "\n".join(f"#{i}=X;" for i in range(60))
    started.put("old.step", text)
    remote = make_repo("remote.git", "--bare")
    started.git("push", "-q", str(remote.path), "main")
    old = started.id()
    started.git("mv", "old.step", "new.step")
    new = started.put("new.step", text + "\n#99=NEW;")
    hook(remote, "pre-receive", command("named", ".", old, new), remote.path / "hooks")
    started.git("push", "-q", str(remote.path), "main")
    ((span,), _) = seen()
    assert [c[:2] for c in span["changes"]] == [["renamed", "new.step"]]

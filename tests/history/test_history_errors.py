"""Where git cannot answer: one sentence with the mend, never a traceback of git's."""

import os
import stat
from pathlib import Path

import pytest

from dfmcheck.errors import HistoryError, NotReadError
from dfmcheck.history.repository import Repository

NO_CI: dict[str, str] = {}
ROOT = hasattr(os, "geteuid") and os.geteuid() == 0


def sentence(call) -> str:
    with pytest.raises(HistoryError) as caught:
        call()
    text = str(caught.value)
    assert "\n" not in text
    assert "fatal" not in text
    return text


def test_no_repository(tmp_path):
    assert "not in a git repository" in sentence(lambda: Repository.open(tmp_path))


def test_no_folder(tmp_path):
    assert "there is no folder" in sentence(lambda: Repository.open(tmp_path / "none"))


@pytest.fixture
def shallow(repo, tmp_path, git_at):
    repo.commit(**{"a.step": "1"})
    repo.commit(**{"a.step": "2"})
    repo.commit(**{"a.step": "3"})
    repo.git("clone", "-q", "--depth=1", f"file://{repo.path}", str(tmp_path / "shallow"))
    return git_at(tmp_path / "shallow")


def test_a_shallow_clone_lacks_the_parent(shallow):
    def choose():
        with Repository.open(shallow.path) as repository:
            repository.choose_range(environ=NO_CI)

    text = sentence(choose)
    assert "shallow clone" in text
    assert f"the parent of {shallow.id()[:7]}" in text
    assert "git fetch --deepen" in text
    assert "fetch-depth: 0" in text
    shallow.git("fetch", "-q", "--deepen=1")
    choose()


def test_a_shallow_clone_lacks_a_named_revision(shallow, repo):
    def choose():
        with Repository.open(shallow.path) as repository:
            repository.choose_range((repo.id("HEAD~2"),), environ=NO_CI)

    assert "shallow clone and lacks the revision" in sentence(choose)


def test_a_shallow_clone_that_begins_with_the_first_commit_is_no_problem(repo, tmp_path, git_at):
    repo.commit(**{"a.step": "1"})
    repo.git("clone", "-q", "--depth=1", f"file://{repo.path}", str(tmp_path / "whole"))
    with Repository.open(tmp_path / "whole") as repository:
        assert repository.choose_range(environ=NO_CI).before.kind == "empty"


def test_unrelated_histories_have_no_merge_base(repo):
    repo.commit(**{"a.step": "1"})
    repo.git("checkout", "-q", "--orphan", "other")
    repo.commit(**{"b.step": "1"})

    def choose():
        with Repository.open(repo.path) as repository:
            repository.choose_range(("main...other",), environ=NO_CI)

    assert "a common ancestor of main and other" in sentence(choose)


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can give files away"
)
def test_a_repository_of_somebody_else(repo):
    repo.commit(**{"a.step": "1"})
    for place in (repo.path, repo.path / ".git"):
        os.chown(place, 12345, 12345)
    text = sentence(lambda: Repository.open(repo.path))
    assert "belongs to another user" in text
    assert f"git config --global --add safe.directory {repo.path}" in text


def test_a_repository_of_somebody_else_as_git_pretends(repo, monkeypatch):
    """Git's own tests use this variable to pretend it."""
    repo.commit(**{"a.step": "1"})
    monkeypatch.setenv("GIT_TEST_ASSUME_DIFFERENT_OWNER", "1")
    assert "safe.directory" in sentence(lambda: Repository.open(repo.path))
    repo.git("config", "--global", "--add", "safe.directory", str(repo.path))
    with Repository.open(repo.path) as repository:
        assert repository.head() is not None


def test_a_bare_repository_that_git_may_not_enter_by_itself(make_repo, monkeypatch):
    bare = make_repo("bare.git", "--bare")
    bare.git("config", "--global", "safe.bareRepository", "explicit")
    assert "GIT_DIR" in sentence(lambda: Repository.open(bare.path))
    monkeypatch.setenv("GIT_DIR", str(bare.path))
    with Repository.open(bare.path) as repository:
        assert repository.head() is None


def test_no_git(repo, monkeypatch, tmp_path):
    """Gone after GitPython was imported; before, its import fails (see the next test)."""
    monkeypatch.setattr("git.Git.GIT_PYTHON_GIT_EXECUTABLE", str(tmp_path / "no-git-here"))
    assert "git was not found: install git" in sentence(lambda: Repository.open(repo.path))


def test_no_git_in_a_fresh_process(repo, tmp_path):
    import subprocess
    import sys

    code = (
        "from dfmcheck.history.repository import Repository\n"
        "from dfmcheck.errors import HistoryError\n"
        "try: Repository.open('.')\n"
        "except HistoryError as error: print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=repo.path, env={**os.environ, "PATH": str(tmp_path)},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.startswith("git was not found: install git")
    assert done.stderr == ""


def script(place: Path, text: str) -> Path:
    place.write_text(text)
    place.chmod(place.stat().st_mode | stat.S_IXUSR)
    return place


def test_an_old_git(repo, tmp_path, monkeypatch):
    """Old ones answer `rev-parse` with the question where they do not know it."""
    old = script(
        tmp_path / "old-git",
        '#!/bin/sh\ncase "$*" in *version*) echo "git version 2.11.0";;'
        " *rev-parse*) echo false; echo --is-shallow-repository; exit 128;; esac\n",
    )
    monkeypatch.setattr("git.Git.GIT_PYTHON_GIT_EXECUTABLE", str(old))
    assert sentence(lambda: Repository.open(repo.path)) == (
        "git 2.11.0 is too old: dfmcheck needs git 2.25 or newer"
    )


def test_a_git_before_the_batch_command(repo, tmp_path, monkeypatch):
    """No `cat-file --batch-command` (it came with 2.36), no `config --show-scope` (2.26)."""
    import shutil

    real = shutil.which("git")
    older = script(
        tmp_path / "older-git",
        "#!/bin/sh\n"
        'case "$*" in\n'
        '  *--batch-command*) echo "error: unknown option \\`batch-command\'" >&2; exit 129;;\n'
        '  *--show-scope*) echo "error: unknown option \\`show-scope\'" >&2; exit 129;;\n'
        f'esac\nexec {real} "$@"\n',
    )
    repo.commit(**{"a.step": "1", "dfmcheck.toml": "x"})
    repo.commit(**{"a.step": "2"})
    repo.write("a.step", "3")
    monkeypatch.setattr("git.Git.GIT_PYTHON_GIT_EXECUTABLE", str(older))
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(environ=NO_CI))
        assert repository.read(change.before) == b"2"
        assert repository.read(change.after) == b"3"
        assert change.before.size == 1
        assert [b.path for b in repository.files(repository.head())] == ["a.step", "dfmcheck.toml"]


def test_a_damaged_object_costs_one_file_its_answer(repo):
    repo.commit(**{"a.step": "a" * 5000, "b.step": "b" * 5000})
    oid = repo.id("HEAD:a.step")
    place = repo.path / ".git" / "objects" / oid[:2] / oid[2:]
    place.chmod(0o644)
    place.write_bytes(place.read_bytes()[:20] + b"garbage")
    with Repository.open(repo.path) as repository:
        a, b = repository.files(repository.head())
        with pytest.raises(NotReadError) as caught:
            repository.read(a)
        assert caught.value.not_read.kind == "missing"
        assert "git fsck" in caught.value.not_read.remedy
        assert repository.read(b) == b"b" * 5000


def test_a_missing_tree(repo):
    repo.commit(**{"sub/a.step": "1"})
    oid = repo.id("HEAD:sub")
    (repo.path / ".git" / "objects" / oid[:2] / oid[2:]).unlink()

    def list_files():
        with Repository.open(repo.path) as repository:
            repository.files(repository.head())

    assert "git fsck" in sentence(list_files)


def test_unresolved_conflicts(repo):
    repo.commit(**{"a.step": "1"})
    repo.git("checkout", "-q", "-b", "side")
    repo.commit(**{"a.step": "side"})
    repo.git("checkout", "-q", "main")
    repo.commit(**{"a.step": "main"})
    with pytest.raises(AssertionError):
        repo.git("merge", "-q", "side")
    with Repository.open(repo.path) as repository:
        assert "unresolved conflicts (a.step)" in sentence(
            lambda: repository.choose_range(staged=True)
        )
        (change,) = repository.changes(repository.choose_range(environ=NO_CI))
        assert (change.status, change.after.where) == ("changed", "worktree")


def test_configuration_that_git_cannot_read(repo):
    repo.commit(**{"a.step": "1"})
    with (repo.path / ".git" / "config").open("a") as file:
        file.write("[broken\n")
    assert "cannot read its configuration" in sentence(lambda: Repository.open(repo.path))

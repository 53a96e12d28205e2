"""Nothing that a repository brings is run: each trap works on plain git and not on us."""

import hashlib
import os
import shutil
import subprocess

import pytest

from dfmcheck.errors import HistoryError, NotReadError
from dfmcheck.history.process import ENVIRONMENT
from dfmcheck.history.repository import Repository

TEXT = "\n".join(f"#{i}=X;" for i in range(60))


class Trap:
    """A program that leaves a mark when it is run."""

    def __init__(self, tmp_path) -> None:
        self.mark = tmp_path / "sprung"
        self.program = tmp_path / "trap.sh"
        self.program.write_text(f"#!/bin/sh\necho run >> {self.mark}\ncat 2>/dev/null\nexit 0\n")
        self.program.chmod(0o755)

    def __str__(self) -> str:
        return str(self.program)

    @property
    def sprung(self) -> bool:
        found = self.mark.exists()
        self.mark.unlink(missing_ok=True)
        return found


@pytest.fixture
def trap(tmp_path):
    return Trap(tmp_path)


def look_at_everything(path) -> None:
    """Ask a repository for all that it can tell."""
    with Repository.open(path) as repository:
        spans = [
            repository.choose_range(environ={}),
            repository.choose_range(("HEAD",), environ={}),
            repository.choose_range(("HEAD~1...HEAD",), environ={}),
            repository.choose_range(staged=True),
        ]
        for span in spans:
            for change in repository.changes(span):
                for blob in (change.before, change.after):
                    if blob is not None:
                        repository.read(blob)
            for blob in repository.files(span.after):
                repository.read(blob)
            repository.read_path(span.after, "a.step")
        repository.path_log("a.step")


def plain(path, *arguments) -> None:
    """What an unwary program would run."""
    subprocess.run(["git", *arguments], cwd=path, capture_output=True, check=False, timeout=60)


@pytest.fixture
def prey(repo):
    """A repository with everything in hand: altered, staged, new, moved and touched files."""
    repo.commit(**{"a.step": TEXT, "b.step": "1", "c.step": TEXT + "#c", "touched.step": "1"})
    repo.commit(**{"a.step": TEXT + "2"})
    repo.write("b.step", "2")
    repo.git("add", "b.step")
    repo.write("a.step", TEXT + "3")
    (repo.path / "c.step").rename(repo.path / "moved.step")
    repo.write("new.step", "new")
    os.utime(repo.path / "touched.step", (1_700_000_000, 1_700_000_000))
    return repo


def attributes(repo, text: str) -> None:
    repo.write(".git/info/attributes", text)
    repo.write(".gitattributes", text)


def test_fsmonitor(prey, trap):
    prey.git("config", "core.fsmonitor", str(trap))
    look_at_everything(prey.path)
    assert not trap.sprung
    plain(prey.path, "status")
    assert trap.sprung


@pytest.mark.parametrize("key", ["clean", "process"])
@pytest.mark.parametrize("name", ["evil", "lfs", "With Space.and.dots", "ünï", "-c"])
@pytest.mark.parametrize("where", ["--local", "--global", "--worktree", "include"])
def test_clean_filters(prey, trap, key, name, where):
    """None is run, not even those of the user: what they do is no business of a look."""
    if " " in name:
        attributes(prey, "*.step filter=x\n")
        prey.git("config", "filter.x.clean", str(trap))
    else:
        attributes(prey, f"*.step filter={name}\n")
    if where == "--worktree":
        prey.git("config", "extensions.worktreeConfig", "true")
    place = ("--file", str(prey.path / "included")) if where == "include" else (where,)
    prey.git("config", *place, f"filter.{name}.{key}", str(trap))
    prey.git("config", *place, f"filter.{name}.required", "true")
    if where == "include":
        prey.git("config", "include.path", str(prey.path / "included"))
    look_at_everything(prey.path)
    assert not trap.sprung
    plain(prey.path, "status")
    assert trap.sprung


def test_a_filter_that_cannot_be_switched_off_is_refused(prey, trap):
    attributes(prey, "*.step filter=a=b\n")
    prey.git("config", "filter.a=b.clean", str(trap))
    with pytest.raises(HistoryError, match="'a=b'"):
        look_at_everything(prey.path)
    assert not trap.sprung
    plain(prey.path, "status")
    assert trap.sprung
    with Repository.open(prey.path) as repository:  # two commits need no filter
        repository.changes(repository.choose_range(("HEAD~1", "HEAD")))
    assert not trap.sprung


def test_smudge_filters_diff_programs_and_text_converters(prey, trap):
    attributes(prey, "*.step filter=evil diff=evil\n")
    prey.git("config", "filter.evil.smudge", str(trap))
    prey.git("config", "diff.evil.textconv", str(trap))
    prey.git("config", "diff.evil.command", str(trap))
    prey.git("config", "diff.external", str(trap))
    look_at_everything(prey.path)
    assert not trap.sprung
    plain(prey.path, "diff", "HEAD")
    assert trap.sprung
    plain(prey.path, "cat-file", "--filters", "HEAD:a.step")
    assert trap.sprung


@pytest.mark.parametrize("by", ["folder", "core.hooksPath"])
def test_hooks(prey, trap, tmp_path, by):
    hooks = prey.path / ".git" / "hooks"
    if by != "folder":
        hooks = tmp_path / "hooks"
        prey.git("config", "core.hooksPath", str(hooks))
    hooks.mkdir(exist_ok=True)
    for name in (
        "post-index-change",
        "reference-transaction",
        "post-checkout",
        "pre-auto-gc",
        "fsmonitor-watchman",
    ):
        shutil.copy(trap.program, hooks / name)
    look_at_everything(prey.path)
    assert not trap.sprung
    plain(prey.path, "update-index", "--refresh")
    assert trap.sprung


def test_aliases_pagers_editors_signatures_and_tracing(prey, trap):
    for name in ("status", "cat-file", "rev-parse", "config", "ls-files", "lfs"):
        prey.git("config", f"alias.{name}", f"!{trap}")
    for key in (
        "core.pager",
        "pager.status",
        "pager.log",
        "core.editor",
        "gpg.program",
        "core.askPass",
    ):
        prey.git("config", key, str(trap))
    prey.git("config", "log.showSignature", "true")
    prey.git("config", "core.alternateRefsCommand", str(trap))
    prey.git("config", "credential.helper", f"!{trap}")
    look_at_everything(prey.path)
    assert not trap.sprung
    plain(prey.path, "lfs")
    assert shutil.which("git-lfs") is not None or trap.sprung


@pytest.fixture
def with_traps_below(prey, trap, make_repo):
    """A submodule and an undeclared repository below, both with traps of their own."""
    inner = make_repo("inner")
    inner.commit(**{"vendor.step": "1"})
    prey.git("submodule", "--quiet", "add", str(inner.path), "vendor")
    nested = make_repo("repo/nested")
    nested.commit(**{"n.step": "1"})
    for folder, name in (("vendor", "vendor.step"), ("nested", "n.step")):
        prey.git("-C", folder, "config", "core.fsmonitor", str(trap))
        prey.git("-C", folder, "config", "filter.below.clean", str(trap))
        prey.write(f"{folder}/.gitattributes", "*.step filter=below\n")
        prey.write(f"{folder}/new.step", "x")
        os.utime(prey.path / folder / name, (1_700_000_000, 1_700_000_000))
    return prey


def test_repositories_below(with_traps_below, trap):
    look_at_everything(with_traps_below.path)
    assert not trap.sprung
    plain(with_traps_below.path, "status")
    assert trap.sprung


def test_a_bare_repository_laid_into_the_work_tree(prey, trap, make_repo):
    """Whoever looks from within such a folder looks at the repository that it pretends to be."""
    bare = make_repo("repo/parts", "--bare")
    bare.git("config", "core.bare", "false")
    bare.git("config", "core.worktree", str(prey.path))
    bare.git("config", "core.fsmonitor", str(trap))
    with Repository.open(prey.path / "parts") as repository:
        repository.choose_range(environ={})
    assert not trap.sprung
    plain(prey.path / "parts", "status")
    assert trap.sprung


@pytest.fixture
def partial(repo, tmp_path, git_at, trap):
    """A clone without content, whose remote is a program of the repository's choice."""
    repo.commit(**{"a.step": TEXT, "b.step": "old" * 1000})
    repo.commit(**{"a.step": TEXT + "2"})
    repo.git("mv", "b.step", "c.step")
    repo.put("c.step", "old" * 1000 + "new")
    repo.git("config", "uploadpack.allowFilter", "true")
    source = f"file://{repo.path}"
    repo.git(
        "clone", "-q", "--filter=blob:none", "--no-checkout", source, str(tmp_path / "partial")
    )
    clone = git_at(tmp_path / "partial")
    trap.program.write_text(f"#!/bin/sh\necho run >> {trap.mark}\nexit 1\n")
    clone.git("config", "protocol.ext.allow", "always")
    clone.git("config", "protocol.allow", "always")
    clone.git("config", "remote.origin.url", f"ext::{trap}")
    clone.git("config", "core.sshCommand", str(trap))
    return clone


def test_the_trap_of_a_partial_clone_works_without_the_locks(partial, trap, monkeypatch):
    monkeypatch.delitem(ENVIRONMENT, "GIT_NO_LAZY_FETCH")
    monkeypatch.delitem(ENVIRONMENT, "GIT_ALLOW_PROTOCOL")
    with Repository.open(partial.path) as repository, pytest.raises(NotReadError):
        repository.read_path(repository.head(), "a.step")
    assert trap.sprung


@pytest.mark.parametrize("missing", [None, "GIT_NO_LAZY_FETCH", "GIT_ALLOW_PROTOCOL"])
def test_a_partial_clone_fetches_nothing_and_says_what_is_missing(
    partial, trap, monkeypatch, missing
):
    """Two locks, of which newer and older versions of git know one each: both hold alone."""
    if missing is not None:
        monkeypatch.delitem(ENVIRONMENT, missing)
    with Repository.open(partial.path) as repository:
        span = repository.choose_range(("HEAD~2", "HEAD"))
        changes = {c.after and c.after.path: c for c in repository.changes(span)}
        assert set(changes) == {"a.step", "c.step", None}
        with pytest.raises(NotReadError) as caught:
            repository.read(changes["a.step"].after)
        assert "git fetch --refetch" in caught.value.not_read.remedy
        assert [b.path for b in repository.files(repository.head())] == ["a.step", "c.step"]
    assert not trap.sprung
    plain(partial.path, "cat-file", "blob", "HEAD:a.step")
    assert trap.sprung


def test_replaced_objects_are_not_taken_for_what_their_ids_say(repo):
    repo.commit(**{"a.step": "honest"})
    fake = repo.git("hash-object", "-w", "--stdin", stdin=b"fake")
    repo.git("replace", repo.id("HEAD:a.step"), fake)
    assert repo.git("cat-file", "blob", "HEAD:a.step") == "fake"
    with Repository.open(repo.path) as repository:
        (blob,) = repository.files(repository.head())
        assert repository.read(blob) == b"honest"


def test_a_tree_that_climbs_out(repo, tmp_path):
    """Git would not check such a tree out, but it can be made and pushed to careless servers."""
    (tmp_path / "outside.step").write_text("secret")
    digest = hashlib.sha256(b"secret").hexdigest()
    pointer = f"version https://git-lfs.github.com/spec/v1\noid sha256:{digest}\nsize 6\n"
    blob = bytes.fromhex(repo.git("hash-object", "-w", "--stdin", stdin=pointer.encode()))
    inner = b"100644 outside.step\0" + blob
    inner_id = bytes.fromhex(
        repo.git("hash-object", "-t", "tree", "-w", "--literally", "--stdin", stdin=inner)
    )
    raw = b"40000 ..\0" + inner_id + b"100644 ../outside.step\0" + blob
    tree = repo.git("hash-object", "-t", "tree", "-w", "--literally", "--stdin", stdin=raw)
    commit = repo.git("commit-tree", tree, "-m", "x")
    repo.git("update-ref", "refs/heads/main", commit)
    with Repository.open(repo.path) as repository:
        for blob in repository.files(repository.resolve(commit)):
            assert blob.path == "../outside.step"
            with pytest.raises(NotReadError, match="LFS"):
                repository.read(blob)


def test_names_of_files_are_no_options_and_no_patterns(repo):
    repo.put("a.step", TEXT)
    for name in ("--output=pwned", "-O", ":(exclude)*", "*"):
        (repo.path / "a.step").unlink(missing_ok=True)
        repo.put(f"{name}.step", TEXT + name)
        with Repository.open(repo.path) as repository:
            span = repository.choose_range(environ={})
            assert [c.status for c in repository.changes(span)] in (["renamed"], ["added"])
            assert repository.path_log(f"{name}.step")
    assert not list(repo.path.glob("pwned*"))


def test_folders_named_in_variables_are_no_programs(prey, trap, monkeypatch):
    for name in ("GIT_EXTERNAL_DIFF", "GIT_PAGER", "GIT_EDITOR", "GIT_ASKPASS", "GIT_SSH_COMMAND"):
        monkeypatch.setenv(name, str(trap))
    look_at_everything(prey.path)
    assert not trap.sprung


def test_pathspec_variables_do_not_widen_what_is_asked(prey, monkeypatch):
    for name in ("GIT_GLOB_PATHSPECS", "GIT_NOGLOB_PATHSPECS", "GIT_ICASE_PATHSPECS"):
        monkeypatch.setenv(name, "1")
    look_at_everything(prey.path)


def test_a_partial_clone_of_many_files_is_listed_in_bounded_time(repo, tmp_path, git_at):
    """A missing object may end git's process; not one for each file, please."""
    repo.commit(**{f"{i}.step": f"{i}" for i in range(200)})
    repo.git("config", "uploadpack.allowFilter", "true")
    source = f"file://{repo.path}"
    repo.git(
        "clone", "-q", "--filter=blob:none", "--no-checkout", source, str(tmp_path / "partial")
    )
    with Repository.open(tmp_path / "partial") as repository:
        assert len(repository.files(repository.head())) == 200
        assert repository.processes < 40

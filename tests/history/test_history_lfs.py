"""Large file storage: pointers, where their content is found, and when nobody is asked for it.

Format of pointers and layout of the store: "Git LFS Specification" and the manual page
git-lfs-config.
"""

import hashlib
import os
import shutil

import pytest

from dfmcheck.errors import NotReadError
from dfmcheck.history.lfs import Pointer, parse_pointer
from dfmcheck.history.repository import Repository

CONTENT = b"ISO-10303-21; the real content\n" * 50


def oid_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def pointer_to(data: bytes) -> str:
    return (
        f"version https://git-lfs.github.com/spec/v1\noid sha256:{oid_of(data)}\nsize {len(data)}\n"
    )


def store(repo, data: bytes, folder: str = ".git/lfs") -> None:
    oid = oid_of(data)
    repo.write(f"{folder}/objects/{oid[:2]}/{oid[2:4]}/{oid}", data)


@pytest.fixture
def no_git_lfs(monkeypatch):
    """As if git-lfs were not installed."""
    monkeypatch.setattr("dfmcheck.history.lfs.shutil.which", lambda _: None)


def test_a_pointer_as_the_specification_prints_it():
    text = (
        b"version https://git-lfs.github.com/spec/v1\n"
        b"oid sha256:4d7a214614ab2935c943f9e0ff69d22eadbb8f32b1258daaa5e2ca24d17e2393\n"
        b"size 12345\n"
    )
    oid = "4d7a214614ab2935c943f9e0ff69d22eadbb8f32b1258daaa5e2ca24d17e2393"
    assert parse_pointer(text) == Pointer(oid, 12345)
    assert parse_pointer(text.replace(b"\n", b"\r\n")) == Pointer(oid, 12345)
    extended = text.replace(b"oid", b"ext-0-foo sha256:" + b"a" * 64 + b"\noid")
    assert parse_pointer(extended) == Pointer(oid, 12345, extended=True)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"ISO-10303-21;\n",
        b"version https://git-lfs.github.com/spec/v1\n",
        b"version https://git-lfs.github.com/spec/v1\noid sha256:xyz\nsize 1\n",
        b"version https://git-lfs.github.com/spec/v1\noid sha256:" + b"a" * 64 + b"\n",
        b"version https://git-lfs.github.com/spec/v1\noid sha256:" + b"a" * 64 + b"\nsize -1\n",
        b"version https://example.invalid/spec\noid sha256:" + b"a" * 64 + b"\nsize 1\n",
        pointer_to(b"x").encode() + b" " * 2000,
        b" " + pointer_to(b"x").encode(),
    ],
)
def test_what_is_no_pointer(data):
    assert parse_pointer(data) is None


def test_content_in_the_store_of_the_clone(repo, no_git_lfs):
    repo.put("a.step", pointer_to(CONTENT))
    store(repo, CONTENT)
    with Repository.open(repo.path) as repository:
        (blob,) = repository.files(repository.head())
        assert blob.content == f"sha256:{oid_of(CONTENT)}"
        assert (blob.lfs_oid, blob.size, blob.where) == (oid_of(CONTENT), len(CONTENT), "git")
        assert repository.read(blob) == CONTENT
        assert repository.read_path(repository.head(), "a.step") == CONTENT


def test_content_in_a_store_elsewhere_and_from_a_linked_work_tree(repo, no_git_lfs, tmp_path):
    repo.put("a.step", pointer_to(CONTENT))
    store(repo, CONTENT)
    repo.git("worktree", "add", "-q", str(tmp_path / "linked"))
    with Repository.open(tmp_path / "linked") as repository:
        (blob,) = repository.files(repository.head())
        assert repository.read(blob) == CONTENT
    shutil.move(repo.path / ".git" / "lfs", tmp_path / "elsewhere")
    repo.git("config", "lfs.storage", str(tmp_path / "elsewhere"))
    with Repository.open(repo.path) as repository:
        (blob,) = repository.files(repository.head())
        assert repository.read(blob) == CONTENT


def test_content_that_is_nowhere_is_named(repo, no_git_lfs):
    repo.put("a.step", pointer_to(CONTENT))
    with Repository.open(repo.path) as repository:
        (blob,) = repository.files(repository.head())
        with pytest.raises(NotReadError, match="git-lfs is not installed") as caught:
            repository.read(blob)
    assert caught.value.not_read.kind == "lfs-pointer"
    assert "git lfs pull" in caught.value.not_read.remedy


def test_damaged_content_is_not_taken(repo, no_git_lfs):
    repo.put("a.step", pointer_to(CONTENT))
    store(repo, CONTENT)
    oid = oid_of(CONTENT)
    place = repo.path / ".git/lfs/objects" / oid[:2] / oid[2:4] / oid
    place.write_bytes(b"X" + CONTENT[1:])
    with Repository.open(repo.path) as repository:
        (blob,) = repository.files(repository.head())
        with pytest.raises(NotReadError):
            repository.read(blob)
        place.unlink()
        os.mkfifo(place)
        with pytest.raises(NotReadError):
            repository.read(blob)


def test_content_altered_by_extensions_is_refused(repo, no_git_lfs):
    text = pointer_to(CONTENT).replace("oid", f"ext-0-foo sha256:{'a' * 64}\noid")
    repo.put("a.step", text)
    store(repo, CONTENT)
    with Repository.open(repo.path) as repository:
        (blob,) = repository.files(repository.head())
        with pytest.raises(NotReadError, match="extensions"):
            repository.read(blob)


def test_files_checked_out_in_full_are_unchanged_and_can_be_read(repo, no_git_lfs):
    """As git-lfs leaves them; without it `git status` calls them altered."""
    repo.put("a.step", pointer_to(CONTENT))
    repo.write("a.step", CONTENT)
    with Repository.open(repo.path) as repository:
        assert repository.choose_range(environ={}).after.kind == "commit"
        (blob,) = repository.files(repository.head())
        assert repository.read(blob) == CONTENT, "read from the work tree, as its digest is right"
    repo.write("a.step", CONTENT + b"more")
    with Repository.open(repo.path) as repository:
        span = repository.choose_range(environ={})
        (change,) = repository.changes(span)
        assert (change.status, span.after.kind) == ("changed", "worktree")
        assert repository.read(change.after) == CONTENT + b"more"
        with pytest.raises(NotReadError):
            repository.read(change.before)


def test_a_large_file_moved_in_the_work_tree(repo, no_git_lfs):
    repo.put("a.step", pointer_to(CONTENT))
    (repo.path / "a.step").unlink()
    repo.write("sub/b.step", CONTENT)
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(environ={}))
    assert change.status == "renamed"
    assert change.before.content == change.after.content


def test_pointers_in_the_work_tree(repo, no_git_lfs):
    """A clone whose content was never fetched, with a pointer altered in hand."""
    repo.put("a.step", pointer_to(b"old"))
    repo.write("a.step", pointer_to(CONTENT))
    store(repo, CONTENT)
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(environ={}))
        assert change.after.lfs_oid == oid_of(CONTENT)
        assert repository.read(change.after) == CONTENT


class FakeLfs:
    """A git-lfs on the PATH that notes how it is called and delivers what it is told to."""

    def __init__(self, tmp_path, monkeypatch) -> None:
        self.calls = tmp_path / "calls"
        self.answer = tmp_path / "answer"
        folder = tmp_path / "bin"
        folder.mkdir()
        program = folder / "git-lfs"
        program.write_text(
            f'#!/bin/sh\nprintf "%s\\n" "$@" >> {self.calls}\ncat > /dev/null\ncat {self.answer}\n'
        )
        program.chmod(0o755)
        monkeypatch.setenv("PATH", f"{folder}{os.pathsep}{os.environ['PATH']}")

    @property
    def called(self) -> list[str]:
        return self.calls.read_text().splitlines() if self.calls.exists() else []


@pytest.fixture
def fake_lfs(tmp_path, monkeypatch):
    return FakeLfs(tmp_path, monkeypatch)


def read_first(repo) -> bytes:
    with Repository.open(repo.path) as repository:
        (blob,) = repository.files(repository.head(), lambda p: p.endswith(".step"))
        return repository.read(blob)


def test_git_lfs_is_asked_when_it_is_there(repo, fake_lfs):
    repo.put("-a b.step", pointer_to(CONTENT))
    fake_lfs.answer.write_bytes(CONTENT)
    assert read_first(repo) == CONTENT
    assert fake_lfs.called == ["smudge", "--", "-a b.step"]


def test_what_git_lfs_delivers_is_checked(repo, fake_lfs):
    repo.put("a.step", pointer_to(CONTENT))
    fake_lfs.answer.write_bytes(CONTENT + b"x")
    with pytest.raises(NotReadError, match="did not deliver"):
        read_first(repo)


@pytest.mark.parametrize(
    "key",
    ["lfs.customtransfer.evil.path", "lfs.standalonetransferagent",
     "lfs.https://x.invalid.standalonetransferagent", "lfs.extension.evil.smudge",
     "core.sshCommand", "core.gitProxy", "core.askPass", "credential.helper",
     "credential.https://x.invalid.helper", "url.https://x.invalid/.insteadOf",
     "remote.origin.vcs"],
)  # fmt: skip
def test_git_lfs_is_not_asked_where_the_repository_chose_programs(repo, fake_lfs, key):
    repo.put("a.step", pointer_to(CONTENT))
    fake_lfs.answer.write_bytes(CONTENT)
    repo.git("config", key, "value")
    with pytest.raises(NotReadError, match="own configuration sets"):
        read_first(repo)
    assert fake_lfs.called == []
    repo.git("config", "--unset", key)
    if not key.startswith("lfs.ext"):
        repo.git("config", "--global", key, "the-users-own")
        assert read_first(repo) == CONTENT


@pytest.mark.parametrize("where", ["committed", "staged", "work tree", "link"])
def test_git_lfs_is_not_asked_where_an_lfsconfig_names_a_server(repo, fake_lfs, where, tmp_path):
    repo.put("a.step", pointer_to(CONTENT))
    fake_lfs.answer.write_bytes(CONTENT)
    (tmp_path / "outside").write_text("")
    if where == "link":
        (repo.path / ".lfsconfig").symlink_to(tmp_path / "outside")
    else:
        repo.write(".lfsconfig", "[lfs]\n\turl = https://elsewhere.invalid/\n")
    if where in {"committed", "staged"}:
        repo.git("add", ".lfsconfig")
        if where == "committed":
            repo.git("commit", "-q", "-m", "x")
        (repo.path / ".lfsconfig").unlink()
    with pytest.raises(NotReadError, match=r"\.lfsconfig names a server"):
        read_first(repo)
    assert fake_lfs.called == []


def test_an_lfsconfig_without_a_server_is_no_hindrance(repo, fake_lfs):
    repo.put("a.step", pointer_to(CONTENT))
    fake_lfs.answer.write_bytes(CONTENT)
    repo.put(".lfsconfig", "[lfs]\n\tfetchexclude = big\n")
    assert read_first(repo) == CONTENT


@pytest.mark.skipif(shutil.which("git-lfs") is None, reason="git-lfs is not installed")
def test_with_git_lfs_itself(repo, make_repo, tmp_path, git_at):
    """Commit, push and clone by git-lfs; then read content that the clone has not fetched."""
    repo.git("lfs", "install", "--local", "--skip-repo")
    repo.git("lfs", "track", "*.step")
    repo.put("sub/a.step", CONTENT)
    assert repo.git("cat-file", "blob", "HEAD:sub/a.step").startswith("version https://git-lfs")
    repo.git("status")  # lets the index know the file's times
    with Repository.open(repo.path) as repository:
        assert read_first(repo) == CONTENT
        os.utime(repo.path / "sub" / "a.step", (1_700_000_000, 1_700_000_000))
        assert repository.choose_range(environ={}).after.kind == "commit"
    remote = make_repo("remote.git", "--bare")
    repo.git("remote", "add", "origin", f"file://{remote.path}")
    repo.git("push", "-q", "origin", "main")
    repo.git("lfs", "push", "origin", "main")
    remote.git("symbolic-ref", "HEAD", "refs/heads/main")
    repo.git(
        "clone", "-q", f"file://{remote.path}", str(tmp_path / "clone"), GIT_LFS_SKIP_SMUDGE="1"
    )
    clone = git_at(tmp_path / "clone")
    assert (clone.path / "sub" / "a.step").read_bytes().startswith(b"version")
    before = clone.git("status", "--porcelain")
    with Repository.open(clone.path) as repository:
        assert repository.choose_range(environ={}).after.kind == "commit"
        (blob,) = repository.files(repository.head())
        assert repository.read(blob) == CONTENT
    assert clone.git("status", "--porcelain") == before
    assert (clone.path / "sub" / "a.step").read_bytes().startswith(b"version")

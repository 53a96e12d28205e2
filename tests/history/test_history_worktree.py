"""The work tree: line ends, links, pipes, sparse checkouts, submodules; nothing is altered."""

import hashlib
import os
import socket
import threading
import time

import pytest

from dfmcheck.errors import NotReadError
from dfmcheck.history.repository import Repository
from dfmcheck.history.safefile import read_regular

NO_CI: dict[str, str] = {}


def look(repo, *revisions, **options):
    """Range, changes as (status, path), and the notes."""
    with Repository.open(repo.path) as repository:
        span = repository.choose_range(revisions, environ=NO_CI, **options)
        changes = repository.changes(span)
        return span, {(c.status, (c.after or c.before).path) for c in changes}


LINES = b"ISO-10303-21;\n#1=A;\n#2=B;\n"


@pytest.mark.parametrize(
    ("key", "value", "attributes"),
    [
        ("core.autocrlf", "true", ""),
        ("core.eol", "crlf", "*.step text\n"),
        ("core.eol", "lf", "*.step text eol=crlf\n"),
    ],
)
def test_line_ends_that_git_converts_are_no_change(repo, key, value, attributes):
    repo.write(".gitattributes", attributes)
    repo.put("a.step", LINES)
    repo.put("b.txt", "x")
    repo.git("config", key, value)
    repo.write("a.step", LINES.replace(b"\n", b"\r\n"))
    assert look(repo)[0].after.kind == "commit"
    assert look(repo, "HEAD")[1] == set()
    repo.write("a.step", (LINES + b"#3=C;\n").replace(b"\n", b"\r\n"))
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(environ=NO_CI))
        assert change.status == "changed"
        data = repository.read(change.after)
    assert data == (LINES + b"#3=C;\n").replace(b"\n", b"\r\n")
    blob = hashlib.sha1(b"blob %d\0" % len(data) + data, usedforsecurity=False).hexdigest()
    assert change.after.content == f"git:{blob}", "the id is that of the bytes analysed"


def test_line_ends_that_git_does_not_convert_are_a_change(repo):
    repo.put("a.step", LINES)
    repo.write("a.step", LINES.replace(b"\n", b"\r\n"))
    assert look(repo)[1] == {("changed", "a.step")}


def test_a_renamed_file_with_converted_line_ends(repo):
    text = b"".join(b"#%d=A;\n" % i for i in range(50))
    repo.put("a.step", text)
    repo.git("config", "core.autocrlf", "true")
    (repo.path / "a.step").unlink()
    repo.write("b.step", text.replace(b"\n", b"\r\n"))
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(environ=NO_CI))
    assert change.status == "renamed"


def test_content_ids_of_the_work_tree_are_those_after_the_commit(repo):
    """What was analysed before a commit is found again in the cache after it."""
    repo.put("a.step", "1")
    repo.write("a.step", "2")
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(environ=NO_CI))
    repo.commit()
    with Repository.open(repo.path) as repository:
        (blob,) = repository.files(repository.head())
    assert blob.content == change.after.content


def test_files_of_the_work_tree(repo):
    repo.commit(**{"a.step": "1", "b.step": "1", "c.step": "1"})
    repo.write("b.step", "22")
    (repo.path / "c.step").unlink()
    repo.write("d.step", "4")
    with Repository.open(repo.path) as repository:
        span = repository.choose_range(environ=NO_CI)
        files = repository.files(span.after)
        assert [(b.path, b.where, b.size) for b in files] == [
            ("a.step", "git", 1),
            ("b.step", "worktree", 2),
            ("d.step", "worktree", 1),
        ]
        assert [repository.read(b) for b in files] == [b"1", b"22", b"4"]
        read = [
            repository.read_path(span.after, p) for p in ("a.step", "b.step", "c.step", "e.step")
        ]
        assert read == [b"1", b"22", None, None]


def test_a_file_that_is_altered_while_it_is_looked_at(repo):
    repo.put("a.step", "1")
    repo.write("a.step", "2")
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(environ=NO_CI))
        repo.write("a.step", "3")
        with pytest.raises(NotReadError, match="altered while"):
            repository.read(change.after)
        (repo.path / "a.step").unlink()
        with pytest.raises(NotReadError, match="no longer"):
            repository.read(change.after)


def test_links_are_not_followed(repo, tmp_path):
    secret = tmp_path / "outside.step"
    secret.write_text("secret")
    repo.commit(**{"real.step": "1"})
    (repo.path / "inside.step").symlink_to("real.step")
    (repo.path / "outside.step").symlink_to(secret)
    (repo.path / "dangling.step").symlink_to("nowhere")
    (repo.path / "folder").symlink_to(tmp_path)
    for stage in ("in hand", "staged", "committed"):
        if stage == "staged":
            repo.git("add", "--all")
        if stage == "committed":
            repo.commit()
        span, changes = look(repo, "main" if stage == "in hand" else "HEAD", staged=False) \
            if stage != "committed" else look(repo)  # fmt: skip
        assert changes == set()
        if stage == "committed":
            assert "outside.step is a symbolic link and is not followed" in span.notes
        with Repository.open(repo.path) as repository:
            assert repository.read_path(span.after, "outside.step") is None
            assert repository.read_path(span.after, "folder/outside.step") is None
            assert [b.path for b in repository.files(span.after)] == ["real.step"]


def test_a_link_in_the_place_of_a_part_is_said(repo, tmp_path):
    (tmp_path / "elsewhere.step").write_text("secret")
    repo.commit(**{"a.step": "1", "dir/b.step": "1"})
    (repo.path / "a.step").unlink()
    (repo.path / "a.step").symlink_to(tmp_path / "elsewhere.step")
    span, changes = look(repo)
    assert changes == {("removed", "a.step")}
    assert "a.step is a symbolic link and is not followed" in span.notes
    repo.git("checkout", "-q", "a.step")
    (repo.path / "dir" / "b.step").rename(tmp_path / "b.step")
    (repo.path / "dir").rmdir()
    (repo.path / "dir").symlink_to(tmp_path)
    assert look(repo)[1] == {("removed", "dir/b.step")}, "below a linked folder nothing is ours"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_pipes_sockets_and_folders_are_refused_without_waiting(repo, monkeypatch):
    repo.commit(**{"a.step": "1", "b.step": "1", "c.step": "1", "d.step": "1"})
    for name in "abc":
        (repo.path / f"{name}.step").unlink()
    os.mkfifo(repo.path / "a.step")
    monkeypatch.chdir(repo.path)
    server = socket.socket(socket.AF_UNIX)
    server.bind("b.step")
    repo.write("c.step/inner.step", "1")
    begun = time.monotonic()
    with Repository.open(repo.path) as repository:
        span = repository.choose_range(environ=NO_CI)
        changes = {(c.after or c.before).path: c for c in repository.changes(span)}
        assert {p: c.status for p, c in changes.items()} == {
            "a.step": "changed", "b.step": "changed", "c.step/inner.step": "renamed",
        } or changes["c.step"].status == "removed"  # fmt: skip
        with pytest.raises(NotReadError, match="a named pipe, not a regular file"):
            repository.read(changes["a.step"].after)
        with pytest.raises(NotReadError, match="a socket, not a regular file"):
            repository.read(changes["b.step"].after)
    server.close()
    assert time.monotonic() - begun < 5


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_pipe_that_takes_a_files_place_at_the_last_moment(tmp_path, monkeypatch):
    """It looks like a regular file until it is opened; nobody waits for its other end."""
    regular, pipe = tmp_path / "regular", tmp_path / "pipe"
    regular.write_text("x")
    os.mkfifo(pipe)
    before = os.lstat(regular)
    monkeypatch.setattr("dfmcheck.history.safefile.os.lstat", lambda _: before)
    writer = threading.Timer(5, lambda: pipe.open("wb").close())
    writer.daemon = True
    writer.start()
    begun = time.monotonic()
    with pytest.raises(NotReadError, match="a named pipe"):
        read_regular(str(pipe))
    assert time.monotonic() - begun < 4
    writer.cancel()


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read everything"
)
def test_a_file_without_permission(repo):
    repo.commit(**{"a.step": "1", "b.step": "1"})
    for name in "ab":
        repo.write(f"{name}.step", "22")
    (repo.path / "a.step").chmod(0)
    with Repository.open(repo.path) as repository:
        a, b = repository.changes(repository.choose_range(environ=NO_CI))
        assert repository.read(b.after) == b"22"
        with pytest.raises(NotReadError, match="cannot be opened"):
            repository.read(a.after)


def test_a_sparse_checkout_deletes_nothing(repo):
    repo.commit(**{"in/a.step": "1", "out/b.step": "1", "c.step": "1"})
    repo.commit(**{"in/a.step": "2", "out/b.step": "2"})
    for index in ("--no-sparse-index", "--sparse-index"):
        repo.git("sparse-checkout", "set", "--cone", index, "in")
        assert not (repo.path / "out").exists()
        assert look(repo)[0].after.kind == "commit"
        repo.write("in/a.step", "3")
        span, changes = look(repo)
        assert (span.after.kind, changes) == ("worktree", {("changed", "in/a.step")})
        assert look(repo, "HEAD~1")[1] == {("changed", "in/a.step"), ("changed", "out/b.step")}
        with Repository.open(repo.path) as repository:
            files = repository.files(span.after)
            assert [b.path for b in files] == ["c.step", "in/a.step", "out/b.step"]
            assert repository.read(files[2]) == b"2"
        repo.git("add", "in/a.step")
        assert look(repo, staged=True)[1] == {("changed", "in/a.step")}
        repo.git("reset", "-q", "--hard")


@pytest.fixture
def with_submodule(repo, make_repo):
    inner = make_repo("inner")
    inner.commit(**{"vendor.step": "1"})
    repo.commit(**{"a.step": "1"})
    repo.git("submodule", "--quiet", "add", str(inner.path), "bought/vendor")
    repo.commit()
    repo.commit(**{"a.step": "2"})
    return repo


def test_submodules_are_said_and_not_entered(with_submodule):
    repo = with_submodule
    span, changes = look(repo)
    assert changes == {("changed", "a.step")}
    assert "submodules are not entered: bought/vendor" in span.notes
    repo.write("bought/vendor/vendor.step", "altered")
    repo.write("bought/vendor/new.step", "new")
    assert look(repo)[0].after.kind == "commit"
    repo.write("a.step", "3")
    span, changes = look(repo)
    assert changes == {("changed", "a.step")}
    assert "submodules are not entered: bought/vendor" in span.notes
    repo.git("add", "a.step")
    assert "submodules are not entered: bought/vendor" in look(repo, staged=True)[0].notes


def test_from_within_a_submodule_it_is_a_repository_like_any(with_submodule):
    with Repository.open(with_submodule.path / "bought" / "vendor") as repository:
        assert [b.path for b in repository.files(repository.head())] == ["vendor.step"]


def test_a_repository_within_that_nobody_declared(repo, make_repo):
    repo.commit(**{"a.step": "1"})
    make_repo("repo/nested").commit(**{"n.step": "1"})
    repo.write("a.step", "2")
    span, changes = look(repo)
    assert changes == {("changed", "a.step")}
    assert "nested is a repository of its own and is not entered" in span.notes


def test_nothing_is_altered_by_looking(repo):
    """Not even the index's knowledge of times, which `git status` would refresh."""
    repo.commit(**{"a.step": "1", "b.step": "1", "dfmcheck.toml": "format = 1\n"})
    repo.commit(**{"a.step": "2"})
    for name in ("a.step", "dfmcheck.toml"):
        os.utime(repo.path / name, (1_700_000_000, 1_700_000_000))
    repo.write("b.step", "in hand")
    repo.write("new.step", "new")
    index = (repo.path / ".git" / "index").read_bytes()
    before = repo.state()
    with Repository.open(repo.path) as repository:
        for span in (
            repository.choose_range(environ=NO_CI),
            repository.choose_range(("HEAD~1",), environ=NO_CI),
            repository.choose_range(staged=True),
        ):
            for change in repository.changes(span):
                for blob in (change.before, change.after):
                    assert blob is None or repository.read(blob) is not None
            repository.files(span.after)
        repository.path_log("a.step")
    assert (repo.path / ".git" / "index").read_bytes() == index
    assert repo.state() == before


def test_it_works_while_another_git_holds_the_index(repo):
    repo.commit(**{"a.step": "1"})
    repo.write("a.step", "2")
    (repo.path / ".git" / "index.lock").write_bytes(b"")
    assert look(repo)[1] == {("changed", "a.step")}


def test_a_read_only_repository(repo):
    repo.commit(**{"a.step": "1"})
    repo.write("a.step", "2")
    for place in (repo.path / ".git", repo.path / ".git" / "objects", repo.path):
        place.chmod(0o555)
    try:
        assert look(repo)[1] == {("changed", "a.step")}
    finally:
        for place in (repo.path, repo.path / ".git", repo.path / ".git" / "objects"):
            place.chmod(0o755)

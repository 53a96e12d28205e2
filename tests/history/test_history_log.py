"""The history of one file through its renames."""

import subprocess

import pytest

from dfmcheck.errors import HistoryError
from dfmcheck.history.repository import Repository

TEXT = "\n".join(f"#{i}=X;" for i in range(60))


def log(repo, path, *arguments):
    with Repository.open(repo.path) as repository:
        return repository.path_log(path, *arguments)


def test_revisions_newest_first_with_dates_and_tags(repo):
    first = repo.put("a.step", "1", "first")
    repo.put("other.step", "x", "unrelated")
    repo.git("tag", "-a", "B", "-m", "letter B")
    third = repo.put("a.step", "2", "second letter")
    repo.git("tag", "ordered")
    repo.git("tag", "-a", "nested", "-m", "x", "ordered")
    found = log(repo, "a.step")
    assert [(r.revision.sha, r.status, r.tags) for r in found] == [
        (third, "changed", ("nested", "ordered")),
        (first, "added", ()),
    ]
    assert found[0].revision.subject == "second letter"
    dates = repo.git("log", "--format=%aI", "--", "a.step").splitlines()
    assert [r.revision.author_date for r in found] == dates
    assert [r.blob.size for r in found] == [1, 1]


def test_through_renames(repo):
    repo.put("old name.step", TEXT, "made")
    repo.put("old name.step", TEXT + "#1", "altered")
    repo.git("mv", "old name.step", "new.step")
    repo.commit("renamed")
    repo.git("mv", "new.step", "moved.step")
    repo.put("moved.step", TEXT + "#2", "moved and altered")
    repo.put("moved.step", TEXT + "#3", "altered again")
    found = log(repo, "moved.step")
    assert [(r.status, r.path, r.former_path) for r in found] == [
        ("changed", "moved.step", None),
        ("renamed", "moved.step", "new.step"),
        ("renamed", "new.step", "old name.step"),
        ("changed", "old name.step", None),
        ("added", "old name.step", None),
    ]
    assert [len(log(repo, "moved.step", "HEAD", n)) for n in (1, 3, 9)] == [1, 3, 5]
    assert log(repo, "new.step", "HEAD~2")[0].path == "new.step"


def test_a_copy_begins_its_own_history(repo):
    """Git's own `log --follow` goes on with the file that was copied."""
    repo.put("a.step", TEXT)
    repo.put("b.step", TEXT, "copied")
    followed = repo.git("log", "--follow", "--format=%s", "--", "b.step").splitlines()
    assert followed == ["copied", "change"]
    assert [r.status for r in log(repo, "b.step")] == ["added"]


def test_merges_count_by_their_first_parent(repo):
    repo.put("a.step", "1")
    repo.put("b.step", "1")
    repo.git("checkout", "-q", "-b", "side")
    side = [repo.put("a.step", "2"), repo.put("a.step", "3")]
    repo.git("checkout", "-q", "main")
    repo.put("b.step", "2")
    repo.git("merge", "-q", "--no-ff", "--no-edit", "side")
    merge = repo.id()
    found = log(repo, "a.step")
    assert found[0].revision.sha == merge
    assert not {r.revision.sha for r in found} & set(side)
    assert len(found) == 2


def test_removed_and_made_anew(repo):
    repo.put("a.step", "1")
    repo.git("rm", "-q", "a.step")
    repo.commit("removed")
    assert [r.status for r in log(repo, "a.step")] == ["removed", "added"]
    repo.put("a.step", "2")
    found = log(repo, "a.step")
    assert [(r.status, r.blob is None) for r in found] == [
        ("added", False),
        ("removed", True),
        ("added", False),
    ]


def test_a_path_that_never_was(repo):
    repo.put("a.step", "1")
    assert log(repo, "b.step") == ()
    with pytest.raises(HistoryError):
        log(repo, "a.step", "nowhere")


def test_a_shallow_clone_ends_with_a_sentence(repo, tmp_path, git_at):
    for i in range(4):
        repo.put("a.step", str(i))
    repo.git("clone", "-q", "--depth=2", f"file://{repo.path}", str(tmp_path / "shallow"))
    clone = git_at(tmp_path / "shallow")
    assert len(log(clone, "a.step", "HEAD", 1)) == 1
    with pytest.raises(HistoryError, match="shallow"):
        log(clone, "a.step")


def test_against_git_for_a_straight_history(repo):
    """Without renames and merges git's own log of a path must agree."""
    for i in range(30):
        repo.put(f"{i % 3}.step", f"{i}")
    for name in ("0.step", "1.step", "2.step"):
        theirs = subprocess.run(
            ["git", "log", "--format=%H", "--", name], cwd=repo.path, capture_output=True,
            text=True, check=True
        ).stdout.split()  # fmt: skip
        assert [r.revision.sha for r in log(repo, name)] == theirs

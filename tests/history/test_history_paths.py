"""Names of files: whatever git can hold comes through unaltered."""

import os
import random
import subprocess
from pathlib import Path

import pytest

from dfmcheck.history.names import decode, is_ours
from dfmcheck.history.repository import Repository

NAMES = [
    b"plain.step",
    b"CAPITALS.STEP",
    b"short.Stp",
    b"part21.P21",
    b"with space.step",
    b"two  spaces .step",
    b'quote".step',
    b"apostrophe's.step",
    b"line\nbreak.step",
    b"tab\there.step",
    b"back\\slash.step",
    b"-leading-dash.step",
    b"--output=x.step",
    b"\xc3\x9cbergabe.step",
    "部品.step".encode(),
    "деталь.stp".encode(),
    b"latin1-\xe9\xff.step",
    b"esc\x1b[31mred.step",
    b":(glob)*.step",
    b"star*[a].step",
    b"deep/er/and deeper/p.step",
    b"$HOME/~x.step",
    b".hidden.step",
    b"a=b.step",
]


@pytest.mark.parametrize("name", NAMES, ids=[repr(n) for n in NAMES])
def test_a_name_survives_in_commits_index_and_work_tree(repo, name):
    repo.put("other.txt", "x")
    repo.put(name, "one")
    path = decode(name)
    with Repository.open(repo.path) as repository:
        added = repository.changes(repository.choose_range())
        assert [(c.status, c.after.path) for c in added] == [("added", path)]
        assert repository.read(added[0].after) == b"one"
        assert repository.read_path(repository.head(), path) == b"one"
    repo.write(name, "two")
    with Repository.open(repo.path) as repository:
        span = repository.choose_range()
        assert span.after.kind == "worktree"
        (change,) = repository.changes(span)
        assert (change.status, change.before.path, change.after.path) == ("changed", path, path)
        assert repository.read(change.before) == b"one"
        assert repository.read(change.after) == b"two"
    repo.git("add", "--all")
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(staged=True))
        assert change.after.path == path
        assert repository.read(change.after) == b"two"
    repo.git("commit", "--quiet", "--message", "two")
    with Repository.open(repo.path) as repository:
        log = repository.path_log(path)
        assert [(r.status, r.path) for r in log] == [("changed", path), ("added", path)]


@pytest.mark.parametrize("name", NAMES, ids=[repr(n) for n in NAMES])
def test_a_name_survives_a_rename_in_hand(repo, name):
    repo.put(name, "\n".join(map(str, range(50))))
    repo.write(b"new/" + name, "\n".join(map(str, range(51))))
    Path(repo.path, os.fsdecode(name)).unlink()
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range())
        assert change.status == "renamed"
        assert change.before.path == decode(name)
        assert change.after.path == decode(b"new/" + name)


def test_only_kept_paths_are_looked_at(repo):
    repo.commit(
        **{"a.step": "1", "b.txt": "1", "c.stepx": "1", "sub/dfmcheck.toml": "1", "STEP": "1"}
    )
    with Repository.open(repo.path) as repository:
        span = repository.choose_range()
        assert [c.after.path for c in repository.changes(span)] == ["a.step", "sub/dfmcheck.toml"]
        assert [b.path for b in repository.files(span.after)] == ["a.step", "sub/dfmcheck.toml"]
        texts = repository.files(span.after, lambda p: p.endswith(".txt"))
        assert [b.path for b in texts] == ["b.txt"]


def test_folders_whose_names_are_prefixes_of_each_other(repo):
    """Git sorts `case-pla` before `case/`, plain text sorting does not."""
    repo.commit(
        **{"case/pla.step": "1", "case-pla/a.step": "2", "case.step": "3", "case/a.step": "4"}
    )
    repo.commit(**{"case/pla.step": "1b", "case-pla/a.step": "2b"})
    with Repository.open(repo.path) as repository:
        changes = repository.changes(repository.choose_range())
        assert [(c.status, c.after.path) for c in changes] == [
            ("changed", "case-pla/a.step"),
            ("changed", "case/pla.step"),
        ]


def test_a_file_becomes_a_folder_and_back(repo):
    repo.commit(**{"p.step": "1"})
    repo.git("rm", "--quiet", "p.step")
    repo.commit(**{"p.step/q.step": "completely different content of another part"})
    repo.git("rm", "--quiet", "-r", "p.step")
    repo.commit(**{"p.step": "third"})
    with Repository.open(repo.path) as repository:
        there = repository.changes(repository.choose_range(("HEAD~2", "HEAD~1")))
        back = repository.changes(repository.choose_range())
    assert {(c.status, (c.after or c.before).path) for c in there} == {
        ("removed", "p.step"),
        ("added", "p.step/q.step"),
    }
    assert {(c.status, (c.after or c.before).path) for c in back} == {
        ("added", "p.step"),
        ("removed", "p.step/q.step"),
    }


def _git_says(path, *arguments) -> set[tuple[str, str | None, str | None]]:
    """Status, old path, new path as `git diff --name-status` tells them."""
    out = subprocess.run(
        ["git", "diff", "--name-status", "-z", "-M", "-l1000", *arguments],
        cwd=path, capture_output=True, check=True,
    ).stdout  # fmt: skip
    fields = iter(out.split(b"\0")[:-1])
    found = set()
    for status in fields:
        first = decode(next(fields))
        if status.startswith(b"R"):
            second = decode(next(fields))
            found.add(("renamed", first, second))
        elif status == b"A":
            found.add(("added", None, first))
        elif status == b"D":
            found.add(("removed", first, None))
        else:
            found.add(("changed", first, first))
    return found


def _we_say(changes) -> set[tuple[str, str | None, str | None]]:
    return {(c.status, c.before and c.before.path, c.after and c.after.path) for c in changes}


@pytest.mark.parametrize("seed", range(12))
def test_changes_are_those_that_git_tells(repo, seed):
    """Random histories: adding, altering, moving, deleting; compared with git's own listing."""
    chance = random.Random(seed)
    places = [f"{d}p{i}.step" for d in ("", "a/", "a/b/", "a-b/", "z/") for i in range(4)]
    live: dict[str, list[str]] = {}

    def step() -> None:
        for _ in range(chance.randint(1, 5)):
            path = chance.choice(places)
            do = chance.random()
            if do < 0.4 or not live:
                text = [f"#{chance.randint(0, 10**9)}=X;" for _ in range(chance.randint(5, 40))]
                live[path] = text
            elif do < 0.6:
                path = chance.choice(sorted(live))
                live[path] = [*live[path], "#1=NEW;"]
            elif do < 0.8:
                old = chance.choice(sorted(live))
                live[path] = live.pop(old)
                if chance.random() < 0.5:
                    live[path] = [*live[path], "#2=MOVED;"]
            else:
                live.pop(chance.choice(sorted(live)))

    def lay() -> None:
        for path in repo.path.rglob("*.step"):
            path.unlink()
        for path, text in live.items():
            repo.write(path, "\n".join(text))

    for _ in range(6):
        step()
        lay()
        repo.commit()
    step()
    lay()
    ids = repo.git("rev-list", "--reverse", "HEAD").split()
    with Repository.open(repo.path) as repository:
        for old, new in zip(ids, ids[1:] + ids[:1], strict=True):
            ours = repository.changes(repository.choose_range((old, new)), is_ours)
            assert _we_say(ours) == _git_says(repo.path, old, new)
            for change in ours:
                if change.after is not None:
                    assert (
                        repository.read(change.after)
                        == repo.git("cat-file", "blob", f"{new}:{change.after.path}").encode()
                    )
        listing = {b.path for b in repository.files(repository.head())}
        assert listing == set(repo.git("ls-tree", "-r", "--name-only", "HEAD").split("\n")) - {""}
    repo.git("add", "--all")
    staged = _git_says(repo.path, "--cached", "HEAD")
    with Repository.open(repo.path) as repository:
        assert _we_say(repository.changes(repository.choose_range(staged=True))) == staged
        if staged:
            in_hand = repository.choose_range()
            assert in_hand.after.kind == "worktree"
            assert _we_say(repository.changes(in_hand)) == staged
    repo.git("reset", "--quiet")
    with Repository.open(repo.path) as repository:
        if staged:  # untracked and deleted files pair up as if they had been staged
            assert _we_say(repository.changes(repository.choose_range())) == staged

"""Which two sides are compared, and how both are called."""

import pytest

from dfmcheck.errors import HistoryError, UsageError
from dfmcheck.history.repository import Repository

NO_CI: dict[str, str] = {}


def choose(repo, *revisions, **options):
    with Repository.open(repo.path) as repository:
        return repository.choose_range(revisions, environ=NO_CI, **options)


def what(repo, *revisions, **options):
    with Repository.open(repo.path) as repository:
        span = repository.choose_range(revisions, environ=NO_CI, **options)
        return {(c.status, (c.after or c.before).path) for c in repository.changes(span)}


def test_a_clean_tree_compares_the_last_commit_with_its_first_parent(repo):
    first = repo.commit(**{"a.step": "1"})
    second = repo.commit(**{"a.step": "2"})
    span = choose(repo)
    assert (span.before.sha, span.after.sha) == (first, second)
    assert span.after.label == second[:7]
    assert span.chosen == (
        f"{second[:7]} (14 Mar 2026) against {first[:7]} (14 Mar 2026); last commit"
    )


def test_the_authors_own_day_is_told(repo):
    repo.commit(**{"a.step": "1"})
    repo.write("a.step", "2")
    repo.git("commit", "-qam", "late", "--date=2026-03-14T23:30:00-1100")
    repo.write("a.step", "3")
    span = choose(repo)
    assert span.before.author_date == "2026-03-14T23:30:00-11:00"
    assert span.before.subject == "late"
    assert span.chosen.startswith(f"Working tree against {repo.id()[:7]} (14 Mar 2026)")


def test_dates_that_no_calendar_has_are_left_out(repo):
    repo.commit(**{"a.step": "1"})
    tree = repo.git("rev-parse", "HEAD^{tree}")
    who = "A <a@example.invalid>"
    raw = f"tree {tree}\nauthor {who} 99999999999999 +0000\ncommitter {who} 1 +0000\n\nodd\n"
    odd = repo.git(
        "hash-object", "-t", "commit", "-w", "--literally", "--stdin", stdin=raw.encode()
    )
    with Repository.open(repo.path) as repository:
        revision = repository.resolve(odd)
    assert revision.author_date is None
    assert revision.subject == "odd"


def test_subjects_in_other_encodings_are_read(repo):
    repo.git("config", "i18n.commitEncoding", "ISO-8859-1")
    repo.write("a.step", "1")
    repo.git("add", "a.step")
    repo.git("commit", "-q", "-F", "-", stdin="Größe geändert".encode("latin-1"))
    with Repository.open(repo.path) as repository:
        assert repository.head().subject == "Größe geändert"


def test_the_first_commit_is_compared_with_nothing(repo):
    first = repo.commit(**{"a.step": "1", "b.step": "2"})
    span = choose(repo)
    assert (span.before.kind, span.after.sha) == ("empty", first)
    assert what(repo) == {("added", "a.step"), ("added", "b.step")}
    assert span.chosen.startswith(f"{first[:7]} (14 Mar 2026) against nothing before it")


def test_before_the_first_commit_the_work_tree_is_compared_with_nothing(repo):
    assert what(repo) == set()
    repo.write("a.step", "1")
    span = choose(repo)
    assert (span.before.kind, span.after.kind) == ("empty", "worktree")
    assert what(repo) == {("added", "a.step")}
    assert what(repo, staged=True) == set()
    repo.git("add", "a.step")
    assert what(repo, staged=True) == {("added", "a.step")}
    assert what(repo) == {("added", "a.step")}


@pytest.mark.parametrize("name", ["new.step", "sub/dfmcheck.toml", "NEW.STP"])
def test_new_files_make_the_work_tree_count(repo, name):
    repo.commit(**{"a.step": "1"})
    repo.write(name, "x")
    assert choose(repo).after.kind == "worktree"
    assert what(repo) == {("added", name)}


def test_other_files_ignored_files_and_touched_files_do_not(repo):
    repo.commit(**{"a.step": "1", ".gitignore": "ignored.step\n"})
    repo.commit(**{"a.step": "2"})
    repo.write("notes.txt", "x")
    repo.write("ignored.step", "x")
    repo.write("a.step", "2")
    assert choose(repo).after.kind == "commit"


def test_only_kept_files_make_the_work_tree_count(repo):
    repo.commit(**{"a.step": "1"})
    repo.write("bought/b.step", "x")
    assert choose(repo).after.kind == "worktree"
    assert (
        choose(repo, keep=lambda p: p.endswith(".step") and not p.startswith("bought/")).after.kind
        == "commit"
    )


def test_altered_in_the_index_and_back_in_the_work_tree_is_no_difference(repo):
    repo.commit(**{"a.step": "1"})
    repo.write("a.step", "2")
    repo.git("add", "a.step")
    repo.write("a.step", "1")
    assert choose(repo).after.kind == "commit"
    assert what(repo, staged=True) == {("changed", "a.step")}


def test_a_deletion_in_the_work_tree_counts(repo):
    repo.commit(**{"a.step": "1", "b.step": "2"})
    (repo.path / "a.step").unlink()
    assert what(repo) == {("removed", "a.step")}
    repo.git("rm", "-q", "--cached", "a.step")
    assert what(repo) == {("removed", "a.step")}


def test_a_file_taken_out_of_the_index_but_still_there_is_unchanged_in_the_work_tree(repo):
    repo.commit(**{"a.step": "1"})
    repo.git("rm", "-q", "--cached", "a.step")
    assert what(repo, "HEAD") == set()
    assert what(repo, staged=True) == {("removed", "a.step")}


def test_an_intent_to_add_is_a_new_file_of_the_work_tree_only(repo):
    repo.commit(**{"a.step": "1"})
    repo.write("b.step", "2")
    repo.git("add", "--intent-to-add", "b.step")
    assert what(repo) == {("added", "b.step")}
    with Repository.open(repo.path) as repository:
        staged = repository.changes(repository.choose_range(staged=True))
    assert [c.after.size for c in staged] in ([], [0])


def test_executable_bits_are_no_change(repo):
    repo.commit(**{"a.step": "1"})
    (repo.path / "a.step").chmod(0o755)
    repo.commit()
    assert what(repo) == set()


def test_staged_against_the_last_commit(repo):
    head = repo.commit(**{"a.step": "1", "b.step": "1"})
    repo.write("a.step", "staged")
    repo.git("add", "a.step")
    repo.write("a.step", "in hand")
    repo.write("b.step", "in hand")
    span = choose(repo, staged=True)
    assert (span.before.sha, span.after.kind) == (head, "index")
    assert span.chosen.startswith("Staged changes against ")
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(staged=True))
        assert repository.read(change.after) == b"staged"
        assert repository.read_path(span.after, "a.step") == b"staged"
        assert repository.read_path(span.after, "b.step") == b"1"
        assert [b.path for b in repository.files(span.after)] == ["a.step", "b.step"]
    with pytest.raises(UsageError, match="name no revision"):
        choose(repo, "HEAD", staged=True)


def test_one_revision_against_the_work_tree_if_that_differs_else_head(repo):
    base = repo.commit(**{"a.step": "1", "b.step": "1", "c.step": "1"})
    head = repo.commit(**{"a.step": "2"})
    assert (choose(repo, "HEAD~1").before.sha, choose(repo, "HEAD~1").after.sha) == (base, head)
    repo.write("b.step", "2")
    repo.write("d.step", "2")
    (repo.path / "c.step").unlink()
    span = choose(repo, base)
    assert (span.before.sha, span.after.kind) == (base, "worktree")
    assert what(repo, base) == {
        ("changed", "a.step"),
        ("changed", "b.step"),
        ("removed", "c.step"),
        ("added", "d.step"),
    }
    repo.write("a.step", "1")  # as in the base, and not as in the last commit
    assert ("changed", "a.step") not in what(repo, base)


def test_two_revisions_and_their_written_forms(repo):
    root = repo.commit(**{"a.step": "1"})
    repo.git("branch", "side")
    main = repo.commit(**{"b.step": "1"})
    repo.git("checkout", "-q", "side")
    side = repo.commit(**{"c.step": "1"})
    repo.git("tag", "-a", "v1", "-m", "v1")
    ends = lambda span: (span.before.sha, span.after.sha)  # noqa: E731
    assert ends(choose(repo, "main", "side")) == (main, side)
    assert ends(choose(repo, "main..side")) == (main, side)
    assert ends(choose(repo, "main...side")) == (root, side)
    assert ends(choose(repo, "main..")) == (main, side)
    assert ends(choose(repo, "..main")) == (side, main)
    assert ends(choose(repo, "main...v1")) == (root, side)
    assert choose(repo, "main..v1").after.label == "v1"
    assert choose(repo, "main..v1").chosen.startswith(f"v1, {side[:7]} (")
    repo.write("c.step", "in hand")
    assert ends(choose(repo, "main", "side")) == (main, side), "two names leave the work tree aside"


def test_one_commit_against_its_first_parent(repo):
    first = repo.commit(**{"a.step": "1"})
    second = repo.commit(**{"a.step": "2"})
    repo.commit(**{"a.step": "3"})
    repo.write("a.step", "in hand")
    span = choose(repo, f"{second}^!")
    assert (span.before.sha, span.after.sha) == (first, second)
    assert choose(repo, f"{first}^!").before.kind == "empty"
    assert choose(repo, "main~1^!").after.sha == second


def test_names_with_dots_in_braces(repo):
    first = repo.commit("tighten 1..2")
    repo.commit("other")
    assert choose(repo, "HEAD^{/tighten 1..2}..HEAD").before.sha == first


@pytest.mark.parametrize(
    "name",
    ["nowhere", "-x", "--output=x", "", "a\nb", "a\0b", "HEAD~99", "0123456", "HEAD^{tree}",
     "x" * 2000, "HEAD:a.step"],
)  # fmt: skip
def test_names_that_are_no_revision_get_one_sentence(repo, name):
    repo.commit(**{"a.step": "1"})
    with pytest.raises(HistoryError) as caught:
        choose(repo, name)
    assert "\n" not in str(caught.value)
    assert not (repo.path / "x").exists()


def test_three_names_are_too_many(repo):
    repo.commit(**{"a.step": "1"})
    with pytest.raises(UsageError, match="3 revisions"):
        choose(repo, "HEAD", "HEAD", "HEAD")


def test_a_merge_is_compared_with_its_first_parent(repo):
    repo.commit(**{"a.step": "1", "b.step": "1"})
    repo.git("checkout", "-q", "-b", "side")
    repo.commit(**{"a.step": "side"})
    repo.git("checkout", "-q", "main")
    main = repo.commit(**{"b.step": "main"})
    repo.git("merge", "-q", "--no-ff", "--no-edit", "side")
    assert choose(repo).before.sha == main
    assert what(repo) == {("changed", "a.step")}


def test_a_detached_head(repo):
    repo.commit(**{"a.step": "1"})
    second = repo.commit(**{"a.step": "2"})
    repo.commit(**{"a.step": "3"})
    repo.git("checkout", "-q", "--detach", second)
    assert choose(repo).after.sha == second


def test_a_bare_repository(repo, tmp_path, git_at):
    repo.commit(**{"a.step": "1"})
    repo.commit(**{"a.step": "2"})
    repo.git("clone", "-q", "--bare", str(repo.path), str(tmp_path / "bare.git"))
    bare = git_at(tmp_path / "bare.git")
    assert what(bare) == {("changed", "a.step")}
    with Repository.open(bare.path) as repository:
        assert repository.top is None
        assert [b.path for b in repository.files(repository.head())] == ["a.step"]
    with pytest.raises(HistoryError, match="no work tree"):
        choose(bare, staged=True)


def test_an_empty_bare_repository(make_repo):
    bare = make_repo("empty.git", "--bare")
    with pytest.raises(HistoryError, match="no commit yet"):
        choose(bare)


def test_from_a_folder_within_and_from_within_the_git_folder(repo):
    repo.commit(**{"deep/er/a.step": "1"})
    repo.commit(**{"deep/er/a.step": "2"})
    for place in (
        repo.path / "deep" / "er",
        repo.path / "deep" / "er" / "a.step",
        repo.path / ".git",
    ):
        with Repository.open(place) as repository:
            span = repository.choose_range(environ=NO_CI)
            assert [c.after.path for c in repository.changes(span)] == ["deep/er/a.step"]


def test_linked_work_trees(repo, tmp_path, git_at):
    repo.commit(**{"a.step": "1"})
    repo.commit(**{"a.step": "2"})
    repo.git("worktree", "add", "-q", "-b", "other", str(tmp_path / "linked"), "HEAD~1")
    linked = git_at(tmp_path / "linked")
    repo.write("a.step", "in the main work tree")
    assert choose(linked).after.sha == repo.id("HEAD~1")
    linked.write("a.step", "in hand")
    assert what(linked) == {("changed", "a.step")}
    linked.git("add", "a.step")
    assert what(linked, staged=True) == {("changed", "a.step")}
    assert what(repo, staged=True) == set()
    with Repository.open(linked.path) as repository:
        assert repository.top == linked.path


@pytest.mark.parametrize(
    "name", ["with space", "line\nbreak", "$HOME", "~", "quote'\"", "-dash", "colon:x", "ünï"]
)
def test_folders_with_odd_names(make_repo, name):
    repo = make_repo(name)
    repo.put("old.step", "\n".join(map(str, range(60))))
    assert what(repo) == {("added", "old.step")}
    (repo.path / "old.step").unlink()
    repo.write("new.step", "\n".join(map(str, range(61))))
    assert what(repo) == {("renamed", "new.step")}
    with Repository.open(repo.path) as repository:
        assert repository.top == repo.path


def test_sha256_repositories(make_repo):
    repo = make_repo("long", "--object-format=sha256")
    repo.commit(**{"a.step": "1"})
    second = repo.commit(**{"a.step": "2"})
    assert len(second) == 64
    assert what(repo) == {("changed", "a.step")}
    repo.write("a.step", "3")
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(environ=NO_CI))
        assert change.after.content == "git:" + repo.git("hash-object", "a.step")
        assert repository.read(change.after) == b"3"


def test_head_in_words(repo):
    with Repository.open(repo.path) as repository:
        assert repository.head() is None
        assert repository.head_label() == "no commit yet"
    head = repo.commit(**{"a.step": "1"})
    with Repository.open(repo.path) as repository:
        assert repository.head_label() == f"{head[:7]} (14 Mar 2026)"


def test_abbreviated_ids_are_long_enough_to_be_unique(repo):
    """Two commits that begin with the same seven digits, found by search."""
    repo.commit(**{"a.step": "1"})
    tree = repo.git("rev-parse", "HEAD^{tree}")
    import hashlib

    seen: dict[str, bytes] = {}
    pair = None
    for number in range(200_000):
        body = (
            f"tree {tree}\nauthor A <a@example.invalid> {number} +0000\n"
            f"committer A <a@example.invalid> {number} +0000\n\nx\n"
        ).encode()
        short = hashlib.sha1(b"commit %d\0" % len(body) + body, usedforsecurity=False).hexdigest()[
            :7
        ]
        if short in seen:
            pair = seen[short], body
            break
        seen[short] = body
    assert pair is not None
    ids = [repo.git("hash-object", "-t", "commit", "-w", "--stdin", stdin=b) for b in pair]
    with Repository.open(repo.path) as repository:
        labels = [repository.resolve(i).label for i in ids]
    assert ids[0][:7] == ids[1][:7]
    assert all(len(label) > 7 and i.startswith(label) for label, i in zip(labels, ids, strict=True))

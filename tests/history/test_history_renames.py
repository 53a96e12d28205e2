"""Renames, as git finds them."""

import pytest

from dfmcheck.history.repository import Repository

NO_CI: dict[str, str] = {}
TEXT = "\n".join(f"#{i}=CARTESIAN_POINT('',({i}.,0.,0.));" for i in range(60))
POINTER = "version https://git-lfs.github.com/spec/v1\noid sha256:{}\nsize {}\n"


def what(repo, *revisions, **options):
    with Repository.open(repo.path) as repository:
        span = repository.choose_range(revisions, environ=NO_CI, **options)
        return {
            (c.status, c.before and c.before.path, c.after and c.after.path)
            for c in repository.changes(span)
        }


SIDES = ["committed", "staged", "untracked"]


def settle(repo, side):
    """Bring what is in the work tree to one of the sides; the options with which to look at it."""
    if side == "committed":
        repo.commit()
    if side == "staged":
        repo.git("add", "--all")
        return {"staged": True}
    return {}


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("new", ["b.step", "other/folder/a.step", "A.STEP", "a.stp"])
@pytest.mark.parametrize("more", ["", "\n#99=NEW;"], ids=["same", "altered"])
def test_a_rename(repo, side, new, more):
    repo.commit(**{"a.step": TEXT, "unrelated.step": "x" * 2000})
    (repo.path / "a.step").unlink()
    repo.write(new, TEXT + more)
    options = settle(repo, side)
    assert what(repo, **options) == {("renamed", "a.step", new)}
    with Repository.open(repo.path) as repository:
        (change,) = repository.changes(repository.choose_range(environ=NO_CI, **options))
        assert (change.before.content == change.after.content) == (more == "")
        assert repository.read(change.after) == (TEXT + more).encode()


@pytest.mark.parametrize("side", SIDES)
def test_other_content_is_no_rename(repo, side):
    repo.commit(**{"a.step": TEXT})
    (repo.path / "a.step").unlink()
    repo.write("b.step", "entirely different\n" * 50)
    options = settle(repo, side)
    assert what(repo, **options) == {("removed", "a.step", None), ("added", None, "b.step")}


def test_a_copy_is_no_rename(repo):
    repo.commit(**{"a.step": TEXT})
    repo.commit(**{"b.step": TEXT})
    assert what(repo) == {("added", None, "b.step")}


def test_two_parts_swap_their_names(repo):
    one, two = TEXT, "\n".join(f"#{i}=DIRECTION('',(0.,0.,1.));" for i in range(70))
    repo.commit(**{"a.step": one, "b.step": two})
    repo.commit(**{"a.step": two, "b.step": one})
    assert what(repo) == {("changed", "a.step", "a.step"), ("changed", "b.step", "b.step")}


def test_a_folder_is_renamed(repo):
    repo.commit(**{f"old/{i}.step": f"{TEXT}\n#{i}=PART;" for i in range(20)})
    repo.git("mv", "old", "new")
    repo.commit()
    assert what(repo) == {("renamed", f"old/{i}.step", f"new/{i}.step") for i in range(20)}


def test_thousands_of_other_files_do_not_hide_a_rename(repo):
    """More files than git compares by content (its limit is on kept files only)."""
    repo.commit(**{f"text/{i}.txt": f"{i}\n" * 3 for i in range(1500)}, **{"a.step": TEXT})
    repo.git("mv", "text", "moved")
    for i in range(1500):
        repo.write(f"moved/{i}.txt", f"{i}\n" * 3 + "more\n")
    repo.git("mv", "a.step", "b.step")
    repo.put("b.step", TEXT + "\n#99=NEW;")
    assert what(repo) == {("renamed", "a.step", "b.step")}


def test_very_many_kept_files_beyond_a_command_line(repo):
    """So many long paths that they do not go on git's command line."""
    long = "x" * 150
    files = {f"old/{long}/{i:04}.step": f"{i}\n" for i in range(700)}
    repo.commit(**files)
    repo.git("mv", "old", "new")
    repo.commit()
    assert what(repo) == {("renamed", p, "new" + p[3:]) for p in files}


def test_a_link_or_a_submodule_is_no_partner(repo):
    repo.commit(**{"a.step": TEXT})
    (repo.path / "a.step").unlink()
    (repo.path / "b.step").symlink_to("elsewhere/a.step")
    repo.commit()
    assert what(repo) == {("removed", "a.step", None)}


def test_other_lfs_content_under_another_name_is_no_rename(repo):
    repo.commit(**{"a.step": POINTER.format("a" * 64, 100)})
    repo.git("rm", "-q", "a.step")
    repo.commit(**{"b.step": POINTER.format("b" * 64, 100)})
    assert what(repo) == {("removed", "a.step", None), ("added", None, "b.step")}


def test_lfs_pointers_renamed(repo):
    repo.commit(**{"a.step": POINTER.format("a" * 64, 100), "c.step": POINTER.format("c" * 64, 90)})
    repo.git("mv", "a.step", "b.step")
    repo.git("rm", "-q", "c.step")
    repo.commit(**{"moved/c.step": POINTER.format("d" * 64, 120)})
    assert what(repo) == {("renamed", "a.step", "b.step"), ("renamed", "c.step", "moved/c.step")}


def test_several_lfs_files_of_one_name_are_not_paired_by_it(repo):
    repo.commit(
        **{"1/c.step": POINTER.format("a" * 64, 1), "2/c.step": POINTER.format("b" * 64, 2)}
    )
    repo.git("rm", "-q", "-r", "1", "2")
    repo.commit(**{"3/c.step": POINTER.format("c" * 64, 3)})
    assert {status for status, _, _ in what(repo)} == {"removed", "added"}


def test_a_file_that_went_into_lfs_is_unchanged(repo):
    import hashlib

    digest = hashlib.sha256(TEXT.encode()).hexdigest()
    pointer = POINTER.format(digest, len(TEXT.encode()))
    repo.commit(**{"a.step": TEXT, "b.step": TEXT})
    repo.git("mv", "b.step", "c.step")
    repo.commit(**{"a.step": pointer, "c.step": pointer})
    assert what(repo) == {("renamed", "b.step", "c.step")}
    assert what(repo, "HEAD", "HEAD~1") == {("renamed", "c.step", "b.step")}


def test_lfs_pointers_rewritten_without_a_change_of_content(repo):
    repo.commit(**{"a.step": POINTER.format("a" * 64, 100)})
    older = POINTER.replace("git-lfs.github.com", "hawser.github.com")
    repo.commit(**{"a.step": older.format("a" * 64, 100)})
    assert what(repo) == set()


def test_nothing_is_left_in_the_object_store_by_the_comparison(repo):
    repo.commit(**{"a.step": TEXT})
    (repo.path / "a.step").unlink()
    repo.write("b.step", TEXT + "\n#99=NEW;")
    before = repo.git("count-objects", "-v"), repo.state()
    assert what(repo) == {("renamed", "a.step", "b.step")}
    assert (repo.git("count-objects", "-v"), repo.state()) == before

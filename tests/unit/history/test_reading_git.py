"""Reading what git prints, without git."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dfmcheck.errors import UsageError
from dfmcheck.history.commits import author_date
from dfmcheck.history.complaints import explain, needs_newer_git, too_old
from dfmcheck.history.labels import describe, describe_range
from dfmcheck.history.names import c_quoted, decode, encode, is_configuration, is_ours, is_step
from dfmcheck.history.push import PushedRef, parse_pushed
from dfmcheck.history.trees import Entry
from dfmcheck.history.worktree import blob_id, parse_index, parse_status
from dfmcheck.model.history import Revision


@given(st.binary())
def test_names_survive(name):
    assert encode(decode(name)) == name


@given(st.binary(min_size=1).filter(lambda b: b"\0" not in b))
def test_quoted_names_stand_on_one_line(name):
    quoted = c_quoted(decode(name))
    assert b"\n" not in quoted
    inner = quoted[1:-1].replace(b"\\\\", b"\0").replace(b'\\"', b'"').replace(b"\\n", b"\n")
    assert inner.replace(b"\0", b"\\") == name


@pytest.mark.parametrize("path", ["a.step", "A.STEP", "x/y.Stp", "ä.p21", ".step"])
def test_step_names(path):
    assert is_step(path)
    assert is_ours(path)


@pytest.mark.parametrize(
    "path", ["a.stepx", "step", "a.step/b", "a.step.txt", "dfmcheck.toml.bak", "xdfmcheck.toml"]
)
def test_other_names(path):
    assert not is_ours(path)


def test_configuration_names():
    assert is_configuration("dfmcheck.toml")
    assert is_configuration("a/b/dfmcheck.toml")
    assert not is_configuration("a/Dfmcheck.toml")


@pytest.mark.parametrize(
    ("line", "date"),
    [
        (b"A <a@x> 0 +0000", "1970-01-01T00:00:00+00:00"),
        (b"A <a@x> 1773500000 -0330", "2026-03-14T11:23:20-03:30"),
        (b"A <> -86400 +0100", "1969-12-31T01:00:00+01:00"),
        (b"A <a@x> 1773500000 +9999", "2026-03-14T14:53:20+00:00"),
        (b"A <a@x> 99999999999999999999 +0000", None),
        (b"A <a@x> 999999999999 +0000", None),
        (b"A <a@x>", None),
        (b"", None),
    ],
)
def test_author_dates(line, date):
    assert author_date(line) == date


def test_status_records():
    """Format: git-status(1), "Porcelain Format Version 2"."""
    zero, oid = "0" * 40, "a" * 40
    records = [
        "# branch.oid (initial)",
        f"1 .M N... 100644 100644 100644 {oid} {oid} with space.step",
        f"1 D. N... 100644 000000 000000 {oid} {zero} gone\nline.step",
        f"u UU N... 100644 100644 100644 100644 {oid} {oid} {oid} conflict.step",
        "? new.step",
        "? nested/",
        "! ignored.step",
        "? new.step",
        "",
    ]
    status = parse_status("\0".join(records).encode())
    assert status.paths == ("with space.step", "gone\nline.step", "conflict.step", "new.step")
    assert status.nested == ("nested",)


def test_index_records():
    oid = "b" * 40
    records = [
        f"100644 {oid} 0\ta\tb.step",
        f"100644 {oid} 1\tc.step",
        f"100644 {oid} 2\tc.step",
        "",
    ]
    out = "\0".join(records).encode()
    entries, conflicts = parse_index(out)
    assert entries == {"a\tb.step": Entry("100644", oid)}
    assert conflicts == ("c.step",)


@pytest.mark.parametrize(
    ("data", "sha1"),
    [
        (b"", "e69de29bb2d1d6434b8b29ae775ad8c2e48c5391"),
        (b"test content\n", "d670460b4b4aece5915caf5c68d12f560a9fe3e4"),
        (b"version 1\n", "83baae61804e65cc73a7201a7252750c76066a30"),
    ],
)
def test_blob_ids(data, sha1):
    """Pro Git, 2nd edition, 10.2 "Git Objects"; the empty blob: git's own test suite (memory)."""
    assert blob_id(data, 40) == sha1


def test_labels():
    """The form of design: "Working tree against 3f9c2e1 (14 Mar 2026)"."""
    commit = Revision(
        kind="commit",
        sha="3f9c2e1" + "0" * 33,
        label="3f9c2e1",
        author_date="2026-03-14T23:59:00-08:00",
    )
    named = Revision(kind="commit", sha=commit.sha, label="main", author_date=commit.author_date)
    assert describe(commit) == "3f9c2e1 (14 Mar 2026)"
    assert describe(named) == "main, 3f9c2e1 (14 Mar 2026)"
    assert (
        describe_range(commit, Revision(kind="worktree"))
        == "Working tree against 3f9c2e1 (14 Mar 2026)"
    )
    assert describe_range(Revision(kind="empty"), named) == (
        "main, 3f9c2e1 (14 Mar 2026) against nothing before it"
    )
    assert describe(Revision(kind="commit", sha="a" * 40)) == "a" * 7


def test_pushed_refs():
    """Format: githooks(5), "pre-push"."""
    a, b, zero = "a" * 40, "b" * 40, "0" * 40
    text = (
        f"refs/heads/main {a} refs/heads/main {b}\n"
        f"(delete) {zero} refs/heads/old {b}\n"
        f"refs/heads/new {a} refs/heads/new {zero}\n"
    )
    assert parse_pushed(text) == (
        PushedRef("refs/heads/main", a, b),
        PushedRef("refs/heads/new", a, None),
    )
    assert parse_pushed("\n\n") == ()
    with pytest.raises(UsageError):
        parse_pushed(f"refs/heads/main {a} refs/heads/main\n")


@pytest.mark.parametrize(
    ("version", "old"), [("2.11.0", True), ("1.9.1", True), ("2.24.9", True), ("2.25.1", False),
    ("2.39.5 (Apple Git-154)", False),
     ("3.0.0", False), ("2.50.rc1", False), ("", False), ("odd", False)],
)  # fmt: skip
def test_old_versions(version, old):
    assert (too_old(version) is not None) is old


@pytest.mark.parametrize(
    ("err", "wanted"),
    [
        (
            "fatal: detected dubious ownership in repository at '/a b'\nTo add an exception",
            "safe.directory '/a b'",
        ),
        ("fatal: unsafe repository ('/x' is owned by someone else)\n", "safe.directory /x"),
        ("fatal: not a git repository (or any of the parent directories): .git\n", "git init"),
        ("fatal: bad config line 3 in file .git/config\n", "bad config line 3"),
        ("fatal: could not fetch aaa from promisor remote\n", "partial clone"),
        ("warning: x\nfatal: something odd\nhint: y\n", "something odd"),
        ("", "no reason"),
    ],
)
def test_complaints_are_one_sentence_with_the_mend(err, wanted):
    text = str(explain(err, "status", "/folder"))
    assert wanted in text
    assert "\n" not in text
    assert "fatal" not in text


def test_words_of_an_old_git():
    assert needs_newer_git("error: unknown option `batch-command'\nusage: git cat-file")
    assert not needs_newer_git("fatal: not a git repository")

"""Commits: names resolved, author dates, parents."""

import re
from datetime import UTC, datetime, timedelta, timezone
from typing import NamedTuple

import msgspec

from dfmcheck.errors import HistoryError
from dfmcheck.history.complaints import shallow
from dfmcheck.history.objects import Objects
from dfmcheck.model.history import Revision

NOTHING = Revision(kind="empty", label="nothing")
WORK_TREE = Revision(kind="worktree", label="working tree")
INDEX = Revision(kind="index", label="index")
SHORT = 7
"""Digits of an abbreviated commit id, where they are enough."""

_AUTHOR = re.compile(rb"> (-?\d{1,12}) ([+-])(\d\d)(\d\d)$")


class Commit(NamedTuple):
    """A commit: its revision for the report, its tree's id, its parents' ids in order."""

    revision: Revision
    sha: str
    tree: str
    parents: tuple[str, ...]


class Commits:
    """Reads commits, each once."""

    def __init__(self, objects: Objects, *, is_shallow: bool) -> None:
        """`is_shallow`: the clone lacks the older part of the history."""
        self._objects = objects
        self._shallow = is_shallow
        self._known: dict[str, Commit] = {}

    def find(self, name: str, *, label: str | None = None) -> Commit | None:
        """The commit that a name or id stands for, tags followed; None where there is none.

        `label` is what the report calls it (by default the abbreviated id).
        """
        if name not in self._known:
            found = self._objects.one(f"{name}^{{commit}}")
            if found is None or found[0].kind != "commit":
                return None
            self._known[name] = self._read(found[0].oid, found[1])
        commit = self._known[name]
        if not label:
            return commit
        return commit._replace(revision=msgspec.structs.replace(commit.revision, label=label))

    def named(self, name: str) -> Commit:
        """The commit that the user named.

        Raises:
            HistoryError: no such commit, or the name cannot be one.
        """
        if not name or name.startswith("-") or "\n" in name or "\0" in name or len(name) > 1000:
            msg = f"{name[:60]!r} is no name of a revision: give a branch, a tag or a commit id"
            raise HistoryError(msg)
        plain = re.fullmatch(r"[0-9a-fA-F]{4,64}|HEAD|@", name) is not None
        commit = self.find(name, label=None if plain else name)
        if commit is not None:
            return commit
        if self._shallow:
            raise shallow(f"the revision {name}")
        msg = (
            f"the revision {name} is no commit of this repository, or not the only one: "
            "`git log --all --oneline` lists what there is"
        )
        raise HistoryError(msg)

    def head(self) -> Commit | None:
        """The checked-out commit; None before the first one."""
        return self.find("HEAD")

    def parent(self, commit: Commit, mend: str = "") -> Commit | None:
        """The first parent; None for a commit that has none. `mend` is what a CI user could do.

        Raises:
            HistoryError: the clone is shallow and ends here, or the parent is lost.
        """
        if not commit.parents:
            return None
        found = self.find(commit.parents[0])
        if found is None:
            raise self.missing(f"the parent of {commit.sha[:SHORT]}", mend)
        return found

    def missing(self, what: str, mend: str = "") -> HistoryError:
        """The complaint about a commit that should be here, with what to do."""
        if self._shallow:
            return shallow(what, mend)
        how = mend or "run `git fetch --all`, or name the revisions to compare"
        return HistoryError(f"this repository lacks {what}: {how}")

    def _read(self, sha: str, data: bytes) -> Commit:
        head, _, message = data.partition(b"\n\n")
        tree, parents, date, encoding = "", [], None, "utf-8"
        for line in head.split(b"\n"):
            key, _, value = line.partition(b" ")
            if key == b"tree":
                tree = value.decode("ascii", "replace")
            elif key == b"parent":
                parents.append(value.decode("ascii", "replace"))
            elif key == b"author":
                date = author_date(value)
            elif key == b"encoding":
                encoding = value.decode("ascii", "replace")
        subject = _text(message.lstrip(b"\n").partition(b"\n")[0], encoding)
        label = self._abbreviated(sha)
        revision = Revision(kind="commit", sha=sha, label=label, author_date=date, subject=subject)
        return Commit(revision, sha, tree, tuple(parents))

    def _abbreviated(self, sha: str) -> str:
        """The shortest beginning of the id, seven digits or more, that names this commit alone."""
        for length in (SHORT, 10, 14, 20):
            if self._objects.info([f"{sha[:length]}^{{commit}}"])[0] is not None:
                return sha[:length]
        return sha


def author_date(value: bytes) -> str | None:
    """ISO 8601 with offset of an author line; None where it holds no date of the calendar."""
    found = _AUTHOR.search(value)
    if found is None:
        return None
    offset = timedelta(hours=int(found[3]), minutes=int(found[4]))
    if offset >= timedelta(hours=24):
        offset = timedelta(0)
    zone = timezone(-offset if found[2] == b"-" else offset)
    try:
        moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=int(found[1]))
        return moment.astimezone(zone).isoformat()
    except OverflowError:
        return None


def _text(line: bytes, encoding: str) -> str:
    try:
        return line.decode(encoding, "replace").strip()
    except LookupError:
        return line.decode("utf-8", "replace").strip()

"""The history of one file, through its renames, along first parents."""

from collections.abc import Iterator

import msgspec

from dfmcheck.history.blobs import Blobs
from dfmcheck.history.changes import Changes
from dfmcheck.history.commits import NOTHING, Commit, Commits
from dfmcheck.history.names import as_argument, is_step
from dfmcheck.history.process import GitProcess
from dfmcheck.history.trees import Trees
from dfmcheck.model.history import FileRevision, Revision


class FileLog:
    """Lists the revisions of files."""

    def __init__(
        self, process: GitProcess, commits: Commits, trees: Trees, blobs: Blobs, changes: Changes
    ) -> None:
        """Look through the readers of a repository."""
        self._process = process
        self._commits = commits
        self._trees = trees
        self._blobs = blobs
        self._changes = changes
        self._tags: dict[str, tuple[str, ...]] | None = None

    def of(self, path: str, start: Commit, most: int | None) -> tuple[FileRevision, ...]:
        """Commits that altered the file, newest first.

        Git's own way of following (`--follow`) takes copies for renames and knows no first parents,
        so each stretch under one name is listed by git and the step to the former name is found as
        the gate finds renames.
        """
        found: list[FileRevision] = []
        where: Commit | None = start
        while where is not None:
            current, where = where, None
            for commit in self._stretch(path, current):
                if most is not None and len(found) >= most:
                    break
                revision = self._revision(path, commit)
                former = self._former(path, commit) if revision.status == "added" else None
                if former is None:
                    found.append(revision)
                    continue
                found.append(
                    msgspec.structs.replace(revision, status="renamed", former_path=former)
                )
                path, where = former, self._commits.parent(commit)
                break
        return tuple(found)

    def _stretch(self, path: str, start: Commit) -> Iterator[Commit]:
        """Commits along first parents that altered this path, newest first."""
        output = self._process.run(
            *("rev-list", "--first-parent", start.sha, "--"), as_argument(path)
        )
        for line in output.out.split():
            commit = self._commits.find(line.decode("ascii"))
            assert commit is not None  # noqa: S101 - git just named it
            yield commit

    def _revision(self, path: str, commit: Commit) -> FileRevision:
        entry = self._trees.lookup(commit.tree, path)
        if entry is None or not entry.is_file:
            return FileRevision(
                revision=commit.revision, path=path, status="removed", tags=self._tags_of(commit)
            )
        (blob,) = self._blobs.make([(path, entry)])
        parent = self._commits.parent(commit)
        was = self._trees.lookup(parent.tree, path) if parent is not None else None
        return FileRevision(
            revision=commit.revision,
            path=path,
            status="changed" if was is not None and was.is_file else "added",
            blob=blob,
            tags=self._tags_of(commit),
        )

    def _former(self, path: str, born: Commit) -> str | None:
        """The path before a rename in the commit in which the file appeared."""
        parent = self._commits.parent(born)
        before: Revision = parent.revision if parent is not None else NOTHING
        for change in self._changes.between(
            before, born.revision, lambda p: p == path or is_step(p)
        ):
            if change.status == "renamed" and change.after and change.after.path == path:
                return change.before.path if change.before is not None else None
        return None

    def _tags_of(self, commit: Commit) -> tuple[str, ...]:
        if self._tags is None:
            self._tags = self._all_tags()
        return self._tags.get(commit.sha, ())

    def _all_tags(self) -> dict[str, tuple[str, ...]]:
        """Names of tags by the commit that they stand for."""
        form = "--format=%(objectname) %(*objectname) %(refname:strip=2)"
        tags: dict[str, tuple[str, ...]] = {}
        for line in self._process.run("for-each-ref", form, "refs/tags").out.split(b"\n"):
            words = line.split(b" ", 2)
            if len(words) == 3:
                sha = (words[1] or words[0]).decode("ascii", "replace")
                tags[sha] = (*tags.get(sha, ()), words[2].decode("utf-8", "replace"))
        return tags

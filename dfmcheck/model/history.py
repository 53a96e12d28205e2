"""Values of git history: revisions, blobs, changes of files.

Paths are text with forward slashes relative to the top of the repository, decoded from git's
bytes as UTF-8 with surrogate escapes, so that any name survives a round trip.
"""

from typing import Literal

from dfmcheck.model.base import Value


class Revision(Value, frozen=True):
    """One side of a comparison.

    `kind` "empty" stands for the nothing before a first commit. `sha` is set for commits only.
    `author_date` is ISO 8601 with offset. `label` is what the user may have typed.
    """

    kind: Literal["commit", "index", "worktree", "empty"]
    sha: str | None = None
    label: str = ""
    author_date: str | None = None
    subject: str = ""


class Blob(Value, frozen=True):
    """The content of one file in one revision.

    `content` identifies the bytes: "git:<oid>", or "sha256:<hex>" where git's filters or LFS make
    the blob id say nothing about the bytes analysed. `lfs_oid` is set where the blob is an LFS
    pointer. `where` tells from where the bytes can be had.
    """

    path: str
    content: str
    oid: str | None
    size: int
    where: Literal["git", "worktree"]
    lfs_oid: str | None = None


class FileChange(Value, frozen=True):
    """One STEP file that differs between two revisions.

    "renamed" may carry other bytes too (compare `before.content` with `after.content`).
    """

    status: Literal["added", "removed", "changed", "renamed"]
    before: Blob | None = None
    after: Blob | None = None


class Range(Value, frozen=True):
    """Which two revisions are compared and why, in words for the report.

    `target` is the tip of the branch that a fork's change goes to, where that is not `before`: its
    policy judges, not that of the old commit from which a stranger chose to begin.
    """

    before: Revision
    after: Revision
    chosen: str
    fork: bool = False
    notes: tuple[str, ...] = ()
    target: Revision | None = None


class FileRevision(Value, frozen=True):
    """One commit in the history of a file.

    `path` is the file's path in that commit (the last one, where it was removed), `former_path`
    the one before a rename, `blob` its content, None where it was removed. `tags` are the names of
    tags on the commit.
    """

    revision: Revision
    path: str
    status: Literal["added", "removed", "changed", "renamed"]
    blob: Blob | None = None
    former_path: str | None = None
    tags: tuple[str, ...] = ()

"""A git repository as the rest of dfmcheck sees it."""

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from dfmcheck.errors import UsageError
from dfmcheck.history.blobs import Blobs
from dfmcheck.history.changes import Changes
from dfmcheck.history.choosing import Chooser
from dfmcheck.history.commits import Commits
from dfmcheck.history.discovery import Layout, discover
from dfmcheck.history.filelog import FileLog
from dfmcheck.history.labels import describe
from dfmcheck.history.lfs import LargeFiles
from dfmcheck.history.names import is_ours
from dfmcheck.history.objects import Objects
from dfmcheck.history.process import GitProcess, Tally
from dfmcheck.history.safefile import kind_of, place_of, read_regular
from dfmcheck.history.sides import Keep, Sides
from dfmcheck.history.trees import Trees
from dfmcheck.history.worktree import WorkTree
from dfmcheck.model.history import Blob, FileChange, FileRevision, Range, Revision


class Repository:
    """Reads revisions, files and changes; writes nothing. Not for several threads.

    Use it as a context manager, or call `close`.
    """

    def __init__(self, layout: Layout, process: GitProcess) -> None:
        """Wire the readers; `open` is the usual way in."""
        self._layout = layout
        self._process = process
        self._objects = Objects(process)
        self._commits = Commits(self._objects, is_shallow=layout.shallow)
        self._trees = Trees(self._objects)
        self._work = WorkTree(process, layout)
        large_files = LargeFiles(
            process, layout.common_dir, self._work.settings, self._has_own_lfs_server
        )
        self._blobs = Blobs(self._objects, self._work, large_files, layout.top)
        self._sides = Sides(self._commits, self._trees, self._work, self._blobs)
        common = str(Path(layout.common_dir, "objects"))
        store = layout.variables.get("GIT_OBJECT_DIRECTORY", common)
        self._changes = Changes(process, store, self._sides, self._work, self._blobs)
        self._log = FileLog(process, self._commits, self._trees, self._blobs, self._changes)
        self._chooser = Chooser(
            process,
            self._commits,
            self._sides,
            has_work_tree=layout.top is not None,
            notes=layout.notes,
        )

    @classmethod
    def open(
        cls, path: str | os.PathLike[str] = ".", environ: Mapping[str, str] | None = None
    ) -> Self:
        """The repository that holds `path`.

        `environ` is looked through for what git tells its hooks (by default the process's own).

        Raises:
            HistoryError: no git, no repository, one that belongs to somebody else.
        """
        tally = Tally()
        layout = discover(path, os.environ if environ is None else environ, tally)
        return cls(layout, GitProcess(layout.folder, layout.variables, tally=tally))

    @property
    def top(self) -> Path | None:
        """Folder of the work tree; None for a bare repository."""
        return Path(self._layout.top) if self._layout.top is not None else None

    @property
    def git_dir(self) -> Path:
        """Folder of the repository itself (of this work tree, where it has several)."""
        return Path(self._layout.git_dir)

    @property
    def hooks(self) -> Path:
        """Folder in which git looks for hooks (`core.hooksPath` heeded)."""
        for scope in ("--local", "--global", "--system"):  # not the command line: we set it there
            asked = ("config", scope, "--get", "--path", "core.hooksPath")
            said = self._process.run(*asked, good=(0, 1)).out.rstrip(b"\n")
            if said:
                return Path(self._layout.folder, os.fsdecode(said))
        return Path(self._layout.common_dir, "hooks")

    @property
    def processes(self) -> int:
        """How many git processes were started (GitPython's import starts one more)."""
        return self._process.tally.count

    def choose_range(
        self,
        revisions: Sequence[str] = (),
        *,
        staged: bool = False,
        environ: Mapping[str, str] | None = None,
        keep: Keep = is_ours,
    ) -> Range:
        """Which two sides are compared.

        ==================  =====================================================================
        BASE                BASE against the work tree if that differs from the last commit in a
                            kept file, else against HEAD
        COMMIT^!            the first parent of a commit (nothing, for a first one) against it
        BASE HEAD           the two commits
        BASE..HEAD          the same; an end left out is HEAD
        BASE...HEAD         the merge base of both against HEAD
        nothing             in CI what its event says; else the last commit against the work tree
                            if that differs in a kept file; else the first parent of the last
                            commit (nothing, for the first one) against the last commit
        staged              the last commit against the index, as a commit hook sees it
        ==================  =====================================================================

        Args:
            revisions: what the user named.
            staged: look at the index.
            environ: variables of the environment, in which CI systems are recognised (by default
                the process's own).
            keep: which paths count when it is asked whether the work tree differs.

        Raises:
            HistoryError: an unknown revision, a shallow clone, no commit, a senseless CI event.
            UsageError: arguments that do not go together.
        """
        if staged:
            if revisions:
                msg = "the index is compared with the last commit only: name no revision with it"
                raise UsageError(msg)
            return self._chooser.staged(keep)
        if revisions:
            return self._chooser.named(revisions, keep)
        return self._chooser.unnamed(os.environ if environ is None else environ, keep)

    def choose_ranges(
        self,
        revisions: Sequence[str] = (),
        *,
        staged: bool = False,
        pushed: str | None = None,
        remote: str = "",
        environ: Mapping[str, str] | None = None,
        keep: Keep = is_ours,
    ) -> tuple[Range, ...]:
        """Like `choose_range`; with what a pre-push hook is told, one range for each ref pushed.

        Args:
            revisions: what the user named. staged: look at the index. pushed: the hook's standard
            input; None where it is not such a hook. remote: the hook's first argument, the remote's
            name. New refs are compared with where they
                left that remote's branches; without a name, any remote's.
            environ: variables of the environment.
            keep: which paths count when it is asked whether the work tree differs.

        Raises:
            HistoryError: as `choose_range`.
            UsageError: arguments that do not go together, or lines that no hook is given.
        """
        if pushed is None:
            return (self.choose_range(revisions, staged=staged, environ=environ, keep=keep),)
        if revisions or staged:
            msg = "a pre-push hook is told what to compare: name no revision with it"
            raise UsageError(msg)
        return self._chooser.pushed(pushed, remote, keep)

    def changes(self, span: Range, keep: Keep = is_ours) -> tuple[FileChange, ...]:
        """Kept files that differ between the sides of a range, by path, with renames."""
        return self._changes.between(span.before, span.after, keep)

    def files(self, revision: Revision, keep: Keep = is_ours) -> tuple[Blob, ...]:
        """Kept files of one side, by path.

        What a sparse checkout leaves out counts as committed.
        """
        listing = self._sides.listing(revision, keep)
        return tuple(self._blobs.make(sorted(listing.items())))

    def read(self, blob: Blob) -> bytes:
        """The bytes for which the blob's content id stands.

        Raises:
            NotReadError: they cannot be had (LFS, a partial clone, a pipe in the file's place).
        """
        return self._blobs.read(blob)

    def read_path(self, revision: Revision, path: str) -> bytes | None:
        """The bytes of one file of a side; None where there is no such regular file."""
        entry = self._sides.lookup(revision, path)
        if entry is None or not entry.is_file:
            return None
        (blob,) = self._blobs.make([(path, entry)])
        return self._blobs.read(blob)

    def resolve(self, name: str) -> Revision:
        """The commit that a name stands for.

        Raises:
            HistoryError: none.
        """
        return self._commits.named(name).revision

    def head(self) -> Revision | None:
        """The last commit; None before the first one."""
        commit = self._commits.head()
        return commit.revision if commit is not None else None

    def head_label(self) -> str:
        """The last commit in words, such as "3f9c2e1 (14 Mar 2026)"."""
        head = self.head()
        return describe(head) if head is not None else "no commit yet"

    def path_log(
        self, path: str, revision: str = "HEAD", most: int | None = None
    ) -> tuple[FileRevision, ...]:
        """The commits that altered a file, newest first, through renames, along first parents.

        Args:
            path: path in the repository at `revision` (or one that it had before it was removed).
            revision: where to begin.
            most: how many to give at most.

        Raises:
            HistoryError: an unknown revision, or a shallow clone that ends on the way.
        """
        return self._log.of(path, self._commits.named(revision), most)

    def close(self) -> None:
        """End the processes that stay open."""
        self._objects.close()

    def __enter__(self) -> Self:
        """Give the repository itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close."""
        self.close()

    def _has_own_lfs_server(self) -> bool:
        """True where an `.lfsconfig` of the work tree, index or last commit may name a server."""
        texts: list[bytes] = []
        top = self._layout.top
        if top is not None and kind_of(top, ".lfsconfig") not in {"absent", "file"}:
            return True
        if top is not None and kind_of(top, ".lfsconfig") == "file":
            texts.append(read_regular(place_of(top, ".lfsconfig")))
        for name in (":.lfsconfig", "HEAD:.lfsconfig"):
            found = self._objects.one(name)
            texts += [found[1]] if found is not None else []
        return any(b"url" in text.lower() or b"include" in text.lower() for text in texts)

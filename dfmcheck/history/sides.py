"""The sides of a comparison and in which files they differ."""

from collections.abc import Callable, Iterable, Iterator, Mapping

from dfmcheck.errors import HistoryError
from dfmcheck.history.blobs import Blobs
from dfmcheck.history.commits import Commits
from dfmcheck.history.trees import GITLINK, SYMLINK, Difference, Entry, Trees
from dfmcheck.history.worktree import WorkTree, in_conflict
from dfmcheck.model.history import Revision

Keep = Callable[[str], bool]
"""Which paths are looked at."""

UNREADABLE = "unreadable"
"""Stands for the id of a file of the work tree that git could not take in."""


class Notes:
    """Sentences for the report, each once, in the order in which they came up."""

    def __init__(self, sentences: Iterable[str] = ()) -> None:
        """Begin with some."""
        self._said = dict.fromkeys(sentences)

    def add(self, sentence: str) -> None:
        """Say something, unless it was said."""
        self._said[sentence] = None

    def __iter__(self) -> Iterator[str]:
        """All sentences."""
        return iter(tuple(self._said))


class Sides:
    """Commits, the index and the work tree, seen alike: paths with entries."""

    def __init__(self, commits: Commits, trees: Trees, work: WorkTree, blobs: Blobs) -> None:
        """Look through the readers of a repository."""
        self._commits = commits
        self._trees = trees
        self._work = work
        self._blobs = blobs
        self._overlaid: dict[str, Entry | None] = {}

    def tree(self, side: Revision) -> str | None:
        """The tree of a side; of the last commit where the side is the work tree. None is empty."""
        if side.kind == "empty":
            return None
        name = "HEAD" if side.sha is None else side.sha
        commit = self._commits.find(name)
        if commit is None and side.sha is not None:
            raise self._commits.missing(f"the commit {side.sha}")
        return commit.tree if commit is not None else None

    def listing(self, side: Revision, keep: Keep, notes: Notes | None = None) -> dict[str, Entry]:
        """The kept regular files of a side.

        What is absent by sparse checkout counts as committed.
        """
        if side.kind == "index":
            found = self._staged(keep)
        else:
            found = {p: e for p, e in self._trees.listing(self.tree(side)).items() if keep(p)}
        overlay = self._overlay(keep, notes or Notes()) if side.kind == "worktree" else {}
        merged: dict[str, Entry | None] = {**found, **overlay}
        return {p: e for p, e in merged.items() if e is not None and e.is_file}

    def differences(
        self, before: Revision, after: Revision, keep: Keep, notes: Notes
    ) -> list[Difference]:
        """Kept regular files that differ, by path; what is left out is said in `notes`."""
        if after.kind == "index":
            found = self._against_index(before, keep)
        else:
            found = self._trees.differences(self.tree(before), self.tree(after))
            found = [item for item in found if keep(item[0])]
        if after.kind == "worktree":
            found = self._with_overlay(before, found, self._overlay(keep, notes))
        differing = []
        for path, old, new in found:
            if new is not None and new.mode == SYMLINK:
                notes.add(f"{path} is a symbolic link and is not followed")
            old = old if old is not None and old.is_file else None  # noqa: PLW2901
            new = new if new is not None and new.is_file else None  # noqa: PLW2901
            if (old and old.oid) != (new and new.oid):
                differing.append((path, old, new))
        return sorted(differing, key=lambda item: item[0])

    def submodules(self, side: Revision) -> list[str]:
        """Paths of the submodules of a side, looked for only where it has a `.gitmodules`."""
        if side.kind == "index":
            found = self._work.index()
            return [path for path, entry in found.items() if entry.mode == GITLINK]
        tree = self.tree(side)
        if tree is None or self._trees.lookup(tree, ".gitmodules") is None:
            return []
        return [p for p, entry in self._trees.listing(tree).items() if entry.mode == GITLINK]

    def lookup(self, side: Revision, path: str) -> Entry | None:
        """One file of a side, whatever it is."""
        if side.kind == "index":
            return self._work.index().get(path)
        if side.kind == "worktree":
            overlay = self._overlay(lambda candidate: candidate == path, Notes())
            if path in overlay:
                return overlay[path]
        return self._trees.lookup(self.tree(side), path)

    def _staged(self, keep: Keep) -> dict[str, Entry]:
        index = self._work.index()
        if conflicts := [path for path in self._work.conflicts if keep(path)]:
            raise in_conflict(conflicts)
        return {path: entry for path, entry in index.items() if keep(path)}

    def _against_index(self, before: Revision, keep: Keep) -> list[Difference]:
        old = {p: e for p, e in self._trees.listing(self.tree(before)).items() if keep(p)}
        new = self._staged(keep)
        return [(p, old.get(p), new.get(p)) for p in old.keys() | new.keys()]

    def _with_overlay(
        self, before: Revision, found: list[Difference], overlay: dict[str, Entry | None]
    ) -> list[Difference]:
        merged = {path: (old, new) for path, old, new in found}
        tree = self.tree(before)
        for path, new in overlay.items():
            old = merged[path][0] if path in merged else self._trees.lookup(tree, path)
            merged[path] = (old, new)
        return [(path, old, new) for path, (old, new) in merged.items()]

    def _overlay(self, keep: Keep, notes: Notes) -> dict[str, Entry | None]:
        """What the work tree has in place of the last commit: None where a file is gone."""
        status = self._work.status()
        for folder in status.nested:
            notes.add(f"{folder} is a repository of its own and is not entered")
        paths = [path for path in status.paths if keep(path)]
        kinds = {path: self._work.kind(path) for path in paths}
        for path in paths:
            if kinds[path] == "link":
                notes.add(f"{path} is a symbolic link and is not followed")
        self._look([path for path in paths if path not in self._overlaid], kinds)
        overlay = {path: self._overlaid[path] for path in paths}
        if any(entry is not None and entry.where == "worktree" for entry in overlay.values()):
            self._say_filters(notes)
        return overlay

    def _look(self, paths: list[str], kinds: Mapping[str, str]) -> None:
        files = [path for path in paths if kinds[path] == "file"]
        ids = dict(zip(files, self._clean_ids(files), strict=True))
        head = self._commits.head()
        tree = head.tree if head is not None else None
        committed = {path: self._trees.lookup(tree, path) for path in paths}
        oids = [e.oid for e in committed.values() if e is not None and e.is_file]
        pointers = dict(zip(oids, self._blobs.pointers(oids), strict=True))
        for path in paths:
            if kinds[path] not in {"file", "special"}:
                self._overlaid[path] = None
                continue
            entry = Entry("100644", ids.get(path, UNREADABLE), "worktree")
            was = committed[path]
            pointer = pointers.get(was.oid) if was is not None else None
            same = was is not None and was.is_file and was.oid == entry.oid
            if pointer is not None and not same:
                same = self._blobs.digest(path) == pointer.oid
            self._overlaid[path] = was if same else entry

    def _clean_ids(self, files: list[str]) -> list[str]:
        try:
            return self._work.clean_ids(files)
        except HistoryError:
            if len(files) == 1:
                return [UNREADABLE]
        return [self._clean_ids([path])[0] for path in files]

    def _say_filters(self, notes: Notes) -> None:
        drivers = sorted(self._work.drivers() - {"lfs"})
        if drivers:
            notes.add(
                f"content filters of git's configuration ({', '.join(drivers[:5])}) were not run: "
                "files of the work tree that need them were compared as they stand"
            )

"""Changed files of a range as `FileChange` values, renames followed."""

from collections import Counter
from typing import Literal

from dfmcheck.history import renames
from dfmcheck.history.blobs import Blobs
from dfmcheck.history.process import GitProcess
from dfmcheck.history.sides import Keep, Notes, Sides
from dfmcheck.history.trees import Difference, Entry
from dfmcheck.history.worktree import WorkTree
from dfmcheck.model.history import Blob, FileChange, Revision


class Changes:
    """Finds what happened to each kept file between two sides."""

    def __init__(
        self, process: GitProcess, objects_dir: str, sides: Sides, work: WorkTree, blobs: Blobs
    ) -> None:
        """`objects_dir` is the repository's store of objects."""
        self._process = process
        self._objects_dir = objects_dir
        self._sides = sides
        self._work = work
        self._blobs = blobs

    def between(self, before: Revision, after: Revision, keep: Keep) -> tuple[FileChange, ...]:
        """The changes by path (the path before, where the file was removed)."""
        found = self._sides.differences(before, after, keep, Notes())
        olds, news = self._blobs_of(found)
        changes = [
            change
            for path in olds.keys() & news.keys()
            if (change := self._pair("changed", olds.pop(path), news.pop(path))) is not None
        ]
        for new, old in self._renames(before, after, found, olds, news).items():
            change = self._pair("renamed", olds.pop(old), news.pop(new))
            changes += [change] if change is not None else []
        changes += [FileChange(status="removed", before=blob) for blob in olds.values()]
        changes += [FileChange(status="added", after=blob) for blob in news.values()]
        return tuple(sorted(changes, key=_path))

    def _blobs_of(self, found: list[Difference]) -> tuple[dict[str, Blob], dict[str, Blob]]:
        old = [(path, entry) for path, entry, _ in found if entry is not None]
        new = [(path, entry) for path, _, entry in found if entry is not None]
        made = self._blobs.make([*old, *new])
        olds = {blob.path: blob for blob in made[: len(old)]}
        return olds, {blob.path: blob for blob in made[len(old) :]}

    def _pair(
        self, status: Literal["changed", "renamed"], old: Blob, new: Blob
    ) -> FileChange | None:
        """A change of one file; None where LFS tells that the content is the same after all."""
        old, new = self._blobs.alike(old, new), self._blobs.alike(new, old)
        if status == "changed" and old.content == new.content:
            return None
        return FileChange(status=status, before=old, after=new)

    def _renames(
        self,
        before: Revision,
        after: Revision,
        found: list[Difference],
        olds: dict[str, Blob],
        news: dict[str, Blob],
    ) -> renames.Pairs:
        """New path to old path, among the files that are on one side only."""
        pairs = self._large_renames(olds, news)
        taken = set(pairs.values())
        gone = [p for p, blob in olds.items() if p not in taken and blob.lfs_oid is None]
        entries = {
            path: entry
            for path, _, entry in found
            if entry is not None and _may_pair(path, entry, news) and path not in pairs
        }
        tree = self._sides.tree(before)
        if not gone or not entries or tree is None:
            return pairs
        if after.kind == "worktree":
            more = renames.in_work_tree(self._work, self._objects_dir, tree, gone, entries)
        elif after.kind == "index":
            more = renames.in_index(self._process, tree, gone, tuple(entries))
        else:
            later = self._sides.tree(after)
            assert later is not None  # noqa: S101 - it has new files
            more = renames.between_trees(self._process, tree, later, gone, tuple(entries))
        return {**pairs, **more}

    def _large_renames(self, olds: dict[str, Blob], news: dict[str, Blob]) -> renames.Pairs:
        """Renames of LFS files, whose content git does not see.

        The same content under another path; else the same file name in another folder, where no
        other file of that name came or went.
        """
        pairs: renames.Pairs = {}
        by_content: dict[str, list[str]] = {}
        sizes = {blob.size for blob in news.values() if blob.lfs_oid is not None}
        for path, blob in sorted(olds.items()):
            if blob.lfs_oid is not None or blob.size in sizes:
                by_content.setdefault(self._blobs.large_content(blob), []).append(path)
        sizes = {blob.size for blob in olds.values() if blob.lfs_oid is not None}
        for path, blob in sorted(news.items()):
            if blob.lfs_oid is not None or blob.size in sizes:
                same = by_content.get(self._blobs.large_content(blob), [])
                if same:
                    pairs[path] = next((p for p in same if _name(p) == _name(path)), same[0])
                    same.remove(pairs[path])
        taken = set(pairs.values())
        left = [p for p, blob in olds.items() if p not in taken and blob.lfs_oid is not None]
        names_gone = Counter(map(_name, left))
        rest = [p for p, blob in news.items() if p not in pairs and blob.lfs_oid is not None]
        names_new = Counter(map(_name, rest))
        for path in rest:
            if names_gone[_name(path)] == names_new[_name(path)] == 1:
                pairs[path] = next(p for p in left if _name(p) == _name(path))
        return pairs


def _may_pair(path: str, entry: Entry, news: dict[str, Blob]) -> bool:
    """True for new files whose content git can compare."""
    return path in news and news[path].lfs_oid is None and len(entry.oid) in {40, 64}


def _name(path: str) -> str:
    return path.rpartition("/")[2]


def _path(change: FileChange) -> str:
    blob = change.after or change.before
    return blob.path if blob is not None else ""

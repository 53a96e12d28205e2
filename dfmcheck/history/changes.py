"""Changed files of a range as `FileChange` values, renames followed."""

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

    def _pair(self, status: str, old: Blob, new: Blob) -> FileChange | None:
        """A change of one file; None where LFS tells that the content is the same after all."""
        if old.lfs_oid is not None:
            new = self._blobs.as_large(new)
        if status == "changed":
            same = old.content == new.content
            return None if same else FileChange(status="changed", before=old, after=new)
        return FileChange(status="renamed", before=old, after=new)

    def _renames(
        self,
        before: Revision,
        after: Revision,
        found: list[Difference],
        olds: dict[str, Blob],
        news: dict[str, Blob],
    ) -> renames.Pairs:
        """New path to old path, among the files that are on one side only."""
        pairs = self._same_large_content(olds, news)
        gone = [path for path in olds if path not in pairs.values()]
        entries = {
            path: entry
            for path, _, entry in found
            if path in news and path not in pairs and entry is not None and _known(entry)
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
        pairs.update((new, old) for new, old in more.items() if _credible(olds[old], news[new]))
        return pairs

    def _same_large_content(self, olds: dict[str, Blob], news: dict[str, Blob]) -> renames.Pairs:
        """LFS files whose content is now under another path, perhaps in full in the work tree."""
        large: dict[str, list[str]] = {}
        for path, blob in sorted(olds.items()):
            if blob.lfs_oid is not None:
                large.setdefault(blob.content, []).append(path)
        pairs: renames.Pairs = {}
        for path, blob in sorted(news.items()) if large else ():
            candidates = large.get(self._blobs.as_large(blob).content)
            if candidates:
                alike = [old for old in candidates if _name(old) == _name(path)]
                pairs[path] = (alike or candidates)[0]
                candidates.remove(pairs[path])
        return pairs


def _known(entry: Entry) -> bool:
    return len(entry.oid) in {40, 64}


def _credible(old: Blob, new: Blob) -> bool:
    if old.lfs_oid is None and new.lfs_oid is None:
        return True
    return old.content == new.content or _name(old.path) == _name(new.path)


def _name(path: str) -> str:
    return path.rpartition("/")[2]


def _path(change: FileChange) -> str:
    blob = change.after or change.before
    return blob.path if blob is not None else ""

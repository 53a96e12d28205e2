"""Trees: which files a commit holds, and in which two commits differ."""

import re
from collections.abc import Iterable, Iterator
from typing import Literal, NamedTuple

from dfmcheck.history.names import decode
from dfmcheck.history.objects import DamagedObjectError, Objects

REGULAR = frozenset({"100644", "100755", "100664"})
SYMLINK = "120000"
GITLINK = "160000"
_FOLDER = "40000"


class Entry(NamedTuple):
    """One file of one side: git's mode, the id of its blob, and where its bytes are.

    In a work tree `oid` is the id that git would give the clean form of the bytes.
    """

    mode: str
    oid: str
    where: Literal["git", "worktree"] = "git"

    @property
    def is_file(self) -> bool:
        """True for a regular file."""
        return self.mode in REGULAR


Difference = tuple[str, Entry | None, Entry | None]
"""Path, what it was, what it is."""

_Tree = dict[bytes, Entry]
_Pair = tuple[bytes, str | None, str | None]


class Trees:
    """Reads trees, each once."""

    def __init__(self, objects: Objects) -> None:
        """Read from a store of objects."""
        self._objects = objects
        self._known: dict[str, _Tree] = {}
        self._listings: dict[str, dict[str, Entry]] = {}

    def listing(self, tree: str | None) -> dict[str, Entry]:
        """All files of a tree by path; links and submodules are among them.

        None is the empty tree.
        """
        if tree is None:
            return {}
        if tree not in self._listings:
            self._listings[tree] = dict(sorted(self._walk(tree)))
        return self._listings[tree]

    def _walk(self, tree: str) -> Iterator[tuple[str, Entry]]:
        """Paths and entries, a level of folders at a time."""
        level = [(b"", tree)]
        while level:
            self._load(oid for _, oid in level)
            deeper = []
            for prefix, oid in level:
                for name, entry in self._known[oid].items():
                    if entry.mode == _FOLDER:
                        deeper.append((prefix + name + b"/", entry.oid))
                    else:
                        yield decode(prefix + name), entry
            level = deeper

    def lookup(self, tree: str | None, path: str) -> Entry | None:
        """One file of a tree."""
        *folders, name = path.encode("utf-8", "surrogateescape").split(b"/")
        for folder in folders:
            entry = self._tree(tree).get(folder)
            if entry is None or entry.mode != _FOLDER:
                return None
            tree = entry.oid
        entry = self._tree(tree).get(name)
        return entry if entry is not None and entry.mode != _FOLDER else None

    def differences(self, before: str | None, after: str | None) -> list[Difference]:
        """Files whose mode or blob differ, by path.

        Raises:
            DamagedObjectError: a tree is missing or damaged.
        """
        found: list[Difference] = []
        level: list[_Pair] = [(b"", before, after)] if before != after else []
        while level:
            self._load(oid for _, old, new in level for oid in (old, new) if oid)
            level = [
                deeper
                for prefix, old, new in level
                for deeper in self._compare(prefix, self._tree(old), self._tree(new), found)
            ]
        return sorted(found, key=lambda item: item[0])

    def _compare(
        self, prefix: bytes, old: _Tree, new: _Tree, found: list[Difference]
    ) -> list[_Pair]:
        """Put differing files into `found`; give the folders to be compared next."""
        deeper: list[_Pair] = []
        for name in old.keys() | new.keys():
            was, now = old.get(name), new.get(name)
            if was == now:
                continue
            path = prefix + name
            old_folder = was.oid if was is not None and was.mode == _FOLDER else None
            new_folder = now.oid if now is not None and now.mode == _FOLDER else None
            if old_folder or new_folder:
                deeper.append((path + b"/", old_folder, new_folder))
            was = None if old_folder else was
            now = None if new_folder else now
            if was is not None or now is not None:
                found.append((decode(path), was, now))
        return deeper

    def _tree(self, oid: str | None) -> _Tree:
        if oid is None:
            return {}
        if oid not in self._known:
            self._load([oid])
        return self._known[oid]

    def _load(self, wanted: Iterable[str]) -> None:
        missing = list(dict.fromkeys(oid for oid in wanted if oid not in self._known))
        for oid, answer in zip(missing, self._objects.contents(missing), strict=True):
            if answer is None or answer[0].kind != "tree":
                msg = f"the repository lacks the tree {oid}: `git fsck` tells what is damaged"
                raise DamagedObjectError(msg)
            self._known[oid] = _parse(answer[1], len(oid) // 2)


def _parse(data: bytes, width: int) -> _Tree:
    """Entries of a tree object; `width` is the length of an object id in bytes."""
    pattern = re.compile(rb"([0-7]+) ([^\0]+)\0(.{%d})" % width, re.DOTALL)
    return {name: Entry(mode.decode(), oid.hex()) for mode, name, oid in pattern.findall(data)}

"""Files of a revision as `Blob` values, and their bytes."""

import hashlib
from collections.abc import Iterator, Sequence

import msgspec

from dfmcheck.errors import NotReadError
from dfmcheck.history.lfs import LARGEST_POINTER, LargeFiles, Pointer, parse_pointer
from dfmcheck.history.objects import DamagedObjectError, ObjectInfo, Objects
from dfmcheck.history.safefile import place_of
from dfmcheck.history.trees import Entry
from dfmcheck.history.worktree import WorkTree, blob_id
from dfmcheck.model.facts import NotRead
from dfmcheck.model.history import Blob

_MOST_LOST = 30
"""Objects that may end git's process before no more are asked for."""

Located = tuple[str, Entry]
"""Path and entry."""


class Blobs:
    """Makes blobs and reads them."""

    def __init__(
        self, objects: Objects, work: WorkTree, large_files: LargeFiles, top: str | None
    ) -> None:
        """`top` is the folder of the work tree, None where there is none."""
        self._objects = objects
        self._work = work
        self._large_files = large_files
        self._top = top
        self._infos: dict[str, ObjectInfo | None] = {}
        self._pointers: dict[str, Pointer | None] = {}

    def make(self, located: Sequence[Located]) -> list[Blob]:
        """Blobs of files, in the order given.

        Files of the work tree are read for their identity.
        """
        self._learn([entry.oid for _, entry in located if entry.where == "git"])
        return [
            self._of_store(path, entry) if entry.where == "git" else self._of_work_tree(path, entry)
            for path, entry in located
        ]

    def read(self, blob: Blob) -> bytes:
        """The bytes that the blob's content id stands for.

        Raises:
            NotReadError: they cannot be had; says why and what to do.
        """
        if blob.where == "worktree":
            return self._read_work_tree(blob)
        return self._read_large(self._read_store(blob), blob.path)

    def pointers(self, oids: Sequence[str]) -> list[Pointer | None]:
        """For each blob of the store the LFS pointer that it is, if it is one."""
        self._learn(oids)
        return [self._pointers.get(oid) for oid in oids]

    def digest(self, path: str) -> str | None:
        """SHA-256 of a file of the work tree; None where it cannot be read."""
        try:
            return hashlib.sha256(self._work.read(path)).hexdigest()
        except NotReadError:
            return None

    def large_content(self, blob: Blob) -> str:
        """The content id that LFS gives or would give; the blob's own where it cannot be read."""
        if blob.lfs_oid is not None:
            return blob.content
        try:
            return f"sha256:{hashlib.sha256(self.read(blob)).hexdigest()}"
        except NotReadError:
            return blob.content

    def alike(self, blob: Blob, other: Blob) -> Blob:
        """The blob itself, or with the id that LFS would give it where the other one is in LFS.

        Only with ids of one kind can it be seen that a file went into LFS, out of it, or stands in
        full in the work tree, without a change of content.
        """
        if blob.lfs_oid is not None or other.lfs_oid is None or blob.size != other.size:
            return blob
        return msgspec.structs.replace(blob, content=self.large_content(blob))

    def _learn(self, oids: Sequence[str]) -> None:
        unknown = list(dict.fromkeys(oid for oid in oids if oid not in self._infos))
        self._infos.update(zip(unknown, self._ask(unknown), strict=True))
        infos = [self._infos[oid] for oid in unknown]
        small = [i.oid for i in infos if i is not None and i.size <= LARGEST_POINTER]
        for oid, answer in zip(small, self._objects.contents(small), strict=True):
            self._pointers[oid] = parse_pointer(answer[1]) if answer is not None else None

    def _ask(self, oids: list[str]) -> list[ObjectInfo | None]:
        try:
            return self._objects.info(oids)
        except DamagedObjectError:
            return list(self._one_by_one(oids))

    def _one_by_one(self, oids: list[str]) -> Iterator[ObjectInfo | None]:
        """Ask for each alone; None for those that git cannot tell of.

        Each of those may end git's process (so partial clones answer), so after some of them the
        rest is left unknown: reading will tell.
        """
        lost = 0
        for oid in oids:
            try:
                yield self._objects.info([oid])[0] if lost < _MOST_LOST else None
            except DamagedObjectError:
                lost += 1
                yield None

    def _of_store(self, path: str, entry: Entry) -> Blob:
        pointer = self._pointers.get(entry.oid)
        if pointer is not None:
            return Blob(
                path=path,
                content=f"sha256:{pointer.oid}",
                oid=entry.oid,
                size=pointer.size,
                where="git",
                lfs_oid=pointer.oid,
            )
        info = self._infos[entry.oid]
        size = info.size if info is not None else 0
        return Blob(path=path, content=f"git:{entry.oid}", oid=entry.oid, size=size, where="git")

    def _of_work_tree(self, path: str, entry: Entry) -> Blob:
        try:
            data = self._work.read(path)
        except NotReadError:
            return Blob(path=path, content=f"unreadable:{path}", oid=None, size=0, where="worktree")
        pointer = parse_pointer(data)
        return Blob(
            path=path,
            content=f"sha256:{pointer.oid}" if pointer else f"git:{blob_id(data, len(entry.oid))}",
            oid=None,
            size=pointer.size if pointer else len(data),
            where="worktree",
            lfs_oid=pointer.oid if pointer else None,
        )

    def _read_work_tree(self, blob: Blob) -> bytes:
        data = self._work.read(blob.path)
        if blob.lfs_oid is not None:
            return self._read_large(data, blob.path)
        known, _, digest = blob.content.partition(":")
        found = blob_id(data, len(digest)) if known == "git" else hashlib.sha256(data).hexdigest()
        if found != digest:
            raise NotReadError(
                NotRead(
                    kind="missing",
                    reason="it was altered while it was looked at",
                    remedy="run again when nothing else writes the file",
                )
            )
        return data

    def _read_store(self, blob: Blob) -> bytes:
        assert blob.oid is not None  # noqa: S101 - blobs of the store have one
        try:
            answer = self._objects.one(blob.oid)
            reason = "this clone does not have its content"
        except DamagedObjectError as error:
            answer, reason = None, str(error)
        if answer is None:
            raise NotReadError(
                NotRead(
                    kind="missing",
                    reason=reason,
                    remedy="run `git fetch --refetch --no-filter` (partial clone) or `git fsck`",
                )
            )
        return answer[1]

    def _read_large(self, data: bytes, path: str) -> bytes:
        pointer = parse_pointer(data)
        if pointer is None:
            return data
        place = None
        if self._top is not None and self._work.kind(path) == "file":
            place = place_of(self._top, path)
        return self._large_files.read(pointer, path, place)

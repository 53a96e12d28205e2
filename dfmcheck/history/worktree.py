"""The work tree and the index: what differs from the last commit, and what stands there."""

import hashlib
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from dfmcheck.errors import HistoryError, NotReadError
from dfmcheck.history.discovery import Layout
from dfmcheck.history.filters import Setting, filter_drivers, read_configuration, without_filters
from dfmcheck.history.names import c_quoted, decode
from dfmcheck.history.process import GitProcess
from dfmcheck.history.safefile import Kind, kind_of, place_of, read_regular
from dfmcheck.history.trees import Entry
from dfmcheck.model.facts import NotRead


class Status(NamedTuple):
    """Paths that `git status` names, and folders that are repositories of their own."""

    paths: tuple[str, ...]
    nested: tuple[str, ...] = ()


class WorkTree:
    """Looks at the work tree and the index without touching either."""

    def __init__(self, process: GitProcess, layout: Layout) -> None:
        """`process` runs git at the top of the work tree."""
        self._plain = process
        self._quiet: GitProcess | None = None
        self._layout = layout
        self._settings: tuple[Setting, ...] | None = None
        self._status: Status | None = None
        self._index: dict[str, Entry] | None = None
        self.conflicts: tuple[str, ...] = ()

    @property
    def top(self) -> str:
        """The folder of the work tree.

        Raises:
            HistoryError: there is none.
        """
        if self._layout.top is None:
            msg = f"{self._layout.git_dir} has no work tree and no index: name two revisions"
            raise HistoryError(msg)
        return self._layout.top

    def settings(self) -> tuple[Setting, ...]:
        """Git's configuration in effect."""
        if self._settings is None:
            self._settings = read_configuration(self._plain)
        return self._settings

    def drivers(self) -> frozenset[str]:
        """Names of the content filters that are configured and not run."""
        return filter_drivers(self.settings())

    def process(self) -> GitProcess:
        """A git that runs no content filter."""
        if self._quiet is None:
            options = without_filters(self.settings())
            self._quiet = GitProcess(
                self._plain.folder, self._plain.variables, options, self._plain.tally
            )
        return self._quiet

    def status(self) -> Status:
        """Everything that is staged, altered or new and not ignored. Submodules are not entered."""
        if self._status is None:
            output = self.process().run(
                *("status", "--porcelain=v2", "-z", "--untracked-files=all"),
                *("--no-renames", "--ignore-submodules=all", "--no-ahead-behind"),
            )
            self._status = parse_status(output.out)
        return self._status

    def index(self) -> dict[str, Entry]:
        """The staged files; `conflicts` holds the paths that are not merged."""
        if self._index is None:
            _ = self.top
            output = self._plain.run("ls-files", "--stage", "-z")
            self._index, self.conflicts = parse_index(output.out)
        return self._index

    def kind(self, path: str) -> Kind:
        """What stands at a path."""
        return kind_of(self.top, path)

    def read(self, path: str) -> bytes:
        """The bytes of a file as they stand.

        Raises:
            NotReadError: it is gone, a link, a pipe, a device, or not to be opened.
        """
        if kind_of(self.top, path) == "absent":
            raise NotReadError(
                NotRead(
                    kind="missing",
                    reason="it is no longer in the work tree",
                    remedy="run again when nothing else alters the work tree",
                )
            )
        return read_regular(place_of(self.top, path))

    def clean_ids(self, paths: Sequence[str], *, store: dict[str, str] | None = None) -> list[str]:
        """The ids that git would give the clean form of files (line ends converted, no filter run).

        Args:
            paths: regular files.
            store: environment that names another object store; the objects are then written there.

        Raises:
            HistoryError: a file cannot be read.
        """
        if not paths:
            return []
        lines = b"".join(c_quoted(path) + b"\n" for path in paths)
        write = ("-w",) if store is not None else ()
        output = self.process().run(
            "hash-object", *write, "--stdin-paths", stdin=lines, variables=store
        )
        return output.out.decode("ascii").split()


def blob_id(data: bytes, width: int) -> str:
    """The id that git gives these bytes; `width` is 40 digits (SHA-1) or 64 (SHA-256)."""
    header = b"blob %d\0" % len(data)
    if width == 64:
        return hashlib.sha256(header + data).hexdigest()
    return hashlib.sha1(header + data, usedforsecurity=False).hexdigest()


def parse_status(out: bytes) -> Status:
    """Read the output of `git status --porcelain=v2 -z --no-renames`."""
    paths: list[str] = []
    nested: list[str] = []
    fields = {b"1": 8, b"u": 10, b"?": 1}
    for record in out.split(b"\0"):
        before = fields.get(record[:1])
        if before is None or record[1:2] != b" ":
            continue
        path = decode(record.split(b" ", before)[-1])
        if path.endswith("/"):
            nested.append(path.rstrip("/"))
        else:
            paths.append(path)
    return Status(tuple(dict.fromkeys(paths)), tuple(nested))


def parse_index(out: bytes) -> tuple[dict[str, Entry], tuple[str, ...]]:
    """Read the output of `git ls-files --stage -z`: merged entries, and paths in conflict."""
    entries: dict[str, Entry] = {}
    conflicts: list[str] = []
    for record in out.split(b"\0"):
        about, tab, name = record.partition(b"\t")
        if not tab:
            continue
        mode, oid, stage = about.decode("ascii").split(" ")
        if stage == "0":
            entries[decode(name)] = Entry(mode, oid)
        else:
            conflicts.append(decode(name))
    return entries, tuple(dict.fromkeys(conflicts))


def in_conflict(paths: Iterable[str]) -> HistoryError:
    """The complaint about an index that is not merged."""
    named = ", ".join(sorted(paths)[:3])
    return HistoryError(
        f"the index holds unresolved conflicts ({named}): resolve and stage them, then run again"
    )

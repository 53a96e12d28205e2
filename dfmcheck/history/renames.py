"""Renames, found by git itself among the files that vanished and the files that appeared.

Git is asked about the kept files only, so that a commit that moves thousands of other files costs
nothing. Its own measure holds: at least half of the content alike. Where git cannot tell, a rename
shows as one file removed and one added.
"""

import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from dfmcheck.history.names import as_argument, decode, encode
from dfmcheck.history.process import GitProcess
from dfmcheck.history.trees import Entry
from dfmcheck.history.worktree import WorkTree

_DIFF = ("-r", "--raw", "-z", "--no-abbrev", "--no-ext-diff", "--no-textconv", "-l1000")
_MOST_ARGUMENTS = 100_000
"""Bytes of paths that are put on one command line."""

Pairs = dict[str, str]
"""New path to old path."""


def between_trees(
    process: GitProcess, before: str, after: str, gone: Sequence[str], new: Sequence[str]
) -> Pairs:
    """Renames between two trees, among the paths given."""
    return _ask(process, ("diff-tree",), (before, after), gone, new)


def in_index(
    process: GitProcess, before: str, gone: Sequence[str], new: Sequence[str], **variables: str
) -> Pairs:
    """Renames between a tree and the index."""
    return _ask(process, ("diff-index", "--cached"), (before,), gone, new, variables)


def in_work_tree(
    work: WorkTree,
    objects_dir: str,
    before: str,
    gone: Sequence[str],
    new: Mapping[str, Entry],
) -> Pairs:
    """Renames between a tree and files of the work tree, tracked or not.

    Git compares with an index only, so the new files are put into an index and an object store of
    their own in a temporary folder; the repository's stay as they are.
    """
    with tempfile.TemporaryDirectory(prefix="dfmcheck-") as folder:
        own = Path(folder, "objects")
        own.mkdir()
        process = work.process()
        others = [_listed(objects_dir)]
        if inherited := process.variables.get("GIT_ALTERNATE_OBJECT_DIRECTORIES"):
            others.append(inherited)
        variables = {
            "GIT_INDEX_FILE": str(Path(folder, "index")),
            "GIT_OBJECT_DIRECTORY": str(own),
            "GIT_ALTERNATE_OBJECT_DIRECTORIES": os.pathsep.join(others),
        }
        unsaved = [path for path, entry in new.items() if entry.where == "worktree"]
        work.clean_ids(unsaved, store=variables)
        lines = b"".join(
            f"{entry.mode} {entry.oid}\t".encode() + encode(path) + b"\0"
            for path, entry in new.items()
        )
        process.run("update-index", "-z", "--index-info", stdin=lines, variables=variables)
        return _ask(process, ("diff-index", "--cached"), (before,), gone, tuple(new), variables)


def _ask(
    process: GitProcess,
    command: Sequence[str],
    trees: Sequence[str],
    gone: Sequence[str],
    new: Sequence[str],
    variables: Mapping[str, str] | None = None,
) -> Pairs:
    paths = [as_argument(path) for path in (*gone, *new)]
    if sum(len(path) + 1 for path in paths) > _MOST_ARGUMENTS:
        paths = []
    for measure in ("-M", "-M100%"):  # a partial clone may lack the content that -M compares
        arguments = (*command, *_DIFF, measure, *trees, "--", *paths)
        output = process.run(*arguments, variables=variables, good=range(256))
        if output.status == 0:
            wanted, known = set(new), set(gone)
            pairs = _parse(output.out)
            return {n: o for n, o in pairs.items() if n in wanted and o in known}
    return {}


def _parse(out: bytes) -> Pairs:
    """Renames in the output of `git diff-tree --raw -z`."""
    pairs: Pairs = {}
    fields = iter(out.split(b"\0"))
    for about in fields:
        status = about.rpartition(b" ")[2][:1]
        if status in {b"R", b"C"}:
            old, new = next(fields, b""), next(fields, b"")
            if status == b"R":
                pairs[decode(new)] = decode(old)
        elif about:
            next(fields, None)
    return pairs


def _listed(folder: str) -> str:
    """A folder's name as an item of a list of object stores, in quotes where it must be."""
    if os.pathsep in folder or folder.startswith('"'):
        return '"' + folder.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return folder

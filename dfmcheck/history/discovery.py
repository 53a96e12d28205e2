"""Where the repository is, and which of git's environment variables are meant for it.

A hook, an alias or `git rebase --exec` runs its command with variables such as GIT_DIR and
GIT_INDEX_FILE. They are right for the repository of the hook and wrong for any other, and some of
them are relative to a folder that may not be ours. So the repository is looked for without them
first, by git itself (which thereby checks who owns it); then they are given back where they belong:

- GIT_DIR names the repository found, or there is none: GIT_INDEX_FILE (the temporary index of
  `git commit -a` and `git commit FILE`), GIT_OBJECT_DIRECTORY (the quarantine of a push that is
  being received), GIT_WORK_TREE, GIT_SHALLOW_FILE hold.
- GIT_DIR is unset, as in most hooks of a main work tree: an index holds if it exists and lies in no
  other repository.
- GIT_DIR names another repository: all are ignored, and a note says so.
"""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from dfmcheck.errors import HistoryError
from dfmcheck.history.complaints import MINIMUM, explain
from dfmcheck.history.process import GitProcess, Tally

_QUESTIONS = ("--is-bare-repository", "--is-shallow-repository", "--is-inside-work-tree")
_PLACES = ("--absolute-git-dir", "--git-common-dir", "--show-toplevel")


class Layout(NamedTuple):
    """A repository found.

    `top` is the folder of the work tree, None where there is none. `variables` are those of git's
    environment variables that every command needs; `notes` sentences for the report.
    """

    git_dir: str
    common_dir: str
    top: str | None
    bare: bool
    shallow: bool
    variables: Mapping[str, str] = {}
    notes: tuple[str, ...] = ()

    @property
    def folder(self) -> str:
        """The folder in which git runs: the work tree's top, else the repository itself."""
        return self.top or self.git_dir


def discover(
    path: str | os.PathLike[str], environ: Mapping[str, str], tally: Tally | None = None
) -> Layout:
    """Find the repository that holds `path`, as git does. Processes are counted in `tally`.

    Raises:
        HistoryError: no such folder, no repository, somebody else's repository, no git.
    """
    start = Path(path).absolute()
    if not start.exists():
        msg = f"there is no folder {start}"
        raise HistoryError(msg)
    folder = str(start if start.is_dir() else start.parent)
    named = environ.get("GIT_DIR")
    try:
        layout = _ask(folder, {}, tally)
    except HistoryError:
        if not named:
            raise
        return _ask(folder, _explicit(environ, folder), tally)
    return _with_variables(layout, environ, folder, tally)


def _ask(folder: str, variables: Mapping[str, str], tally: Tally | None) -> Layout:
    process = GitProcess(folder, variables, tally=tally)
    output = process.run("rev-parse", *_QUESTIONS, *_PLACES, good=(0, 128))
    lines = output.out.split(b"\n")[:-1]
    if any(line.startswith(b"--") for line in lines):
        wanted = ".".join(map(str, MINIMUM))
        msg = f"git {process.version()} is too old: dfmcheck needs git {wanted} or newer"
        raise HistoryError(msg)
    inside = len(lines) >= len(_QUESTIONS) and lines[2] == b"true"
    if len(lines) < len(_QUESTIONS) or (output.status != 0 and inside):
        raise explain(output.err, "rev-parse", folder)
    bare, shallow = lines[0] == b"true", lines[1] == b"true"
    wanted_places = _PLACES if inside else _PLACES[:2]
    places = [os.fsdecode(line) for line in lines[len(_QUESTIONS) :]]
    if len(places) != len(wanted_places):  # a newline in a folder's name
        places = [_ask_place(process, question) for question in wanted_places]
    git_dir = places[0]
    common_dir = os.path.normpath(Path(folder, places[1]))
    top = places[2] if inside else None
    return Layout(git_dir, common_dir, top, bare, shallow, dict(variables))


def _ask_place(process: GitProcess, question: str) -> str:
    return os.fsdecode(process.run("rev-parse", question).out.removesuffix(b"\n"))


def _explicit(environ: Mapping[str, str], folder: str) -> dict[str, str]:
    """Git's variables as they stand, made absolute: somebody named the repository by hand."""
    variables = {}
    for name in ("GIT_DIR", "GIT_WORK_TREE", "GIT_COMMON_DIR", "GIT_OBJECT_DIRECTORY"):
        if environ.get(name):
            variables[name] = str(Path(environ[name]).absolute())
    if environ.get("GIT_INDEX_FILE"):
        base = variables.get("GIT_WORK_TREE", folder)
        variables["GIT_INDEX_FILE"] = str(Path(base, environ["GIT_INDEX_FILE"]))
    if environ.get("GIT_ALTERNATE_OBJECT_DIRECTORIES"):
        name = "GIT_ALTERNATE_OBJECT_DIRECTORIES"
        variables[name] = environ[name]
    return variables


def _with_variables(
    layout: Layout, environ: Mapping[str, str], folder: str, tally: Tally | None
) -> Layout:
    named = environ.get("GIT_DIR")
    if named and not _same(named, layout.git_dir):
        note = f"GIT_DIR names another repository ({named}): git's variables were ignored"
        return layout._replace(notes=(*layout.notes, note))
    tree = environ.get("GIT_WORK_TREE")
    if tree and not _same(tree, layout.top):
        if named or _within(folder, tree):
            explicit = _explicit({**environ, "GIT_DIR": layout.git_dir}, folder)
            return _ask(folder, explicit, tally)
        note = f"GIT_WORK_TREE names a folder that does not hold {folder}: it was ignored"
        layout = layout._replace(notes=(*layout.notes, note))
    variables, notes = _kept(layout, environ, meant=bool(named))
    return layout._replace(variables=variables, notes=(*layout.notes, *notes))


def _kept(
    layout: Layout, environ: Mapping[str, str], *, meant: bool
) -> tuple[dict[str, str], tuple[str, ...]]:
    """The variables that hold for the repository found; `meant` where GIT_DIR names it."""
    variables: dict[str, str] = {}
    notes: list[str] = []
    if index := environ.get("GIT_INDEX_FILE"):
        place = Path(layout.folder, index)
        if place.exists() and (meant or not _elsewhere(place, layout)):
            variables["GIT_INDEX_FILE"] = str(place)
        elif not _same(str(place), str(Path(layout.git_dir, "index"))):
            notes.append(
                f"GIT_INDEX_FILE names {index}, no index of this repository: it was ignored"
            )
    if objects := environ.get("GIT_OBJECT_DIRECTORY"):
        place = Path(objects).absolute()
        if meant or _within(str(place), layout.common_dir):
            variables["GIT_OBJECT_DIRECTORY"] = str(place)
            others = environ.get("GIT_ALTERNATE_OBJECT_DIRECTORIES")
            if others:
                variables["GIT_ALTERNATE_OBJECT_DIRECTORIES"] = others
    if meant and environ.get("GIT_SHALLOW_FILE"):
        variables["GIT_SHALLOW_FILE"] = str(Path(environ["GIT_SHALLOW_FILE"]).absolute())
    return variables, tuple(notes)


def _elsewhere(place: Path, layout: Layout) -> bool:
    """True where the file lies in the folder of another repository."""
    own = {os.path.realpath(layout.git_dir), os.path.realpath(layout.common_dir)}
    for folder in Path(os.path.realpath(place)).parents:
        if str(folder) in own:
            return False
        if (folder / "HEAD").is_file() and (
            (folder / "objects").is_dir() or (folder / "commondir").is_file()
        ):
            return True
    return False


def _same(one: str, other: str | None) -> bool:
    return other is not None and os.path.realpath(one) == os.path.realpath(other)


def _within(path: str, folder: str) -> bool:
    inner, outer = os.path.realpath(path), os.path.realpath(folder)
    return inner == outer or inner.startswith(outer.rstrip(os.sep) + os.sep)

"""Writing what `dfmcheck init` offers: nothing is overwritten unasked, and every step is told."""

import os
import stat
from collections.abc import Iterable
from pathlib import Path
from typing import Literal

import msgspec

from dfmcheck.config.find import CONFIG_NAME
from dfmcheck.config.problems import plain
from dfmcheck.config.templates import (
    HookKind,
    attributes,
    git_hook,
    github_workflow,
    starter_config,
)
from dfmcheck.errors import UsageError


class Planned(msgspec.Struct, frozen=True, kw_only=True):
    """A file to be written.

    `folder` is where it must lie in the end, links resolved; `name` its path from there. With
    "lines" only the lines that are missing are added at the end; nothing is taken away.
    """

    folder: Path
    name: str
    text: str
    how: Literal["whole", "lines"] = "whole"
    executable: bool = False


def init_plans(
    root: Path,
    *,
    files: Iterable[str] = (),
    requirement: str | None = None,
    hooks: Path | None = None,
    hook: HookKind | None = None,
    keep_bytes: bool = False,
) -> tuple[Planned, ...]:
    """The files of `dfmcheck init`.

    Args:
        root: top of the work tree.
        files: paths of its STEP files.
        requirement: what pip is to install in a CI workflow; None for no workflow.
        hooks: git's folder of hooks (it may lie outside `root`); needed with `hook`.
        hook: the git hook to write, None for none.
        keep_bytes: whether to add attributes that keep the bytes of STEP files.
    """
    plans = [Planned(folder=root, name=CONFIG_NAME, text=starter_config(files))]
    if requirement is not None:
        text = github_workflow(requirement)
        plans.append(Planned(folder=root, name=".github/workflows/parts.yml", text=text))
    if hook is not None and hooks is not None:
        plans.append(Planned(folder=hooks, name=hook, text=git_hook(hook), executable=True))
    if keep_bytes:
        plans.append(Planned(folder=root, name=".gitattributes", text=attributes(), how="lines"))
    return tuple(plans)


def write_planned(plans: Iterable[Planned], *, overwrite: bool = False) -> tuple[str, ...]:
    """Write files one after the other.

    A file is put in place at once: it is there whole or not at all. Files that exist are left as
    they are unless `overwrite` says otherwise; links are never written through.

    Returns:
        A sentence for each file: written, replaced, added to, or left.

    Raises:
        UsageError: a file cannot be written; the sentences of those written before go with it.
    """
    told: list[str] = []
    for plan in plans:
        try:
            told.append(_write(plan, overwrite=overwrite))
        except OSError as error:
            reason = error.strerror or type(error).__name__
            told.append(f"{plain(plan.name)}: cannot be written: {reason}")
            raise UsageError("\n".join(told)) from None
    return tuple(told)


def _write(plan: Planned, *, overwrite: bool) -> str:
    path = plan.folder / plan.name
    name = plain(plan.name)
    if not path.parent.resolve().is_relative_to(plan.folder.resolve()):
        return f"{name}: left alone: a link leads out of the folder"
    if path.is_symlink():
        return f"{name}: left alone: it is a link"
    if path.exists() and not path.is_file():
        return f"{name}: left alone: it is no file"
    path.parent.mkdir(parents=True, exist_ok=True)
    if plan.how == "lines":
        return _add_lines(plan, path)
    if not path.exists():
        _put(path, plan.text.encode(), plan, new=True)
        return f"{name}: written"
    if path.read_bytes() == plan.text.encode():
        return f"{name}: is there already, the same"
    if not overwrite:
        return f"{name}: left as it is: it exists (--overwrite replaces it)"
    _put(path, plan.text.encode(), plan, new=False)
    return f"{name}: replaced"


def _add_lines(plan: Planned, path: Path) -> str:
    name = plain(plan.name)
    old = path.read_bytes() if path.exists() else b""
    newline = b"\r\n" if b"\r\n" in old else b"\n"
    known = {line.strip() for line in old.split(b"\n")}
    wanted = plan.text.encode().splitlines()
    missing = [line for line in wanted if line.strip() not in known]
    if all(line.startswith(b"#") for line in missing):
        return f"{name}: has all these lines already"
    gap = newline if old and not old.endswith(b"\n") else b""
    added = b"".join(line + newline for line in missing)
    _put(path, old + gap + added, plan, new=not path.exists())
    count = sum(not line.startswith(b"#") for line in missing)
    return f"{name}: {count} lines added" if old else f"{name}: written"


def _put(path: Path, data: bytes, plan: Planned, *, new: bool) -> None:
    """Write beside the place and move there; a new file never goes over one that came since."""
    mode = 0o777 if plan.executable else 0o666
    if not new:
        mode = stat.S_IMODE(path.stat().st_mode) | (0o111 if plan.executable else 0)
    temporary = path.with_name(f".{path.name}.{os.getpid()}")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    fd = os.open(temporary, flags, mode)
    try:
        with os.fdopen(fd, "wb") as file:
            file.write(data)
        if not new:
            temporary.chmod(mode)
            temporary.replace(path)
        elif hasattr(os, "link"):
            _place(temporary, path)
        else:
            temporary.rename(path)
    finally:
        temporary.unlink(missing_ok=True)


def _place(temporary: Path, path: Path) -> None:
    """Give a file its name unless the name is taken.

    Raises:
        FileExistsError: it is.
    """
    try:
        path.hardlink_to(temporary)
    except FileExistsError:
        raise
    except OSError:
        # File systems without hard links.
        if path.exists():
            raise
        temporary.rename(path)

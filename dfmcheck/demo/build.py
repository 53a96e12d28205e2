"""Making the demo repository."""

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from dfmcheck.errors import KernelMissingError, UsageError
from dfmcheck.model.base import Value

if TYPE_CHECKING:
    from dfmcheck.demo.repository import DemoRepository
    from dfmcheck.demo.story import Chapter

CONFIG = "dfmcheck.toml"


class DemoCommit(Value, frozen=True):
    """One commit of the demo: `date` is ISO 8601, `story` what it does to the parts."""

    sha: str
    author: str
    date: str
    subject: str
    story: str


def is_demo(folder: Path) -> bool:
    """Whether a folder holds a demo repository made before: its last commit is the story's."""
    if not (folder / ".git").is_dir():
        return False
    from dfmcheck.demo.repository import DemoRepository, own_environment
    from dfmcheck.demo.story import chapters

    with own_environment():
        return DemoRepository.last_subject(folder) == chapters()[-1].subject


def make_demo(folder: Path) -> tuple[DemoCommit, ...]:
    """Make the demo repository, the same at every run.

    Args:
        folder: where; it must be empty or not there yet.

    Returns:
        The commits, oldest first.

    Raises:
        UsageError: the folder holds something, or git cannot work there.
        KernelMissingError: the geometry kernel cannot be loaded.
    """
    _refuse_occupied(folder)
    from dfmcheck.demo.repository import DemoRepository, own_environment
    from dfmcheck.demo.story import ATTRIBUTES, README, chapters

    told = chapters()
    files = _drawn()
    with own_environment():
        repository = DemoRepository(folder)
        try:
            repository.write("README.md", README.encode())
            repository.write(".gitattributes", ATTRIBUTES.encode())
            made = tuple(
                _commit(repository, chapter, exported)
                for chapter, exported in zip(told, files, strict=True)
            )
        except BaseException:
            repository.discard()
            raise
        repository.close()
    return made


def _commit(
    repository: "DemoRepository", chapter: "Chapter", exported: dict[str, bytes]
) -> DemoCommit:
    for before, after in chapter.renames:
        repository.rename(before, after)
    for path, data in exported.items():
        repository.write(path, data)
    repository.write(CONFIG, chapter.settings.text().encode())
    message = f"{chapter.subject}\n\nInvented for the demo of dfmcheck.\n"
    return DemoCommit(
        sha=repository.commit(chapter.author, chapter.date, message),
        author=chapter.author[0],
        date=chapter.date,
        subject=chapter.subject,
        story=chapter.story,
    )


def _refuse_occupied(folder: Path) -> None:
    try:
        occupied = folder.exists() and (not folder.is_dir() or any(folder.iterdir()))
    except OSError as error:
        msg = f"the folder {folder} cannot be looked at: {error.strerror or error}"
        raise UsageError(msg) from error
    if occupied:
        msg = f"{folder} is there and not empty; name another folder, or remove it first"
        raise UsageError(msg)


@cache
def _drawn() -> tuple[dict[str, bytes], ...]:
    """The STEP files of each chapter, by path."""
    try:
        from OCP import gp  # noqa: F401  asked for first, so that a missing library is named
    except ImportError as error:
        msg = (
            f"the geometry kernel cannot be loaded: {error}; on Debian and slim images "
            "`apt-get install libgl1` mends it"
        )
        raise KernelMissingError(msg) from error
    from dfmcheck.demo.story import NAMES, chapters
    from dfmcheck.demo.writing import step_bytes

    return tuple(
        {
            path: step_bytes(e.drawing, NAMES[path], e.day, exporter=e.exporter)
            for path, e in chapter.exports.items()
        }
        for chapter in chapters()
    )

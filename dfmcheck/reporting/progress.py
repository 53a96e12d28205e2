"""Progress on stderr while parts are read, only where somebody watches a terminal."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from dfmcheck.reporting.sanitise import clean

Advance = Callable[[int, int, str], None]


@contextmanager
def show_progress(stream: TextIO | None = None) -> Iterator[Advance]:
    """Give a function to be called with (done, total, name of the file just answered).

    Nothing is shown, and rich is not imported, unless the stream (stderr) is a terminal and
    something is indeed being read.
    """
    where = stream if stream is not None else sys.stderr
    if not where.isatty():
        yield _silent
        return
    bar = _Bar(where)
    try:
        yield bar.advance
    finally:
        bar.close()


def _silent(done: int, total: int, name: str) -> None:
    del done, total, name


class _Bar:
    """A bar that appears with the first file and leaves no trace."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._close: Callable[[], None] | None = None
        self._update: Callable[[int, int, str], None] = self._open

    def advance(self, done: int, total: int, name: str) -> None:
        """Show that `done` of `total` files are answered."""
        self._update(done, total, clean(name, 40))

    def close(self) -> None:
        """Take the bar away."""
        if self._close is not None:
            self._close()

    def _open(self, done: int, total: int, name: str) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

        console = Console(file=self._stream, markup=False, highlight=False, emoji=False)
        progress = Progress(
            TextColumn("reading"),
            BarColumn(bar_width=20),
            MofNCompleteColumn(),
            TextColumn("{task.description}", markup=False),
            console=console,
            transient=True,
        )
        progress.start()
        task = progress.add_task("", total=total)

        def update(done: int, total: int, name: str) -> None:
            progress.update(task, completed=done, total=total, description=name)

        self._close = progress.stop
        self._update = update
        update(done, total, name)

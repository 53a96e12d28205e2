"""Options that several commands share, and where their reports go."""

import os
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, TypeVar

import click

from dfmcheck.app.managing import ManagerMaker
from dfmcheck.model.report import RunReport

F = TypeVar("F", bound=Callable[..., Any])

COLOUR = click.option(
    "--colour/--no-colour",
    default=None,
    help="Colour in the terminal (default: if it is one).",
)

_OPTIONS = (
    click.option(
        "--report",
        "reports",
        multiple=True,
        metavar="FORMAT=PATH",
        help="Write a report as text or json (or a plugin's format); - is stdout. Repeatable.",
    ),
    click.option(
        "--stage",
        type=click.Choice(["request", "order"]),
        help="Also judge, for every part, whether what a shop needs is complete.",
    ),
    click.option(
        "--draft",
        is_flag=True,
        help="Print drafts of permits and callouts for dfmcheck.toml; nothing is written.",
    ),
    click.option(
        "--cache",
        type=click.Path(path_type=Path, file_okay=False),
        help="Folder of the cache (default: DFMCHECK_CACHE, or the user's cache folder).",
    ),
    click.option("--no-cache", is_flag=True, help="Neither read nor write the cache."),
    click.option("--workers", type=click.IntRange(1, 64), help="STEP files read at once."),
    click.option(
        "--seconds",
        type=click.FloatRange(1, 86400),
        default=120.0,
        show_default=True,
        help="Time limit for reading one STEP file.",
    ),
    click.option(
        "--memory-mb",
        type=click.IntRange(512, 1 << 20),
        default=4096,
        show_default=True,
        help="Memory limit for reading one STEP file.",
    ),
    click.option("--today", metavar="DATE", help="Judge permits as on this day (2026-03-14)."),
    COLOUR,
)


def analysing(function: F) -> F:
    """Options of every command that analyses parts."""
    for option in reversed(_OPTIONS):
        function = option(function)
    return function


def common(where: Path, shared: dict[str, Any]) -> dict[str, Any]:
    """Arguments for `Options`.

    Raises:
        click.BadParameter: `--today` is no date.
    """
    return {
        "where": where,
        "today": _today(shared["today"]),
        "stage": shared["stage"],
        "cache": shared["cache"],
        "use_cache": not shared["no_cache"],
        "workers": shared["workers"],
        "seconds": shared["seconds"],
        "memory_mb": shared["memory_mb"],
    }


def _today(text: str | None) -> date:
    if text is None:
        return datetime.now(tz=UTC).date()
    try:
        return date.fromisoformat(text)
    except ValueError:
        msg = f"{text!r} is not a date; write it as 2026-03-14"
        raise click.BadParameter(msg, param_hint="--today") from None


def width() -> int:
    """Columns of the terminal, between 60 and 120; 80 where there is none."""
    import shutil

    return max(60, min(120, shutil.get_terminal_size((80, 24)).columns))


def colour_wanted(asked: bool | None) -> bool:
    """Whether to write terminal codes: as asked, else on a terminal without NO_COLOR."""
    if asked is not None:
        return asked
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")


class Output:
    """Where the reports of a run go."""

    def __init__(self, shared: dict[str, Any]) -> None:
        """Understand `--report`.

        Raises:
            UsageError: a value is not FORMAT=PATH.
        """
        from dfmcheck.reporting.registry import parse_targets

        self.targets = parse_targets(shared["reports"])
        self.colour = colour_wanted(shared["colour"])
        self.draft = bool(shared["draft"])

    def maker(self) -> ManagerMaker:
        """A maker of plugin managers that checks `--report` as soon as plugins are known.

        So an unknown format or a path that cannot be written is refused before parts are read.
        """
        maker = ManagerMaker()
        if self.targets:
            maker.when_made = self._check
        return maker

    def _check(self, maker: ManagerMaker) -> None:
        from dfmcheck.reporting.registry import check_targets

        check_targets(self.targets, maker.reporters())

    def progress(self) -> AbstractContextManager[Callable[[int, int, str], None]]:
        """Progress on stderr where somebody watches."""
        from dfmcheck.reporting.progress import show_progress

        return show_progress()

    def write(self, runs: tuple[RunReport, ...], maker: ManagerMaker, today: date) -> int:
        """Write all reports and give the exit status of the runs together."""
        from dfmcheck.checking.verdict import worst_status

        if self.targets:
            from dfmcheck.reporting.registry import write_targets

            write_targets(self.targets, runs, maker.reporters(), width=width())
        taken = any(t.path == "-" for t in self.targets)
        if not taken:
            from dfmcheck.reporting.text import render_text

            for run in runs:
                _print(render_text(run, width=width(), colour=self.colour))
        if self.draft:
            self._drafts(runs, maker, today, to_stderr=taken)
        return worst_status(r.exit_status for r in runs)

    def _drafts(
        self, runs: tuple[RunReport, ...], maker: ManagerMaker, today: date, *, to_stderr: bool
    ) -> None:
        from dfmcheck.app.drafting import drafts
        from dfmcheck.checking.registry import collect_rules

        rules = collect_rules(maker.last) if maker.last is not None else ()
        click.echo(drafts(runs, rules, today), err=to_stderr)


def _print(text: str) -> None:
    """Print text that may hold letters the terminal's encoding lacks."""
    sys.stdout.flush()
    encoding = sys.stdout.encoding or "utf-8"
    data = text.encode(encoding, "backslashreplace")
    sys.stdout.buffer.write(data if data.endswith(b"\n") else data + b"\n")
    sys.stdout.buffer.flush()

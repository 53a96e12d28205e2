"""The commands and their options."""

import os
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, TypeVar

import click

from dfmcheck import __version__

F = TypeVar("F", bound=Callable[..., Any])


def _today(text: str | None) -> date:
    if text is None:
        return datetime.now(tz=UTC).date()
    try:
        return date.fromisoformat(text)
    except ValueError:
        msg = f"{text!r} is not a date; write it as 2026-03-14"
        raise click.BadParameter(msg, param_hint="--today") from None


def _shared(function: F) -> F:
    """Options of every command that analyses parts."""
    for option in reversed(
        (
            click.option(
                "--report", "reports", multiple=True, metavar="FORMAT=PATH",
                help="Write a report as text or json (or a plugin's format); - is stdout. Repeatable.",
            ),
            click.option("--stage", type=click.Choice(["request", "order"]), help="Also judge whether what a shop needs is complete."),
            click.option("--cache", type=click.Path(path_type=Path, file_okay=False), envvar="DFMCHECK_CACHE", help="Folder of the cache."),
            click.option("--no-cache", is_flag=True, help="Neither read nor write the cache."),
            click.option("--workers", type=click.IntRange(1, 64), help="Kernel processes at once."),
            click.option("--seconds", type=click.FloatRange(1, 86400), default=120.0, show_default=True, help="Time limit for reading one STEP file."),
            click.option("--memory-mb", type=click.IntRange(512, 1 << 20), default=4096, show_default=True, help="Memory limit for reading one STEP file."),
            click.option("--today", metavar="DATE", help="Judge permits as on this day (2026-03-14)."),
            click.option("--draft", is_flag=True, help="Print drafts of permits and callouts for dfmcheck.toml; nothing is written."),
            click.option("--colour/--no-colour", default=None, help="Colour in the terminal (default: if it is one)."),
        )
    ):  # fmt: skip
        function = option(function)
    return function


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, "--version", prog_name="dfmcheck")
@click.option(
    "-C", "where", type=click.Path(path_type=Path), default=Path(), metavar="FOLDER",
    help="Work as if started in this folder.",
)  # fmt: skip
@click.pass_context
def cli(context: click.Context, where: Path) -> None:
    """Check the machined parts of a git repository at every revision.

    \b
    dfmcheck gate                 what changed since the last commit, judged
    dfmcheck gate main            the same against a branch
    dfmcheck part cad/pin.step    one part: features, stock, process, findings
    dfmcheck rules deep-hole      what a rule costs in the shop and why
    dfmcheck demo                 an invented repository to try it on

    Exit status: 0 release, 1 fault of the tool or a plugin, 2 wrong use or configuration,
    3 hold, 4 a part could not be judged.
    """
    context.obj = where


@cli.command()
@click.argument("revisions", nargs=-1, metavar="[BASE | BASE..HEAD | BASE HEAD]")
@click.option("--staged", is_flag=True, help="The index against the last commit (for a pre-commit hook).")
@click.option("--pre-push", "pre_push", is_flag=True, help="Read the ranges being pushed from stdin (for a pre-push hook).")
@click.option("--all", "every", is_flag=True, help="Judge the parts that did not change as well.")
@_shared
@click.pass_obj
def gate(where: Path, revisions: tuple[str, ...], staged: bool, pre_push: bool, every: bool, **shared: Any) -> int:
    """Compare two revisions, judge what changed, and hold if a limit is passed.

    With no revision named: what differs from the last commit, or the last commit against its
    first parent; in a recognised CI what its event says. Both sides are always printed.

    \b
    dfmcheck gate
    dfmcheck gate v1.2 --report json=report.json
    dfmcheck gate --staged
    dfmcheck gate main...HEAD --stage request
    """
    from dfmcheck.app.gate import ManagerMaker, run_gate
    from dfmcheck.app.options import GateOptions

    if staged and (revisions or pre_push):
        msg = "--staged compares the index with the last commit; name no revisions besides"
        raise click.UsageError(msg)
    if pre_push and revisions:
        msg = "--pre-push takes its revisions from stdin; name none besides"
        raise click.UsageError(msg)
    output = _Output(shared)
    pushed = sys.stdin.buffer.read().decode("utf-8", "surrogateescape") if pre_push else None
    with output.progress() as progress:
        options = GateOptions(
            **_common(where, shared), progress=progress, revisions=revisions, staged=staged,
            every=every, pushed=pushed, environ=tuple(sorted(os.environ.items())),
        )  # fmt: skip
        maker = ManagerMaker()
        runs = run_gate(options, maker)
    return output.write(runs, maker)


@cli.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@_shared
@click.pass_obj
def part(where: Path, files: tuple[str, ...], **shared: Any) -> int:
    """Look at single STEP files: features, stock, process, findings.

    A file is a path, or REVISION:PATH for a file of a commit.

    \b
    dfmcheck part cad/pin.step
    dfmcheck part HEAD~3:cad/pin.step --report json=-
    """
    from dfmcheck.app.gate import ManagerMaker
    from dfmcheck.app.options import Options
    from dfmcheck.app.single import run_part

    output = _Output(shared)
    with output.progress() as progress:
        maker = ManagerMaker()
        run = run_part(files, Options(**_common(where, shared), progress=progress), maker)
    return output.write((run,), maker)


@cli.command()
@click.argument("name", required=False)
@click.option("--colour/--no-colour", default=None, help="Colour in the terminal (default: if it is one).")
@click.pass_obj
def rules(where: Path, name: str | None, colour: bool | None) -> int:
    """List the rules, or explain one: what it costs in the shop, why, its limit and the source."""
    from dfmcheck.app.gate import ManagerMaker
    from dfmcheck.app.rules import explain_rules
    from dfmcheck.reporting.rules_text import render_rules

    explained = explain_rules(where, name, ManagerMaker())
    click.echo(render_rules(explained, single=name is not None, width=_width(), colour=_colour(colour)))
    return 0


@cli.command()
@click.option("--ci", type=click.Choice(["github"]), help="Also write a CI workflow.")
@click.option("--hook", type=click.Choice(["pre-commit", "pre-push"]), help="Also write a git hook.")
@click.option("--attributes", is_flag=True, help="Also write .gitattributes lines that keep STEP bytes as they are.")
@click.option("--overwrite", is_flag=True, help="Replace files that exist.")
@click.pass_obj
def init(where: Path, ci: str | None, hook: str | None, attributes: bool, overwrite: bool) -> int:
    """Write a commented starter configuration; nothing is overwritten unasked."""
    from dfmcheck.app.starting import start

    for line in start(where, ci=ci, hook=hook, attributes=attributes, overwrite=overwrite):
        click.echo(line)
    return 0


@cli.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("dfmcheck-demo"))
@click.option("--make-only", is_flag=True, help="Make the repository and run nothing on it.")
@click.option("--colour/--no-colour", default=None, help="Colour in the terminal (default: if it is one).")
@click.pass_obj
def demo(where: Path, folder: Path, make_only: bool, colour: bool | None) -> int:
    """Make an invented repository of lamp parts and run the gate over its last revision."""
    from dfmcheck.app.demonstration import demonstrate

    return demonstrate(where / folder, make_only=make_only, width=_width(), colour=_colour(colour), say=click.echo)


def _common(where: Path, shared: dict[str, Any]) -> dict[str, Any]:
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


def _width() -> int:
    import shutil

    return max(60, min(120, shutil.get_terminal_size((80, 24)).columns))


def _colour(asked: bool | None) -> bool:
    if asked is not None:
        return asked
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")


class _Output:
    """Where the reports of a run go."""

    def __init__(self, shared: dict[str, Any]) -> None:
        from dfmcheck.reporting.registry import parse_targets

        self.targets = parse_targets(shared["reports"])
        self.colour = _colour(shared["colour"])
        self.draft = bool(shared["draft"])

    @property
    def stdout_taken(self) -> bool:
        return any(t.path == "-" for t in self.targets)

    def progress(self) -> Any:
        from dfmcheck.reporting.progress import show_progress

        return show_progress()

    def write(self, runs: tuple[Any, ...], maker: Any) -> int:
        from dfmcheck.checking.verdict import worst
        from dfmcheck.reporting.registry import write_targets
        from dfmcheck.reporting.text import render_text

        write_targets(self.targets, runs, maker.reporters(), width=_width())
        if not self.stdout_taken:
            for run in runs:
                click.echo(render_text(run, width=_width(), colour=self.colour), color=self.colour)
        if self.draft:
            from dfmcheck.app.drafting import drafts

            click.echo(drafts(runs), err=self.stdout_taken)
        return worst(tuple(r.exit_status for r in runs))

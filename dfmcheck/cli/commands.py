"""The commands and their options."""

import os
import sys
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any, Literal

import click

from dfmcheck import __version__
from dfmcheck.app.managing import ManagerMaker
from dfmcheck.cli.shared import COLOUR, Output, analysing, colour_wanted, common, width


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, "--version", prog_name="dfmcheck")
@click.option(
    "-C",
    "where",
    type=click.Path(path_type=Path),
    default=Path(),
    metavar="FOLDER",
    help="Work as if started in this folder.",
)
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
    if not where.is_dir():
        msg = f"{str(where)!r} is not a folder"
        raise click.BadParameter(msg, param_hint="-C")
    context.obj = where


@cli.command()
@click.argument("revisions", nargs=-1, metavar="[BASE | BASE..HEAD | BASE...HEAD | BASE HEAD]")
@click.option(
    "--staged", is_flag=True, help="The last commit against the index (for a pre-commit hook)."
)
@click.option(
    "--pre-push",
    "remote",
    metavar="REMOTE",
    help="Read the ranges being pushed to this remote from stdin (for a pre-push hook).",
)
@click.option("--all", "every", is_flag=True, help="Judge the parts that did not change as well.")
@click.option(
    "--base-policy",
    is_flag=True,
    help="Judge by the base's limits, permits and plugins, as for a change from a fork.",
)
@analysing
@click.pass_obj
def gate(
    where: Path,
    /,
    revisions: tuple[str, ...],
    staged: bool,
    remote: str | None,
    every: bool,
    base_policy: bool,
    **shared: Any,
) -> int:
    """Compare two revisions, judge what changed, and hold if a limit is passed.

    With no revision named: what differs from the last commit, or the last commit against its
    first parent; in a recognised CI what its event says. Both sides are always printed.

    \b
    dfmcheck gate
    dfmcheck gate v1.2 --report json=report.json
    dfmcheck gate --staged
    dfmcheck gate main...HEAD --stage request
    """
    from dfmcheck.app.gate import run_gate
    from dfmcheck.app.options import GateOptions

    if staged and (revisions or remote is not None):
        msg = "--staged compares the index with the last commit: name no revisions with it"
        raise click.UsageError(msg)
    if remote is not None and revisions:
        msg = "--pre-push takes its revisions from stdin: name none with it"
        raise click.UsageError(msg)
    output = Output(shared)
    maker = output.maker()
    pushed = None
    if remote is not None:
        pushed = sys.stdin.buffer.read().decode("utf-8", "surrogateescape")
    with output.progress() as progress:
        options = GateOptions(
            **common(where, shared),
            progress=progress,
            revisions=revisions,
            staged=staged,
            every=every,
            base_policy=base_policy,
            pushed=pushed,
            remote=remote or "",
            environ=tuple(sorted(os.environ.items())),
        )
        with redirect_stdout(sys.stderr):  # a plugin that prints must not spoil a report
            runs = run_gate(options, maker)
    if not runs:
        click.echo("dfmcheck: nothing to compare: this push only deletes", err=True)
    return output.write(runs, maker, options.today)


@cli.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@analysing
@click.pass_obj
def part(where: Path, /, files: tuple[str, ...], **shared: Any) -> int:
    """Look at single STEP files: features, stock, process, findings.

    A file is a path, or REVISION:PATH for a file of a commit. Every finding counts, since there
    is nothing to compare with.

    \b
    dfmcheck part cad/pin.step
    dfmcheck part HEAD~3:cad/pin.step --report json=-
    """
    from dfmcheck.app.options import Options
    from dfmcheck.app.single import run_part

    output = Output(shared)
    maker = output.maker()
    with output.progress() as progress:
        options = Options(**common(where, shared), progress=progress)
        with redirect_stdout(sys.stderr):
            run = run_part(files, options, maker)
    return output.write((run,), maker, options.today)


@cli.command()
@click.argument("name", required=False)
@COLOUR
@click.pass_obj
def rules(where: Path, name: str | None, colour: bool | None) -> int:
    """List the rules, or explain one: what it costs in the shop, why, its limit and the source.

    \b
    dfmcheck rules
    dfmcheck rules inside-corner-radius
    """
    from dfmcheck.app.rules import explain_rules
    from dfmcheck.reporting.rules_text import render_rules

    explained = explain_rules(where, name, ManagerMaker())
    wide, coloured = width(), colour_wanted(colour)
    single = name is not None
    click.echo(render_rules(explained, single=single, width=wide, colour=coloured), nl=False)
    return 0


@cli.command()
@click.option("--ci", type=click.Choice(["github"]), help="Also write a CI workflow.")
@click.option(
    "--hook", type=click.Choice(["pre-commit", "pre-push"]), help="Also write a git hook."
)
@click.option(
    "--attributes",
    is_flag=True,
    help="Also write .gitattributes lines that keep the bytes of STEP files.",
)
@click.option("--overwrite", is_flag=True, help="Replace files that exist.")
@click.pass_obj
def init(
    where: Path,
    ci: str | None,
    hook: Literal["pre-commit", "pre-push"] | None,
    attributes: bool,
    overwrite: bool,
) -> int:
    """Write a commented starter configuration; nothing is overwritten unasked.

    \b
    dfmcheck init
    dfmcheck init --ci github --hook pre-push --attributes
    """
    from dfmcheck.app.starting import start

    asked = ci is not None
    for line in start(where, ci=asked, hook=hook, attributes=attributes, overwrite=overwrite):
        click.echo(line)
    return 0


@cli.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("dfmcheck-demo"))
@click.option("--make-only", is_flag=True, help="Make the repository and run nothing on it.")
@COLOUR
@click.pass_obj
def demo(where: Path, folder: Path, make_only: bool, colour: bool | None) -> int:
    """Make an invented repository of lamp parts and run the gate over its last revision.

    Leaves with 0 although the gate holds, since that is what the demo shows.
    """
    from dfmcheck.app.demonstration import demonstrate

    wide, coloured = width(), colour_wanted(colour)
    return demonstrate(where / folder, make_only=make_only, width=wide, colour=coloured)

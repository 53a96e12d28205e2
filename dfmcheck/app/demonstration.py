"""`dfmcheck demo`: an invented repository, and the gate over its last revision."""

import shlex
import sys
from datetime import UTC, datetime
from pathlib import Path

from dfmcheck.app.gate import run_gate
from dfmcheck.app.managing import ManagerMaker
from dfmcheck.app.options import GateOptions


def demonstrate(folder: Path, *, make_only: bool, width: int, colour: bool) -> int:
    """Make the demo repository and show its story and the gate's report.

    Returns:
        0 where the gate came to a verdict, whatever it is; its status otherwise.

    Raises:
        UsageError: the folder is not empty or cannot be written.
        KernelMissingError: the kernel, which makes the parts, cannot be loaded.
    """
    from dfmcheck.demo.build import is_demo, make_demo
    from dfmcheck.reporting.text import render_text

    if is_demo(folder):
        _say(f"{folder} holds the invented repository already; it is used as it is.")
    else:
        _say("Making an invented repository of desk lamp parts; this takes some seconds.\n")
        for commit in make_demo(folder):
            _say(f"  {commit.sha[:7]}  {commit.date[:10]}  {commit.subject}")
    if make_only:
        return 0
    options = GateOptions(
        where=folder, today=datetime.now(tz=UTC).date(), revisions=("HEAD~1", "HEAD")
    )
    _say(f"\n$ cd {shlex.quote(str(folder))} && dfmcheck gate HEAD~1 HEAD\n")
    (run,) = run_gate(options, ManagerMaker())
    _say(render_text(run, width=width, colour=colour))
    _say(
        "All of this is invented: parts, names, dates, limits. Try next, in that folder:\n"
        "  dfmcheck gate HEAD~3 HEAD~2    dfmcheck part cad/*.step    dfmcheck rules"
    )
    return 0 if run.exit_status in (0, 3) else run.exit_status


def _say(text: str) -> None:
    data = text.encode(sys.stdout.encoding or "utf-8", "backslashreplace")
    sys.stdout.flush()
    sys.stdout.buffer.write(data + b"\n")
    sys.stdout.buffer.flush()

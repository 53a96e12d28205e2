"""Progress is for a terminal and for nothing else."""

import io
import subprocess
import sys

from dfmcheck.reporting.progress import show_progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_nothing_is_shown_where_nobody_watches() -> None:
    stream = io.StringIO()
    with show_progress(stream) as advance:
        advance(1, 3, "a.step")
    assert stream.getvalue() == ""


def test_a_terminal_sees_how_far_it_is_and_harmless_names() -> None:
    stream = Terminal()
    with show_progress(stream) as advance:
        advance(1, 3, "[red]cad/pin\x1b]0;x\x07.step")
        advance(3, 3, "cad/base.step")
    shown = stream.getvalue()
    assert "3/3" in shown
    assert "\x1b]0" not in shown


def test_a_terminal_stays_clean_where_nothing_is_read() -> None:
    stream = Terminal()
    with show_progress(stream):
        pass
    assert stream.getvalue() == ""


def test_rich_is_not_imported_for_json_or_silence() -> None:
    script = (
        "import sys\n"
        "from dfmcheck.reporting import registry, text, json_report, progress, rules_text\n"
        "from dfmcheck.model.report import RunReport\n"
        "run = RunReport(command='gate', verdict='release', exit_status=0, parts=())\n"
        "registry.write_targets(registry.parse_targets(('json=-',)), (run,))\n"
        "with progress.show_progress() as advance: advance(1, 1, 'a')\n"
        "assert not {'rich', 'numpy', 'OCP', 'git'} & set(sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr

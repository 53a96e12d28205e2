"""The text report: readable at 80 columns and without colour, the most important first."""

from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.reporting.sheet.head import set_head
from dfmcheck.reporting.sheet.paper import Paper
from dfmcheck.reporting.sheet.part import set_part
from dfmcheck.reporting.sheet.rest import set_brief, set_rest, told_briefly

NARROWEST = 60

_ORDER = ("changed", "configuration", "added", "renamed", "removed", "re-exported", "unchanged")


def render_text(report: RunReport, *, width: int = 80, colour: bool = False) -> str:
    """A run as text, ending with a newline.

    Args:
        report: the run.
        width: columns to wrap to, at least 60.
        colour: write terminal codes: bold, and one hue for what changed in this revision.
    """
    paper = Paper(max(width, NARROWEST), colour)
    set_head(paper, report)
    single = report.command == "part"
    parts = list(report.parts) if single else sorted(report.parts, key=_importance)
    brief = [] if single else [p for p in parts if told_briefly(p)]
    for part in parts:
        if part not in brief:
            set_part(paper, part, single=single)
    set_brief(paper, brief)
    set_rest(paper, report)
    return paper.text()


def _importance(report: PartReport) -> tuple[object, ...]:
    levels = {"error": 0, "warning": 1, "note": 2}
    held = sum(f.holds for f in report.findings)
    unjudged = report.not_read is not None or bool(report.doubts)
    worst = min((levels[f.level] for f in report.findings if f.state == "new"), default=3)
    status = _ORDER.index(report.status) if report.status in _ORDER else 0
    return (not held, not unjudged, worst, status, -held, report.file, report.number)

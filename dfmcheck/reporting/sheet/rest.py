"""What stands below the parts: parts told in a line, permits, what was not checked, cautions."""

from dfmcheck.checking.permits import EXPLANATION
from dfmcheck.model.finding import NotChecked
from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.reporting.sanitise import clean
from dfmcheck.reporting.sheet.paper import Cell, Paper
from dfmcheck.reporting.sheet.words import listed

_PERMIT_ORDER = (
    "exceeded", "expired", "no-such-part", "no-such-limit", "unused", "used", "not-looked-at",
)  # fmt: skip


def set_brief(paper: Paper, reports: list[PartReport]) -> None:
    """Parts about which there is one thing to say, a line each, grouped by what it is."""
    for status, heading in (
        ("removed", "Removed"),
        ("renamed", "Renamed, the same shape"),
        ("re-exported", "Re-exported: other bytes, the same shape, nothing to judge"),
        ("unchanged", "Looked at and the same"),
    ):
        chosen = [r for r in reports if r.status == status]
        if not chosen:
            continue
        paper.blank()
        paper.heading(heading)
        rows: list[tuple[Cell, ...]] = [
            (clean(r.number, 40), clean(r.name, 40), _paths(r)) for r in chosen
        ]
        paper.table(rows)


def _paths(report: PartReport) -> str:
    if report.former_file is None or report.former_file == report.file:
        return clean(report.file, 120)
    return f"{clean(report.former_file, 120)} -> {clean(report.file, 120)}"


def set_rest(paper: Paper, run: RunReport) -> None:
    """Everything below the parts."""
    _not_checked(paper, run.not_checked)
    _permits(paper, run)
    _undecided(paper, run)
    if run.notes:
        paper.blank()
        for note in run.notes:
            paper.item("Note:", clean(note, 1000))
    if run.cautions:
        paper.blank()
        for caution in run.cautions:
            paper.line(clean(caution, 1000))


def _not_checked(paper: Paper, failed: tuple[NotChecked, ...]) -> None:
    if not failed:
        return
    paper.blank()
    paper.heading("Not checked, which is not the same as passed")
    groups: dict[tuple[str, str, str], list[str]] = {}
    for one in failed:
        groups.setdefault((one.rule, one.plugin, one.reason), []).append(one.part)
    for (rule, plugin, reason), parts in groups.items():
        origin = f" of {clean(plugin, 80)}" if plugin else ""
        names = [clean(p, 60) for p in parts[:5] if p]
        more = [f"{len(parts) - 5} more"] if len(parts) > 5 else []
        where = f" on {listed([*names, *more])}" if names else ""
        paper.item("-", f"{clean(rule, 80)}{origin}{where}: {clean(reason, 500)}", indent=2)


def _permits(paper: Paper, run: RunReport) -> None:
    told = [p for p in run.permits if p.state != "not-looked-at"]
    if not told:
        return
    paper.blank()
    paper.heading("Permits")
    paper.line(f"({EXPLANATION})", indent=2)
    for state in sorted(told, key=lambda p: _PERMIT_ORDER.index(p.state)):
        permit, text = state.permit, state.text
        if state.state == "used":
            text = f"{permit.part}, {permit.limit}, until {permit.until}; told with its finding"
        paper.item(state.state, clean(text, 1000), indent=2, room=14)


def _undecided(paper: Paper, run: RunReport) -> None:
    rows: list[tuple[Cell, ...]] = []
    bare: list[str] = []
    for report in run.parts:
        part = report.part
        if part is None:
            continue
        if part.entry is None:
            bare.append(clean(report.number, 40))
        elif part.entry.make == "machined":
            missing = _missing(report)
            if missing:
                rows.append((clean(report.number, 40), listed(missing)))
    if not rows and not bare:
        return
    paper.blank()
    paper.heading("Undecided")
    if bare:
        named = listed([*bare[:6], *([f"{len(bare) - 6} more"] if len(bare) > 6 else [])])
        verb = "has no entry" if len(bare) == 1 else "have no entry"
        text = f"{named} {verb} in dfmcheck.toml: judged with the defaults, stock as for aluminium"
        paper.line(text, indent=2)
    if rows:
        paper.table(rows)


def _missing(report: PartReport) -> list[str]:
    entry = report.part.entry if report.part is not None else None
    if entry is None:
        return []
    missing = []
    if not entry.material:
        missing.append("material")
    if not entry.finish:
        missing.append("finish")
    if not entry.letter:
        missing.append("revision letter")
    return missing


def told_briefly(report: PartReport) -> bool:
    """Whether one line says all there is about a part."""
    if report.findings or report.doubts or report.not_read or report.notes:
        return False
    if report.former_not_read is not None:
        return False
    if report.status in ("removed", "re-exported", "unchanged"):
        return not report.comparison or not report.comparison.changes
    if report.status == "renamed":
        return report.comparison is not None and not report.comparison.changes
    return False

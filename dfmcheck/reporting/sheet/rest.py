"""What stands below the parts: parts told in a line, permits, what was not checked, cautions."""

from dfmcheck.checking.permits import EXPLANATION
from dfmcheck.model.finding import NotChecked
from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.reporting.sanitise import clean
from dfmcheck.reporting.sheet.findings import told_at_the_end, told_with_the_part
from dfmcheck.reporting.sheet.paper import Cell, Paper
from dfmcheck.reporting.sheet.words import count, listed

_PERMIT_ORDER = (
    "exceeded", "expired", "no-such-part", "no-such-limit", "unused", "used", "not-looked-at",
)  # fmt: skip

MOST_BESIDE = 24
"""Longest names beside which there is room for a sentence."""


def set_brief(paper: Paper, reports: list[PartReport]) -> None:
    """Parts about which there is one thing to say, a line each, grouped by what it is."""
    for status, heading in (
        ("removed", "Removed"),
        ("renamed", "Renamed, the same shape"),
        ("re-exported", "Re-exported: other bytes, the same shape"),
        ("unchanged", "Looked at and the same"),
    ):
        chosen = [r for r in reports if r.status == status]
        if not chosen:
            continue
        paper.blank()
        paper.heading(heading)
        rows: list[tuple[Cell, ...]] = [(clean(r.number, 40), _name(r), _paths(r)) for r in chosen]
        if not any(name for _, name, _ in rows):
            rows = [(number, paths) for number, _, paths in rows]
        paper.table(rows)
        _small_print(paper, chosen)


def _small_print(paper: Paper, reports: list[PartReport]) -> None:
    """Under parts told in a line: what to do if they should not be gone, what is as it was."""
    findings = [f for r in reports for f in told_with_the_part(r.findings)]
    if reports[0].status == "removed":
        for advice in dict.fromkeys(f.advice for f in findings if f.advice):
            paper.line(f"({clean(advice, 600)})", indent=2)
    elif findings:
        n = len(findings)
        verb = "was" if n == 1 else "were"
        told = f"{count(n, 'finding')} {verb} there before; `dfmcheck part FILE` tells"
        paper.line(f"({told} {'it' if n == 1 else 'them'})", indent=2)


def _name(report: PartReport) -> str:
    name = clean(report.name, 40)
    return "" if f"/{report.number}".endswith(f"/{name}") else name


def _paths(report: PartReport) -> str:
    if report.former_file is None or report.former_file == report.file:
        return clean(report.file, 120)
    return f"{clean(report.former_file, 120)} -> {clean(report.file, 120)}"


def set_rest(paper: Paper, run: RunReport) -> None:
    """Everything below the parts."""
    _not_checked(paper, run.not_checked)
    _permits(paper, run)
    _missing(paper, run)
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


def _missing(paper: Paper, run: RunReport) -> None:
    """What a shop would still have to ask, parts that lack the same together."""
    bare: list[str] = []
    lacking: dict[str, list[str]] = {}
    for report in run.parts:
        if report.part is None:
            continue
        number = clean(report.number, 40)
        if report.part.entry is None:
            bare.append(number)
        said = _lacks(report)
        if said:
            lacking.setdefault("; ".join(said), []).append(number)
    if not bare and not lacking:
        return
    paper.blank()
    paper.heading("Before a request to a shop")
    if bare:
        verb = "has no entry" if len(bare) == 1 else "have no entry"
        text = f"{verb} in dfmcheck.toml: judged with the defaults, stock as for aluminium"
        paper.line(f"{_named(bare)} {text}", indent=2)
    if len(lacking) == 1 and list(lacking.values()) == [bare]:
        paper.line(next(iter(lacking)), indent=2)
        return
    rows: list[tuple[Cell, ...]] = [(_named(who), what) for what, who in lacking.items()]
    if all(len(_named(who)) <= MOST_BESIDE for who in lacking.values()):
        paper.table(rows)
        return
    for what, who in lacking.items():
        paper.line(f"{_named(who)}:", indent=2)
        paper.line(what, indent=4)


def _named(numbers: list[str]) -> str:
    more = [f"{len(numbers) - 6} more"] if len(numbers) > 6 else []
    return listed([*numbers[:6], *more])


def _lacks(report: PartReport) -> list[str]:
    entry = report.part.entry if report.part is not None else None
    said = []
    for finding in report.findings:
        if told_at_the_end(finding):
            text = clean(finding.message, 1000).removeprefix("Before a request to a shop: ")
            before = "as before: " if finding.state == "old" else ""
            said.append(f"{before}{text.rstrip('.')}")
    if entry is not None and entry.make == "machined" and not entry.letter:
        said.append("no revision letter is set")
    return said


def told_briefly(report: PartReport) -> bool:
    """Whether one line says all there is about a part.

    A part that is gone, moved or exported again is not judged anew: what was found in it before
    is counted.
    """
    if report.doubts or report.not_read or report.notes or report.former_not_read is not None:
        return False
    if report.comparison is not None and report.comparison.changes:
        return False
    if report.status == "removed":
        return not any(f.holds or f.permit for f in report.findings)
    if report.status not in ("renamed", "re-exported", "unchanged") or report.comparison is None:
        return report.status in ("re-exported", "unchanged") and not report.findings
    told = [f for f in report.findings if not told_at_the_end(f)]
    if report.status == "unchanged":
        return not told  # looked at because it was asked for
    return not any(f.holds or f.permit or f.state == "new" for f in told)

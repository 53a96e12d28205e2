"""One part of a run: what holds, the figures, the changes, the findings."""

from collections import Counter

from dfmcheck.checking.permits import describe as permit_words
from dfmcheck.model.change import Change
from dfmcheck.model.finding import Finding
from dfmcheck.model.part import Part
from dfmcheck.model.report import PartReport
from dfmcheck.reporting.sanitise import clean
from dfmcheck.reporting.sheet.features import grouped
from dfmcheck.reporting.sheet.figures import Row, table_rows
from dfmcheck.reporting.sheet.paper import BOLD, CHANGED, Cell, Paper
from dfmcheck.reporting.sheet.words import (
    PROCESS,
    area,
    count,
    directions,
    number,
    percent,
    sizes,
    stock,
    volume,
)

MOST_CHANGES = 12
"""Changes told at length; further ones are counted, and stand in the JSON report."""

MOST_MESSAGES = 8
"""Findings of one rule told at length."""

_STATUS = {
    "added": "new in this revision",
    "removed": "removed",
    "changed": "changed",
    "renamed": "renamed",
    "re-exported": "re-exported: another file, the same shape",
    "unchanged": "unchanged",
    "configuration": "same file, changed in the configuration",
    "unreadable": "not read",
}


def set_part(paper: Paper, report: PartReport, *, single: bool) -> None:
    """The section of one part; `single` for the command `part`, which compares nothing."""
    paper.blank()
    _title(paper, report, single)
    _reading(paper, report)
    holding = tuple(f for f in report.findings if f.holds)
    if report.part is not None and not single:
        _table(paper, table_rows(report.part, report.former, report.findings))
    _findings(paper, "Holds", holding)
    if report.part is not None and (single or report.former is None):
        set_facts(paper, report.part)
    if report.comparison is not None:
        _changes(paper, report.comparison.changes)
    others = tuple(f for f in report.findings if not f.holds)
    _findings(paper, "Also found" if holding else "Found", tuple(_by_weight(others)))
    for note in report.notes:
        paper.item("Note:", clean(note, 1000), indent=2)


def _title(paper: Paper, report: PartReport, single: bool) -> None:
    known = report.part or report.former
    entry = known.entry if known is not None else None
    number_ = clean(report.number, 60)
    if entry is not None and entry.letter:
        number_ += f" {clean(entry.letter, 10)}"
    name = clean(report.name, 80)
    title = number_ if not name or name == number_ else f"{number_}   {name}"
    paper.split(title, "" if single else _STATUS[report.status], style=BOLD)
    paper.line(_whereabouts(report))
    if known is not None:
        paper.line(_material(known))


def _whereabouts(report: PartReport) -> str:
    file = clean(report.file, 160)
    if report.former_file is not None and report.former_file != report.file:
        return f"{file}, formerly {clean(report.former_file, 160)}"
    return file


def _material(part: Part) -> str:
    entry = part.entry
    if entry is not None and entry.make != "machined":
        return f"{entry.make}: not judged as a machined part"
    material = clean(entry.material, 80) if entry is not None and entry.material else ""
    finish = ", ".join(clean(f, 60) for f in entry.finish) if entry is not None else ""
    said = material or "material undecided"
    return f"{said}, {finish}" if finish else said


def _reading(paper: Paper, report: PartReport) -> None:
    if report.not_read is not None:
        lost = report.not_read
        paper.item("Not read:", f"{clean(lost.reason, 500)}; {clean(lost.remedy, 500)}", indent=2)
    for doubt in report.doubts:
        paper.item("Read, but not to be trusted:", clean(doubt, 500), indent=2)
    if report.former_not_read is not None and report.not_read is None:
        reason = clean(report.former_not_read.reason, 500)
        text = f"the former revision was not read ({reason}), so the part is judged alone"
        paper.item("Note:", text, indent=2)


def _table(paper: Paper, rows: list[Row]) -> None:
    if not rows:
        return
    limited = any(r.limit for r in rows)
    cells: list[tuple[Cell, ...]] = []
    for row in rows:
        now: Cell = (row.now, CHANGED) if row.changed else row.now
        change: Cell = (row.change, CHANGED) if row.changed else row.change
        line: tuple[Cell, ...] = (row.label, row.before, now, change)
        judged: Cell = (f"{row.limit} {row.mark}".strip(), BOLD if row.mark == "HOLD" else "")
        cells.append((*line, judged) if limited else line)
    head = ("", "before", "now", "change", *(("limit",) if limited else ()))
    paper.table(cells, head=head)


def set_facts(paper: Paper, part: Part) -> None:
    """A part by itself: size, process, stock, features."""
    facts, process = part.facts, part.process
    rows: list[tuple[Cell, ...]] = [
        ("box X x Y x Z", f"{sizes(facts.box_mm, 3)} mm (the file is in {clean(part.unit, 30)})"),
        ("volume, area", f"{volume(facts.volume_mm3)}, {area(facts.area_mm2)}"),
    ]
    if facts.count > 1 or facts.solids > 1 or not facts.closed:
        rows.append(("solids", _solids(part)))
    rows.append(("process", PROCESS[process.process]))
    rows.append(("", clean(process.reason, 300)))
    if process.setup_directions:
        n = len(process.setup_directions)
        rows.append(("setups", f"{n}, cut from {directions(process.setup_directions)}"))
    if process.process != "not-machined":
        rows.append(("stock", stock(part.stock)))
    rows += _stock_rows(part)
    paper.table(rows)
    lines = grouped(part.features)
    if lines:
        paper.blank()
        paper.heading("Features", indent=2)
        for line in lines:
            paper.line(line, indent=4)


def _solids(part: Part) -> str:
    facts = part.facts
    said = []
    if facts.count > 1:
        said.append(f"{facts.count} equal parts in the file")
    if facts.solids > 1:
        said.append(f"made of {facts.solids} overlapping solids")
    if not facts.closed:
        said.append("not closed")
    return ", ".join(said)


def _stock_rows(part: Part) -> list[tuple[Cell, ...]]:
    chosen = part.stock
    if chosen is None:
        return []
    allowance = f"{number(chosen.allowance_mm)} mm on each machined side"
    if chosen.skin_kept:
        allowance = "the stock's own skin may stay outside"
    grip = f", {number(chosen.grip_mm)} mm to hold it" if chosen.grip_mm else ""
    rows: list[tuple[Cell, ...]] = [
        ("", f"allowance: {allowance}{grip}"),
        ("cut away", f"{volume(chosen.removed_mm3)}, {percent(chosen.removed_ratio)} of the stock"),
    ]
    smaller = chosen.next_smaller
    if smaller is not None:
        over = f"{smaller.dimension} {number(smaller.excess_mm, 2)} mm too much for it"
        rows.append(("next smaller", f"{clean(smaller.label, 60)}: {over}"))
    return rows


def _changes(paper: Paper, changes: tuple[Change, ...]) -> None:
    if not changes:
        return
    paper.blank()
    paper.heading("Changes, largest first", indent=2)
    causes = [i for i, c in enumerate(changes) if c.caused_by is None or c.caused_by == i]
    room = len(str(len(causes))) + 1
    for place, index in enumerate(causes[:MOST_CHANGES], start=1):
        mark = f"{place:>{room - 1}}"
        paper.item(mark, clean(changes[index].text, 400), indent=3, room=room, style=CHANGED)
        _consequences(paper, changes, index, 3 + room)
    more = len(causes) - MOST_CHANGES
    if more > 0:
        paper.line(
            f"and {count(more, 'smaller change')}, listed in the JSON report", indent=3 + room
        )


def _consequences(paper: Paper, changes: tuple[Change, ...], cause: int, indent: int) -> None:
    follow = [c for i, c in enumerate(changes) if c.caused_by == cause and i != cause]
    for change in follow[:4]:
        paper.item("so:", clean(change.text, 400), indent=indent, room=4, style=CHANGED)
    if len(follow) > 4:
        paper.line(f"    and {len(follow) - 4} more that follow from it", indent=indent)


def _by_weight(findings: tuple[Finding, ...]) -> list[Finding]:
    order = {"error": 0, "warning": 1, "note": 2}
    return sorted(findings, key=lambda f: (f.state == "old", order[f.level]))


def _findings(paper: Paper, heading: str, findings: tuple[Finding, ...]) -> None:
    if not findings:
        return
    paper.blank()
    paper.heading(heading, indent=2)
    for alike in _alike(findings):
        _finding(paper, alike)


def _alike(findings: tuple[Finding, ...]) -> list[list[Finding]]:
    """Findings that differ in their message alone, together."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for f in findings:
        judged = (f.rule, f.level, f.state, f.holds, f.limit, f.limit_value, f.permit)
        groups.setdefault((*judged, f.cost, f.advice), []).append(f)
    return list(groups.values())


def _finding(paper: Paper, alike: list[Finding]) -> None:
    finding = alike[0]
    old = ", not new" if finding.state == "old" else ""
    label = f"{clean(finding.rule, 60)} ({finding.level}{old})"
    paper.item("-", label, indent=3, style=BOLD if finding.holds else "")
    messages = Counter(clean(f.message, 600) for f in alike)
    for message, times in list(messages.items())[:MOST_MESSAGES]:
        paper.line(f"{message} ({times} times)" if times > 1 else message, indent=5)
    more = sum(list(messages.values())[MOST_MESSAGES:])
    if more > 0:
        paper.line(f"and {more} more like these, listed in the JSON report", indent=5)
    if finding.cost:
        paper.item("cost:", clean(finding.cost, 600), indent=5, room=8)
    if finding.advice:
        paper.item("advice:", clean(finding.advice, 600), indent=5, room=8)
    if finding.limit is not None and finding.limit_value is not None:
        paper.item("limit:", _limit_words(finding, single=len(alike) == 1), indent=5, room=8)
    if finding.permit is not None:
        words = clean(permit_words(finding.permit, finding.unit), 600).removeprefix("permit ")
        paper.item("permit:", words, indent=5, room=8)


def _limit_words(finding: Finding, *, single: bool) -> str:
    name, limit = finding.limit or "", finding.limit_value or 0.0
    measured = finding.measured if finding.measured is not None else limit
    unit = "" if finding.unit in name else f" {clean(finding.unit, 30)}"
    said = (
        f"{clean(name, 60)} {'at most' if measured > limit else 'at least'} {number(limit)}{unit}"
    )
    if single:
        said += f", found {number(measured, 2)}{unit}"
    return f"{said}; {clean(finding.limit_source, 200)}" if finding.limit_source else said

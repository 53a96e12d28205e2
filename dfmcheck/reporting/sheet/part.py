"""One part of a run: what holds, the figures, the changes, the findings."""

from dfmcheck.model.finding import Finding
from dfmcheck.model.part import Part
from dfmcheck.model.report import PartReport
from dfmcheck.reporting.sanitise import clean
from dfmcheck.reporting.sheet.changes import all_told, set_changes, told_changes
from dfmcheck.reporting.sheet.features import grouped
from dfmcheck.reporting.sheet.figures import Row, table_rows
from dfmcheck.reporting.sheet.findings import set_holding, set_others
from dfmcheck.reporting.sheet.paper import BOLD, CHANGED, Cell, Paper
from dfmcheck.reporting.sheet.words import (
    area,
    directions,
    number,
    percent,
    process,
    sizes,
    stock,
    volume,
)

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
    changes = report.comparison.changes if report.comparison is not None else ()
    if report.part is not None and not single:
        told, counts = told_changes(changes), not all_told(changes)
        rows = table_rows(report.part, report.former, report.findings, told, counts=counts)
        _table(paper, rows)
    set_holding(paper, report.findings)
    if report.part is not None and (single or report.former is None):
        set_facts(paper, report.part, report.findings)
    set_changes(paper, changes)
    set_others(paper, report.findings, changes_told=all_told(changes))
    for note in report.notes:
        paper.item("Note:", clean(note, 1000), indent=2)


def _title(paper: Paper, report: PartReport, single: bool) -> None:
    known = report.part or report.former
    entry = known.entry if known is not None else None
    number_ = clean(report.number, 60)
    if entry is not None and entry.letter:
        number_ += f" {clean(entry.letter, 10)}"
    name = clean(report.name, 80)
    title = f"{number_}   {name}" if name and not f"/{number_}".endswith(f"/{name}") else number_
    paper.split(title, "" if single else _STATUS[report.status], style=BOLD)
    paper.line(_whereabouts(report))
    material = _material(known) if known is not None else ""
    if material:
        paper.line(material)


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
    return ", ".join(said for said in (material, finish) if said)


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


def set_facts(paper: Paper, part: Part, findings: tuple[Finding, ...] = ()) -> None:
    """A part by itself: size, process, stock, features; what a finding tells is left to it."""
    facts, choice = part.facts, part.process
    rows: list[tuple[Cell, ...]] = [
        ("box X x Y x Z", f"{sizes(facts.box_mm, 3)} mm (the file is in {clean(part.unit, 30)})"),
        ("volume, area", f"{volume(facts.volume_mm3)}, {area(facts.area_mm2)}"),
    ]
    if facts.count > 1 or facts.solids > 1 or not facts.closed:
        rows.append(("solids", _solids(part)))
    rows.append(("process", process(choice)))
    if choice.setup_directions:
        n = len(choice.setup_directions)
        rows.append(("setups", f"{n}, cut from {directions(choice.setup_directions)}"))
    if choice.process != "not-machined":
        rows.append(("stock", stock(part.stock)))
    rows += _stock_rows(part, findings)
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


def _stock_rows(part: Part, findings: tuple[Finding, ...]) -> list[tuple[Cell, ...]]:
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
    if smaller is not None and not any(smaller.label in f.message for f in findings):
        over = f"{smaller.dimension} {number(smaller.excess_mm, 2)} mm too much for it"
        rows.append(("next smaller", f"{clean(smaller.label, 60)}: {over}"))
    return rows

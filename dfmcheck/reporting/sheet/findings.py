"""Findings in words: those that hold, those that are new, those that were there before."""

from collections import Counter

from dfmcheck.checking.permits import describe as permit_words
from dfmcheck.checking.stages import SUMMARY
from dfmcheck.model.finding import Finding
from dfmcheck.reporting.sanitise import clean
from dfmcheck.reporting.sheet.paper import BOLD, Paper
from dfmcheck.reporting.sheet.words import number

MOST_MESSAGES = 8
"""Findings of one rule told at length."""

_TOLD_BY = {
    "setups-rise": ("setups",),
    "corner-tightened": ("inside-corner-radius",),
    "slimmer-hole": ("deep-hole",),
    "wall-thinner": ("thin-wall",),
    "looks-tapped": (SUMMARY.name, "callouts-missing"),
}
"""What a rule says of a change or a hole that another one says of the same thing as well."""


def set_holding(paper: Paper, findings: tuple[Finding, ...]) -> None:
    """The findings of a part that hold."""
    _at_length(paper, "Holds", [f for f in findings if f.holds])


def set_others(paper: Paper, findings: tuple[Finding, ...], *, changes_told: bool) -> None:
    """The findings of a part that do not hold and are not told elsewhere in the report.

    Args:
        paper: the sheet.
        findings: all of one part.
        changes_told: whether the list of changes names each feature that was added.
    """
    told = told_with_the_part(findings, changes_told=changes_told)
    left = [f for f in told if not f.holds]
    new = [f for f in left if f.state == "new" or f.permit is not None]
    holds = any(f.holds for f in findings)
    _at_length(paper, "Also found" if holds else "Found", _by_level(new))
    _in_short(paper, _by_level([f for f in left if f not in new]))


def told_at_the_end(finding: Finding) -> bool:
    """Whether a finding stands below all parts: what a shop would still have to ask."""
    return finding.rule == SUMMARY.name and not finding.holds and finding.permit is None


def told_with_the_part(
    findings: tuple[Finding, ...], *, changes_told: bool = False
) -> list[Finding]:
    """The findings of a part that hold or are not told elsewhere in the report."""
    return [f for f in findings if not _told_elsewhere(f, findings, changes_told)]


def _told_elsewhere(finding: Finding, findings: tuple[Finding, ...], changes_told: bool) -> bool:
    if told_at_the_end(finding):
        return True
    if finding.holds or finding.permit is not None or finding.level == "error":
        return False
    if finding.rule == "feature-added" and finding.level == "note" and changes_told:
        return True
    tellers = _TOLD_BY.get(finding.rule, ())
    return any(f.rule in tellers and _about_the_same(f, finding) for f in findings)


def _about_the_same(one: Finding, other: Finding) -> bool:
    if one.feature is not None and other.feature is not None:
        return one.feature == other.feature
    return not one.faces or not other.faces or bool(set(one.faces) & set(other.faces))


def _by_level(findings: list[Finding]) -> list[Finding]:
    order = {"error": 0, "warning": 1, "note": 2}
    return sorted(findings, key=lambda f: (f.state == "old", order[f.level]))


def _alike(findings: list[Finding]) -> list[list[Finding]]:
    """Findings that differ in their message alone, together."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for f in findings:
        judged = (f.rule, f.level, f.state, f.holds, f.limit, f.limit_value, f.permit)
        groups.setdefault((*judged, f.cost, f.advice), []).append(f)
    return list(groups.values())


def _at_length(paper: Paper, heading: str, findings: list[Finding]) -> None:
    if not findings:
        return
    paper.blank()
    paper.heading(heading, indent=2)
    for alike in _alike(findings):
        finding = alike[0]
        paper.item("-", _label(finding), indent=3, style=BOLD if finding.holds else "")
        for message in _messages(alike):
            paper.line(message, indent=5)
        _explained(paper, finding)


def _in_short(paper: Paper, findings: list[Finding]) -> None:
    """What was there before: the message alone, since nobody asks to mend it now."""
    if not findings:
        return
    paper.blank()
    paper.heading("Not new", indent=2)
    for alike in _alike(findings):
        first, *more = _messages(alike)
        paper.item("-", f"{_label(alike[0])}: {first}", indent=3)
        for message in more:
            paper.line(message, indent=5)


def _label(finding: Finding) -> str:
    old = ", not new" if finding.state == "old" and finding.holds else ""
    return f"{clean(finding.rule, 60)} ({finding.level}{old})"


def _messages(alike: list[Finding]) -> list[str]:
    counted = Counter(clean(f.message, 600) for f in alike)
    told = [
        f"{message} ({times} times)" if times > 1 else message
        for message, times in list(counted.items())[:MOST_MESSAGES]
    ]
    more = sum(list(counted.values())[MOST_MESSAGES:])
    return [*told, f"and {more} more like these, listed in the JSON report"] if more else told


def _explained(paper: Paper, finding: Finding) -> None:
    if finding.cost:
        paper.item("cost:", clean(finding.cost, 600), indent=5, room=8)
    if finding.advice:
        paper.item("advice:", clean(finding.advice, 600), indent=5, room=8)
    if finding.limit is not None and finding.limit_value is not None:
        paper.item("limit:", _limit_words(finding), indent=5, room=8)
    if finding.permit is not None:
        words = clean(permit_words(finding.permit, finding.unit), 600).removeprefix("permit ")
        paper.item("permit:", words, indent=5, room=8)


def _limit_words(finding: Finding) -> str:
    name, limit = finding.limit or "", finding.limit_value or 0.0
    measured = finding.measured if finding.measured is not None else limit
    unit = "" if finding.unit in name else f" {clean(finding.unit, 30)}"
    sense = "at most" if measured > limit else "at least"
    said = f"{clean(name, 60)} {sense} {number(limit)}{unit}"
    return f"{said}; {clean(finding.limit_source, 200)}" if finding.limit_source else said

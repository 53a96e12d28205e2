"""The head of a report: the verdict, the counts, the two sides, where the limits come from."""

from collections import Counter

from dfmcheck.model.report import RunReport
from dfmcheck.model.settings import PolicyChange
from dfmcheck.reporting.sanitise import clean
from dfmcheck.reporting.sheet.paper import BOLD, Paper
from dfmcheck.reporting.sheet.words import count, revision, shortened

_STATUS_ORDER = (
    "changed", "added", "removed", "renamed", "configuration", "re-exported", "unreadable",
)  # fmt: skip
_STATUS_WORDS = {"configuration": "changed in the configuration alone", "unreadable": "not read"}


def set_head(paper: Paper, run: RunReport) -> None:
    """Everything above the parts."""
    paper.split(verdict_words(run), counts_words(run), style=BOLD)
    if run.range is not None:
        _sides(paper, run)
    if run.command == "gate" or run.policy_changes:
        _policy(paper, run)
    for warning in run.warnings:
        paper.item("Warning:", clean(warning, 1000))


def verdict_words(run: RunReport) -> str:
    """The verdict and what it rests on."""
    reasons = hold_reasons(run)
    if run.verdict == "release":
        return f"RELEASE   {'; '.join(reasons) or 'no limit exceeded'}"
    advice = " (advice only)" if run.mode == "advise" else ""
    return f"HOLD{advice}   {'; '.join(reasons) or 'see below'}"


def hold_reasons(run: RunReport) -> list[str]:
    """Why a run holds, each reason counted."""
    reasons = []
    holding = [f for p in run.parts for f in p.findings if f.holds]
    parts = sum(any(f.holds for f in p.findings) for p in run.parts)
    limits = len({(f.part, f.limit) for f in holding if f.limit is not None})
    others = sum(f.limit is None for f in holding)
    said = []
    if limits:
        said.append(f"{count(limits, 'limit')} exceeded")
    if others:
        said.append(f"{count(others, 'finding')} that {'holds' if others == 1 else 'hold'}")
    if said:
        reasons.append(f"{' and '.join(said)} in {count(parts, 'part')}")
    if run.could_not_judge:
        reasons.append(f"{count(run.could_not_judge, 'part')} could not be judged")
    failed = len({(n.rule, n.plugin) for n in run.not_checked})
    if failed:
        reasons.append(f"{count(failed, 'rule')} could not check")
    return reasons


def counts_words(run: RunReport) -> str:
    """How many parts came out how: "1 changed, 1 re-exported, 5 the same"."""
    if run.command == "part":
        return count(len(run.parts), "part")
    found = Counter[str](p.status for p in run.parts)
    said = [f"{found[s]} {_STATUS_WORDS.get(s, s)}" for s in _STATUS_ORDER if found[s]]
    same = run.unchanged + found["unchanged"]
    if same or not said:
        said.append(f"{same} the same")
    return ", ".join(said)


def _sides(paper: Paper, run: RunReport) -> None:
    span = run.range
    if span is None:
        return
    paper.item("now", revision(span.after), room=8)
    paper.item("before", revision(span.before), room=8)
    why = shortened(span.chosen.rpartition("; ")[2])  # both sides stand above
    if why:
        paper.item("why", clean(why, 300), room=8)
    for note in span.notes:
        paper.item("note", clean(shortened(note), 1000), room=8)


def _policy(paper: Paper, run: RunReport) -> None:
    source = clean(shortened(run.policy_source), 300) or "the defaults (no dfmcheck.toml)"
    changes = run.policy_changes
    if not changes:
        paper.item("limits", f"from {source}, unchanged", room=8)
        return
    weaker = sum(c.weakens for c in changes)
    told = count(len(changes), "change")
    if weaker:
        which = "which" if len(changes) == 1 else f"{weaker} of them"
        told += f", {which} {'lets' if weaker == 1 else 'let'} more pass"
    paper.item("limits", f"from {source}", room=8)
    paper.blank()
    paper.heading(f"Policy changed: {told}")
    for change in sorted(changes, key=lambda c: not c.weakens):
        paper.item("weaker" if change.weakens else "", _policy_words(change), indent=2, room=7)


def _policy_words(change: PolicyChange) -> str:
    before, after = (clean(t, 200) or "nothing" for t in (change.before, change.after))
    return f"{clean(change.key, 120)}: {before} -> {after}"

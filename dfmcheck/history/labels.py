"""How revisions are called in a sentence: both sides of a comparison are always printed."""

from datetime import datetime

from dfmcheck.model.history import Revision

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_NAMES = {"worktree": "working tree", "index": "staged changes", "empty": "nothing before it"}


def describe(revision: Revision) -> str:
    """One side: "working tree", "3f9c2e1 (14 Mar 2026)", "main, 3f9c2e1 (14 Mar 2026)"."""
    if revision.kind != "commit" or revision.sha is None:
        return _NAMES.get(revision.kind, revision.kind)
    name = revision.label or revision.sha[:7]
    if not revision.sha.startswith(name):
        name = f"{name}, {revision.sha[:7]}"
    day = day_of(revision.author_date)
    return f"{name} ({day})" if day else name


def describe_range(before: Revision, after: Revision) -> str:
    """Both sides: "Working tree against 3f9c2e1 (14 Mar 2026)"."""
    text = f"{describe(after)} against {describe(before)}"
    return text[:1].upper() + text[1:] if after.kind != "commit" else text


def day_of(date: str | None) -> str:
    """The day of an ISO 8601 date in its own zone: "14 Mar 2026"; empty without one."""
    if date is None:
        return ""
    moment = datetime.fromisoformat(date)
    return f"{moment.day} {_MONTHS[moment.month - 1]} {moment.year}"

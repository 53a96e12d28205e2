"""Numbers, directions, dates and counts in words, for readers of reports."""

import re

from dfmcheck.model.base import Vec
from dfmcheck.model.history import Revision
from dfmcheck.model.stock import Process, ProcessChoice, Stock
from dfmcheck.reporting.sanitise import clean

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_WHOLE_ID = re.compile(r"\b[0-9a-fA-F]{40}(?:[0-9a-fA-F]{24})?\b")
_ITS_NAME = re.compile(r"^(turned|milled)( [^:;,]{1,40})?(:|;|, since) ", re.IGNORECASE)
_DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})")

PROCESS: dict[Process, str] = {
    "turned": "turned",
    "turned-with-milling": "turned with milling",
    "milled": "milled",
    "not-machined": "not machined",
}


def number(value: float, places: int = 3) -> str:
    """A number without trailing zeros: 5.5, 25, 0.125."""
    text = f"{value:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def signed(value: float, places: int = 3) -> str:
    """A difference with its sign: +5, -0.25."""
    text = number(value, places)
    return text if text.startswith("-") or text == "0" else f"+{text}"


def sizes(values: tuple[float, ...], places: int = 2) -> str:
    """Lengths as on an order: "60 x 40 x 15"."""
    return " x ".join(number(v, places) for v in values)


def volume(mm3: float) -> str:
    """A volume in cm3 with what digits a reader can use."""
    cm3 = mm3 / 1000.0
    return f"{number(cm3, 0 if cm3 >= 1000 else 1 if cm3 >= 100 else 2 if cm3 >= 1 else 4)} cm3"


def area(mm2: float) -> str:
    """An area in cm2."""
    cm2 = mm2 / 100.0
    return f"{number(cm2, 0 if cm2 >= 1000 else 1 if cm2 >= 10 else 3)} cm2"


def percent(ratio: float) -> str:
    """A share as whole percent, with one place below 10 %."""
    value = ratio * 100.0
    return f"{number(value, 1 if abs(value) < 10 else 0)} %"


def count(n: int, noun: str, plural: str = "") -> str:
    """A count with its noun: "1 part", "3 parts"."""
    return f"{n} {noun if n == 1 else plural or noun + 's'}"


def listed(items: list[str]) -> str:
    """Items in a row: "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def direction(vec: Vec) -> str:
    """A direction in the file's axes: "+Z", or its components where it is slanted."""
    for i, axis in enumerate("XYZ"):
        if abs(vec[i]) > 1.0 - 1e-6:
            return f"{'+' if vec[i] > 0 else '-'}{axis}"
    return f"({', '.join(number(v, 2) for v in vec)})"


def directions(vecs: tuple[Vec, ...]) -> str:
    """Directions in a row, or "none"."""
    return ", ".join(direction(v) for v in vecs) or "none"


def date(iso: str | None) -> str:
    """The day of an ISO 8601 time as it is told: "14 Mar 2026"."""
    match = _DATE.match(iso or "")
    if match is None:
        return clean(iso or "", 40)
    year, month, day = match.groups()
    if not 1 <= int(month) <= 12:
        return clean(iso or "", 40)
    return f"{int(day)} {_MONTHS[int(month) - 1]} {year}"


def revision(side: Revision) -> str:
    """One side of a comparison: what it is, its author's date and its subject."""
    label = clean(shortened(side.label), 60)
    if side.kind == "worktree":
        return "working tree"
    if side.kind == "index":
        return "index (what is staged)"
    if side.kind == "empty":
        return "nothing (before the first commit)"
    short = (side.sha or "")[:10]
    name = short if not label or (side.sha or "").startswith(label) else f"{label} ({short})"
    told = f"{name}  {date(side.author_date)}" if side.author_date else name
    return f"{told}  {clean(side.subject, 120)}" if side.subject else told


def stock(chosen: Stock | None) -> str:
    """The blank as on a saw list: "round 25, 44 long", "plate 20, 46 x 66 long"."""
    from dfmcheck.comparing.whole import stock_words

    return clean(stock_words(chosen), 80)


def process(choice: ProcessChoice) -> str:
    """The process and why, in one sentence that names it once."""
    name = PROCESS[choice.process]
    reason = clean(choice.reason, 300).rstrip(".")
    short = _ITS_NAME.sub("", reason, count=1) if choice.process != "not-machined" else reason
    if short == reason and reason.lower().startswith(name):
        return name + reason[len(name) :]
    return f"{name}: {short[:1].lower()}{short[1:]}" if short else name


def shortened(text: str) -> str:
    """Text in which each whole id of a commit is cut to seven digits."""
    return _WHOLE_ID.sub(lambda found: found.group()[:7], text)

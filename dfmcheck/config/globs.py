"""Patterns for paths: `*`, `?`, `[…]` within a name, `**` for any number of folders.

Paths have forward slashes. Names of folders are matched as written; what stands after the last dot
of the pattern is matched in any letter case, so that `*.step` finds `BASE.STEP`.
"""

import re
from collections.abc import Callable
from functools import lru_cache
from itertools import product

STEP_ENDINGS = (".step", ".stp", ".p21")
"""Endings of the names of STEP files, in lower case."""

_MOST_SAMPLES = 4000


def pattern_problem(pattern: str) -> str | None:
    """What is wrong with a pattern, as half a sentence, or None."""
    if not pattern or pattern != pattern.strip():
        return "a pattern is not empty and has no blanks around it"
    if "\\" in pattern:
        return "folders are separated by / (forward slashes)"
    if pattern.startswith("/") or re.match(r"[A-Za-z]:", pattern):
        return "a pattern starts at the configuration's folder, without a leading /"
    if any(ord(c) < 32 for c in pattern):
        return "a pattern has no control characters"
    segments = pattern.split("/")
    if any(s in (".", "..") for s in segments):
        return "a pattern has no . or .. for a folder"
    if any(not s for s in segments):
        return "a pattern has no empty folder name and does not end in / (add ** for all below)"
    if any("**" in s and s != "**" for s in segments):
        return "** stands alone between slashes"
    for segment in segments:
        trouble = _bracket_problem(segment)
        if trouble:
            return trouble
    if not may_be_step(pattern):
        return f"it can match no STEP file ({', '.join(STEP_ENDINGS)}); for a folder add /**"
    return None


def _bracket_problem(segment: str) -> str | None:
    at = segment.find("[")
    while at >= 0:
        end = segment.find("]", at + 2)
        if end < 0:
            return "a [ is not closed by ] in the same name"
        inner = segment[at + 1 : end]
        try:
            if "--" in inner:
                return "a range in [ ] has one -, as in [a-z]"
            re.compile(_bracket(inner))
        except re.error:
            return "what stands in [ ] is not a range such as [a-z]"
        at = segment.find("[", end)
    return None


def may_be_step(pattern: str) -> bool:
    """Whether the end of a pattern leaves room for the ending of a STEP file."""
    last = pattern.rsplit("/", 1)[-1]
    tail = re.split(r"[*?\]]", last)[-1].lower()
    if tail == last.lower():
        return tail.endswith(STEP_ENDINGS)
    return any(tail.endswith(e) or e.endswith(tail) for e in STEP_ENDINGS)


@lru_cache(maxsize=256)
def compile_patterns(patterns: tuple[str, ...], folder: str = "") -> Callable[[str], bool]:
    """A function that tells whether a path from the repository's top matches any pattern.

    Time is linear in the length of the path for every pattern: what a `*` or `**` takes before a
    literal is never taken back, since the leftmost place always serves.

    Args:
        patterns: valid patterns (`pattern_problem` gives None).
        folder: the folder they are relative to, "" for the top.
    """
    if not patterns:
        return _nothing
    prefix = re.escape(folder + "/") if folder else ""
    found = re.compile(prefix + "(?:" + "|".join(_translated(p) for p in patterns) + ")", re.DOTALL)
    return lambda path: found.fullmatch(path) is not None


def _nothing(path: str) -> bool:
    del path
    return False


def _translated(pattern: str) -> str:
    groups: list[list[str]] = [[]]
    for segment in pattern.split("/"):
        if segment == "**":
            if len(groups) == 1 or groups[-1]:
                groups.append([])
        else:
            groups[-1].append(segment)
    first, *rest = groups
    if not rest:
        return _names(first, last=True)
    text = _names(first, last=False)
    for middle in rest[:-1]:
        text += f"(?>(?:[^/]+/)*?{_names(middle, last=False)})"
    final = rest[-1]
    if not final:
        return text + "(?:[^/]+/)*[^/]+"
    # The last names stand at the path's end: as many folders are skipped as leave room for them.
    return text + f"(?:[^/]+/)*?{_names(final, last=True)}"


def _names(segments: list[str], *, last: bool) -> str:
    if last:
        head, tail = segments[:-1], segments[-1]
        return "".join(_name(s) + "/" for s in head) + _name(tail, ending=True)
    return "".join(_name(s) + "/" for s in segments)


def _name(segment: str, *, ending: bool = False) -> str:
    """The expression for one name; with `ending` what follows its last dot is of any case."""
    dot = segment.rfind(".") if ending else -1
    if dot >= 0 and "]" in segment[dot:]:
        dot = -1
    pieces: list[str] = []
    current = ""
    at = 0
    while at < len(segment):
        c = segment[at]
        if c == "*":
            pieces.append(current)
            current = ""
        elif c == "?":
            current += "[^/]"
        elif c == "[":
            end = segment.find("]", at + 2)
            current += _bracket(segment[at + 1 : end])
            at = end
        else:
            any_case = dot >= 0 and at > dot
            current += f"(?i:{re.escape(c)})" if any_case and c.isalpha() else re.escape(c)
        at += 1
    if not pieces:
        return current
    text = pieces[0] + "".join(f"(?>[^/]*?{p})" for p in pieces[1:] if p)
    return text + f"[^/]*{current}"


def _bracket(inner: str) -> str:
    inverted = inner[:1] in ("!", "^")
    body = inner[1:] if inverted else inner
    safe = re.sub(r"([\\\[\]^&~|])", r"\\\1", body)
    return f"(?!/)[{'^' if inverted else ''}{safe}]"


def covers(patterns: tuple[str, ...], pattern: str) -> bool:
    """Whether every path that `pattern` matches is surely matched by one of `patterns`.

    Sample paths stand for all others: names that no pattern spells out, in two lengths and empty,
    and more folders than any pattern has. Where that proves nothing (a range in `pattern`), False.
    """
    if pattern in patterns:
        return True
    if "[" in pattern or not patterns:
        return False
    deepest = max(p.count("/") for p in patterns) + 2
    pieces = re.split(r"(\*\*/|/\*\*$|^\*\*$|\*|\?)", pattern)
    choices = [_samples(piece, deepest) for piece in pieces]
    count = 1
    for choice in choices:
        count *= len(choice)
        if count > _MOST_SAMPLES:
            return False
    matches = compile_patterns(patterns)
    return all(matches("".join(sample)) for sample in product(*choices))


def below(pattern: str, folder: str) -> tuple[str, ...]:
    """The patterns that, from a subfolder on, match what `pattern` matches there.

    `**/*.step` below `cad` is `**/*.step`, `cad/*.step` is `*.step`, `lib/*.step` nothing.
    """
    rests = {tuple(pattern.split("/"))}
    for name in folder.split("/"):
        rests = {after for rest in rests for after in _after(rest, name)}
    return tuple(sorted("/".join(rest) for rest in rests if rest))


def _after(segments: tuple[str, ...], name: str) -> set[tuple[str, ...]]:
    """What is left of a pattern once one folder's name has been matched."""
    if not segments:
        return set()
    first, rest = segments[0], segments[1:]
    if first == "**":
        return {segments} | (_after(rest, name) if rest else set())
    matches = re.fullmatch(_name(first), name, re.DOTALL) is not None
    return {rest} if matches and rest else set()


def _samples(piece: str, deepest: int) -> tuple[str, ...]:
    strange, long = "\u0001", "\u0002" * 41
    if piece == "**/":
        return tuple(f"{strange}/" * n for n in range(deepest + 1))
    if piece in ("/**", "**"):
        lead = "/" if piece == "/**" else ""
        return tuple(lead + f"{strange}/" * n + long for n in range(deepest + 1))
    if piece == "*":
        return ("", strange, long)
    return (strange,) if piece == "?" else (piece,)

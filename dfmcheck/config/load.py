"""`dfmcheck.toml` to `Settings`: decoded, checked as a whole, and built."""

import re
from collections.abc import Collection, Mapping
from functools import cache
from typing import Any, cast

from dfmcheck.config.lines import key_lines
from dfmcheck.config.names import Known, check_names
from dfmcheck.config.problems import Path, Problems, key, key_path, plain, quoted, where
from dfmcheck.config.spec import FORMAT, PRICE_LIMITS, configuration, places
from dfmcheck.errors import ConfigError
from dfmcheck.model.settings import (
    Callout,
    CalloutTarget,
    LimitValue,
    PartEntry,
    Permit,
    Policy,
    Settings,
    TargetCost,
)

MOST_BYTES = 4_000_000
"""Size beyond which a file is taken for something else than a configuration."""

NOISE_PERCENT = 3.0
NOISE_AMOUNT = 0.50
"""The model's noise in percent and in the currency; finer limits hold on meaningless changes."""


@cache
def default_settings() -> Settings:
    """The settings where there is no `dfmcheck.toml`."""
    return Settings(policy=Policy())


def parse_settings(
    data: bytes,
    source: str,
    *,
    known_limits: Collection[str] | None = None,
    known_rules: Collection[str] | None = None,
    known_pieces: Collection[str] | None = None,
) -> Settings:
    """Parse and check one configuration.

    Names of limits, rules and stages' pieces are checked against the names given, where they are
    given; they depend on plugins, which the configuration itself names. `names.name_problems`
    checks them later.

    Args:
        data: content of the file.
        source: its path from the top of the repository, with forward slashes.
        known_limits: names of the limits that loaded rules declare.
        known_rules: names of the loaded rules.
        known_pieces: names of the pieces that loaded rules check for stages.

    Raises:
        ConfigError: one sentence for each problem: file, line, key, what is wrong, what is allowed.
    """
    text = _decoded(data, source)
    table = parse_toml(text, source)
    lines = _Lines(text)
    form = table.get("format", FORMAT)
    problems = Problems(source, lines, elsewhere=places())
    if isinstance(form, int) and not isinstance(form, bool) and form > FORMAT:
        problems.add(
            ("format",),
            f"this version of dfmcheck reads format {FORMAT}, not {form}; update dfmcheck",
        )
        raise ConfigError(problems.sentences)
    found = configuration().check(table, (), problems)
    _check_files(table.get("part"), problems)
    check_names(table, Known.of(known_limits, known_rules, known_pieces), problems)
    if problems.sentences:
        raise ConfigError(problems.sentences)
    return _settings(found, source, lines(), problems)


class _Lines:
    """The lines of a text, looked for once and only when asked."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.found: dict[Path, int] | None = None

    def __call__(self) -> Mapping[Path, int]:
        if self.found is None:
            self.found = key_lines(self.text)
        return self.found


def _decoded(data: bytes, source: str) -> str:
    trouble, line = None, None
    if len(data) > MOST_BYTES:
        most = f"{MOST_BYTES / 1e6:.0f} MB"
        trouble = f"has {len(data) / 1e6:.1f} MB; a configuration has at most {most}"
    elif data.startswith((b"\xff\xfe", b"\xfe\xff")):
        trouble = "is written in UTF-16; save it as UTF-8"
    else:
        try:
            return data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = data.count(b"\n", 0, error.start) + 1
            trouble = f"byte 0x{data[error.start]:02x} is not UTF-8; save the file as UTF-8"
    raise ConfigError((f"{where(source, line)}: {trouble}",))


def parse_toml(text: str, source: str, *, secret: bool = False) -> dict[str, Any]:
    """A TOML text as plain values.

    Args:
        text: the text.
        source: the file's name for the sentence.
        secret: nothing of the text may stand in the sentence.

    Raises:
        ConfigError: one sentence with the line.
    """
    import tomli

    try:
        return tomli.loads(text)
    except RecursionError:
        reason, line = "lists or tables are nested too deeply", None
    except tomli.TOMLDecodeError as error:
        reason, line = _syntax(text, str(error))
        if secret:
            reason = "a mistake in the syntax"
    except ValueError:
        reason, line = "a number has too many digits", None
    raise ConfigError((f"{where(source, line)}: not valid TOML: {plain(reason)}",)) from None


_REWORDED = {
    "Expected newline or end of document after a statement": (
        "something stands behind a value that is complete (or is no value)"
    ),
    "Unescaped '\\' in a string": (
        "in \"…\" a backslash begins an escape; write '…' or, for folders, /"
    ),
    "Found invalid character '\\n'": "a text in one pair of quotes ends on its own line",
    'Expected "\'"': "a text is not closed by '",
    "Expected '\"'": 'a text is not closed by "',
}


def _syntax(text: str, message: str) -> tuple[str, int | None]:
    """tomli's message in our words, and the line."""
    placed = re.search(r"\(at (?:line (\d+), column (\d+)|end of document)\)$", message)
    if placed is None:
        return message, None
    reason = message[: placed.start()].strip()
    lines = text.removesuffix("\n").split("\n")
    if placed.group(1) is None:
        line = max(1, len(lines))
        rest = ""
    else:
        line = int(placed.group(1))
        rest = lines[min(line, len(lines)) - 1][int(placed.group(2)) - 1 :]
    said = reason[0].lower() + reason[1:] if reason else "a mistake in the syntax"
    twice = re.match(r"Cannot (declare|overwrite|redefine|mutate|append)", reason)
    if twice:
        named = re.search(r"\((.*?),?\)", reason)
        names = re.findall(r"'([^']*)'", named.group(1)) if named else []
        table = ".".join(key(n) for n in names)
        said = f"{table or 'a key or table here'} is defined twice"
    elif reason == "Invalid value" and re.match(r"[A-Za-z_]", rest):
        said = f"a text stands in quotes: {quoted(rest.split('#')[0].strip())}"
    elif reason == "Invalid value" and not rest.strip():
        said = "a value is missing"
    else:
        said = _REWORDED.get(reason, said)
    return said, line


def _check_files(parts: object, problems: Problems) -> None:
    """Two entries for one part of one file would leave open which one governs."""
    taken: dict[tuple[str, str], str] = {}
    for number, entry in parts.items() if isinstance(parts, dict) else ():
        file = entry.get("file") if isinstance(entry, dict) else None
        if not isinstance(file, str):
            continue
        first = taken.setdefault((file, repr(entry.get("solid"))), number)
        if first != number:
            problems.add(
                ("part", number, "file"),
                f"{quoted(file)} has an entry already, part.{key(first)}; "
                "give each its solid if the file holds several parts",
            )


def _settings(
    found: dict[str, Any], source: str, lines: Mapping[Path, int], problems: Problems
) -> Settings:
    folder = source.rpartition("/")[0]
    defaults = default_settings()
    parts = found.get("part", {})
    _warn_of_noise(found, problems)
    return Settings(
        policy=_policy(found, folder),
        source=source,
        folder=folder,
        currency=found.get("currency", defaults.currency),
        quantities=found.get("quantities", defaults.quantities),
        private=found.get("private"),
        parts=tuple(_entry(number, entry, folder) for number, entry in parts.items()),
        part_lines=tuple((n, lines.get(("part", n), 0)) for n in parts),
        policy_lines=tuple(_policy_lines(lines)),
        warnings=problems.warnings,
    )


def _policy_lines(lines: Mapping[Path, int]) -> list[tuple[str, int]]:
    return [
        (key_path(path), line)
        for path, line in lines.items()
        if len(path) > 1 and path[0] in ("limits", "rules", "stages", "permit")
    ]


def _policy(found: dict[str, Any], folder: str) -> Policy:
    defaults = Policy()
    gate = found.get("gate", {})
    return Policy(
        look_at=found.get("look_at", defaults.look_at),
        leave_out=found.get("leave_out", ()),
        plugins=found.get("plugins", ()),
        mode=gate.get("mode", defaults.mode),
        hold_on=gate.get("hold_on", defaults.hold_on),
        reference=gate.get("reference"),
        limits=tuple(_limit(n, v) for n, v in sorted(found.get("limits", {}).items())),
        rules=tuple(sorted(found.get("rules", {}).items())),
        stages=tuple(found.get("stages", {}).items()),
        permits=tuple(Permit(**p) for p in found.get("permit", ())),
        folder=folder,
    )


def _limit(name: str, value: Any) -> LimitValue:
    if isinstance(value, dict):
        return LimitValue(name=name, **cast("dict[str, Any]", value))
    return LimitValue(name=name, value=float(value))


def _entry(number: str, entry: dict[str, Any], folder: str) -> PartEntry:
    plain = {k: v for k, v in entry.items() if k not in ("callout", "target_cost", "file")}
    target = entry.get("target_cost")
    return PartEntry(
        number=number,
        file=f"{folder}/{entry['file']}" if folder else entry["file"],
        target_cost=TargetCost(**target) if target is not None else None,
        callouts=tuple(_callout(c) for c in entry.get("callout", ())),
        **plain,
    )


def _callout(callout: dict[str, Any]) -> Callout:
    rest = {k: v for k, v in callout.items() if k != "find"}
    return Callout(find=CalloutTarget(**callout["find"]), **rest)


def _warn_of_noise(found: dict[str, Any], problems: Problems) -> None:
    currency = found.get("currency", default_settings().currency)
    noise = f"the model's noise ({NOISE_PERCENT:g} % or {NOISE_AMOUNT:.2f} {currency})"
    for name in PRICE_LIMITS:
        limit = found.get("limits", {}).get(name, {})
        for bound, least in (
            ("percent", NOISE_PERCENT), ("amount", NOISE_AMOUNT), ("and_at_least", NOISE_AMOUNT)
        ):  # fmt: skip
            if bound in limit and limit[bound] < least:
                problems.warn(
                    ("limits", name, bound),
                    f"{limit[bound]:g} is finer than {noise}: changes of no meaning will pass it",
                )

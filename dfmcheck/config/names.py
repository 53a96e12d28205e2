"""Names of limits, rules and pieces, checked against those that loaded rules declare."""

from collections.abc import Collection, Iterator
from typing import Any

import msgspec

from dfmcheck.config.problems import Path, Problems, key, key_path, listed, nearest, where
from dfmcheck.config.spec import CORE_LIMITS, CORE_PIECES
from dfmcheck.model.settings import Settings


class Known(msgspec.Struct, frozen=True):
    """Names known of each sort; None where the sort is not checked."""

    limits: frozenset[str] | None
    rules: frozenset[str] | None
    pieces: frozenset[str] | None

    @classmethod
    def of(
        cls,
        limits: Collection[str] | None,
        rules: Collection[str] | None,
        pieces: Collection[str] | None,
    ) -> "Known":
        """Names that loaded rules declare, and those the core knows of itself."""
        return cls(
            None if limits is None else frozenset(limits) | frozenset(CORE_LIMITS),
            None if rules is None else frozenset(rules),
            None if pieces is None else frozenset(pieces) | frozenset(CORE_PIECES),
        )

    def wrong(self, sort: str, name: str) -> str | None:
        """A sentence's end about a name that is not known, or None."""
        if sort == "permit":
            both = None not in (self.limits, self.rules)
            known = (self.limits or frozenset()) | (self.rules or frozenset()) if both else None
            sort = "limit or rule"
        else:
            known = {"limit": self.limits, "rule": self.rules, "piece": self.pieces}[sort]
        if known is None or name in known:
            return None
        near = nearest(name, known) if len(name) < 60 else None
        hint = f"did you mean {near}? " if near else ""
        names = listed(sorted(known), most=24) or "none (no rules are loaded)"
        return (
            f"no {sort} is called {key(name)}; {hint}known: {names}"
            " (those of a plugin only if plugins names it)"
        )


def check_names(table: dict[str, Any], known: Known, problems: Problems) -> None:
    """Check the names in a TOML table that need not be right in other respects."""
    for path, sort, name in _of_table(table):
        trouble = known.wrong(sort, name)
        if trouble:
            problems.add(path, trouble)


def name_problems(
    settings: Settings,
    *,
    known_limits: Collection[str],
    known_rules: Collection[str],
    known_pieces: Collection[str],
) -> tuple[str, ...]:
    """One sentence for each limit, rule or piece that no loaded rule knows, by line.

    Args:
        settings: the effective settings (for a fork's change those with the base's policy).
        known_limits: names of the limits that loaded rules declare.
        known_rules: names of the loaded rules.
        known_pieces: names of the pieces that loaded rules check for stages.
    """
    known = Known.of(known_limits, known_rules, known_pieces)
    lines = dict(settings.policy_lines)
    found = []
    for path, sort, name in _of_settings(settings):
        trouble = known.wrong(sort, name)
        if trouble:
            place = key_path(path)
            line = lines.get(place)
            found.append((line or 0, f"{where(settings.source, line)}: {place}: {trouble}"))
    return tuple(text for _, text in sorted(found, key=lambda f: f[0]))


def _of_table(table: dict[str, Any]) -> Iterator[tuple[Path, str, str]]:
    for sort, name in (("limit", "limits"), ("rule", "rules")):
        content = table.get(name)
        for one in content if isinstance(content, dict) else ():
            yield (name, one), sort, one
    stages = table.get("stages")
    for stage, pieces in stages.items() if isinstance(stages, dict) else ():
        for i, piece in enumerate(pieces if isinstance(pieces, list) else ()):
            if isinstance(piece, str):
                yield ("stages", stage, i), "piece", piece
    permits = table.get("permit")
    for i, permit in enumerate(permits if isinstance(permits, list) else ()):
        limit = permit.get("limit") if isinstance(permit, dict) else None
        if isinstance(limit, str):
            yield ("permit", i, "limit"), "permit", limit


def _of_settings(settings: Settings) -> Iterator[tuple[Path, str, str]]:
    policy = settings.policy
    for limit in policy.limits:
        yield ("limits", limit.name), "limit", limit.name
    for rule, _ in policy.rules:
        yield ("rules", rule), "rule", rule
    for stage, pieces in policy.stages:
        for piece in pieces:
            yield ("stages", stage), "piece", piece
    for i, permit in enumerate(policy.permits):
        yield ("permit", i, "limit"), "permit", permit.limit

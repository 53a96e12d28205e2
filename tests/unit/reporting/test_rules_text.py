"""What `dfmcheck rules` prints."""

import os
from pathlib import Path

import pytest

from dfmcheck.checking.explain import LimitExplained, RuleExplained
from dfmcheck.reporting.rules_text import render_rules

SNAPSHOTS = Path(__file__).parents[2] / "snapshots"

DEEP = RuleExplained(
    name="deep-hole",
    title="hole deep for its diameter",
    plugin="dfmcheck_rules",
    looks_at="part",
    level="error",
    default_level="warning",
    why=(
        "A drill clears its chips along its own flutes, and the deeper it goes, the worse.",
        "Limit: 5 diameters (made up for a test).",
    ),
    limits=(
        LimitExplained(name="hole_depth_ratio", meaning="length of a hole in diameters",
                       sense="at most", value=8.0, default=5.0, unit="x diameter",
                       source="dfmcheck.toml", default_source="made up for a test",
                       configured=True),
        LimitExplained(name="hole_depth", meaning="length of a hole", sense="at most", value=None,
                       default=None, unit="mm", source="", default_source="made up for a test",
                       configured=False),
    ),
    configure=("[rules]", 'deep-hole = "error"', "", "[limits]", "hole_depth_ratio = 8"),
)  # fmt: skip
GREW = RuleExplained(
    name="stock-rise",
    title="stock grew",
    plugin="dfmcheck_rules",
    looks_at="change",
    level="off",
    default_level="warning",
    why=("Bars come in steps.",),
    limits=(),
    configure=(),
)
FINISH = RuleExplained(
    name="finish-missing",
    title="no finish is set",
    plugin="dfmcheck_rules",
    looks_at="stage",
    level="error",
    default_level="error",
    why=("A shop asks.",),
    limits=(),
    configure=(),
    piece="finish",
    stages=("request",),
)


@pytest.mark.parametrize(
    ("name", "rules", "single"),
    [("rules", (DEEP, GREW, FINISH), False), ("rules-deep-hole", (DEEP,), True)],
)
def test_snapshots(name: str, rules: tuple[RuleExplained, ...], single: bool) -> None:
    path = SNAPSHOTS / f"{name}.txt"
    text = render_rules(rules, single=single)
    if os.environ.get("DFMCHECK_WRITE_SNAPSHOTS"):
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")


def test_no_rules_is_said() -> None:
    assert render_rules((), single=False) == "No rules are loaded, so nothing is checked.\n"


def test_a_stage_rule_says_who_asks_for_its_piece() -> None:
    assert "finish, asked for by stage request" in render_rules((FINISH,), single=True)

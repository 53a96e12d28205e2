"""The text report as a reader sees it: kept as files, compared exactly."""

import os
from pathlib import Path

import pytest
from builders import make_feature
from report_builders import (
    a_finding,
    a_run,
    changed_knuckle,
    faulty_run,
    held_run,
    knuckle,
    knuckle_after,
    unreadable,
)

from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.reporting.text import render_text

SNAPSHOTS = Path(__file__).parents[2] / "snapshots"


def a_look_at_one_part() -> RunReport:
    report = PartReport(
        file="cad/knuckle-lower.step",
        number="DL-102",
        name="Lower knuckle",
        status="unchanged",
        part=knuckle_after(),
        findings=(a_finding(holds=False, level="note"),),
    )
    return a_run(report, command="part", range=None, unchanged=0)


RUNS = {
    "gate-hold": held_run(),
    "gate-faults": faulty_run(),
    "gate-nothing-changed": a_run(),
    "gate-release": a_run(changed_knuckle(findings=())),
    "part": a_look_at_one_part(),
}


@pytest.mark.parametrize("name", RUNS)
def test_snapshots(name: str) -> None:
    """Set DFMCHECK_WRITE_SNAPSHOTS=1 to write them anew, then read them."""
    path = SNAPSHOTS / f"{name}.txt"
    text = render_text(RUNS[name])
    if os.environ.get("DFMCHECK_WRITE_SNAPSHOTS"):
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", RUNS)
@pytest.mark.parametrize("width", [60, 80, 120])
def test_no_line_is_wider_than_the_terminal(name: str, width: int) -> None:
    lines = render_text(RUNS[name], width=width).split("\n")
    assert max(map(len, lines)) <= width
    assert all(line == line.rstrip() for line in lines)


@pytest.mark.parametrize("name", RUNS)
def test_nothing_is_lost_where_room_is_scarce(name: str) -> None:
    def ink(width: int) -> str:
        return "".join(sorted("".join(render_text(RUNS[name], width=width).split())))

    assert ink(60) == ink(80) == ink(200)


def test_the_verdict_comes_first_and_what_holds_before_what_does_not() -> None:
    text = render_text(held_run())
    assert text.startswith("HOLD   1 limit exceeded in 1 part")
    order = ["HOLD", "Policy changed", "DL-102 B", "Holds", "Changes, largest", "Also found",
             "cable-clamp", "Re-exported", "Permits"]  # fmt: skip
    places = [text.index(word) for word in order]
    assert places == sorted(places)


def test_both_sides_and_their_dates_are_always_printed() -> None:
    for run in (held_run(), a_run()):
        text = render_text(run)
        assert "working tree" in text
        assert "3f9c2e1b7a" in text
        assert "14 Mar 2026" in text


def test_weakened_policy_is_said_before_any_part() -> None:
    text = render_text(held_run())
    assert "1 of them lets more pass" in text
    assert text.index("limits.setups: 2 -> 3") < text.index("look_at:") < text.index("DL-102")


def test_an_advice_is_not_taken_for_a_hold_of_the_build() -> None:
    run = a_run(changed_knuckle(), verdict="hold", exit_status=0, mode="advise")
    assert render_text(run).startswith("HOLD (advice only)")


def test_what_was_not_judged_is_never_shown_as_passed() -> None:
    text = render_text(faulty_run())
    assert text.startswith("HOLD   2 parts could not be judged; 1 rule could not check")
    assert "Not checked, which is not the same as passed" in text
    assert "Read, but not to be trusted: a shell is open" in text
    assert "Not read: the file ends" in text


def test_colour_changes_no_word() -> None:
    import re

    coloured = render_text(held_run(), colour=True)
    assert "\x1b[" in coloured
    plain = "\n".join(line.rstrip() for line in re.sub(r"\x1b\[[0-9;]*m", "", coloured).split("\n"))
    assert plain == render_text(held_run())


def test_colour_is_one_hue() -> None:
    import re

    codes = set(re.findall(r"\x1b\[([0-9;]*)m", render_text(held_run(), colour=True)))
    assert codes <= {"0", "1", "34"}  # reset, bold, blue


def test_the_environment_does_not_reach_the_report(monkeypatch: pytest.MonkeyPatch) -> None:
    usual = render_text(held_run())
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "dumb")
    assert render_text(held_run()) == usual


HOSTILE = [
    "[bold red]x[/bold red]",
    "[link=http://example.invalid]x[/link]",
    ":boom: [/]",
    "a\x1b[31m\x1b]8;;http://example.invalid\x07",
    "a\nRELEASE   no limit exceeded",
    "\u202e\u200b\u2066",
    "x" * 5000,
    "零件" * 400,
    "a\udcff\ud800",
    "\x9b2J\x00\x7f",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_and_messages_stay_data(name: str) -> None:
    part = changed_knuckle(
        file=name,
        name=name,
        number=name,
        findings=(a_finding(message=name, cost=name, advice=name),),
        doubts=(name,),
        notes=(name,),
    )
    run = a_run(part, unreadable(), warnings=(name,), notes=(name,), policy_source=name)
    text = render_text(run)
    text.encode("utf-8")
    assert all(line.isprintable() for line in text.split("\n"))
    assert not any(line.startswith("RELEASE   no limit") for line in text.split("\n")[1:])
    if name.startswith("["):
        assert name in text  # shown as it is, interpreted by nobody
    coloured = render_text(run, colour=True)
    assert "example.invalid\x07" not in coloured
    assert "\x1b]8" not in coloured


def test_many_findings_of_one_rule_are_told_together() -> None:
    findings = tuple(
        a_finding(message=f"hole dia {d} is too deep", identity=str(d)) for d in range(1, 13)
    )
    text = render_text(a_run(changed_knuckle(findings=findings), verdict="hold", exit_status=3))
    assert text.startswith("HOLD   1 limit exceeded in 1 part")
    assert text.count("cost:") == 1
    assert "and 4 more like these" in text


def test_equal_findings_are_counted() -> None:
    findings = tuple(a_finding(identity=str(i)) for i in range(3))
    assert "12 times its diameter (3 times)" in render_text(
        a_run(changed_knuckle(findings=findings))
    )


def test_a_bought_part_is_not_judged() -> None:
    from builders import an_entry

    part = knuckle(make_feature("hole"), entry=an_entry(make="bought"))
    report = PartReport(file=part.file, number="DL-1", name="x", status="added", part=part)
    assert "bought: not judged as a machined part" in render_text(a_run(report))

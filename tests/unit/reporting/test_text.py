"""The text report as a reader sees it: kept as files, compared exactly."""

import os
from pathlib import Path

import msgspec
import pytest
from builders import a_change, make_comparison, make_feature
from report_builders import (
    BEFORE,
    WORKTREE,
    a_finding,
    a_run,
    changed_knuckle,
    faulty_run,
    held_run,
    knuckle,
    knuckle_after,
    knuckle_before,
    old_finding,
    unreadable,
)

from dfmcheck.model.finding import Finding
from dfmcheck.model.history import Range
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


def told(*findings: Finding, **values: object) -> str:
    return render_text(a_run(changed_knuckle(findings=findings, **values)))


def test_what_was_there_before_is_told_in_a_line() -> None:
    text = told(old_finding())
    assert "Not new\n   - sharp-corner (warning): an inside corner along" in text
    assert "cost:" not in text
    assert "advice:" not in text


def test_a_change_is_not_told_again_by_the_finding_that_holds_for_it() -> None:
    corner = a_finding(rule="inside-corner-radius", feature="pocket-1", message="a corner of R1.5")
    echo = a_finding(
        rule="corner-tightened", holds=False, level="warning", feature="pocket-1",
        message="inside corners R3 -> R1.5 it says",
    )  # fmt: skip
    other = a_finding(
        rule="corner-tightened", holds=False, level="warning", feature="pocket-2",
        message="another pocket",
    )  # fmt: skip
    text = told(corner, echo, other)
    assert "a corner of R1.5" in text
    assert "it says" not in text
    assert "another pocket" in text
    assert "it says" in told(echo)
    held = a_finding(rule="corner-tightened", feature="pocket-1", message="it says too")
    assert "it says too" in told(corner, held)  # what holds is always told


def test_added_features_stand_in_the_list_of_changes() -> None:
    note = a_finding(
        rule="feature-added", holds=False, level="note", message="1 slot added: x", limit=None
    )
    assert "1 slot added: x" not in told(note)
    assert "1 slot added: x" in told(note, comparison=None)
    louder = a_finding(rule="feature-added", holds=False, level="warning", message="1 slot more")
    assert "1 slot more" in told(louder)


def a_summary(text: str, **values: object) -> Finding:
    return a_finding(
        rule="before-a-request", level="note", holds=False, limit=None, feature=None, faces=(),
        message=f"Before a request to a shop: {text}.", cost="", advice="", **values,
    )  # fmt: skip


def test_what_a_shop_would_ask_is_told_once_below_all_parts() -> None:
    hole = a_finding(
        rule="looks-tapped", level="note", holds=False, limit=None, message="a hole dia 2.5"
    )
    text = told(hole, a_summary("no finish is set; 2 holes dia 2.5 look tapped"))
    below = text[text.index("Before a request to a shop\n") :]
    assert "  DL-102  no finish is set; 2 holes dia 2.5 look tapped\n" in below
    assert "a hole dia 2.5" not in text
    assert "before-a-request" not in text
    assert text.count("look tapped") == 1
    assert "as before: 2 holes look tapped" in told(a_summary("2 holes look tapped", state="old"))
    assert "a hole dia 2.5" in told(hole)


def test_parts_that_lack_the_same_are_told_together() -> None:
    parts = [
        changed_knuckle(number=f"DL-{n}", findings=(a_summary("no finish is set"),))
        for n in range(1, 10)
    ]
    text = render_text(a_run(*parts))
    named = "DL-1, DL-2, DL-3, DL-4, DL-5, DL-6 and 3 more"
    assert f"  {named}:\n    no finish is set\n" in text


def test_a_re_export_is_told_in_a_line_whatever_was_found_before() -> None:
    part = knuckle_before()
    report = PartReport(
        file=part.file, number="DL-102", name="Lower knuckle", status="re-exported",
        part=part, former=part, comparison=make_comparison(part, part),
        findings=(old_finding(), old_finding(identity="2"), a_summary("x", state="old")),
    )  # fmt: skip
    text = render_text(a_run(report))
    assert "Re-exported: other bytes, the same shape\n  DL-102  Lower knuckle  cad/" in text
    assert "(2 findings were there before; `dfmcheck part FILE` tells them)" in text
    assert "sharp" not in text
    held = msgspec.structs.replace(report, findings=(old_finding(holds=True, level="error"),))
    assert "sharp" in render_text(a_run(held))


def test_a_removed_part_is_told_in_a_line_with_what_to_do() -> None:
    gone = a_finding(
        rule="part-vanished", level="warning", holds=False, limit=None, message="DL-7 is gone",
        advice="Bring it back.",
    )  # fmt: skip
    report = PartReport(
        file="cad/x.step", number="x", name="x", status="removed", former=knuckle_before(),
        findings=(gone,),
    )  # fmt: skip
    text = render_text(a_run(report))
    assert "Removed\n  x  cad/x.step\n  (Bring it back.)\n" in text
    assert "DL-7 is gone" not in text
    held = msgspec.structs.replace(report, findings=(a_finding(message="DL-7 is gone"),))
    assert "DL-7 is gone" in render_text(a_run(held))


def test_the_near_miss_of_a_stock_is_said_once() -> None:
    part = knuckle()
    near = a_finding(
        rule="stock-near-miss", holds=False, level="note", message="the next smaller is plate 15"
    )
    alone = PartReport(file=part.file, number="DL-1", name="x", status="added", part=part)
    assert render_text(a_run(alone)).count("plate 15") == 1
    both = msgspec.structs.replace(alone, findings=(near,))
    assert render_text(a_run(both)).count("plate 15") == 1


def test_the_figures_of_a_cut_are_told_by_the_table() -> None:
    before, after = knuckle_before(), knuckle_after()
    changes = (
        a_change("slot-added", text="slot added"),
        a_change("volume-shrank", text="metal in the part", before=1.0, after=2.0, caused_by=0),
        a_change("setups-more", text="setups 2 -> 3", caused_by=0),
    )
    text = told(comparison=make_comparison(before, after, *changes))
    assert "so: setups 2 -> 3" in text
    assert "metal in the part" not in text
    assert "volume, cm3" in text


def test_ids_typed_in_full_are_shortened() -> None:
    sha = "3f9c2e1b7a5d4c3f9c2e1b7a5d4c3f9c2e1b7a5d"
    side = msgspec.structs.replace(BEFORE, label=f"{sha}^")
    span = Range(before=side, after=WORKTREE, chosen=f"why; from the merge base with {sha}")
    run = a_run(range=span, policy_source=f"dfmcheck.toml of {sha}")
    text = render_text(run)
    assert sha not in text
    assert "merge base with 3f9c2e1\n" in text


def test_a_bought_part_is_not_judged() -> None:
    from builders import an_entry

    part = knuckle(make_feature("hole"), entry=an_entry(make="bought"))
    report = PartReport(file=part.file, number="DL-1", name="x", status="added", part=part)
    assert "bought: not judged as a machined part" in render_text(a_run(report))

"""The JSON report: fields, bytes, numbers, hostile names."""

import base64
import json
from typing import Any

import msgspec
import pytest
from builders import make_comparison, make_facts, make_feature
from report_builders import (
    a_finding,
    a_run,
    changed_knuckle,
    faulty_run,
    held_run,
    knuckle,
    unreadable,
)

from dfmcheck.model.change import Change
from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.reporting.document import Report, Reports
from dfmcheck.reporting.json_report import render_json, render_json_runs


def loaded(run: RunReport) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(render_json(run))
    return found


def test_top_of_the_report() -> None:
    report = loaded(held_run())
    assert list(report)[:6] == [
        "format", "dfmcheck", "command", "verdict", "exit_status", "mode",
    ]  # fmt: skip
    assert (report["format"], report["verdict"], report["exit_status"]) == (1, "hold", 3)
    assert report["counts"]["changed"] == 1
    assert report["counts"]["unchanged"] == 5
    assert report["counts"]["holding"] == 1


def test_a_part_carries_what_was_promised() -> None:
    part = loaded(a_run(changed_knuckle()))["parts"][0]
    assert part["file"] == "cad/knuckle-lower.step"
    assert part["name"] == "Lower knuckle"
    assert part["unit"] == "mm"
    assert part["volume_mm3"] == 39_500.0
    assert part["area_mm2"] == 7_800.0
    assert part["box_mm"] == [60.0, 40.0, 18.0]
    assert part["process"] == "milled"
    assert part["stock"]["label"] == "plate 25"
    assert part["status"] == "changed"
    assert [c["kind"] for c in part["changes"]][:2] == ["setups-more", "corner-tightened"]
    finding = part["findings"][0]
    assert (finding["rule"], finding["holds"], finding["measured"]) == ("deep-hole", True, 12.0)
    assert finding["limit"]["value"] == 8.0
    assert part["before"]["box_mm"] == [60.0, 40.0, 15.0]
    hole = next(f for f in part["features"] if f["id"] == "hole-3")
    assert hole["kind"] == "hole"
    assert (hole["diameter_mm"], hole["depth_mm"], hole["through"]) == (3.0, 36.0, False)
    assert hole["faces"] == [2]


def test_mouths_stand_inside_their_hole_and_beside_it() -> None:
    part = knuckle(
        make_feature("hole", id="hole-1"),
        make_feature("counterbore", id="counterbore-1", of="hole-1", diameter_mm=9.0),
        make_feature("counterbore", id="counterbore-2", of="hole-1", diameter_mm=11.0),
        make_feature("countersink", id="countersink-1", of="hole-1"),
        make_feature("hole", id="hole-2"),
    )
    report = PartReport(file=part.file, number="DL-102", name="x", status="added", part=part)
    features = loaded(a_run(report))["parts"][0]["features"]
    holes = [f for f in features if f["kind"] == "hole"]
    assert holes[0]["counterbore"]["id"] == "counterbore-2"
    assert holes[0]["counterbore"]["diameter_mm"] == 11.0
    assert holes[0]["countersink"]["angle_deg"] == 90.0
    assert holes[1]["counterbore"] is None
    assert holes[1]["countersink"] is None
    assert [f["kind"] for f in features].count("counterbore") == 2


def test_an_unreadable_part_has_no_figures_and_a_reason() -> None:
    part = loaded(a_run(unreadable()))["parts"][0]
    assert part["status"] == "unreadable"
    assert part["volume_mm3"] is None
    assert part["features"] == []
    assert part["not_read"]["kind"] == "damaged"


def test_the_command_part_says_no_status() -> None:
    part = changed_knuckle(former=None, comparison=None)
    report = loaded(a_run(part, command="part", range=None))
    assert report["range"] is None
    assert report["parts"][0]["status"] is None


def test_same_analysis_same_bytes() -> None:
    assert render_json(held_run()) == render_json(held_run())
    assert render_json(held_run()).encode("utf-8") == render_json(held_run()).encode("utf-8")


def test_it_reads_back_into_its_own_types() -> None:
    for run in (held_run(), faulty_run()):
        text = render_json(run)
        again = msgspec.json.decode(text, type=Report)
        assert again.verdict == run.verdict
        assert len(again.parts) == len(run.parts)


def test_numbers_are_rounded_to_a_millionth() -> None:
    facts = make_facts(volume_mm3=1000.00000049, box_mm=(10.1234567, -0.0, 1e-9))
    report = PartReport(
        file="a.step", number="a", name="a", status="added", part=knuckle(facts=facts)
    )
    text = render_json(a_run(report))
    part = json.loads(text)["parts"][0]
    assert part["volume_mm3"] == 1000.0
    assert part["box_mm"] == [10.123457, 0.0, 0.0]
    assert "-0.0" not in text


def test_compared_values_stay_apart() -> None:
    part = changed_knuckle(
        findings=(a_finding(measured=8.0000001, limit_value=8.0),),
        comparison=make_comparison(
            knuckle(), knuckle(), Change(kind="face-moved", text="x", before=1.0, after=1.0000001)
        ),
    )
    found = loaded(a_run(part))["parts"][0]
    assert found["findings"][0]["measured"] == 8.0000001
    assert found["findings"][0]["limit"]["value"] == 8.0
    assert found["changes"][0]["after"] == 1.0000001
    assert found["changes"][0]["before"] == 1.0


@pytest.mark.parametrize(
    "name",
    [
        "a\x1b[2J\x07.step",
        "[red]a[/red].step",
        "a\u202eb\u200b.step",
        "零件 \U0001f600.step",
        'q"u\\o\nte.step',
        "\x9b31m.step",
    ],
)
def test_hostile_names_are_kept_exactly_and_show_nothing(name: str) -> None:
    part = changed_knuckle(file=name, name=name, number=name)
    text = render_json(a_run(part))
    found = json.loads(text)["parts"][0]
    assert found["file"] == found["name"] == found["number"] == name
    assert found["file_base64"] is None
    assert all(line.isprintable() for line in text.split("\n"))


def test_a_name_that_is_no_utf8_can_be_had_back() -> None:
    raw = b"cad\\/kn\xfcckel\xff.step"
    name = raw.decode("utf-8", "surrogateescape")
    text = render_json(a_run(changed_knuckle(file=name, name=name)))
    text.encode("utf-8")
    part = json.loads(text)["parts"][0]
    assert part["file"] == "cad\\\\/kn\\xfcckel\\xff.step"
    assert base64.b64decode(part["file_base64"]) == raw


def test_half_characters_from_inside_a_file_do_no_harm() -> None:
    text = render_json(a_run(changed_knuckle(file="a\ud800.step", name="\udfff")))
    part = json.loads(text.encode("utf-8"))["parts"][0]
    assert part["name"] == "\\udfff"


def test_an_endless_name_is_cut_but_a_path_never() -> None:
    part = json.loads(render_json(a_run(changed_knuckle(file="f" * 9000, name="n" * 9000))))
    found = part["parts"][0]
    assert len(found["file"]) == 9000
    assert found["name"].endswith("... (5000 more characters)")


def test_several_runs_in_one_text() -> None:
    text = render_json_runs((a_run(), held_run(), faulty_run()))
    found = json.loads(text)
    assert (found["verdict"], found["exit_status"]) == ("hold", 1)
    assert [r["exit_status"] for r in found["runs"]] == [0, 3, 1]
    assert len(msgspec.json.decode(text, type=Reports).runs) == 3
    assert render_json_runs((held_run(),)) == render_json(held_run())
    nothing = json.loads(render_json_runs(()))
    assert (nothing["verdict"], nothing["exit_status"], nothing["runs"]) == ("release", 0, [])

"""The published JSON Schema fits the code and what is written."""

import json
from typing import Any

import jsonschema
import pytest
from report_builders import a_run, changed_knuckle, faulty_run, held_run, unreadable

from dfmcheck.reporting.json_report import render_json, render_json_runs
from dfmcheck.reporting.schema import FILE, make_schema, published_schema, schema_text

Draft = jsonschema.Draft202012Validator


def test_the_published_file_is_what_the_code_gives() -> None:
    assert published_schema() == make_schema(), (
        f"dfmcheck/reporting/data/{FILE} is out of date; write dfmcheck.reporting.schema."
        "schema_text() to it, and give the format a new number if a meaning changed"
    )
    assert json.loads(schema_text()) == make_schema()


def test_it_is_a_valid_schema_of_its_draft() -> None:
    Draft.check_schema(published_schema())
    assert published_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(render_json(a_run()), id="nothing changed"),
        pytest.param(render_json(a_run(changed_knuckle(findings=()))), id="release"),
        pytest.param(render_json(held_run()), id="hold"),
        pytest.param(render_json(a_run(unreadable(), verdict="hold", exit_status=4)), id="unread"),
        pytest.param(render_json(faulty_run()), id="plugin fault"),
        pytest.param(
            render_json(a_run(changed_knuckle(), command="part", range=None)), id="command part"
        ),
        pytest.param(render_json_runs((a_run(), held_run())), id="push of two branches"),
        pytest.param(render_json_runs(()), id="push of nothing"),
    ],
)
def test_reports_fit_the_schema(text: str) -> None:
    report = json.loads(text)
    Draft(make_schema(strict=True)).validate(report)
    Draft(published_schema()).validate(report)


def _part() -> dict[str, Any]:
    report: dict[str, Any] = json.loads(render_json(held_run()))
    return report


@pytest.mark.parametrize(
    "spoil",
    [
        lambda r: r.pop("verdict"),
        lambda r: r.update(verdict="maybe"),
        lambda r: r.update(format=2),
        lambda r: r["parts"][0].pop("volume_mm3"),
        lambda r: r["parts"][0].update(box_mm=[1.0, 2.0]),
        lambda r: r["parts"][-1]["features"][0].pop("diameter_mm"),
        lambda r: r["parts"][-1]["features"][0].update(kind="wormhole"),
        lambda r: r["parts"][-1]["findings"][0].update(level="fatal"),
    ],
)
def test_the_schema_refuses_what_is_wrong(spoil: Any) -> None:
    report = _part()
    spoil(report)
    with pytest.raises(jsonschema.ValidationError):
        Draft(published_schema()).validate(report)


def test_a_later_key_is_allowed() -> None:
    report = _part()
    report["parts"][0]["mass_g"] = 12.5
    Draft(published_schema()).validate(report)
    with pytest.raises(jsonschema.ValidationError):
        Draft(make_schema(strict=True)).validate(report)

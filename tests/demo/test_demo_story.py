"""What the gate says to each commit of the demo is what the demo tells."""

from datetime import date
from itertools import pairwise

import pytest

from dfmcheck.app.gate import run_gate
from dfmcheck.app.managing import ManagerMaker
from dfmcheck.app.options import GateOptions
from dfmcheck.demo.build import make_demo
from dfmcheck.model.report import RunReport
from dfmcheck.reporting.text import render_text

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> tuple[RunReport, ...]:
    folder = tmp_path_factory.mktemp("story")
    commits = make_demo(folder / "lamp")
    reports = []
    for before, after in pairwise(commits):
        options = GateOptions(
            where=folder / "lamp",
            today=date(2026, 4, 1),
            cache=folder / "cache",
            revisions=(before.sha, after.sha),
        )
        reports += run_gate(options, ManagerMaker())
    return tuple(reports)


STATUSES = [
    ["added", "added"], ["changed"], ["re-exported", "re-exported"], ["changed"], ["changed"],
    ["renamed"], ["changed"], ["changed"], ["configuration"], ["changed"], ["changed"],
]  # fmt: skip
BASE_GROWS, EXPORTED, CORNERS, CROSS, RENAMED, _, _, MATERIAL, SAVING, LAST = range(1, 11)


def kinds(run: RunReport) -> set[str]:
    return {c.kind for p in run.parts if p.comparison for c in p.comparison.changes}


def held(run: RunReport) -> set[str]:
    return {f.limit or f.rule for p in run.parts for f in p.findings if f.holds}


def test_each_commit_is_what_it_is(runs: tuple[RunReport, ...]) -> None:
    assert [[p.status for p in run.parts] for run in runs] == STATUSES
    assert all(run.could_not_judge == 0 and not run.not_checked for run in runs)


def test_two_commits_hold_and_a_designer_sees_why(runs: tuple[RunReport, ...]) -> None:
    holding = [i for i, run in enumerate(runs) if run.verdict == "hold"]
    assert holding == [BASE_GROWS, LAST]
    assert held(runs[BASE_GROWS]) == {"stock_rise"}
    assert held(runs[LAST]) == {"inside_corner_radius", "setups"}
    text = render_text(runs[LAST])
    assert text.startswith("HOLD   2 limits exceeded in 1 part")
    assert "min 2 HOLD" in text
    assert "max 2 HOLD" in text


def test_the_base_outgrows_its_bar_and_fits_again(runs: tuple[RunReport, ...]) -> None:
    stocks = [runs[i].parts[0] for i in (BASE_GROWS, SAVING)]
    labels = [(p.former.stock.label, p.part.stock.label) for p in stocks]  # type: ignore[union-attr]
    assert labels == [("round 90", "round 95"), ("round 95", "round 90")]
    assert "stock-shrank" in kinds(runs[SAVING])


def test_a_cross_hole_changes_the_process_and_is_permitted(runs: tuple[RunReport, ...]) -> None:
    part = runs[CROSS].parts[0]
    assert part.former is not None
    assert part.part is not None
    assert part.former.process.process == "turned"
    assert part.part.process.process == "turned-with-milling"
    assert {"hole-added", "setups-more"} <= kinds(runs[CROSS])
    assert [p.state for p in runs[CROSS].permits] == ["not-looked-at", "used"]


def test_corners_material_export_and_rename(runs: tuple[RunReport, ...]) -> None:
    assert "corner-tightened" in kinds(runs[CORNERS])
    assert kinds(runs[MATERIAL]) >= {"material-changed"}
    assert kinds(runs[EXPORTED]) == kinds(runs[RENAMED]) == set()
    assert all(p.findings == () for i in (EXPORTED, RENAMED) for p in runs[i].parts)


def test_what_follows_hangs_under_what_explains_it(runs: tuple[RunReport, ...]) -> None:
    def causes(run: RunReport) -> dict[str, str | None]:
        (found,) = [p.comparison.changes for p in run.parts if p.comparison]
        return {c.kind: None if c.caused_by is None else found[c.caused_by].kind for c in found}

    last = causes(runs[LAST])
    assert last["setups-more"] == "pocket-added"
    assert last["hole-shallower"] == last["volume-shrank"] == "pocket-deepened"
    assert last["pocket-deepened"] is last["corner-tightened"] is last["pocket-added"] is None
    assert causes(runs[CROSS])["setups-more"] == "hole-added"
    assert causes(runs[BASE_GROWS])["stock-grew"] == "box-grew"

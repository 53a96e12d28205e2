"""Reports made by hand, in the invented scenario of the desk lamp."""

from typing import Any

from builders import (
    a_change,
    a_permit,
    an_entry,
    make_comparison,
    make_facts,
    make_feature,
    make_part,
    make_process,
    make_stock,
)

from dfmcheck.model.facts import NotRead
from dfmcheck.model.feature import Feature
from dfmcheck.model.finding import Finding, NotChecked
from dfmcheck.model.history import Range, Revision
from dfmcheck.model.part import Part
from dfmcheck.model.report import PartReport, PermitState, RunReport
from dfmcheck.model.settings import PolicyChange
from dfmcheck.model.stock import NextSmaller

CAUTIONS = (
    "An aid to judgement, not an offer: strength, function and safety are not checked.",
    "The shop's own judgement, local codes and licensed practice prevail.",
)

BEFORE = Revision(
    kind="commit",
    sha="3f9c2e1b7a5d4c3f9c2e1b7a5d4c3f9c2e1b7a5d",
    label="main",
    author_date="2026-03-14T18:20:00+01:00",
    subject="Knuckle: room for the cable",
)
WORKTREE = Revision(kind="worktree", label="working tree")
HEAD = Revision(
    kind="commit",
    sha="90ab12cd34ef56ab78cd90ef12ab34cd56ef78ab",
    label="HEAD",
    author_date="2026-04-02T09:05:00+02:00",
    subject="Knuckle: slimmer",
)
SPAN = Range(before=BEFORE, after=WORKTREE, chosen="the working tree differs from the last commit")
COMMITS = Range(before=BEFORE, after=HEAD, chosen="the last commit against its first parent")


def a_finding(**values: Any) -> Finding:
    """A finding that holds: a deep hole beyond its limit."""
    found: dict[str, Any] = {
        "rule": "deep-hole",
        "level": "error",
        "message": "hole dia 3 is 36 mm deep, 12 times its diameter",
        "part": "DL-102",
        "file": "cad/knuckle-lower.step",
        "identity": "deep-hole DL-102 hole 3 at 30, 20, 15",
        "state": "new",
        "holds": True,
        "cost": "The drill has to be drawn back to clear the chips, and may wander.",
        "advice": "Drill from both sides, or step the hole wider above.",
        "limit": "hole_depth_ratio",
        "limit_value": 8.0,
        "limit_source": "dfmcheck.toml",
        "measured": 12.0,
        "before_value": 6.0,
        "unit": "",
        "feature": "hole-1",
        "faces": (4,),
        "line": 118,
        **values,
    }
    return Finding(**found)


def permitted() -> Finding:
    """More setups than the limit, covered by a permit."""
    return a_finding(
        rule="setups",
        level="warning",
        message="3 setups, 2 before",
        cost="Each setup is a stop, a new clamping and a further chance of error.",
        advice="Open slot 1 towards +Z.",
        limit="setups",
        limit_value=2.0,
        measured=3.0,
        before_value=2.0,
        holds=False,
        feature=None,
        faces=(),
        line=None,
        permit=a_permit("setups", part="DL-102", up_to=3.0),
        identity="setups DL-102",
    )


def old_finding(**values: Any) -> Finding:
    """A finding that was there before and measures nothing."""
    found: dict[str, Any] = {
        "rule": "sharp-corner",
        "level": "warning",
        "state": "old",
        "holds": False,
        "message": "an inside corner along the cutter's axis is sharp",
        "cost": "A round cutter leaves a radius; a sharp corner needs another process.",
        "advice": "Give it a radius, or a relief.",
        "limit": None,
        "limit_value": None,
        "limit_source": "",
        "measured": None,
        "before_value": None,
        "identity": "sharp-corner DL-102",
        **values,
    }
    return a_finding(**found)


def knuckle(*features: Feature, **values: Any) -> Part:
    """The lower knuckle, one revision."""
    found: dict[str, Any] = {
        "file": "cad/knuckle-lower.step",
        "number": "DL-102",
        "facts": make_facts(name="Lower knuckle"),
        "entry": an_entry(
            number="DL-102",
            file="cad/knuckle-lower.step",
            name="Lower knuckle",
            letter="B",
            material="EN AW-6082-T6",
            finish=("bead-blasted", "anodised-natural"),
        ),
        "stock": make_stock(
            next_smaller=NextSmaller(
                label="plate 15", size_mm=15.0, excess_mm=4.5, dimension="thickness"
            )
        ),
        **values,
    }
    return make_part(*features, **found)


def knuckle_before() -> Part:
    """The lower knuckle as it was."""
    return knuckle(
        make_feature("hole", diameter_mm=5.5),
        make_feature("hole", diameter_mm=5.5),
        make_feature("pocket", corner_radius_mm=3.0),
    )


def knuckle_after() -> Part:
    """The lower knuckle as it became: taller, a slot more, a pocket with tight corners."""
    return knuckle(
        make_feature("hole", diameter_mm=5.5),
        make_feature("hole", diameter_mm=5.5),
        make_feature("hole", diameter_mm=3.0, depth_mm=36.0, through=False, bottom="cone",
                     bottom_angle_deg=118.0),
        make_feature("pocket", corner_radius_mm=1.5),
        make_feature("slot", length_mm=22.0, width_mm=6.0, depth_mm=9.0, through=False),
        facts=make_facts(name="Lower knuckle", box_mm=(60.0, 40.0, 18.0), volume_mm3=39_500.0),
        process=make_process("milled", 3),
        stock=make_stock(label="plate 25", volume_mm3=75_900.0, removed_mm3=36_400.0,
                         removed_ratio=36_400.0 / 75_900.0),
    )  # fmt: skip


def changed_knuckle(**values: Any) -> PartReport:
    """The knuckle changed, with a finding that holds, one permitted and two that do not hold."""
    before, after = knuckle_before(), knuckle_after()
    comparison = make_comparison(
        before,
        after,
        a_change("setups-more", text="3 setups instead of 2: slot 1 can be reached only from +X",
                 what="setups", before=2.0, after=3.0, weight=9.0),
        a_change("corner-tightened", text="pocket 1, inside corners R3 -> R1.5",
                 what="corner radius", unit="mm", before=3.0, after=1.5,
                 feature_before="pocket-1", feature_after="pocket-1", weight=5.0),
        a_change("slot-added", text="slot 1 added, 6 wide x 22 x 9 deep", what="width", unit="mm",
                 after=6.0, feature_after="slot-1", faces_after=(4,), weight=4.0),
        a_change("box-grew", text="15 -> 18 mm high", what="height", unit="mm", before=15.0,
                 after=18.0, weight=3.0),
        a_change("stock-grew", text="plate 20 -> plate 25", what="stock volume", unit="mm3",
                 before=60_720.0, after=75_900.0, weight=2.0, caused_by=3),
    )  # fmt: skip
    found: dict[str, Any] = {
        "file": "cad/knuckle-lower.step",
        "number": "DL-102",
        "name": "Lower knuckle",
        "status": "changed",
        "part": after,
        "former": before,
        "comparison": comparison,
        "findings": (a_finding(), permitted(), old_finding()),
        **values,
    }  # fmt: skip
    return PartReport(**found)


def other_parts() -> tuple[PartReport, ...]:
    """Parts told in a line: re-exported, renamed, removed; and one added."""
    base = knuckle(file="cad/base.step", number="DL-101", entry=None)
    pin = knuckle(file="cad/pin.step", number="DL-104", entry=None)
    return (
        PartReport(file="cad/base.step", number="DL-101", name="Weighted base",
                   status="re-exported", part=base, former=base,
                   comparison=make_comparison(base, base)),
        PartReport(file="cad/pin.step", former_file="cad/stift.step", number="DL-104",
                   name="Pivot pin", status="renamed", part=pin, former=pin,
                   comparison=make_comparison(pin, pin)),
        PartReport(file="cad/old-knob.step", number="old-knob", name="Knob", status="removed",
                   former=pin),
        PartReport(file="cad/cable-clamp.step", number="cable-clamp", name="Cable clamp",
                   status="added", part=knuckle(make_feature("hole"), entry=None,
                   number="cable-clamp", file="cad/cable-clamp.step")),
    )  # fmt: skip


def unreadable() -> PartReport:
    """A part whose file is damaged."""
    return PartReport(
        file="cad/shade-collar.step",
        number="DL-106",
        name="Shade collar",
        status="unreadable",
        not_read=NotRead(
            kind="damaged",
            reason="the file ends in the middle of its data section",
            remedy="export it again",
        ),
    )


def a_run(*parts: PartReport, **values: Any) -> RunReport:
    """A gate over these parts: release unless told otherwise."""
    found: dict[str, Any] = {
        "command": "gate",
        "verdict": "release",
        "exit_status": 0,
        "parts": parts,
        "range": SPAN,
        "policy_source": "dfmcheck.toml of the working tree",
        "unchanged": 5,
        "cautions": CAUTIONS,
        "version": "0.1.0",
        **values,
    }
    return RunReport(**found)


def held_run() -> RunReport:
    """A gate that holds, with everything a report can carry."""
    permit = a_permit("setups", part="DL-102", up_to=3.0)
    gone = a_permit("setups", part="DL-999")
    return a_run(
        *other_parts(),
        changed_knuckle(),
        verdict="hold",
        exit_status=3,
        policy_changes=(
            PolicyChange(key="look_at", before='"cad/*.step"', after='"cad/**/*.step"',
                         weakens=False),
            PolicyChange(key="limits.setups", before="2", after="3", weakens=True),
        ),
        permits=(
            PermitState(permit=permit, state="used", text="permit of ada for DL-102, setups up to "
                        "3, until 2026-06-30; used"),
            PermitState(permit=gone, state="no-such-part", text="permit of ada for DL-999; but no "
                        "part has the number DL-999"),
        ),
        warnings=("dfmcheck.toml: limits.setups is finer than the model can tell",),
    )  # fmt: skip


def faulty_run() -> RunReport:
    """A gate with an unreadable part, one not to be trusted and a plugin that raised."""
    doubtful = changed_knuckle(findings=(), doubts=("a shell is open: 2 edges have one face only",))
    return a_run(
        doubtful,
        unreadable(),
        verdict="hold",
        exit_status=1,
        range=COMMITS,
        could_not_judge=2,
        not_checked=(
            NotChecked(rule="thin-wall", plugin="shop-rules 1.2", part="DL-102",
                       reason="it raised ZeroDivisionError: division by zero"),
            NotChecked(rule="thin-wall", plugin="shop-rules 1.2", part="DL-106",
                       reason="it raised ZeroDivisionError: division by zero"),
        ),
    )  # fmt: skip

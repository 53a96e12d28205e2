"""Drafts: they read back as what they were made from, and adding them changes nothing else."""

from datetime import date

import pytest
import tomli
from hypothesis import given, settings
from hypothesis import strategies as st

from dfmcheck.config.draft import (
    draft_callout,
    draft_permit,
    permit_for,
    target_for,
    with_callout,
    with_permit,
)
from dfmcheck.config.load import parse_settings
from dfmcheck.config.spec import FEATURE_KINDS
from dfmcheck.errors import ConfigError, UsageError
from dfmcheck.model.feature import Fillet, Hole
from dfmcheck.model.finding import Finding
from dfmcheck.model.settings import Callout, CalloutTarget, Permit

# Invented; comments stand wherever TOML allows them.
CONFIG = """\
# the lamp

format = 1   # first
[limits]     # of the gate
setups = 2
# between

# the knuckle
[part.DL-102]
file = "cad/knuckle.step" # path
[[part.DL-102.callout]]
find = { kind = "hole", diameter_mm = 2.5 } # found
thread = "M3"
# about the cap

# more about the cap
[part."D.L 1"]
file = "cad/cap.step"

[[permit]]
part = "DL-102" # which
limit = "setups"
reason = "slot"
owner = "ada"
until = 2026-06-30
# the end"""

_text = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40).filter(
    lambda s: s.strip()
)
_lines = st.lists(_text, min_size=1, max_size=3).map("\n".join)
_size = st.floats(0.001, 1e5)
_permits = st.builds(
    Permit,
    part=_text,
    limit=st.sampled_from(["setups", "deep-hole", "wall_mm"]),
    reason=_lines,
    owner=_text,
    until=st.dates(date(2000, 1, 1), date(2100, 1, 1)).map(date.isoformat),
    up_to=st.none() | st.floats(0, 1e8),
    feature=st.none() | _text,
)
_targets = st.builds(
    CalloutTarget,
    kind=st.sampled_from(FEATURE_KINDS),
    diameter_mm=st.none() | _size,
    radius_mm=st.none() | _size,
    near_mm=st.none() | st.tuples(*[st.floats(-1e5, 1e5)] * 3),
    count=st.none() | st.integers(1, 1000),
)
_callouts = st.builds(
    Callout,
    find=_targets,
    thread=_text,
    fit=st.none() | st.sampled_from(["H7", "js6", "ZC11"]),
    tolerance_mm=st.none() | st.tuples(st.floats(-10, 0), st.floats(0.001, 10)),
    texture_ra_um=st.none() | st.floats(0.01, 50),
    knurl=st.none() | _text,
    depth_mm=st.none() | _size,
    note=st.none() | _lines,
)
_numbers = st.sampled_from(["DL-102", "D.L 1", "new", 'q"uote', "ü"]) | _text.filter(
    lambda s: s == s.strip() and len(s) <= 40
)


def only_added(old: str, new: str) -> bool:
    """Whether the old text stands in the new one in two pieces with something between or behind."""
    return any(
        new.startswith(old[:at]) and new.endswith(old[at:]) for at in range(len(old), -1, -1)
    )


@settings(max_examples=150, deadline=None)
@given(_permits)
def test_a_drafted_permit_reads_back(permit: Permit) -> None:
    found = parse_settings(draft_permit(permit).encode(), "dfmcheck.toml")
    assert found.policy.permits == (permit,)


@settings(max_examples=150, deadline=None)
@given(_numbers, _callouts)
def test_a_drafted_callout_reads_back(number: str, callout: Callout) -> None:
    table = tomli.loads(draft_callout(number, callout))
    assert list(table["part"]) == [number]
    whole = with_callout('look_at = ["a/**"]', number, callout)
    # The entry itself lacks its file, which is the user's to write.
    with pytest.raises(ConfigError) as caught:
        parse_settings(whole.encode(), "dfmcheck.toml")
    assert [p.split(": ")[-1] for p in caught.value.problems] == [
        "file is missing; it takes the path of a STEP file"
    ]


@settings(max_examples=150, deadline=None)
@given(_permits, st.booleans())
def test_a_permit_is_added_and_all_else_stays(permit: Permit, windows: bool) -> None:
    old = CONFIG.replace("\n", "\r\n") if windows else CONFIG
    new = with_permit(old, permit)
    assert only_added(old, new)
    assert new.count("\r\n") == (new.count("\n") if windows else 0)
    before, after = parse_settings(old.encode(), "a"), parse_settings(new.encode(), "a")
    assert after.policy.permits == (*before.policy.permits, permit)
    assert (after.parts, after.policy.limits) == (before.parts, before.policy.limits)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(["DL-102", "D.L 1"]), _callouts, st.booleans())
def test_a_callout_is_added_and_all_else_stays(
    number: str, callout: Callout, windows: bool
) -> None:
    old = CONFIG.replace("\n", "\r\n") if windows else CONFIG
    new = with_callout(old, number, callout)
    assert only_added(old, new)
    before = {p.number: p for p in parse_settings(old.encode(), "a").parts}
    after = {p.number: p for p in parse_settings(new.encode(), "a").parts}
    assert after.pop(number).callouts == (*before.pop(number).callouts, callout)
    assert after == before


def test_where_a_callout_is_put() -> None:
    callout = Callout(find=CalloutTarget(kind="hole", diameter_mm=4.0), fit="H7")
    block = '[[part.DL-102.callout]]\nfind = {kind = "hole", diameter_mm = 4}\nfit = "H7"\n'
    new = with_callout(CONFIG, "DL-102", callout)
    assert new == CONFIG.replace('thread = "M3"\n', f'thread = "M3"\n\n{block}\n')
    assert with_callout("", "DL-102", callout) == block
    assert with_callout("# c", "DL-102", callout) == f"# c\n\n{block}"


def test_a_draft_is_refused_until_it_is_filled_in() -> None:
    finding = Finding(
        rule="deep-hole", level="error", message="-", part="DL-102", file="x.step", identity="i",
        state="new", holds=True, limit="hole_depth", measured=8.123456, feature="hole-3",
    )  # fmt: skip
    permit = permit_for(finding, date(2026, 3, 14))
    assert permit == Permit(
        part="DL-102", limit="hole_depth", up_to=8.124, feature="hole-3", reason="", owner="",
        until="2026-06-12",
    )  # fmt: skip
    with pytest.raises(ConfigError) as caught:
        parse_settings(draft_permit(permit).encode(), "dfmcheck.toml")
    assert [p.split(": ")[1] for p in caught.value.problems] == [
        "permit[1].reason", "permit[1].owner"
    ]  # fmt: skip
    bare = Callout(find=CalloutTarget(kind="hole"))
    draft = '[part.X]\nfile = "x.step"\n' + draft_callout("X", bare)
    with pytest.raises(ConfigError, match="thread: is empty"):
        parse_settings(draft.encode(), "dfmcheck.toml")


@given(st.floats(1e-3, 1e6), st.sampled_from(["most", "least"]))
def test_a_drafted_permit_covers_what_was_measured(measured: float, sense: str) -> None:
    finding = Finding(
        rule="r", level="error", message="-", part="X", file="x", identity="i", state="new",
        holds=True, measured=measured,
    )  # fmt: skip
    up_to = permit_for(finding, date(2026, 1, 1), sense=sense).up_to  # type: ignore[arg-type]
    assert up_to is not None
    assert up_to == pytest.approx(measured, rel=2e-3)
    assert up_to >= measured * (1 - 1e-9) if sense == "most" else up_to <= measured * (1 + 1e-9)


def test_targets_of_features() -> None:
    hole = Hole(
        id="hole-1", faces=(1,), place=(12.0449, -0.01, 3.0), direction=(0.0, 0.0, 1.0),
        diameter_mm=2.504, depth_mm=8.0, reach_mm=8.0, through=False,
    )  # fmt: skip
    assert target_for([hole]) == CalloutTarget(
        kind="hole", diameter_mm=2.5, near_mm=(12.0, 0.0, 3.0), count=1
    )
    assert target_for([hole, hole]) == CalloutTarget(kind="hole", diameter_mm=2.5, count=2)
    fillet = Fillet(
        id="f", faces=(2,), place=(0.0, 0.0, 0.0), direction=(0.0, 0.0, 1.0), side="inside",
        role="corner", radius_mm=3.0, length_mm=5.0,
    )  # fmt: skip
    assert target_for([fillet]).radius_mm == 3.0
    with pytest.raises(ValueError, match="needs a feature"):
        target_for([])


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ('permit = [{ part = "X" }]', None),
        ("permit = 1", None),
        ("a = ", None),
        ('part = { X = { file = "x.step" } }', "X"),
        ('[part.X]\ncallout = [{ thread = "M3" }]', "X"),
        ("part = 1", "X"),
    ],
)
def test_what_cannot_be_added_to_is_said(text: str, part: str | None) -> None:
    permit = Permit(part="X", limit="setups", reason="r", owner="o", until="2026-01-01")
    callout = Callout(find=CalloutTarget(kind="hole"), fit="H7")
    with pytest.raises(UsageError, match="write it in by hand"):
        with_permit(text, permit) if part is None else with_callout(text, part, callout)

from builders import a_callout, an_entry, make_part

from dfmcheck.comparing.entries import callout_words, entry_changes
from dfmcheck.model.settings import TargetCost


def said(before, after):
    parts = (make_part(entry=e) for e in (before, after))
    return [(r.kind, r.before, r.after) for r in entry_changes(*parts)]


def test_nothing_decided_and_nothing_changed():
    assert said(None, None) == []
    entry = an_entry(material="C45", finish=("bead-blasted",), callouts=(a_callout(thread="M3"),))
    assert said(entry, entry) == []


def test_spaces_and_case_are_no_change():
    assert said(an_entry(material="EN AW-6082"), an_entry(material="en  aw-6082")) == []


def test_a_first_entry_decides_what_was_open():
    assert said(None, an_entry(material="C45", letter="A")) == [
        ("material-changed", "undecided", "C45"),
        ("letter-changed", "undecided", "A"),
    ]


def test_each_field_has_its_kind():
    before = an_entry(make="machined", finish=("bead-blasted",), quantities=(1, 10))
    after = an_entry(
        number="DL-2",
        make="bought",
        finish=("bead-blasted", "anodised-natural"),
        quantities=(10, 25),
        target_cost=TargetCost(at=25, amount=48.0),
        general_tolerance="ISO 2768-m",
        name="Knuckle",
    )
    assert said(before, after) == [
        ("make-changed", "machined", "bought"),
        ("finish-changed", "bead-blasted", "bead-blasted, anodised-natural"),
        ("tolerance-changed", "undecided", "ISO 2768-m"),
        ("quantities-changed", "1, 10", "10, 25"),
        ("target-cost-changed", "none", "48.00 at 25"),
        ("name-changed", "undecided", "Knuckle"),
        ("number-changed", "DL-1", "DL-2"),
    ]


def test_callouts_are_paired_by_what_they_are_for():
    small = a_callout(thread="M3", target={"diameter_mm": 2.5, "count": 2})
    large = a_callout(fit="H7", target={"diameter_mm": 6.0})
    deeper = a_callout(thread="M3", depth_mm=8.0, target={"diameter_mm": 2.5, "count": 2})
    moved = a_callout(fit="H7", target={"diameter_mm": 6.0, "near_mm": (1.0, 2.0, 3.0)})
    assert said(an_entry(callouts=(small, large)), an_entry(callouts=(large, deeper))) == [
        ("callout-changed", "2 x hole dia 2.5: M3", "2 x hole dia 2.5: M3, 8 deep"),
    ]
    assert said(an_entry(callouts=(large,)), an_entry(callouts=(moved, small))) == [
        ("callout-changed", "hole dia 6: H7", "hole dia 6 near (1, 2, 3): H7"),
        ("callout-added", None, "2 x hole dia 2.5: M3"),
    ]
    assert said(an_entry(callouts=(small,)), an_entry()) == [
        ("callout-removed", "2 x hole dia 2.5: M3", None)
    ]


def test_all_a_callout_can_say_in_words():
    callout = a_callout(
        fit="H7",
        tolerance_mm=(-0.01, 0.02),
        texture_ra_um=0.8,
        knurl="RAA 0.8",
        note="no burrs",
        target={"radius_mm": 2.0},
    )
    assert callout_words(callout) == "hole R2: H7, +0.02/-0.01, Ra 0.8, knurl RAA 0.8, no burrs"

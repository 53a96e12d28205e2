"""What the rules about threads, knurls and callouts say, and what they pass over."""

import pytest
from builders import a_callout, a_change, an_entry, make_feature, make_part, run_rule

from dfmcheck_rules import threads


def tapped(diameter_mm: float, unit: str = "mm", **hole: object) -> list[str]:
    part = make_part(make_feature("hole", diameter_mm=diameter_mm, **hole), unit=unit)
    return [f.message for f in run_rule(threads.looks_tapped, part)]


@pytest.mark.parametrize("diameter_mm", [2.48, 2.5, 2.52, 2.459, 2.469])
def test_within_the_tolerances_of_the_table(diameter_mm: float) -> None:
    assert "drilled for M3" in tapped(diameter_mm)[0]


@pytest.mark.parametrize("diameter_mm", [2.4, 2.53, 5.5, 6.6])
def test_beyond_the_tolerances_of_the_table(diameter_mm: float) -> None:
    assert tapped(diameter_mm) == []


def test_the_other_system_of_threads_is_matched_only_closely() -> None:
    """#6-32 is drilled at 0.1065 inch = 2.7051 mm; 2.7 mm is an ordinary metric hole."""
    assert tapped(2.7) == []
    assert "#6-32" in tapped(2.7051)[0]
    assert "#6-32" in tapped(2.7, unit="inch")[0]


def test_a_hole_for_a_screw_head_is_not_tapped() -> None:
    assert tapped(5.0, form="counterbored") == []


def test_a_wide_countersink_takes_a_head_and_a_narrow_one_only_breaks_the_edge() -> None:
    def remarks(diameter_mm: float) -> int:
        hole = make_feature("hole", id="hole-1", diameter_mm=5.0, form="countersunk")
        sink = make_feature("countersink", diameter_mm=diameter_mm, of="hole-1")
        return len(run_rule(threads.looks_tapped, make_part(hole, sink)))

    assert remarks(12.4) == 0
    assert remarks(6.4) == 1


def test_a_note_that_it_stays_plain_ends_the_remark() -> None:
    entry = an_entry(callouts=(a_callout(target={"diameter_mm": 2.5}, note="plain"),))
    part = make_part(make_feature("hole", diameter_mm=2.5), entry=entry)
    assert run_rule(threads.looks_tapped, part) == ()


def test_a_modelled_thread_says_which_one_it_looks_like() -> None:
    (found,) = run_rule(threads.modelled_thread, make_part(make_feature("thread")))
    assert "looks like M8" in found.message
    fine = make_feature("thread", major_diameter_mm=8.0, pitch_mm=1.0)
    (found,) = run_rule(threads.modelled_thread, make_part(fine))
    assert "looks like 8 x 1" in found.message


def test_a_thread_in_a_hole_is_called_out_through_the_hole() -> None:
    hole = make_feature("hole", id="hole-1", diameter_mm=6.647)
    thread = make_feature("thread", side="inside", of="hole-1")
    entry = an_entry(callouts=(a_callout("hole", thread="M8"),))
    assert run_rule(threads.modelled_thread, make_part(hole, thread, entry=entry)) == ()


@pytest.mark.parametrize(
    ("callout", "through", "lacking"),
    [
        ({"thread": "M3"}, True, None),
        ({"thread": "M3"}, False, "the depth of the thread"),
        ({"thread": "M3", "depth_mm": 6.0}, False, None),
        ({"thread": "M8x1", "depth_mm": 6.0}, False, None),
        ({"thread": "metric"}, True, "the thread's size"),
        ({"thread": "1/4"}, True, "threads per inch"),
        ({"thread": "#10"}, True, "threads per inch"),
        ({"thread": "1/4-20 UNC"}, True, None),
        ({"thread": "G1/8"}, True, None),
        ({"knurl": "straight"}, True, "the knurl's pitch"),
        ({"knurl": "RGE 0.8"}, True, None),
    ],
)
def test_what_a_callout_lacks(
    callout: dict[str, object], through: bool, lacking: str | None
) -> None:
    entry = an_entry(callouts=(a_callout(**callout),))
    part = make_part(make_feature("hole", through=through), entry=entry)
    found = run_rule(threads.callout_without_sizes, part)
    assert [lacking in f.message for f in found if lacking] == ([True] if lacking else [])
    assert bool(found) == (lacking is not None)


def test_a_callout_counts_its_features() -> None:
    holes = [make_feature("hole", diameter_mm=2.5, place=(x, 0.0, 0.0)) for x in (0.0, 30.0)]
    for count, words in ((2, None), (3, "finds 2, not 3"), (None, None)):
        entry = an_entry(callouts=(a_callout(thread="M3", target={"count": count}),))
        found = run_rule(threads.callout_finds_nothing, make_part(*holes, entry=entry))
        assert [words in f.message for f in found if words] == ([True] if words else [])


def test_a_callout_that_was_taken_out_with_its_feature_is_no_slip() -> None:
    entry = an_entry(callouts=(a_callout(thread="M6"),))
    was = make_part(make_feature("hole", diameter_mm=5.0), entry=entry)
    now = make_part(entry=an_entry())
    change = (a_change("hole-removed"),)
    assert run_rule(threads.called_out_feature_vanished, now, was, change) == ()


def test_a_callout_that_leapt_to_another_hole_is_named() -> None:
    entry = an_entry(callouts=(a_callout(thread="M6"),))
    was = make_part(make_feature("hole", id="hole-7", diameter_mm=5.0), entry=entry)
    now = make_part(make_feature("hole", id="hole-9", diameter_mm=5.0), entry=entry)
    changes = (a_change("hole-removed"), a_change("hole-added"))
    (found,) = run_rule(threads.called_out_feature_vanished, now, was, changes)
    assert "'M6' for hole" in found.message

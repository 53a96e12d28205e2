import math

import pytest
from builders import make_facts, make_process
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from shafts import shaft

from dfmcheck.model.facts import Frame
from dfmcheck.model.stock import Series
from dfmcheck.planning.catalogue import allowances, shipped_series
from dfmcheck.planning.process import choose_process
from dfmcheck.planning.stock import choose_stock, series_for, stock_from

FAMILIES = sorted({s.family for s in shipped_series()} - {"all"})


def block(x, y, z):
    frame = Frame(
        x=(1.0, 0.0, 0.0), y=(0.0, 1.0, 0.0), z=(0.0, 0.0, 1.0),
        low_mm=(0.0, 0.0, 0.0), high_mm=(x, y, z),
    )  # fmt: skip
    return make_facts(frame=frame, volume_mm3=x * y * z, box_mm=(x, y, z))


def milled(part, family="aluminium", unit="mm", extra=(), first=(0.0, 0.0, 1.0)):
    process = replace(make_process("milled"), setup_directions=(first,))
    return choose_stock(part, process, family, extra, unit)


def turned(part, family="aluminium", unit="mm", extra=()):
    return choose_stock(part, choose_process(part, ()), family, extra, unit)


def test_a_part_that_is_not_machined_has_no_stock():
    assert choose_stock(make_facts(), make_process("not-machined"), "steel") is None


def test_drawn_skin_is_kept_where_the_diameter_is_a_drawn_size():
    kept = turned(shaft((10.0, 20.0)), "brass")
    assert (kept.label, kept.skin_kept, kept.allowance_mm) == ("round 10", True, 0.0)
    cut = turned(shaft((9.9, 20.0)), "brass")
    assert (cut.label, cut.skin_kept) == ("round 11", False)


def test_hot_rolled_skin_is_never_kept():
    rolled = tuple(s for s in shipped_series() if s.name.startswith("EN 10060"))
    part = shaft((100.0, 40.0))
    found = stock_from(part, choose_process(part, ()), rolled, allowances())
    assert found is not None
    assert not found.skin_kept
    # AISI: 4.75 mm a side at 4 1/2 in, 109.5 mm; 110 is the next size of EN 10060
    assert (found.label, found.allowance_mm) == ("round 110", 4.75)


def test_the_length_counts_facing_and_parting_off():
    small, large = turned(shaft((10.0, 20.0))), turned(shaft((24.0, 20.0)))
    assert small.length_mm == pytest.approx(20.0 + 0.5 + 2.0)
    assert large.length_mm == pytest.approx(20.0 + 0.5 + 0.5 + 3.0)


def test_a_shaft_too_thick_for_the_spindle_is_sawn():
    found = turned(shaft((90.0, 30.0)), "steel")
    assert found.form == "round"
    assert found.length_mm == pytest.approx(30.0 + 2 * 2.0)


def test_a_disc_beyond_every_bar_is_cut_from_plate():
    found = turned(shaft((700.0, 30.0)))
    assert found.form == "plate"
    assert found.section_mm[1] >= 30.0


def test_tube_where_it_spares_enough():
    # hot-rolled skin at 71 mm: 3.96 mm a side, outside and in the bore (AISI)
    thin = turned(shaft((62.0, 80.0), bore_mm=53.0), "steel")
    assert (thin.form, thin.section_mm) == ("tube", (71.0, 45.0))
    solid = turned(shaft((62.0, 80.0), bore_mm=10.0), "steel")
    assert solid.form == "round"


def test_inch_parts_are_cut_from_inch_sizes():
    found = turned(shaft((1.45 * 25.4, 50.0)), "steel", "inch")
    assert found.label == "round 1 1/2 in"
    assert found.section_mm == (38.1,)


def test_a_size_of_the_other_unit_serves_where_its_skin_can_stay():
    found = turned(shaft((12.7, 40.0)), "steel")
    assert (found.label, found.skin_kept) == ("round 1/2 in", True)


def test_a_thin_plate_keeps_both_skins():
    found = milled(block(200.0, 150.0, 10.0))
    assert (found.label, found.skin_kept, found.grip_mm) == ("plate 10", True, 0.0)
    thick = milled(block(60.0, 40.0, 15.0))
    assert (thick.label, thick.skin_kept) == ("plate 20", False)


@pytest.mark.parametrize("family", ["steel", "aluminium"])
@pytest.mark.parametrize(
    "size", [(100.0, 60.0, 22.0), (300.0, 120.0, 27.0), (22.0, 60.0, 100.0)], ids=str
)
def test_a_plate_lies_flat_and_is_never_cut_on_edge(size, family):
    thin = size.index(min(size))
    found = milled(block(*size), family, first=tuple(float(k == thin) for k in range(3)))
    assert found.form == "plate"
    assert min(size) < found.section_mm[1] <= min(size) + 8.0
    assert found.length_mm == pytest.approx(max(size) + 6.0)


@pytest.mark.parametrize("family", ["steel", "aluminium"])
@pytest.mark.parametrize(
    ("size", "label"),
    [
        ((30.0, 6.0, 6.0), "square 6"),
        ((30.0, 20.0, 3.0), "plate 3"),
        ((120.0, 25.0, 10.0), "flat 25 x 10"),
    ],
)
def test_bought_skins_stay_where_the_part_has_the_very_size(size, label, family):
    found = milled(block(*size), family)
    assert (found.label, found.skin_kept, found.grip_mm) == (label, True, 0.0)


def test_a_short_block_of_a_flat_s_section_is_milled_all_round():
    found = milled(block(40.0, 25.0, 10.0))
    assert not found.skin_kept


def test_skins_of_rolled_flats_never_stay():
    rolled = tuple(s for s in shipped_series() if s.name == "EN 10058")
    process = replace(make_process("milled"), setup_directions=((0.0, 0.0, 1.0),))
    found = stock_from(block(120.0, 25.0, 10.0), process, rolled, allowances())
    assert not found.skin_kept
    assert found.section_mm[1] >= 15.0


@given(st.floats(1.0, 400.0))
def test_small_parts_take_less_allowance_and_larger_ones_never_less(extent):
    allowed = allowances()
    for steps in (allowed.milled_side, allowed.milled_top, allowed.milled_grip):
        assert steps.at(extent) <= steps.at(extent + 1.0)
    assert 2.0 * allowed.milled_side.at(6.0) < 6.0
    largest = allowed.milled_side.largest_within(extent + 6.0, times=2.0)
    assert largest >= extent - 1e-9
    assert largest + 2.0 * allowed.milled_side.at(largest) <= extent + 6.0 + 1e-9


def test_a_tube_of_the_part_s_own_size_keeps_both_skins():
    found = turned(shaft((50.0, 200.0), bore_mm=40.0))
    assert (found.label, found.skin_kept) == ("tube 50 x 40", True)


def test_a_block_larger_than_any_plate_is_sawn_on_all_sides():
    found = milled(block(400.0, 300.0, 260.0))
    assert found.form == "block"
    assert (found.length_mm, *found.section_mm) == (406.0, 306.0, 265.0)
    assert found.next_smaller is None


def test_the_direction_worked_first_takes_skim_and_grip():
    upright = milled(block(60.0, 30.0, 30.0), first=(1.0, 0.0, 0.0))
    assert 65.0 in (upright.length_mm, *upright.section_mm)
    lying = milled(block(60.0, 30.0, 30.0), first=(0.0, 0.0, 1.0))
    assert 66.0 in (lying.length_mm, *lying.section_mm)


def test_further_series_are_tried_beside_the_shipped_ones():
    own = Series(
        form="round", family="aluminium", name="ours", sizes_mm=(24.0,), source="test",
        skin="drawn",
    )  # fmt: skip
    part = shaft((24.0, 20.0))
    assert turned(part).label == "round 25"
    found = turned(part, extra=(own,))
    assert (found.label, found.series, found.skin_kept) == ("round 24", "ours", True)


def test_second_sizes_must_pair_up():
    with pytest.raises(ValueError, match="second sizes"):
        Series(form="flat", family="all", name="bad", sizes_mm=(10.0,), source="test")
    with pytest.raises(ValueError, match="not positive"):
        Series(form="round", family="all", name="bad", sizes_mm=(0.0,), source="test")


def test_shipped_series_name_their_source_and_rise():
    for s in shipped_series():
        assert s.source
        pairs = list(zip(s.sizes_mm, s.second_mm or s.sizes_mm, strict=True))
        assert pairs == sorted(set(pairs)), s.name


diameters = st.floats(3.0, 240.0, allow_nan=False)
lengths = st.floats(2.0, 300.0, allow_nan=False)
families = st.sampled_from(FAMILIES)


def holds(series, size, diameter):
    """Whether a bar of a size holds a plain shaft, by the words of the allowances alone."""
    allowed = allowances()
    side = next(steps.at(size) for skin, steps in allowed.bar_side if skin == series.skin)
    kept = series.skin == "drawn" and abs(size - diameter) <= allowed.bar_skin_tolerance_mm
    return kept or diameter + 2 * side <= size + 1e-6


def metric(part, family):
    series = series_for(family, shipped_series(), "mm")
    found = stock_from(part, choose_process(part, ()), series, allowances())
    assert found is not None
    return found


@settings(deadline=None)
@given(diameters, lengths, families)
def test_no_smaller_round_bar_would_do(diameter, length, family):
    found = metric(shaft((diameter, length)), family)
    assume(found.form == "round")
    series = [s for s in series_for(family, shipped_series(), "mm") if s.form == "round"]
    fitting = [x for s in series for x in s.sizes_mm if holds(s, x, diameter)]
    assert found.section_mm[0] == min(fitting)
    volume = math.pi / 4 * diameter**2 * length
    assert found.volume_mm3 > volume
    assert found.removed_mm3 == pytest.approx(found.volume_mm3 - volume)


@settings(deadline=None)
@given(diameters, lengths, families)
def test_a_shaft_thinner_by_the_excess_fits_the_next_smaller_bar(diameter, length, family):
    found = metric(shaft((diameter, length)), family)
    assume(found.form == "round" and found.next_smaller is not None)
    smaller = found.next_smaller
    assert smaller.dimension == "diameter"
    assert smaller.excess_mm > 0.0
    thinner = metric(shaft((diameter - smaller.excess_mm - 1e-9, length)), family)
    assert thinner.section_mm[0] <= smaller.size_mm + 1e-9
    almost = metric(shaft((diameter - 0.9 * max(0.0, smaller.excess_mm - 0.03), length)), family)
    assert almost.section_mm[0] >= found.section_mm[0]  # more, where a kept skin is lost


edges = st.floats(4.0, 390.0, allow_nan=False)


@settings(deadline=None)
@given(edges, edges, edges, families)
def test_the_blank_of_a_block_holds_it_and_no_thinner_plate_would(x, y, z, family):
    part = block(x, y, z)
    found = milled(part, family)
    blank = sorted((found.length_mm, found.section_mm[0], found.section_mm[-1]))
    assert all(b >= p - 0.02 for b, p in zip(blank, sorted((x, y, z)), strict=True))
    if found.form != "plate" or found.skin_kept:
        return
    thickness = found.section_mm[1]
    allowed = allowances()
    for s in series_for(family, shipped_series(), "mm"):
        if s.form != "plate":
            continue
        for size in s.sizes_mm:
            skin = next((t.at(size) for k, t in allowed.flat_side if k == s.skin), 0.0)
            top, grip = max(1.0, skin), max(4.0, skin)
            if size < thickness and z + top + grip <= size:
                wider = (x + 6 + 2) * (y + 6 + 2) * size
                mine = (found.length_mm + 2) * (found.section_mm[0] + 2) * thickness
                assert mine <= wider + 1e-6


@settings(deadline=None)
@given(edges, edges, edges)
def test_a_part_thinner_by_the_excess_takes_less_plate(x, y, z):
    plates = series_for("aluminium", (s for s in shipped_series() if s.form == "plate"), "mm")
    process = replace(make_process("milled"), setup_directions=((0.0, 0.0, 1.0),))

    def bought(height):
        found = stock_from(block(x, y, height), process, plates, allowances())
        assert found is not None
        width, thick = found.section_mm
        return found, (width + 2.0) * (found.length_mm + 2.0) * thick  # 2 mm of saw cut

    found, metal = bought(z)
    assume(found.form == "plate" and found.next_smaller is not None and not found.skin_kept)
    excess = found.next_smaller.excess_mm
    assume(found.next_smaller.dimension == "thickness" and z - excess > 1.0)
    assume(found.section_mm[1] - z >= 5.0)  # the plate's thickness lies along z
    assert bought(z - excess - 1e-9)[1] < metal


@settings(deadline=None)
@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1), st.floats(-50, 50))
def test_a_moved_shaft_has_the_same_stock(a, b, c, shift):
    assume(a * a + b * b + c * c > 0.01)
    here = turned(shaft((20.0, 15.0), (12.0, 30.0)))
    there = turned(shaft((20.0, 15.0), (12.0, 30.0), axis=(a, b, c), origin=(shift, -shift, 3.0)))
    assert there.label == here.label
    assert there.length_mm == pytest.approx(here.length_mm, abs=1e-6)
    assert there.volume_mm3 == pytest.approx(here.volume_mm3, rel=1e-9)

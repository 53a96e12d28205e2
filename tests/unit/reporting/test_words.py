"""Numbers, features and figures in words."""

import msgspec
import pytest
from builders import a_change, make_facts, make_feature, make_part, make_process, make_stock
from report_builders import a_finding, knuckle_after, knuckle_before

from dfmcheck.model.history import Revision
from dfmcheck.reporting.sheet import words
from dfmcheck.reporting.sheet.features import ORDER, describe, grouped
from dfmcheck.reporting.sheet.figures import table_rows


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (5.5, "5.5"),
        (25.0, "25"),
        (0.125, "0.125"),
        (100.0, "100"),
        (-0.0001, "0"),
        (1e6, "1000000"),
    ],
)
def test_numbers(value: float, text: str) -> None:
    assert words.number(value) == text


def test_signs_shares_and_volumes() -> None:
    assert (words.signed(5.0), words.signed(-0.25), words.signed(0.0)) == ("+5", "-0.25", "0")
    assert (words.percent(0.41), words.percent(0.025)) == ("41 %", "2.5 %")
    assert words.volume(24_720.0) == "24.72 cm3"
    assert words.volume(1047.0) == "1.05 cm3"
    assert words.volume(2.5e6) == "2500 cm3"


def test_directions() -> None:
    assert words.direction((0.0, 0.0, -1.0)) == "-Z"
    assert words.direction((0.6, 0.0, 0.8)) == "(0.6, 0, 0.8)"


def test_dates_and_sides() -> None:
    assert words.date("2026-03-14T18:20:00+01:00") == "14 Mar 2026"
    assert words.date("soon\x1b") == "soon\\x1b"
    assert words.date("2026-13-14") == "2026-13-14"
    assert words.revision(Revision(kind="empty")) == "nothing (before the first commit)"
    assert words.revision(Revision(kind="index")) == "index (what is staged)"
    sha = "90ab12cd34ef56ab78cd90ef12ab34cd56ef78ab"
    assert words.revision(Revision(kind="commit", sha=sha, label=sha[:7])) == "90ab12cd34"


def test_equal_features_are_counted() -> None:
    part = make_part(
        *(make_feature("hole", diameter_mm=5.5) for _ in range(4)),
        make_feature("hole", id="h", diameter_mm=6.6),
        make_feature("counterbore", of="h"),
        make_feature("fillet", role="corner"),
        make_feature("boss", diameter_mm=8.0),
        make_feature("boss", diameter_mm=8.0),
    )
    assert grouped(part.features) == [
        "4 holes dia 5.5 through",
        "1 hole dia 6.6 through, counterbore dia 11 x 6.4 deep",
        "2 bosses dia 8 x 5 high",
        "1 fillet R4, inside corner",
    ]


@pytest.mark.parametrize("kind", ORDER)
def test_every_kind_has_words(kind: str) -> None:
    assert describe(make_feature(kind))
    assert len(grouped((make_feature(kind),))) == 1


@pytest.mark.parametrize(
    ("sizes", "text"),
    [
        ({"through": False, "bottom": "flat"}, "dia 6 x 10 deep, flat bottom"),
        ({"through": False, "bottom": "cone", "bottom_angle_deg": 118.0},
         "dia 6 x 10 deep, 118 deg point"),
        ({"tilted": True, "entry_slant_deg": 12.0},
         "dia 6 through, tilted, meets the surface 12 deg off square"),
    ],
)  # fmt: skip
def test_holes(sizes: dict[str, object], text: str) -> None:
    assert describe(make_feature("hole", **sizes)) == text


def test_a_sharp_corner_is_called_sharp() -> None:
    assert "corners sharp" in describe(make_feature("pocket", corner_radius_mm=0.0))


def labels(*findings: object) -> list[str]:
    return [r.label for r in table_rows(knuckle_after(), knuckle_before(), findings)]  # type: ignore[arg-type]


def test_the_table_holds_only_what_changed() -> None:
    assert table_rows(knuckle_before(), knuckle_before(), ()) == []
    assert labels() == [
        "cut from", "stock", "metal cut away, cm3", "  share of the stock",
        "box X x Y x Z, mm", "volume, cm3", "smallest inside corner", "deepest hole, depth/dia",
        "holes", "slots",
    ]  # fmt: skip


def test_what_the_list_of_changes_tells_is_left_to_it() -> None:
    changes = (a_change("stock-grew"), a_change("process-changed"), a_change("hole-added"))
    rows = table_rows(knuckle_after(), knuckle_before(), (), changes, counts=False)
    assert [r.label for r in rows] == [
        "cut from", "metal cut away, cm3", "  share of the stock", "box X x Y x Z, mm",
        "volume, cm3", "smallest inside corner", "deepest hole, depth/dia",
    ]  # fmt: skip


def test_the_mass_stands_for_the_volume_where_it_says_the_same() -> None:
    def told(before: float, after: float) -> dict[str, str]:
        mass = a_change("mass-grew", before=before, after=after)
        rows = table_rows(knuckle_after(), knuckle_before(), (), (mass,))
        return {r.label: r.change for r in rows if r.label in ("mass, g", "volume, cm3")}

    assert told(97.2, 106.65) == {"mass, g": "+9.5 9.7 %"}
    assert told(97.2, 300.0) == {"mass, g": "+202.8 209 %", "volume, cm3": "+3.5 9.7 %"}


def test_setups_in_another_order_are_the_same_setups() -> None:
    before = make_part(process=make_process("milled", 2))
    turned = msgspec.structs.replace(
        before.process, setup_directions=before.process.setup_directions[::-1]
    )
    after = msgspec.structs.replace(before, process=turned)
    assert table_rows(after, before, ()) == []


def test_a_small_change_has_no_share_of_nothing() -> None:
    before, after = make_part(), make_part(facts=make_facts(volume_mm3=36_010.0))
    (row,) = table_rows(after, before, ())
    assert (row.label, row.change) == ("volume, cm3", "+0.01")


def test_how_many_setups_is_said_once() -> None:
    limited = a_finding(
        limit="setups", unit="setups", limit_value=2.0, measured=3.0, before_value=None
    )
    rows = {r.label: r for r in table_rows(knuckle_after(), knuckle_before(), (limited,))}
    assert (rows["setups"].change, rows["cut from"].change) == ("+1", "")
    assert rows["cut from"].changed
    rows = {r.label: r for r in table_rows(knuckle_after(), knuckle_before(), ())}
    assert rows["cut from"].change == "+1 setup"


@pytest.mark.parametrize(
    ("stock", "text"),
    [
        ({"form": "plate", "label": "plate 20", "section_mm": (46.0, 20.0), "length_mm": 66.0},
         "plate 20, 46 x 66 long"),
        ({"form": "round", "label": "round 25", "section_mm": (25.0,), "length_mm": 44.0},
         "round 25, 44 long"),
        ({"form": "block", "label": "block 90 x 70 x 40", "section_mm": (70.0, 40.0),
          "length_mm": 90.0}, "block 90 x 70 x 40"),
    ],
)  # fmt: skip
def test_stock_is_named_with_all_its_sizes_and_alike_everywhere(
    stock: dict[str, object], text: str
) -> None:
    from dfmcheck.comparing.whole import stock_words

    chosen = make_stock(**stock)
    assert words.stock(chosen) == text == stock_words(chosen)


@pytest.mark.parametrize(
    ("process", "reason", "text"),
    [
        ("milled", "Milled from 3 sides: it is a block.", "milled: it is a block"),
        ("milled", "Milled from 3 directions, since it is a block.", "milled: it is a block"),
        ("turned", "Turned: every face is round.", "turned: every face is round"),
        ("turned-with-milling", "Turned on a lathe; a tool cannot make 1 hole.",
         "turned with milling: a tool cannot make 1 hole"),
        ("turned", "Turned without more ado.", "turned without more ado"),
        ("turned", "Because the shop says so.", "turned: because the shop says so"),
        ("not-machined", "Bought.", "not machined: bought"),
        ("milled", "", "milled"),
    ],
)  # fmt: skip
def test_the_process_is_named_once(process: str, reason: str, text: str) -> None:
    choice = msgspec.structs.replace(make_process(process), reason=reason)  # type: ignore[arg-type]
    assert words.process(choice) == text


def test_whole_ids_of_commits_are_shortened() -> None:
    sha = "90ab12cd34ef56ab78cd90ef12ab34cd56ef78ab"
    assert words.shortened(f"from {sha}~1, not {sha[:12]}") == f"from 90ab12c~1, not {sha[:12]}"
    assert words.shortened(sha + sha[:24]) == "90ab12c"
    side = Revision(kind="commit", sha="c" * 40, label=f"{sha}~1")
    assert words.revision(side) == "90ab12c~1 (cccccccccc)"


def test_what_holds_stands_on_top_and_is_told_once() -> None:
    rows = table_rows(
        knuckle_after(),
        knuckle_before(),
        (a_finding(holds=False, level="note", limit="wall", limit_value=1.0), a_finding()),
    )
    assert (rows[0].label, rows[0].limit, rows[0].mark) == ("hole depth ratio", "max 8", "HOLD")
    assert "deepest hole, depth/dia" not in [r.label for r in rows]
    assert "wall" not in [r.label for r in rows]


def test_a_limit_from_below() -> None:
    finding = a_finding(limit="wall", unit="mm", limit_value=1.0, measured=0.6, before_value=None)
    row = table_rows(knuckle_after(), None, (finding,))[0]
    assert (row.label, row.before, row.now, row.limit) == ("wall, mm", "", "0.6", "min 1")


def test_a_process_and_each_axis_of_the_box_are_told() -> None:
    before = make_part(process=make_process("turned", 1))
    after = make_part(
        process=make_process("turned-with-milling", 1),
        facts=make_facts(box_mm=(61.5, 40.0, 14.75)),
    )
    rows = {r.label: r for r in table_rows(after, before, ())}
    assert (rows["process"].before, rows["process"].now) == ("turned", "turned with milling")
    assert rows["box X x Y x Z, mm"].change == "X +1.5\nZ -0.25"


def test_the_worst_value_stands_for_a_limit_and_the_former_is_looked_up() -> None:
    values = {"limit": "inside_corner_radius", "unit": "mm", "limit_value": 2.0}
    findings = tuple(
        a_finding(measured=m, before_value=None, identity=str(m), **values) for m in (1.5, 0.5, 1.0)
    )
    row = table_rows(knuckle_after(), knuckle_before(), findings)[0]
    assert row.label == "inside corner radius, mm"
    assert (row.before, row.now, row.change) == ("3", "0.5", "-2.5")
    assert (row.limit, row.mark) == ("min 2", "HOLD")

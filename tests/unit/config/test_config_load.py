"""Parsing `dfmcheck.toml`: what is accepted, and what is said about everything else."""

import re
from pathlib import Path

import pytest
import tomli
from hypothesis import example, given, settings
from hypothesis import strategies as st

from dfmcheck.config.load import MOST_BYTES, default_settings, parse_settings
from dfmcheck.config.names import name_problems
from dfmcheck.errors import ConfigError
from dfmcheck.model.settings import (
    Callout,
    CalloutTarget,
    LimitValue,
    PartEntry,
    Permit,
    Policy,
    Settings,
    TargetCost,
)

# The invented desk lamp, with every key there is.
WHOLE = b"""\
format = 1
currency = "EUR"
quantities = [1, 10, 25]
look_at = ["cad/**/*.step"]
leave_out = ["cad/bought/**"]
plugins = ["lamp-rules"]
private = "DFMCHECK_PRIVATE"

[gate]
mode = "advise"
hold_on = "all"
reference = "last-ordered"

[limits]
unit_cost_rise = { at = 25, percent = 10, and_at_least = 0.50 }
rise_since_reference = { at = 25, amount = 4 }
setups = 2
hole_depth = 7.5

[rules]
deep-hole = "note"

[stages]
request = ["material", "finish", "callouts"]
order = ["current-quote"]

[part.DL-102]
file = "cad/knuckle-lower.step"
solid = "KNUCKLE"
name = "Lower knuckle"
make = "machined"
letter = "B"
material = "EN AW-6082-T6"
finish = ["bead-blasted", "anodised-natural"]
quantities = [5]
target_cost = { at = 25, amount = 48.00 }
general_tolerance = "ISO 2768-mK"

[[part.DL-102.callout]]
find = { kind = "hole", diameter_mm = 2.5, near_mm = [12, 4, 0], count = 2 }
thread = "M3"
depth_mm = 8

[[part.DL-102.callout]]
find = { kind = "fillet", radius_mm = 3 }
fit = "H7"
tolerance_mm = [-0.02, 0.01]
texture_ra_um = 0.8
knurl = "RAA 0.8"
note = "after\\nanodising"

[[permit]]
part = "DL-102"
limit = "setups"
up_to = 3
feature = "slot-4"
reason = "slot carries the cable"
owner = "ada"
until = 2026-06-30
"""


def problems(data: bytes | str, source: str = "dfmcheck.toml", **known: list[str]) -> list[str]:
    """The sentences about a wrong configuration."""
    raw = data.encode() if isinstance(data, str) else data
    with pytest.raises(ConfigError) as caught:
        parse_settings(raw, source, **known)
    assert str(caught.value) == "\n".join(caught.value.problems)
    return list(caught.value.problems)


def test_every_key_reaches_the_settings() -> None:
    assert parse_settings(WHOLE, "hw/dfmcheck.toml") == Settings(
        policy=Policy(
            look_at=("cad/**/*.step",),
            leave_out=("cad/bought/**",),
            plugins=("lamp-rules",),
            mode="advise",
            hold_on="all",
            reference="last-ordered",
            limits=(
                LimitValue(name="hole_depth", value=7.5),
                LimitValue(name="rise_since_reference", at=25, amount=4.0),
                LimitValue(name="setups", value=2.0),
                LimitValue(name="unit_cost_rise", at=25, percent=10.0, and_at_least=0.5),
            ),
            rules=(("deep-hole", "note"),),
            stages=(("request", ("material", "finish", "callouts")), ("order", ("current-quote",))),
            permits=(
                Permit(
                    part="DL-102", limit="setups", up_to=3.0, feature="slot-4",
                    reason="slot carries the cable", owner="ada", until="2026-06-30",
                ),
            ),
            folder="hw",
        ),
        source="hw/dfmcheck.toml",
        folder="hw",
        currency="EUR",
        quantities=(1, 10, 25),
        private="DFMCHECK_PRIVATE",
        parts=(
            PartEntry(
                number="DL-102", file="hw/cad/knuckle-lower.step", solid="KNUCKLE",
                name="Lower knuckle", make="machined", letter="B", material="EN AW-6082-T6",
                finish=("bead-blasted", "anodised-natural"), quantities=(5,),
                target_cost=TargetCost(at=25, amount=48.0), general_tolerance="ISO 2768-mK",
                callouts=(
                    Callout(
                        find=CalloutTarget(
                            kind="hole", diameter_mm=2.5, near_mm=(12.0, 4.0, 0.0), count=2
                        ),
                        thread="M3", depth_mm=8.0,
                    ),
                    Callout(
                        find=CalloutTarget(kind="fillet", radius_mm=3.0), fit="H7",
                        tolerance_mm=(-0.02, 0.01), texture_ra_um=0.8, knurl="RAA 0.8",
                        note="after\nanodising",
                    ),
                ),
            ),
        ),
        part_lines=(("DL-102", 27),),
        policy_lines=(
            ("limits.unit_cost_rise", 15), ("limits.rise_since_reference", 16),
            ("limits.setups", 17), ("limits.hole_depth", 18), ("rules.deep-hole", 21),
            ("stages.request", 24), ("stages.order", 25), ("permit[1]", 52), ("permit[1].part", 53),
            ("permit[1].limit", 54), ("permit[1].up_to", 55), ("permit[1].feature", 56),
            ("permit[1].reason", 57), ("permit[1].owner", 58), ("permit[1].until", 59),
        ),
    )  # fmt: skip


@pytest.mark.parametrize("data", [b"", b"# nothing\n", b"\xef\xbb\xbf# a mark of byte order\n"])
def test_an_empty_file_gives_the_defaults(data: bytes) -> None:
    found = parse_settings(data, "dfmcheck.toml")
    assert found.policy == default_settings().policy == Policy()
    assert (found.currency, found.quantities, found.parts) == ("EUR", (1, 10, 25), ())


def test_text_and_toml_dates_are_the_same() -> None:
    as_text = WHOLE.replace(b"2026-06-30", b'"2026-06-30"')
    assert parse_settings(as_text, "a") == parse_settings(WHOLE, "a")


# Each: what stands in the file, and the one sentence about it.
_TABLE = tomli.loads(Path(__file__).with_name("wrong.toml").read_text(encoding="utf-8"))["wrong"]
WRONG = [(row["text"], row["sentence"]) for row in _TABLE]
PERMIT = """
[[permit]]
part = "X"
limit = "setups"
reason = "r"
owner = "ada"
until = 2026-06-30
"""


@pytest.mark.parametrize(("text", "sentence"), WRONG, ids=[str(i) for i in range(len(WRONG))])
def test_a_wrong_configuration_has_one_clear_sentence(text: str, sentence: str) -> None:
    assert problems(text) == [f"dfmcheck.toml, {sentence}"]


def test_all_problems_come_at_once_by_line() -> None:
    # Statements that stay wrong wherever they stand are put into one file.
    tables = [t for t, _ in WRONG if t.startswith("[limits]\n") and "Set Ups" not in t]
    lines = [f"l{i}{t.partition('=')[1]}{t.partition('=')[2]}" for i, t in enumerate(tables)]
    wrong = [
        "quantities = 25",
        "currency = 1",
        "[limits]",
        *lines,
        "[gate]",
        "mode = 1",
        "hold = 1",
    ]
    found = problems("\n".join(wrong))
    places = [int(s.split(":")[0].removeprefix("dfmcheck.toml, line ")) for s in found]
    fine = {3, 4 + len(lines)} | {
        4 + i for i, t in enumerate(tables) if re.search(r"= (\d+\.0|10)$", t)
    }
    expected = [n for n in range(1, len(wrong) + 1) if n not in fine]
    assert places == expected
    assert len(found) > 8


def test_names_are_checked_against_those_given_and_told_with_the_rest() -> None:
    text = (
        '[limits]\nhole_dept = 3\nsetups = "x"\n[rules]\ndeep-hoel = "note"\n'
        '[stages]\nrequest = ["materiel"]\n' + PERMIT.replace("setups", "walls")
    )
    known = {
        "known_limits": ["hole_depth"], "known_rules": ["deep-hole"], "known_pieces": ["colour"]
    }  # fmt: skip
    tail = " (those of a plugin only if plugins names it)"
    assert problems(text, **known) == [
        (
            "dfmcheck.toml, line 2: limits.hole_dept: no limit is called hole_dept; did you mean "
            f"hole_depth? known: hole_depth, rise_since_reference, setups, unit_cost_rise{tail}"
        ),
        (
            'dfmcheck.toml, line 3: limits.setups: the text "x" is not allowed here; allowed: a '
            "whole number from 1"
        ),
        (
            "dfmcheck.toml, line 5: rules.deep-hoel: no rule is called deep-hoel; did you mean "
            f"deep-hole? known: deep-hole{tail}"
        ),
        (
            "dfmcheck.toml, line 7: stages.request[1]: no piece is called materiel; did you mean "
            f"material? known: callouts, colour, current-quote, finish, material{tail}"
        ),
        (
            "dfmcheck.toml, line 11: permit[1].limit: no limit or rule is called walls; known: "
            f"deep-hole, hole_depth, rise_since_reference, setups, unit_cost_rise{tail}"
        ),
    ]


def test_names_can_be_checked_once_the_plugins_are_loaded() -> None:
    text = '[limits]\nlamp_glow = 3\nsetups = 2\n[rules]\nlamp-glow = "error"\n'
    text += '[stages]\nrequest = ["material", "glow"]\n' + PERMIT
    found = parse_settings(text.encode(), "dfmcheck.toml")
    known = {"known_limits": ["lamp_glow"], "known_rules": ["lamp-glow"], "known_pieces": ["glow"]}
    assert name_problems(found, **known) == ()
    without = name_problems(found, known_limits=[], known_rules=[], known_pieces=[])
    assert without == (
        (
            "dfmcheck.toml, line 2: limits.lamp_glow: no limit is called lamp_glow; known: "
            "rise_since_reference, setups, unit_cost_rise (those of a plugin only if plugins "
            "names it)"
        ),
        (
            "dfmcheck.toml, line 5: rules.lamp-glow: no rule is called lamp-glow; known: none (no "
            "rules are loaded) (those of a plugin only if plugins names it)"
        ),
        (
            "dfmcheck.toml, line 7: stages.request: no piece is called glow; known: callouts, "
            "current-quote, finish, material (those of a plugin only if plugins names it)"
        ),
    )


@pytest.mark.parametrize(
    ("limit", "warned"),
    [
        ("percent = 2.99", ["percent: 2.99"]),
        ("percent = 3", []),
        ("amount = 0.49", ["amount: 0.49"]),
        ("amount = 0.5", []),
        ("percent = 1, and_at_least = 0.1", ["percent: 1", "and_at_least: 0.1"]),
        ("percent = 10", []),
    ],
)
def test_a_limit_finer_than_the_noise_draws_a_warning(limit: str, warned: list[str]) -> None:
    text = f'currency = "CHF"\n[limits]\nunit_cost_rise = {{ at = 25, {limit} }}'
    assert parse_settings(text.encode(), "dfmcheck.toml").warnings == tuple(
        f"dfmcheck.toml, line 3: limits.unit_cost_rise.{w} is finer than the model's noise "
        "(3 % or 0.50 CHF): changes of no meaning will pass it"
        for w in warned
    )


# Each: bytes that are no TOML, and the one sentence.
NO_TOML = [
    (b"a = EN AW 6082 # x", ', line 1: not valid TOML: a text stands in quotes: "EN AW 6082"'),
    (b"\n[a]\n[a]", ", line 3: not valid TOML: a is defined twice"),
    (b"[part.x]\n[part.x]", ", line 2: not valid TOML: part.x is defined twice"),
    (b"a = 1\na = 2", ", line 2: not valid TOML: a key or table here is defined twice"),
    (b"a = 1\nb =\n", ", line 2: not valid TOML: a value is missing"),
    (b"a = 'x\nb = 1'", (", line 1: not valid TOML: a text in one pair of quotes ends on its own "
     "line")),
    (b"a = 'x", ", line 1: not valid TOML: a text is not closed by '"),
    (b'a = "C:\\qa"', (', line 1: not valid TOML: in "…" a backslash begins an escape; write \'…\' '
     "or, for folders, /")),
    (b"[gate\nmode = 1", (", line 1: not valid TOML: expected ']' at the end of a table "
     "declaration")),
    (b"a = 2026-13-01", (", line 1: not valid TOML: something stands behind a value that is "
     "complete (or is no value)")),
    (b"a = 1\n\x00", ", line 2: not valid TOML: invalid statement"),
    (b"a = " + b"[" * 3000, ": not valid TOML: lists or tables are nested too deeply"),
    (b"a" + b".a" * 5000 + b" = 1", ": not valid TOML: lists or tables are nested too deeply"),
    (b"a = " + b"9" * 9000, ": not valid TOML: a number has too many digits"),
    (b"\xff\xfef\x00", ": is written in UTF-16; save it as UTF-8"),
    (b"a = 1\nb = '\xe9'", ", line 2: byte 0xe9 is not UTF-8; save the file as UTF-8"),
    (b"#" * (MOST_BYTES + 1), ": has 4.0 MB; a configuration has at most 4 MB"),
    (b"version https://git-lfs.github.com/spec/v1\noid sha256:0\n", (", line 1: not valid TOML: "
     "expected '=' after a key in a key/value pair")),
]  # fmt: skip


@pytest.mark.parametrize(("data", "sentence"), NO_TOML, ids=[str(i) for i in range(len(NO_TOML))])
def test_what_is_no_toml_has_one_sentence(data: bytes, sentence: str) -> None:
    assert problems(data, "hw/dfmcheck.toml") == [f"hw/dfmcheck.toml{sentence}"]


def test_names_and_values_in_sentences_are_harmless() -> None:
    text = '"\\u001b[31mred\\u202e" = 1\nprivate = "\\u001b]0;x\\u0007"\n'
    found = problems(text, "a\x1b[1m\n/dfmcheck.toml")
    joined = "".join(found)
    assert joined.isprintable()
    assert "\\x1b[31mred\\u202e" in joined
    assert found[0].startswith("a\\x1b[1m\\x0a/dfmcheck.toml, line 1: ")


def test_long_names_and_values_are_cut() -> None:
    found = problems(f'{"k" * 5000} = 1\nprivate = "{"v w" * 50}"\n')
    assert [len(s) < 400 for s in found] == [True, True]
    assert "k" * 59 + "…" in found[0]


def test_very_many_problems_are_counted() -> None:
    found = problems("\n".join(f"x{i} = 1" for i in range(500)))
    assert len(found) == 201
    assert found[-1] == "dfmcheck.toml: and 300 more problems"


def is_answered(data: bytes) -> bool:
    """Whether the bytes give settings that can be hashed, or sentences that name the file."""
    try:
        return isinstance(hash(parse_settings(data, "dfmcheck.toml", known_rules=[])), int)
    except ConfigError as error:
        found = error.problems
    return bool(found) and all(s.startswith("dfmcheck.toml") and s.isprintable() for s in found)


_keys = st.sampled_from(
    ["format", "currency", "quantities", "look_at", "plugins", "private", "gate", "limits", "rules",
     "stages", "part", "permit", "callout", "find", "file", "target_cost", "at", "percent",
     "setups", "unit_cost_rise", "until", "limit", "reason", "odd key", "ü", ""]
)  # fmt: skip
_leaves = st.one_of(
    st.integers(), st.floats(), st.booleans(), st.text(max_size=8), st.dates(), st.datetimes(),
    st.sampled_from(["hold", "setups", "a.step", "**/*.step", "EUR", "2026-06-30", "material"]),
)  # fmt: skip
_values = st.recursive(
    _leaves,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_keys, inner, max_size=4),
    max_leaves=20,
)


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(_keys, _values, max_size=6))
@example({"part": {"X": {"file": "x.step", "callout": [{"find": {"kind": []}}]}}})
def test_any_toml_is_answered(tree: dict[str, object]) -> None:
    import tomlkit

    try:
        text = tomlkit.dumps(tree)
        tomli.loads(text)
    except (ValueError, tomlkit.exceptions.TOMLKitError):
        return
    assert is_answered(text.encode("utf-8", "replace"))


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=60), st.integers(0, len(WHOLE)), st.integers(0, 40))
def test_any_bytes_are_answered(noise: bytes, at: int, gone: int) -> None:
    assert is_answered(WHOLE[:at] + noise + WHOLE[at + gone :])


def test_hundreds_of_parts_are_parsed_in_time(tmp_path: Path) -> None:
    import time

    entries = "".join(
        f'[part.DL-{i}]\nfile = "cad/{i}.step"\nmaterial = "EN AW-6082-T6"\n'
        f'[[part.DL-{i}.callout]]\nfind = {{ kind = "hole", diameter_mm = 2.5 }}\nthread = "M3"\n'
        for i in range(2000)
    )
    begun = time.perf_counter()
    reading = tomli.loads(entries)
    bare = time.perf_counter() - begun
    begun = time.perf_counter()
    found = parse_settings(entries.encode(), "dfmcheck.toml")
    assert len(found.parts) == len(reading["part"]) == 2000
    # Checking, placing and building cost at most ten times the bare reading.
    assert time.perf_counter() - begun < 10 * bare + 0.2

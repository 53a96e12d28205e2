"""Names from files come out harmless, whatever they hold."""

import json
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dfmcheck.reporting.sanitise import LIMIT, clean, encodable, json_string

anything = st.text(st.characters(codec=None), max_size=60)  # surrogates included


def test_ordinary_names_stay_as_they_are() -> None:
    for name in (
        "cad/knuckle lower.step",
        "gehäuse-ø5.stp",
        "零件/支架.step",
        "деталь.p21",
        "قطعة",
    ):
        assert clean(name) == name


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("a\x1b[31mred\x1b[0m", "a\\x1b[31mred\\x1b[0m"),  # terminal colour
        ("a\x1b]0;title\x07", "a\\x1b]0;title\\x07"),  # window title
        ("a\nHOLD b", "a\\nHOLD b"),  # a forged line
        ("a\r\tb", "a\\r\\tb"),
        ("a\x9b31m", "a\\x9b31m"),  # the one-byte form of ESC [
        ("pin\u202egpj.step", "pin\\u202egpj.step"),  # right-to-left override
        ("a\u2066b\u2069", "a\\u2066b\\u2069"),  # isolates
        ("pi\u200bn\ufeff", "pi\\u200bn\\ufeff"),  # zero width
        ("a\u2028b", "a\\u2028b"),  # line separator
        ("a\udcffb", "a\\xffb"),  # a byte that is no UTF-8
        ("a\ud800b", "a\\ud800b"),  # half a character
        ("a\U000e0041b", "a\\U000e0041b"),  # a tag character
        ("a\u3164b", "a\\u3164b"),  # a letter that shows nothing
        ("a\u00a0b", "a b"),  # a space that looks like one
        ("\x00", "\\x00"),
    ],
)
def test_what_could_deceive_is_written_out(name: str, shown: str) -> None:
    assert clean(name) == shown


def test_markup_is_left_alone_since_nobody_interprets_it() -> None:
    assert clean("[bold red]x[/] :smile:") == "[bold red]x[/] :smile:"


def test_marks_are_not_stacked() -> None:
    shown = clean("a" + "\u0301" * 300 + "b")
    assert sum(unicodedata.combining(c) > 0 for c in shown) == 4
    assert shown.endswith("b")


def test_a_long_name_keeps_both_ends() -> None:
    shown = clean("cad/" + "x" * 5000 + "/pin.step", 40)
    assert len(shown) == 40
    assert shown.startswith("cad/")
    assert shown.endswith("/pin.step")
    assert "..." in shown


@given(anything)
def test_any_text_becomes_one_printable_line(text: str) -> None:
    shown = clean(text)
    assert shown.isprintable()
    assert len(shown) <= LIMIT
    assert clean(shown) == shown
    shown.encode("utf-8")


@given(anything)
def test_json_strings_say_what_was_given(text: str) -> None:
    literal = json_string(text)
    assert literal.isprintable()
    literal.encode("utf-8")
    assert json.loads(literal) == encodable(text)


@given(anything)
def test_escaped_bytes_can_be_had_back(text: str) -> None:
    shown = encodable(text)
    shown.encode("utf-8")
    if shown == text:
        return
    assert any(0xD800 <= ord(c) <= 0xDFFF for c in text)
    assert _restored(shown) == text


def _restored(shown: str) -> str:
    out, i = "", 0
    while i < len(shown):
        if shown[i] != "\\":
            out += shown[i]
            i += 1
        elif shown[i + 1] == "\\":
            out += "\\"
            i += 2
        elif shown[i + 1] == "x":
            out += chr(0xDC00 + int(shown[i + 2 : i + 4], 16))
            i += 4
        else:
            out += chr(int(shown[i + 2 : i + 6], 16))
            i += 6
    return out


def test_json_escapes_beyond_the_basic_plane() -> None:
    assert json_string("\U000e0041") == '"\\udb40\\udc41"'
    assert json_string('a"\\\u202e') == '"a\\"\\\\\\u202e"'


def test_a_name_of_a_million_characters_costs_nothing() -> None:
    import time

    begun = time.perf_counter()
    assert len(clean("\x1b" * 1_000_000)) == LIMIT
    assert time.perf_counter() - begun < 0.5

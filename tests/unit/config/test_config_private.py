"""The private file: read from outside the repository, and never quoted."""

import os
from pathlib import Path

import pytest

from dfmcheck.config.load import parse_settings
from dfmcheck.config.private import Private, Quote, read_private
from dfmcheck.errors import ConfigError

SETTINGS = parse_settings(b'private = "DFMCHECK_PRIVATE"', "dfmcheck.toml")

# Invented shops and rates.
GOOD = """
format = 1
[rates]
mill_hour = 62
[shop."Invented Turning Ltd".rates]
lathe_hour = 55.5
[[quote]]
shop = "Invented Turning Ltd"
part = "DL-102"
pieces = 25
amount = 31.40
once = 120
letter = "B"
date = 2026-03-14
"""


def read(folder: Path, text: str | bytes, mode: int = 0o600) -> Private | None:
    file = folder / "secret-rates.toml"
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    file.chmod(mode)
    return read_private(SETTINGS, {"DFMCHECK_PRIVATE": str(file)}, folder / "repository")


def test_rates_and_quotes(tmp_path: Path) -> None:
    assert read(tmp_path, GOOD) == Private(
        rates=(("mill_hour", 62.0),),
        shop_rates=(("Invented Turning Ltd", "lathe_hour", 55.5),),
        quotes=(
            Quote(
                shop="Invented Turning Ltd", part="DL-102", pieces=25, amount=31.4, once=120.0,
                letter="B", date="2026-03-14",
            ),
        ),
    )  # fmt: skip


@pytest.mark.parametrize("environ", [{}, {"DFMCHECK_PRIVATE": ""}])
def test_without_the_variable_there_is_none(environ: dict[str, str]) -> None:
    assert read_private(SETTINGS, environ, None) is None
    unnamed = parse_settings(b"", "dfmcheck.toml")
    assert read_private(unnamed, {"DFMCHECK_PRIVATE": "/x"}, None) is None


@pytest.mark.skipif(os.name != "posix", reason="rights of files are POSIX's")
def test_a_file_that_others_may_read_draws_a_warning(tmp_path: Path) -> None:
    found = read(tmp_path, GOOD, 0o644)
    assert found is not None
    assert found.warnings == (
        (
            "the file named by DFMCHECK_PRIVATE: other users may read it; take that right away "
            "(chmod 600)"
        ),
    )


# Each: a wrong file, and what is said. SECRET stands for what must not be repeated.
WRONG = [
    ("[rates]\nmill = 'SECRET'", ("line 2: rates.…: another sort of value is not allowed here; "
     "allowed: a number of 0 or more")),
    ("[rates]\nSECRET = 1", ("line 2: rates.…: another sort of value is not allowed here; allowed: "
     "a name of lower-case words joined by _")),
    ("SECRET = 1", "line 1: …: unknown key; allowed here: format, rates, shop, quote"),
    ("[shop.SECRET]\nrate = 1", ("line 2: shop.….…: unknown key; did you mean rates? allowed here: "
     "rates")),
    ("[[quote]]\nshop = 4711\npart = 'SECRET'", ("line 1: quote[1]: pieces is missing; it takes a "
     "whole number of pieces from 1\nthe file named by DFMCHECK_PRIVATE, line 1: quote[1]: amount "
     "is missing; it takes an amount of 0 or more\nthe file named by DFMCHECK_PRIVATE, line 2: "
     "quote[1].shop: another sort of value is not allowed here; allowed: text")),
    ("quote = 'SECRET'", ("line 1: quote: another sort of value is not allowed here; allowed: "
     "tables [[quote]]")),
    ("a = SECRET", "line 1: not valid TOML: a mistake in the syntax"),
    ("[SECRET]\n[SECRET]", "line 2: not valid TOML: a mistake in the syntax"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), WRONG)
def test_nothing_of_the_content_is_said(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(ConfigError) as caught:
        read(tmp_path, text)
    assert str(caught.value) == f"the file named by DFMCHECK_PRIVATE, {said}"
    assert "SECRET" not in str(caught.value)
    assert "4711" not in str(caught.value)


def refusal(path: Path | str, repository: Path | None) -> str:
    with pytest.raises(ConfigError) as caught:
        read_private(SETTINGS, {"DFMCHECK_PRIVATE": str(path)}, repository)
    found = str(caught.value)
    assert str(path) not in found
    return found.removeprefix("the file named by DFMCHECK_PRIVATE: ")


def test_where_the_file_may_not_be(tmp_path: Path) -> None:
    inside = tmp_path / "repository" / "rates.toml"
    inside.parent.mkdir()
    inside.write_text(GOOD)
    assert refusal(inside, inside.parent) == "lies in the repository; keep it outside"
    link = tmp_path / "link.toml"
    link.symlink_to(inside)
    assert refusal(link, inside.parent) == "lies in the repository; keep it outside"
    assert refusal(tmp_path / "none.toml", None) == "cannot be read: No such file or directory"
    assert refusal(tmp_path, None) == "is no file"
    assert refusal("a\0b", None) == "cannot be read: it is no path"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_pipe_does_not_make_the_run_wait(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert refusal(pipe, None) == "is no file"


def test_no_utf8_and_too_large(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="is not UTF-8; save it as UTF-8"):
        read(tmp_path, b"a = '\xff'")
    with pytest.raises(ConfigError, match="has more than 4 MB"):
        read(tmp_path, b"#" * 4_000_001)

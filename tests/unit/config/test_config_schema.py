"""The JSON Schema, by an independent validator: it takes what the parser takes."""

from datetime import date
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import tomli

from dfmcheck.config.schema import config_schema
from dfmcheck.config.templates import starter_config

_WRONG = tomli.loads(Path(__file__).with_name("wrong.toml").read_text(encoding="utf-8"))["wrong"]

# What a schema does not say and the parser does: pairs of keys, order of numbers, days that the
# calendar lacks, entries for one file, words of patterns and paths, numbers that are none.
_BEYOND = (
    "will not do", "has an entry already", "percent and amount", "calls nothing out",
    "the lower deviation", "no such day", "the number nan", "control characters",
    "limits.setups: the number 2 ",
)  # fmt: skip


def plain(value: Any) -> Any:
    """TOML values as JSON has them."""
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, list):
        return [plain(v) for v in value]
    return value.isoformat() if isinstance(value, date) else value


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(config_schema())


def test_it_takes_a_whole_configuration() -> None:
    text = "\n".join(
        line.removeprefix("#") if line[:1] == "#" and line[1:2] not in ("", " ") else line
        for line in starter_config().splitlines()
    )
    table = tomli.loads(text)
    assert table["part"]
    jsonschema.validate(plain(table), config_schema())


@pytest.mark.parametrize("row", _WRONG, ids=[str(i) for i in range(len(_WRONG))])
def test_it_refuses_what_the_parser_refuses(row: dict[str, str]) -> None:
    found = list(
        jsonschema.Draft202012Validator(config_schema()).iter_errors(
            plain(tomli.loads(row["text"]))
        )
    )
    assert bool(found) != any(words in row["sentence"] for words in _BEYOND)


def test_every_key_is_described() -> None:
    def undescribed(schema: dict[str, Any], at: str) -> list[str]:
        found = []
        for name, inner in schema.get("properties", {}).items():
            if at != "/limits" and not inner.get("description"):
                found.append(f"{at}/{name}")
            found += undescribed(inner, f"{at}/{name}")
        return found

    assert undescribed(config_schema(), "") == []

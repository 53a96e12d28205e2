"""The private file: rates and quotes, kept outside the repository and named by a variable.

Nothing of its content and no part of its path stands in any message: logs of builds keep messages.
"""

import os
import stat
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from dfmcheck.config.lines import key_lines
from dfmcheck.config.load import MOST_BYTES, parse_toml
from dfmcheck.config.problems import Problems
from dfmcheck.config.shapes import Day, Key, Keyed, Listing, Named, Number, Shape, Text
from dfmcheck.config.spec import FORMAT
from dfmcheck.errors import ConfigError
from dfmcheck.model.base import Value
from dfmcheck.model.settings import Settings

# A pipe in the place of the file must not make the run wait.
_FLAGS = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


class Quote(Value, frozen=True):
    """What a shop asked for: `amount` a piece at `pieces`, and `once` besides, in the currency."""

    shop: str
    part: str
    pieces: int
    amount: float
    once: float = 0.0
    letter: str | None = None
    date: str | None = None
    reference: str | None = None


class Private(Value, frozen=True):
    """The content of the private file.

    `rates` are pairs of a rate's name and its value; `shop_rates` triples of shop, name, value,
    which go before `rates`. `warnings` are sentences to be printed.
    """

    rates: tuple[tuple[str, float], ...] = ()
    shop_rates: tuple[tuple[str, str, float], ...] = ()
    quotes: tuple[Quote, ...] = ()
    warnings: tuple[str, ...] = ()


def read_private(
    settings: Settings, environ: Mapping[str, str], repository: Path | None
) -> Private | None:
    """Read the file that the environment variable named in `private` names.

    Args:
        settings: the effective settings (for a fork's change those with the base's policy).
        environ: the environment.
        repository: top of the work tree, in which the file may not lie; None for a bare repository.

    Returns:
        The content, or None where no variable is configured or it is not set.

    Raises:
        ConfigError: the file cannot be read, lies in the repository, or is wrong.
    """
    variable = settings.private
    named = environ.get(variable, "") if variable else ""
    if not variable or not named:
        return None
    source = f"the file named by {variable}"
    data, warnings = _content(Path(named), source, repository)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ConfigError((f"{source}: is not UTF-8; save it as UTF-8",)) from None
    table = parse_toml(text, source, secret=True)
    names = {*_shape().keys, *_quote().keys}
    problems = Problems(
        source, lambda: key_lines(text), elsewhere=dict.fromkeys(names, ()), secret=True
    )
    found = _shape().check(table, (), problems)
    if problems.sentences:
        raise ConfigError(problems.sentences)
    return _private(found, warnings)


def _content(path: Path, source: str, repository: Path | None) -> tuple[bytes, tuple[str, ...]]:
    try:
        real = path.resolve(strict=True)
        if repository is not None and real.is_relative_to(repository.resolve()):
            raise ConfigError((f"{source}: lies in the repository; keep it outside",))
        fd = os.open(real, os.O_RDONLY | _FLAGS)
        try:
            found = os.fstat(fd)
            if not stat.S_ISREG(found.st_mode):
                raise ConfigError((f"{source}: is no file",))
            if found.st_size > MOST_BYTES:
                raise ConfigError((f"{source}: has more than {MOST_BYTES / 1e6:.0f} MB",))
            with os.fdopen(fd, "rb", closefd=False) as file:
                data = file.read()
        finally:
            os.close(fd)
    except (OSError, ValueError, RuntimeError) as error:
        reason = getattr(error, "strerror", None) or "it is no path"
        raise ConfigError((f"{source}: cannot be read: {reason}",)) from None
    if os.name == "posix" and found.st_mode & 0o077:
        return data, (f"{source}: other users may read it; take that right away (chmod 600)",)
    return data, ()


@cache
def _quote() -> Keyed:
    text = Text(allowed="text")
    money = Number(allowed="an amount of 0 or more", least=0)
    pieces = Number(allowed="a whole number of pieces from 1", least=1, most=1e7, whole=True)
    return Keyed(
        allowed="a table [[quote]]",
        keys={
            "shop": Key(text, "the shop", required=True),
            "part": Key(text, "part number", required=True),
            "pieces": Key(pieces, "the quantity", required=True),
            "amount": Key(money, "asked for a piece", required=True),
            "once": Key(money, "asked for besides, whatever the quantity"),
            "letter": Key(text, "revision letter of the part"),
            "date": Key(Day(allowed="a date such as 2026-06-30"), "date of the quote"),
            "reference": Key(text, "the shop's number of the quote"),
        },
    )


@cache
def _shape() -> Keyed:
    rate = Number(allowed="a number of 0 or more", least=0)
    word = Text(allowed="a name of lower-case words joined by _", pattern=r"[a-z][a-z0-9_]*")

    def rates(_: str) -> Shape:
        return rate

    table = Named(allowed="a table of rates", name=word, shape_of=rates)
    shop = Keyed(allowed="a table [shop.NAME]", keys={"rates": Key(table, "rates of the shop")})
    name = Text(allowed="a shop's name")
    number = Number(allowed=f"{FORMAT}", least=FORMAT, most=FORMAT, whole=True)
    return Keyed(
        allowed="a TOML document",
        keys={
            "format": Key(number, "format of this file"),
            "rates": Key(table, "rates for every shop"),
            "shop": Key(
                Named(allowed="tables [shop.NAME]", name=name, shape_of=lambda _: shop), "shops"
            ),
            "quote": Key(
                Listing(allowed="tables [[quote]]", item=_quote(), repeats=True), "quotes received"
            ),
        },
    )


def _private(found: dict[str, Any], warnings: tuple[str, ...]) -> Private:
    shops = found.get("shop", {}).items()
    return Private(
        rates=tuple(sorted(found.get("rates", {}).items())),
        shop_rates=tuple(
            (shop, name, value)
            for shop, content in shops
            for name, value in sorted(content.get("rates", {}).items())
        ),
        quotes=tuple(msgspec.convert(q, Quote) for q in found.get("quote", ())),
        warnings=warnings,
    )

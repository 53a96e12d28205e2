"""The configuration, declared: every key with its shape and meaning.

The parser and the JSON Schema both come from this one declaration.
"""

import re
from functools import cache
from typing import Any, get_args

from dfmcheck.config.globs import STEP_ENDINGS, pattern_problem
from dfmcheck.config.problems import Path, quoted
from dfmcheck.config.shapes import Choice, Day, Key, Keyed, Listing, Named, Number, Shape, Text
from dfmcheck.model.feature import Feature
from dfmcheck.model.settings import Level, Stage

FORMAT = 1
"""The format of the configuration that this version reads."""

PRICE_LIMITS = ("unit_cost_rise", "rise_since_reference")
"""Limits on money at a quantity; they take a table."""

CORE_LIMITS = (*PRICE_LIMITS, "setups")
"""Limits that are known whether or not a loaded rule declares them."""

CORE_PIECES = ("material", "finish", "callouts", "current-quote")
"""Pieces of a stage that are known whether or not a loaded rule declares them."""

FEATURE_KINDS: tuple[str, ...] = tuple(str(f.__struct_config__.tag) for f in get_args(Feature))
"""Kinds of features that a callout may belong to."""

# ISO 286-1 (tolerance classes of sizes): fundamental deviations and grades IT01, IT0 to IT18.
# Letters from memory of the standard's table of fundamental deviations.
_DEVIATIONS = "A|B|C|CD|D|E|EF|F|FG|G|H|J|JS|K|M|N|P|R|S|T|U|V|X|Y|Z|ZA|ZB|ZC"
_FIT = rf"(?:{_DEVIATIONS}|{_DEVIATIONS.lower()})(?:01|[0-9]|1[0-8])"


def file_problem(path: str) -> str | None:
    """What is wrong with the path of a part's file, as a sentence's end, or None."""
    if "\\" in path:
        return "folders are separated by / (forward slashes)"
    if path.startswith("/") or re.match(r"[A-Za-z]:", path):
        return "the path starts at the configuration's folder, without a leading / or drive"
    if any(s in ("", ".", "..") for s in path.split("/")):
        return "the path has no empty folder name and no . or .. in it"
    if not path.lower().endswith(STEP_ENDINGS):
        return f"the name of a STEP file ends in {', '.join(STEP_ENDINGS)}"
    return None


def _bound_problem(limit: dict[str, Any]) -> str | None:
    if ("percent" in limit) == ("amount" in limit):
        return "one of percent and amount must be there, and not both"
    return None


def _tolerance_problem(pair: tuple[float, float]) -> str | None:
    return None if pair[0] < pair[1] else "the lower deviation comes first and is the smaller one"


_CALLED_OUT = ("thread", "fit", "tolerance_mm", "texture_ra_um", "knurl", "note")


def _callout_problem(callout: dict[str, Any]) -> str | None:
    if not any(k in callout for k in _CALLED_OUT):
        return f"calls nothing out; one of these must be there: {', '.join(_CALLED_OUT)}"
    return None


def _part_hint(at: Path, name: str, content: object) -> str | None:
    if isinstance(content, dict):
        number = f"{at[-1]}.{name}"
        return f"a part number with a dot is written in quotes: [part.{quoted(number)}]"
    return None


_WORD = r"[a-z][a-z0-9]*(?:[-_][a-z0-9]+)*"
_PIECES = Number(allowed="a whole number of pieces from 1", least=1, most=10_000_000, whole=True)
_MONEY = Number(allowed="an amount of 0 or more", least=0)
_SIZE = Number(allowed="a length in mm above 0", above=0, most=1e6)
_QUANTITIES = Listing(
    allowed="a list of whole numbers of pieces, such as [1, 10, 25]", item=_PIECES, least=1, most=50
)


def _patterns(least: int) -> Listing:
    item = Text(allowed='a pattern such as "cad/**/*.step"', refuse=pattern_problem, longest=500)
    some = "one or more patterns" if least else "patterns"
    return Listing(allowed=f'a list of {some}, such as ["cad/**/*.step"]', item=item, least=least)


def _gate() -> Keyed:
    mode = Choice(allowed='"hold" or "advise"', words=("hold", "advise"))
    hold_on = Choice(allowed='"new" or "all"', words=("new", "all"))
    reference = Choice(allowed='"last-ordered"', words=("last-ordered",))
    return Keyed(
        allowed="a table of mode, hold_on, reference",
        keys={
            "mode": Key(mode, "hold: a limit passed holds the build; advise: report and exit 0"),
            "hold_on": Key(hold_on, "new: only what this change brings holds; all: old as well"),
            "reference": Key(reference, "a second comparison, so that slow creep is seen"),
        },
    )


@cache
def _price_limit() -> Keyed:
    percent = Number(allowed="a percentage of 0 or more", least=0, most=10_000)
    return Keyed(
        allowed="a table such as { at = 25, percent = 10 }",
        refuse=_bound_problem,
        keys={
            "at": Key(_PIECES, "the quantity at which the price is looked at", required=True),
            "percent": Key(percent, "greatest rise in percent"),
            "amount": Key(_MONEY, "greatest rise in the currency, a piece"),
            "and_at_least": Key(_MONEY, "a rise below this amount a piece never exceeds the limit"),
        },
    )


@cache
def limit_shape(name: str) -> Shape:
    """The shape of a limit by its name: money at a quantity takes a table, all others a number."""
    if name in PRICE_LIMITS:
        return _price_limit()
    if name == "setups":
        return Number(allowed="a whole number from 1", least=1, most=1000, whole=True)
    return Number(allowed="a number of 0 or more", least=0)


def _limits() -> Named:
    return Named(
        allowed="a table of limits by name",
        name=Text(allowed="a limit's name: lower-case words joined by _", pattern=_WORD),
        shape_of=limit_shape,
        described=CORE_LIMITS,
    )


def _rules() -> Named:
    words = get_args(Level)
    level = Choice(allowed='"off", "note", "warning" or "error"', words=words)
    return Named(
        allowed="a table of levels by rule",
        name=Text(allowed="a rule's name: lower-case words joined by -", pattern=_WORD),
        shape_of=lambda _: level,
    )


def _stages() -> Keyed:
    piece = Text(allowed="a piece's name: lower-case words joined by -", pattern=_WORD)
    pieces = Listing(allowed='a list of pieces, such as ["material", "finish"]', item=piece)
    meaning = {
        "request": "what must be there before a request goes out",
        "order": "what must be there before an order, besides what a request needs",
    }
    return Keyed(
        allowed="a table of request, order",
        keys={stage: Key(pieces, meaning[stage]) for stage in get_args(Stage)},
    )


def _permits() -> Listing:
    words = Text(allowed="text", longest=500, lines=True)
    permit = Keyed(
        allowed="a table [[permit]]",
        keys={
            "part": Key(Text(allowed="a part number"), "part number", required=True),
            "limit": Key(
                Text(allowed="the name of a limit or a rule", pattern=_WORD),
                "the limit that may be passed, or the rule",
                required=True,
            ),
            "up_to": Key(
                Number(allowed="a number of 0 or more", least=0),
                "the value up to which; beyond it the limit holds again",
            ),
            "feature": Key(Text(allowed='a feature\'s id, such as "slot-4"'), "one feature alone"),
            "reason": Key(words, "why", required=True),
            "owner": Key(
                Text(allowed="the name of who answers for it"), "who answers for it", required=True
            ),
            "until": Key(
                Day(allowed="a date such as 2026-06-30"), "the last day it holds", required=True
            ),
        },
    )
    return Listing(allowed="tables, each under [[permit]]", item=permit, repeats=True)


def _callouts() -> Listing:
    kinds = ", ".join(FEATURE_KINDS)
    place = Listing(
        allowed="a place [x, y, z] in mm, in the file's axes",
        item=Number(allowed="a coordinate in mm", most=1e6),
        least=3,
        most=3,
        repeats=True,
    )
    find = Keyed(
        allowed='a table such as { kind = "hole", diameter_mm = 2.5 }',
        keys={
            "kind": Key(Choice(allowed=kinds, words=FEATURE_KINDS), "feature kind", required=True),
            "diameter_mm": Key(_SIZE, "diameter of the feature"),
            "radius_mm": Key(_SIZE, "radius of the feature"),
            "near_mm": Key(place, "a place near the feature, in the file's axes"),
            "count": Key(_PIECES, "how many features this finds"),
        },
    )
    deviations = Listing(
        allowed="lower and upper deviation in mm, such as [-0.02, 0.01]",
        item=Number(allowed="a deviation in mm", most=1000),
        least=2,
        most=2,
        repeats=True,
        refuse=_tolerance_problem,
    )
    texture = Number(allowed="Ra in micrometres above 0, up to 100", above=0, most=100)
    callout = Keyed(
        allowed="a table [[part.NUMBER.callout]]",
        refuse=_callout_problem,
        keys={
            "find": Key(find, "the features it belongs to", required=True),
            "thread": Key(Text(allowed='a thread, such as "M3"', longest=60), "thread"),
            "fit": Key(Text(allowed='an ISO 286 class, such as "H7"', pattern=_FIT), "fit"),
            "tolerance_mm": Key(deviations, "deviations of the size"),
            "texture_ra_um": Key(texture, "surface texture Ra (ISO 21920)"),
            "knurl": Key(Text(allowed='a knurl, such as "RAA 0.8"', longest=60), "knurl"),
            "depth_mm": Key(_SIZE, "depth of the thread, fit or knurl"),
            "note": Key(Text(allowed="text", longest=500, lines=True), "a note for the shop"),
        },
    )
    return Listing(allowed="tables [[part.NUMBER.callout]]", item=callout, repeats=True)


def _part() -> Keyed:
    file = Text(allowed="the path of a STEP file", longest=4000, refuse=file_problem)
    makes = ("machined", "bought", "printed", "bent")
    finish = Text(allowed='a finish, such as "anodised-natural"', longest=100)
    target = Keyed(
        allowed="a table such as { at = 25, amount = 48.00 }",
        keys={
            "at": Key(_PIECES, "the quantity", required=True),
            "amount": Key(_MONEY, "what a piece may cost", required=True),
        },
    )
    return Keyed(
        allowed="a table [part.NUMBER]",
        hint=_part_hint,
        keys={
            "file": Key(file, "path of its STEP file", required=True),
            "solid": Key(
                Text(allowed="the name of a part in the file", longest=1000),
                "which part, if the file holds several",
            ),
            "name": Key(Text(allowed="text"), "what people call it"),
            "make": Key(
                Choice(allowed=", ".join(makes), words=makes),
                "how it is made; only machined parts are judged",
            ),
            "letter": Key(Text(allowed="a revision letter", longest=20), "revision letter"),
            "material": Key(Text(allowed="a material"), "material, as on a drawing"),
            "finish": Key(
                Listing(allowed='a list such as ["anodised-natural"]', item=finish, most=20),
                "finishes in their order",
            ),
            "quantities": Key(_QUANTITIES, "quantities to be priced, if others than the usual"),
            "target_cost": Key(target, "a budget for a piece"),
            "general_tolerance": Key(
                Text(allowed='text such as "ISO 2768-mK"'), "general tolerance"
            ),
            "callout": Key(_callouts(), "what the STEP file does not carry"),
        },
    )


@cache
def configuration() -> Keyed:
    """The shape of a whole configuration."""
    number = Text(
        allowed="a part number of at most 100 characters, without blanks around it",
        longest=100,
        pattern=r"\S(?:.*\S)?",
    )
    part = _part()
    plugin = Text(allowed="a plugin's name", pattern=r"[A-Za-z0-9][A-Za-z0-9._-]*")
    form = Number(allowed=f"{FORMAT}", least=FORMAT, most=FORMAT, whole=True)
    currency = Text(allowed='an ISO 4217 code of three capitals, such as "EUR"', pattern="[A-Z]{3}")
    variable = Text(
        allowed='the name of an environment variable, such as "DFMCHECK_PRIVATE"',
        pattern="[A-Za-z_][A-Za-z0-9_]*",
    )
    return Keyed(
        allowed="a TOML document",
        keys={
            "format": Key(form, "format of this file"),
            "currency": Key(currency, "currency of all amounts"),
            "quantities": Key(_QUANTITIES, "quantities at which parts are priced"),
            "look_at": Key(_patterns(1), "STEP files to look at, from this file's folder"),
            "leave_out": Key(_patterns(0), "STEP files to leave out"),
            "plugins": Key(
                Listing(allowed="a list of plugins' names", item=plugin),
                "plugins that may judge, besides the shipped rules",
            ),
            "private": Key(variable, "environment variable naming a file outside the repository"),
            "gate": Key(_gate(), "how the gate judges"),
            "limits": Key(_limits(), "limits by name"),
            "rules": Key(_rules(), "levels of rules"),
            "stages": Key(_stages(), "what must be complete when"),
            "part": Key(
                Named(
                    allowed="tables, each under [part.NUMBER]", name=number, shape_of=lambda _: part
                ),
                "parts by part number",
            ),
            "permit": Key(_permits(), "deviation permits"),
        },
    )


@cache
def places() -> dict[str, tuple[str, ...]]:
    """Where each key belongs, in words, for keys that stand in the wrong table."""
    found: dict[str, list[str]] = {}

    def note(shape: Shape, place: str) -> None:
        if isinstance(shape, Keyed):
            for name in shape.keys:
                found.setdefault(name, []).append(place)

    whole = configuration().keys
    note(configuration(), "at the top, before the first [table]")
    for table in ("gate", "stages"):
        note(whole[table].shape, f"in [{table}]")
    for limit in CORE_LIMITS:
        found.setdefault(limit, []).append("in [limits]")
    note(_part(), "in [part.NUMBER]")
    return {name: tuple(where) for name, where in found.items()}

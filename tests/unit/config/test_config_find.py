"""Which configuration governs a file, which entry is a part's, which files are looked at."""

import time

import pytest

from dfmcheck.config.find import configs_upward, entry_for, matcher_for, settings_for
from dfmcheck.config.load import default_settings, parse_settings
from dfmcheck.model.settings import Settings


def parsed(text: str, source: str = "dfmcheck.toml") -> Settings:
    return parse_settings(text.encode(), source)


def test_the_nearest_configuration_upward_governs() -> None:
    found = {
        path: parsed(f'currency = "{currency}"', path)
        for path, currency in [
            ("dfmcheck.toml", "EUR"), ("lamp/dfmcheck.toml", "CHF"),
            ("lamp/arm/x/dfmcheck.toml", "SEK"),
        ]
    }  # fmt: skip
    governs = {
        "a.step": "EUR", "lampshade/a.step": "EUR", "lamp/a.step": "CHF", "lamp/arm/a.step": "CHF",
        "lamp/arm/x/a.step": "SEK", "lamp/arm/x/y/z/a.step": "SEK",
    }  # fmt: skip
    assert {p: settings_for(p, found).currency for p in governs} == governs
    del found["dfmcheck.toml"]
    assert settings_for("a.step", found) is default_settings()
    assert settings_for("lamp", found) is default_settings()


def test_where_a_configuration_may_lie() -> None:
    assert list(configs_upward("a/b/c.step")) == [
        "a/b/dfmcheck.toml", "a/dfmcheck.toml", "dfmcheck.toml"
    ]  # fmt: skip


ENTRIES = """
[part.ONE]
file = "one.step"
[part.CAP]
file = "several.step"
solid = "Cap"
[part.PIN]
file = "several.step"
solid = "Pin"
[part.BEARING]
file = "bearing.step"
make = "bought"
[part.PLAIN]
file = "plain.step"
[part.NAMED]
file = "named.step"
solid = "Body"
[part.UMLAUT]
file = "f\u00fc\u00df.step"
"""


@pytest.mark.parametrize(
    ("file", "solid", "number"),
    [
        ("hw/one.step", None, "ONE"),
        ("one.step", None, None),
        ("hw/several.step", "Cap", "CAP"),
        ("hw/several.step", "Pin", "PIN"),
        ("hw/several.step", "Nut", None),
        ("hw/several.step", None, None),
        # A bought assembly is bought with all its parts.
        ("hw/bearing.step", "Ball", "BEARING"),
        ("hw/bearing.step", None, "BEARING"),
        # One number cannot stand for several machined parts.
        ("hw/plain.step", "A", None),
        # The file now holds one part only; its entry still names the solid.
        ("hw/named.step", None, "NAMED"),
        ("hw/fu\u0308\u00df.step", None, "UMLAUT"),
    ],
)
def test_entries(file: str, solid: str | None, number: str | None) -> None:
    found = entry_for(parsed(ENTRIES, "hw/dfmcheck.toml"), file, solid)
    assert (found.number if found is not None else None) == number


def test_files_looked_at() -> None:
    settings = parsed('look_at = ["cad/**"]\nleave_out = ["cad/bought/**"]', "hw/dfmcheck.toml")
    looks_at = matcher_for(settings)
    paths = ["hw/cad/a.step", "hw/cad/x/b.STP", "hw/cad/a.md", "hw/cad/bought/s.step", "cad/a.step"]
    assert [p for p in paths if looks_at(p)] == ["hw/cad/a.step", "hw/cad/x/b.STP"]
    every = matcher_for(default_settings())
    assert [every(p) for p in ("A.STEP", "x/y.Stp", "z.p21", "z.P21", "a.stepx", "step")] == [
        True, True, True, True, False, False
    ]  # fmt: skip


def test_thousands_of_files_are_sorted_out_in_time() -> None:
    text = "".join(f'[part.N{i}]\nfile = "cad/{i}.step"\n' for i in range(3000))
    found = {"hw/dfmcheck.toml": parsed(text, "hw/dfmcheck.toml")}
    paths = [f"hw/cad/{i}.step" for i in range(5000)]
    begun = time.perf_counter()
    looked = [p for p in paths if matcher_for(settings_for(p, found))(p)]
    entries = [entry_for(settings_for(p, found), p, None) for p in paths]
    taken = time.perf_counter() - begun
    assert len(looked) == 5000
    assert sum(e is not None for e in entries) == 3000
    assert taken < 0.5

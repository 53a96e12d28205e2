import re

import pytest

from dfmcheck.planning.catalogue import materials
from dfmcheck.planning.materials import find_material, match_material


@pytest.mark.parametrize("material", materials(), ids=lambda m: m.name)
def test_a_material_is_found_by_each_of_its_names(material):
    for name in (material.name, *material.aliases):
        assert find_material(name) == material
        assert find_material(f"  {name.upper()} ") == material


def test_no_name_belongs_to_two_materials():
    owners: dict[str, set[str]] = {}
    for m in materials():
        for n in (m.name, *m.aliases):
            owners.setdefault(re.sub(r"[\s\-_.]", "", n.casefold()), set()).add(m.name)
    assert {n: o for n, o in owners.items() if len(o) > 1} == {}


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("EN AW-6082-T6", "EN AW-6082"),
        ("en aw 6082 t651", "EN AW-6082"),
        ("AlSi1MgMn", "EN AW-6082"),
        ("EN AW-6082 / AlSi1MgMn", "EN AW-6082"),
        ("6082-T6 (aluminium)", "EN AW-6082"),
        ("AL6061-T6", "EN AW-6061"),
        ("aluminum 7075-T651", "EN AW-7075"),
        ("EN 573-3 6082", "EN AW-6082"),
        ("AISI 303", "1.4305"),
        ("SS303", "1.4305"),
        ("stainless 303", "1.4305"),
        ("1.4305+C", "1.4305"),
        ("X8CrNiS18-9", "1.4305"),
        ("1.4301 (AISI 304)", "1.4301"),
        ("W.Nr. 1.4571", "1.4571"),
        ("CuZn39Pb3 - R430", "CW614N"),
        ("Ms 58", "CW614N"),
        ("C360 brass", "CW603N"),
        ("CW004A-R250", "CW004A"),
        ("C45+N", "C45"),
        ("EN 10025-2: S235JR", "S235JR"),
        ("12L14", "11SMnPb30"),
        ("MIC6 aluminium", "cast aluminium tooling plate"),
        ("Titanium Grade 5", "Ti-6Al-4V"),
        ("17-4 PH H900", "1.4542"),
    ],
)
def test_names_as_people_write_them(text, name):
    found = find_material(text)
    assert found is not None
    assert found.name == name


@pytest.mark.parametrize(
    "text", ["", "   ", "unobtainium", "304/316", "brass 303", "steel 6082", "6082 7075", "T6"]
)
def test_unknown_and_contradictory_names_are_no_material(text):
    assert find_material(text) is None


@pytest.mark.parametrize(
    ("text", "family"),
    [("Aluminium", "aluminium"), ("brass", "brass"), ("stainless steel", "stainless")],
)
def test_a_family_alone_is_said_to_be_generic(text, family):
    found = find_material(text)
    assert found is not None
    assert found.generic
    assert found.family == family


def test_a_named_alloy_wins_over_the_word_for_its_family():
    found = find_material("brass / CW614N")
    assert found is not None
    assert not found.generic


def test_only_the_given_materials_are_searched():
    copper = tuple(m for m in materials() if m.family == "copper")
    assert match_material("6082", copper) is None
    assert match_material("Cu-ETP", copper) is not None

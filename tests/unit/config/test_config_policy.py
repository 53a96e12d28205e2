"""Changes of policy in words, and whose policy judges a fork's change."""

import pytest

from dfmcheck.config.find import matcher_for, settings_for
from dfmcheck.config.load import default_settings, parse_settings
from dfmcheck.config.policy import (
    effective_of_all,
    effective_settings,
    policy_changes,
    policy_changes_of_all,
)
from dfmcheck.model.finding import Limit
from dfmcheck.model.settings import PolicyChange, Settings

LIMITS = (
    Limit(name="hole_depth", default=8.0, unit="x diameter", sense="most", source="-", meaning="-"),
    Limit(name="wall", default=0.8, unit="mm", sense="least", source="-", meaning="-"),
    Limit(name="glow", default=None, unit="lm", sense="most", source="-", meaning="-"),
)
LEVELS = {"deep-hole": "warning", "thin-wall": "error"}

BASE = """
quantities = [1, 25]
look_at = ["cad/**/*.step"]
leave_out = ["cad/bought/**"]
plugins = ["lamp-rules"]
[gate]
hold_on = "all"
reference = "last-ordered"
[limits]
setups = 2
hole_depth = 6
wall = 1
unit_cost_rise = { at = 25, percent = 10, and_at_least = 1 }
[rules]
deep-hole = "error"
[stages]
order = ["material", "current-quote"]
[part.DL-102]
file = "cad/knuckle.step"
target_cost = { at = 25, amount = 48 }
[part.DL-107]
file = "cad/switch.step"
make = "bought"
[[permit]]
part = "DL-102"
limit = "setups"
up_to = 3
reason = "slot carries the cable"
owner = "ada"
until = 2026-06-30
"""


def parsed(text: str, source: str = "dfmcheck.toml") -> Settings:
    return parse_settings(text.encode(), source)


def changes(old: str, new: str, **known: object) -> tuple[PolicyChange, ...]:
    return policy_changes(parsed(old), parsed(new), limits=LIMITS, levels=LEVELS)


PERMIT_WORDS = "up to 3 until 2026-06-30 (ada: slot carries the cable)"

# Each: what is written instead of what; key, words before and after, whether it weakens.
EDITS = [
    ('"cad/**/*.step"', '"**/*.step"', "look_at", "cad/**/*.step", "**/*.step", False),
    ('"cad/**/*.step"', '"cad/*.step"', "look_at", "cad/**/*.step", "cad/*.step", True),
    ('"cad/bought/**"', '"cad/**"', "leave_out", "cad/bought/**", "cad/**", True),
    ('"cad/bought/**"', '"cad/bought/*.step"', "leave_out", "cad/bought/**", "cad/bought/*.step",
     False),
    ('["cad/bought/**"]', "[]", "leave_out", "cad/bought/**", "none", False),
    ('["lamp-rules"]', "[]", "plugins", "lamp-rules", "none", True),
    ('["lamp-rules"]', '["lamp-rules", "x"]', "plugins", "lamp-rules", "lamp-rules, x", True),
    ('hold_on = "all"', 'mode = "advise"\nhold_on = "all"', "gate.mode", "hold", "advise", True),
    ('hold_on = "all"', 'hold_on = "new"', "gate.hold_on", "all", "new", True),
    ('reference = "last-ordered"', "", "gate.reference", "last-ordered", "not set", True),
    ("setups = 2", "setups = 3", "limits.setups", "2", "3", True),
    ("setups = 2", "setups = 1", "limits.setups", "2", "1", False),
    ("setups = 2", "", "limits.setups", "2", "not set", True),
    ("hole_depth = 6", "hole_depth = 9", "limits.hole_depth", "6", "9", True),
    ("hole_depth = 6", "hole_depth = 5", "limits.hole_depth", "6", "5", False),
    ("hole_depth = 6", "", "limits.hole_depth", "6", "not set (by default 8)", True),
    ("wall = 1", "wall = 0.5", "limits.wall", "1", "0.5", True),
    ("wall = 1", "wall = 1.5", "limits.wall", "1", "1.5", False),
    ("wall = 1", "wall = 1\nglow = 4", "limits.glow", "not set", "4", False),
    ("wall = 1", "wall = 1\nother = 4", "limits.other", "not set", "4", True),
    ("percent = 10,", "percent = 11,", "limits.unit_cost_rise", "10 % at 25, from 1.00 EUR",
     "11 % at 25, from 1.00 EUR", True),
    (", and_at_least = 1", "", "limits.unit_cost_rise", "10 % at 25, from 1.00 EUR", "10 % at 25",
     False),
    ("unit_cost_rise = { at = 25, percent = 10, and_at_least = 1 }", "", "limits.unit_cost_rise",
     "10 % at 25, from 1.00 EUR", "not set", True),
    ("setups = 2", "setups = 2\nrise_since_reference = { at = 1, amount = 2 }",
     "limits.rise_since_reference", "not set", "2.00 EUR at 1", False),
    ("percent = 10,", "amount = 1,", "limits.unit_cost_rise", "10 % at 25, from 1.00 EUR",
     "1.00 EUR at 25, from 1.00 EUR", True),
    ("at = 25, percent", "at = 1, percent", "limits.unit_cost_rise", "10 % at 25, from 1.00 EUR",
     "10 % at 1, from 1.00 EUR", True),
    ('deep-hole = "error"', 'deep-hole = "off"', "rules.deep-hole", "error", "off", True),
    ('deep-hole = "error"', "", "rules.deep-hole", "error", "not set (by default warning)", True),
    ('deep-hole = "error"', 'deep-hole = "error"\nthin-wall = "note"', "rules.thin-wall",
     "not set (by default error)", "note", True),
    ('deep-hole = "error"', 'deep-hole = "error"\nmine = "error"', "rules.mine", "not set", "error",
     False),
    ('deep-hole = "error"', 'deep-hole = "error"\nmine = "warning"', "rules.mine", "not set",
     "warning", True),
    ('["material", "current-quote"]', '["material"]', "stages.order", "material, current-quote",
     "material", True),
    ('["material", "current-quote"]', '["current-quote", "material", "finish"]', "stages.order",
     "material, current-quote", "current-quote, material, finish", False),
    ("up_to = 3\n", "up_to = 4\n", "permit DL-102 setups", PERMIT_WORDS,
     PERMIT_WORDS.replace("3 ", "4 ", 1), True),
    ("up_to = 3\n", "up_to = 2\n", "permit DL-102 setups", PERMIT_WORDS,
     PERMIT_WORDS.replace("3 ", "2 ", 1), False),
    ("up_to = 3\n", "", "permit DL-102 setups", PERMIT_WORDS,
     PERMIT_WORDS.replace("up to 3", "any value"), True),
    ("2026-06-30", "2027-06-30", "permit DL-102 setups", PERMIT_WORDS,
     PERMIT_WORDS.replace("2026", "2027"), True),
    ('owner = "ada"', 'owner = "bo"', "permit DL-102 setups", PERMIT_WORDS,
     PERMIT_WORDS.replace("ada", "bo"), False),
    ("quantities = [1, 25]", "quantities = [1]", "quantities", "1, 25", "1", True),
    ("quantities = [1, 25]", "quantities = [1, 10, 25]", "quantities", "1, 25", "1, 10, 25", False),
    ("quantities =", 'private = "RATES"\nquantities =', "private", "not set", "RATES", True),
    ('make = "bought"', "", "part.DL-107.make", "bought", "machined", False),
    ('knuckle.step"', 'knuckle.step"\nmake = "bent"', "part.DL-102.make", "machined", "bent", True),
    ("amount = 48", "amount = 49", "part.DL-102.target_cost", "48.00 at 25", "49.00 at 25", True),
    ("amount = 48", "amount = 47", "part.DL-102.target_cost", "48.00 at 25", "47.00 at 25", False),
    ("target_cost = { at = 25, amount = 48 }", "", "part.DL-102.target_cost", "48.00 at 25",
     "not set", True),
    ("cad/knuckle.step", "cad/base.step", "part.DL-102.file", "cad/knuckle.step", "cad/base.step",
     True),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "key", "before", "after", "weakens"), EDITS, ids=map(str, range(len(EDITS)))
)  # fmt: skip
def test_each_change_of_policy_in_words(
    old: str, new: str, key: str, before: str, after: str, weakens: bool
) -> None:
    assert BASE.count(old) == 1
    assert changes(BASE, BASE.replace(old, new)) == (
        PolicyChange(key=key, before=before, after=after, weakens=weakens),
    )


def test_a_currency_is_the_unit_of_limits() -> None:
    found = changes(BASE, BASE.replace("quantities", 'currency = "JPY"\nquantities', 1))
    assert PolicyChange(key="currency", before="EUR", after="JPY", weakens=True) in found


def test_what_is_not_policy_makes_no_change() -> None:
    new = BASE.replace('knuckle.step"', 'knuckle.step"\nmaterial = "CW614N"\nletter = "C"')
    new = "# a comment\n" + new.replace("setups = 2\nhole_depth = 6", "hole_depth = 6\nsetups = 2")
    assert changes(BASE, new) == ()
    assert changes(BASE, BASE) == ()


def test_weakening_changes_come_first() -> None:
    new = BASE.replace("setups = 2", "setups = 1").replace('"cad/bought/**"', '"cad/**"')
    new = new.replace("wall = 1", "wall = 0.1")
    assert [c.key for c in changes(BASE, new)] == ["leave_out", "limits.wall", "limits.setups"]


def test_without_knowledge_of_a_limit_any_change_may_weaken() -> None:
    old, new = parsed("[limits]\nwall = 1"), parsed("[limits]\nwall = 2")
    assert [c.weakens for c in policy_changes(old, new)] == [True]
    assert [c.weakens for c in policy_changes(new, old)] == [True]


def test_a_change_and_its_reverse_read_alike_and_one_of_them_weakens() -> None:
    for old, new, key, *_ in EDITS:
        there = changes(BASE, BASE.replace(old, new))
        back = changes(BASE.replace(old, new), BASE)
        assert [c.key for c in back] == [key]
        assert (back[0].before, back[0].after) == (there[0].after, there[0].before)
        if "(ada" not in there[0].before:
            assert there[0].weakens or back[0].weakens


# What a fork's head may try, and what the base's policy makes of it.
def test_a_fork_cannot_weaken_limits_levels_or_the_gate() -> None:
    head = parsed(
        BASE.replace("setups = 2", "setups = 9")
        .replace('"error"', '"off"')
        .replace('hold_on = "all"', 'mode = "advise"')
        .replace('"cad/bought/**"', '"cad/**"')
        .replace('order = ["material", "current-quote"]', "order = []")
        .replace('["lamp-rules"]', '["evil-rules"]')
    )
    base = parsed(BASE)
    found = effective_settings(base, head, True)
    assert found.policy == base.policy
    assert effective_settings(base, head, False) is head


def test_a_fork_cannot_add_or_widen_a_permit() -> None:
    more = BASE[BASE.index("[[permit]]") :].replace("setups", "wall").replace("2026", "2030")
    head = parsed(BASE.replace("up_to = 3", "up_to = 30") + more)
    found = effective_settings(parsed(BASE), head, True)
    assert [(p.limit, p.up_to, p.until) for p in found.policy.permits] == [
        ("setups", 3.0, "2026-06-30")
    ]


def test_a_fork_cannot_name_a_plugin_or_the_private_file() -> None:
    head = parsed('plugins = ["evil"]\nprivate = "AWS_SECRET"\ncurrency = "JPY"\nquantities = [7]')
    found = effective_settings(None, head, True)
    assert (found.policy.plugins, found.private) == ((), None)
    assert (found.currency, found.quantities) == ("EUR", (1, 10, 25))
    assert found.policy == default_settings().policy


def test_part_data_of_a_fork_count() -> None:
    head = BASE.replace('knuckle.step"', 'knuckle.step"\nmaterial = "CW614N"\nletter = "C"')
    found = effective_settings(parsed(BASE), parsed(head + '[part.NEW]\nfile = "n.step"'), True)
    assert [(p.number, p.material, p.letter) for p in found.parts] == [
        ("DL-102", "CW614N", "C"), ("DL-107", None, None), ("NEW", None, None)
    ]  # fmt: skip
    assert found.part_lines == (("DL-102", 18), ("DL-107", 23), ("NEW", 33))


def test_a_fork_cannot_take_a_part_from_judgement() -> None:
    head = BASE.replace('knuckle.step"', 'knuckle.step"\nmake = "bought"')
    # The bought part's number is given to another file, and a new part calls itself bought.
    head = head.replace("cad/switch.step", "cad/base.step") + (
        '[part.NEW]\nfile = "n.step"\nmake = "printed"\n[part.SW]\nfile = "cad/switch.step"\n'
        'make = "bought"'
    )
    found = effective_settings(parsed(BASE), parsed(head), True)
    assert {p.number: p.make for p in found.parts} == {
        "DL-102": "machined", "DL-107": "machined", "NEW": "machined", "SW": "bought"
    }  # fmt: skip


def test_a_fork_cannot_raise_a_target_cost() -> None:
    head = BASE.replace("amount = 48", "amount = 480")
    renumbered = head.replace("part.DL-102", "part.DL-200")
    for text in (head, renumbered, BASE.replace("target_cost = { at = 25, amount = 48 }", "")):
        found = effective_settings(parsed(BASE), parsed(text), True).parts[0]
        assert found.target_cost is not None
        assert found.target_cost.amount == 48.0


@pytest.mark.parametrize(
    "head",
    [
        BASE.replace("cad/knuckle.step", "cad/base.step"),
        BASE.replace("[part.DL-102]", "[part.DL-103]"),
        BASE.replace('knuckle.step"', 'knuckle.step"\nsolid = "Arm"'),
    ],
)
def test_a_fork_cannot_move_a_permit_to_another_part(head: str) -> None:
    found = effective_settings(parsed(BASE), parsed(head), True)
    assert found.policy.permits == ()
    assert found.warnings == (
        (
            "dfmcheck.toml: the permit of DL-102 for setups is left aside: a change from a fork "
            "takes this part number from its file"
        ),
    )


def test_a_permit_by_a_file_s_name_stays_with_that_file() -> None:
    base = BASE.replace("[part.DL-102]", "[part.OTHER]").replace('"DL-102"', '"pin"')
    same = base + '[part.pin]\nfile = "cad/pin.step"'
    other = base + '[part.pin]\nfile = "cad/base.step"'
    assert len(effective_settings(parsed(base), parsed(base), True).policy.permits) == 1
    assert len(effective_settings(parsed(base), parsed(same), True).policy.permits) == 1
    assert len(effective_settings(parsed(base), parsed(other), True).policy.permits) == 0


def test_a_fork_cannot_escape_by_a_configuration_in_a_subfolder() -> None:
    base = {"dfmcheck.toml": parsed(BASE)}
    nested = parsed('look_at = ["none.step"]\n[part.N]\nfile = "x.step"', "cad/dfmcheck.toml")
    found = effective_of_all(base, {**base, "cad/dfmcheck.toml": nested}, fork=True)
    governing = settings_for("cad/knuckle.step", found)
    assert governing.source == "cad/dfmcheck.toml"
    assert governing.policy.limits == base["dfmcheck.toml"].policy.limits
    assert [p.file for p in governing.parts] == ["cad/x.step"]
    looks_at = matcher_for(governing)
    assert looks_at("cad/knuckle.step")
    assert not looks_at("cad/bought/screw.step")
    # Removing a configuration does not free its folder from it either.
    strict = parsed("[limits]\nsetups = 1", "cad/dfmcheck.toml")
    both = {**base, "cad/dfmcheck.toml": strict}
    found = effective_of_all(both, base, fork=True)
    assert settings_for("cad/a.step", found).policy == strict.policy
    assert settings_for("a.step", found).policy == base["dfmcheck.toml"].policy
    assert effective_of_all(both, base, fork=False) == base


def test_warnings_of_the_base_come_once_with_a_fork_s_own() -> None:
    fine = "[limits]\nunit_cost_rise = { at = 25, percent = 1 }"
    base = {"dfmcheck.toml": parsed(fine)}
    nested = parsed(fine.replace("= 1 ", "= 2 "), "cad/dfmcheck.toml")
    found = effective_of_all(base, {**base, "cad/dfmcheck.toml": nested}, fork=True)
    said = [w.partition(":")[0] for s in found.values() for w in s.warnings]
    assert sorted(said) == ["cad/dfmcheck.toml, line 2", "dfmcheck.toml, line 2"]


def test_a_fork_cannot_remove_the_only_configuration() -> None:
    base = {"dfmcheck.toml": parsed(BASE)}
    found = effective_of_all(base, {}, fork=True)
    assert found["dfmcheck.toml"].policy.limits == base["dfmcheck.toml"].policy.limits
    assert found["dfmcheck.toml"].policy.permits == ()
    assert found["dfmcheck.toml"].parts == ()


def test_changes_over_all_configurations_name_the_file() -> None:
    root = parsed('look_at = ["**/*.step"]\n[limits]\nsetups = 2')
    nested = parsed('look_at = ["**/*.step"]\n[limits]\nsetups = 3', "cad/dfmcheck.toml")
    found = policy_changes_of_all(
        {"dfmcheck.toml": root}, {"dfmcheck.toml": root, "cad/dfmcheck.toml": nested}
    )
    assert found == (
        PolicyChange(key="cad/dfmcheck.toml: limits.setups", before="2", after="3", weakens=True),
    )
    alone = policy_changes_of_all({}, {"dfmcheck.toml": parsed("[limits]\nsetups = 2")})
    assert alone == (PolicyChange(key="limits.setups", before="not set", after="2", weakens=False),)


def test_a_configuration_further_up_is_seen_from_the_folder() -> None:
    root = parsed('look_at = ["cad/*.step", "lib/**"]\nleave_out = ["cad/o*.step"]')
    nested = parsed('look_at = ["*.step"]\nleave_out = ["o*.step"]', "cad/dfmcheck.toml")
    before, after = {"dfmcheck.toml": root}, {"dfmcheck.toml": root, "cad/dfmcheck.toml": nested}
    assert policy_changes_of_all(before, after) == ()
    assert policy_changes_of_all(after, before) == ()


def test_parts_elsewhere_do_not_count_in_a_folder() -> None:
    root = parsed(BASE.replace("cad/", "arm/"))
    nested = parsed(
        BASE[: BASE.index("[part.DL-102]")].replace("cad/", ""), "cad/dfmcheck.toml"
    )  # fmt: skip
    before, after = {"dfmcheck.toml": root}, {"dfmcheck.toml": root, "cad/dfmcheck.toml": nested}
    found = policy_changes_of_all(before, after, limits=LIMITS, levels=LEVELS)
    assert [c.key for c in found if "look_at" not in c.key and "leave_out" not in c.key] == []

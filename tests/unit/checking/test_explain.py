"""What `dfmcheck rules` is told."""

import pytest
from builders import make_settings

from dfmcheck.checking.explain import explain_rule, list_rules
from dfmcheck.checking.plugins import make_plugin_manager
from dfmcheck.checking.registry import collect_rules
from dfmcheck.errors import UsageError

RULES = collect_rules(make_plugin_manager())


def test_a_rule_is_found_by_its_name_and_by_that_of_its_limit() -> None:
    by_name = explain_rule("deep-hole", RULES, make_settings())
    assert by_name == explain_rule("hole_depth_ratio", RULES, make_settings())
    assert by_name.why[0].startswith("A drill clears its chips")
    assert by_name.plugin == "dfmcheck_rules"


def test_the_limit_says_its_sense_value_and_source() -> None:
    (limit,) = explain_rule("deep-hole", RULES, make_settings()).limits
    assert (limit.sense, limit.value, limit.default, limit.unit) == (
        "at most", 5.0, 5.0, "x diameter",
    )  # fmt: skip
    assert limit.source == limit.default_source
    assert not limit.configured


def test_a_configured_limit_and_level_are_shown_beside_the_defaults() -> None:
    settings = make_settings({"hole_depth_ratio": 4.0}, {"deep-hole": "error"})
    rule = explain_rule("deep-hole", RULES, settings)
    (limit,) = rule.limits
    assert (rule.level, rule.default_level) == ("error", "warning")
    assert (limit.value, limit.default, limit.source) == (4.0, 5.0, "dfmcheck.toml")
    assert limit.configured


def test_how_to_configure_is_said_in_lines_to_paste() -> None:
    import tomllib

    for rule in RULES:
        shown = explain_rule(rule.name, RULES, make_settings())
        read = tomllib.loads("\n".join(shown.configure))
        assert read["rules"] == {rule.name: rule.level}
        for limit in rule.limits:
            if limit.default is not None:
                assert read["limits"][limit.name] == limit.default


def test_a_limit_that_is_not_set_is_shown_as_a_comment() -> None:
    shown = explain_rule("setups", RULES, make_settings())
    assert "# setups = …  # setups" in shown.configure
    assert shown.limits[0].value is None


def test_a_stage_rule_says_which_stages_ask_for_it() -> None:
    assert explain_rule("finish-missing", RULES, make_settings()).stages == ("request", "order")
    settings = make_settings(stages=(("request", ("material",)), ("order", ())))
    assert explain_rule("finish-missing", RULES, settings).stages == ()


def test_an_unknown_name_gets_the_nearest() -> None:
    with pytest.raises(UsageError, match="did you mean deep-hole"):
        explain_rule("deephole", RULES, make_settings())
    with pytest.raises(UsageError, match="lists them all"):
        explain_rule("xyzzy", RULES, make_settings())


def test_every_rule_is_listed_once_by_name() -> None:
    names = [rule.name for rule in list_rules(RULES, make_settings())]
    assert names == sorted({*names})
    assert len(names) == len(RULES) + 1

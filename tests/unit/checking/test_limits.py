"""Limits in force, and names in the configuration that nothing knows."""

from builders import make_settings
from hypothesis import given
from hypothesis import strategies as st

from dfmcheck.checking.limits import (
    as_values,
    configured_number,
    exceeds,
    limits_in_force,
)
from dfmcheck.model.finding import Limit
from dfmcheck.model.settings import LimitValue, Policy, Settings
from dfmcheck_rules.holes import deep_hole
from dfmcheck_rules.process import setups
from dfmcheck_rules.stages import material_missing
from dfmcheck_rules.stock import stock_rise

RULES = (deep_hole, setups, stock_rise, material_missing)


def configured(*values: LimitValue, **policy: object) -> Settings:
    return Settings(policy=Policy(limits=values, **policy), source="dfmcheck.toml")  # type: ignore[arg-type]


def test_defaults_hold_until_the_configuration_says_otherwise() -> None:
    found = limits_in_force(RULES, make_settings({"setups": 2}))
    assert (found["hole_depth_ratio"].value, found["hole_depth_ratio"].configured) == (5.0, False)
    assert (found["setups"].value, found["setups"].configured) == (2.0, True)
    assert "Machines 2022" in found["hole_depth_ratio"].source
    assert found["setups"].source == "dfmcheck.toml"


def test_rules_see_only_limits_that_are_set() -> None:
    values = as_values(limits_in_force(RULES, make_settings()))
    assert [(v.name, v.value) for v in values] == [("hole_depth_ratio", 5.0), ("stock_rise", 5.0)]


def test_percent_is_a_number_for_a_limit_in_percent_only() -> None:
    value = LimitValue(name="x", percent=15.0)
    percent = Limit(name="x", default=1.0, unit="%", sense="most", source="s", meaning="m")
    metres = Limit(name="x", default=1.0, unit="mm", sense="most", source="s", meaning="m")
    assert configured_number(percent, value) == 15.0
    assert configured_number(metres, value) is None
    assert configured_number(percent, LimitValue(name="x", percent=15.0, at=25)) is None


def test_exactly_at_the_limit_is_within_whatever_the_last_digit() -> None:
    assert not exceeds(0.1 + 0.2, 0.3, "most")
    assert not exceeds(0.3, 0.1 + 0.2, "least")
    assert exceeds(0.30001, 0.3, "most")
    assert exceeds(0.29999, 0.3, "least")
    assert not exceeds(0.0, 0.0, "most")


_numbers = st.floats(-1e6, 1e6, allow_nan=False)


@given(_numbers, _numbers, st.floats(0.0, 1e6))
def test_a_stricter_limit_is_exceeded_by_whatever_exceeds_a_looser_one(
    measured: float, limit: float, by: float
) -> None:
    if exceeds(measured, limit, "most"):
        assert exceeds(measured, limit - by, "most")
    if exceeds(measured, limit, "least"):
        assert exceeds(measured, limit + by, "least")

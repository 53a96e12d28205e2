"""Every shipped rule flags what it should, and nothing just inside its limit or exactly at it."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

import pytest
from builders import TODAY, make_comparison, make_settings, run_rule
from rule_cases import CASES, Situation

import dfmcheck_rules.plugin
from dfmcheck.checking.explain import explain_rule, list_rules
from dfmcheck.comparing.kinds import KINDS
from dfmcheck.model.change import Change
from dfmcheck.model.finding import Finding
from dfmcheck.model.rule import Rule, View

RULES = tuple(sorted(dfmcheck_rules.plugin.dfmcheck_rules(), key=lambda r: r.name))
WITH_LIMITS = tuple(r for r in RULES if r.limits)


def each(rules: Iterable[Rule]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("rule", tuple(rules), ids=lambda r: r.name)


def shown(rule: Rule, case: Literal["flags", "inside", "at"]) -> Situation | None:
    found = getattr(CASES[rule.name], case)
    return found if isinstance(found, Situation) else None


def findings(rule: Rule, case: Situation, limit: float | None = None) -> tuple[Finding, ...]:
    settings = case.settings
    if limit is not None:
        settings = make_settings({rule.limits[0].name: limit})
    return run_rule(rule, case.part, case.former, case.changes, settings=settings, stage=case.stage)


def limit_in_force(rule: Rule, case: Situation) -> float:
    limit = explain_rule(rule.name, (rule,), case.settings).limits[0]
    assert limit.value is not None
    return limit.value


def stricter(rule: Rule, value: float, share: float) -> float:
    by = share * abs(value) if value else share
    return value - by if rule.limits[0].sense == "most" else value + by


def test_each_rule_has_its_cases_and_no_case_is_left_over() -> None:
    assert sorted(CASES) == [rule.name for rule in RULES]


@each(RULES)
def test_a_reason_stands_wherever_a_case_is_lacking(rule: Rule) -> None:
    case = CASES[rule.name]
    for given in (case.inside, case.at):
        assert isinstance(given, Situation) or len(given) > 20
    if rule.limits:
        assert isinstance(case.at, Situation), "a rule with a limit has a part exactly at it"


@each(RULES)
def test_flags(rule: Rule) -> None:
    found = findings(rule, CASES[rule.name].flags)
    assert len(found) == 1
    assert found[0].message
    assert found[0].cost
    assert found[0].advice
    assert found[0].state == "new"


@each(r for r in RULES if shown(r, "inside"))
def test_just_inside_is_silent(rule: Rule) -> None:
    case = shown(rule, "inside")
    assert case is not None
    assert findings(rule, case) == ()


@each(r for r in RULES if shown(r, "at"))
def test_exactly_at_the_limit_is_silent(rule: Rule) -> None:
    case = shown(rule, "at")
    assert case is not None
    assert findings(rule, case) == ()


@each(WITH_LIMITS)
def test_at_the_limit_means_that_a_hair_less_would_be_flagged(rule: Rule) -> None:
    case = shown(rule, "at")
    assert case is not None
    assert len(findings(rule, case, stricter(rule, limit_in_force(rule, case), 1e-4))) == 1


@each(r for r in WITH_LIMITS if shown(r, "inside"))
def test_just_inside_means_within_a_tenth_of_the_limit(rule: Rule) -> None:
    case = shown(rule, "inside")
    assert case is not None
    assert len(findings(rule, case, stricter(rule, limit_in_force(rule, case), 0.1))) == 1


@each(WITH_LIMITS)
def test_passing_a_configured_limit_is_an_error_and_holds(rule: Rule) -> None:
    case = CASES[rule.name].flags
    (found,) = findings(rule, case, limit_in_force(rule, case))
    assert (found.level, found.holds) == ("error", True)
    assert found.limit_source == "dfmcheck.toml"


@each(RULES)
def test_says_what_it_costs_why_and_on_what_authority(rule: Rule) -> None:
    text = rule.explanation
    assert len(text.split()) >= 40, "too short to tell a designer what it costs and why"
    assert re.search(r"\bLimit: |\bNo limit", text)
    for limit in rule.limits:
        assert limit.meaning
        if limit.source == "common practice, no source":
            assert limit.source in " ".join(text.split())
        if limit.default is not None and limit.default != 0.0:
            assert f"{limit.default:g}" in text


@dataclass(frozen=True, kw_only=True)
class Listening(View):
    """A view that notes which kinds of change it is asked for, and has none."""

    asked: list[str] = field(default_factory=list)

    def changes(self, *kinds: str) -> tuple[Change, ...]:
        self.asked.extend(kinds)
        return ()


@each(r for r in RULES if r.looks_at == "change")
def test_looks_only_at_kinds_of_change_that_comparisons_give(rule: Rule) -> None:
    case = CASES[rule.name].flags
    assert case.former is not None
    view = Listening(
        part=case.part,
        former=case.former,
        comparison=make_comparison(case.former, case.part, *case.changes),
        settings=case.settings,
        today=TODAY,
    )
    tuple(rule.check(view))
    assert [kind for kind in view.asked if kind not in KINDS] == []
    given = {change.kind for change in case.changes}
    assert given & set(view.asked) or not view.asked


def test_topics_hold_at_most_ten_rules_each() -> None:
    modules = [rule.check.__module__ for rule in RULES]
    assert {m: modules.count(m) for m in modules if modules.count(m) > 10} == {}


def test_all_rules_can_be_listed_and_explained() -> None:
    listed = list_rules(RULES, make_settings())
    assert {r.name for r in listed} == {r.name for r in RULES} | {"before-a-request"}
    assert all(r.why for r in listed)

"""The rules of a run: collected from the plugins, checked, sorted by name."""

import math
import re
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from typing import Any, get_args

import pluggy

from dfmcheck.checking.plugins import describe_error
from dfmcheck.errors import PluginError
from dfmcheck.model.finding import FindingLevel, Limit
from dfmcheck.model.rule import RULE_NAME, Rule

LIMIT_NAME = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")
"""A limit's name: lower-case words and numbers joined by underscores, as keys in `[limits]`."""


def collect_rules(manager: pluggy.PluginManager) -> tuple[Rule, ...]:
    """All rules of all plugins, sorted by name, each with the name of its plugin.

    Raises:
        PluginError: a plugin raises, gives something that is not a sound rule, or two rules share
            a name, or two limits share a name but not their meaning.
    """
    rules = [r for name, given in call_each(manager, "dfmcheck_rules") for r in _sound(given, name)]
    rules.sort(key=lambda r: (r.name, r.plugin))
    _refuse_duplicates(rules)
    _refuse_clashing_limits(rules)
    return tuple(rules)


def call_each(
    manager: pluggy.PluginManager, hook: str, **arguments: object
) -> tuple[tuple[str, Any], ...]:
    """Call a hook plugin by plugin, in the order of their names: (plugin name, what it gave).

    Raises:
        PluginError: a plugin raises; it is named.
    """
    plugins = sorted(manager.list_name_plugin())
    implementing = {i.plugin_name for i in getattr(manager.hook, hook).get_hookimpls()}
    answers: list[tuple[str, Any]] = []
    for name in sorted(implementing):
        others = [plugin for other, plugin in plugins if other != name and plugin is not None]
        try:
            given = manager.subset_hook_caller(hook, others)(**arguments)
        except (Exception, SystemExit) as error:
            msg = f"the plugin '{name}' failed in {hook}: {describe_error(error)}"
            raise PluginError(msg) from error
        several = given if isinstance(given, list) else [given]
        answers += [(name, one) for one in several if one is not None]
    return tuple(answers)


def as_items(given: object, plugin: str, hook: str) -> tuple[object, ...]:
    """What a hook gave, as a tuple.

    Raises:
        PluginError: it is not a collection, or raises while it is gone through.
    """
    if given is None:
        return ()
    if isinstance(given, (str, bytes)) or not isinstance(given, Iterable):
        msg = f"the plugin '{plugin}' gave {type(given).__name__} from {hook}, not a collection"
        raise PluginError(msg)
    try:
        return tuple(given)
    except (Exception, SystemExit) as error:
        msg = f"the plugin '{plugin}' failed in {hook}: {describe_error(error)}"
        raise PluginError(msg) from error


def _sound(given: object, plugin: str) -> list[Rule]:
    rules = []
    for item in as_items(given, plugin, "dfmcheck_rules"):
        if not isinstance(item, Rule):
            msg = (
                f"the plugin '{plugin}' gave {type(item).__name__} from dfmcheck_rules, not a "
                "rule; make rules with `dfmcheck.api.rule`"
            )
            raise PluginError(msg)
        problem = _rule_problem(item)
        if problem:
            msg = f"the rule {item.name!r} of the plugin '{plugin}' {problem}"
            raise PluginError(msg)
        rules.append(replace(item, plugin=plugin))
    return rules


def _rule_problem(rule: Rule) -> str:
    if not isinstance(rule.name, str) or not RULE_NAME.fullmatch(rule.name):
        return "is not named in lower-case words joined by hyphens"
    if rule.level not in get_args(FindingLevel):
        return f"has the level {rule.level!r}; levels are {', '.join(get_args(FindingLevel))}"
    if rule.looks_at not in ("part", "change", "stage"):
        return f"looks at {rule.looks_at!r}; it may look at part, change or stage"
    if (rule.looks_at == "stage") != bool(rule.piece):
        return "must name a piece if it belongs to a stage, and only then"
    if rule.makes not in ("machined", "any"):
        return f"is for {rule.makes!r}; it may be for machined parts or for any"
    if not callable(rule.check):
        return "has a check that is not a function"
    if not isinstance(rule.limits, tuple):
        return "has limits that are not a tuple"
    return next((p for p in map(_limit_problem, rule.limits) if p), "")


def _limit_problem(limit: object) -> str:
    if not isinstance(limit, Limit):
        return f"has a limit that is {type(limit).__name__}, not Limit"
    if not isinstance(limit.name, str) or not LIMIT_NAME.fullmatch(limit.name):
        return f"has a limit {limit.name!r}; limits are lower-case words joined by underscores"
    if limit.sense not in ("most", "least"):
        return f"has a limit '{limit.name}' whose sense is {limit.sense!r}, not most or least"
    default = limit.default
    if default is not None and (
        isinstance(default, bool)
        or not isinstance(default, (int, float))
        or not math.isfinite(default)
    ):
        return f"has a limit '{limit.name}' whose default is {default!r}, not a number"
    if not limit.source:
        return f"has a limit '{limit.name}' without a source; say \"common practice, no source\""
    return ""


def _refuse_duplicates(rules: list[Rule]) -> None:
    for one, other in pairwise(rules):
        if one.name == other.name:
            msg = (
                f"two rules are named '{one.name}', one of the plugin '{one.plugin}' and one of "
                f"'{other.plugin}'; rename one or take a plugin out of `plugins`"
            )
            raise PluginError(msg)


def _refuse_clashing_limits(rules: list[Rule]) -> None:
    owners: dict[str, tuple[Limit, Rule]] = {}
    for rule in rules:
        for limit in rule.limits:
            known = owners.setdefault(limit.name, (limit, rule))
            if known[0] != limit:
                msg = (
                    f"the rules '{known[1].name}' ({known[1].plugin}) and '{rule.name}' "
                    f"({rule.plugin}) both have a limit '{limit.name}' but not the same one"
                )
                raise PluginError(msg)
    for rule in rules:
        if rule.name in owners and all(limit.name != rule.name for limit in rule.limits):
            other = owners[rule.name][1]
            msg = (
                f"'{rule.name}' is a rule of the plugin '{rule.plugin}' and a limit of the rule "
                f"'{other.name}' ({other.plugin}); a permit could not tell them apart"
            )
            raise PluginError(msg)

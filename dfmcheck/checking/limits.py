"""Limits in force: what rules declare, overridden by what the configuration sets."""

from collections.abc import Iterable
from typing import Literal

from dfmcheck.model.base import Value
from dfmcheck.model.finding import Limit
from dfmcheck.model.rule import Rule
from dfmcheck.model.settings import LimitValue, Settings


class LimitInForce(Value, frozen=True):
    """A limit with the value that holds in this run.

    `value` None: nothing is limited. `configured` is True where the configuration sets it, and
    passing it then holds. `source` says where the value comes from.
    """

    limit: Limit
    value: float | None
    configured: bool
    source: str


def limits_in_force(rules: Iterable[Rule], settings: Settings) -> dict[str, LimitInForce]:
    """All limits of the rules, by name."""
    set_by_name = {v.name: v for v in settings.policy.limits if v.at is None and v.amount is None}
    found: dict[str, LimitInForce] = {}
    for rule in rules:
        for limit in rule.limits:
            found[limit.name] = _in_force(limit, set_by_name.get(limit.name), settings)
    return found


def as_values(limits: dict[str, LimitInForce]) -> tuple[LimitValue, ...]:
    """The limits that are set, as rules see them."""
    return tuple(
        LimitValue(name=name, value=float(found.value))
        for name, found in sorted(limits.items())
        if found.value is not None
    )


def configured_number(limit: Limit, value: LimitValue) -> float | None:
    """The number that the configuration sets for a limit: bare, or as `percent` for one in %.

    None where it is written in a way that this limit does not take.
    """
    if value.at is not None or value.amount is not None or value.and_at_least is not None:
        return None
    if value.value is not None:
        return value.value
    return value.percent if limit.unit == "%" else None


def exceeds(measured: float, value: float, sense: Literal["most", "least"]) -> bool:
    """Whether a measured value lies beyond a limit; exactly at the limit it does not.

    The last digits of a number computed from geometry are noise: a millionth of the limit, and
    never less than a millionth of its unit, is taken as "at the limit".
    """
    noise = 1e-6 * max(1.0, abs(value))
    return measured > value + noise if sense == "most" else measured < value - noise


def _in_force(limit: Limit, value: LimitValue | None, settings: Settings) -> LimitInForce:
    number = None if value is None else configured_number(limit, value)
    if number is None:
        return LimitInForce(limit=limit, value=limit.default, configured=False, source=limit.source)
    return LimitInForce(
        limit=limit,
        value=number,
        configured=True,
        source=settings.source or "the configuration",
    )

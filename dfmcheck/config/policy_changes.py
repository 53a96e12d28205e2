"""Changes of policy between two configurations, in words, and whether they weaken it.

`weakens` errs to the side of caution: it is False only where the change cannot let more pass.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping

import msgspec

from dfmcheck.config.globs import below, covers
from dfmcheck.config.problems import key, plain
from dfmcheck.config.spec import CORE_LIMITS
from dfmcheck.model.finding import Limit
from dfmcheck.model.settings import LimitValue, PartEntry, Permit, PolicyChange, Settings

NOT_SET = "not set"
_LEVELS = ("off", "note", "warning", "error")


class Declared(msgspec.Struct, frozen=True):
    """What loaded rules declare: their limits by name, and their own levels by rule."""

    limits: dict[str, Limit]
    levels: dict[str, str]

    def sense(self, limit: str) -> str | None:
        """Whether a limit is "most" or "least"; None where it is not known."""
        known = self.limits.get(limit)
        if known is not None:
            return known.sense
        return "most" if limit in CORE_LIMITS else None


def policy_changes(
    before: Settings,
    after: Settings,
    *,
    limits: Iterable[Limit] = (),
    levels: Mapping[str, str] | None = None,
) -> tuple[PolicyChange, ...]:
    """Every change of policy, those that weaken it (or may) first.

    Args:
        before: the settings of the base.
        after: the settings of the head.
        limits: the limits that loaded rules declare; without them every change of a rule's limit
            may weaken, since its sense and its default are not known.
        levels: the levels that loaded rules have of themselves, by rule.
    """
    declared = Declared({x.name: x for x in limits}, dict(levels or {}))
    found = [
        *_files(before, after),
        *_judging(before, after),
        *_limits(before, after, declared),
        *_rules(before, after, declared),
        *_stages(before, after),
        *_permits(before, after, declared),
        *_money(before, after),
        *_parts(before, after),
    ]
    return tuple(sorted(found, key=lambda c: not c.weakens))


def _change(name: str, before: str, after: str, weakens: bool) -> PolicyChange:
    return PolicyChange(key=name, before=plain(before), after=plain(after), weakens=weakens)


def _row(items: Iterable[str]) -> str:
    return ", ".join(items) or "none"


def _files(before: Settings, after: Settings) -> Iterator[PolicyChange]:
    old, new = before.policy, after.policy
    area = max(old.folder, new.folder, key=len)

    def compare(was: tuple[str, ...], now: tuple[str, ...]) -> tuple[_Patterns, _Patterns] | None:
        a, b = _within_area(was, old.folder, area), _within_area(now, new.folder, area)
        return None if set(a) == set(b) else (a, b)

    look = compare(old.look_at, new.look_at)
    if look is not None:
        less = not all(covers(look[1], p) for p in look[0])
        yield _change("look_at", _row(old.look_at), _row(new.look_at), less)
    out = compare(old.leave_out, new.leave_out)
    if out is not None:
        more = not all(covers(out[0], p) for p in out[1])
        yield _change("leave_out", _row(old.leave_out), _row(new.leave_out), more)
    if set(old.plugins) != set(new.plugins):
        # A plugin gone judges no longer; a plugin added may recognise or plan otherwise.
        yield _change("plugins", _row(old.plugins), _row(new.plugins), True)


_Patterns = tuple[str, ...]


def _within_area(patterns: _Patterns, folder: str, area: str) -> _Patterns:
    """Patterns of a folder as seen from the folder below it that both configurations govern."""
    if folder == area:
        return patterns
    deeper = area.removeprefix(folder).strip("/")
    return tuple(b for p in patterns for b in below(p, deeper))


def _judging(before: Settings, after: Settings) -> Iterator[PolicyChange]:
    old, new = before.policy, after.policy
    if old.mode != new.mode:
        yield _change("gate.mode", old.mode, new.mode, new.mode == "advise")
    if old.hold_on != new.hold_on:
        yield _change("gate.hold_on", old.hold_on, new.hold_on, new.hold_on == "new")
    if old.reference != new.reference:
        lost = old.reference is not None
        yield _change("gate.reference", old.reference or NOT_SET, new.reference or NOT_SET, lost)


def _limits(before: Settings, after: Settings, declared: Declared) -> Iterator[PolicyChange]:
    old = {x.name: x for x in before.policy.limits}
    new = {x.name: x for x in after.policy.limits}
    for name in sorted({*old, *new}):
        a, b = old.get(name), new.get(name)
        if a != b:
            yield _change(
                f"limits.{key(name)}",
                _limit_words(a, before, name, declared),
                _limit_words(b, after, name, declared),
                _limit_weakens(a, b, name, declared),
            )


def _limit_words(
    limit: LimitValue | None, settings: Settings, name: str, declared: Declared
) -> str:
    if limit is None:
        known = declared.limits.get(name)
        default = known.default if known is not None else None
        return NOT_SET if default is None else f"{NOT_SET} (by default {default:g})"
    if limit.value is not None:
        return f"{limit.value:g}"
    bound = (
        f"{limit.percent:g} %" if limit.percent is not None
        else f"{limit.amount or 0:.2f} {settings.currency}"
    )  # fmt: skip
    least = (
        f", from {limit.and_at_least:.2f} {settings.currency}"
        if limit.and_at_least is not None
        else ""
    )
    return f"{bound} at {limit.at}{least}"


def _limit_weakens(
    a: LimitValue | None, b: LimitValue | None, name: str, declared: Declared
) -> bool:
    sense = declared.sense(name)
    known = declared.limits.get(name)
    if known is None and name not in CORE_LIMITS:
        return True
    if any(x is not None and x.value is None for x in (a, b)):
        return _price_weakens(a, b)
    default = known.default if known is not None else None
    old = a.value if a is not None else default
    new = b.value if b is not None else default
    if old is None or new is None:
        return new is None and old is not None
    return new > old if sense == "most" else new < old


def _price_weakens(a: LimitValue | None, b: LimitValue | None) -> bool:
    if a is None or b is None:
        return b is None
    if a.at != b.at or (a.percent is None) != (b.percent is None):
        return True
    old = (a.percent or 0, a.amount or 0, a.and_at_least or 0)
    new = (b.percent or 0, b.amount or 0, b.and_at_least or 0)
    return any(n > o for o, n in zip(old, new, strict=True))


def _rules(before: Settings, after: Settings, declared: Declared) -> Iterator[PolicyChange]:
    old, new = dict(before.policy.rules), dict(after.policy.rules)
    for name in sorted({*old, *new}):
        if old.get(name) == new.get(name):
            continue
        own = declared.levels.get(name)
        was, now = old.get(name) or own, new.get(name) or own
        if was is None or now is None:
            # The rule's own level is not known: only the ends of the scale are sure.
            weakens = now != "error" and was != "off"
        else:
            weakens = _LEVELS.index(now) < _LEVELS.index(was)
        implied = f" (by default {own})" if own else ""
        yield _change(
            f"rules.{key(name)}",
            old.get(name) or NOT_SET + implied,
            new.get(name) or NOT_SET + implied,
            weakens,
        )


def _stages(before: Settings, after: Settings) -> Iterator[PolicyChange]:
    old, new = dict(before.policy.stages), dict(after.policy.stages)
    for stage in sorted({*old, *new}):
        was, now = old.get(stage, ()), new.get(stage, ())
        if set(was) != set(now):
            yield _change(f"stages.{stage}", _row(was), _row(now), not set(was) <= set(now))


def _permits(before: Settings, after: Settings, declared: Declared) -> Iterator[PolicyChange]:
    old, new = _by_place(before.policy.permits), _by_place(after.policy.permits)
    for place in sorted({*old, *new}):
        was, now = old.get(place, []), new.get(place, [])
        if was == now:
            continue
        part, limit, feature = place
        name = f"permit {key(part)} {limit}" + (f" {feature}" if feature else "")
        wider = any(not any(_within(n, w, declared) for w in was) for n in now)
        yield _change(name, _row(map(_permit_words, was)), _row(map(_permit_words, now)), wider)


def _by_place(permits: Iterable[Permit]) -> dict[tuple[str, str, str], list[Permit]]:
    found: dict[tuple[str, str, str], list[Permit]] = {}
    for permit in permits:
        found.setdefault((permit.part, permit.limit, permit.feature or ""), []).append(permit)
    return found


def _permit_words(permit: Permit) -> str:
    value = "any value" if permit.up_to is None else f"up to {permit.up_to:g}"
    return f"{value} until {permit.until} ({permit.owner}: {permit.reason})"


def _within(new: Permit, old: Permit, declared: Declared) -> bool:
    """Whether a permit gives no more leave than a former one for the same place."""
    if new.until > old.until:
        return False
    if old.up_to is None or new.up_to == old.up_to:
        return True
    if new.up_to is None:
        return False
    sense = declared.sense(new.limit)
    narrower: dict[str | None, Callable[[float, float], bool]] = {
        "most": lambda n, o: n < o,
        "least": lambda n, o: n > o,
    }
    return sense in narrower and narrower[sense](new.up_to, old.up_to)


def _money(before: Settings, after: Settings) -> Iterator[PolicyChange]:
    if before.currency != after.currency:
        yield _change("currency", before.currency, after.currency, True)
    if before.quantities != after.quantities:
        lost = not set(before.quantities) <= set(after.quantities)
        words = [_row(map(str, s.quantities)) for s in (before, after)]
        yield _change("quantities", words[0], words[1], lost)
    if before.private != after.private:
        # Other rates may make the same part cheaper.
        yield _change("private", before.private or NOT_SET, after.private or NOT_SET, True)


def _parts(before: Settings, after: Settings) -> Iterator[PolicyChange]:
    """What part data do to the verdict: parts not judged, budgets, permits that move."""
    old = {e.number: e for e in before.parts}
    new = {e.number: e for e in after.parts}
    permitted = {p.part for p in (*before.policy.permits, *after.policy.permits)}
    for number in sorted({*old, *new}):
        a, b = old.get(number), new.get(number)
        name = f"part.{key(number)}"
        was, now = _make(a), _make(b)
        if was != now:
            yield _change(f"{name}.make", was, now, now != "machined")
        if _target(a) != _target(b):
            yield _change(f"{name}.target_cost", _target(a), _target(b), _target_weakens(a, b))
        if number in permitted and a and b and (a.file, a.solid) != (b.file, b.solid):
            # A permit goes with the number.
            yield _change(f"{name}.file", _place(a), _place(b), True)


def _make(entry: PartEntry | None) -> str:
    return entry.make if entry is not None else "machined"


def _place(entry: PartEntry) -> str:
    return entry.file + (f" ({entry.solid})" if entry.solid else "")


def _target(entry: PartEntry | None) -> str:
    if entry is None or entry.target_cost is None:
        return NOT_SET
    return f"{entry.target_cost.amount:.2f} at {entry.target_cost.at}"


def _target_weakens(a: PartEntry | None, b: PartEntry | None) -> bool:
    old = a.target_cost if a is not None else None
    new = b.target_cost if b is not None else None
    if old is None or new is None:
        return new is None
    return old.at != new.at or new.amount > old.amount

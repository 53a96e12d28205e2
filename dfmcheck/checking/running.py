"""Run one rule on one view: what it raises or gets wrong becomes "not checked", never a pass."""

from collections.abc import Iterable

import msgspec

from dfmcheck.checking.plugins import describe_error
from dfmcheck.model.finding import NotChecked, Remark
from dfmcheck.model.part import Part
from dfmcheck.model.rule import Rule, View

MOST_REMARKS = 10_000
"""A rule that says more about one part is taken to be out of its mind."""


class _RubbishError(Exception):
    """A rule gave something that is no sound remark; the text completes "the rule …"."""


def run_rule(rule: Rule, view: View) -> tuple[tuple[Remark, ...], tuple[NotChecked, ...]]:
    """The sound remarks of a rule, and why the rule is not to be trusted where it failed.

    Remarks made before a failure are kept: they are true as far as they go.
    """
    kept: list[Remark] = []
    failed: list[NotChecked] = []
    known = frozenset(feature.id for feature in view.part.features)
    try:
        for item in _items(rule.check(view)):
            if len(kept) >= MOST_REMARKS:
                _refuse(f"made more than {MOST_REMARKS} remarks on one part")
            kept.append(_sound(item, rule, view.part, known))
    except _RubbishError as error:
        failed.append(not_checked(rule, view.part.number, f"the rule {error}"))
    except (Exception, SystemExit) as error:  # noqa: BLE001 - whatever a plugin does, it is said
        failed.append(
            not_checked(rule, view.part.number, f"the rule raised {describe_error(error)}")
        )
    return tuple(kept), tuple(failed)


def not_checked(rule: Rule, part: str, reason: str) -> NotChecked:
    """A rule that could not judge a part."""
    return NotChecked(rule=rule.name, plugin=rule.plugin, part=part, reason=reason)


def _refuse(text: str) -> None:
    raise _RubbishError(text)


def _items(given: object) -> Iterable[object]:
    if isinstance(given, (str, bytes, dict)) or not isinstance(given, Iterable):
        _refuse(f"gave {type(given).__name__} instead of remarks")
        return ()
    return given


def _sound(item: object, rule: Rule, part: Part, known: frozenset[str]) -> Remark:
    if not isinstance(item, Remark):
        msg = f"gave {type(item).__name__} instead of a remark"
        raise _RubbishError(msg)
    try:
        # a struct is not validated when it is made: a round trip does that, and refuses NaN
        remark = msgspec.convert(msgspec.to_builtins(item), Remark)
    except (msgspec.ValidationError, TypeError, ValueError) as error:
        msg = f"gave a remark that is not sound: {' '.join(str(error).split())}"
        raise _RubbishError(msg) from error
    if not remark.message.strip():
        _refuse("gave a remark without a message")
    if remark.limit is not None and all(limit.name != remark.limit for limit in rule.limits):
        _refuse(f"names the limit '{remark.limit}', which it does not declare")
    if remark.limit is not None and remark.measured is None:
        _refuse(f"names the limit '{remark.limit}' but measured nothing")
    if remark.feature is not None and remark.feature not in known:
        _refuse(f"names the feature '{remark.feature}', which the part does not have")
    faces = len(part.facts.faces)
    if any(not 0 <= face < faces for face in remark.faces):
        _refuse(f"names a face that is not among the part's {faces} faces")
    return remark

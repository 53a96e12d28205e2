"""The shipped rules as a plugin, found through the entry-point group like anyone's."""

from collections.abc import Iterable

from dfmcheck.api import Rule, hookimpl


@hookimpl
def dfmcheck_rules() -> Iterable[Rule]:
    """All shipped rules."""
    return ()

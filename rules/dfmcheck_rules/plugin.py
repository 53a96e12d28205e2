"""The shipped rules as a plugin, found through the entry-point group like anyone's."""

from collections.abc import Iterable

from dfmcheck.api import Rule, hookimpl


@hookimpl
def dfmcheck_rules() -> Iterable[Rule]:
    """All shipped rules."""
    from dfmcheck_rules import (
        change,
        holes,
        pockets,
        process,
        solids,
        stages,
        stock,
        threads,
        turning,
        walls,
    )

    topics = (change, holes, pockets, process, solids, stages, stock, threads, turning, walls)
    return tuple(rule for topic in topics for rule in topic.RULES)

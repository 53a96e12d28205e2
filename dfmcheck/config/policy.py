"""What a change of configuration does to the policy, and whose policy judges.

A change that comes from a fork is judged by the base's policy; part data come from the head. In
the repository's own changes the head's policy judges, and every change of it is listed first.
"""

from collections.abc import Iterable, Mapping

from msgspec.structs import replace

from dfmcheck.config.find import CONFIG_NAME, nearest_config
from dfmcheck.config.load import default_settings
from dfmcheck.config.policy_changes import policy_changes
from dfmcheck.config.problems import key, where
from dfmcheck.model.finding import Limit
from dfmcheck.model.settings import PartEntry, Permit, PolicyChange, Settings

__all__ = ["effective_of_all", "effective_settings", "policy_changes", "policy_changes_of_all"]


def effective_settings(base: Settings | None, head: Settings, fork: bool) -> Settings:
    """The settings that judge the head.

    For a fork's change: policy, currency, quantities and the private file's variable of the base;
    part data of the head, save what excludes parts from judgement or moves a limit with them:

    - a part counts as not machined only if the base has said so of the same file and solid;
    - a target cost that the base has set stays;
    - a permit of the base is left aside, with a warning, if the head takes its part number from
      the file that had it.

    Args:
        base: the settings that governed the folder in the base, None for the defaults.
        head: the settings of the head.
        fork: whether the change comes from a fork.
    """
    if not fork:
        return head
    former = base if base is not None else default_settings()
    kept, dropped = _permits(former, head)
    entries = _Former(former)
    own = [w for w in head.warnings if w not in former.warnings]
    return replace(
        head,
        policy=replace(former.policy, permits=kept),
        currency=former.currency,
        quantities=former.quantities,
        private=former.private,
        parts=tuple(entries.judged(e) for e in head.parts),
        policy_lines=former.policy_lines,
        warnings=(*former.warnings, *own, *dropped),
    )


def effective_of_all(
    before: Mapping[str, Settings], after: Mapping[str, Settings], *, fork: bool
) -> dict[str, Settings]:
    """The settings that judge, for every configuration of a repository.

    For a fork's change each folder that had or has a configuration keeps the policy that governed
    it in the base: a configuration that the fork adds in a subfolder brings part data and no
    policy, one that it removes keeps its policy.

    Args:
        before: settings of the base by the paths of their configurations.
        after: settings of the head likewise.
        fork: whether the change comes from a fork.
    """
    if not fork:
        return dict(after)
    found = {}
    for path in _paths(before, after):
        head = replace(_governing(path, after), folder=path.rpartition("/")[0])
        found[path] = effective_settings(_governing(path, before), head, fork=True)
    return found


def policy_changes_of_all(
    before: Mapping[str, Settings],
    after: Mapping[str, Settings],
    *,
    limits: Iterable[Limit] = (),
    levels: Mapping[str, str] | None = None,
) -> tuple[PolicyChange, ...]:
    """Every change of policy between two revisions, those that weaken first.

    A configuration that appears or vanishes is compared with the one that governs its folder in
    the other revision. With more than one configuration each key has the file before it.

    Args:
        before: settings of the base by the paths of their configurations.
        after: settings of the head likewise.
        limits: the limits that loaded rules declare.
        levels: the levels that loaded rules have of themselves, by rule.
    """
    paths = _paths(before, after)
    found = []
    for path in paths:
        former, current = _governing(path, before), _governing(path, after)
        if former == current:
            continue
        for change in policy_changes(former, current, limits=limits, levels=levels):
            key_ = f"{where(path)}: {change.key}" if len(paths) > 1 else change.key
            found.append(replace(change, key=key_))
    return tuple(sorted(found, key=lambda c: not c.weakens))


def _paths(before: Mapping[str, Settings], after: Mapping[str, Settings]) -> list[str]:
    return sorted({*before, *after})


def _governing(path: str, found: Mapping[str, Settings]) -> Settings:
    """The settings of a configuration, or what governs its folder in its absence.

    Of a configuration further up only the parts in the folder count, and no permit of a part
    that lies elsewhere; its warnings are its own.
    """
    if path in found:
        return found[path]
    folder = path.removesuffix(CONFIG_NAME)
    nearest = nearest_config(folder + "any", found)
    if nearest is None:
        return default_settings()
    settings = found[nearest]
    inside = tuple(e for e in settings.parts if e.file.startswith(folder))
    outside = {e.number for e in settings.parts} - {e.number for e in inside}
    permits = tuple(p for p in settings.policy.permits if p.part not in outside)
    policy = replace(settings.policy, permits=permits)
    return replace(settings, parts=inside, policy=policy, warnings=())


class _Former:
    """The base's entries by file and by number."""

    def __init__(self, base: Settings) -> None:
        self.by_place = {(e.file, e.solid): e for e in base.parts}
        self.by_number = {e.number: e for e in base.parts}

    def judged(self, entry: PartEntry) -> PartEntry:
        """An entry of a fork's head without what would take the part from judgement."""
        same = self.by_place.get((entry.file, entry.solid))
        make = entry.make
        if make != "machined":
            make = same.make if same is not None else "machined"
        former = (self.by_number.get(entry.number), same)
        target = next((e.target_cost for e in former if e is not None and e.target_cost), None)
        return replace(entry, make=make, target_cost=target or entry.target_cost)


def _permits(base: Settings, head: Settings) -> tuple[tuple[Permit, ...], list[str]]:
    """The base's permits whose part numbers still stand for the same files, and words on others."""
    kept, dropped = [], []
    former = {e.number: (e.file, e.solid) for e in base.parts}
    current = {e.number: (e.file, e.solid) for e in head.parts}
    for permit in base.policy.permits:
        if _same_place(permit.part, former, current):
            kept.append(permit)
            continue
        dropped.append(
            f"{where(base.source)}: the permit of {key(permit.part)} for {permit.limit} is left "
            "aside: a change from a fork takes this part number from its file"
        )
    return tuple(kept), dropped


def _same_place(
    number: str,
    former: Mapping[str, tuple[str, str | None]],
    current: Mapping[str, tuple[str, str | None]],
) -> bool:
    before, after = former.get(number), current.get(number)
    if before is None and after is not None:
        # Without an entry the number was the file's stem.
        stem = after[0].rpartition("/")[2].rpartition(".")[0]
        return stem == number and after[1] is None
    return before == after

"""What `dfmcheck rules` tells, under the configuration at hand."""

from pathlib import Path

from dfmcheck.app.governing import Governing, load_side
from dfmcheck.app.managing import ManagerMaker
from dfmcheck.checking.explain import RuleExplained, explain_rule, list_rules
from dfmcheck.checking.registry import collect_rules
from dfmcheck.config.find import CONFIG_NAME
from dfmcheck.history.safefile import read_regular


def explain_rules(where: Path, name: str | None, maker: ManagerMaker) -> tuple[RuleExplained, ...]:
    """All rules, or one at length, with the limits of the nearest configuration upward.

    Raises:
        UsageError: no rule has this name.
        ConfigError: the configuration is wrong.
        PluginError: a plugin is missing or broken.
    """
    start = (where / "any").resolve()
    found: dict[str, bytes] = {}
    inside = any((folder / ".git").exists() for folder in start.parents)
    for folder in start.parents if inside else start.parents[:1]:
        config = folder / CONFIG_NAME
        if config.is_file() and not config.is_symlink():
            found[CONFIG_NAME] = read_regular(str(config))
            break
        if (folder / ".git").exists():
            break
    settings = load_side(found, maker.shipped_rules)
    governing = Governing(before=settings, head=settings)
    rules = collect_rules(maker(governing.plugins))
    governing.check_names(rules)
    in_force = governing.all[0]
    if name is None:
        return list_rules(rules, in_force)
    return (explain_rule(name, rules, in_force),)

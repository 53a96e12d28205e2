"""What `dfmcheck rules` prints: all rules with their limits, or one at length."""

from dfmcheck.checking.explain import LOOKS_AT_IN_WORDS, LimitExplained, RuleExplained
from dfmcheck.reporting.sanitise import clean
from dfmcheck.reporting.sheet.paper import BOLD, Cell, Paper
from dfmcheck.reporting.sheet.words import count, listed, number


def render_rules(
    rules: tuple[RuleExplained, ...], *, single: bool, width: int = 80, colour: bool = False
) -> str:
    """The rules as text, ending with a newline.

    Args:
        rules: all of them, or the one asked for.
        single: explain the rule at length.
        width: columns to wrap to.
        colour: write terminal codes for bold.
    """
    paper = Paper(max(width, 60), colour)
    if single:
        for rule in rules:
            _at_length(paper, rule)
    elif not rules:
        paper.line("No rules are loaded, so nothing is checked.")
    else:
        _list(paper, rules)
    return paper.text()


def _list(paper: Paper, rules: tuple[RuleExplained, ...]) -> None:
    paper.heading(f"{count(len(rules), 'rule')}. `dfmcheck rules NAME` says what one is about.")
    for looks_at, words in LOOKS_AT_IN_WORDS.items():
        chosen = [r for r in rules if r.looks_at == looks_at]
        if not chosen:
            continue
        paper.blank()
        paper.heading(f"Looks at {words}")
        rows: list[tuple[Cell, ...]] = []
        for rule in sorted(chosen, key=lambda r: r.name):
            limits = [_short(limit) for limit in rule.limits]
            said = "\n".join([clean(rule.title, 200), *limits])
            rows.append((clean(rule.name, 60), rule.level, said))
        paper.table(rows)


def _short(limit: LimitExplained) -> str:
    name = clean(limit.name, 60)
    if limit.value is None:
        return f"{name}: not limited"
    return f"{name}: {limit.sense} {_value(limit.value, limit.unit)}"


def _value(value: float, unit: str) -> str:
    return f"{number(value)} {clean(unit, 30)}".rstrip()


def _at_length(paper: Paper, rule: RuleExplained) -> None:
    paper.item("", f"{clean(rule.name, 60)}   {clean(rule.title, 200)}", style=BOLD)
    own = "" if rule.level == rule.default_level else f" (the rule's own: {rule.default_level})"
    paper.item("level", f"{rule.level}{own}", room=12)
    paper.item("looks at", LOOKS_AT_IN_WORDS[rule.looks_at], room=12)
    if rule.piece is not None:
        asked = listed([f"stage {s}" for s in rule.stages]) or "no stage so far"
        paper.item("piece", f"{clean(rule.piece, 60)}, asked for by {asked}", room=12)
    if rule.plugin:
        paper.item("from", clean(rule.plugin, 120), room=12)
    for paragraph in rule.why:
        paper.blank()
        paper.line(clean(paragraph, 4000))
    for limit in rule.limits:
        _limit(paper, limit)
    if rule.configure:
        paper.blank()
        paper.heading("In dfmcheck.toml")
        for line in rule.configure:
            paper.line(clean(line, 200), indent=2)


def _limit(paper: Paper, limit: LimitExplained) -> None:
    paper.blank()
    paper.item("", f"Limit {clean(limit.name, 60)}", style=BOLD)
    paper.item("meaning", clean(limit.meaning, 600), indent=2, room=10)
    said = "none: nothing is limited until the configuration sets it"
    if limit.value is not None:
        said = f"{limit.sense} {_value(limit.value, limit.unit)}"
    if limit.configured:
        said += f", set by {clean(limit.source, 300)}"
    paper.item("value", said, indent=2, room=10)
    if limit.default is not None and limit.configured:
        default = f"{limit.sense} {_value(limit.default, limit.unit)}"
        paper.item("default", default, indent=2, room=10)
    paper.item("source", clean(limit.default_source, 600), indent=2, room=10)

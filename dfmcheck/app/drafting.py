"""Drafts for `dfmcheck.toml` from what a run found; nothing is written."""

from collections.abc import Iterable
from datetime import date

from dfmcheck.config.draft import draft_callout, draft_permit, permit_for, target_for
from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.model.rule import Rule
from dfmcheck.model.settings import Callout

TAPPED = "looks-tapped"


def drafts(runs: Iterable[RunReport], rules: tuple[Rule, ...], today: date) -> str:
    """Permit blocks for what holds, callout blocks for holes that look tapped.

    Reasons and owners are left empty: the parser refuses them until somebody has filled them in.
    """
    senses = {limit.name: limit.sense for rule in rules for limit in rule.limits}
    blocks: list[str] = []
    for run in runs:
        for report in run.parts:
            for finding in report.findings:
                if finding.holds:
                    sense = senses.get(finding.limit or "", "most")
                    blocks.append(draft_permit(permit_for(finding, today, sense=sense)))
            blocks += _callouts(report)
    unique = list(dict.fromkeys(blocks))
    return "\n".join(unique) if unique else "# nothing to draft: nothing holds"


def _callouts(report: PartReport) -> list[str]:
    part = report.part
    if part is None:
        return []
    found = []
    for finding in report.findings:
        feature = part.feature(finding.feature) if finding.feature else None
        if finding.rule == TAPPED and feature is not None:
            callout = Callout(find=target_for([feature]))
            found.append(draft_callout(report.number, callout))
    return found

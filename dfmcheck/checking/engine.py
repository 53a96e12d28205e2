"""The engine: rules see a part, their remarks are judged and become findings."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import msgspec

from dfmcheck.checking.limits import LimitInForce, as_values, exceeds, limits_in_force
from dfmcheck.checking.permits import permit_for
from dfmcheck.checking.running import run_rule
from dfmcheck.checking.sameness import is_old, remark_signature
from dfmcheck.checking.stages import SUMMARY, pieces_asked, pieces_without_rule
from dfmcheck.model.change import Change, Comparison, Motion
from dfmcheck.model.finding import Finding, FindingLevel, NotChecked, Remark
from dfmcheck.model.part import Part
from dfmcheck.model.rule import Rule, View
from dfmcheck.model.settings import Level, Settings, Stage

Checked = tuple[tuple[Finding, ...], tuple[NotChecked, ...]]

_LEVELS = ("error", "warning", "note")
_UNMOVED = Motion(
    rows=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), shift_mm=(0.0, 0.0, 0.0)
)


def check_part(
    part: Part,
    former: Part | None,
    comparison: Comparison | None,
    settings: Settings,
    rules: tuple[Rule, ...],
    today: date,
    stage: Stage | None = None,
) -> Checked:
    """Judge one part: the findings, the most important first, and the rules that failed.

    Without `former` (an added part, an unreadable base, no range) the change rules are silent
    and all findings are new. `stage` None: the stage rules give one summarising note.
    """
    bench = _Bench(part=part, former=former, comparison=comparison, settings=settings,
                   rules=rules, today=today, stage=stage)  # fmt: skip
    for rule in sorted(rules, key=lambda r: r.name):
        if not _concerns(rule, part) or bench.level(rule) == "off":
            continue
        if rule.looks_at == "part" or (rule.looks_at == "change" and bench.compared):
            bench.judge(rule)
    bench.judge_stage()
    return bench.result()


def check_vanished(
    former: Part,
    settings: Settings,
    rules: tuple[Rule, ...],
    today: date,
    text: str = "",
) -> Checked:
    """Judge the disappearance of a part: change rules see one change of kind "part-removed".

    `text` says in one line what vanished; the part's number by default.
    """
    text = text or f"{former.number} is gone"
    change = Change(
        kind="part-removed", text=text, what="number", before=float(former.facts.count), after=0.0
    )
    comparison = Comparison(
        same_shape=True,
        motion=_UNMOVED,
        changes=(change,),
        faces=tuple((i, i) for i in range(len(former.facts.faces))),
        features=tuple((f.id, f.id) for f in former.features),
    )
    bench = _Bench(part=former, former=former, comparison=comparison, settings=settings,
                   rules=rules, today=today, stage=None)  # fmt: skip
    for rule in sorted(rules, key=lambda r: r.name):
        if rule.looks_at == "change" and bench.level(rule) != "off":
            bench.judge(rule)
    return bench.result()


def _concerns(rule: Rule, part: Part) -> bool:
    machined = part.entry is None or part.entry.make == "machined"
    return machined or rule.makes == "any"


@dataclass(kw_only=True)
class _Bench:
    """The work on one part: rules are run, remarks judged and collected."""

    part: Part
    former: Part | None
    comparison: Comparison | None
    settings: Settings
    rules: tuple[Rule, ...]
    today: date
    stage: Stage | None

    def __post_init__(self) -> None:
        self.findings: list[Finding] = []
        self.failed: list[NotChecked] = []

    @property
    def compared(self) -> bool:
        return self.former is not None and self.comparison is not None

    @cached_property
    def baseline(self) -> Part | None:
        """The revision before, against which a finding is new or old.

        Where the shape is the same, what a second export lets be read otherwise was there
        before: then it is this revision's reading with the former entry and its stock.
        """
        part, former = self.part, self.former
        if former is None or self.comparison is None or not self.comparison.same_shape:
            return former
        if part.entry == former.entry:
            return part
        return msgspec.structs.replace(part, entry=former.entry, stock=former.stock)

    @cached_property
    def limits(self) -> dict[str, LimitInForce]:
        return limits_in_force(self.rules, self.settings)

    @cached_property
    def view(self) -> View:
        return View(
            part=self.part,
            settings=self.settings,
            today=self.today,
            limit_values=as_values(self.limits),
            stage=self.stage,
        )

    def level(self, rule: Rule) -> Level:
        """The level of a rule that the configuration names, else the rule's own."""
        return dict(self.settings.policy.rules).get(rule.name, rule.level)

    def judge(self, rule: Rule) -> None:
        view = self.view
        if rule.looks_at == "change":
            view = replace(view, former=self.former, comparison=self.comparison)
        remarks = self._beyond(self._run(rule, view))
        if not remarks:
            return
        before = () if rule.looks_at == "change" else self._before(rule)
        for remark in remarks:
            new = self._is_new(rule, remark, before)
            self.findings.append(self._finding(rule, remark, new=new))

    def judge_stage(self) -> None:
        if self.stage is None:
            self._sum_up()
            return
        asked = pieces_asked(self.settings, self.stage)
        for rule in sorted(self.rules, key=lambda r: r.name):
            if rule.piece in asked and _concerns(rule, self.part) and self.level(rule) != "off":
                self.judge(rule)
        self.failed += pieces_without_rule(self.settings, self.stage, self.rules, self.part.number)

    def result(self) -> Checked:
        findings = sorted(_with_own_identities(self.findings), key=_importance)
        failed = sorted(set(self.failed), key=lambda n: (n.rule, n.plugin, n.reason))
        return tuple(findings), tuple(failed)

    def _run(self, rule: Rule, view: View) -> tuple[Remark, ...]:
        remarks, failed = run_rule(rule, view)
        self.failed += failed
        return remarks

    def _before(self, rule: Rule) -> tuple[Remark, ...]:
        """What the rule says, beyond its limits, of the revision before."""
        if self.baseline is None:
            return ()
        return self._beyond(self._run(rule, replace(self.view, part=self.baseline)))

    def _beyond(self, remarks: Iterable[Remark]) -> tuple[Remark, ...]:
        """The remarks that are not within their limit."""
        return tuple(r for r in remarks if self._passes_limit(r))

    def _passes_limit(self, remark: Remark) -> bool:
        if remark.limit is None:
            return True
        found = self.limits[remark.limit]
        if found.value is None or remark.measured is None:
            return False
        return exceeds(remark.measured, found.value, found.limit.sense)

    def _is_new(self, rule: Rule, remark: Remark, before: tuple[Remark, ...]) -> bool:
        former = self.baseline
        if former is None or not before:
            return True
        sense = self.limits[remark.limit].limit.sense if remark.limit else None
        if rule.looks_at == "stage":
            sense = "most"  # what a stage lacks is counted
        return not is_old(remark, self.part, former, before, self._matches, sense)

    @property
    def _matches(self) -> Comparison | None:
        """The comparison that pairs the baseline's features and faces with this part's."""
        return self.comparison if self.baseline is self.former else None

    def _finding(self, rule: Rule, remark: Remark, *, new: bool) -> Finding:
        found = self.limits[remark.limit] if remark.limit else None
        faces = remark.faces
        feature = self.part.feature(remark.feature) if remark.feature else None
        if feature is not None and not faces:
            faces = feature.faces
        line = self.part.facts.faces[faces[0]].line if faces else None
        signature = remark_signature(remark, self.part)
        finding = Finding(
            rule=rule.name,
            level=self._finding_level(rule, found),
            message=remark.message,
            part=self.part.number,
            file=self.part.file,
            identity=f"{rule.name} {self.part.number} {signature}".strip(),
            state="new" if new else "old",
            holds=False,
            cost=remark.cost,
            advice=remark.advice,
            limit=remark.limit,
            limit_value=found.value if found else None,
            limit_source=found.source if found else "",
            measured=remark.measured,
            before_value=remark.before_value,
            unit=found.limit.unit if found else "",
            feature=remark.feature,
            faces=faces,
            line=line,
        )
        return self._held(finding, rule, found)

    def _finding_level(self, rule: Rule, found: LimitInForce | None) -> FindingLevel:
        named = self.level(rule)
        if rule.name not in dict(self.settings.policy.rules) and found and found.configured:
            return "error"
        return "note" if named == "off" else named

    def _held(self, finding: Finding, rule: Rule, found: LimitInForce | None) -> Finding:
        policy = self.settings.policy
        permit = permit_for(policy.permits, finding, found.limit if found else None, self.today)
        counted = finding.state == "new" or policy.hold_on == "all" or rule.looks_at == "stage"
        holds = finding.level == "error" and counted and permit is None
        return msgspec.structs.replace(finding, permit=permit, holds=holds)

    def _sum_up(self) -> None:
        level = self.level(SUMMARY)
        if level == "off" or not self.rules:
            return
        asked = pieces_asked(self.settings, "request")
        said: list[str] = []
        new = False
        wanted = [r for r in self.rules if r.piece in asked and _concerns(r, self.part)]
        for rule in sorted(wanted, key=lambda r: (asked.index(r.piece or ""), r.name)):
            if self.level(rule) == "off":
                continue
            remarks = self._beyond(self._run(rule, self.view))
            said += [r.message for r in remarks]
            if remarks and not new:
                before = self._before(rule)
                new = any(self._is_new(rule, remark, before) for remark in remarks)
        if not said:
            return
        text = "; ".join(_lower_first(message.rstrip(".")) for message in said)
        remark = Remark(message=f"Before a request to a shop: {text}.")
        self.findings.append(self._finding(SUMMARY, remark, new=new))


def _with_own_identities(findings: list[Finding]) -> list[Finding]:
    """Findings that would share an identity get a running number, in a fixed order."""
    ordered = sorted(
        findings, key=lambda f: (f.identity, f.measured or 0.0, f.faces, f.feature or "", f.message)
    )
    seen: Counter[str] = Counter()
    result = []
    for finding in ordered:
        seen[finding.identity] += 1
        number = seen[finding.identity]
        own = f"{finding.identity} #{number}" if number > 1 else finding.identity
        result.append(msgspec.structs.replace(finding, identity=own))
    return result


def _importance(finding: Finding) -> tuple[bool, bool, int, bool, str, str]:
    return (
        not finding.holds,
        finding.permit is not None,
        _LEVELS.index(finding.level),
        finding.state == "old",
        finding.rule,
        finding.identity,
    )


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]

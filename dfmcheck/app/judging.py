"""Comparison, rules, permits and verdict for the parts of a run."""

from dataclasses import dataclass, field
from functools import cached_property
from hashlib import sha256
from typing import Literal

import msgspec
from msgspec.structs import replace

from dfmcheck import __version__
from dfmcheck.app.cautions import CAUTIONS
from dfmcheck.app.governing import Governing
from dfmcheck.app.options import Options
from dfmcheck.app.reading import Reader
from dfmcheck.checking.plugins import PluginManager
from dfmcheck.model.change import Comparison, Status
from dfmcheck.model.facts import NotRead
from dfmcheck.model.finding import Finding, NotChecked
from dfmcheck.model.history import Range
from dfmcheck.model.part import Part
from dfmcheck.model.report import PartReport, PermitState, RunReport
from dfmcheck.model.rule import Rule
from dfmcheck.model.settings import PolicyChange, Settings

Checked = tuple[tuple[Finding, ...], tuple[NotChecked, ...]]


@dataclass
class Judge:
    """Judges parts with the rules of a plugin manager and the settings that govern them."""

    manager: PluginManager
    options: Options
    reader: Reader
    governing: Governing
    not_checked: list[NotChecked] = field(default_factory=list)

    @cached_property
    def rules(self) -> tuple[Rule, ...]:
        """All rules, collected when they are first needed."""
        from dfmcheck.checking.registry import collect_rules

        return collect_rules(self.manager)

    def pair(self, old: Part | None, new: Part | None, frame: PartReport) -> PartReport:
        """Judge a part of the head against the part it came from.

        Args:
            old: the part before, None if it is new.
            new: the part after, None if it was removed.
            frame: a report with file names, number, status and doubts filled in.
        """
        if new is None:
            return self.vanished(old, frame) if old is not None else frame
        if old is None:
            return replace(self.alone(new, frame, None), status="added")
        comparison = self._compared(old, new)
        return replace(
            frame,
            status=_status(frame, comparison),
            part=new,
            former=old,
            comparison=comparison,
            findings=self._check(new, old, comparison),
        )

    def _compared(self, old: Part, new: Part) -> Comparison:
        before, after = msgspec.msgpack.encode(old), msgspec.msgpack.encode(new)
        both = (sha256(before).hexdigest(), sha256(after).hexdigest())
        kept = self.reader.derived(both, "comparison", (), Comparison)
        known = kept.get()
        if known is not None:
            return known
        from dfmcheck.comparing.compare import compare

        return kept.put(compare(old, new))

    def alone(self, part: Part, frame: PartReport, former_not_read: NotRead | None) -> PartReport:
        """Judge a part without a former one."""
        findings = self._check(part, None, None)
        return replace(frame, part=part, findings=findings, former_not_read=former_not_read)

    def vanished(self, old: Part, frame: PartReport) -> PartReport:
        """Judge the disappearance of a part."""
        from dfmcheck.checking.engine import check_vanished

        settings = self.governing.of(old.file)
        findings = self._kept(check_vanished(old, settings, self.rules, self.options.today))
        return replace(frame, status="removed", former=old, findings=findings)

    def _check(
        self, part: Part, former: Part | None, comparison: Comparison | None
    ) -> tuple[Finding, ...]:
        from dfmcheck.checking.engine import check_part

        settings = self.governing.of(part.file)
        today, stage = self.options.today, self.options.stage
        return self._kept(check_part(part, former, comparison, settings, self.rules, today, stage))

    def _kept(self, checked: Checked) -> tuple[Finding, ...]:
        findings, failed = checked
        self.not_checked.extend(failed)
        return findings

    def conclude(
        self,
        command: Literal["gate", "part"],
        reports: list[PartReport],
        *,
        span: Range | None = None,
        unchanged: int = 0,
        numbers: dict[str, str] | None = None,
        notes: tuple[str, ...] = (),
        warnings: tuple[str, ...] = (),
    ) -> RunReport:
        """The report of the run with permits looked after and the verdict drawn.

        Args:
            command: which command runs.
            reports: the parts that were looked at.
            span: the two sides, for the gate.
            unchanged: how many files are the same on both sides.
            numbers: number -> file of every part of the head, for permits.
            notes: sentences for the report.
            warnings: sentences that deserve attention.
        """
        from dfmcheck.checking.permits import state_warnings
        from dfmcheck.checking.verdict import conclude

        findings = tuple(f for r in reports for f in r.findings)
        unjudged = sum(1 for r in reports if r.not_read is not None or (r.doubts and r.part))
        mode: Literal["hold", "advise"] = "advise" if self.governing.mode == "advise" else "hold"
        verdict, status = conclude(findings, self.not_checked, unjudged, mode)
        states = self._permits(reports, findings, numbers or {})
        return RunReport(
            command=command,
            verdict=verdict,
            exit_status=status,
            parts=tuple(reports),
            range=span,
            mode=mode,
            policy_source=self.governing.source,
            policy_changes=self._policy_changes(),
            permits=states,
            not_checked=tuple(self.not_checked),
            unchanged=unchanged,
            could_not_judge=unjudged,
            warnings=self.governing.warnings
            + self.governing.not_judged
            + warnings
            + state_warnings(states),
            notes=notes,
            cautions=CAUTIONS,
            version=__version__,
        )

    def _policy_changes(self) -> tuple[PolicyChange, ...]:
        return self.governing.policy_changes(self.rules) if self.governing.changed else ()

    def _permits(
        self, reports: list[PartReport], findings: tuple[Finding, ...], numbers: dict[str, str]
    ) -> tuple[PermitState, ...]:
        from dfmcheck.checking.permits import permit_states

        known = {**numbers, **{r.number: r.file for r in reports if r.part is not None}}
        looked = {r.number for r in reports if r.part is not None}
        states: list[PermitState] = []
        for settings in self.governing.all:
            if settings.policy.permits:
                own = tuple(f for f in findings if self._governs(settings, f.file))
                states += permit_states(
                    settings, own, known, looked, self.rules, self.options.today
                )
        return tuple(states)

    def _governs(self, settings: Settings, file: str) -> bool:
        return self.governing.of(file).source == settings.source


def _status(frame: PartReport, comparison: Comparison) -> Status:
    if frame.status == "renamed":
        return "renamed"
    if frame.status == "configuration":
        return "configuration" if comparison.changes else "unchanged"
    if comparison.same_shape and not comparison.changes:
        return "re-exported"
    return "changed"

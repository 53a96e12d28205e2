"""Comparison, rules, permits and verdict for the parts of a run."""

from dataclasses import dataclass, field
from functools import cached_property

import msgspec
import pluggy

from dfmcheck.app.governing import Governing
from dfmcheck.app.options import Options
from dfmcheck.model.change import Comparison, Status
from dfmcheck.model.facts import NotRead
from dfmcheck.model.finding import Finding, NotChecked
from dfmcheck.model.history import Range
from dfmcheck.model.part import Part
from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.model.rule import Rule


@dataclass
class Judge:
    """Judges parts with the rules of a plugin manager and the settings that govern them."""

    manager: pluggy.PluginManager
    options: Options
    governing: Governing
    not_checked: list[NotChecked] = field(default_factory=list)

    @cached_property
    def rules(self) -> tuple[Rule, ...]:
        """All rules, collected when the first part is judged."""
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
            return msgspec.structs.replace(frame, status="removed", former=old)
        if old is None:
            return msgspec.structs.replace(self.alone(new, frame, None), status="added")
        from dfmcheck.comparing.compare import compare

        comparison = compare(old, new)
        findings = self._check(new, old, comparison)
        return msgspec.structs.replace(
            frame,
            status=_status(frame, comparison),
            part=new,
            former=old,
            comparison=comparison,
            findings=findings,
        )

    def alone(self, part: Part, frame: PartReport, former_not_read: NotRead | None) -> PartReport:
        """Judge a part without a former one."""
        return msgspec.structs.replace(
            frame,
            part=part,
            findings=self._check(part, None, None),
            former_not_read=former_not_read,
        )

    def _check(
        self, part: Part, former: Part | None, comparison: Comparison | None
    ) -> tuple[Finding, ...]:
        from dfmcheck.checking.engine import check_part

        if part.entry is not None and part.entry.make != "machined":
            return ()
        findings, failed = check_part(
            part,
            former,
            comparison,
            self.governing.of(part.file),
            self.rules,
            self.options.today,
            self.options.stage,
        )
        self.not_checked.extend(failed)
        return findings

    def conclude(
        self,
        command: str,
        reports: list[PartReport],
        *,
        span: Range | None,
        unchanged: int,
        known_files: tuple[str, ...],
        notes: tuple[str, ...],
        cautions: tuple[str, ...],
        version: str,
    ) -> RunReport:
        """The report of the run with permits looked after and the verdict drawn."""
        raise NotImplementedError


def _status(frame: PartReport, comparison: Comparison) -> Status:
    if frame.status in ("configuration", "renamed"):
        return frame.status if comparison.changes or frame.status == "renamed" else "unchanged"
    if comparison.same_shape and not comparison.changes:
        return "re-exported"
    return "changed"

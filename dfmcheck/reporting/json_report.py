"""The JSON report: the same analysis gives the same bytes.

Numbers are rounded to six decimals, a ten-thousandth of what a shop can hold; where two values
that are compared differ by less, both keep all their digits. Text is data and says exactly what
the file said, but nothing in it can act on a terminal.
"""

import base64
from typing import Any

import msgspec

from dfmcheck import __version__
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Counterbore, Countersink, Feature, Hole
from dfmcheck.model.finding import Finding
from dfmcheck.model.history import Range
from dfmcheck.model.part import Part
from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.reporting import document as doc
from dfmcheck.reporting.sanitise import encodable, json_string

DECIMALS = 6
LONGEST = 4000
"""Longest text written, in characters; paths are never cut."""

_WORST_FIRST = (1, 2, 4, 3, 0)


def render_json(report: RunReport) -> str:
    """One run as JSON, ending with a newline; `dfmcheck.reporting.schema` describes it."""
    return _write(_plain(_report(report)), 0) + "\n"


def render_json_runs(reports: tuple[RunReport, ...]) -> str:
    """Several runs as one JSON text; a single run is written as `render_json` does."""
    if len(reports) == 1:
        return render_json(reports[0])
    statuses = [r.exit_status for r in reports]
    known = [s for s in _WORST_FIRST if s in statuses]
    whole = doc.Reports(
        format=1,
        dfmcheck=__version__,
        command="gate",
        verdict="hold" if any(r.verdict == "hold" for r in reports) else "release",
        exit_status=known[0] if known else max(statuses, default=0),
        runs=tuple(_report(r) for r in reports),
    )
    return _write(_plain(whole), 0) + "\n"


def _report(run: RunReport) -> doc.Report:
    return doc.Report(
        format=1,
        dfmcheck=run.version,
        command=run.command,
        verdict=run.verdict,
        exit_status=run.exit_status,
        mode=run.mode,
        range=_range(run.range) if run.range is not None else None,
        policy_source=run.policy_source,
        policy_changes=run.policy_changes,
        counts=_counts(run),
        parts=tuple(_part(p, run.command) for p in run.parts),
        permits=tuple(
            doc.PermitEntry(permit=p.permit, state=p.state, text=p.text) for p in run.permits
        ),
        not_checked=run.not_checked,
        warnings=run.warnings,
        notes=run.notes,
        cautions=run.cautions,
    )


def _range(span: Range) -> doc.RangeEntry:
    return doc.RangeEntry(
        before=span.before,
        after=span.after,
        chosen=span.chosen,
        fork=span.fork,
        notes=span.notes,
    )


def _counts(run: RunReport) -> doc.Counts:
    statuses = [p.status for p in run.parts] if run.command == "gate" else []
    return doc.Counts(
        parts=len(run.parts),
        added=statuses.count("added"),
        removed=statuses.count("removed"),
        changed=statuses.count("changed"),
        renamed=statuses.count("renamed"),
        re_exported=statuses.count("re-exported"),
        configuration=statuses.count("configuration"),
        unreadable=sum(p.not_read is not None for p in run.parts),
        unchanged=run.unchanged + statuses.count("unchanged"),
        could_not_judge=run.could_not_judge,
        holding=sum(any(f.holds for f in p.findings) for p in run.parts),
    )


def _part(report: PartReport, command: str) -> doc.PartEntry:
    part, facts = report.part, report.part.facts if report.part is not None else None
    either = part or report.former
    entry = either.entry if either is not None else None
    comparison = report.comparison
    return doc.PartEntry(
        file=report.file,
        file_base64=_exact_bytes(report.file),
        former_file=report.former_file,
        number=report.number,
        letter=entry.letter if entry else None,
        name=report.name,
        status=report.status if command == "gate" or report.not_read is not None else None,
        make=entry.make if entry else None,
        material=entry.material if entry else None,
        finish=entry.finish if entry else (),
        callouts=entry.callouts if entry else (),
        unit=part.unit if part else None,
        count=facts.count if facts else None,
        solids=facts.solids if facts else None,
        faces=len(facts.faces) if facts else None,
        closed=facts.closed if facts else None,
        volume_mm3=facts.volume_mm3 if facts else None,
        area_mm2=facts.area_mm2 if facts else None,
        box_mm=facts.box_mm if facts else None,
        own_box_mm=facts.frame.size_mm if facts else None,
        process=part.process.process if part else None,
        process_reason=part.process.reason if part else None,
        setup_directions=part.process.setup_directions if part else (),
        stock=part.stock if part else None,
        features=_features(part.features) if part else (),
        findings=tuple(_finding(f) for f in report.findings),
        same_shape=comparison.same_shape if comparison else None,
        motion=comparison.motion if comparison else None,
        scale=comparison.scale if comparison else None,
        changes=_changes(report),
        matched_features=comparison.features if comparison else (),
        before=_figures(report.former) if report.former is not None else None,
        not_read=report.not_read,
        former_not_read=report.former_not_read,
        doubts=report.doubts,
        notes=report.notes,
    )


def _figures(part: Part) -> doc.Figures:
    facts: PartFacts = part.facts
    entry = part.entry
    return doc.Figures(
        file=part.file,
        name=facts.name,
        unit=part.unit,
        count=facts.count,
        solids=facts.solids,
        faces=len(facts.faces),
        closed=facts.closed,
        volume_mm3=facts.volume_mm3,
        area_mm2=facts.area_mm2,
        box_mm=facts.box_mm,
        own_box_mm=facts.frame.size_mm,
        process=part.process.process,
        process_reason=part.process.reason,
        setup_directions=part.process.setup_directions,
        stock=part.stock,
        make=entry.make if entry else None,
        letter=entry.letter if entry else None,
        material=entry.material if entry else None,
        finish=entry.finish if entry else (),
        callouts=entry.callouts if entry else (),
        features=_features(part.features),
    )


def _features(features: tuple[Feature, ...]) -> tuple[doc.FeatureEntry, ...]:
    mouths = [f for f in features if isinstance(f, Counterbore | Countersink) and f.of]
    return tuple(_hole(f, mouths) if isinstance(f, Hole) else f for f in features)


def _hole(hole: Hole, mouths: list[Counterbore | Countersink]) -> doc.HoleEntry:
    own = sorted((m for m in mouths if m.of == hole.id), key=lambda m: -m.diameter_mm)
    return doc.HoleEntry(
        **{name: getattr(hole, name) for name in hole.__struct_fields__},
        counterbore=next((m for m in own if isinstance(m, Counterbore)), None),
        countersink=next((m for m in own if isinstance(m, Countersink)), None),
    )


def _finding(finding: Finding) -> doc.FindingEntry:
    limit = None
    if finding.limit is not None:
        limit = doc.LimitEntry(
            name=finding.limit,
            value=finding.limit_value,
            unit=finding.unit,
            source=finding.limit_source,
        )
    return doc.FindingEntry(
        rule=finding.rule,
        level=finding.level,
        state=finding.state,
        holds=finding.holds,
        message=finding.message,
        cost=finding.cost,
        advice=finding.advice,
        limit=limit,
        measured=finding.measured,
        measured_before=finding.before_value,
        feature=finding.feature,
        faces=finding.faces,
        line=finding.line,
        permit=finding.permit,
        identity=finding.identity,
    )


def _changes(report: PartReport) -> tuple[doc.ChangeEntry, ...]:
    if report.comparison is None:
        return ()
    return tuple(
        doc.ChangeEntry(
            kind=c.kind,
            text=c.text,
            count=c.count,
            what=c.what,
            unit=c.unit,
            before=c.before,
            after=c.after,
            feature_before=c.feature_before,
            feature_after=c.feature_after,
            features_before=c.features_before,
            features_after=c.features_after,
            faces_before=c.faces_before,
            faces_after=c.faces_after,
            caused_by=c.caused_by,
        )
        for c in report.comparison.changes
    )


def _exact_bytes(path: str) -> str | None:
    if encodable(path) == path:
        return None
    return base64.b64encode(
        path.encode("utf-8", "surrogatepass" if _odd(path) else "surrogateescape")
    ).decode()


def _odd(path: str) -> bool:
    """True where surrogates stand that no file system gave."""
    return any(0xD800 <= ord(c) <= 0xDFFF and not 0xDC80 <= ord(c) <= 0xDCFF for c in path)


_PATHS = frozenset({"file", "former_file", "file_base64"})
_PAIRS = (("before", "after"), ("measured", "value"))


def _plain(value: msgspec.Struct) -> Any:
    """Dicts, lists and scalars, with numbers rounded and long texts cut."""
    return _tidy(msgspec.to_builtins(value))


def _tidy(value: Any, key: str = "") -> Any:
    if isinstance(value, float):
        return round(value, DECIMALS) + 0.0  # no -0.0
    if isinstance(value, str):
        if len(value) <= LONGEST or key in _PATHS:
            return value
        return f"{value[:LONGEST]}... ({len(value) - LONGEST} more characters)"
    if isinstance(value, dict):
        kept = {k: _tidy(v, k) for k, v in value.items()}
        _keep_apart(value, kept)
        return kept
    if isinstance(value, list | tuple):
        return [_tidy(v, key) for v in value]
    return value


def _keep_apart(exact: dict[str, Any], kept: dict[str, Any]) -> None:
    """Give two compared numbers their digits back where rounding made them equal."""
    if "faces_before" in exact:
        _both(exact, kept, "before", exact, kept, "after")
    elif exact.get("measured") is not None and isinstance(exact.get("limit"), dict):
        _both(exact, kept, "measured", exact["limit"], kept["limit"], "value")


def _both(
    exact: dict[str, Any],
    kept: dict[str, Any],
    key: str,
    other_exact: dict[str, Any],
    other_kept: dict[str, Any],
    other_key: str,
) -> None:
    one, two = exact[key], other_exact[other_key]
    numbers = isinstance(one, float) and isinstance(two, float)
    if numbers and one != two and kept[key] == other_kept[other_key]:
        kept[key], other_kept[other_key] = one, two


_DEEP = 4
"""From this depth on an object stands on one line: a feature, a change, a finding."""


def _write(value: Any, depth: int) -> str:
    if isinstance(value, dict) and value and depth < _DEEP:
        lines = [f"{json_string(k)}: {_write(v, depth + 1)}" for k, v in value.items()]
        return _lines("{", lines, "}", depth)
    if isinstance(value, list) and depth < _DEEP and any(isinstance(v, dict) for v in value):
        return _lines("[", [_write(v, depth + 1) for v in value], "]", depth)
    return _flat(value)


def _lines(opening: str, lines: list[str], closing: str, depth: int) -> str:
    pad = " " * (depth + 1)
    return opening + "\n" + ",\n".join(pad + line for line in lines) + "\n" + " " * depth + closing


def _flat(value: Any) -> str:
    if isinstance(value, str):
        return json_string(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f'"{k}": {_flat(v)}' for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flat, value)) + "]"
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value)

"""The gate: what changed between two revisions, compared, judged, concluded."""

from dataclasses import dataclass, field
from functools import partial

from msgspec.structs import replace

from dfmcheck.app.analysing import Analyser, part_number
from dfmcheck.app.files import of_interest
from dfmcheck.app.governing import Governing, is_config, load_side, source_words
from dfmcheck.app.judging import Judge
from dfmcheck.app.managing import ManagerMaker
from dfmcheck.app.options import GateOptions
from dfmcheck.app.reading import Reader
from dfmcheck.cache.store import Cache
from dfmcheck.errors import ConfigError
from dfmcheck.history.ci import is_from_fork
from dfmcheck.history.repository import Repository
from dfmcheck.model.facts import FileFacts, NotRead
from dfmcheck.model.history import Blob, FileChange, Range
from dfmcheck.model.part import Part
from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.model.settings import PartEntry, Settings


def run_gate(options: GateOptions, maker: ManagerMaker) -> tuple[RunReport, ...]:
    """Run the gate over one range, or over each range of a push.

    Raises:
        UsageError: no repository, unknown revision, shallow clone and the like.
        ConfigError: the configuration of the head is wrong.
        PluginError: a plugin is missing or broken.
        KernelMissingError: a file must be read and the kernel cannot be loaded.
    """
    environ = dict(options.environ)
    with Repository.open(options.where, environ) as repository:
        ranges = repository.choose_ranges(
            options.revisions,
            staged=options.staged,
            pushed=options.pushed,
            remote=options.remote,
            environ=environ,
            keep=of_interest,
        )
        cache = Cache(options.cache) if options.use_cache else Cache.none()
        with cache:
            reader = Reader(options, cache)
            return tuple(
                _gate(repository, _trusted(r, options, environ), options, reader, maker)
                for r in ranges
            )


def _trusted(span: Range, options: GateOptions, environ: dict[str, str]) -> Range:
    """The range, known as a stranger's change where the CI or the user says so.

    The CI's word counts for revisions that were named, too.
    """
    if span.fork or not (options.base_policy or is_from_fork(environ)):
        return span
    return replace(span, fork=True)


@dataclass
class _Sides:
    """The files of one range."""

    steps: list[FileChange] = field(default_factory=list)
    configs: list[FileChange] = field(default_factory=list)
    heads: dict[str, Blob] = field(default_factory=dict)
    head_configs: dict[str, Blob] = field(default_factory=dict)


def _gate(
    repository: Repository, span: Range, options: GateOptions, reader: Reader, maker: ManagerMaker
) -> RunReport:
    sides = _sides(repository, span)
    governing, notes = _governing(repository, span, sides, maker)
    manager = maker(governing.plugins)
    judge = Judge(manager=manager, options=options, reader=reader, governing=governing)
    if governing.names_rules:
        governing.check_names(judge.rules)
    jobs = [c for c in sides.steps if governing.looks_at(_path(c))]
    jobs += _configured(sides, governing, {_path(c) for c in jobs})
    looked = {_path(c) for c in jobs}
    same = [b for p, b in sorted(sides.heads.items()) if p not in looked and governing.looks_at(p)]
    if options.every or options.stage is not None:
        jobs += [FileChange(status="changed", before=b, after=b) for b in same]
        same = []
    _fetch(repository, reader, jobs)
    analyser = Analyser(reader, manager)
    reports = [
        r for job in jobs for r in _FileGate(job, reader, analyser, governing, judge).reports()
    ]
    return judge.conclude(
        "gate",
        reports,
        span=span,
        unchanged=len(same),
        numbers=_numbers(sides, governing),
        notes=notes + span.notes,
        warnings=analyser.warnings + reader.cache.warnings,
    )


def _numbers(sides: _Sides, governing: Governing) -> dict[str, str]:
    """Number -> file of every part of the head, where a permit may ask for it."""
    if not any(s.policy.permits for s in governing.all):
        return {}
    numbers: dict[str, str] = {}
    for path in sides.heads:
        entries = _entries(governing.of(path), path)
        for entry in entries:
            numbers[entry.number] = path
        if not entries:
            numbers[part_number(None, path, None)] = path
    return numbers


def _path(change: FileChange) -> str:
    blob = change.after or change.before
    return blob.path if blob is not None else ""


def _sides(repository: Repository, span: Range) -> _Sides:
    sides = _Sides()
    for change in repository.changes(span, of_interest):
        (sides.configs if is_config(_path(change)) else sides.steps).append(change)
    for blob in repository.files(span.after, of_interest):
        (sides.head_configs if is_config(blob.path) else sides.heads)[blob.path] = blob
    return sides


def _governing(
    repository: Repository, span: Range, sides: _Sides, maker: ManagerMaker
) -> tuple[Governing, tuple[str, ...]]:
    head = {p: repository.read(b) for p, b in sides.head_configs.items()}
    base = _base_configs(repository, span, sides, head)
    after = load_side(head, maker.shipped_rules)
    before: dict[str, Settings] = after
    notes: tuple[str, ...] = ()
    if base != head:
        before, notes = _base_settings(base, after, fork=span.fork)
    if span.fork:
        source = source_words(before, (span.target or span.before).label)
    else:
        source = source_words(after, span.after.label)
    return Governing(before=before, head=after, fork=span.fork, source=source), notes


def _base_configs(
    repository: Repository, span: Range, sides: _Sides, head: dict[str, bytes]
) -> dict[str, bytes]:
    """The configurations that judge a fork's change, or with which the head's are compared.

    A fork may have left the branch long ago, when its limits were weaker: the tip of the branch
    that the change goes to decides, where it is known.
    """
    if span.fork and span.target is not None:
        return {b.path: repository.read(b) for b in repository.files(span.target, is_config)}
    base = dict(head)
    for change in sides.configs:
        if change.after is not None:
            base.pop(change.after.path, None)
        if change.before is not None:
            base[change.before.path] = repository.read(change.before)
    return base


def _base_settings(
    base: dict[str, bytes], after: dict[str, Settings], *, fork: bool
) -> tuple[dict[str, Settings], tuple[str, ...]]:
    try:
        return load_side(base), ()
    except ConfigError as error:
        if fork:
            raise
        first = error.problems[0]
        note = f"the base's configuration is wrong, so the head's is compared with nothing: {first}"
        return after, (note,)


def _configured(sides: _Sides, governing: Governing, seen: set[str]) -> list[FileChange]:
    """Unchanged files whose entry, or a permit for it, changed in the configuration."""
    if not governing.changed:
        return []
    permitted = {p.part for p in governing.new_permits}
    jobs: list[FileChange] = []
    for path, blob in sorted(sides.heads.items()):
        if path in seen or not governing.looks_at(path):
            continue
        now = _entries(governing.of(path), path)
        numbers = {e.number for e in now} or {part_number(None, path, None)}
        if now != _entries(governing.of_before(path), path) or numbers & permitted:
            jobs.append(FileChange(status="changed", before=blob, after=blob))
    return jobs


def _entries(settings: Settings, path: str) -> tuple[PartEntry, ...]:
    return tuple(sorted((e for e in settings.parts if e.file == path), key=lambda e: e.number))


def _fetch(repository: Repository, reader: Reader, jobs: list[FileChange]) -> None:
    blobs = [b for job in jobs for b in (job.after, job.before) if b is not None]
    reader.fetch((b.content, b.path, partial(repository.read, b)) for b in blobs)


@dataclass
class _FileGate:
    """One changed file: its parts before and after, paired and judged."""

    change: FileChange
    reader: Reader
    analyser: Analyser
    governing: Governing
    judge: Judge

    def reports(self) -> list[PartReport]:
        """One report for each part of the file."""
        path = _path(self.change)
        settings = self.governing.of(path)
        after, after_bad, doubts = self._side(self.change.after, settings)
        former_path = self.change.before.path if self.change.before is not None else path
        before, before_bad, _ = self._side(
            self.change.before, self.governing.of_before(former_path)
        )
        if after_bad is not None:
            return [self._unreadable(path, settings, after_bad, before, before_bad)]
        if before_bad is not None:
            return [self.judge.alone(p, self._frame(p, doubts), before_bad) for p in after]
        from dfmcheck.comparing.pairing import pair_parts

        pairs = pair_parts(before, after)
        return [self.judge.pair(old, new, self._frame(new or old, doubts)) for old, new in pairs]

    def _side(
        self, blob: Blob | None, settings: Settings
    ) -> tuple[tuple[Part, ...], NotRead | None, tuple[str, ...]]:
        if blob is None:
            return (), None, ()
        answer = self.reader.known(blob.content)
        if isinstance(answer, FileFacts):
            parts = self.analyser.parts_of(blob.content, blob.path, answer, settings)
            return parts, None, answer.doubts
        if answer is None:
            answer = NotRead(kind="missing", reason="no answer came for it", remedy="run again")
        return (), answer, ()

    def _frame(self, part: Part | None, doubts: tuple[str, ...]) -> PartReport:
        change = self.change
        former = change.before.path if change.before is not None else None
        path = _path(change)
        same_bytes = (
            change.before is not None
            and change.after is not None
            and change.before.content == change.after.content
        )
        own = part.facts.doubts if part is not None else ()
        return PartReport(
            file=path,
            number=part.number if part is not None else part_number(None, path, None),
            name=(part.entry.name if part and part.entry and part.entry.name else None)
            or (part.facts.name if part is not None else ""),
            status="configuration" if same_bytes and former == path else change.status,
            former_file=former if former != path else None,
            doubts=doubts + tuple(d for d in own if d not in doubts),
        )

    def _unreadable(
        self,
        path: str,
        settings: Settings,
        reason: NotRead,
        before: tuple[Part, ...],
        before_bad: NotRead | None,
    ) -> PartReport:
        entries = _entries(settings, path)
        frame = self._frame(None, ())
        return PartReport(
            file=path,
            number=entries[0].number if entries else frame.number,
            name=before[0].facts.name if before else "",
            status="unreadable",
            former_file=frame.former_file,
            former=before[0] if len(before) == 1 else None,
            not_read=reason,
            former_not_read=before_bad,
        )

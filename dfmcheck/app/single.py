"""Single STEP files: features, stock, process, findings, without a comparison."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from msgspec.structs import replace

from dfmcheck.app.analysing import Analyser, part_number
from dfmcheck.app.governing import Governing, load_side, source_words
from dfmcheck.app.judging import Judge
from dfmcheck.app.managing import ManagerMaker
from dfmcheck.app.options import Options
from dfmcheck.app.reading import Reader
from dfmcheck.cache.store import Cache
from dfmcheck.config.find import CONFIG_NAME, entry_for
from dfmcheck.errors import NotReadError, UsageError
from dfmcheck.history.repository import Repository
from dfmcheck.history.safefile import read_regular
from dfmcheck.model.facts import FileFacts, NotRead
from dfmcheck.model.report import PartReport, RunReport

MOST_CONFIG_BYTES = 4_000_000
"""A larger `dfmcheck.toml` beside a file is refused by the parser."""


@dataclass(frozen=True)
class _Source:
    """One file to look at: its path for the report, its content's identity, and its bytes."""

    path: str
    content: str
    give: Callable[[], bytes]
    configs: dict[str, bytes]
    where: str


def run_part(files: tuple[str, ...], options: Options, maker: ManagerMaker) -> RunReport:
    """Look at files of the disk, or at REVISION:PATH of the repository.

    Every finding counts as new, since there is nothing to compare with.

    Raises:
        UsageError: files that do not exist, a folder, an unknown revision; all of them together.
        ConfigError: the configuration that governs a file is wrong.
        PluginError: a plugin is missing or broken.
        KernelMissingError: a file must be read and the kernel cannot be loaded.
    """
    sources = _sources(files, options.where)
    configs = {name: data for s in sources for name, data in s.configs.items()}
    where = ", ".join(dict.fromkeys(s.where for s in sources))
    settings = load_side(configs, maker.shipped_rules)
    governing = Governing(before=settings, head=settings, source=source_words(settings, where))
    with Cache(options.cache) if options.use_cache else Cache.none() as cache:
        reader = Reader(options, cache)
        manager = maker(governing.plugins)
        judge = Judge(manager=manager, options=options, reader=reader, governing=governing)
        if governing.names_rules:
            governing.check_names(judge.rules)
        reader.fetch((s.content, s.path, s.give) for s in sources)
        analyser = Analyser(reader, manager)
        reports = [r for s in sources for r in _reports(s, reader, analyser, judge)]
        numbers = {e.number: e.file for s in governing.all for e in s.parts}
        return judge.conclude(
            "part", reports, numbers=numbers, warnings=analyser.warnings + cache.warnings
        )


def _reports(source: _Source, reader: Reader, analyser: Analyser, judge: Judge) -> list[PartReport]:
    path = source.path
    settings = judge.governing.of(path)
    answer = reader.known(source.content)
    if not isinstance(answer, FileFacts):
        lost = NotRead(kind="missing", reason="no answer came for it", remedy="run again")
        entry = entry_for(settings, path, None)
        number = part_number(entry, path, None)
        unread = PartReport(file=path, number=number, name="", status="unreadable")
        return [replace(unread, not_read=answer or lost)]
    reports = []
    for part in analyser.parts_of(source.content, path, answer, settings):
        named = part.entry.name if part.entry is not None else None
        frame = PartReport(
            file=path,
            number=part.number,
            name=named or part.facts.name,
            status="unchanged",
            doubts=tuple(dict.fromkeys((*answer.doubts, *part.facts.doubts))),
        )
        reports.append(judge.alone(part, frame, None))
    return reports


def _sources(files: tuple[str, ...], where: Path) -> list[_Source]:
    """The files to look at, in their order.

    Raises:
        UsageError: some cannot be looked at; the sentence names all of them.
    """
    sources: list[_Source] = []
    missing: list[str] = []
    others: list[str] = []
    for file in dict.fromkeys(files):
        if file and ":" not in file and not (where / file).exists():
            missing.append(file)
            continue
        try:
            sources.append(_source(file, where))
        except UsageError as error:
            others.append(str(error))
    told = [_missing(missing)] if missing else []
    if told or others:
        raise UsageError("; ".join((*told, *others)))
    return sources


def _missing(files: list[str]) -> str:
    if len(files) == 1:
        return f"{files[0]}: there is no such file"
    return f"{', '.join(files[:-1])} and {files[-1]}: there are no such files"


def _source(file: str, where: Path) -> _Source:
    if not file:
        msg = "an empty name is no file; name a STEP file"
        raise UsageError(msg)
    path = where / file
    if ":" in file and not path.exists():
        return _of_revision(file, where)
    if path.is_dir():
        msg = f"{file}: this is a folder; name the STEP files in it"
        raise UsageError(msg)
    top = _top(path.resolve())
    shown = path.resolve().relative_to(top or path.resolve().parent).as_posix()
    configs = _configs_on_disk(path.resolve(), top)
    try:
        data = read_regular(str(path.resolve()))
    except NotReadError as error:
        return _Source(shown, f"unread:{path.resolve()}", _raiser(error), configs, "the work tree")
    content = f"sha256:{hashlib.sha256(data).hexdigest()}"
    return _Source(shown, content, lambda: data, configs, "the work tree")


def _raiser(error: NotReadError) -> Callable[[], bytes]:
    """What gives no bytes but the reason why: that file alone loses its answer."""

    def give() -> bytes:
        raise error

    return give


def _of_revision(text: str, where: Path) -> _Source:
    name, _, path = text.partition(":")
    with Repository.open(where) as repository:
        revision = repository.resolve(name) if name else repository.resolve("HEAD")
        data = repository.read_path(revision, path)
        if data is None:
            msg = f"{text}: {revision.label or name} holds no file of that name"
            raise UsageError(msg)
        configs = {}
        folder = path.rpartition("/")[0]
        while True:
            config = f"{folder}/{CONFIG_NAME}" if folder else CONFIG_NAME
            found = repository.read_path(revision, config)
            if found is not None:
                configs[config] = found
            if not folder:
                break
            folder = folder.rpartition("/")[0]
    content = f"sha256:{hashlib.sha256(data).hexdigest()}"
    return _Source(path, content, lambda: data, configs, revision.label or name)


def _top(path: Path) -> Path | None:
    """The folder of the work tree that holds a file, if one does."""
    return next((p for p in path.parents if (p / ".git").exists()), None)


def _configs_on_disk(path: Path, top: Path | None) -> dict[str, bytes]:
    """The configurations between a file's folder and the top of its work tree.

    Outside of any work tree the one beside the file.
    """
    found: dict[str, bytes] = {}
    base = top if top is not None else path.parent
    for folder in path.parents:
        config = folder / CONFIG_NAME
        if config.is_file() and not config.is_symlink():
            found[config.relative_to(base).as_posix()] = read_regular(str(config))
        if folder == base:
            break
    return found

"""Reporters by name, and where their reports go: `--report FORMAT=PATH`, `-` for stdout."""

import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from dfmcheck.errors import PluginError, UsageError
from dfmcheck.model.report import RunReport
from dfmcheck.model.rule import Reporter
from dfmcheck.reporting.sanitise import clean

STDOUT = "-"


@dataclass(frozen=True, kw_only=True)
class Target:
    """One `--report`: the format's name and the path, `-` for stdout."""

    format: str
    path: str


def parse_targets(asked: Iterable[str]) -> tuple[Target, ...]:
    """Understand the values of `--report`.

    Raises:
        UsageError: a value is not FORMAT=PATH, or two reports go to the same place.
    """
    targets: list[Target] = []
    for text in asked:
        name, sign, path = text.partition("=")
        if not sign or not name or not path:
            msg = f"--report {clean(text)}: write FORMAT=PATH, as in json=report.json or text=-"
            raise UsageError(msg)
        if any(_same_place(path, t.path) for t in targets):
            where = "stdout" if path == STDOUT else clean(path)
            msg = f"--report {clean(text)}: another report already goes to {where}"
            raise UsageError(msg)
        targets.append(Target(format=name, path=path))
    return tuple(targets)


def _same_place(one: str, two: str) -> bool:
    if STDOUT in (one, two):
        return one == two
    return Path(one).absolute() == Path(two).absolute()


def text_reporter(width: int = 80) -> Reporter:
    """The shipped text report, without colour."""

    def render(report: RunReport) -> str:
        from dfmcheck.reporting.text import render_text

        return render_text(report, width=width)

    return Reporter(name="text", description="for people, at the terminal's width", render=render)


def json_reporter() -> Reporter:
    """The shipped JSON report."""

    def render(report: RunReport) -> str:
        from dfmcheck.reporting.json_report import render_json

        return render_json(report)

    return Reporter(name="json", description="for programs, with a JSON Schema", render=render)


def known_reporters(extra: Iterable[Reporter] = (), *, width: int = 80) -> dict[str, Reporter]:
    """The shipped reporters and those of plugins, by name.

    Raises:
        PluginError: two reporters have the same name.
    """
    known: dict[str, Reporter] = {}
    for reporter in (text_reporter(width), json_reporter(), *sorted(extra, key=lambda r: r.name)):
        if reporter.name in known:
            msg = f"two reporters are called {clean(reporter.name)}: a plugin has to rename its own"
            raise PluginError(msg)
        known[reporter.name] = reporter
    return known


def check_targets(targets: Iterable[Target], extra: Iterable[Reporter] = ()) -> None:
    """Say at once what would fail only after all parts were read.

    Raises:
        UsageError: an unknown format, or a path that cannot be written.
        PluginError: two reporters have the same name.
    """
    from dfmcheck.reporting.writing import check_writable

    known = known_reporters(extra)
    for target in targets:
        _reporter(target, known)
        if target.path != STDOUT:
            check_writable(target.path)


def write_targets(
    targets: Iterable[Target],
    runs: tuple[RunReport, ...],
    extra: Iterable[Reporter] = (),
    *,
    width: int = 80,
) -> None:
    """Render the runs and write each report where it was asked for.

    Several runs (a push of several branches) go into one text and one JSON report; a plugin's
    report of the second run gets "-2" before the ending of its path, and so on.

    Raises:
        UsageError: an unknown format, or a path that cannot be written.
        PluginError: a plugin's reporter raised or gave something that is neither text nor bytes.
    """
    from dfmcheck.reporting.writing import write_file

    known = known_reporters(extra, width=width)
    chosen = [(target, _reporter(target, known)) for target in targets]
    for target, reporter in chosen:
        for path, data in _rendered(target, reporter, runs):
            if path == STDOUT:
                sys.stdout.flush()
                sys.stdout.buffer.write(data)
                sys.stdout.buffer.flush()
            else:
                write_file(path, data)


def _reporter(target: Target, known: dict[str, Reporter]) -> Reporter:
    reporter = known.get(target.format)
    if reporter is None:
        names = ", ".join(clean(n, 40) for n in sorted(known))
        msg = f"--report {clean(target.format)}=…: there is no such format; known are {names}"
        raise UsageError(msg)
    return reporter


def _rendered(
    target: Target, reporter: Reporter, runs: tuple[RunReport, ...]
) -> list[tuple[str, bytes]]:
    if reporter.name == "json":
        from dfmcheck.reporting.json_report import render_json_runs

        return [(target.path, render_json_runs(runs).encode("utf-8"))]
    parts = [_render(reporter, run) for run in runs]
    if reporter.name == "text":
        return [(target.path, b"\n".join(parts))]
    if target.path == STDOUT:
        return [(STDOUT, part) for part in parts]
    return [(_numbered(target.path, i), part) for i, part in enumerate(parts, start=1)]


def _numbered(path: str, place: int) -> str:
    if place == 1:
        return path
    own = Path(path)
    return str(own.with_name(f"{own.stem}-{place}{own.suffix}"))


def _render(reporter: Reporter, run: RunReport) -> bytes:
    if reporter.name == "text":
        return _bytes(reporter, reporter.render(run))
    try:
        made = reporter.render(run)
    except Exception as error:
        said = f"{type(error).__name__}: {clean(str(error))}"
        msg = f"the reporter {clean(reporter.name)} failed: {said}"
        raise PluginError(msg) from error
    return _bytes(reporter, made)


def _bytes(reporter: Reporter, made: object) -> bytes:
    if isinstance(made, bytes):
        return made
    if isinstance(made, str):
        from dfmcheck.reporting.sanitise import encodable

        return encodable(made).encode("utf-8")
    kind = type(made).__name__
    msg = f"the reporter {clean(reporter.name)} gave {kind}, neither text nor bytes"
    raise PluginError(msg)

"""STEP bytes to facts: the cache first, then isolated kernel workers."""

from collections.abc import Callable, Iterable
from concurrent.futures import Future, as_completed
from dataclasses import dataclass, field
from importlib import import_module
from typing import Generic, TypeVar

import msgspec

from dfmcheck.app.code_digest import DERIVING, READING, code_digest
from dfmcheck.app.options import Options
from dfmcheck.cache.keys import derived_key, facts_key
from dfmcheck.cache.store import Cache
from dfmcheck.errors import DfmcheckError, NotReadError
from dfmcheck.kernel.version import ANALYSER, kernel_version
from dfmcheck.model.facts import FileFacts, NotRead

Answer = FileFacts | NotRead


T = TypeVar("T")


@dataclass(frozen=True)
class Kept(Generic[T]):
    """One value of the cache."""

    cache: Cache
    key: str
    kind: type[T]

    def get(self) -> T | None:
        """The value, None if it is not there or not sound."""
        data = self.cache.get(self.key)
        if data is None:
            return None
        try:
            return msgspec.msgpack.decode(data, type=self.kind)
        except (msgspec.DecodeError, ValueError):
            return None

    def put(self, value: T) -> T:
        """Keep a value and give it back."""
        self.cache.put(self.key, msgspec.msgpack.encode(value))
        return value


@dataclass
class Reader:
    """Answers for STEP contents, each read at most once in a run."""

    options: Options
    cache: Cache
    answers: dict[str, Answer] = field(default_factory=dict)
    read_by_kernel: int = 0

    def known(self, content: str) -> Answer | None:
        """The answer for a content, if it has been asked for."""
        return self.answers.get(content)

    def fetch(self, wanted: Iterable[tuple[str, str, Callable[[], bytes]]]) -> None:
        """Find answers for (content id, name, a function that gives the bytes).

        Files in the cache need neither their bytes nor the kernel.

        Raises:
            KernelMissingError: the kernel cannot be loaded on this machine.
        """
        missing: dict[str, tuple[str, Callable[[], bytes]]] = {}
        total = 0
        for content, name, give in wanted:
            if content in self.answers or content in missing:
                continue
            total += 1
            cached = self._kept(content).get()
            if cached is not None:
                self.answers[content] = cached
            else:
                missing[content] = (name, give)
        done = total - len(missing)
        if missing:
            self._read(missing, done, total)

    def _read(
        self, missing: dict[str, tuple[str, Callable[[], bytes]]], done: int, total: int
    ) -> None:
        from dfmcheck.kernel.pool import KernelPool

        options = self.options
        with KernelPool(
            workers=options.workers, seconds=options.seconds, memory_mb=options.memory_mb
        ) as pool:
            pool.start()
            futures: dict[Future[Answer], tuple[str, str]] = {}
            for content, (name, give) in missing.items():
                try:
                    data = give()
                except DfmcheckError as error:
                    self.answers[content] = _no_bytes(error)
                    done += 1
                    options.progress(done, total, name)
                    continue
                futures[pool.submit(data, name)] = (content, name)
            _load_what_follows()
            for future in as_completed(futures):
                content, name = futures[future]
                answer = future.result()
                self.answers[content] = answer
                self.read_by_kernel += 1
                if isinstance(answer, FileFacts):
                    self._kept(content).put(answer)
                done += 1
                options.progress(done, total, name)

    def derived(
        self, contents: tuple[str, ...], stage: str, plugins: tuple[str, ...], kind: type[T]
    ) -> "Kept[T]":
        """A place in the cache for what is derived from some contents.

        Args:
            contents: identities of the bytes, or other texts on which the value depends.
            stage: what is derived.
            plugins: plugins that take part ("name version").
            kind: type of the value.
        """
        base = "+".join(self._key(c) if c.partition(":")[2] else c for c in contents)
        return Kept(
            self.cache, derived_key(base, f"{stage} {code_digest(DERIVING)}", 1, plugins), kind
        )

    def _key(self, content: str) -> str:
        kernel = f"{kernel_version()} {code_digest(READING)}"
        return facts_key(content, kernel=kernel, analyser=ANALYSER)

    def _kept(self, content: str) -> "Kept[FileFacts]":
        return Kept(self.cache, self._key(content), FileFacts)


def _load_what_follows() -> None:
    """Import, while the kernel is loading, what works on its answers."""
    for name in (
        "dfmcheck.features.recognise",
        "dfmcheck.planning.process",
        "dfmcheck.planning.stock",
        "dfmcheck.comparing.compare",
        "dfmcheck.comparing.pairing",
        "dfmcheck.checking.engine",
        "dfmcheck.reporting.text",
        "numpy",
    ):
        import_module(name)


def _no_bytes(error: DfmcheckError) -> NotRead:
    if isinstance(error, NotReadError) and isinstance(error.not_read, NotRead):
        return error.not_read
    return NotRead(
        kind="missing", reason=str(error), remedy="make the file available and run again"
    )

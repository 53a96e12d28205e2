"""STEP bytes to facts: the cache first, then isolated kernel workers."""

from collections.abc import Callable, Iterable
from concurrent.futures import Future, as_completed
from dataclasses import dataclass, field

import msgspec

from dfmcheck.app.options import Options
from dfmcheck.cache.keys import derived_key, facts_key
from dfmcheck.cache.store import Cache
from dfmcheck.errors import DfmcheckError, NotReadError
from dfmcheck.kernel.version import ANALYSER, kernel_version
from dfmcheck.model.facts import FileFacts, NotRead

Answer = FileFacts | NotRead


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
            cached = self._from_cache(content)
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
            for future in as_completed(futures):
                content, name = futures[future]
                answer = future.result()
                self.answers[content] = answer
                self.read_by_kernel += 1
                self._to_cache(content, answer)
                done += 1
                options.progress(done, total, name)

    def features_key(self, content: str, recognisers: tuple[str, ...]) -> str:
        """Cache key of the features of a content."""
        from dfmcheck.features.version import FEATURES_VERSION

        return derived_key(self._key(content), "features", FEATURES_VERSION, recognisers)

    def _key(self, content: str) -> str:
        return facts_key(content, kernel=kernel_version(), analyser=ANALYSER)

    def _from_cache(self, content: str) -> Answer | None:
        data = self.cache.get(self._key(content))
        if data is None:
            return None
        try:
            return msgspec.msgpack.decode(data, type=FileFacts)
        except (msgspec.DecodeError, ValueError):
            return None

    def _to_cache(self, content: str, answer: Answer) -> None:
        if isinstance(answer, FileFacts):
            self.cache.put(self._key(content), msgspec.msgpack.encode(answer))


def _no_bytes(error: DfmcheckError) -> NotRead:
    if isinstance(error, NotReadError):
        return error.answer
    return NotRead(
        kind="missing", reason=str(error), remedy="make the file available and run again"
    )

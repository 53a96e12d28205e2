"""What a run is asked to do, and how it tells how far it is."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from dfmcheck.model.settings import Stage

Progress = Callable[[int, int, str], None]
"""Called with (done, total, name of the file just answered)."""


def silent(done: int, total: int, name: str) -> None:
    """Report no progress."""
    del done, total, name


@dataclass(frozen=True, kw_only=True)
class Options:
    """Options shared by the commands that analyse parts.

    `cache` is the cache's folder, None for the user's default; `use_cache` False works without.
    `seconds` and `memory_mb` limit each STEP file; `workers` is the number of kernel processes
    (None: one for each core, at most four).
    """

    where: Path = field(default_factory=Path)
    today: date
    stage: Stage | None = None
    cache: Path | None = None
    use_cache: bool = True
    workers: int | None = None
    seconds: float = 120.0
    memory_mb: int = 4096
    progress: Progress = silent


@dataclass(frozen=True, kw_only=True)
class GateOptions(Options):
    """Options of `gate`.

    `every` also judges the parts that did not change. `pushed` is what a pre-push hook received
    on stdin, None if it is not run as one, and `remote` where it goes. `base_policy` judges by
    the base's policy, as for a fork's change. A stage is judged for every part, changed or not.
    """

    revisions: tuple[str, ...] = ()
    staged: bool = False
    every: bool = False
    base_policy: bool = False
    pushed: str | None = None
    remote: str = ""
    environ: tuple[tuple[str, str], ...] = ()

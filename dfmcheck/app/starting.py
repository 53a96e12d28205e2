"""`dfmcheck init`: a starter configuration, and on request a workflow, a hook, attributes."""

from pathlib import Path
from typing import Literal

from dfmcheck import __version__
from dfmcheck.app.files import is_step
from dfmcheck.config.write import init_plans, write_planned
from dfmcheck.errors import UsageError
from dfmcheck.history.repository import Repository


def start(
    where: Path,
    *,
    ci: bool,
    hook: Literal["pre-commit", "pre-push"] | None,
    attributes: bool,
    overwrite: bool,
) -> tuple[str, ...]:
    """Write the files; a sentence for each says what was done or left.

    Raises:
        UsageError: no work tree to write into, or a file cannot be written.
    """
    with Repository.open(where) as repository:
        top = repository.top
        if top is None:
            msg = "this is a bare repository: run dfmcheck init in a clone with a work tree"
            raise UsageError(msg)
        head = repository.head()
        files = [b.path for b in repository.files(head, is_step)] if head is not None else []
        hooks = repository.hooks if hook is not None else None
    plans = init_plans(
        top,
        files=files,
        requirement=f"dfmcheck=={__version__}" if ci else None,
        hooks=hooks,
        hook=hook,
        keep_bytes=attributes,
    )
    return write_planned(plans, overwrite=overwrite)

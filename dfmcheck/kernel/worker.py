"""One file in one process: bytes in, an answer out, whatever happens."""

from dfmcheck.errors import NotReadError, ReadError
from dfmcheck.kernel import guard, wire
from dfmcheck.model.facts import FileFacts, NotRead

EXPORT_AGAIN = "export the part again from the CAD program and check that it is one valid solid"


def warm_up() -> None:
    """Load the kernel and everything that the work needs, before workers are forked.

    Raises:
        KernelMissingError: the kernel cannot be imported.
    """
    guard.load_kernel()
    from dfmcheck.kernel import step

    step.prepare()


def answer(data: bytes, name: str, mark: wire.Mark) -> bytes:
    """The packed answer for one file; never raises.

    Args:
        data: the STEP bytes.
        name: the file's name, for messages.
        mark: told the number of each stage of `wire.STAGES` as it begins.
    """
    return wire.pack_answer(_answer(data, name, mark))


def _answer(data: bytes, name: str, mark: wire.Mark) -> FileFacts | NotRead:
    from dfmcheck.kernel import step

    try:
        return step.read_step(data, name, mark)
    except NotReadError as error:
        if isinstance(error.not_read, NotRead):
            return error.not_read
        return NotRead(kind="damaged", reason=str(error), remedy=EXPORT_AGAIN)
    except ReadError as error:
        return NotRead(kind="damaged", reason=str(error), remedy=EXPORT_AGAIN)
    except MemoryError:
        return NotRead(
            kind="memory",
            reason="it needs more memory than it may use",
            remedy="raise the limit on memory, or split the file",
        )
    except Exception as error:  # noqa: BLE001 - a bad file may raise anything; it costs its answer only
        return NotRead(
            kind="crash",
            reason=f"the geometry kernel failed on it ({guard.describe(error)})",
            remedy=EXPORT_AGAIN,
        )

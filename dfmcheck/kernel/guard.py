"""Loading the kernel safely: missing libraries named, its printers silenced, its errors caught.

The kernel prints at C++ level and raises exceptions with empty texts. Here its printers are
taken away, what it writes to file descriptors 1 and 2 goes to a file kept for diagnosis, and
an exception becomes a sentence.
"""

import os
import sys

from dfmcheck.errors import KernelMissingError


def load_kernel() -> None:
    """Import the kernel and silence it.

    Raises:
        KernelMissingError: it cannot be imported.
    """
    try:
        from OCP.Message import Message
    except ImportError as error:
        raise KernelMissingError(missing_sentence(error)) from error
    Message.DefaultMessenger_s().ChangePrinters().Clear()


def missing_sentence(error: BaseException) -> str:
    """One sentence: what is missing and how it is mended."""
    text = " ".join(str(error).split()) or type(error).__name__
    if isinstance(error, ModuleNotFoundError):
        return (
            f"the geometry kernel is not installed ({text}): "
            "run 'pip install cadquery-ocp-novtk' in the environment of dfmcheck"
        )
    return (
        f"the geometry kernel cannot be loaded ({text}): install the system's OpenGL and X11 "
        "client libraries (Debian and Ubuntu: 'apt-get install libgl1')"
    )


def redirect_output(to: int) -> None:
    """Send file descriptors 1 and 2 of this process to the descriptor `to`."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()
    os.dup2(to, 1)
    os.dup2(to, 2)


def describe(error: BaseException) -> str:
    """One line for an exception of the kernel, whose own text is often empty."""
    kind = type(error).__name__
    text = " ".join(str(error).split())
    return f"{kind}: {text[:200]}" if text else kind

"""One way to run git: through GitPython, with everything switched off that could run or write.

What git must not do here and what keeps it from doing so:

- run hooks or a file system monitor: `core.hooksPath`, `core.fsmonitor` on the command line;
- run clean or smudge filters: see `dfmcheck.history.filters`;
- fetch missing objects, and with that any transport helper: no protocol is allowed;
- refresh the index: optional locks are off;
- answer with replaced objects, whose ids would not name their bytes;
- take paths for patterns or options: literal pathspecs, `--` before every path.
"""

import os
import subprocess
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple

from dfmcheck.errors import HistoryError
from dfmcheck.history.complaints import explain, needs_newer_git, too_old

if TYPE_CHECKING:
    import git

OPTIONS = (
    "--no-optional-locks",
    "--no-replace-objects",
    "--literal-pathspecs",
    *("-c", "core.fsmonitor=false"),
    *("-c", f"core.hooksPath={os.devnull}"),
    *("-c", "core.warnAmbiguousRefs=false"),
    *("-c", "core.safecrlf=false"),
)

ENVIRONMENT = {
    "GIT_ALLOW_PROTOCOL": "",
    "GIT_GLOB_PATHSPECS": "0",
    "GIT_ICASE_PATHSPECS": "0",
    "GIT_NOGLOB_PATHSPECS": "0",
    "GIT_NO_LAZY_FETCH": "1",
    "GIT_TERMINAL_PROMPT": "0",
}

LOCAL_VARIABLES = (
    "GIT_ALTERNATE_OBJECT_DIRECTORIES",
    "GIT_ATTR_SOURCE",
    "GIT_COMMON_DIR",
    "GIT_CONFIG",
    "GIT_DIR",
    "GIT_GRAFT_FILE",
    "GIT_IMPLICIT_WORK_TREE",
    "GIT_INDEX_FILE",
    "GIT_INTERNAL_SUPER_PREFIX",
    "GIT_NAMESPACE",
    "GIT_OBJECT_DIRECTORY",
    "GIT_PREFIX",
    "GIT_QUARANTINE_PATH",
    "GIT_REPLACE_REF_BASE",
    "GIT_SHALLOW_FILE",
    "GIT_WORK_TREE",
)
"""Variables about one repository; `dfmcheck.history.discovery` gives back those of ours."""

_environ_lock = threading.Lock()


class Output(NamedTuple):
    """What a git command gave: exit status, standard output, standard error."""

    status: int
    out: bytes
    err: str


def load_git() -> "type[git.Git]":
    """GitPython's command class.

    Raises:
        HistoryError: git itself is not there (GitPython looks for it when imported).
    """
    try:
        from git import Git
    except ImportError as error:
        raise _no_git() from error
    return Git


class Tally:
    """Counts processes."""

    count = 0


class GitProcess:
    """Runs git in one folder."""

    def __init__(
        self,
        folder: str,
        variables: Mapping[str, str] | None = None,
        options: Sequence[str] = (),
        tally: Tally | None = None,
    ) -> None:
        """Run in `folder` (absolute), with further environment variables and leading options.

        Every process started is counted in `tally`.
        """
        self.folder = folder
        self.variables = dict(variables or {})
        self.options = tuple(options)
        self.tally = tally or Tally()
        self._git = load_git()()

    def start(
        self, *arguments: str, variables: Mapping[str, str] | None = None
    ) -> "subprocess.Popen[bytes]":
        """Start a git command with all three streams piped as bytes.

        Raises:
            HistoryError: git cannot be started.
        """
        program = self._git.GIT_PYTHON_GIT_EXECUTABLE or "git"
        command = [program, "-C", self.folder, *OPTIONS, *self.options, *arguments]
        environment = {**ENVIRONMENT, **self.variables, **(variables or {})}
        self.tally.count += 1
        try:
            with _without_local_variables():
                running = self._git.execute(
                    command, istream=subprocess.PIPE, as_process=True, env=environment
                )
        except OSError as error:
            msg = f"git cannot be started: {error.strerror or error}"
            raise HistoryError(msg) from error
        except Exception as error:
            if type(error).__name__ == "GitCommandNotFound":
                raise _no_git() from error
            raise
        # GitPython's wrapper kills the process when collected; here it is waited for.
        process, running.proc = running.proc, None
        assert process is not None  # noqa: S101 - just started
        return process

    def run(
        self,
        *arguments: str,
        stdin: bytes = b"",
        variables: Mapping[str, str] | None = None,
        good: Sequence[int] = (0,),
    ) -> Output:
        """Run a git command to its end.

        Raises:
            HistoryError: git cannot be started, or its exit status is not among `good`.
        """
        with self.start(*arguments, variables=variables) as process:
            out, err = process.communicate(stdin)
        output = Output(process.returncode, out, err.decode("utf-8", "replace"))
        if output.status not in good:
            raise self.complaint(output.err, arguments[0])
        return output

    def complaint(self, err: str, command: str) -> HistoryError:
        """What git's standard error means for the user, as an error to raise."""
        if needs_newer_git(err):
            return too_old(self.version()) or explain(err, command, self.folder)
        return explain(err, command, self.folder)

    def version(self) -> str:
        """Git's version as it prints it, such as "2.39.5"; empty where it does not say."""
        with self.start("version") as process:
            out, _ = process.communicate()
        return out.decode("utf-8", "replace").strip().removeprefix("git version ")


def _no_git() -> HistoryError:
    return HistoryError(
        "git was not found: install git and see that it is on the PATH "
        "(or name the program in GIT_PYTHON_GIT_EXECUTABLE)"
    )


@contextmanager
def _without_local_variables() -> Iterator[None]:
    """Take git's local variables out of this process's environment while a command starts.

    GitPython hands the whole environment on and can only add to it. Outside of git's hooks none of
    the variables is set and nothing is touched.
    """
    with _environ_lock:
        taken = {name: os.environ.pop(name) for name in LOCAL_VARIABLES if name in os.environ}
        try:
            yield
        finally:
            os.environ.update(taken)

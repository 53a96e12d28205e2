"""The error tree. Imports nothing.

Each error carries one sentence a user can act on: which file, what is wrong, what to do.
"""


class DfmcheckError(Exception):
    """Root of all errors that dfmcheck raises on purpose; `str()` is one clear sentence."""

    exit_status = 1


class UsageError(DfmcheckError):
    """Wrong use of the command line or of a repository (exit status 2)."""

    exit_status = 2


class ConfigError(DfmcheckError):
    """One or several errors of the configuration (exit status 2).

    `problems` holds one sentence for each, all errors of a file together.
    """

    exit_status = 2

    def __init__(self, problems: tuple[str, ...]) -> None:
        """Join the problems into one message, a line each."""
        self.problems = problems
        super().__init__("\n".join(problems))


class HistoryError(UsageError):
    """git cannot answer: no repository, an unknown revision, a shallow clone, a foreign owner."""


class ReadError(DfmcheckError):
    """A STEP file could not be read; the text follows the words "not read:" (exit status 4)."""

    exit_status = 4


class NotReadError(ReadError):
    """A file that was not read, with the answer for the report.

    `not_read` is the `dfmcheck.model.facts.NotRead` that says why and what to do.
    """

    def __init__(self, not_read: object) -> None:
        """Take the reason of the answer as the message."""
        self.not_read = not_read
        super().__init__(str(getattr(not_read, "reason", not_read)))


class KernelMissingError(DfmcheckError):
    """The geometry kernel cannot be loaded, mostly for want of a system library."""


class PluginError(DfmcheckError):
    """A plugin is missing, cannot be loaded, or raised."""

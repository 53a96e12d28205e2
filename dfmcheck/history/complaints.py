"""What git says on its standard error, turned into one sentence with the mend."""

import re
import shlex

from dfmcheck.errors import HistoryError

MINIMUM = (2, 25)
"""Oldest git that is known to have what is asked of it."""

_NEWER = re.compile(
    r"unknown (option|switch|repository extension)|unrecognized argument|invalid option|usage: git"
    r"|is not a git command|expected git repo version",
    re.IGNORECASE,
)
_OWNER = re.compile(r"dubious ownership|unsafe repository", re.IGNORECASE)
_PLACE = re.compile(r"(?:in repository at|unsafe repository) \(?'([^']+)'", re.DOTALL)


def needs_newer_git(err: str) -> bool:
    """True where the message reads as if this git did not know what it was asked."""
    return _NEWER.search(err) is not None


def too_old(version: str) -> HistoryError | None:
    """The complaint about an old git; None where the version is new enough or not to be read."""
    found = re.match(r"(\d+)\.(\d+)", version)
    if found and (int(found[1]), int(found[2])) < MINIMUM:
        wanted = ".".join(map(str, MINIMUM))
        return HistoryError(f"git {version} is too old: dfmcheck needs git {wanted} or newer")
    return None


def explain(err: str, command: str, folder: str) -> HistoryError:
    """One sentence for a failed command, with what to do.

    `command` is git's subcommand, `folder` where it ran.
    """
    if _OWNER.search(err):
        place = _PLACE.search(err)
        where = place[1] if place else folder
        return HistoryError(
            f"the repository {where} belongs to another user, so git does not open it: "
            f"if you trust it, run `git config --global --add safe.directory {shlex.quote(where)}`"
        )
    if "not a git repository" in err:
        return HistoryError(
            f"{folder} is not in a git repository: go to a repository, or make one with `git init`"
        )
    if "cannot use bare repository" in err:
        return HistoryError(
            f"git does not open the bare repository {folder} by itself (safe.bareRepository): "
            "name it in the variable GIT_DIR"
        )
    if "promisor" in err or "lazy fetch" in err.lower():
        return HistoryError(
            "this is a partial clone and an object that is needed was never fetched: "
            "run `git fetch --refetch --no-filter`, or clone without --filter"
        )
    if re.search(r"bad (config|boolean|numeric)|bad.*config (file|line|value)", err):
        return HistoryError(f"git cannot read its configuration: {_last_line(err)}")
    return HistoryError(f"git {command} failed in {folder}: {_last_line(err)}")


def shallow(missing: str, mend: str = "") -> HistoryError:
    """The complaint about a shallow clone that lacks `missing` ("the parent of 3f9c2e1")."""
    how = mend or (
        "run `git fetch --unshallow` (or `git fetch --deepen=50`); in CI fetch the whole history "
        "(`fetch-depth: 0` at the checkout step, `GIT_DEPTH: 0` in GitLab)"
    )
    return HistoryError(f"this is a shallow clone and lacks {missing}: {how}")


def _last_line(err: str) -> str:
    lines = [line.strip() for line in err.splitlines() if line.strip()]
    fatal = [line for line in lines if line.startswith(("fatal:", "error:"))]
    line = (fatal or lines or ["it gave no reason"])[-1]
    return line.removeprefix("fatal: ").removeprefix("error: ")

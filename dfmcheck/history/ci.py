"""What the environment of a CI system says about the revisions to compare.

Each system is read from its documented variables and, with GitHub Actions, its event file.
Everything in them may have been written by a stranger (branch names, the body of a pull request),
so only commit ids that are hexadecimal, plain numbers and valid branch names are taken over.

Sources: GitHub Docs, "Variables reference" and "Webhook events and payloads"; GitLab Docs,
"Predefined CI/CD variables reference".
"""

import os
import re
import stat
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Literal

import msgspec

from dfmcheck.errors import HistoryError
from dfmcheck.history.names import is_branch_name
from dfmcheck.model.base import Value

Environ = Mapping[str, str]

LARGEST_EVENT = 64 * 1024 * 1024
"""Bytes of an event file that are read at most; GitHub's payloads end at 25 MB."""

GITHUB_MEND = "set `fetch-depth: 0` at the checkout step"
GITLAB_MEND = 'set `GIT_DEPTH: "0"` in the job\'s variables'

_SHA = re.compile(r"[0-9a-f]{40}([0-9a-f]{24})?")


class CiEvent(Value, frozen=True):
    """What a CI run is about.

    `kind` "last-commit" stands for runs that are about no change in particular. `base` is the tip
    of the branch that a pull request goes to, what a push replaced, or what a merge queue builds
    on; None for a new branch. `head` is the proposed or pushed commit. `merge_base` is set where
    the system tells it. `default_branch` is the branch that new ones are compared with, `first`
    True where the push is that branch's own first. `fork` is True where the change comes from
    another repository, or where that cannot be told.
    """

    system: str
    kind: Literal["pull-request", "push", "merge-queue", "last-commit"]
    title: str
    base: str | None = None
    head: str | None = None
    merge_base: str | None = None
    default_branch: str | None = None
    first: bool = False
    fork: bool = False
    mend: str = ""


def detect(environ: Environ) -> CiEvent | None:
    """The event of the CI system that this process runs in; None outside of any.

    Raises:
        HistoryError: the system's own account is missing or makes no sense.
    """
    for look in (github, gitlab, other):
        event = look(environ)
        if event is not None:
            return event
    return None


def is_from_fork(environ: Environ) -> bool:
    """Whether the CI says that the change comes from a fork; False outside of any CI."""
    try:
        event = detect(environ)
    except HistoryError:
        return True  # an event that makes no sense is no ground for trust
    return event is not None and event.fork


def other(environ: Environ) -> CiEvent | None:
    """Any system that sets `CI`: the last commit is looked at."""
    if environ.get("CI", "").strip().lower() in {"", "0", "false", "no", "off"}:
        return None
    return CiEvent(system="CI", kind="last-commit", title="last commit")


def github(environ: Environ) -> CiEvent | None:
    """GitHub Actions: `pull_request` and its kin, `push`, `merge_group`; else the last commit."""
    if environ.get("GITHUB_ACTIONS") != "true":
        return None
    name = environ.get("GITHUB_EVENT_NAME", "")
    readers: dict[str, Callable[[Any], CiEvent]] = {
        "pull_request": _github_pull_request,
        "pull_request_review": _github_pull_request,
        "pull_request_review_comment": _github_pull_request,
        "pull_request_target": _github_pull_request,
        "push": _github_push,
        "merge_group": _github_merge_group,
    }
    if name not in readers:
        return CiEvent(system="GitHub Actions", kind="last-commit", title="last commit")
    return readers[name](_event(environ.get("GITHUB_EVENT_PATH", "")))


def gitlab(environ: Environ) -> CiEvent | None:
    """GitLab CI: merge requests (merged results and trains too), pushes; else the last commit."""
    if environ.get("GITLAB_CI") != "true":
        return None
    system, source = "GitLab CI", environ.get("CI_PIPELINE_SOURCE", "")
    if source == "merge_request_event":
        number = environ.get("CI_MERGE_REQUEST_IID", "")
        ours = environ.get("CI_MERGE_REQUEST_PROJECT_ID")
        theirs = environ.get("CI_MERGE_REQUEST_SOURCE_PROJECT_ID")
        return CiEvent(
            system=system,
            kind="pull-request",
            title=f"merge request {number}" if number.isdecimal() else "merge request",
            base=_variable(environ, "CI_MERGE_REQUEST_TARGET_BRANCH_SHA"),
            head=_variable(environ, "CI_MERGE_REQUEST_SOURCE_BRANCH_SHA")
            or _variable(environ, "CI_COMMIT_SHA"),
            merge_base=_variable(environ, "CI_MERGE_REQUEST_DIFF_BASE_SHA"),
            fork=not ours or ours != theirs,
            mend=GITLAB_MEND,
        )
    if source != "push" or environ.get("CI_COMMIT_TAG"):
        return CiEvent(system=system, kind="last-commit", title="last commit")
    branch = environ.get("CI_COMMIT_BRANCH", "")
    default = environ.get("CI_DEFAULT_BRANCH", "")
    return CiEvent(
        system=system,
        kind="push",
        title="push",
        base=_variable(environ, "CI_COMMIT_BEFORE_SHA"),
        head=_variable(environ, "CI_COMMIT_SHA"),
        default_branch=default if is_branch_name(default) else None,
        first=bool(branch) and branch == default,
        mend=GITLAB_MEND,
    )


def _github_pull_request(event: object) -> CiEvent:
    base_repo = _at(event, "pull_request", "base", "repo")
    head_repo = _at(event, "pull_request", "head", "repo")
    number = _at(event, "pull_request", "number") or _at(event, "number")
    return CiEvent(
        system="GitHub Actions",
        kind="pull-request",
        title=f"pull request {number}" if isinstance(number, int) else "pull request",
        base=_sha(_at(event, "pull_request", "base", "sha"), "pull_request.base.sha"),
        head=_sha(_at(event, "pull_request", "head", "sha"), "pull_request.head.sha"),
        fork=not _same_repository(base_repo, head_repo),
        mend=GITHUB_MEND,
    )


def _github_push(event: object) -> CiEvent:
    if _at(event, "deleted") is True:
        msg = "this push deletes a branch, so there is nothing to compare"
        raise HistoryError(msg)
    ref = _at(event, "ref")
    if isinstance(ref, str) and ref.startswith("refs/tags/"):
        return CiEvent(system="GitHub Actions", kind="last-commit", title="last commit of a tag")
    default = _at(event, "repository", "default_branch")
    default = default if isinstance(default, str) and is_branch_name(default) else None
    return CiEvent(
        system="GitHub Actions",
        kind="push",
        title="push",
        base=_sha(_at(event, "before"), "before"),
        head=_sha(_at(event, "after"), "after"),
        default_branch=default,
        first=default is not None and ref == f"refs/heads/{default}",
        mend=GITHUB_MEND,
    )


def _github_merge_group(event: object) -> CiEvent:
    return CiEvent(
        system="GitHub Actions",
        kind="merge-queue",
        title="merge queue",
        base=_sha(_at(event, "merge_group", "base_sha"), "merge_group.base_sha"),
        head=_sha(_at(event, "merge_group", "head_sha"), "merge_group.head_sha"),
        mend=GITHUB_MEND,
    )


def _event(place: str) -> object:
    """The event file's content."""
    wrong = "GITHUB_EVENT_PATH names no readable event file"
    hint = "name the revisions to compare instead"
    try:
        if not stat.S_ISREG(os.stat(place).st_mode) or os.stat(place).st_size > LARGEST_EVENT:  # noqa: PTH116
            msg = f"{wrong} ({place!r} is no file of a sensible size): {hint}"
            raise HistoryError(msg)
        return msgspec.json.decode(Path(place).read_bytes())
    except (OSError, ValueError, RecursionError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is no JSON"
        msg = f"{wrong} ({place!r}: {why}): {hint}"
        raise HistoryError(msg) from error


def _at(value: object, *keys: str) -> object:
    """The value at a path of keys; None where there is none."""
    for key in keys:
        if not isinstance(value, dict):
            return None
        value = value.get(key)
    return value


def _sha(value: object, where: str) -> str | None:
    """A commit id; None for all zeros, which stand for no commit.

    Raises:
        HistoryError: it is something else.
    """
    if not isinstance(value, str) or _SHA.fullmatch(value) is None:
        shown = repr(value)[:60]
        msg = (
            f"the CI's account of the event has {shown} for {where}, which is no commit id: "
            "name the revisions to compare instead"
        )
        raise HistoryError(msg)
    return value if value.strip("0") else None


def _variable(environ: Environ, name: str) -> str | None:
    value = environ.get(name, "")
    return _sha(value, name) if value else None


def _same_repository(one: object, other: object) -> bool:
    """True where both are certainly the same repository; a deleted fork is null."""
    for key in ("id", "full_name"):
        a, b = _at(one, key), _at(other, key)
        if a is not None and b is not None:
            return a == b
    return False

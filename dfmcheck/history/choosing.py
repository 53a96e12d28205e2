"""Which two revisions are compared, and why."""

import re
from collections.abc import Mapping, Sequence
from typing import Literal

import msgspec

from dfmcheck.errors import HistoryError, UsageError
from dfmcheck.history import ci
from dfmcheck.history.commits import INDEX, NOTHING, WORK_TREE, Commit, Commits
from dfmcheck.history.labels import describe_range
from dfmcheck.history.process import GitProcess
from dfmcheck.history.push import PushedRef, parse_pushed
from dfmcheck.history.sides import Keep, Notes, Sides
from dfmcheck.model.history import Range, Revision

_REMOTE = re.compile(r"[\w][\w./-]*")


class Chooser:
    """Chooses ranges for one repository."""

    def __init__(
        self,
        process: GitProcess,
        commits: Commits,
        sides: Sides,
        *,
        has_work_tree: bool,
        notes: Sequence[str] = (),
    ) -> None:
        """`notes` are said with every range."""
        self._process = process
        self._commits = commits
        self._sides = sides
        self._has_work_tree = has_work_tree
        self._notes = tuple(notes)

    def named(self, revisions: Sequence[str], keep: Keep) -> Range:
        """The range of one or two revisions that the user named."""
        if len(revisions) > 2:
            msg = f"{len(revisions)} revisions were named: give one, two, or BASE..HEAD"
            raise UsageError(msg)
        if len(revisions) == 2:
            before, after = (self._commits.named(name) for name in revisions)
            return self._commit_range(before, after, "two revisions named", keep)
        if revisions[0].endswith("^!"):
            commit = self._commits.named(revisions[0].removesuffix("^!"))
            return self._last_commit("one commit named", keep, commit)
        between = _outside_braces(revisions[0])
        if between is not None:
            return self._written(*between, keep)
        base = self._commits.named(revisions[0])
        if self._has_work_tree and self._differs(keep):
            return self._range(base.revision, WORK_TREE, "one revision named", keep)
        return self._commit_range(base, self._head(), "one revision named", keep)

    def staged(self, keep: Keep) -> Range:
        """What would be committed now against the last commit."""
        head = self._commits.head()
        before = head.revision if head is not None else NOTHING
        return self._range(before, INDEX, "what is staged", keep)

    def unnamed(self, environ: Mapping[str, str], keep: Keep) -> Range:
        """The range where nothing was named: the CI's event, work in hand, or the last commit."""
        event = ci.detect(environ)
        if event is not None:
            return self._event(event, keep)
        head = self._commits.head()
        if self._has_work_tree and (head is None or self._differs(keep)):
            before = head.revision if head is not None else NOTHING
            return self._range(before, WORK_TREE, "work that is not committed", keep)
        return self._last_commit("last commit", keep)

    def pushed(self, text: str, remote: str, keep: Keep) -> tuple[Range, ...]:
        """One range for each ref that a pre-push hook is told of, deletions left out."""
        if remote and _REMOTE.fullmatch(remote) is None:
            remote = ""  # a push to an address has no remote-tracking branches of its own
        ranges = [self._pushed(ref, remote, keep) for ref in parse_pushed(text)]
        return tuple(found for found in ranges if found is not None)

    def _written(self, left: str, dots: str, right: str, keep: Keep) -> Range:
        """The range of BASE..HEAD or BASE...HEAD; an end left out is HEAD."""
        before = self._commits.named(left or "HEAD")
        after = self._commits.named(right or "HEAD")
        if dots == "..":
            return self._commit_range(before, after, "two revisions named", keep)
        base = self._merge_base(before, after, "")
        return self._commit_range(
            base, after, f"from the merge base with {before.revision.label}", keep
        )

    def _event(self, event: ci.CiEvent, keep: Keep) -> Range:
        why = f"{event.system}: {event.title}"
        if event.kind == "last-commit":
            return self._last_commit(why, keep)
        if event.kind == "pull-request":
            return self._pull_request(event, why, keep)
        after = self._there(event.head, "pushed commit", event) if event.head else self._head()
        if event.base is not None:
            before = self._there(event.base, "commit that the change builds on", event)
            return self._commit_range(before, after, why, keep)
        if event.first:
            return self._range(NOTHING, after.revision, f"{why}, the first of this branch", keep)
        if event.default_branch is None:
            return self._last_commit(f"{why} of a new branch", keep, after)
        ref = f"refs/remotes/origin/{event.default_branch}"
        trunk = self._commits.find(ref, label=event.default_branch)
        if trunk is None:
            raise self._commits.missing(f"the branch {event.default_branch}", event.mend)
        base = self._merge_base(trunk, after, event.mend)
        return self._commit_range(base, after, f"{why} of a new branch", keep)

    def _pull_request(self, event: ci.CiEvent, why: str, keep: Keep) -> Range:
        """A proposal against where it left its target.

        What is checked out is mostly the proposal merged into its target, which is then compared
        with its first parent: that is the same change, and needs two commits only. Otherwise the
        proposed commit itself is compared with the merge base.
        """
        head = self._head()
        if event.head is not None and event.head in head.parents[1:]:
            before = self._first_parent(head, event.mend)
            return self._range(before, head.revision, why, keep, fork=event.fork)
        after = head
        if event.head is not None and event.head != head.sha:
            after = self._there(event.head, "proposed commit", event)
            if self._contains(head, after):
                after = head
        target = None
        if event.base is not None:
            target = self._there(event.base, "commit that the change builds on", event)
        if event.merge_base is not None:
            base = self._there(event.merge_base, "merge base", event)
        elif target is not None:
            base = self._merge_base(target, after, event.mend)
        else:
            msg = f"{event.system} does not say what the change builds on: name the revisions"
            raise HistoryError(msg)
        span = self._range(base.revision, after.revision, why, keep, fork=event.fork)
        if event.fork and target is not None and target.sha != base.sha:
            return msgspec.structs.replace(span, target=target.revision)
        return span

    def _pushed(self, ref: PushedRef, remote: str, keep: Keep) -> Range | None:
        after = self._commits.find(ref.local, label=ref.name.removeprefix("refs/heads/"))
        if after is None:
            return None  # a tag of something that is no commit
        if ref.remote is not None:
            before = self._commits.find(ref.remote)
            if before is None:
                raise self._commits.missing(
                    f"the commit {ref.remote[:10]} that the remote has for {ref.name}",
                    "run `git fetch`",
                )
            return self._commit_range(before, after, f"push to {ref.name}", keep)
        why = f"push of the new ref {ref.name}"
        own = self._process.run(
            *("rev-list", "--first-parent", after.sha),
            *("--not", f"--remotes={remote}" if remote else "--remotes"),
        ).out.split()
        if not own:
            return self._commit_range(after, after, f"{why}, which brings no commit", keep)
        oldest = self._commits.find(own[-1].decode("ascii"))
        assert oldest is not None  # noqa: S101 - git just named it
        return self._range(self._first_parent(oldest, ""), after.revision, why, keep)

    def _last_commit(self, why: str, keep: Keep, commit: Commit | None = None) -> Range:
        commit = commit or self._head()
        return self._range(self._first_parent(commit, ""), commit.revision, why, keep)

    def _first_parent(self, commit: Commit, mend: str) -> Revision:
        parent = self._commits.parent(commit, mend)
        return parent.revision if parent is not None else NOTHING

    def _head(self) -> Commit:
        head = self._commits.head()
        if head is None:
            msg = (
                "this repository has no commit yet: commit something, or run where the work tree is"
            )
            raise HistoryError(msg)
        return head

    def _there(self, sha: str, what: str, event: ci.CiEvent) -> Commit:
        commit = self._commits.find(sha)
        if commit is None:
            mend = f"{event.mend}, or run `git fetch origin {sha}` before"
            raise self._commits.missing(f"the {what} {sha[:10]}", mend)
        return commit

    def _merge_base(self, one: Commit, other: Commit, mend: str) -> Commit:
        output = self._process.run("merge-base", one.sha, other.sha, good=(0, 1))
        found = output.out.decode("ascii").split()
        base = self._commits.find(found[0]) if found else None
        if base is not None:
            return base
        what = f"a common ancestor of {one.revision.label} and {other.revision.label}"
        raise self._commits.missing(what, mend)

    def _contains(self, commit: Commit, ancestor: Commit) -> bool:
        arguments = ("merge-base", "--is-ancestor", ancestor.sha, commit.sha)
        return self._process.run(*arguments, good=(0, 1)).status == 0

    def _differs(self, keep: Keep) -> bool:
        head = self._commits.head()
        before = head.revision if head is not None else NOTHING
        return bool(self._sides.differences(before, WORK_TREE, keep, Notes()))

    def _commit_range(self, before: Commit, after: Commit, why: str, keep: Keep) -> Range:
        return self._range(before.revision, after.revision, why, keep)

    def _range(
        self, before: Revision, after: Revision, why: str, keep: Keep, *, fork: bool = False
    ) -> Range:
        notes = Notes(self._notes)
        self._sides.differences(before, after, keep, notes)
        modules = self._sides.submodules(after)
        if modules:
            more = f" and {len(modules) - 5} more" if len(modules) > 5 else ""
            notes.add(f"submodules are not entered: {', '.join(modules[:5])}{more}")
        both = describe_range(before, after)
        chosen = f"{both}; {why}" + (" (from a fork)" if fork else "")
        return Range(before=before, after=after, chosen=chosen, fork=fork, notes=tuple(notes))


def _outside_braces(text: str) -> tuple[str, Literal["..", "..."], str] | None:
    """The two ends and the dots of BASE..HEAD; those in `HEAD^{/v1..2}` are no such dots."""
    depth = 0
    for place, letter in enumerate(text):
        depth += (letter == "{") - (letter == "}")
        if depth == 0 and text.startswith("..", place):
            dots: Literal["..", "..."] = "..." if text.startswith("...", place) else ".."
            return text[:place], dots, text[place + len(dots) :]
    return None

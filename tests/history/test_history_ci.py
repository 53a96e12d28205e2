"""Ranges in CI, on clones as the systems make them."""

import json

import pytest

from dfmcheck.errors import HistoryError
from dfmcheck.history.repository import Repository

HOME = {"id": 7, "full_name": "studio/lamp"}
FORK = {"id": 8, "full_name": "stranger/lamp"}
ZERO = "0" * 40


class Hosted:
    """A repository with two branches that went apart, and one merge of the proposal."""

    def __init__(self, repo, make, tmp_path) -> None:
        self.repo, self.make, self.tmp_path, self.clones = repo, make, tmp_path, 0
        self.root = repo.commit(**{"a.step": "1", "b.step": "1", "c.step": "1"})
        repo.git("checkout", "-q", "-b", "topic")
        repo.commit(**{"a.step": "2"})
        self.head = repo.commit(**{"a.step": "3"})
        repo.git("checkout", "-q", "main")
        self.tip = repo.commit(**{"b.step": "2"})
        repo.git("checkout", "-q", "--detach", "main")
        repo.git("merge", "-q", "--no-ff", "--no-edit", "topic")
        self.merge = repo.id()
        repo.git("update-ref", "refs/pull/12/merge", self.merge)
        repo.git("update-ref", "refs/pull/12/head", self.head)
        repo.git("checkout", "-q", "main")

    def environ(self, name: str, payload: object) -> dict[str, str]:
        place = self.tmp_path / "event.json"
        place.write_text(json.dumps(payload))
        return {
            "CI": "true",
            "GITHUB_ACTIONS": "true",
            "GITHUB_EVENT_NAME": name,
            "GITHUB_EVENT_PATH": str(place),
        }

    def pull(
        self, name: str = "pull_request", head=HOME, base: str | None = None
    ) -> dict[str, str]:
        return self.environ(
            name,
            {
                "pull_request": {
                    "number": 12,
                    "base": {"sha": base or self.tip, "repo": HOME},
                    "head": {"sha": self.head, "repo": head},
                }
            },
        )

    def clone(self, commit: str, depth: int | None = None):
        """As a checkout step does it: everything, or one commit with a depth; detached."""
        self.clones += 1
        clone = self.make(f"clone-{self.clones}")
        clone.git("remote", "add", "origin", f"file://{self.repo.path}")
        everything = ("+refs/heads/*:refs/remotes/origin/*", "+refs/pull/*:refs/remotes/pull/*")
        clone.git("fetch", "-q", "origin", *([f"--depth={depth}", commit] if depth else everything))
        clone.git("checkout", "-q", "--detach", commit)
        return clone


@pytest.fixture
def hosted(repo, make_repo, tmp_path):
    repo.git("config", "uploadpack.allowAnySHA1InWant", "true")
    return Hosted(repo, make_repo, tmp_path)


def choose(clone, environ):
    with Repository.open(clone.path) as repository:
        span = repository.choose_range(environ=environ)
        changes = {(c.status, (c.after or c.before).path) for c in repository.changes(span)}
        return span, changes


@pytest.mark.parametrize("depth", [None, 2])
def test_the_merged_proposal_against_its_first_parent(hosted, depth):
    """The usual checkout; a depth of two commits is enough."""
    span, changes = choose(hosted.clone(hosted.merge, depth), hosted.pull())
    assert (span.before.sha, span.after.sha) == (hosted.tip, hosted.merge)
    assert changes == {("changed", "a.step")}
    assert not span.fork
    assert "GitHub Actions: pull request 12" in span.chosen


def test_the_merged_proposal_when_the_event_names_an_older_base(hosted):
    span, changes = choose(hosted.clone(hosted.merge), hosted.pull(base=hosted.root))
    assert (span.before.sha, changes) == (hosted.tip, {("changed", "a.step")})


def test_the_proposed_commit_itself_against_the_merge_base(hosted):
    span, changes = choose(hosted.clone(hosted.head), hosted.pull())
    assert (span.before.sha, span.after.sha) == (hosted.root, hosted.head)
    assert changes == {("changed", "a.step")}


def test_a_fork(hosted):
    span, _ = choose(hosted.clone(hosted.merge), hosted.pull(head=FORK))
    assert span.fork
    assert "from a fork" in span.chosen
    assert span.target is None, "the base's own tip is what the merge is compared with"


def test_a_fork_that_begins_at_an_old_commit_is_judged_by_the_policy_of_now(hosted):
    """Otherwise a stranger could begin where the limits were weaker."""
    for head in (FORK, None):
        span, _ = choose(hosted.clone(hosted.head), hosted.pull(head=head))
        assert (span.fork, span.before.sha, span.target.sha) == (True, hosted.root, hosted.tip)
    assert choose(hosted.clone(hosted.head), hosted.pull())[0].target is None


def test_pull_request_target_has_the_target_checked_out(hosted):
    """The proposed commit is compared all the same, not the target with itself."""
    span, changes = choose(hosted.clone(hosted.tip), hosted.pull("pull_request_target", head=FORK))
    assert (span.before.sha, span.after.sha, span.fork) == (hosted.root, hosted.head, True)
    assert changes == {("changed", "a.step")}


def test_pull_request_target_without_the_proposed_commit(hosted):
    clone = hosted.clone(hosted.tip, 1)
    with pytest.raises(HistoryError, match="shallow clone and lacks the proposed commit") as caught:
        choose(clone, hosted.pull("pull_request_target"))
    assert f"git fetch origin {hosted.head}" in str(caught.value)


def test_a_proposal_that_the_job_merged_by_itself(hosted):
    clone = hosted.clone(hosted.tip)
    clone.git("merge", "-q", "--no-ff", "--no-edit", hosted.head)
    own = clone.commit(**{"c.step": "made in the job"})
    span, changes = choose(clone, hosted.pull())
    assert (span.before.sha, span.after.sha) == (hosted.tip, own)
    assert changes == {("changed", "a.step"), ("changed", "c.step")}


def test_a_clone_of_one_commit_gets_the_mend(hosted):
    for commit in (hosted.merge, hosted.head):
        with pytest.raises(HistoryError, match="shallow clone") as caught:
            choose(hosted.clone(commit, 1), hosted.pull())
        assert "fetch-depth: 0" in str(caught.value)


def push(hosted, before, after, ref="refs/heads/main", **more):
    payload = {
        "ref": ref,
        "before": before,
        "after": after,
        "repository": {"default_branch": "main"},
        **more,
    }
    return hosted.environ("push", payload)


def test_a_push_of_several_commits(hosted):
    span, changes = choose(
        hosted.clone(hosted.head), push(hosted, hosted.root, hosted.head, "refs/heads/topic")
    )
    assert (span.before.sha, span.after.sha) == (hosted.root, hosted.head)
    assert changes == {("changed", "a.step")}


def test_a_push_of_a_new_branch(hosted):
    span, changes = choose(
        hosted.clone(hosted.head), push(hosted, ZERO, hosted.head, "refs/heads/topic")
    )
    assert (span.before.sha, changes) == (hosted.root, {("changed", "a.step")})
    with pytest.raises(HistoryError, match="lacks the branch main"):
        choose(hosted.clone(hosted.head, 1), push(hosted, ZERO, hosted.head, "refs/heads/topic"))


def test_a_push_of_a_new_branch_without_a_usable_default(hosted):
    environ = push(
        hosted, ZERO, hosted.head, "refs/heads/topic", repository={"default_branch": "--x"}
    )
    span, _ = choose(hosted.clone(hosted.head), environ)
    assert span.before.sha == hosted.repo.id("topic~1")


def test_the_first_push_of_all(hosted):
    span, changes = choose(hosted.clone(hosted.tip), push(hosted, ZERO, hosted.tip))
    assert (span.before.kind, len(changes)) == ("empty", 3)


def test_a_push_that_replaced_a_commit_that_is_gone(hosted):
    gone = "d" * 40
    with pytest.raises(
        HistoryError, match="lacks the commit that the change builds on ddd"
    ) as caught:
        choose(hosted.clone(hosted.head), push(hosted, gone, hosted.head, "refs/heads/topic"))
    assert f"git fetch origin {gone}" in str(caught.value)


def test_a_pushed_tag(hosted):
    hosted.repo.git("tag", "-a", "v1", "-m", "v1", "topic")
    environ = push(hosted, ZERO, hosted.repo.id("v1"), "refs/tags/v1")
    span, _ = choose(hosted.clone(hosted.head), environ)
    assert (span.before.sha, span.after.sha) == (hosted.repo.id("topic~1"), hosted.head)


def test_a_merge_queue_by_its_base(hosted):
    payload = {"merge_group": {"base_sha": hosted.root, "head_sha": hosted.merge}}
    span, changes = choose(hosted.clone(hosted.merge), hosted.environ("merge_group", payload))
    assert (span.before.sha, span.after.sha) == (hosted.root, hosted.merge)
    assert changes == {("changed", "a.step"), ("changed", "b.step")}


def test_work_in_hand_does_not_count_in_ci(hosted):
    clone = hosted.clone(hosted.head)
    clone.write("c.step", "written by an earlier step")
    assert choose(clone, {"CI": "true"})[1] == {("changed", "a.step")}
    assert choose(clone, {})[0].after.kind == "worktree"


def test_revisions_that_were_named_win_over_the_event(hosted):
    clone = hosted.clone(hosted.head)
    with Repository.open(clone.path) as repository:
        span = repository.choose_range((hosted.root, hosted.tip), environ=hosted.pull())
    assert (span.before.sha, span.after.sha, span.fork) == (hosted.root, hosted.tip, False)


def gitlab(hosted, **more):
    return {
        "CI": "true",
        "GITLAB_CI": "true",
        "CI_PIPELINE_SOURCE": "merge_request_event",
        "CI_MERGE_REQUEST_PROJECT_ID": "7",
        "CI_MERGE_REQUEST_SOURCE_PROJECT_ID": "7",
        "CI_MERGE_REQUEST_DIFF_BASE_SHA": hosted.root,
        "CI_COMMIT_SHA": hosted.head,
        **more,
    }


def test_gitlab_merge_requests(hosted):
    span, changes = choose(hosted.clone(hosted.head), gitlab(hosted))
    assert (span.before.sha, span.after.sha) == (hosted.root, hosted.head)
    assert changes == {("changed", "a.step")}
    merged = gitlab(
        hosted, CI_COMMIT_SHA=hosted.merge, CI_MERGE_REQUEST_SOURCE_BRANCH_SHA=hosted.head
    )
    span, changes = choose(hosted.clone(hosted.merge), merged)
    assert (span.before.sha, changes) == (hosted.tip, {("changed", "a.step")})


def test_gitlab_shallow(hosted):
    with pytest.raises(HistoryError, match="GIT_DEPTH"):
        choose(hosted.clone(hosted.head, 1), gitlab(hosted))
    nothing = gitlab(hosted, CI_MERGE_REQUEST_DIFF_BASE_SHA="")
    with pytest.raises(HistoryError, match="does not say"):
        choose(hosted.clone(hosted.head), nothing)


def test_gitlab_pushes(hosted):
    source = {
        "CI_PIPELINE_SOURCE": "push",
        "CI_COMMIT_BRANCH": "topic",
        "CI_DEFAULT_BRANCH": "main",
    }
    environ = gitlab(hosted, **source, CI_COMMIT_BEFORE_SHA=hosted.repo.id("topic~1"))
    assert choose(hosted.clone(hosted.head), environ)[0].before.sha == hosted.repo.id("topic~1")
    environ = gitlab(hosted, **source, CI_COMMIT_BEFORE_SHA=ZERO)
    assert choose(hosted.clone(hosted.head), environ)[0].before.sha == hosted.root

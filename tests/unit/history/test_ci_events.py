"""CI environments read from their documented variables and event files.

Field names and meanings: GitHub Docs, "Webhook events and payloads" and "Variables reference";
GitLab Docs, "Predefined CI/CD variables reference". The values are invented.
"""

import json
import os

import pytest

from dfmcheck.errors import HistoryError
from dfmcheck.history.ci import CiEvent, detect, github, gitlab, other

A, B, C = "a" * 40, "b" * 40, "c" * 40
ZERO = "0" * 40
HOME = {"id": 7, "full_name": "studio/lamp"}
FORK = {"id": 8, "full_name": "stranger/lamp"}


@pytest.fixture
def action(tmp_path):
    """The environment of a GitHub action for an event and its payload."""

    def make(name: str, payload: object) -> dict[str, str]:
        place = tmp_path / "event.json"
        place.write_text(payload if isinstance(payload, str) else json.dumps(payload))
        return {
            "CI": "true",
            "GITHUB_ACTIONS": "true",
            "GITHUB_EVENT_NAME": name,
            "GITHUB_EVENT_PATH": str(place),
        }

    return make


def pull(head=HOME, base=HOME, head_sha=B, base_sha=A, number=12):
    return {
        "number": number,
        "pull_request": {
            "number": number,
            "base": {"sha": base_sha, "repo": base},
            "head": {"sha": head_sha, "repo": head},
        },
    }


@pytest.mark.parametrize("value", [None, "", "0", "false", "False", "no", "off", " "])
def test_no_ci(value):
    assert detect({} if value is None else {"CI": value}) is None


@pytest.mark.parametrize("value", ["true", "1", "True", "woodpecker"])
def test_some_ci(value):
    assert detect({"CI": value}) == CiEvent(system="CI", kind="last-commit", title="last commit")
    assert other({"CI": value}) is not None


@pytest.mark.parametrize("name", ["pull_request", "pull_request_target", "pull_request_review"])
def test_github_pull_request(action, name):
    event = github(action(name, pull()))
    assert (event.kind, event.base, event.head, event.fork) == ("pull-request", A, B, False)
    assert event.title == "pull request 12"


@pytest.mark.parametrize(
    ("head", "base", "fork"),
    [
        (HOME, HOME, False),
        (FORK, HOME, True),
        (None, HOME, True),
        ({"full_name": "studio/lamp"}, {"full_name": "studio/lamp"}, False),
        ({"full_name": "stranger/lamp"}, {"full_name": "studio/lamp"}, True),
        ({}, {}, True),
        ("studio/lamp", "studio/lamp", True),
        ({"id": 8, "full_name": "studio/lamp"}, HOME, True),
    ],
)
def test_github_fork(action, head, base, fork):
    """A deleted fork's repository is null; what cannot be told counts as a fork."""
    assert github(action("pull_request", pull(head, base))).fork is fork


def test_github_push(action):
    payload = {
        "ref": "refs/heads/topic",
        "before": A,
        "after": B,
        "repository": {"default_branch": "main"},
    }
    event = github(action("push", payload))
    assert (event.kind, event.base, event.head, event.first) == ("push", A, B, False)
    event = github(action("push", {**payload, "before": ZERO}))
    assert (event.base, event.default_branch, event.first) == (None, "main", False)
    event = github(action("push", {**payload, "before": ZERO, "ref": "refs/heads/main"}))
    assert event.first
    assert github(action("push", {**payload, "ref": "refs/tags/v1"})).kind == "last-commit"
    with pytest.raises(HistoryError, match="deletes a branch"):
        github(action("push", {**payload, "deleted": True, "after": ZERO}))


def test_github_merge_group(action):
    payload = {
        "merge_group": {"base_sha": A, "head_sha": B, "head_ref": "refs/heads/gh-readonly-queue/x"}
    }
    event = github(action("merge_group", payload))
    assert (event.kind, event.base, event.head) == ("merge-queue", A, B)


@pytest.mark.parametrize("name", ["schedule", "workflow_dispatch", "release", "", "--x"])
def test_other_github_events_need_no_event_file(name):
    environ = {"GITHUB_ACTIONS": "true", "GITHUB_EVENT_NAME": name, "GITHUB_EVENT_PATH": "/nowhere"}
    assert github(environ).kind == "last-commit"


@pytest.mark.parametrize(
    "sha",
    ["--output=/tmp/x", "main", "HEAD", "", A[:39], A + "a", A.upper(), A + "\n", "\n" + A,
     None, 7, [A], {"sha": A}, "-" + A[1:], "é" * 40, "ａ" * 40],
)  # fmt: skip
@pytest.mark.parametrize("where", ["base_sha", "head_sha"])
def test_hostile_ids_are_refused(action, sha, where):
    with pytest.raises(HistoryError, match="no commit id") as caught:
        github(action("pull_request", pull(**{where: sha})))
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    "name",
    ["--upload-pack=touch x", "-x", "../../x", "a..b", "a b", "a\nb", "x.lock", "a~1", "a^", "a:b",
     "@{u}", "a@{1}", "a//b", "/a", "a/", ".a", "a/.b", "*", "?", "[", "a\\b", "", "@", "a.",
     "x" * 1000, "a\x7f", None, 3],
)  # fmt: skip
def test_hostile_branch_names_are_left_out(action, name):
    payload = {
        "ref": "refs/heads/t",
        "before": ZERO,
        "after": B,
        "repository": {"default_branch": name},
    }
    assert github(action("push", payload)).default_branch is None


@pytest.mark.parametrize(
    "name", ["main", "release/2026.1", "Überarbeitung", "a-b_c", "feature/#12", "x@y"]
)
def test_honest_branch_names_are_taken(action, name):
    payload = {
        "ref": "refs/heads/t",
        "before": ZERO,
        "after": B,
        "repository": {"default_branch": name},
    }
    assert github(action("push", payload)).default_branch == name


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "null",
        "[" * 100_000,
        '"x"',
        "\x00",
        '{"pull_request": []}',
        '{"pull_request": {"base": 1}}',
    ],
)
def test_event_files_that_make_no_sense(action, text):
    with pytest.raises(HistoryError) as caught:
        github(action("pull_request", text))
    assert "name the revisions" in str(caught.value)


def test_event_files_that_are_not_there(tmp_path):
    environ = {"GITHUB_ACTIONS": "true", "GITHUB_EVENT_NAME": "push"}
    for place in ("", str(tmp_path / "none"), str(tmp_path)):
        with pytest.raises(HistoryError, match="GITHUB_EVENT_PATH"):
            github({**environ, "GITHUB_EVENT_PATH": place})
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(HistoryError, match="GITHUB_EVENT_PATH"):
            github({**environ, "GITHUB_EVENT_PATH": str(tmp_path / "pipe")})


MERGE_REQUEST = {
    "CI": "true",
    "GITLAB_CI": "true",
    "CI_PIPELINE_SOURCE": "merge_request_event",
    "CI_MERGE_REQUEST_IID": "5",
    "CI_MERGE_REQUEST_PROJECT_ID": "7",
    "CI_MERGE_REQUEST_SOURCE_PROJECT_ID": "7",
    "CI_MERGE_REQUEST_DIFF_BASE_SHA": A,
    "CI_MERGE_REQUEST_SOURCE_BRANCH_SHA": "",
    "CI_COMMIT_SHA": B,
}


def test_gitlab_merge_request():
    event = gitlab(MERGE_REQUEST)
    assert (event.kind, event.merge_base, event.head, event.fork) == ("pull-request", A, B, False)
    assert event.title == "merge request 5"
    merged = gitlab({**MERGE_REQUEST, "CI_MERGE_REQUEST_SOURCE_BRANCH_SHA": C})
    assert merged.head == C


@pytest.mark.parametrize("theirs", ["8", "", None])
def test_gitlab_fork(theirs):
    environ = {**MERGE_REQUEST, "CI_MERGE_REQUEST_SOURCE_PROJECT_ID": theirs or ""}
    assert gitlab(environ).fork
    environ.pop("CI_MERGE_REQUEST_SOURCE_PROJECT_ID")
    assert gitlab(environ).fork


def test_gitlab_push():
    push = {
        "GITLAB_CI": "true",
        "CI_PIPELINE_SOURCE": "push",
        "CI_COMMIT_BEFORE_SHA": A,
        "CI_COMMIT_SHA": B,
        "CI_COMMIT_BRANCH": "topic",
        "CI_DEFAULT_BRANCH": "main",
    }
    event = gitlab(push)
    assert (event.kind, event.base, event.head, event.first) == ("push", A, B, False)
    new = gitlab({**push, "CI_COMMIT_BEFORE_SHA": ZERO})
    assert (new.base, new.default_branch) == (None, "main")
    assert gitlab({**push, "CI_COMMIT_BEFORE_SHA": ZERO, "CI_COMMIT_BRANCH": "main"}).first
    assert gitlab({**push, "CI_COMMIT_TAG": "v1"}).kind == "last-commit"
    assert gitlab({**push, "CI_PIPELINE_SOURCE": "schedule"}).kind == "last-commit"
    assert gitlab({**push, "CI_DEFAULT_BRANCH": "--x"}).default_branch is None
    with pytest.raises(HistoryError, match="CI_COMMIT_BEFORE_SHA"):
        gitlab({**push, "CI_COMMIT_BEFORE_SHA": "$(touch x)"})


def test_the_first_system_that_knows_itself_answers(action):
    environ = {**MERGE_REQUEST, **action("pull_request", pull())}
    assert detect(environ).system == "GitHub Actions"
    assert detect(MERGE_REQUEST).system == "GitLab CI"
    assert detect({**MERGE_REQUEST, "GITHUB_ACTIONS": "false"}).system == "GitLab CI"

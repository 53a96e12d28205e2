"""The gate in the situations of real repositories and CI systems, with real git."""

import json
import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from git_folder import GitFolder

HOLD_ON_CORNERS = "[limits]\ninside_corner_radius = 2\n"
ZERO = "0" * 40


@pytest.fixture
def plate(repo: GitFolder, steps: dict[str, bytes]) -> GitFolder:
    """A repository with one committed plate and a limit."""
    repo.write("dfmcheck.toml", HOLD_ON_CORNERS)
    repo.put("cad/plate.step", steps["plate"], "plate")
    return repo


def _event(folder: Path, content: dict[str, object]) -> str:
    path = folder / "event.json"
    path.write_text(json.dumps(content), encoding="utf-8")
    return str(path)


def _pull_request(repo: GitFolder, tmp_path: Path, *, fork: bool) -> dict[str, str]:
    base, head = repo.id("main"), repo.id("change")
    names = {"base": "studio/lamp", "head": "stranger/lamp" if fork else "studio/lamp"}
    event = {
        "pull_request": {
            "base": {"sha": base, "ref": "main", "repo": {"full_name": names["base"], "id": 1}},
            "head": {"sha": head, "ref": "change", "repo": {"full_name": names["head"], "id": 2 if fork else 1}},  # noqa: E501
        }
    }  # fmt: skip
    return {
        "GITHUB_ACTIONS": "true", "CI": "true", "GITHUB_EVENT_NAME": "pull_request",
        "GITHUB_REPOSITORY": "studio/lamp", "GITHUB_BASE_REF": "main", "GITHUB_HEAD_REF": "change",
        "GITHUB_SHA": head, "GITHUB_EVENT_PATH": _event(tmp_path, event),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("what", "configuration"),
    [
        ("weakens a limit", "[limits]\ninside_corner_radius = 0\n"),
        ("takes a level away", HOLD_ON_CORNERS + '[rules]\ninside-corner-radius = "off"\n'),
        ("leaves the part out", 'leave_out = ["cad/**"]\n' + HOLD_ON_CORNERS),
        ("only advises", HOLD_ON_CORNERS + '[gate]\nmode = "advise"\n'),
        ("names a plugin", 'plugins = ["not_installed"]\n' + HOLD_ON_CORNERS),
        (
            "adds a permit",
            HOLD_ON_CORNERS + '[[permit]]\npart = "plate"\nlimit = "inside_corner_radius"\nup_to = 0\n'  # noqa: E501
            'reason = "please"\nowner = "stranger"\nuntil = 2999-12-31\n',
        ),
    ],
)  # fmt: skip
@pytest.mark.parametrize("fork", [True, False])
def test_policy_of_a_fork_comes_from_the_base(
    what: str, configuration: str, fork: bool, plate: GitFolder, steps: dict[str, bytes],
    dfmcheck: Callable, tmp_path: Path,
) -> None:  # fmt: skip
    plate.git("switch", "-q", "-c", "change")
    plate.write("dfmcheck.toml", configuration)
    plate.put("cad/plate.step", steps["pocket"], what)
    ran = dfmcheck("gate", cwd=plate.path, **_pull_request(plate, tmp_path, fork=fork))
    if fork:
        assert ran.status == 3, (ran.out, ran.err)
        assert ran.report["policy_source"].count(plate.id("main")[:7]) == 1
    elif "plugin" in what:
        assert ran.status == 1
        assert "not_installed" in ran.err
    else:
        assert ran.status == 0, (ran.out, ran.err)
        said = ran.out.index("Policy changed")
        assert said < ran.out.index("cad/plate.step") if "cad/plate.step" in ran.out else said


def test_a_fork_that_left_long_ago_is_judged_by_the_branch_of_today(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable, tmp_path: Path
) -> None:
    plate.git("switch", "-q", "-c", "change")
    plate.git("switch", "-q", "main")
    plate.put("dfmcheck.toml", "[limits]\ninside_corner_radius = 3\n", "stricter")
    plate.git("switch", "-q", "change")
    plate.put("dfmcheck.toml", "[limits]\ninside_corner_radius = 0\n", "weaker")
    plate.put("cad/plate.step", steps["pocket"], "pocket")
    ran = dfmcheck("gate", cwd=plate.path, **_pull_request(plate, tmp_path, fork=True))
    assert ran.status == 3, (ran.out, ran.err)
    (finding,) = [f for f in ran.part("cad/plate.step")["findings"] if f["holds"]]
    assert finding["limit"]["value"] == 3


def test_concurrent_runs_share_one_cache(
    plate: GitFolder, steps: dict[str, bytes], tmp_path: Path
) -> None:
    plate.put("cad/plate.step", steps["thicker"], "thicker")
    cache, outs = tmp_path / "shared", []
    command = [
        sys.executable,
        "-m",
        "dfmcheck",
        "gate",
        "--cache",
        str(cache),
        "--report",
        "json=-",
    ]

    def run() -> None:
        done = subprocess.run(command, cwd=plate.path, capture_output=True, check=False)
        outs.append((done.returncode, done.stdout))

    threads = [threading.Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(outs)) == 1
    assert outs[0][0] == 0
    run()
    assert outs[-1] == outs[0]


def test_a_shallow_clone_gets_one_sentence_with_the_mend(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable, tmp_path: Path
) -> None:
    plate.put("cad/plate.step", steps["thicker"], "thicker")
    clone = tmp_path / "clone"
    plate.git("clone", "-q", "--depth", "1", f"file://{plate.path}", str(clone))
    ran = dfmcheck("gate", cwd=clone)
    assert ran.status == 2
    assert "shallow" in ran.err
    assert "git fetch" in ran.err
    assert len(ran.err.strip().splitlines()) <= 3


def test_a_sparse_checkout_deletes_nothing(plate: GitFolder, dfmcheck: Callable) -> None:
    plate.put("docs/readme.txt", "x", "docs")
    plate.git("sparse-checkout", "set", "docs")
    assert not (plate.path / "cad/plate.step").exists()
    ran = dfmcheck("gate", cwd=plate.path)
    assert ran.status == 0
    assert [p for p in ran.report["parts"] if p["status"] == "removed"] == []


@pytest.mark.skipif(
    os.name != "posix" or os.geteuid() != 0, reason="needs to give files to somebody else"
)
def test_a_foreign_owner_gets_one_sentence_with_the_mend(
    plate: GitFolder, dfmcheck: Callable
) -> None:
    for path in [plate.path, *plate.path.rglob("*")]:
        os.chown(path, 12345, 12345)
    ran = dfmcheck("gate", cwd=plate.path)
    assert ran.status == 2
    assert "safe.directory" in ran.err


def test_a_push_with_three_ranges(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    start = plate.id()
    plate.put("cad/plate.step", steps["thicker"], "thicker")
    first = plate.id()
    plate.git("switch", "-q", "-c", "two", start)
    plate.put("cad/plate.step", steps["pocket"], "pocket")
    second = plate.id()
    plate.git("update-ref", "refs/remotes/origin/main", start)
    pushed = (
        f"refs/heads/main {first} refs/heads/main {start}\n"
        f"refs/heads/two {second} refs/heads/two {ZERO}\n"
        f"(delete) {ZERO} refs/heads/old {start}\n"
        f"refs/heads/three {first} refs/heads/three {second}\n"
    )
    ran = dfmcheck("gate", "--pre-push", "origin", cwd=plate.path, stdin=pushed.encode())
    assert ran.status == 3, (ran.out, ran.err)
    runs = ran.report["runs"]
    assert [r["verdict"] for r in runs] == ["release", "hold", "release"]


def test_line_ending_conversion_is_no_change(
    plate: GitFolder, dfmcheck: Callable, steps: dict[str, bytes]
) -> None:
    plate.git("config", "core.autocrlf", "true")
    (plate.path / "cad/plate.step").write_bytes(steps["plate"].replace(b"\n", b"\r\n"))
    ran = dfmcheck("gate", cwd=plate.path)
    assert ran.status == 0
    assert ran.report["range"]["after"]["kind"] == "commit"


def test_a_staged_change_is_seen_by_a_commit_hook(
    plate: GitFolder, steps: dict[str, bytes]
) -> None:
    hook = plate.path / ".git/hooks/pre-commit"
    hook.parent.mkdir(exist_ok=True)
    hook.write_text(
        f'#!/bin/sh\nexec "{sys.executable}" -m dfmcheck gate --staged\n', encoding="utf-8"
    )
    hook.chmod(0o755)
    plate.write("cad/plate.step", steps["pocket"])
    plate.git("add", "cad/plate.step")
    with pytest.raises(AssertionError, match="HOLD"):
        plate.git("commit", "-q", "-m", "pocket")
    plate.write("cad/plate.step", steps["thicker"])
    plate.git("commit", "-q", "-m", "thicker", "cad/plate.step")


def test_a_merge_is_compared_with_its_first_parent(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    plate.git("switch", "-q", "-c", "side")
    plate.put("cad/plate.step", steps["thicker"], "thicker")
    plate.git("switch", "-q", "main")
    plate.put("notes.txt", "x", "notes")
    plate.git("merge", "-q", "--no-ff", "-m", "merge", "side")
    ran = dfmcheck("gate", cwd=plate.path)
    assert [p["status"] for p in ran.report["parts"]] == ["changed"]


def test_bare_repositories_and_work_trees(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable, tmp_path: Path
) -> None:
    plate.put("cad/plate.step", steps["thicker"], "thicker")
    plate.git("clone", "-q", "--bare", str(plate.path), str(tmp_path / "bare.git"))
    assert dfmcheck("gate", cwd=tmp_path / "bare.git").report["parts"][0]["status"] == "changed"
    plate.git("worktree", "add", "-q", "--detach", str(tmp_path / "tree"))
    assert dfmcheck("gate", cwd=tmp_path / "tree").report["parts"][0]["status"] == "changed"


def test_the_unit_is_said_first(repo: GitFolder, dfmcheck: Callable, reference_parts: Path) -> None:
    """Source: the same cube in inch and millimetre, test files of npm occt-import-js."""
    cubes = reference_parts / "cube-units"
    (repo.path / "cube.step").write_bytes((cubes / "cube-mm.step").read_bytes())
    repo.commit("millimetre")
    shutil.copy(cubes / "cube-in.step", repo.path / "cube.step")
    repo.commit("inch")
    part = dfmcheck("gate", cwd=repo.path).part("cube.step")
    assert part["changes"][0]["kind"] == "unit-declared"  # each is 1 m long, as its file declares
    assert part["box_mm"] == pytest.approx([1000, 1000, 1000], abs=0.01)

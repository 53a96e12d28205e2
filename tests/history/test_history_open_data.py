"""A real hardware repository, against the table of its revisions that was made with git by others.

The repository and the table are named in PROVENANCE.md beside the public STEP files.
"""

import csv
import subprocess
from pathlib import Path

import pytest

from dfmcheck.history.names import is_step
from dfmcheck.history.repository import Repository


@pytest.mark.reference_parts
def test_each_commit_of_a_real_repository(reference_parts, tmp_path):
    bundle = reference_parts / "bakeneko-60.bundle"
    subprocess.run(["git", "clone", "-q", str(bundle), str(tmp_path / "repo")], check=True)
    with Path(reference_parts, "bakeneko-60.revisions.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    found = []
    with Repository.open(tmp_path / "repo") as repository:
        for sha in dict.fromkeys(row["commit_reduced"] for row in rows):
            span = repository.choose_range((f"{sha}^!",))
            day = span.after.author_date[:10]
            for change in repository.changes(span, is_step):
                if change.before is not None and change.status in {"removed", "renamed"}:
                    found.append((sha, day, change.before.path, "D", "0" * 12, ""))
                if change.after is not None:
                    letter = "M" if change.status == "changed" else "A"
                    after = change.after
                    found.append((sha, day, after.path, letter, after.oid[:12], str(after.size)))
        last = repository.changes(repository.choose_range(environ={}), is_step)
        log = repository.path_log("case/bakeneko-60-case.step")
    wanted = [
        (r["commit_reduced"], r["date"], r["path"], r["op"], r["blob"], r["size"]) for r in rows
    ]
    assert sorted(found) == sorted(wanted)
    renamed = [(c.before.path, c.after.path) for c in last if c.status == "renamed"]
    assert renamed == [("case/aluminum/bakeneko-60-case.step", "case/bakeneko-60-case.step")]
    commits = [r["commit_reduced"] for r in rows if r["path"].endswith("bakeneko-60-case.step")]
    assert {r.revision.sha for r in log} == set(commits)

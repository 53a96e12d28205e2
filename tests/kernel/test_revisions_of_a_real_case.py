"""Every revision of a real keyboard case: volume within 0.05 %, box within 0.02 mm."""

import csv
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from dfmcheck.model.facts import FileFacts

pytestmark = pytest.mark.reference_parts


@pytest.fixture(scope="module")
def bundle(reference_parts: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    clone = tmp_path_factory.mktemp("case") / "clone.git"
    source = reference_parts / "bakeneko-60.bundle"
    subprocess.run(["git", "clone", "-q", "--bare", str(source), str(clone)], check=True)
    return clone


def blob_of(bundle: Path, blob: str) -> bytes:
    command = ["git", "-C", str(bundle), "cat-file", "blob", blob]
    return subprocess.run(command, capture_output=True, check=True).stdout


def test_a_weight_exported_three_times_has_one_fingerprint(
    bundle: Path, reference_parts: Path, read: Callable[..., FileFacts]
) -> None:
    with (reference_parts / "bakeneko-60.revisions.csv").open(newline="") as file:
        rows = [r for r in csv.DictReader(file) if "weight" in r["path"] and r["op"] != "D"]
    assert len({r["blob"] for r in rows}) == 3
    found = [read(blob_of(bundle, r["blob"])).parts[0] for r in rows]
    assert len({p.fingerprint for p in found}) == 1
    faces = {tuple(sorted(f.fingerprint for f in p.faces)) for p in found}
    assert len(faces) == 1


def test_volumes_and_boxes_of_all_revisions(
    bundle: Path, reference_parts: Path, read: Callable[..., FileFacts]
) -> None:
    with (reference_parts / "bakeneko-60.revisions.csv").open(newline="") as file:
        rows = [r for r in csv.DictReader(file) if r["op"] != "D"]
    assert len(rows) == 12
    for row in rows:
        facts = read(blob_of(bundle, row["blob"]), row["path"])
        (part,) = facts.parts
        assert facts.unit == row["units_declared"] == "m"
        assert facts.schema == row["schema"]
        assert len(part.faces) == int(row["faces"])
        assert part.volume_mm3 == pytest.approx(float(row["volume_mm3"]), rel=5e-4)
        expected = tuple(float(row[f"bbox_{axis}"]) for axis in "xyz")
        assert part.box_mm == pytest.approx(expected, abs=0.02)
        assert not facts.doubts + part.doubts

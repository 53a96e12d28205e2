"""Revisions of a real part; one cube declared in three units; screws with and without threads."""

import csv
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from dfmcheck.comparing.align import align
from dfmcheck.comparing.compare import compare
from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.step import read_step
from dfmcheck.model.part import Part
from dfmcheck.planning.process import choose_process
from dfmcheck.planning.stock import choose_stock

pytestmark = pytest.mark.reference_parts

Revision = Callable[[str, str], Part]


def a_part(data: bytes, name: str) -> Part:
    file = read_step(data, name)
    (facts,) = file.parts
    features = recognise(facts)
    process = choose_process(facts, features)
    return Part(
        file=name,
        number=name,
        unit=file.unit,
        facts=facts,
        features=features,
        process=process,
        stock=choose_stock(facts, process, "aluminium"),
    )


@pytest.fixture(scope="module")
def rows(reference_parts: Path) -> list[dict[str, str]]:
    text = (reference_parts / "bakeneko-60.revisions.csv").read_text(encoding="utf-8")
    return [row for row in csv.DictReader(text.splitlines()) if row["op"] != "D"]


@pytest.fixture(scope="module")
def revision(
    reference_parts: Path, rows: list[dict[str, str]], tmp_path_factory: pytest.TempPathFactory
) -> Revision:
    """The part of this name in this commit (both may be abbreviated)."""
    clone = tmp_path_factory.mktemp("bakeneko") / "repository"
    bundle = reference_parts / "bakeneko-60.bundle"
    subprocess.run(["git", "clone", "-q", str(bundle), str(clone)], check=True)
    parts: dict[str, Part] = {}

    def part(name: str, commit: str) -> Part:
        row = next(r for r in rows if name in r["path"] and r["commit_reduced"].startswith(commit))
        if row["blob"] not in parts:
            data = subprocess.run(
                ["git", "-C", str(clone), "cat-file", "blob", row["blob"]],
                check=True,
                capture_output=True,
            ).stdout
            parts[row["blob"]] = a_part(data, Path(row["path"]).name)
        return parts[row["blob"]]

    return part


def test_the_weight_written_again_is_the_same_shape(revision: Revision) -> None:
    before, after = revision("weight", "eb7fcc2"), revision("weight", "f43a21a")
    found = compare(before, after)
    assert found.same_shape
    assert found.changes == ()
    assert found.motion.is_identity
    assert len(found.faces) == len(before.facts.faces) == 18


def test_first_two_revisions_of_the_case_keep_most_faces(revision: Revision) -> None:
    before, after = revision("case", "1cb655f"), revision("case", "eb7fcc2")
    found = align(before.facts, after.facts)
    assert found.motion.is_identity
    assert len(found.matches.exact) >= 163


PAIRS = [
    ("1cb655f", "eb7fcc2"),
    ("eb7fcc2", "f43a21a"),
    ("f43a21a", "3eece23"),
    ("3eece23", "58fb468"),
    ("58fb468", "1f71192"),
]


@pytest.mark.parametrize("pair", PAIRS, ids="-".join)
def test_metal_changes_as_measured_and_each_change_names_its_cause(
    pair: tuple[str, str], revision: Revision, rows: list[dict[str, str]]
) -> None:
    before, after = (revision("bakeneko-60-case", commit) for commit in pair)
    measured = [
        float(r["volume_mm3"])
        for commit in pair
        for r in rows
        if "bakeneko-60-case" in r["path"] and r["commit_reduced"].startswith(commit)
    ]
    found = compare(before, after)
    assert found.motion.is_identity
    assert not found.same_shape
    (metal,) = [c for c in found.changes if c.kind.startswith("volume-")]
    assert (metal.before, metal.after) == pytest.approx(measured, rel=5e-4)
    assert metal.caused_by is not None
    assert any(c.caused_by is None and (c.feature_before or c.feature_after) for c in found.changes)


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [("in", "m", "inch -> m"), ("m", "mm", "m -> mm"), ("mm", "in", "mm -> inch")],
)
def test_a_cube_in_another_unit_says_the_unit_first(
    before: str, after: str, said: str, reference_parts: Path
) -> None:
    files = [f"cube-{unit}.step" for unit in (before, after)]
    folder = reference_parts / "cube-units"
    found = compare(*(a_part((folder / name).read_bytes(), name) for name in files))
    assert found.same_shape
    assert found.changes[0].kind == "unit-declared"
    assert found.changes[0].text.startswith("unit")
    assert said in found.changes[0].text


@pytest.mark.parametrize(("size", "major_mm"), [("M3-0.5", 3.0), ("M5-0.8", 5.0), ("M8-1.25", 8.0)])
def test_a_thread_that_appears_is_one_change(
    size: str, major_mm: float, reference_parts: Path
) -> None:
    folder = reference_parts / "generated-fasteners"
    names = [f"shcs_{size}x20_{kind}.step" for kind in ("plain", "thread")]
    plain, threaded = (a_part((folder / name).read_bytes(), name) for name in names)
    found = [c for c in compare(plain, threaded).changes if c.caused_by is None]
    assert [c.kind for c in found] == ["thread-modelled"]
    assert found[0].after == pytest.approx(major_mm, abs=0.1)
    back = [c for c in compare(threaded, plain).changes if c.caused_by is None]
    assert [c.kind for c in back] == ["thread-removed"]

"""Bearings come apart, screws with a modelled thread stay together."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from dfmcheck.model.facts import FileFacts

pytestmark = pytest.mark.reference_parts
Read = Callable[..., FileFacts]


@pytest.fixture(scope="module")
def folder(reference_parts: Path) -> Path:
    return reference_parts / "generated-fasteners"


@pytest.fixture(scope="module")
def truth(folder: Path) -> dict[str, dict]:
    return json.loads((folder / "truth.json").read_text())


@pytest.mark.parametrize("name", ["bearing_M8-22-7", "bearing_M6-19-6"])
def test_bearings_are_split_into_their_parts(
    read: Read, folder: Path, truth: dict[str, dict], name: str
) -> None:
    facts = read((folder / f"{name}.step").read_bytes(), name)
    expected = truth[name]
    assert {p.name for p in facts.parts} == {"OuterRace", "InnerRace", "Roller"}
    assert sum(p.count for p in facts.parts) == expected["solids"]
    volume = sum(p.count * p.volume_mm3 for p in facts.parts)
    assert volume == pytest.approx(expected["volume_mm3"], rel=1e-4)
    outer = next(p for p in facts.parts if p.name == "OuterRace")
    assert sorted(outer.box_mm) == pytest.approx(sorted(expected["bbox"]), abs=0.01)
    assert sum(p.count * len(p.faces) for p in facts.parts) == expected["faces"]


@pytest.mark.parametrize("size", ["M3-0.5", "M5-0.8", "M8-1.25"])
def test_a_plain_screw(read: Read, folder: Path, truth: dict[str, dict], size: str) -> None:
    name = f"shcs_{size}x20_plain"
    (part,) = read((folder / f"{name}.step").read_bytes(), name).parts
    assert part.volume_mm3 == pytest.approx(truth[name]["volume_mm3"], rel=1e-4)
    assert sorted(part.box_mm) == pytest.approx(sorted(truth[name]["bbox"]), abs=0.02)
    assert part.turning is not None
    assert part.turning.ratio > 0.95


# volumes of the fused solids, from the kernel's own Boolean union (which takes 7 s or more)
@pytest.mark.parametrize(("size", "fused_mm3"), [("M5-0.8", 583.831)])
def test_overlapping_solids_are_counted_once(
    read: Read, folder: Path, size: str, fused_mm3: float
) -> None:
    name = f"shcs_{size}x20_thread"
    (part,) = read((folder / f"{name}.step").read_bytes(), name).parts
    assert part.volume_mm3 == pytest.approx(fused_mm3, rel=5e-4)


@pytest.mark.parametrize("size", ["M3-0.5", "M5-0.8", "M8-1.25"])
def test_a_screw_with_a_modelled_thread_is_one_part(
    read: Read, folder: Path, truth: dict[str, dict], size: str
) -> None:
    name = f"shcs_{size}x20_thread"
    facts = read((folder / f"{name}.step").read_bytes(), name)
    (part,) = facts.parts
    expected = truth[name]
    assert part.name.startswith("SocketHeadCapScrew")
    assert part.solids == expected["solids"]
    assert part.count == 1
    assert len(part.faces) == expected["faces"]
    assert sorted(part.box_mm) == pytest.approx(sorted(expected["bbox"]), abs=0.02)
    # more than the plain screw on its core, less than all solids added up
    plain = truth[f"shcs_{size}x20_plain"]["volume_mm3"]
    assert plain < part.volume_mm3 < expected["volume_mm3"]
    assert not facts.doubts + part.doubts
    assert part.turning is not None
    assert part.turning.diameter_mm == pytest.approx(expected["bbox"][0], abs=0.02)

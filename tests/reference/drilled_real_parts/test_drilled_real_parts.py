"""A blind hole drilled into faces of real parts is said, and nothing else is claimed to differ."""

import io
import itertools
import math
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepClass3d import BRepClass3d_SolidClassifier
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_State
from plates import carried, motion_of, renumbered

from dfmcheck.comparing.compare import compare
from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.facts import Face, PartFacts
from dfmcheck.model.part import Part
from dfmcheck.planning.process import choose_process
from dfmcheck.planning.stock import choose_stock

pytestmark = pytest.mark.reference_parts

FILES = [
    "nist-ctc/nist_ctc_01_asme1_ap242-e1.stp",
    "nist-ctc/nist_ctc_03_asme1_ap242-e2.stp",
    "surround360/FB360_V1_25.STEP",
    "surround360/FB360_V1_28.STEP",
    "qub-testcases/1_true.stp",
    "qub-testcases/2_true.stp",
    "qub-testcases/3_true.stp",
]
SYMMETRIC = {"FB360_V1_25", "FB360_V1_28", "1_true"}
"""Parts with a plane of symmetry: they are their own mirror images."""
DIAMETER_MM, DEPTH_MM = 2.5, 1.5
AWAY = motion_of((17.0, 43.0, 71.0), (30.0, 40.0, 50.0))


def read_shape(path: Path) -> Any:
    reader = STEPControl_Reader()
    reader.ReadStream("part", io.BytesIO(path.read_bytes()))
    reader.TransferRoots()
    return reader.OneShape()


def a_part(facts: PartFacts) -> Part:
    features = recognise(facts)
    process = choose_process(facts, features)
    return Part(
        file="cad/part.step",
        number="DL-1",
        unit="mm",
        facts=facts,
        features=features,
        process=process,
        stock=choose_stock(facts, process, "aluminium"),
    )


def drilled(shape: Any, facts: PartFacts, seed: int) -> Iterator[PartFacts]:
    """The part with a hole in the middle of a plane face, for faces where it fits."""
    faces = [f for f in facts.faces if f.surface == "plane" and f.area_mm2 > 60.0]
    random.Random(seed).shuffle(faces)
    for face in faces:
        if not all(_is_metal(shape, face, d) for d in (0.01, DEPTH_MM / 2, DEPTH_MM)):
            continue
        x, y, z = (c - n * DEPTH_MM for c, n in zip(face.centroid, face.normal, strict=True))
        axis = gp_Ax2(gp_Pnt(x, y, z), gp_Dir(*face.normal))
        tool = BRepPrimAPI_MakeCylinder(axis, DIAMETER_MM / 2, DEPTH_MM + 1.0).Shape()
        after = part_facts(BRepAlgoAPI_Cut(shape, tool).Shape(), name="part")
        gone = facts.volume_mm3 - after.volume_mm3
        hole = math.pi / 4 * DIAMETER_MM**2 * DEPTH_MM
        if abs(gone - hole) < 0.02 * hole and after.closed:
            yield after


def _is_metal(shape: Any, face: Face, depth_mm: float) -> bool:
    at = (c - n * depth_mm for c, n in zip(face.centroid, face.normal, strict=True))
    state = BRepClass3d_SolidClassifier(shape, gp_Pnt(*at), 1e-6).State()
    return bool(state == TopAbs_State.TopAbs_IN)


@pytest.mark.parametrize("file", FILES, ids=lambda f: Path(f).stem)
def test_a_hole_drilled_into_a_real_part_is_the_only_change(
    file: str, reference_parts: Path
) -> None:
    shape = read_shape(reference_parts / file)
    facts = part_facts(shape, name="part")
    before = a_part(facts)
    holes = list(itertools.islice(drilled(shape, facts, seed=11), 3))
    assert holes
    for number, after in enumerate(holes):
        moved = carried(renumbered(a_part(after), number), AWAY)
        found = compare(before, moved)
        first = [c for c in found.changes if c.caused_by is None]
        assert [c.kind for c in first] == ["hole-added"], [c.text for c in found.changes]
        assert first[0].after == pytest.approx(DIAMETER_MM, abs=0.01)


@pytest.mark.parametrize("file", FILES, ids=lambda f: Path(f).stem)
def test_the_mirror_image_of_a_real_part_is_mirrored_and_nothing_else(
    file: str, reference_parts: Path
) -> None:
    part = a_part(part_facts(read_shape(reference_parts / file), name="part"))
    image = motion_of((17.0, 43.0, 71.0), (30.0, 40.0, 50.0), mirrored=True)
    found = compare(part, carried(renumbered(part, 3), image))
    first = [c.kind for c in found.changes if c.caused_by is None]
    assert first == ([] if found.same_shape else ["mirrored"]), [c.text for c in found.changes]
    assert found.same_shape == (Path(file).stem in SYMMETRIC)

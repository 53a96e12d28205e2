"""All faces of the 414 parts of MFCAD against their class."""

import json
from pathlib import Path

import pytest
from confusion import Confusion
from mfcad_classes import classes

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.step import read_step


@pytest.mark.slow
@pytest.mark.reference_parts
def test_every_face_has_its_class(reference_parts: Path) -> None:
    folder = reference_parts / "mfcad"
    found = Confusion()
    with (folder / "labels_faces.jsonl").open(encoding="utf-8") as lines:
        for line in lines:
            label = json.loads(line)
            path = folder / "step" / label["file"]
            (part,) = read_step(path.read_bytes(), path.name).parts
            called = classes(part, recognise(part))
            assert len(called) == len(label["faces"])
            for face, name in zip(label["faces"], called, strict=True):
                found.add(label["file"], face["i"], face["cls"], name)
    print(found.table())
    assert found.faces == 9103
    assert found.right_ratio >= 0.995

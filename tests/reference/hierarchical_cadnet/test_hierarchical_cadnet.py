"""The faces of three realistic parts against their class."""

import json
from pathlib import Path

import pytest
from confusion import Confusion
from mfcad_classes import classes

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.step import read_step


@pytest.mark.reference_parts
def test_faces_of_realistic_parts(reference_parts: Path) -> None:
    found = Confusion()
    for label in sorted((reference_parts / "qub-testcases").glob("*.labels.json")):
        known = json.loads(label.read_text(encoding="utf-8"))
        path = label.with_name(known["file"])
        (part,) = read_step(path.read_bytes(), path.name).parts
        for face, name in zip(known["faces"], classes(part, recognise(part)), strict=True):
            found.add(path.name, face["i"], face["cls"], name)
    print(found.table())
    assert found.faces == 128
    assert found.right_ratio >= 0.95

"""The faces of one part made of chance cuts against their class and instance."""

import json
from collections import defaultdict
from pathlib import Path

import pytest
from confusion import Confusion
from mfcad_classes import classes

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.step import read_step

SLOT_CALLED_STEP = {5, 7, 9, 21}
"""Faces of one instance that is labelled a blind step with two bottoms: two parallel walls that
face each other 6.6 mm apart, an end wall and a floor, open at one end. That is a blind slot in
the data set's own words, and we call it so."""


@pytest.mark.reference_parts
def test_faces_and_instances(reference_parts: Path) -> None:
    known = json.loads((reference_parts / "aagnet-sample" / "test.labels.json").read_text("utf-8"))
    path = reference_parts / "aagnet-sample" / known["file"]
    (part,) = read_step(path.read_bytes(), path.name).parts
    features = recognise(part)
    found = Confusion()
    for face, name in zip(known["faces"], classes(part, features), strict=True):
        found.add(path.name, face["i"], face["cls"], name)
    print(found.table())
    wrong = {int(line.split("face ")[1].split(":")[0]) for line in found.wrong}
    assert wrong <= SLOT_CALLED_STEP

    instances: dict[int, set[int]] = defaultdict(set)
    for face in known["faces"]:
        if face["instance"] >= 0:
            instances[face["instance"]].add(face["i"])
    assert {frozenset(f.faces) for f in features} == {frozenset(i) for i in instances.values()}

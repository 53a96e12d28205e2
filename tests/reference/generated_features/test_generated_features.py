"""Parts whose features cut each other, against the tools that made them."""

from collections.abc import Iterator
from functools import cache

import pytest
from confusion import Confusion
from made_parts.bench import Answer, Bench
from made_parts.catalogue import by_chance, parts
from made_parts.names import names_of

from dfmcheck.features.recognise import recognise
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature, Hole

Made = tuple[Bench, PartFacts, list[Answer], tuple[Feature, ...]]

UNSEEN = range(5000, 5020)
"""Chance parts with which the recogniser was not developed."""


@cache
def made() -> tuple[Made, ...]:
    """All parts of the catalogue with facts, answers and features."""
    return tuple(_made(make()) for make in parts())


def _made(bench: Bench) -> Made:
    facts = bench.facts()
    return bench, facts, bench.answers(), recognise(facts)


def _count(rows: Iterator[Made] | tuple[Made, ...]) -> Confusion:
    found = Confusion()
    for bench, facts, answers, features in rows:
        called = names_of(facts, features)
        for face, (answer, name) in enumerate(zip(answers, called, strict=True)):
            found.add(bench.title, face, answer.names, name)
    return found


@pytest.mark.slow
def test_every_face_bears_the_name_of_its_tool() -> None:
    assert len(made()) >= 50
    found = _count(made())
    print(found.table())
    assert found.right_ratio >= 0.95


@pytest.mark.slow
def test_parts_not_seen_in_development() -> None:
    found = _count(_made(by_chance(seed)()) for seed in UNSEEN)
    print(found.table())
    assert found.right_ratio >= 0.95


@pytest.mark.slow
def test_holes_have_the_diameter_of_their_tool() -> None:
    checked = 0
    for bench, _, answers, features in made():
        owner = {face: f for f in features for face in f.faces}
        for face, answer in enumerate(answers):
            hole = owner.get(face)
            if not isinstance(hole, Hole) or len(answer.tools) != 1:
                continue
            kind, sizes = bench.tools[next(iter(answer.tools))]
            if kind == "hole":
                assert hole.diameter_mm == pytest.approx(sizes["diameter_mm"], abs=0.01)
                checked += 1
    assert checked > 100


@pytest.mark.slow
def test_no_face_is_in_two_features() -> None:
    for _, facts, _, features in made():
        faces = [face for f in features for face in f.faces]
        assert len(faces) == len(set(faces))
        assert all(0 <= face < len(facts.faces) for face in faces)
        assert len({f.id for f in features}) == len(features)
        assert all(f.of is None or f.of in {o.id for o in features} for f in features)

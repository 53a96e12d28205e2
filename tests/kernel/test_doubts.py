"""What makes a reading untrustworthy is seen and said; what is sound is not doubted."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from build123d import Box, Cylinder, Pos

from dfmcheck.kernel.pool import KernelPool
from dfmcheck.model.facts import FileFacts, NotRead

Read = Callable[..., FileFacts]
Complaint = Callable[[bytes], str]


@pytest.fixture(scope="module")
def block(as_step: Callable[..., bytes]) -> bytes:
    return as_step(Box(60, 40, 20) - Pos(8, 3, 0) * Cylinder(4, 20), "block")


def doubts_of(facts: FileFacts) -> str:
    return "; ".join([*facts.doubts, *(d for p in facts.parts for d in p.doubts)])


@pytest.fixture(scope="module")
def complaint(kernel_pool: KernelPool) -> Callable[[bytes], str]:
    """What is said against a file, read or not."""

    def complaining(data: bytes) -> str:
        answer = kernel_pool.submit(data, "block.step").result()
        return answer.reason if isinstance(answer, NotRead) else doubts_of(answer)

    return complaining


def numbers_of(data: bytes, entity: bytes) -> list[bytes]:
    return re.findall(rb"#(\d+) = " + entity + rb"\b", data)


def without(data: bytes, number: bytes) -> bytes:
    return re.sub(rb"\n#" + number + rb" = [^;]*;", b"", data, count=1)


def test_a_sound_file_is_not_doubted(read: Read, block: bytes) -> None:
    assert doubts_of(read(block)) == ""


def test_a_missing_entity(complaint: Complaint, block: bytes) -> None:
    plane = numbers_of(block, b"PLANE")[0]
    answer = complaint(without(block, plane))
    assert f"#{plane.decode()}, line" in answer
    assert "does not hold" in answer


def test_an_entity_of_the_wrong_kind(complaint: Complaint, block: bytes) -> None:
    line = numbers_of(block, b"LINE")[0]
    text = complaint(block.replace(b"#%s = LINE(" % line, b"#%s = PLANE(" % line))
    assert "break the rules of ISO 10303" in text


def test_a_point_that_is_moved_away(read: Read, block: bytes) -> None:
    # one corner 3 mm off: the kernel bridges the gap and calls the solid valid
    vertex = numbers_of(block, b"VERTEX_POINT")[0]
    point = re.search(rb"#%s = VERTEX_POINT\('',#(\d+)\)" % vertex, block)
    assert point is not None
    place = re.search(rb"#%s = CARTESIAN_POINT\('',\(([^,]*)," % point.group(1), block)
    assert place is not None
    moved = str(float(place.group(1)) + 3.0).encode()
    data = block[: place.start(1)] + moved + block[place.end(1) :]
    assert "miss each other" in doubts_of(read(data))


def test_a_missing_face(complaint: Complaint, block: bytes) -> None:
    faces = numbers_of(block, b"ADVANCED_FACE")
    data = re.sub(rb"(CLOSED_SHELL\('',\()#%s," % faces[0], rb"\1", block)
    answer = complaint(data)
    assert "open" in answer or "no closed solid" in answer


def test_a_solid_turned_inside_out(read: Read, block: bytes) -> None:
    turned = re.sub(rb"(ADVANCED_FACE\([^;]*),\.T\.\)", rb"\1,.X.)", block)
    turned = re.sub(rb"(ADVANCED_FACE\([^;]*),\.F\.\)", rb"\1,.T.)", turned)
    turned = turned.replace(b",.X.)", b",.F.)")
    facts = read(turned)  # the kernel may mend it or not; it must not come out wrong unsaid
    (part,) = facts.parts
    sound = part.volume_mm3 == pytest.approx(60 * 40 * 20 - 3.14159265 * 16 * 20, rel=1e-6)
    assert sound or doubts_of(facts)


def test_damage_is_named_when_no_solid_is_left(kernel_pool: KernelPool, block: bytes) -> None:
    shell = numbers_of(block, b"CLOSED_SHELL")[0]
    answer: Any = kernel_pool.submit(without(block, shell), "block.step").result()
    if isinstance(answer, NotRead):
        assert answer.kind in ("damaged", "crash")
        assert f"#{shell.decode()}" in answer.reason
    else:
        assert doubts_of(answer)


def test_line_and_entity_of_every_face(read: Read, block: bytes) -> None:
    (part,) = read(block).parts
    lines = block.split(b"\n")
    for face in part.faces:
        assert face.line is not None
        assert lines[face.line - 1].startswith(b"#%d = ADVANCED_FACE(" % face.entity)
    assert len({f.entity for f in part.faces}) == len(part.faces)


@pytest.mark.reference_parts
@pytest.mark.slow
def test_no_public_file_is_doubted(reference_parts: Path, kernel_pool: KernelPool) -> None:
    files = sorted(p for p in reference_parts.rglob("*") if p.suffix.lower() in (".step", ".stp"))
    futures = [(p, kernel_pool.submit(p.read_bytes(), p.name)) for p in files]
    assert len(futures) > 400
    for path, future in futures:
        facts = future.result()
        assert isinstance(facts, FileFacts), (path.name, facts)
        assert not doubts_of(facts), path.name
        assert all(f.line is not None for p in facts.parts for f in p.faces), path.name

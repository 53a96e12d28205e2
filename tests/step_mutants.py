"""Damaged STEP files: a seeded choice of what goes wrong with files in the real world."""

import random
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

_ENTITY = re.compile(rb"^\s*#\d+\s*=[^;]*;", re.MULTILINE)
_REFERENCE = re.compile(rb"#(\d+)(?!\s*=)(?=\s*[,)])")
_NUMBER = re.compile(rb"(?<=[(,\s])-?\d+\.\d*(?:E[+-]?\d+)?(?=\s*[,)])")

LFS_POINTER = (
    b"version https://git-lfs.github.com/spec/v1\n"
    b"oid sha256:4d7a214614ab2935c943f9e0ff69d22eadbb8f32b1258daaa5e2ca24d17e2393\n"
    b"size 12345\n"
)


@dataclass(frozen=True)
class Mutant:
    """A damaged file: which one, what was done to it, and its bytes."""

    base: str
    kind: str
    number: int
    data: bytes

    @property
    def name(self) -> str:
        return f"{self.base}-{self.kind}-{self.number}.step"


def truncated(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(1, len(data) - 20)]


def truncated_with_end(data: bytes, rng: random.Random) -> bytes:
    """Cut, and closed properly again, as by a tool that repairs too much."""
    cut = data.rfind(b";", 0, rng.randrange(len(data) // 4, len(data)))
    return data[: cut + 1] + b"\nENDSEC;\nEND-ISO-10303-21;\n"


def bytes_flipped(data: bytes, rng: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 8, 40))):
        changed[rng.randrange(len(changed))] = rng.randrange(256)
    return bytes(changed)


def digits_flipped(data: bytes, rng: random.Random) -> bytes:
    """One digit becomes another: what a bad disk or a careless edit leaves."""
    places = [m.start() for m in re.finditer(rb"\d", data)]
    changed = bytearray(data)
    for _ in range(rng.choice((1, 1, 3))):
        changed[rng.choice(places)] = rng.choice(b"0123456789")
    return bytes(changed)


def numbers_changed(data: bytes, rng: random.Random) -> bytes:
    found = list(_NUMBER.finditer(data))
    changed = data
    for m in sorted(rng.sample(found, k=rng.choice((1, 1, 3, 10))), key=lambda m: -m.start()):
        old = float(m.group())
        new = rng.choice((0.0, -old, old * 1.1, old * 10.0, old + 1.0, old + 0.01, 1e308, 1e-9))
        changed = changed[: m.start()] + repr(new).upper().encode() + changed[m.end() :]
    return changed


def references_broken(data: bytes, rng: random.Random) -> bytes:
    found = list(_REFERENCE.finditer(data))
    changed = data
    numbers = [m.group(1) for m in found]
    for m in sorted(rng.sample(found, k=rng.choice((1, 1, 3, 10))), key=lambda m: -m.start()):
        new = rng.choice((rng.choice(numbers), rng.choice(numbers), b"99999999", b"0"))
        changed = changed[: m.start()] + b"#" + new + changed[m.end() :]
    return changed


def entities_removed(data: bytes, rng: random.Random) -> bytes:
    found = list(_ENTITY.finditer(data))
    changed = data
    for m in sorted(rng.sample(found, k=rng.choice((1, 1, 3, 10))), key=lambda m: -m.start()):
        changed = changed[: m.start()] + changed[m.end() :]
    return changed


def lines_removed(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    start = rng.randrange(len(lines))
    del lines[start : start + rng.choice((1, 1, 5, 50))]
    return b"\n".join(lines)


def lines_doubled(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    start = rng.randrange(len(lines))
    length = rng.choice((1, 5, 50))
    return b"\n".join(lines[: start + length] + lines[start:])


def emptied(data: bytes, rng: random.Random) -> bytes:
    del data
    return rng.choice((b"", b"\n", b"   \n\n", b"\x00" * 64))


def binary(data: bytes, rng: random.Random) -> bytes:
    head = rng.choice(
        (b"", b"PK\x03\x04", b"\x89PNG\r\n", b"solid part\n", b"<?xml version='1.0'?>")
    )
    return head + rng.randbytes(rng.randrange(1, len(data)))


def pointer(data: bytes, rng: random.Random) -> bytes:
    del data, rng
    return LFS_POINTER


def conflicted(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    at = rng.randrange(1, len(lines))
    kept = lines[at : at + 3]
    marks = [b"<<<<<<< HEAD", *kept, b"=======", *kept, b">>>>>>> other"]
    return b"\n".join([*lines[:at], *marks, *lines[at + 3 :]])


KINDS: dict[str, Callable[[bytes, random.Random], bytes]] = {
    "truncated": truncated,
    "truncated-with-end": truncated_with_end,
    "bytes-flipped": bytes_flipped,
    "digits-flipped": digits_flipped,
    "numbers-changed": numbers_changed,
    "references-broken": references_broken,
    "entities-removed": entities_removed,
    "lines-removed": lines_removed,
    "lines-doubled": lines_doubled,
    "emptied": emptied,
    "binary": binary,
    "lfs-pointer": pointer,
    "conflict-markers": conflicted,
}

_RARE = ("emptied", "binary", "lfs-pointer", "conflict-markers", "truncated")


def mutants(bases: dict[str, bytes], count: int, seed: int) -> Iterator[Mutant]:
    """`count` mutants, in turn of each file and each kind; plain damage is made less often."""
    rng = random.Random(seed)
    kinds = [k for k in KINDS for _ in range(1 if k in _RARE else 3)]
    names = sorted(bases)
    for number in range(count):
        base = names[number % len(names)]
        kind = kinds[(number // len(names)) % len(kinds)]
        yield Mutant(base, kind, number, KINDS[kind](bases[base], rng))

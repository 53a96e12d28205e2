"""Damaged files cost their own answer and nothing else, and rarely come out wrong unsaid.

By default a small seeded share runs on files made here; all 1,000 run with the marker `slow`, on
public files where they are at hand.
"""

import io
import subprocess
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from step_mutants import mutants

from dfmcheck.kernel.pool import KernelPool
from dfmcheck.model.facts import FileFacts, NotRead

SEED = 20260101

KINDS_OF_ANSWER = {
    "damaged", "empty", "not-step", "lfs-pointer", "no-solid", "crash", "timeout", "memory",
}  # fmt: skip

MOST_WRONG = 0.005
"""Share of mutants that may come out wrong without a doubt: those cut so that a whole, sound
file with fewer parts is left, and those in which a size changed everywhere it stands."""


@pytest.fixture(scope="module")
def pool() -> Iterator[KernelPool]:
    with KernelPool(workers=2, seconds=20, memory_mb=1500) as opened:
        yield opened


def made() -> dict[str, bytes]:
    from build123d import Box, Compound, Cone, Cylinder, Pos, Sphere, Torus, export_step, fillet

    pins = [Pos(30 * i, 0, 0) * Cylinder(3, 20) for i in range(3)]
    for pin in pins:
        pin.label = "pin"
    bar = Pos(0, 40, 0) * Box(80, 9, 9)
    bar.label = "bar"
    shapes: dict[str, Any] = {
        "plate": Box(60, 40, 20) - Pos(8, 3, 0) * Cylinder(4, 20),
        "rounded": fillet((Box(30, 20, 10) - Cylinder(4, 10)).edges(), 1),
        "shaft": Cylinder(10, 30) + Pos(0, 0, 25) * Cylinder(6, 20) - Cylinder(2, 90),
        "cone": Cone(12, 5, 20) - Pos(0, 0, 12) * Sphere(6),
        "ring": Torus(20, 4),
        "set": Compound(label="set", children=[*pins, bar]),
    }
    files = {}
    for name, shape in shapes.items():
        stream = io.BytesIO()
        export_step(shape, stream, timestamp="2026-01-02T03:04:05")
        files[name] = stream.getvalue()
    return files


def public(folder: Path, clone: Path) -> dict[str, bytes]:
    subprocess.run(
        ["git", "clone", "-q", "--bare", str(folder / "bakeneko-60.bundle"), str(clone)],
        check=True,
    )
    weight = subprocess.run(
        ["git", "-C", str(clone), "cat-file", "blob", "08c285a75d30"],
        capture_output=True,
        check=True,
    ).stdout
    fasteners = folder / "generated-fasteners"
    return {
        "plate": (fasteners / "plate_M5-0.8.step").read_bytes(),
        "screw": (fasteners / "shcs_M5-0.8x20_plain.step").read_bytes(),
        "bearing": (fasteners / "bearing_M6-19-6.step").read_bytes(),
        "cube": (folder / "cube-units" / "cube-in.step").read_bytes(),
        "mount": (folder / "surround360" / "FB360_V1_28.STEP").read_bytes(),
        "weight": weight,
    }


def same(answer: FileFacts, good: FileFacts) -> bool:
    """True where parts, counts, volumes (0.05 %) and boxes (0.02 mm) are the whole file's."""
    if len(answer.parts) != len(good.parts):
        return False
    return all(
        a.count == b.count
        and abs(a.volume_mm3 - b.volume_mm3) <= 5e-4 * abs(b.volume_mm3)
        and all(abs(x - y) <= 0.02 for x, y in zip(a.box_mm, b.box_mm, strict=True))
        for a, b in zip(answer.parts, good.parts, strict=True)
    )


def run(pool: KernelPool, bases: dict[str, bytes], count: int) -> Counter[str]:
    good = {name: pool.submit(data, name).result() for name, data in bases.items()}
    assert all(isinstance(g, FileFacts) and not g.doubts for g in good.values())
    found: Counter[str] = Counter()
    futures = [(m, pool.submit(m.data, m.name)) for m in mutants(bases, count, SEED)]
    for mutant, future in futures:
        answer = future.result()
        if isinstance(answer, NotRead):
            assert answer.kind in KINDS_OF_ANSWER
            assert answer.reason.strip()
            assert answer.remedy.strip()
            assert "\n" not in answer.reason
            found[answer.kind] += 1
            continue
        doubted = bool(answer.doubts) or any(p.doubts for p in answer.parts)
        right = same(answer, good[mutant.base])
        if doubted:
            found["doubted, right" if right else "doubted, wrong"] += 1
        else:
            found["right" if right else "WRONG"] += 1
            if not right:
                print("wrong without a doubt:", mutant.name)
    print(dict(found))
    assert sum(found.values()) == count
    for name, data in bases.items():  # the pool is as good as before
        assert pool.submit(data, name).result() == good[name]
    return found


def test_a_share_of_mutants(pool: KernelPool) -> None:
    found = run(pool, made(), 60)
    assert found["WRONG"] <= 1


@pytest.mark.slow
def test_a_thousand_mutants(
    pool: KernelPool, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    import os

    if os.environ.get("DFMCHECK_REFERENCE_PARTS"):
        bases = public(request.getfixturevalue("reference_parts"), tmp_path / "clone.git")
    else:
        bases = made()
    found = run(pool, bases, 1000)
    assert found["WRONG"] <= MOST_WRONG * 1000

"""Several real processes on one cache: every answer is whole and right, whatever the others do."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from dfmcheck.cache.keys import facts_key
from dfmcheck.cache.store import Cache

# Puts and gets at random; each key has three values of its own, and any other is wrong.
WORKER = """
import hashlib, random, sys, time
from pathlib import Path
from dfmcheck.cache.keys import facts_key
from dfmcheck.cache.store import Cache

folder, seconds = Path(sys.argv[1]), float(sys.argv[3])
seed, most = int(sys.argv[2]), int(sys.argv[4])
chance = random.Random(seed)

def value(name, version):
    block = hashlib.sha256(f"{name} {version}".encode()).digest()
    return name.encode() + b"|" + block * (50 + 97 * version % 400)

known = [value(f"k{i}", v) for i in range(40) for v in range(3)]
names = {f"k{i}": {value(f"k{i}", v) for v in range(3)} for i in range(40)}
keys = {n: facts_key(f"git:{n}", kernel="8", analyser=1) for n in names}
hits = misses = 0
cache = Cache(folder, most_bytes=most)
end = time.time() + seconds
while time.time() < end:
    name = chance.choice(list(names))
    if chance.random() < 0.4:
        cache.put(keys[name], value(name, chance.randrange(3)))
        continue
    found = cache.get(keys[name])
    if found is None:
        misses += 1
    elif found in names[name]:
        hits += 1
    else:
        print("WRONG", name, len(found))
        sys.exit(1)
print(hits, misses, list(cache.warnings))
"""


def start(folder: Path, seed: int, seconds: float, most: int) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-c", WORKER, str(folder), str(seed), str(seconds), str(most)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def size_of(folder: Path) -> int:
    total = 0
    for path in folder.rglob("*"):
        if len(path.name) == 62:
            try:
                total += -(-path.stat().st_size // 4096) * 4096
            except FileNotFoundError:
                continue
    return total


@pytest.mark.parametrize("most", [1 << 30, 1 << 18], ids=["roomy", "sweeping all the time"])
def test_many_runs_at_once(tmp_path: Path, most: int) -> None:
    runs = [start(tmp_path, seed, 2.0, most) for seed in range(4)]
    hits = 0
    for run in runs:
        out, err = run.communicate(timeout=60)
        assert run.returncode == 0, out + err
        mine, _, warnings = out.split(maxsplit=2)
        hits += int(mine)
        assert warnings.strip() == "[]"
    assert hits > 100
    assert list((tmp_path / "v1" / "tmp").iterdir()) == []
    if most < 1 << 20:
        # Each of four runs may be one entry ahead of a sweep that another has begun.
        assert size_of(tmp_path) <= most + 4 * 20_000


@pytest.mark.skipif(os.name != "posix", reason="needs SIGKILL")
def test_killed_runs_leave_nothing_wrong_behind(tmp_path: Path) -> None:
    reader = start(tmp_path, 99, 4.0, 1 << 30)
    for seed in range(6):
        victim = start(tmp_path, seed, 60.0, 1 << 30)
        time.sleep(0.45)
        victim.send_signal(signal.SIGKILL)
        victim.communicate()
        assert victim.returncode == -signal.SIGKILL
    out, err = reader.communicate(timeout=60)
    assert reader.returncode == 0, out + err
    check = start(tmp_path, 7, 0.5, 1 << 30)
    out, err = check.communicate(timeout=60)
    assert check.returncode == 0, out + err


def test_a_folder_removed_under_a_run_is_misses(tmp_path: Path) -> None:
    import shutil

    name = facts_key("git:1", kernel="8", analyser=1)
    cache = Cache(tmp_path / "c")
    cache.put(name, b"one")
    shutil.rmtree(tmp_path / "c")
    assert cache.get(name) is None
    cache.put(name, b"two")
    assert len(cache.warnings) == 1
    assert cache.get(name) is None
    assert Cache(tmp_path / "c").get(name) is None


def test_a_layout_exchanged_under_a_run_is_not_used(tmp_path: Path) -> None:
    """The folder that was checked is held open: another put in its place gets nothing."""
    name = facts_key("git:1", kernel="8", analyser=1)
    cache = Cache(tmp_path)
    cache.put(name, b"one")
    (tmp_path / "v1").rename(tmp_path / "moved")
    trap = tmp_path / "trap"
    trap.mkdir()
    (tmp_path / "v1").symlink_to(trap)
    cache.put(name, b"two")
    if os.open in os.supports_dir_fd:
        assert list(trap.iterdir()) == []
        assert cache.get(name) == b"two"

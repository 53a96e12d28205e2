"""What a cold gate of one changed part costs against bare reads in the same kernel, as ratios.

A bare read is reading and transferring the file, nothing else; a kernel start is a process that
loads the kernel. The gate reads both revisions and does everything else besides.
"""

import os
import shutil
import statistics
import subprocess
import sys
from pathlib import Path

import pytest
from timing import seconds

pytestmark = [pytest.mark.benchmark, pytest.mark.reference_parts]

START = "from OCP.STEPControl import STEPControl_Reader\n"
BARE = (
    START
    + """
import sys, time
start = time.perf_counter()
for name in sys.argv[1:]:
    reader = STEPControl_Reader()
    reader.ReadFile(name)
    reader.TransferRoots()
    reader.OneShape()
print(time.perf_counter() - start)
"""
)
PARTS = [
    "nist-ctc/nist_ctc_01_asme1_ap242-e1.stp",
    "nist-ctc/nist_ctc_02_asme1_ap242-e2.stp",
    "nist-ctc/nist_ctc_03_asme1_ap242-e2.stp",
    "surround360/FB360_V1_22.STEP",
    "surround360/FB360_V1_24.STEP",
    "surround360/FB360_V1_25.STEP",
    "surround360/FB360_V1_28.STEP",
]


def _repository(folder: Path, part: Path) -> None:
    environ = {k: v for k, v in os.environ.items() if not k.startswith("GIT_")}
    environ |= {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_NOSYSTEM": "1"}
    for who in ("AUTHOR", "COMMITTER"):
        environ |= {f"GIT_{who}_NAME": "Ada (invented)", f"GIT_{who}_EMAIL": "ada@example.invalid"}

    def git(*arguments: str) -> None:
        subprocess.run(
            ["git", *arguments], cwd=folder, env=environ, check=True, capture_output=True
        )

    git("init", "-q")
    shutil.copyfile(part, folder / "part.step")
    git("add", ".")
    git("commit", "-q", "-m", "first")
    with (folder / "part.step").open("ab") as file:
        file.write(b"/* saved again */\n")
    git("commit", "-q", "-a", "-m", "second")


@pytest.mark.parametrize("name", PARTS)
def test_a_cold_gate_against_bare_reads(name: str, reference_parts: Path, tmp_path: Path) -> None:
    part = reference_parts / name
    folder = tmp_path / "repository"
    folder.mkdir()
    _repository(folder, part)
    environ = {k: v for k, v in os.environ.items() if not k.startswith(("GITHUB_", "CI"))}
    environ.pop("PYTHONDONTWRITEBYTECODE", None)
    environ["PYTHONPYCACHEPREFIX"] = str(tmp_path / "bytecode")
    starts, reads, gates = [], [], []
    gate = [sys.executable, "-m", "dfmcheck", "gate", "--no-cache"]
    seconds(gate, folder, environ)  # writes the bytecode
    for _ in range(3):
        starts.append(seconds([sys.executable, "-c", START], folder, environ))
        bare = [sys.executable, "-c", BARE, str(part), str(folder / "part.step")]
        done = subprocess.run(bare, capture_output=True, text=True, check=True, env=environ)
        reads.append(float(done.stdout))
        gates.append(seconds(gate, folder, environ))
    start, read, spent = (statistics.median(x) for x in (starts, reads, gates))
    print(
        f"{name}: gate {spent:.2f} s, kernel start {start:.2f} s, two bare reads {read:.2f} s; "
        f"over 3 x (reads + start) {spent / (3 * (read + start)):.2f}, "
        f"over 3 x reads + start {spent / (3 * read + start):.2f}"
    )
    assert spent <= 3 * (read + start)

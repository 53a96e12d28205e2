"""Few processes, so that a gate without changes is quick."""

import subprocess
import sys
import threading

import pytest
from timing import ratio

from dfmcheck.history.objects import Objects
from dfmcheck.history.process import GitProcess
from dfmcheck.history.repository import Repository


@pytest.fixture
def thousand(repo):
    """A thousand files in forty folders, two commits, nothing in hand."""
    for i in range(1000):
        repo.write(f"cad/f{i // 25:02}/p{i}.step", "ISO-10303-21;\n" + f"#{i}=X;\n" * 40)
    repo.commit()
    repo.put("cad/f00/p0.step", "ISO-10303-21;\n#1=Y;\n")
    repo.git("gc", "--quiet")
    repo.git("status")
    return repo


def gate_like(repo, environ) -> int:
    """What a gate asks for; the number of git processes."""
    with Repository.open(repo.path) as repository:
        span = repository.choose_range(environ=environ)
        repository.changes(span)
        assert len(repository.files(span.after)) == 1000
        return repository.processes


def test_processes_are_few(thousand):
    """In a work tree: place, configuration, status, objects; in CI the first and the last."""
    assert gate_like(thousand, {}) == 4
    assert gate_like(thousand, {"CI": "true"}) == 2


def test_processes_do_not_grow_with_the_files_in_hand(thousand):
    for i in range(1, 60):
        thousand.write(f"cad/f00/p{i % 25}.step", f"altered {i}")
    assert gate_like(thousand, {}) == 5


def test_many_questions_at_once_do_not_block(repo):
    """More than pipes hold: sent all before an answer is read, neither side would go on."""
    repo.commit(**{"a.step": "1"})
    oid = repo.id("HEAD:a.step")
    objects = Objects(GitProcess(str(repo.path)))
    answers: list[object] = []
    asking = threading.Thread(
        target=lambda: answers.extend(objects.info([oid] * 6000)), daemon=True
    )
    asking.start()
    asking.join(timeout=20)
    assert len(answers) == 6000
    objects.close()


@pytest.mark.benchmark
def test_a_look_costs_little_beside_the_libraries(thousand):
    """Beside a process that imports rich, git and pluggy and lists what changed by git."""
    bare = (
        "import rich.console, git, pluggy\n"
        f"git.Git({str(thousand.path)!r}).execute(['git', 'diff', '--name-only', 'HEAD'])\n"
    )
    ours = (
        "import rich.console, git, pluggy\n"
        "from dfmcheck.history.repository import Repository\n"
        f"with Repository.open({str(thousand.path)!r}) as r:\n"
        "    span = r.choose_range(environ={})\n"
        "    r.changes(span)\n"
        "    r.files(span.after)\n"
    )

    python = [sys.executable, "-c"]
    found = ratio([*python, ours], [*python, bare], thousand.path, runs=9)
    print(f"ratio {found:.2f}")
    assert found < 2.0


def test_nothing_heavy_is_imported():
    code = (
        "import sys, dfmcheck.history.repository\n"
        "print([m for m in ('OCP', 'numpy', 'scipy', 'shapely', 'rich') if m in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"

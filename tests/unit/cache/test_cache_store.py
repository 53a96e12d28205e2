"""The store of one process: round trips, corruption, bounds, rights, trouble with the disk."""

import errno
import os
import stat
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dfmcheck.cache import folder as folder_module
from dfmcheck.cache.entry import HEADER, packed, unpacked
from dfmcheck.cache.folder import Folder, default_folder
from dfmcheck.cache.keys import facts_key
from dfmcheck.cache.store import Cache, sweep

posix = pytest.mark.skipif(os.name != "posix", reason="rights of files are POSIX's")


def key(name: object) -> str:
    return facts_key(f"git:{name}", kernel="8", analyser=1)


def path_of(root: Path, name: str) -> Path:
    return root / "v1" / name[:2] / name[2:]


@pytest.fixture(params=["by descriptor", "by path"])
def root(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for a cache, reached through its descriptor and, as on some systems, by its path."""
    if request.param == "by path":
        monkeypatch.setattr(folder_module, "_BY_DESCRIPTOR", False)
    return tmp_path / "deep" / "er"


def test_what_is_put_is_got(root: Path) -> None:
    cache = Cache(root)
    assert cache.get(key(1)) is None
    cache.put(key(1), b"one")
    cache.put(key(2), b"")
    cache.put(key(1), b"uno")
    assert (cache.get(key(1)), cache.get(key(2)), cache.get(key(3))) == (b"uno", b"", None)
    again = Cache(root)
    assert again.get(key(1)) == b"uno"
    assert cache.warnings == again.warnings == ()
    leftover = list((root / "v1" / "tmp").iterdir())
    assert leftover == []


@settings(
    max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(st.tuples(st.integers(0, 5), st.binary(max_size=300)), max_size=20))
def test_it_is_a_dictionary(tmp_path: Path, puts: list[tuple[int, bytes]]) -> None:
    with Cache(tmp_path / os.urandom(4).hex()) as cache:
        model: dict[int, bytes] = {}
        for name, data in puts:
            cache.put(key(name), data)
            model[name] = data
        assert {n: cache.get(key(n)) for n in range(6)} == {n: model.get(n) for n in range(6)}


@pytest.mark.parametrize("name", ["", "a", "../../etc/passwd", "G" * 64, "A" * 64, "a" * 65])
def test_what_is_no_key_is_refused(tmp_path: Path, name: str) -> None:
    cache = Cache(tmp_path)
    with pytest.raises(ValueError, match="64 hexadecimal digits"):
        cache.get(name)
    with pytest.raises(ValueError, match="64 hexadecimal digits"):
        cache.put(name, b"")
    assert list(tmp_path.iterdir()) == []


def test_it_touches_nothing_until_it_is_used(tmp_path: Path) -> None:
    with Cache(tmp_path / "c"):
        pass
    assert list(tmp_path.iterdir()) == []


def test_none_keeps_nothing_and_warns_of_nothing(tmp_path: Path) -> None:
    cache = Cache.none()
    cache.put(key(1), b"one")
    cache.close()
    assert cache.get(key(1)) is None
    assert cache.warnings == ()


# Corruption.
@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200), st.data())
def test_every_altered_entry_is_none(data: bytes, draw: st.DataObject) -> None:
    entry = packed(key(1), data)
    assert unpacked(key(1), entry) == data
    assert unpacked(key(2), entry) is None
    at = draw.draw(st.integers(0, len(entry) - 1))
    bit = draw.draw(st.integers(0, 7))
    flipped = bytearray(entry)
    flipped[at] ^= 1 << bit
    assert unpacked(key(1), bytes(flipped)) is None
    assert unpacked(key(1), entry[:at]) is None
    assert unpacked(key(1), entry + draw.draw(st.binary(min_size=1, max_size=9))) is None
    assert unpacked(key(1), draw.draw(st.binary(max_size=300))) is None


def damage(entry: Path, how: str) -> None:
    good = entry.read_bytes()
    if how == "cut short":
        entry.write_bytes(good[: len(good) // 2])
    elif how == "cut in the header":
        entry.write_bytes(good[: HEADER - 1])
    elif how == "empty":
        entry.write_bytes(b"")
    elif how == "foreign":
        entry.write_bytes(b"\x80\x04\x95pickle or whatever\n" * 50)
    elif how == "another layout":
        entry.write_bytes(good.replace(b"cache 1", b"cache 2", 1))
    elif how == "another key's":
        entry.write_bytes(packed(key("other"), b"other"))
    elif how == "a folder":
        entry.unlink()
        entry.mkdir()
    elif how == "a link":
        entry.rename(entry.with_name("target"))
        entry.symlink_to("target")
    elif how == "a pipe":
        entry.unlink()
        os.mkfifo(entry)


HARMS = [
    "cut short", "cut in the header", "empty", "foreign", "another layout", "another key's",
    "a link", "a pipe",
]  # fmt: skip


@posix
@pytest.mark.parametrize("how", [*HARMS, "a folder"])
def test_a_damaged_entry_is_a_miss_without_a_warning(root: Path, how: str) -> None:
    cache = Cache(root)
    cache.put(key(1), b"one" * 100)
    damage(path_of(root, key(1)), how)
    assert cache.get(key(1)) is None
    assert Cache(root).get(key(1)) is None
    assert cache.warnings == ()


@posix
@pytest.mark.parametrize("how", HARMS)
def test_a_damaged_entry_is_replaced(root: Path, how: str) -> None:
    cache = Cache(root)
    cache.put(key(1), b"one" * 100)
    damage(path_of(root, key(1)), how)
    cache.put(key(1), b"new")
    assert cache.get(key(1)) == b"new"
    assert cache.warnings == ()


@pytest.mark.parametrize("cut", range(0, 300, 7))
def test_an_entry_that_a_crash_left_unfinished_is_a_miss(tmp_path: Path, cut: int) -> None:
    cache = Cache(tmp_path)
    cache.put(key(1), b"\xff" * 300)
    entry = path_of(tmp_path, key(1))
    # File systems may leave the length and lose the content.
    whole = entry.read_bytes()
    entry.write_bytes(whole[:cut] + bytes(len(whole) - cut))
    assert cache.get(key(1)) is None


# The bound.
def test_it_stays_within_its_bound_and_the_oldest_go_first(root: Path) -> None:
    most = 1 << 20
    cache = Cache(root, most_bytes=most)
    names = [key(i) for i in range(200)]
    for i, name in enumerate(names):
        cache.put(name, os.urandom(20_000))
        entry = path_of(root, name)
        if entry.exists():
            os.utime(entry, (1e9 + i, 1e9 + i))
        assert size_of(root) <= most
    kept = [i for i, name in enumerate(names) if path_of(root, name).exists()]
    assert kept == list(range(min(kept), 200))
    assert 25 < len(kept) < 53


def size_of(root: Path) -> int:
    """Size on the disk in blocks of 4096 bytes."""
    return sum(
        -(-p.stat().st_size // 4096) * 4096
        for p in root.rglob("*")
        if p.is_file() and len(p.name) == 62
    )


def test_a_use_keeps_an_entry(root: Path) -> None:
    cache = Cache(root)
    for i in range(20):
        cache.put(key(i), bytes(8000))
        os.utime(path_of(root, key(i)), (1e9 + i, 1e9 + i))
    assert cache.get(key(0)) is not None
    store = Folder(root)
    assert sweep(store, 100_000) > 0
    assert cache.get(key(0)) == bytes(8000)
    assert cache.get(key(1)) is None
    assert cache.get(key(19)) == bytes(8000)
    store.close()


def test_an_entry_too_large_for_the_bound_is_not_kept(root: Path) -> None:
    cache = Cache(root, most_bytes=80_000)
    cache.put(key(1), bytes(1000))
    cache.put(key(2), bytes(10_001))
    assert cache.get(key(2)) is None
    assert cache.get(key(1)) == bytes(1000)
    assert cache.warnings == ()


def test_leftovers_of_killed_runs_go_and_those_of_others_stay(root: Path) -> None:
    cache = Cache(root)
    cache.put(key(1), b"one")
    old, fresh = root / "v1" / "tmp" / "1-old", root / "v1" / "tmp" / "2-fresh"
    old.write_bytes(b"x")
    fresh.write_bytes(b"x")
    os.utime(old, (1e9, 1e9))
    store = Folder(root)
    sweep(store, 1 << 30)
    store.close()
    assert not old.exists()
    assert fresh.exists()
    assert cache.get(key(1)) == b"one"


def test_what_else_lies_in_the_folder_is_left_alone(tmp_path: Path) -> None:
    other = tmp_path / "notes" / "ab"
    other.mkdir(parents=True)
    (other / "file").write_text("mine")
    cache = Cache(tmp_path, most_bytes=40_000)
    for i in range(60):
        cache.put(key(i), bytes(4000))
    assert (other / "file").read_text() == "mine"


# Rights.
@posix
def test_it_is_for_its_owner_alone(root: Path) -> None:
    old = os.umask(0)
    try:
        cache = Cache(root)
        cache.put(key(1), b"one")
    finally:
        os.umask(old)
    modes = {p.is_dir(): stat.S_IMODE(p.stat().st_mode) for p in (root / "v1").rglob("*")}
    assert modes == {True: 0o700, False: 0o600}
    assert stat.S_IMODE((root / "v1").stat().st_mode) == 0o700


@posix
def test_rights_to_read_are_taken_away(root: Path) -> None:
    Cache(root).put(key(1), b"one")
    (root / "v1").chmod(0o755)
    cache = Cache(root)
    assert cache.get(key(1)) == b"one"
    assert stat.S_IMODE((root / "v1").stat().st_mode) == 0o700


@posix
@pytest.mark.parametrize("name", ["", "v1"])
def test_a_folder_that_others_may_write_to_is_refused(root: Path, name: str) -> None:
    Cache(root).put(key(1), b"one")
    (root / name).chmod(0o777)
    cache = Cache(root)
    assert cache.get(key(1)) is None
    cache.put(key(2), b"two")
    assert cache.warnings == (
        (
            f"cache: other users may write to {root / name if name else root}; take that right "
            "away or remove it; nothing is kept"
        ),
    )


@posix
def test_a_shared_folder_with_the_sticky_bit_will_do(root: Path) -> None:
    root.mkdir(parents=True)
    root.chmod(0o1777)
    cache = Cache(root)
    cache.put(key(1), b"one")
    assert cache.get(key(1)) == b"one"
    assert cache.warnings == ()


@posix
def test_a_link_in_the_place_of_the_layout_is_refused(root: Path) -> None:
    elsewhere = root.parent / "elsewhere"
    elsewhere.mkdir(parents=True)
    root.mkdir()
    (root / "v1").symlink_to(elsewhere)
    cache = Cache(root)
    cache.put(key(1), b"one")
    assert cache.get(key(1)) is None
    assert list(elsewhere.iterdir()) == []
    assert cache.warnings == (
        f"cache: {root}/v1 is no folder but a link or a file; remove it; nothing is kept",
    )


@posix
def test_an_own_link_to_the_folder_will_do(root: Path) -> None:
    real = root.parent / "disk"
    real.mkdir(parents=True)
    root.symlink_to(real)
    cache = Cache(root)
    cache.put(key(1), b"one")
    assert cache.get(key(1)) == b"one"
    assert (real / "v1").is_dir()


@posix
@pytest.mark.parametrize("foreign", ["link", "folder", "layout"])
def test_what_another_user_has_laid_is_refused(
    root: Path, foreign: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another user's files are seen by telling the code that it runs as someone else."""
    root.parent.mkdir()
    me = os.geteuid()
    if foreign == "link":
        real = root.parent / "real"
        real.mkdir()
        root.symlink_to(real)
    else:
        Cache(root).put(key(1), b"one")
    owned = {"link": root, "folder": root, "layout": root / "v1"}[foreign]
    inode = os.lstat(owned).st_ino
    for name in ("stat", "lstat", "fstat"):
        monkeypatch.setattr(folder_module.os, name, _owned_by(getattr(os, name), inode, me + 4711))
    cache = Cache(root)
    assert cache.get(key(1)) is None
    cache.put(key(2), b"two")
    text = "is a link that belongs" if foreign == "link" else "belongs to another user"
    assert len(cache.warnings) == 1
    assert text in cache.warnings[0]
    monkeypatch.undo()
    assert not path_of(root, key(2)).exists()


def _owned_by(real: object, inode: int, owner: int) -> object:
    def found(*args: object, **more: object) -> os.stat_result:
        result = real(*args, **more)  # type: ignore[operator]
        if result.st_ino != inode:
            return result  # type: ignore[no-any-return]
        values = list(result)
        values[4] = owner
        return os.stat_result(values)

    return found


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only the superuser can become others"
)
def test_another_user_really_is_refused_and_can_do_no_harm(tmp_path: Path) -> None:
    shared = Path("/tmp") / f"dfmcheck-test-{os.urandom(6).hex()}"
    shared.mkdir()
    shared.chmod(0o1777)
    try:
        # Another user lays a trap in the shared folder: a folder, and a link to one of ours.
        ours = tmp_path / "ours"
        ours.mkdir()
        for trap in ("folder", "link"):
            lay = f"os.mkdir({str(shared / trap)!r})"
            if trap == "link":
                lay = f"os.symlink({str(ours)!r}, {str(shared / trap)!r})"
            as_other = f"import os; os.setuid(65534); {lay}"
            subprocess.run([sys.executable, "-c", as_other], check=True)
            cache = Cache(shared / trap)
            cache.put(key(1), b"one")
            assert cache.get(key(1)) is None
            assert "belongs to another user" in cache.warnings[0]
        assert list(ours.iterdir()) == []
    finally:
        subprocess.run(["rm", "-r", str(shared)], check=True)


# Trouble.
def test_a_file_in_the_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for place in ("file", "file/below"):
        cache = Cache(tmp_path / place)
        cache.put(key(1), b"one")
        assert cache.get(key(1)) is None
        assert len(cache.warnings) == 1
        assert "name another folder in DFMCHECK_CACHE; nothing is kept" in cache.warnings[0]


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EDQUOT])
@pytest.mark.parametrize("call", ["open", "replace", "mkdir"])
def test_a_disk_that_takes_no_more_draws_one_warning(
    root: Path, monkeypatch: pytest.MonkeyPatch, code: int, call: str
) -> None:
    Cache(root).put(key(1), b"one")
    cache = Cache(root)
    assert cache.get(key(1)) == b"one"
    real_open = Folder.open

    def fail(self: Folder, *args: object, **more: object) -> int:
        if call == "open" and args[1] == os.O_RDONLY:
            return real_open(self, *args, **more)  # type: ignore[arg-type]
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(Folder, call, fail)
    for i in range(5):
        cache.put(key(100 + i), b"more")
    assert cache.get(key(1)) == b"one"
    assert cache.warnings == (
        f"cache: {root}/v1 cannot be written to ({os.strerror(code)}); nothing is kept",
    )
    monkeypatch.undo()
    assert list((root / "v1" / "tmp").iterdir()) == []


LIMITED = """
import os, resource, signal, sys
from pathlib import Path
from dfmcheck.cache.store import Cache
from dfmcheck.cache.keys import facts_key
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
cache = Cache(Path(sys.argv[1]))
small, large = (facts_key(f"git:{n}", kernel="8", analyser=1) for n in "ab")
cache.put(small, b"small")
resource.setrlimit(resource.RLIMIT_FSIZE, (5000, 5000))
cache.put(large, bytes(50000))
cache.put(large, bytes(50000))
assert cache.get(large) is None
assert cache.get(small) == b"small"
assert len(cache.warnings) == 1 and "File too large" in cache.warnings[0], cache.warnings
assert os.listdir(Path(sys.argv[1]) / "v1" / "tmp") == []
"""


@posix
def test_a_write_that_the_system_really_cuts_short(tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, "-c", LIMITED, str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr


READ_ONLY = """
import os, sys
from pathlib import Path
from dfmcheck.cache.store import Cache
from dfmcheck.cache.keys import facts_key
key = facts_key("git:1", kernel="8", analyser=1)
if os.geteuid() == 0:
    os.setuid(65534)
cache = Cache(Path(sys.argv[1]))
cache.put(key, b"one")
assert cache.get(key) is None
assert len(cache.warnings) == 1 and "Permission denied" in cache.warnings[0], cache.warnings
"""


@posix
def test_a_folder_without_rights(tmp_path: Path) -> None:
    import dfmcheck

    # The tests may run as the superuser, whom no right stops; the script becomes someone else.
    package = Path(dfmcheck.__file__).parents[1]
    place = Path("/tmp") / f"dfmcheck-test-{os.urandom(6).hex()}"
    place.mkdir()
    place.chmod(0o555)
    try:
        ran = subprocess.run(
            [sys.executable, "-c", READ_ONLY, str(place / "c")], capture_output=True, text=True,
            check=False, env=os.environ | {"PYTHONPATH": str(package)},
        )  # fmt: skip
        assert ran.returncode == 0, ran.stderr
    finally:
        place.chmod(0o755)
        subprocess.run(["rm", "-r", str(place)], check=True)


# Where the cache is.
def test_the_variable_goes_before_the_user_s_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DFMCHECK_CACHE", str(tmp_path / "named"))
    cache = Cache()
    cache.put(key(1), b"one")
    assert path_of(tmp_path / "named", key(1)).is_file()
    monkeypatch.setenv("DFMCHECK_CACHE", "")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "user"))
    if sys.platform.startswith("linux"):
        assert default_folder() == tmp_path / "user" / "dfmcheck"


def test_without_a_home_it_works_without_a_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import platformdirs

    monkeypatch.setattr(platformdirs, "user_cache_dir", lambda *_, **__: "~/.cache/dfmcheck")
    monkeypatch.setenv("DFMCHECK_CACHE", "")
    monkeypatch.chdir(tmp_path)
    cache = Cache()
    cache.put(key(1), b"one")
    assert cache.get(key(1)) is None
    assert cache.warnings == (
        "cache: there is no home folder to keep it in; set DFMCHECK_CACHE to one",
    )
    assert list(tmp_path.iterdir()) == []


def test_importing_takes_nothing_beyond_the_standard_library() -> None:
    code = textwrap.dedent(
        """
        import sys
        before = set(sys.modules)
        import dfmcheck.cache.store, dfmcheck.cache.keys
        new = {m.partition(".")[0] for m in set(sys.modules) - before}
        print(sorted(new - set(sys.stdlib_module_names) - {"dfmcheck"}))
        """
    )
    ran = subprocess.run(
        [sys.executable, "-I", "-c", code], capture_output=True, text=True, check=True
    )
    assert ran.stdout.strip() == "[]"

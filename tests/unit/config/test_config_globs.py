"""Patterns: against git's own globs, and against a plain recursive reading of the same words."""

import subprocess
import time
from fnmatch import fnmatchcase
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from dfmcheck.config.globs import below, compile_patterns, covers, pattern_problem

PATHS = [
    "base.step", "cad/base.step", "cad/BASE.STEP", "cad/Base.Stp", "cad/sub/pin.step",
    "cad/sub/deep/er/pin.step", "cad/bought/screw.step", "CAD/base.step", "cadx/base.step",
    "cad/a b.step", "cad/ü/ñ.step", "cad/[x].step", "cad/x.step", "cad/x1.step", "cad/xy.step",
    "cad/line\nbreak.step", "cad/.hidden.step", "lib/cad/base.step", "cad/base.step/inner.step",
    "cad/*.step", "cad/sub/base.p21",
]  # fmt: skip

PATTERNS = [
    "**/*.step", "*.step", "cad/*.step", "cad/**/*.step", "cad/**", "**", "**/cad/**",
    "cad/bought/**", "cad/x?.step", "cad/[xy]*.step", "cad/[!x]*.step", "cad/[[]x].step",
    "**/sub/**/*.step", "cad/*/*.step", "**/deep/*/*.step", "cad/**/p*n.step", "*/**/*.step",
    "cad/ü/*.step", "**/**/pin.step", "cad/*a*e*.step", "cad/.*.step", "cad/[*].step",
    "cad/base.step", "c*d/**/[a-c]*.step", "cad/**/er/pin.step",
]  # fmt: skip


@pytest.fixture(scope="module")
def repository(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bare index with all the paths; the files themselves are not needed."""
    folder = tmp_path_factory.mktemp("globs")
    git = ["git", "-c", "core.protectNTFS=false", "-C", str(folder)]
    subprocess.run([*git, "init", "-q"], check=True)
    blob = subprocess.run(
        [*git, "hash-object", "-w", "--stdin"], input=b"", capture_output=True, check=True
    )
    oid = blob.stdout.decode().strip()
    lines = "".join(f"100644 {oid} 0\t{p}\0" for p in PATHS if p != "cad/base.step/inner.step")
    subprocess.run([*git, "update-index", "-z", "--index-info"], input=lines.encode(), check=True)
    return folder


@pytest.mark.parametrize("pattern", PATTERNS)
def test_patterns_agree_with_git(repository: Path, pattern: str) -> None:
    """Source: gitglossary(7), "pathspec", magic word `glob`; git itself is asked.

    git matches endings as written, so paths with capitals are left out here.
    """
    asked = subprocess.run(
        ["git", "-C", str(repository), "ls-files", "-z", "--", f":(glob){pattern}"],
        capture_output=True, check=True,
    )  # fmt: skip
    of_git = set(asked.stdout.decode().split("\0")) - {""}
    matches = compile_patterns((pattern,))
    plain = [p for p in PATHS if p != "cad/base.step/inner.step" and p.rpartition(".")[2].islower()]
    # git takes a pattern that names a folder for all below it; here ** says so.
    assert {p for p in plain if matches(p)} == of_git & set(plain)


@pytest.mark.parametrize(
    ("pattern", "path", "expected"),
    [
        ("cad/*.step", "cad/BASE.STEP", True),
        ("cad/*.STEP", "cad/base.step", True),
        ("cad/*.StP", "cad/Base.Stp", True),
        ("cad/Base.*", "cad/base.stp", False),
        ("CAD/*.step", "cad/base.step", False),
        ("cad/base.step", "cad/base.STEP", True),
        ("cad/BASE.step", "cad/base.step", False),
        ("cad/*.s[t]ep", "cad/base.step", True),
        ("cad/**", "cad", False),
        ("*", "a/b.step", False),
    ],
)
def test_letter_case_and_ends(pattern: str, path: str, expected: bool) -> None:
    assert compile_patterns((pattern,))(path) is expected


def test_patterns_are_relative_to_their_folder() -> None:
    matches = compile_patterns(("*.step", "sub/**"), "hw.[1]")
    assert matches("hw.[1]/a.step")
    assert matches("hw.[1]/sub/x/y.step")
    assert not matches("a.step")
    assert not matches("hwx1/a.step")
    assert not matches("hw.[1]/x/a.step")


def plain_match(pattern: list[str], path: list[str]) -> bool:
    """The same words read one by one, with the standard library's match of a single name."""
    if not pattern:
        return not path
    if pattern[0] == "**":
        if len(pattern) == 1:
            return bool(path)
        return any(plain_match(pattern[1:], path[i:]) for i in range(len(path)))
    return bool(path) and fnmatchcase(path[0], pattern[0]) and plain_match(pattern[1:], path[1:])


_segment = st.text("ab*?.", min_size=1, max_size=5).filter(lambda s: "**" not in s and s != "..")
_patterns = st.lists(st.one_of(st.just("**"), _segment), min_size=1, max_size=5)
_names = st.lists(st.text("ab.\n", min_size=1, max_size=6), min_size=1, max_size=6)


@settings(max_examples=500, deadline=None)
@given(_patterns, _names)
@example(["*a*b"], ["aab"])
@example(["**", "a", "**", "b"], ["a", "b", "a", "b"])
@example(["*?*"], ["a"])
def test_patterns_agree_with_a_plain_reading(pattern: list[str], path: list[str]) -> None:
    compiled = compile_patterns(("/".join(pattern),))
    assert compiled("/".join(path)) == plain_match(pattern, path)


@settings(max_examples=500, deadline=None)
@given(_patterns, _names)
def test_a_pattern_seen_from_a_folder_below(pattern: list[str], path: list[str]) -> None:
    if len(path) < 2:
        return
    for depth in range(1, len(path)):
        rest = below("/".join(pattern), "/".join(path[:depth]))
        expected = plain_match(pattern, path)
        assert compile_patterns(rest)("/".join(path[depth:])) == expected


@settings(max_examples=500, deadline=None)
@given(st.lists(_patterns, min_size=1, max_size=3), _patterns, _names)
@example([["?*"]], ["*"], [""])
def test_what_is_covered_is_matched(
    wide: list[list[str]], narrow: list[str], path: list[str]
) -> None:
    all_wide = tuple("/".join(w) for w in wide)
    if covers(all_wide, "/".join(narrow)) and plain_match(narrow, path):
        assert compile_patterns(all_wide)("/".join(path))


@pytest.mark.parametrize(
    ("wide", "narrow", "expected"),
    [
        (["**/*.step"], "cad/**/*.step", True),
        (["**/*.step"], "cad/*.step", True),
        (["**"], "cad/bought/**", True),
        (["cad/**"], "cad/**/*.step", True),
        (["cad/**/*.step"], "**/*.step", False),
        (["cad/*.step"], "cad/**/*.step", False),
        (["cad/?.step"], "cad/*.step", False),
        (["cad/*.step", "lib/*.step"], "lib/*.step", True),
        (["cad/*.step"], "cad/[ab].step", False),
        (["cad/[ab].step"], "cad/[ab].step", True),
    ],
)
def test_covering(wide: list[str], narrow: str, expected: bool) -> None:
    assert covers(tuple(wide), narrow) is expected


@pytest.mark.parametrize("pattern", [*PATTERNS[:1], "a/[a-c]x.step", "x.P21", "**/*", "cad/*.s*"])
def test_good_patterns_have_no_problem(pattern: str) -> None:
    assert pattern_problem(pattern) is None


@pytest.mark.parametrize(
    "pattern",
    ["", " *.step", "C:/*.step", "./*.step", "cad//x.step", "cad/", "x[.step", "[z-a].step",
     "[a--b].step", "a\t.step", "cad/*.stl"],
)  # fmt: skip
def test_bad_patterns_have_one(pattern: str) -> None:
    assert pattern_problem(pattern)


def test_thousands_of_paths_and_hostile_patterns_are_fast() -> None:
    paths = [f"cad/group-{i % 50}/sub/part-{i}.step" for i in range(5000)]
    matches = compile_patterns(tuple(f"cad/group-{i}/**/*.step" for i in range(49)))
    begun = time.perf_counter()
    count = sum(map(matches, paths))
    taken = time.perf_counter() - begun
    assert count == 4900
    assert taken < 0.5
    # What a matcher that takes back its stars would need longer than a life for.
    hostile = compile_patterns(("*a" * 30 + "*b.step", "**/a/" * 30 + "b.step"))
    begun = time.perf_counter()
    assert not hostile("a" * 3000 + ".step")
    assert not hostile("a/" * 1500 + "c.step")
    assert time.perf_counter() - begun < 0.5

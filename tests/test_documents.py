"""README.md and DEVELOPERS.md say what the code does: names, keys, statuses, examples, paths."""

import ast
import contextlib
import io
import json
import os
import re
import subprocess
import sys
import tomllib
import types
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import click
import pytest
from builders import TODAY, make_settings

from dfmcheck import errors, hooks
from dfmcheck.checking import verdict
from dfmcheck.checking.engine import check_part
from dfmcheck.checking.plugins import make_plugin_manager
from dfmcheck.checking.registry import collect_rules
from dfmcheck.cli.commands import cli
from dfmcheck.cli.main import EXIT_FAULT, EXIT_INTERRUPTED, EXIT_USAGE
from dfmcheck.config import shapes
from dfmcheck.config.load import parse_settings
from dfmcheck.config.spec import FEATURE_KINDS, configuration
from dfmcheck.model.rule import Rule
from dfmcheck.testing import make_feature, make_part

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
RULES = collect_rules(make_plugin_manager())


def blocks(text: str, mark: str, language: str) -> list[str]:
    """The fenced blocks of a language that follow a comment beginning with `mark`."""
    found = re.findall(rf"<!-- {mark}:[^>]*-->\n```{language}\n(.*?)```", text, re.DOTALL)
    assert found, f"no block of {language} is marked {mark!r}"
    return found


def section(text: str, heading: str) -> str:
    """What stands under a heading, up to the next one of its rank or a higher one."""
    rank = len(heading) - len(heading.lstrip("#"))
    start = text.index(f"\n{heading}\n")
    end = re.compile(rf"^#{{2,{rank}}} ", re.MULTILINE).search(text, start + len(heading) + 2)
    return text[start : end.start() if end else len(text)]


def in_code(text: str) -> set[str]:
    """Everything that stands between single backticks."""
    return set(re.findall(r"`([^`\n]+)`", re.sub(r"```.*?```", "", text, flags=re.DOTALL)))


# ---- commands


COMMANDS: dict[str, click.Command] = dict(cli.commands)


def options(command: click.Command) -> set[str]:
    """The long names of a command's options, and the short ones that have none."""
    found: set[str] = set()
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            names = {*parameter.opts, *parameter.secondary_opts}
            found |= {n for n in names if n.startswith("--")} or names
    return found


SHARED = options(COMMANDS["gate"]) & options(COMMANDS["part"])


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_its_section_with_its_options(name: str) -> None:
    text = section(README, f"### `dfmcheck {name}`")
    own = options(COMMANDS[name]) - (SHARED if name in ("gate", "part") else set())
    missing = {o for o in own if not re.search(rf"{re.escape(o)}(?![\w-])", text)}
    assert not missing, f"README, dfmcheck {name}: {missing}"


def test_shared_options_and_those_of_the_program_are_explained() -> None:
    text = section(README, "### Options of `gate` and `part`")
    assert {o for o in SHARED if f"`{o}" not in text} == set()
    head = section(README, "## Commands").partition("\n### ")[0]
    assert {o for o in (*options(cli), "--help") if o not in head} == set()


def test_no_option_is_promised_that_does_not_exist() -> None:
    known = {"--help", *options(cli)}.union(*(options(c) for c in COMMANDS.values()))
    shown = re.findall(r"dfmcheck (?:gate|part|rules|init|demo)[^\n`|]*", README)
    asked = {o for line in shown for o in re.findall(r"(?<![\w-])--[a-z][a-z-]*", line)}
    assert asked
    assert asked <= known
    named = {c.split()[1] for c in in_code(README) if re.match(r"dfmcheck [a-z]", c)}
    assert named == {*COMMANDS}


def test_the_choices_of_options_are_named() -> None:
    for command in COMMANDS.values():
        for parameter in command.params:
            if isinstance(parameter.type, click.Choice):
                for choice in parameter.type.choices:
                    option = parameter.opts[0]
                    assert re.search(rf"{option} {choice}\b", README), f"{option} {choice}"


def test_the_two_commands_that_are_run_from_the_readme() -> None:
    lines = re.findall(r"(?m)^python3 -m venv .*$", README)
    assert len(lines) == 2
    assert "dfmcheck demo" in lines[0]
    assert "pytest" in lines[1]


# ---- exit statuses


def test_every_exit_status_is_in_the_table() -> None:
    text = section(README, "## Exit status")
    raised = {
        e.exit_status
        for e in vars(errors).values()
        if isinstance(e, type) and issubclass(e, errors.DfmcheckError)
    }
    judged = {verdict.RELEASE, verdict.FAULT, verdict.USAGE, verdict.HOLD, verdict.NOT_JUDGED}
    told = {int(n) for row in re.findall(r"(?m)^\| ([\d, ]+) \|", text) for n in row.split(",")}
    assert told == raised | judged | {EXIT_FAULT, EXIT_USAGE, EXIT_INTERRUPTED, 128 + 15}
    worst_first = sorted(judged, key=lambda s: -sum(_wins(s, o) for o in judged))
    assert f"in the order {', '.join(map(str, worst_first))}" in text


def _wins(one: int, other: int) -> bool:
    return verdict.worst_status((one, other)) == one


# ---- configuration


def keys(shape: shapes.Shape, at: str = "") -> Iterator[str]:
    """Every key path of the configuration's declaration, as the README writes it."""
    if isinstance(shape, shapes.Keyed):
        for name, key in shape.keys.items():
            path = f"{at}.{name}" if at else name
            inner = list(keys(key.shape, path))
            yield from inner or [path]
    elif isinstance(shape, shapes.Named):
        for name in ("NAME", *shape.described):
            free = name if at != "part" else "NUMBER"
            inner = list(keys(shape.shape_of(name), f"{at}.{free}"))
            yield from inner or [f"{at}.{free}"]
    elif isinstance(shape, shapes.Listing):
        yield from keys(shape.item, at)


KEYS = sorted(set(keys(configuration())))
TABLES = {k.rpartition(".")[0] for k in KEYS}


def rows() -> dict[str, str]:
    """Key path to its row in the README's tables of keys."""
    text = section(README, "### Policy") + section(README, "### Parts")
    found = {}
    for line in text.splitlines():
        first = re.match(r"\| ((?:`[\w.]+`(?:, )?)+) \| (.*) \|$", line)
        if first:
            found.update(dict.fromkeys(re.findall(r"`([\w.]+)`", first[1]), first[2]))
    return found


@pytest.mark.parametrize("key", KEYS)
def test_every_key_of_the_configuration_is_explained(key: str) -> None:
    table, _, last = key.rpartition(".")
    told = rows()
    # the keys of a small table may stand in that table's own row
    assert key in told or f"`{last}`" in told.get(table, "") or key == "limits.setups"


def test_no_key_is_explained_that_does_not_exist() -> None:
    assert set(rows()) <= {*KEYS, *TABLES}


def test_required_keys_are_marked() -> None:
    def required(shape: shapes.Shape, at: str) -> Iterator[str]:
        if isinstance(shape, shapes.Listing):
            yield from required(shape.item, at)
        elif isinstance(shape, shapes.Named):
            yield from required(shape.shape_of("NUMBER"), f"{at}.NUMBER")
        elif isinstance(shape, shapes.Keyed):
            for name, key in shape.keys.items():
                path = f"{at}.{name}" if at else name
                if key.required:
                    yield path
                yield from required(key.shape, path)

    told = rows()
    wanted = {p for p in required(configuration(), "") if p in told}
    assert wanted == {p for p, words in told.items() if "Required" in words}


def test_every_kind_of_feature_is_named() -> None:
    told = rows()["part.NUMBER.callout.find.kind"]
    assert {k for k in FEATURE_KINDS if f"`{k}`" not in told} == set()


def names() -> dict[str, set[str]]:
    return {
        "known_limits": {limit.name for rule in RULES for limit in rule.limits},
        "known_rules": {rule.name for rule in RULES},
        "known_pieces": {rule.piece for rule in RULES if rule.piece},
    }


@pytest.mark.parametrize("text", blocks(README, "example", "toml"))
def test_the_examples_parse_without_problems_and_warnings(text: str) -> None:
    settings = parse_settings(text.encode(), "dfmcheck.toml", **names())
    assert settings.warnings == ()
    assert settings.parts


def test_the_complete_example_shows_what_it_says() -> None:
    first, later = (
        parse_settings(text.encode(), "dfmcheck.toml") for text in blocks(README, "example", "toml")
    )
    assert [p.number for p in first.parts] == ["DL-102", "DL-105", "DL-108.1", "DL-120"]
    assert [len(p.callouts) for p in first.parts] == [3, 1, 0, 0]
    assert first.policy.permits[0].up_to == 3
    assert {v.name for v in first.policy.limits} == {
        "setups", "stock_rise", "inside_corner_radius", "wall"
    }  # fmt: skip
    shown = {k.split(".")[-1] for k in KEYS} - {"NAME", "NUMBER"}
    written = set(re.findall(r"\b\w+\b", "".join(blocks(README, "example", "toml"))))
    assert shown - written == {"feature"}
    assert later.private == "DFMCHECK_PRIVATE"


def test_programs_in_the_readme_print_schemas() -> None:
    programs = re.findall(r"`python -c \"([^`]*)\"`", README)
    assert len(programs) == 2
    for program in programs:
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(program, {})  # noqa: S102 - the README's own line
        assert json.loads(printed.getvalue())["$schema"].endswith("2020-12/schema")


# ---- rules and limits


def test_the_table_of_limits_is_that_of_the_code() -> None:
    text = section(README, "## Where the numbers come from")
    told = {
        limit: (default, rule)
        for limit, default, rule in re.findall(r"(?m)^\| `(\w+)` \| (.*?) \| `([\w-]+)` \|$", text)
    }
    words = {"most": "at most", "least": "at least"}
    real = {
        limit.name: (
            "not limited"
            if limit.default is None
            else f"{words[limit.sense]} {limit.default:g} {limit.unit}",
            rule.name,
        )
        for rule in RULES
        for limit in rule.limits
    }
    assert told == real
    assert "`dfmcheck rules` lists all of them" in text


def test_rules_that_hold_by_themselves_are_named() -> None:
    text = section(README, "### What holds")
    own = {r.name for r in RULES if r.level == "error" and r.looks_at != "stage"}
    told = set(re.findall(r"`([a-z]+(?:-[a-z]+)+)`", text))
    assert told == own


def test_rules_and_limits_named_in_the_documents_exist() -> None:
    known = {r.name for r in RULES} | {limit.name for r in RULES for limit in r.limits}
    lines = re.findall(r"dfmcheck rules ([a-z][\w-]+)", README + DEVELOPERS)
    assert {name for name in lines if name not in known} <= {"lists"}


# ---- environment


def variables() -> Iterator[str]:
    """Names of environment variables in functions that look into the environment."""
    looks = re.compile(r"[A-Z][A-Z0-9]*(?:_[A-Z0-9]+)+|CI")
    for path in sorted((ROOT / "dfmcheck").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if "environ" not in text:
            continue
        for node in ast.walk(ast.parse(text)):
            if not isinstance(node, ast.FunctionDef):
                continue
            named = {n.arg for n in ast.walk(node) if isinstance(n, ast.arg)}
            named |= {n.attr for n in ast.walk(node) if isinstance(n, ast.Attribute)}
            if "environ" not in named:
                continue
            for constant in ast.walk(node):
                value = getattr(constant, "value", None)
                if isinstance(value, str) and looks.fullmatch(value):
                    yield value


def test_every_environment_variable_is_told() -> None:
    found = set(variables())
    assert {"DFMCHECK_CACHE", "NO_COLOR", "CI", "GITHUB_EVENT_PATH", "GIT_INDEX_FILE"} <= found
    told = in_code(README) | in_code(DEVELOPERS)
    assert {name for name in found if not any(t.split("=")[0] == name for t in told)} == set()


def test_the_projects_own_variables_are_told_and_no_others() -> None:
    used: set[str] = set()
    for path in [*ROOT.glob("dfmcheck/**/*.py"), *ROOT.glob("tests/**/*.py"), ROOT / ".ci/lint"]:
        used |= set(re.findall(r"\bDFMCHECK_[A-Z_]+", path.read_text(encoding="utf-8")))
    told = set(re.findall(r"\bDFMCHECK_[A-Z_]+", README + DEVELOPERS))
    assert told == used


# ---- for developers


def test_developers_is_short() -> None:
    assert len(DEVELOPERS.splitlines()) <= 300


def test_every_hook_is_told_with_its_arguments() -> None:
    import inspect

    told = section(DEVELOPERS, "## Write a plugin")
    known = {n: f for n, f in vars(hooks).items() if n.startswith("dfmcheck_")}
    assert len(known) >= 5
    for name, hook in known.items():
        arguments = ", ".join(inspect.signature(hook).parameters)
        assert f"`{name}({arguments})`" in told, name
    assert set(re.findall(r"\bdfmcheck_[a-z_]+(?=\()", DEVELOPERS)) <= set(known)


def test_paths_and_modules_that_are_named_exist() -> None:
    for text in (README, DEVELOPERS):
        for code in in_code(text):
            if re.fullmatch(r"(?:dfmcheck|rules|tests|\.ci|\.github)/[\w./-]+", code):
                made_by_init = ".github/workflows/parts.yml"
                assert code == made_by_init or (ROOT / code).exists(), code
            if re.fullmatch(r"dfmcheck(?:\.[a-z_]+)+", code) and code != "dfmcheck.toml":
                assert find_spec(code) is not None, code
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert (ROOT / target).exists(), target


def test_anchors_lead_somewhere() -> None:
    headings = re.findall(r"(?m)^#+ (.*)$", README)
    anchors = {re.sub(r"[^\w -]", "", h.lower()).replace(" ", "-") for h in headings}
    assert set(re.findall(r"\]\(#([^)]+)\)", README)) <= anchors


def test_every_layer_and_dependency_is_told() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    layers = project["tool"]["importlinter"]["contracts"][0]["layers"]
    picture = section(DEVELOPERS, "## The layers")
    for names_on_a_line in layers:
        for name in names_on_a_line.split(" | "):
            assert re.search(rf"\b{name}\b", picture), name
    table = section(DEVELOPERS, "## Dependencies, and what each is for")
    for requirement in project["project"]["dependencies"]:
        name = re.match(r"[\w-]+", requirement)
        assert name is not None
        assert re.search(rf"(?m)^\|[^|]*\b{name[0]}\b", table), requirement


def test_test_folders_are_told() -> None:
    table = section(DEVELOPERS, "## Tests")
    folders = {p.parent for p in (ROOT / "tests").rglob("test_*.py")}
    tops = {f.relative_to(ROOT / "tests").parts[0] for f in folders if f != ROOT / "tests"}
    assert {t for t in tops if f"`tests/{t}`" not in table} <= {"demo"}


# ---- the plugin of DEVELOPERS.md


@pytest.fixture
def plugin() -> types.ModuleType:
    (code,) = blocks(DEVELOPERS, "plugin", "python")
    module = types.ModuleType("studio_rules")
    exec(compile(code, "DEVELOPERS.md", "exec"), module.__dict__)  # noqa: S102 - our own example
    return module


def test_the_plugin_of_developers_judges_as_it_says(plugin: types.ModuleType) -> None:
    rules = collect_rules(make_plugin_manager(extra=(plugin,)))
    mine = [r for r in rules if r.plugin == "studio_rules"]
    assert [r.name for r in mine] == ["many-drills"]
    part = make_part(*(make_feature("hole", diameter_mm=d) for d in (2.5, 3.3, 4.2, 5.0, 6.8)))
    said = _findings(part, rules, {})
    assert [(f.level, f.measured, f.holds) for f in said] == [("note", 5.0, False)]
    assert said[0].message == "holes of 5 sizes: 2.5, 3.3, 4.2, 5, 6.8 mm"
    (held,) = _findings(part, rules, {"drill_sizes": 3.0})
    assert held.holds
    assert _findings(part, rules, {"drill_sizes": 5.0}) == []


def _findings(part: Any, rules: tuple[Rule, ...], limits: dict[str, float]) -> list[Any]:
    findings, failed = check_part(part, None, None, make_settings(limits), rules, TODAY)
    assert failed == ()
    return [f for f in findings if f.rule == "many-drills"]


def test_its_test_passes_and_can_fail(plugin: types.ModuleType) -> None:
    (code,) = blocks(DEVELOPERS, "plugin test", "python")
    scope = dict(plugin.__dict__)
    exec(compile(code, "DEVELOPERS.md", "exec"), scope)  # noqa: S102 - our own example
    scope["test_many_drills"]()
    scope["run_rule"] = lambda *_: ()
    with pytest.raises(ValueError, match="unpack"):
        scope["test_many_drills"]()


def test_its_project_names_the_entry_point_group() -> None:
    (text,) = blocks(DEVELOPERS, "plugin project", "toml")
    points = tomllib.loads(text)["project"]["entry-points"]
    assert points == {hooks.PROJECT: {"studio_rules": "studio_rules.plugin"}}
    assert 'plugins = ["studio_rules"]' in DEVELOPERS


# ---- both


def test_no_path_of_a_machine() -> None:
    for text in (README, DEVELOPERS):
        assert re.search(r"(?<![\w.~])/(?:home|root|work|Users|tmp|opt|mnt)\b", text) is None


@pytest.mark.slow
def test_the_sample_is_what_the_demo_prints(tmp_path: Path) -> None:
    """Each line in its order; lines left out are marked, ids of commits are any."""
    done = subprocess.run(
        [sys.executable, "-m", "dfmcheck", "demo", str(tmp_path / "lamp")],
        capture_output=True,
        check=False,
        env={**os.environ, "DFMCHECK_CACHE": str(tmp_path / "cache"), "COLUMNS": "80"},
    )
    assert done.returncode == 0, done.stderr.decode()
    real = [_anonymous(line) for line in done.stdout.decode().splitlines()]
    (sample,) = blocks(README, "sample", "text")
    at = next(i for i, line in enumerate(real) if line.startswith("HOLD"))
    jumps = True
    for line in map(_anonymous, sample.splitlines()):
        if line == "…":
            jumps = True
            continue
        assert line in real[at:], f"README's sample: the demo no longer prints {line!r}"
        found = real.index(line, at)
        assert jumps or found == at, f"README's sample: a line before {line!r} is left out unmarked"
        at, jumps = found + 1, False


def _anonymous(line: str) -> str:
    return re.sub(r"\b[0-9a-f]{7,40}\b", "ID", line.rstrip())

"""Texts for `dfmcheck init`: a starter configuration, a CI workflow, git hooks, attributes.

Lines of the configuration that begin with `#` and no blank are settings to be switched on; every
value in them is invented and marked so.
"""

from collections.abc import Iterable, Mapping
from typing import Literal

from dfmcheck.config.problems import key

HookKind = Literal["pre-commit", "pre-push"]

MOST_PARTS = 200
"""Parts for which the starter configuration gets an entry."""

_HEAD = """\
# dfmcheck.toml: which parts are looked at, which limits hold, what each part is.
# Every value behind a # without a blank is invented: make it your own before you switch it on.
# Keys, rules and limits are explained by `dfmcheck rules` and in the README.

format = 1
#currency = "EUR"
#quantities = [1, 10, 25]
look_at = ["**/*.step", "**/*.stp", "**/*.p21"]   # any letter case of the ending
#leave_out = ["cad/bought/**"]
#plugins = ["acme-rules"]          # only plugins named here may judge
#private = "DFMCHECK_PRIVATE"      # variable naming a file outside the repository: rates, quotes

[gate]
mode = "hold"                      # "advise" reports and never holds
hold_on = "new"                    # only what a change brings; "all": old findings hold as well
#reference = "last-ordered"        # a second comparison, so that slow creep is seen

[limits]
#setups = 2
#unit_cost_rise = { at = 25, percent = 10, and_at_least = 0.50 }
#rise_since_reference = { at = 25, percent = 15 }

[rules]
#deep-hole = "note"                # off, note, warning, error

[stages]
#request = ["material", "finish", "callouts"]
#order = []
"""

_EXAMPLE = """
# A part, by its number, which survives renames of its file (invented: a desk lamp).
#[part.DL-102]
#file = "cad/knuckle-lower.step"   # solid = "..." if the file holds several parts
#letter = "B"
#material = "EN AW-6082-T6"
#finish = ["bead-blasted", "anodised-natural"]
#target_cost = { at = 25, amount = 48.00 }

# What the STEP file does not carry.
#[[part.DL-102.callout]]
#find = { kind = "hole", diameter_mm = 2.5, near_mm = [12, 4, 0], count = 2 }
#thread = "M3"
#depth_mm = 8

# A deviation permit: leave, given beforehand, to pass a limit up to a value (ISO 9000).
#[[permit]]
#part = "DL-102"
#limit = "setups"
#up_to = 3                         # holds again beyond this value
#reason = "slot carries the cable"
#owner = "ada"
#until = 2026-06-30
"""

_PARTS = """
# Parts found when this file was written. The numbers are the files' names: put your own.
"""

_WORKFLOW = """\
# Judges the machined parts at every push and pull request.
# A change from a fork is judged by the policy of the branch it goes to, and gets no secrets here.
name: parts
on:
  push:
  pull_request:
  merge_group:
permissions:
  contents: read
jobs:
  gate:
    runs-on: ubuntu-latest
    timeout-minutes: 30
    steps:
      - uses: actions/checkout@v4
        with:
          fetch-depth: 0              # the gate compares with the former revision
          persist-credentials: false
      - uses: actions/setup-python@v5
        with:
          python-version: "3.12"
      - uses: actions/cache@v4
        with:
          path: ~/.cache/dfmcheck     # outside the checkout: no commit can put entries there
          key: dfmcheck-${{{{ github.sha }}}}
          restore-keys: dfmcheck-
      - run: sudo apt-get update && sudo apt-get install -y libgl1
      # The version that wrote this file. Name here where your team gets dfmcheck from.
      - run: python -m pip install "{requirement}"
      - run: dfmcheck gate --report json=dfmcheck.json --report text=-
      - uses: actions/upload-artifact@v4
        if: always()
        with:
          name: dfmcheck
          path: dfmcheck.json
          if-no-files-found: ignore
"""

_HOOK = """\
#!/bin/sh
# Judges the parts {when}. Skip it once with: git {command} --no-verify
if ! command -v dfmcheck >/dev/null 2>&1; then
  echo "dfmcheck is not found; activate its environment, or skip with --no-verify" >&2
  exit 1
fi
exec dfmcheck gate {option}
"""

_ATTRIBUTES = """\
# The bytes of STEP files stay as they are: no conversion of line endings.
*.step -text
*.stp -text
*.p21 -text
*.[sS][tT][eE][pP] -text
*.[sS][tT][pP] -text
*.[pP]21 -text
"""


def starter_config(files: Iterable[str] = ()) -> str:
    """A commented starter configuration.

    Args:
        files: paths of STEP files from the configuration's folder; each gets an entry by its name,
            the first `MOST_PARTS` of them. Without files a commented example is given.
    """
    entries = _entries(files)
    if not entries:
        return _HEAD + _EXAMPLE
    text = _HEAD + _PARTS
    for number, file in list(entries.items())[:MOST_PARTS]:
        text += f"\n[part.{_quoted_key(number)}]\nfile = {_toml_text(file)}\n"
        text += '#material = "EN AW-6082-T6"\n'
    left = len(entries) - MOST_PARTS
    if left > 0:
        text += (
            f"\n# {left} more STEP files were found; they are judged without an entry as well.\n"
        )
    return text + _EXAMPLE


def _entries(files: Iterable[str]) -> Mapping[str, str]:
    """Files by part number: the name without its ending, with folders where two are alike."""
    names: dict[str, list[str]] = {}
    for file in sorted(set(files)):
        names.setdefault(file.rpartition("/")[2].rpartition(".")[0], []).append(file)
    found: dict[str, str] = {}
    for stem, alike in names.items():
        for file in alike:
            number = stem if len(alike) == 1 else file.rpartition(".")[0]
            if _fit(number, 100) and _fit(file, 4000) and number not in found:
                found[number] = file
    return found


def _fit(text: str, most: int) -> bool:
    """Whether a name can stand in the configuration: all of it prints, and it is not too long."""
    return (
        text.isprintable() and text == text.strip() and 0 < len(text) <= most and "\\" not in text
    )


def _quoted_key(number: str) -> str:
    bare = key(number)
    return _toml_text(number) if bare.startswith('"') else bare


def _toml_text(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def github_workflow(requirement: str) -> str:
    """A workflow for GitHub's runners.

    Args:
        requirement: what pip is to install, such as "dfmcheck==0.1.0".
    """
    return _WORKFLOW.format(requirement=requirement)


def git_hook(kind: HookKind) -> str:
    """A hook for git, in the shell's language."""
    if kind == "pre-commit":
        return _HOOK.format(when="before a commit", command="commit", option="--staged")
    return _HOOK.format(when="before a push", command="push", option='--pre-push "$1"')


def attributes() -> str:
    """Lines for `.gitattributes` that keep the bytes of STEP files, in any letter case."""
    return _ATTRIBUTES

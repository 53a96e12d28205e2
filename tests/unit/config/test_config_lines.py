"""Lines of keys: against documents put together line by line, and against the TOML reader."""

import tomli
from hypothesis import given, settings
from hypothesis import strategies as st

from dfmcheck.config.lines import key_lines

# Constructs of TOML 1.0 (toml.io, "Key/Value Pair" to "Array of Tables").
DOCUMENT = '''\
# a comment with = and [brackets]
title = "a # no comment [x]"   # one
"quoted \\u0061" = 1
'literal "key"' = 2
a.b . "c.d" = 3
text = """
first [not.a.table]
key = "no key"\\
""""
raw = \'\'\'
]]] = \'\'
\'\'\'
list = [ # [x]
  "]", # y = 1
  [1, 2],
  { inner = 1 },
]
inline = { x = 1, y = "}" }

[plain]
k = 1
[ spaced . "out er" ]
k = 2
[[many]]
k = 3
[many.sub]
k = 4
[[many]]
[[many.deep]]
k = 5
[[many.deep]]
k = 6
[late.super]
[late]
k = 7
'''


def test_every_construct_has_its_line() -> None:
    tomli.loads(DOCUMENT)
    found = key_lines(DOCUMENT)
    assert {k: v for k, v in found.items() if k[-1:] in (("k",), ("title",), ("c.d",))} == {
        ("title",): 2,
        ("a", "b", "c.d"): 5,
        ("plain", "k"): 21,
        ("spaced", "out er", "k"): 23,
        ("many", 0, "k"): 25,
        ("many", 0, "sub", "k"): 27,
        ("many", 1, "deep", 0, "k"): 30,
        ("many", 1, "deep", 1, "k"): 32,
        ("late", "k"): 35,
    }
    assert found["quoted a",] == 3
    assert found['literal "key"',] == 4
    assert (found["text",], found["raw",], found["list",], found["inline",]) == (6, 10, 13, 18)
    assert found["many", 1] == 28
    assert (found["late", "super"], found["late",]) == (33, 34)


def paths_of(value: object, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    """Places of all keys outside inline tables and lists of plain values."""
    found = {path} if path else set()
    if isinstance(value, dict):
        for key, inner in value.items():
            found |= paths_of(inner, (*path, key))
    elif isinstance(value, list) and value and all(isinstance(v, dict) for v in value):
        for i, inner in enumerate(value):
            found |= paths_of(inner, (*path, i))
    return found


_name = st.one_of(st.sampled_from(["a", "b", "c-1", "part"]), st.text(max_size=6))
_text = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)


@st.composite
def documents(draw: st.DrawFn) -> tuple[str, dict[tuple[str | int, ...], int]]:
    """A text of tables and arrays of tables, and the line of each of their keys."""
    from json import dumps

    lines: list[str] = []
    wanted: dict[tuple[str | int, ...], int] = {}
    names = draw(st.lists(_name, max_size=5, unique=True))
    for name in names:
        quoted = dumps(name, ensure_ascii=False).replace("\x7f", "\\u007f")
        several = draw(st.integers(0, 2))
        for index in range(max(1, several)):
            lines += draw(st.lists(st.sampled_from(["", "  ", "# [x] = 1", "\t# '"]), max_size=2))
            lines.append(f"[[{quoted}]]" if several else f"[ {quoted} ]# c")
            table = (name, index) if several else (name,)
            wanted[table] = len(lines)
            for key in draw(st.lists(_name, max_size=3, unique=True)):
                value = draw(_text)
                wanted[(*table, key)] = len(lines) + 1
                form = draw(st.integers(0, 3))
                written = dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
                start = f"{dumps(key, ensure_ascii=False).replace(chr(127), chr(92) + 'u007f')} = "
                if form == 0:
                    lines.append(f"{start}{written}")
                elif form == 1:
                    lines += [f'{start}"""', '# "" [a] = {', f'{written[1:-1]}"""']
                elif form == 2:
                    lines += [f"{start}[", f"  {written}, # ]", "  '[', ]"]
                else:
                    lines.append(f"{start}{{ x = {written}, y = ['}}'] }} # {{")
    return "\n".join(lines), wanted


@settings(max_examples=200, deadline=None)
@given(documents())
def test_generated_documents(case: tuple[str, dict[tuple[str | int, ...], int]]) -> None:
    text, wanted = case
    table = tomli.loads(text)
    found = key_lines(text)
    assert {p: found.get(p) for p in wanted} == wanted
    inner = {p for p in paths_of(table) if len(p) == 1 or p in wanted}
    assert inner <= set(found)


@given(st.text(max_size=80))
def test_any_text_comes_to_an_end(text: str) -> None:
    assert all(line >= 1 for line in key_lines(text).values())
    assert all(line >= 1 for line in key_lines(text.replace("\n", "[")).values())

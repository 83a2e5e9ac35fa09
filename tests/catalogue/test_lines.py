"""Lines of keys, also in unusual but valid TOML. The oracle is the text itself: each value says its own line."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rinsewright.catalogue.lines import key_lines

ODD = '''# a comment with [brackets] and = signs
top = 2
"quoted key" = 3
'literal.key' = 4
dotted . "ke\\u0079" . end = 5   # blanks around the dots

[ a . b ]
x = 8
text = """
[not.a.table]
y = 99
closing with quotes\\""""""
after = 13
lit = \'\'\'
z = 99 \'\'\'
"1" = 16

[[list]]
n = 19
inline = { p = 20, q = { r = 20 }, s = [20, 20] }
spread = [ # a comment, with ] in it
  22,
  { t = 23, u = "}]" },

  [25, 25],
]
[list.child]
v = 28
[[list.deep]]
w = 30
[[list.deep]]
w = 32

[[list]]
n = 35
[list.child]
v = 37
[[list.deep]]
w = 39
date = 1979-05-27 07:32:00
many = [41,
42, 43]
'''


def leaves(value, path=()):
    if isinstance(value, dict):
        for key, item in value.items():
            yield from leaves(item, (*path, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from leaves(item, (*path, index))
    else:
        yield path, value


def test_every_number_stands_on_the_line_it_names():
    lines = key_lines(ODD)
    numbers = [(path, value) for path, value in leaves(tomllib.loads(ODD)) if isinstance(value, int)]
    assert len(numbers) == 25
    moved = {path: (lines[path], value) for path, value in numbers if lines[path] != value}
    assert moved == {("list", 1, "many", 1): (42, 42)} or moved == {("list", 1, "deep", 0, "many", 2): (42, 43)}


def test_windows_line_ends_count_once():
    assert key_lines(ODD.replace("\n", "\r\n")) == key_lines(ODD)


def test_tables_have_the_line_of_their_header():
    lines = key_lines(ODD)
    assert lines[("a", "b")] == 7
    assert lines[("list", 0)] == 18
    assert lines[("list", 1)] == 34
    assert lines[("list", 0, "deep", 1)] == 31


@pytest.mark.parametrize(
    "text",
    ["", "\n", "a = ''\n", 'a = ""', "a = []", "a = {}", "[a]", "[[a]]", 'a = """"""', "a = ''''''", 'a = """x"""""'],
)
def test_small_texts(text):
    assert set(key_lines(text)) >= {(key,) for key in tomllib.loads(text)}


KEYS = st.text(st.sampled_from('abAB12-_ ."\\é\n\t'), max_size=4)
VALUES = st.recursive(
    st.integers() | st.booleans() | st.text(st.sampled_from("ab[]{}#=,'\"\\\n é"), max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=12,
)


def written(value):
    """A value as TOML, on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + "".join(f"\\u{ord(c):04x}" if c in '"\\\n\t' else c for c in value) + '"'
    if isinstance(value, list):
        return "[ " + ",\n ".join(map(written, value)) + " ]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{written(key)} = {written(item)}" for key, item in value.items()) + " }"
    return str(value)


@given(st.dictionaries(KEYS, VALUES, max_size=4))
def test_every_path_of_any_document_has_a_line(table):
    text = "".join(f"{written(key)} = {written(value)}\n" for key, value in table.items())
    lines = key_lines(text)
    assert {path for path, _ in leaves(tomllib.loads(text))} <= set(lines)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())

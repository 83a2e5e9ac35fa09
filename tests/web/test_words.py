"""All words of the app's pages stand in one file; every word is used, and every use exists."""

from __future__ import annotations

import ast
import re
import string
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from markupsafe import Markup

import rinsewright.web
from rinsewright.web.words import Words, words

ROOT = Path(rinsewright.web.__file__).parent
TEMPLATES = sorted((ROOT / "templates").glob("*.html"))
MODULES = sorted(ROOT.rglob("*.py"))
UNITS = {"kg"}  # symbols of the SI are the same in every language
SAID = ("aria-label", "title", "alt", "placeholder", "data-busy", "data-waiting")
USED = re.compile(r"""\bt\(\s*"([\w.-]+)"\s*([~,)])""")


def bare(template: str) -> str:
    """What a template says in words of its own: text and spoken attributes, without Jinja's and HTML's own."""
    text = re.sub(r"\{#.*?#\}", "", template, flags=re.DOTALL)
    text = re.sub(r"\{%.*?%\}", "", text, flags=re.DOTALL)
    text = re.sub(r"\{\{.*?\}\}", "", text, flags=re.DOTALL)
    spoken = [value for name in SAID for value in re.findall(rf'\s{name}="([^"]*)"', text)]
    return unescape(" ".join([re.sub(r"<[^>]*>", " ", text), *spoken]))


@pytest.mark.parametrize("file", TEMPLATES, ids=lambda file: file.name)
def test_a_template_has_no_words_of_its_own(file: Path) -> None:
    assert set(re.findall(r"[^\W\d_]{2,}", bare(file.read_text(encoding="utf-8")))) - UNITS == set()


def test_that_test_can_fail() -> None:
    assert "Save" in bare('<button class="x">{{ t("a") }} Save</button>')
    assert "Close" in bare('<a aria-label="Close">{{ x }}</a>')


def uses() -> Iterator[tuple[str, bool, str]]:
    """Every name used: whether it is only a beginning, and where."""
    for file in TEMPLATES:
        for name, after in USED.findall(file.read_text(encoding="utf-8")):
            yield name, after == "~", file.name
    for file in MODULES:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value in words().texts:
                yield node.value, False, file.name
            if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                start = str(node.values[0].value)
                if re.fullmatch(r"[a-z_]+(\.[a-z_]+)*\.", start):
                    yield start, True, file.name


def test_every_use_exists() -> None:
    known = words().texts
    for name, beginning, where in uses():
        if where.endswith(".html"):
            found = any(text.startswith(name) for text in known) if beginning else name in known
            assert found, f"{where}: {name}"


def test_every_word_is_used() -> None:
    used = list(uses())
    whole = {name for name, beginning, _ in used if not beginning}
    begun = {name for name, beginning, _ in used if beginning}
    unused = [name for name in words().texts if name not in whole and not any(name.startswith(b) for b in begun)]
    assert unused == []


def test_no_text_holds_markup_and_every_place_has_a_name() -> None:
    for name, text in words().texts.items():
        assert "<" not in text, name
        for _, place, _, _ in string.Formatter().parse(text):
            assert place is None or place.isidentifier(), name


def test_what_fills_a_place_is_escaped_once_where_marked_up() -> None:
    say = Words({"a": "it is {x} & {y}"})
    assert say("a", x="<b>", y="2") == "it is <b> & 2"  # escaped by the template
    assert say("a", x=Markup("<b>1</b>"), y="<i>") == Markup("it is <b>1</b> & &lt;i&gt;")

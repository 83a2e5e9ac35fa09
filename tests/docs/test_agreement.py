"""The page of published values is what the published tests say today, and its links lead to formulas."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from docs.agreement import PAGE, STANDINGS, differences, measure, page
from docs.build import anchor_of
from tests.published import agreement
from tests.published.agreement import Range, absolute, agree, relative
from tests.published.sources import MODELS, SOURCES, TOPICS

DOCS = Path(PAGE).parent


@pytest.fixture(scope="module")
def found():
    return measure()


@pytest.fixture
def rows(monkeypatch):
    fresh: list[agreement.Row] = []
    monkeypatch.setattr(agreement, "ROWS", fresh)
    return fresh


def anchors(file: Path) -> set[str]:
    return {anchor_of(words) for words in re.findall(r"(?m)^#+ (.+)$", file.read_text(encoding="utf-8"))}


def test_the_page_is_what_the_tests_say(found):
    lines = differences(PAGE.read_text(encoding="utf-8"), page(found))
    assert not lines, "run `python docs/agreement.py`\n" + "\n".join(lines)


def test_every_source_and_model_is_used_and_every_row_is_on_the_page(found):
    assert {row["source"] for row in found["rows"]} == set(SOURCES)
    assert {row["model"] for row in found["rows"]} == set(MODELS)
    assert {source.topic for source in SOURCES.values()} == set(TOPICS)
    text = page(found)
    titles = re.findall(r"(?m)^### (.+)$", text)
    assert titles == [source.title for topic in TOPICS for source in SOURCES.values() if source.topic == topic]
    told = Counter(re.findall(r"\| (" + "|".join(STANDINGS) + r") \| \[", text))
    assert told == Counter(row["standing"] for row in found["rows"])
    assert f"| **all** | {len(found['rows'])} |" in text


def test_every_file_of_published_tests_is_on_the_page(found):
    there = {f"tests/published/{file.name}" for file in Path(agreement.__file__).parent.glob("test_*.py")}
    assert {row["test"] for row in found["rows"]} == there


@pytest.mark.parametrize("target", sorted(set(MODELS.values())))
def test_models_lead_to_a_heading(target):
    name, _, anchor = target.partition("#")
    assert anchor in anchors(DOCS / name)


def test_three_clicks_from_a_published_value_to_the_formula_of_the_wall(found):
    (row,) = [
        line
        for line in page(found).splitlines()
        if line.startswith("| film factor, wall over bulk | 30 L/(m² h), k = 30 µm/s |")
    ]
    [(name, anchor)] = re.findall(r"\[wall concentration\]\((.+)#(.+)\)", row)
    section = (DOCS / name).read_text(encoding="utf-8").split("### Concentration at the wall")[1].split("\n### ")[0]
    assert anchor == "concentration-at-the-wall"
    assert "e^{J/k}" in section


def test_the_page_says_what_is_not_proven():
    told = " ".join(PAGE.read_text(encoding="utf-8").split())
    assert "No figure here is compared with readings from a plant in a yard." in told
    assert "The one measured element is a high-pressure one" in told


# ---- the recorder itself ----

KNOWN: dict[str, Any] = {"source": "crane", "quantity": "flow", "standing": "read", "model": "tubes"}


@pytest.mark.parametrize(
    ("published", "ours", "tolerance"),
    [
        (100.0, 100.31, relative(0.003)),
        (-2.0, -1.9, relative(0.04)),
        (0.0, 0.021, absolute(0.02)),
        (1.0, float("nan"), relative(0.5)),
        (Range(1.0, 2.0), 2.1, None),
        (Range(1.0, 2.0), 0.9, None),
        (Range(1.0, 2.0), float("nan"), None),
    ],
)
def test_what_parts_fails_and_says_where(rows, published, ours, tolerance):
    with pytest.raises(AssertionError, match="flow here"):
        agree(**KNOWN, at="here", published=published, ours=ours, tolerance=tolerance)


def test_what_agrees_is_kept(rows):
    agree(**KNOWN, at="here", published=100.0, ours=100.29, tolerance=relative(0.003))
    agree(**KNOWN, at=["cold", "warm"], published=[1.0, 2.0], ours=[1.1, 2.1], tolerance=absolute(0.2))
    agree(**KNOWN, published=Range(1.0, 3.0), ours=1.5)
    assert [(row.at, row.published, row.ours, row.is_range) for row in rows] == [
        ("here", 100.0, 100.29, False),
        ("cold", 1.0, 1.1, False),
        ("warm", 2.0, 2.1, False),
        ("", 2.0, 1.5, True),
    ]


@pytest.mark.parametrize(
    "wrong",
    [
        {"source": "nowhere"},
        {"model": "nothing"},
        {"tolerance": None},
        {"published": Range(0.0, 2.0)},
        {"published": [1.0, 1.0], "ours": [1.0, 1.0]},
        {"published": [1.0, 1.0], "ours": [1.0, 1.0], "at": "ab"},
    ],
)
def test_a_row_without_its_words_is_refused(rows, wrong):
    given = {**KNOWN, "published": 1.0, "ours": 1.0, "tolerance": relative(0.1), **wrong}
    with pytest.raises(AssertionError):
        agree(**given)


def test_a_table_of_another_length_is_refused(rows):
    with pytest.raises(ValueError, match=r"shorter|longer"):
        agree(**KNOWN, at=["a", "b"], published=[1.0, 2.0], ours=[1.0], tolerance=relative(0.1))


@pytest.mark.parametrize(
    ("there", "anew", "same"),
    [
        ("| a | 1.23 |", "| a | 1.24 |", True),
        ("| a | +0.01 % |", "| a | 0.00 % |", True),
        ("| a | 1.23 |", "| a | 1.25 |", False),
        ("| a | 1.23 |", "| a | 1.230 |", False),
        ("| a | 1.23 |", "| b | 1.23 |", False),
        ("| a | 1.23 |", "| a | 1.23 |\n| b | 1.23 |", False),
    ],
)
def test_only_the_last_place_may_differ(there, anew, same):
    assert (differences(there, anew) == []) is same

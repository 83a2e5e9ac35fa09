"""Ten sites against what someone of the trade expects of them; the table with its reasons is in ``expected.py``."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cases.expected import CASES, OPEN, Between, Is, Row, Says, Word
from tests.cases.running import SITES, answer_of


def at(answer: Any, path: str) -> Any:
    """What stands at a dotted path; an entry of a list is found by its `what` or its `media`."""
    for step in path.split("."):
        if isinstance(answer, list):
            answer = next(entry for entry in answer if step in (entry.get("what"), entry.get("media")))
        else:
            answer = answer[step]
    return answer


def miss(answer: dict[str, Any], row: Row) -> str | None:
    """What is wrong with a row, in words; ``None`` where it holds."""
    if isinstance(row, Between):
        value = at(answer, row.path)
        if isinstance(value, int | float) and row.low <= value <= row.high:
            return None
        return f"{row.path} is {value}, expected {row.low} to {row.high} ({row.why})"
    if isinstance(row, Word):
        found = {verdict["what"]: verdict for verdict in answer["verdicts"]}.get(row.what)
        word = found["verdict"] if found else "none"
        if word in row.words.split("|"):
            return None
        return f"'{row.what}' is {word}, expected {row.words} ({row.why}): {found['why'] if found else ''}"
    if isinstance(row, Is):
        flag = at(answer, row.path)
        return None if flag is row.value else f"{row.path} is {flag}, expected {row.value} ({row.why})"
    texts = at(answer, row.path)
    texts = [texts] if isinstance(texts, str) else texts
    if any(row.words in text for text in texts) is not row.silent:
        return None
    return f"{row.path} {'says' if row.silent else 'does not say'} '{row.words}' ({row.why}): {texts}"


def title(row: Row) -> str:
    """By what name a row stands in `OPEN`."""
    if isinstance(row, Word):
        return row.what
    return f"{row.path}: {row.words}" if isinstance(row, Says) else row.path


def test_every_site_has_its_table_and_every_table_its_site():
    assert {file.stem for file in SITES.glob("*.toml")} == set(CASES)


@pytest.mark.parametrize("name", CASES)
def test_case(name):
    answer = answer_of("plan", SITES / f"{name}.toml")
    misses = {title(row): text for row in CASES[name] if (text := miss(answer, row))}
    still_open = {row for case, row in OPEN if case == name}
    assert set(misses) <= still_open, "\n".join(["", *(misses[row] for row in set(misses) - still_open)])
    assert still_open <= set(misses), f"no longer open, take it off the list: {still_open - set(misses)}"


def test_the_open_rows_are_rows():
    for case, row in OPEN:
        assert row in {title(each) for each in CASES[case]}


def test_a_wrong_row_is_seen():
    """The table can fail: each kind of row, turned round."""
    answer = {
        "a": {"b": 2.0},
        "verdicts": [{"what": "frost", "verdict": "look", "why": "cold"}],
        "cautions": ["Frost"],
        "c": True,
    }
    holds: list[Row] = [Between("a.b", 1, 3, ""), Word("frost", "look", ""), Is("c", True, "")]
    holds.append(Says("cautions", "Frost", ""))
    fails: list[Row] = [
        Between("a.b", 3, 4, ""),
        Word("frost", "stop|fine", ""),
        Word("scale", "fine", ""),
        Is("c", False, ""),
        Says("cautions", "Frost", "", silent=True),
        Says("cautions", "iron", ""),
    ]
    assert [miss(answer, row) for row in holds] == [None] * 4
    assert all(miss(answer, row) for row in fails)

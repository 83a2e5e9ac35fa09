"""Record and handover in a real browser: readable by everybody, on a phone, in light and dark."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from .first_runs import RUNS, handover_page_of, record_of
from .opened import LOOKS, Shown, assert_axe_finds_nothing, assert_nothing_scrolls_sideways, opened_file

ALL = [(kind, name) for kind in ("record", "handover") for name in RUNS]


@pytest.fixture(
    params=[pytest.param(one, marks=() if one[1] == "faulty" else pytest.mark.longer) for one in ALL], ids=" ".join
)
def show(request: pytest.FixtureRequest, browser: Browser, tmp_path: Path) -> Iterator[Shown]:
    kind, name = request.param
    file = tmp_path / f"{kind}.html"
    file.write_text((record_of if kind == "record" else handover_page_of)(name), encoding="utf-8")
    with opened_file(browser, file) as opened:
        yield opened


@pytest.mark.parametrize(("width", "scheme"), LOOKS)
def test_axe_finds_nothing(show: Shown, width: int, scheme: str) -> None:
    assert_axe_finds_nothing(show(width, scheme))


def test_nothing_scrolls_sideways(show: Shown) -> None:
    assert_nothing_scrolls_sideways(show(320))

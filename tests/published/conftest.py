"""`pytest tests/published --agreement FILE` writes every published value and ours to FILE, as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.published.agreement import collected


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--agreement", metavar="FILE", help="write the published values and ours to FILE (JSON)")


def pytest_sessionfinish(session: pytest.Session) -> None:
    # Without the option named on the command line this file may be read too late to declare it, hence the default.
    file = session.config.getoption("--agreement", None)
    if file is not None:
        Path(file).write_text(json.dumps(collected(), ensure_ascii=False), encoding="utf-8")

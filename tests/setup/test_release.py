"""The release script refuses what is not ready, and its wheel works in a clean environment."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def release(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(ROOT / "release.py"), *words]
    return subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)


def test_a_version_the_code_does_not_have_is_refused() -> None:
    done = release("99.0.0")
    assert done.returncode == 1
    assert "the code says" in done.stderr


def test_it_says_how_it_is_used() -> None:
    done = release()
    assert done.returncode == 2
    assert "python3 release.py try" in done.stdout


@pytest.mark.longer
def test_the_wheel_works_in_a_clean_environment() -> None:
    done = release("try")
    assert done.returncode == 0, done.stderr
    assert "It works." in done.stdout

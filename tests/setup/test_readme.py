"""What the README shows works."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_python_example_runs(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(ROOT)
    examples = re.findall(r"```python\n(.*?)```", README, re.S)
    assert examples
    for example in examples:
        exec(compile(example, "README.md", "exec"), {})
    assert "L/min at 5 °C" in capsys.readouterr().out


def test_every_file_it_names_is_there() -> None:
    for name in re.findall(r"\]\(([^)#:]+)\)|`((?:examples|tests)/[^`]+)`", README):
        assert (ROOT / (name[0] or name[1])).exists(), name


def test_the_plan_it_shows_is_the_demo_s(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    from rinsewright.cli import main

    monkeypatch.chdir(ROOT)
    shown = re.search(r"```text\n(.*?)\n```", README, re.S)
    assert shown
    assert main(["plan", "examples/tern-quay.toml"]) == 0
    assert capsys.readouterr().out.startswith(shown[1])

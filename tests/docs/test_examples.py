"""What the pages show is what the program does: every command and every piece of Python in them is run."""

from __future__ import annotations

import difflib
import re
import shutil
import sys
from pathlib import Path

import pytest

from docs import examples

ROOT = Path(__file__).parents[2]
RUN = [
    file
    for file in examples.pages()
    if any(block.language in {"console", "python"} for block in examples.blocks(file.read_text(encoding="utf-8")))
]


@pytest.mark.parametrize("file", RUN, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_the_page_shows_what_is_printed(file: Path) -> None:
    shown, printed = file.read_text(encoding="utf-8"), examples.run_page(file)
    lines = difflib.unified_diff(shown.splitlines(), printed.splitlines(), "shown", "printed", lineterm="")
    differing = "\n".join(lines)
    assert shown == printed, f"run `python docs/examples.py --refresh` and look at the changes:\n{differing}"


def test_every_command_shown_is_run() -> None:
    """A command in any other kind of block would go unchecked."""
    for page in examples.pages():
        for block in examples.blocks(page.read_text(encoding="utf-8")):
            if block.language != "console":
                assert "$ rinsewright" not in block.body, page.name
    tutorial = (ROOT / "docs" / "tutorial.md").read_text(encoding="utf-8")
    for command in ("water", "solve", "plan", "element"):
        assert f"$ rinsewright {command} " in tutorial


def test_the_readmes_commands_run(tmp_path: Path) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"^(?:\$ |\.venv/bin/)rinsewright (.+)$", text, re.M)
    assert commands
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    shutil.copy(ROOT / "examples" / "tern-quay.toml", tmp_path / "my-yard.toml")
    assert "serve" in commands  # it runs until it is ended; tests/cli/test_serve.py opens it
    for command in (one for one in commands if one != "serve"):
        examples.run([sys.executable, "-m", "rinsewright", *command.split()], tmp_path, 0, ROOT / "README.md", command)


def a_page(folder: Path, text: str, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(examples, "ROOT", folder)
    (folder / "examples").mkdir()
    file = folder / "page.md"
    file.write_text(text, encoding="utf-8")
    return file


def test_outputs_are_written_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = "```console\n$ rinsewright --version\nold\n$ ls\nkept\n```\n\n"
    text += "```python\nprint(1 + 1)\n```\n\n```output\n3\n```\n"
    new = examples.run_page(a_page(tmp_path, text, monkeypatch))
    assert re.search(r"version\nrinsewright \d.*\n\$ ls\nkept\n", new)
    assert "```output\n2\n```" in new


def test_a_file_shown_is_there_for_the_commands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = '```toml file=a/b.toml\nx = 1\n```\n\n```python\nprint(open("a/b.toml").read())\n```\n\n```output\n```\n'
    assert "```output\nx = 1\n\n```" in examples.run_page(a_page(tmp_path, text, monkeypatch))


@pytest.mark.parametrize(
    ("block", "said"),
    [
        ("```console\n$ rinsewright fly\n```\n", "status 2 instead of 0"),
        ("```console status=3\n$ rinsewright --version\n```\n", "status 0 instead of 3"),
        ('```console from="Nowhere"\n$ rinsewright --version\n```\n', "no line with “Nowhere”"),
        ("```python\n1 / 0\n```\n", "ZeroDivisionError"),
    ],
)
def test_what_does_not_run_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, block: str, said: str) -> None:
    with pytest.raises(SystemExit, match=said):
        examples.run_page(a_page(tmp_path, block, monkeypatch))

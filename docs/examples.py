#!/usr/bin/env python3
"""Runs what the pages show: every command and every piece of Python is run, and what it prints must stand there.

    python docs/examples.py             compare; fails naming each block that differs
    python docs/examples.py --refresh   write what was printed into the pages

A page is run from top to bottom in a folder of its own that holds a copy of ``examples/``:

    ```toml file=my-yard.toml   written to that file (any language may carry file=)
    ```console                  lines beginning with "$ rinsewright" are run, what stands below each is its output;
                                other commands are shown only. first=N keeps so many lines of each output,
                                from="words" begins at the line that holds them, status=N is the exit status expected
    ```python                   run; a block ```output that follows is what it prints
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
SOURCE = ROOT / "src"
LEFT_OUT = "…"
_FENCE = re.compile(r"^```(?P<info>[^\n`]*)\n(?P<body>.*?)^```$", re.S | re.M)
_PROGRESS = re.compile(r"^rinsewright: .* \d+ %$")


@dataclass(frozen=True)
class Block:
    """A fenced block of a page: its language, its options, its text and where the text stands."""

    language: str
    options: dict[str, str]
    body: str
    start: int
    end: int


def pages() -> list[Path]:
    """All Markdown of the documentation, and the README."""
    return [ROOT / "README.md", *sorted(p for p in DOCS.rglob("*.md") if "site" not in p.relative_to(DOCS).parts)]


def blocks(text: str) -> Iterator[Block]:
    """The fenced blocks of a page in their order."""
    for found in _FENCE.finditer(text):
        language, *rest = shlex.split(found["info"]) or [""]
        options = dict(word.split("=", 1) for word in rest if "=" in word)
        yield Block(language, options, found["body"], found.start("body"), found.end("body"))


def run_page(page: Path) -> str:
    """The page's text with every output as it is today."""
    text = page.read_text(encoding="utf-8")
    pieces, at, printed = [], 0, ""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copytree(ROOT / "examples", folder / "examples")
        for block in blocks(text):
            if "file" in block.options:
                (folder / block.options["file"]).parent.mkdir(parents=True, exist_ok=True)
                (folder / block.options["file"]).write_text(block.body, encoding="utf-8")
            new = block.body
            if block.language == "console":
                new = _console(block, folder, page)
            elif block.language == "python" and not _signature(block, page):
                printed = run([sys.executable, "-c", block.body], folder, 0, page, block.body)
            elif block.language == "output":
                new = printed
            pieces += [text[at : block.start], new]
            at = block.end
    return "".join([*pieces, text[at:]])


def _signature(block: Block, page: Path) -> bool:
    """A signature in the generated reference; it looks like Python and is none."""
    return page.parent.name == "reference" and "import " not in block.body


def _console(block: Block, folder: Path, page: Path) -> str:
    lines = []
    shown = False  # whether what stands below the last command is to be kept
    for line in block.body.splitlines():
        if not line.startswith("$ "):
            lines += [line] if shown else []
            continue
        lines.append(line)
        shown = not line.startswith("$ rinsewright")
        if not shown:
            words = shlex.split(line[2:])
            command = [sys.executable, "-m", *words]
            printed = run(command, folder, int(block.options.get("status", "0")), page, line)
            lines += _chosen(printed.splitlines(), block.options)
    return "\n".join(lines) + "\n"


def _chosen(printed: list[str], options: dict[str, str]) -> list[str]:
    """The lines that a block asks for; … stands for those left out."""
    words = options.get("from", "")
    start = next((n for n, line in enumerate(printed) if words in line), None)
    if start is None and words:
        raise SystemExit(f"no line with “{words}” is printed:\n" + "\n".join(printed))
    start = start or 0
    end = start + int(options.get("first", str(len(printed))))
    before, after = [LEFT_OUT] if start else [], [LEFT_OUT] if end < len(printed) else []
    return [*before, *printed[start:end], *after]


def run(command: list[str], folder: Path, status: int, page: Path, shown: str) -> str:
    """What a command prints, what it says on standard error below it; stops where its status is another."""
    paths = [str(SOURCE), *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(paths), "COLUMNS": "80", "PYTHONUTF8": "1"}
    environment.pop("RINSEWRIGHT_PARTS", None)
    environment["HOME"] = environment["USERPROFILE"] = str(folder)  # nobody's own parts
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, encoding="utf-8")
    if done.returncode != status:
        name = page.relative_to(ROOT).as_posix()
        raise SystemExit(f"{name}: status {done.returncode} instead of {status} from\n{shown}\n{done.stderr}")
    said = [line for line in done.stderr.splitlines() if not _PROGRESS.match(line)]
    return done.stdout + "".join(f"{line}\n" for line in said)


def main(refresh: bool) -> int:
    """Compare or refresh all pages."""
    stale = 0
    for page in pages():
        new = run_page(page)
        if new != page.read_text(encoding="utf-8"):
            stale += 1
            print(page.relative_to(ROOT).as_posix(), "refreshed" if refresh else "does not show what is printed today")
            if refresh:
                page.write_text(new, encoding="utf-8")
    return 1 if stale and not refresh else 0


if __name__ == "__main__":
    sys.exit(main("--refresh" in sys.argv[1:]))

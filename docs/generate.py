"""Writes every page that is made from the code: ``python docs/generate.py``.

With ``--check`` nothing is written; the pages that differ are named and the status is 1.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

DOCS = Path(__file__).parent
sys.path[:0] = [str(DOCS.parent)]

from docs.generating.answers import answers  # noqa: E402
from docs.generating.catalogue import catalogue  # noqa: E402
from docs.generating.command_line import command_line  # noqa: E402
from docs.generating.nomenclature import nomenclature  # noqa: E402
from docs.generating.python_api import python_api  # noqa: E402
from docs.generating.schemas import answers_schema, site_file_schema  # noqa: E402
from docs.generating.site_file import site_file  # noqa: E402
from docs.generating.verdicts import verdicts  # noqa: E402

PAGES: dict[str, Callable[[], str]] = {
    "reference/site-file.md": site_file,
    "reference/site-file.schema.json": site_file_schema,
    "reference/answers.md": answers,
    "reference/answers.schema.json": answers_schema,
    "reference/command-line.md": command_line,
    "reference/catalogue.md": catalogue,
    "reference/python.md": python_api,
    "reference/verdicts.md": verdicts,
    "nomenclature.md": nomenclature,
}
"""File → what makes its text."""


def main(arguments: list[str]) -> int:
    """Write the pages, or compare them."""
    differing = [name for name, make in PAGES.items() if not _same(name, make())]
    if "--check" in arguments:
        for name in differing:
            print(f"docs/{name} is not what the code says; run `python docs/generate.py`")
        return 1 if differing else 0
    for name in differing:
        file = DOCS / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(PAGES[name](), encoding="utf-8")
        print(f"written: docs/{name}")
    return 0


def _same(name: str, text: str) -> bool:
    file = DOCS / name
    return file.is_file() and file.read_text(encoding="utf-8") == text


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""The build sheet and the unpacking check as pages and PDFs, and the parts list as tables for other programs."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rinsewright.building.result import BuildSheet
from rinsewright.jobs.pages import write_pages
from rinsewright.papers.build import build_page, unpacking_page
from rinsewright.papers.units import Telling, Units

HEADS = ("what", "size", "quantity", "unit", "in_kit", "needed", "missing", "price", "lead_days", "kind", "why")
MADE = datetime(2000, 1, 1)  # always: the same list gives the same bytes

Cell = str | float | None


@dataclass(frozen=True)
class BuildPapers:
    """A build sheet that can be written to a folder: its pages in ``units``, its tables always in the site file's."""

    sheet: BuildSheet
    units: Units | None = None

    def write(self, folder: Path) -> list[Path]:
        """Write ``build`` and ``unpacking`` as page and PDF, and the two tables; returns the files."""
        telling = Telling.of(self.units)
        pages = {
            "build": (build_page(self.sheet, telling), "build sheet"),
            "unpacking": (unpacking_page(self.sheet, telling), "unpacking check"),
        }
        return [*write_pages(folder, self.sheet.site_name, pages), *self.write_tables(folder)]

    def write_tables(self, folder: Path) -> list[Path]:
        """Write ``parts.csv`` and ``parts.xlsx`` into a folder; returns the files."""
        plain, cells = folder / "parts.csv", folder / "parts.xlsx"
        with plain.open("w", encoding="utf-8", newline="") as stream:
            table = csv.writer(stream, lineterminator="\n")
            table.writerow(HEADS)
            table.writerows(["" if cell is None else cell for cell in row] for row in rows(self.sheet))
        _write_cells(cells, self.sheet)
        return [plain, cells]


def rows(sheet: BuildSheet) -> Iterator[list[Cell]]:
    """The rows of the list under :data:`HEADS`; yes and no in words, nothing where it is not known."""
    for item in (*sheet.items, *sheet.tools):
        values = (getattr(item, head) for head in HEADS)
        yield [{True: "yes", False: "no"}[value] if isinstance(value, bool) else value for value in values]


def _write_cells(file: Path, sheet: BuildSheet) -> None:
    import xlsxwriter

    # What people typed is text, never a formula or a link.
    book = xlsxwriter.Workbook(str(file), {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": f"{sheet.site_name}: parts", "created": MADE})
    page = book.add_worksheet("parts")
    for column, head in enumerate(HEADS):
        page.write(0, column, head)
    for line, row in enumerate(rows(sheet), 1):
        for column, cell in enumerate(row):
            if cell is not None:
                page.write(line, column, cell)
    page.freeze_panes(1, 0)
    book.close()

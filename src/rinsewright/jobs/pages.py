"""Finished pages into a folder, each as HTML and as PDF."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from rinsewright.papers.pdf import page_pdf


def write_pages(folder: Path, site_name: str, pages: Mapping[str, tuple[str, str]]) -> list[Path]:
    """Write each page under its name, with its title in the PDF's own data; returns the files."""
    written = []
    for name, (html, title) in pages.items():
        page, pdf = folder / f"{name}.html", folder / f"{name}.pdf"
        page.write_text(html, encoding="utf-8")
        pdf.write_bytes(page_pdf(html, site_name, title))
        written += [page, pdf]
    return written

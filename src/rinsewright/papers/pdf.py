"""Sheets on A4: finished pages, set for print."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, Literal

from rinsewright.papers.content import PlanPaper
from rinsewright.papers.drawing import WIDEST, draw_wide
from rinsewright.papers.drawing.lettering import describe
from rinsewright.papers.outline import FACE, Node, outline, picture, printable
from rinsewright.papers.plan import plan_page

ACCESSIBLE: Literal["ua-1"] = "ua-1"
NO_SUCH_LETTER = "could not be displayed"  # how the typesetter refuses, under PDF/UA, a letter that no font has


def plan_pdf(paper: PlanPaper, page: str | None = None) -> bytes:
    """The plan sheet as a tagged PDF (PDF/UA-1), the same bytes from the same paper.

    ``page`` is :func:`rinsewright.papers.plan_page` of the same paper, if it is made already. Where a name holds
    letters that the fonts lack, they are printed as boxes, and the file, though tagged, does not claim PDF/UA-1.
    """
    return typeset(print_tree(paper, plan_page(paper) if page is None else page))[0]


def page_pdf(page: str, site_name: str, title: str) -> bytes:
    """A finished page as a tagged PDF in the same way: its words and numbers, set for print."""
    site = printable(site_name)
    return typeset({**outline(page), "title": f"{site}: {title}", "site": site, "across": None})[0]


def print_tree(paper: PlanPaper, page: str) -> dict[str, Any]:
    """What is set in type: the page's outline, its title, and a drawing laid across where the page has no wide one."""
    site = printable(paper.site_name)
    return {**outline(page), "title": f"{site}: plan", "site": site, "across": _across(paper)}


def _across(paper: PlanPaper) -> Node | None:
    """The drawing of a plant too long for an upright page, to be laid across one."""
    wide = draw_wide(paper.path)
    if wide.width <= WIDEST:
        return None
    return picture(wide.svg("path-wide", f"The water's way at {paper.site_name}", describe(paper.path)))


def typeset(tree: dict[str, Any], *, fallback: bool = True) -> tuple[bytes, list[str]]:
    """Set an outline in type; returns the file and the typesetter's warnings.

    The outline goes in as data, never as source: nothing that people typed can be taken for markup. ``fallback``:
    whether letters that the face lacks may be taken from another of the typesetter's own fonts.
    """
    import typst

    source = files("rinsewright.papers").joinpath("templates", "plan.typ").read_bytes()
    data = json.dumps({**tree, "face": FACE, "fallback": fallback}, sort_keys=True)

    def compiled(standard: Literal["ua-1"] | None) -> tuple[bytes, list[str]]:
        done, warnings = typst.compile_with_warnings(
            source, sys_inputs={"data": data}, ignore_system_fonts=True, pdf_standards=standard
        )
        return done, [warning.message for warning in warnings]

    try:
        return compiled(ACCESSIBLE)
    except typst.TypstError as refusal:
        if NO_SUCH_LETTER not in str(refusal):
            raise
        return compiled(None)

"""Sheets on A4: finished pages, set for print."""

from __future__ import annotations

import json
import re
import unicodedata
from importlib.resources import files
from typing import Any, Literal

from rinsewright.papers.content import PlanPaper
from rinsewright.papers.drawing import WIDEST, draw_wide
from rinsewright.papers.drawing.lettering import describe
from rinsewright.papers.outline import FACE, Node, outline, picture, printable
from rinsewright.papers.plan import plan_page

ACCESSIBLE: Literal["ua-1"] = "ua-1"
# How the typesetter refuses, under PDF/UA, a letter that no font has: itself or by its number.
NO_SUCH_LETTER = re.compile(r'the text `"(?:\\u\{([0-9a-f]+)\}|\\?(.))"` could not be displayed')


def plan_pdf(paper: PlanPaper, page: str | None = None) -> bytes:
    """The plan sheet as a tagged PDF (PDF/UA-1), the same bytes from the same paper.

    ``page`` is :func:`rinsewright.papers.plan_page` of the same paper, if it is made already. Of what the fonts lack a
    letter is printed as a question mark, and a picture is left out; the page keeps both.
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
    whether a letter that the face lacks may be taken from another of the typesetter's own fonts, and replaced if none
    has it. Without it such a letter raises TypstError.
    """
    import typst

    source = files("rinsewright.papers").joinpath("templates", "plan.typ").read_bytes()
    while True:
        data = json.dumps({**tree, "face": FACE, "fallback": fallback}, sort_keys=True)
        try:
            done, warnings = typst.compile_with_warnings(
                source, sys_inputs={"data": data}, ignore_system_fonts=True, pdf_standards=ACCESSIBLE
            )
        except typst.TypstError as refusal:
            without = _without(tree, _refused(refusal.diagnostic)) if fallback else tree
            if without == tree:
                raise
            tree = without
        else:
            return done, [warning.message for warning in warnings]


def _refused(diagnostic: str) -> frozenset[str]:
    """What is to be left out after a refusal. A picture of several signs is refused with all of them: of "1" in a frame
    the frame goes first, and the 1 stays."""
    letters = {letter or chr(int(number, 16)) for number, letter in NO_SUCH_LETTER.findall(diagnostic)}
    return frozenset(letter for letter in letters if unicodedata.category(letter)[0] in "MC") or frozenset(letters)


def _without(tree: Any, lost: frozenset[str]) -> Any:
    """A tree whose texts have a question mark for every lost letter and nothing for any other lost sign."""
    if isinstance(tree, dict):
        return {name: _without(value, lost) for name, value in tree.items()}
    if isinstance(tree, list):
        return [_without(value, lost) for value in tree]
    if not isinstance(tree, str) or lost.isdisjoint(tree):
        return tree
    text = "".join("?" if sign in lost and sign.isalpha() else sign for sign in tree)
    signs = f"[{''.join(map(re.escape, lost))}]+"
    return re.sub(signs, "", re.sub(rf"(?<!\S){signs} ", "", text)) or "?"

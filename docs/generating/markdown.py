"""Small pieces of Markdown."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable, Sequence

NOTE = "<!-- Made by `python docs/generate.py` from the code. Change the code, then run it again. -->"


def page(title: str, *blocks: str) -> str:
    """A page: title, a note that it is made, blocks with a blank line between them."""
    return "\n\n".join([f"# {title}", NOTE, *(block.strip("\n") for block in blocks if block)]) + "\n"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; pipes in cells are escaped, columns without any content left out."""
    body = [[cell.replace("|", "\\|").replace("\n", " ") for cell in row] for row in rows]
    kept = [n for n in range(len(head)) if any(row[n] for row in body)]
    lines = [[head[n] for n in kept], ["---"] * len(kept), *([row[n] or "–" for n in kept] for row in body)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def code(text: object) -> str:
    """Text as code."""
    return f"`{text}`"


def anchor(title: str) -> str:
    """The anchor of a heading: its letters, digits and hyphens, in small letters."""
    return re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-")


def link(words: str, title: str, file: str = "") -> str:
    """A link to a heading of this or another page."""
    return f"[{words}]({file}#{anchor(title)})"


def doc(thing: object) -> str:
    """The docstring of a thing as Markdown, without its examples."""
    text = inspect.cleandoc(getattr(thing, "__doc__", None) or "")
    text = re.sub(r"(?m)^>>>.*$", "", text)
    text = re.sub(r":\w+:`~?(?:[\w.]*\.)?(\w+)`", r"`\1`", text).replace("``", "`")
    return text.replace("::\n", ":\n").strip()


def number(value: float) -> str:
    """A number as a person writes it."""
    if value < 0.0:
        return f"−{number(-value)}"
    if value and (value >= 1e7 or value < 1e-3):
        mantissa, _, power = f"{value:.6g}".partition("e")
        if power:
            return f"{mantissa} × 10^{int(power)}" if mantissa != "1" else f"10^{int(power)}"
    return f"{value:,.0f}" if value >= 1e5 else f"{value:.6g}"

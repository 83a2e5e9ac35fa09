"""A finished page as a tree for print: the same words and numbers in the same order, without anything of the screen.

What is printed is read from the page itself and not composed a second time, so that page and print cannot differ.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any
from xml.etree import ElementTree

Node = dict[str, Any]

SVG = "{http://www.w3.org/2000/svg}"
INLINE = {"a", "b", "data", "em", "span", "time"}
PRINT_PAPER = "#FFFFFF"
FACE = "Libertinus Serif"
ONLY_ON_SCREENS = {"strip-tall", "switch"}
STRETCHED = {"bar", "swing"}
BAR_LOOKS = {"to-low": "hollow", "edge": "stroke"}
UPRIGHT = re.compile(r"M([\d.]+),[\d.]+ (?:H([\d.]+) )?V")  # how a bar begins, and a stroke
NOT_TEXT = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, production [2]
LONG_WORD = re.compile(r"[^\s/.-]{36,}")


def outline(page: str) -> Node:
    """The page's body as nested nodes, and its language.

    A node is a text, or ``{"tag", "class", "id", "children"}``. A picture is ``{"tag": "svg", "svg", "alt", "width",
    "height"}``: a whole SVG with fixed inks, its title and description, and the size of its view box. One that
    is as wide as its cell has ``"bars"`` instead, to be drawn anew: from and to how many per cent of the width.
    """
    body = page[page.index("<body>") : page.index("</body>") + len("</body>")]
    language = re.search(r'<html lang="([^"]+)"', page)
    assert language is not None  # the template's own first line
    tree = _element(ElementTree.fromstring(printable(body)))
    return {"lang": language.group(1), "inks": dict(inks()), "children": tree["children"]}


def printable(text: str) -> str:
    """A text without control characters, which a name may hold but which nothing can print."""
    return NOT_TEXT.sub("", text)


@cache
def inks() -> Mapping[str, str]:
    """The colours on white paper: those of the page by day."""
    return {**dict(re.findall(r"--([\w-]+): (#\w{6});", _template("inks-day.css"))), "paper": PRINT_PAPER}


@cache
def _picture_style(look: str) -> str:
    """The page's style of pictures of one look, for a renderer that knows no variables and shows every picture."""
    rules, pages = [_template("drawing.css")], _template("paper.css") + _template("answer.css")
    for name in look.split():
        rules += re.findall(rf"^\.{re.escape(name)}(?: [^{{]*)? \{{.*\}}$", pages, re.MULTILINE)
    css = re.sub(r"font-family:[^;}]*", f"font-family: '{FACE}'", "\n".join(rules))
    return _fixed(re.sub(r"display:[^;}]*;?", "", css))


def _fixed(text: str) -> str:
    """Put inks in the place of the page's variables."""
    return re.sub(r"var\(--(\w+)\)", lambda found: inks()[found.group(1)], text)


def _template(name: str) -> str:
    return files("rinsewright.papers").joinpath("templates", name).read_text(encoding="utf-8")


def _element(element: ElementTree.Element) -> Node:
    """One element and what is in it."""
    tag = element.tag.removeprefix(SVG)
    if tag == "svg":
        return _picture(element)
    children = _joined(_children(element), trim=tag not in INLINE)
    look = element.get("class", "").split()
    given = {name: element.get(name) for name in ("id", "href", "colspan", "scope") if element.get(name)}
    return {"tag": tag, "class": look, "children": children, **given}


def _children(element: ElementTree.Element) -> Iterator[str | Node]:
    yield _text(element.text)
    tall_only = "only-tall" in element.get("class", "")
    for child in element:
        look = child.get("class", "").split()
        if not ONLY_ON_SCREENS.intersection(look) and ("path-tall" not in look or tall_only):
            yield _element(child)
        yield _text(child.tail)


def _text(text: str | None) -> str:
    """Runs of white space are one space; a no-break space stays; words longer than a column may be broken."""
    spaced = re.sub(r"[ \t\r\n]+", " ", text or "")
    return LONG_WORD.sub(lambda word: "\N{ZERO WIDTH SPACE}".join(word.group()), spaced)


def _joined(children: Iterator[str | Node], *, trim: bool) -> list[str | Node]:
    """Texts side by side become one; around blocks, and at the ends of one, no space is left."""
    out: list[str | Node] = []
    for child in children:
        if isinstance(child, str) and out and isinstance(out[-1], str):
            out[-1] += child
        else:
            out.append(child)
    for place, child in enumerate(out):
        if isinstance(child, str):
            left = _is_block(out[place - 1]) if place else trim
            right = _is_block(out[place + 1]) if place + 1 < len(out) else trim
            child = child.lstrip(" ") if left else child
            out[place] = child.rstrip(" ") if right else child
    return [child for child in out if child != ""]


def _is_block(child: str | Node) -> bool:
    return not isinstance(child, str) and child["tag"] not in INLINE and child["tag"] != "svg"


def picture(svg: str) -> Node:
    """The node of a drawing."""
    return _picture(ElementTree.fromstring(printable(svg)))


def _picture(svg: ElementTree.Element) -> Node:
    """A drawing that stands by itself: namespace, style and inks of its own."""
    look = svg.get("class", "").split()
    node: Node = {"tag": "svg", "class": look, "children": []}
    if STRETCHED.intersection(look):
        return {**node, "bars": list(_bars(svg))}
    told = [svg.findtext(f"{SVG}{name}") for name in ("title", "desc")]
    width, height = (float(size) for size in svg.get("viewBox", "").split()[2:])
    alone = ElementTree.Element("svg", {**svg.attrib, "xmlns": SVG.strip("{}")})
    style = ElementTree.SubElement(alone, "style")
    style.text = _picture_style(" ".join(look))
    alone.extend(svg)
    for part in alone.iter():
        part.tag = part.tag.removeprefix(SVG)
    drawn = _fixed(ElementTree.tostring(alone, encoding="unicode"))
    return {**node, "svg": drawn, "alt": ". ".join(part for part in told if part), "width": width, "height": height}


def _bars(svg: ElementTree.Element) -> Iterator[Node]:
    """Bars and strokes of a picture as wide as its cell; the line below them is not one of them."""
    for part in svg.iter():
        width, drawn = part.get("width", ""), UPRIGHT.match(part.get("d", ""))
        if part.tag.removeprefix(SVG) == "rect" and width.endswith("%"):
            yield {"look": "full", "from": 0.0, "to": float(width.rstrip("%"))}
        elif drawn is not None:
            left = float(drawn.group(1))
            look = BAR_LOOKS.get(part.get("class", ""), "full")
            yield {"look": look, "from": left, "to": float(drawn.group(2) or left)}

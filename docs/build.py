#!/usr/bin/env python3
"""Builds the documentation: Markdown pages and ``nav.toml`` to plain HTML in ``docs/site/``, offline.

    python docs/build.py [FOLDER]

A dead link, a page that ``nav.toml`` misses or a title that two pages share fails the build; every such problem is
named at once. Beside plain Markdown with tables there are three things of our own:

    $c_w$               a symbol or short formula in a line: _ and ^ set low and high, {…} groups
    ```formula          lines of formulas, set the same way
    <!-- agreement -->  the sections of agreement.md that link to this page, as links back

A link to a file of the repository (``../../src/…/channel.py#flux``) becomes a page that shows that file, at the place
where the name after ``#`` is defined; a name that is not defined there is a dead link.
"""

from __future__ import annotations

import ast
import os
import re
import shutil
import sys
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from html import escape
from itertools import pairwise
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markdown_it import MarkdownIt
from markdown_it.rules_inline import StateInline
from markdown_it.token import Token
from markupsafe import Markup

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
AGREEMENT = "agreement.md"
MOST_OPEN = 16  # headings; a longer list of contents is folded
HEADINGS = "headings.html"  # made here, the one page without Markdown
BACK_LINKS = "<!-- agreement -->"


class BrokenDocs(Exception):
    """Everything wrong with the pages, one problem a line."""


@dataclass(frozen=True)
class Heading:
    """A heading of a page: its level, its words and its anchor."""

    level: int
    text: str
    anchor: str


@dataclass
class Page:
    """One Markdown file, parsed. ``links``: (file of the repository, anchor, heading it stands under)."""

    name: str  # as in nav.toml
    section: str
    tokens: list[Token]
    headings: list[Heading]
    links: list[tuple[Path, str, Heading]] = field(default_factory=list)

    @property
    def title(self) -> str:
        """The first heading."""
        return self.headings[0].text if self.headings else ""

    @property
    def file(self) -> Path:
        """Where its Markdown is."""
        return DOCS / self.name

    @property
    def html(self) -> str:
        """Its file in the site."""
        return self.name.removesuffix(".md") + ".html"


# ---- Markdown ----


def parser() -> MarkdownIt:
    """CommonMark with tables and with formulas."""
    md = MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"])
    md.inline.ruler.before("emphasis", "formula", _formula_rule)
    md.add_render_rule(
        "formula", lambda self, tokens, i, options, env: f"<span class=math>{set_(tokens[i].content)}</span>"
    )
    md.add_render_rule("fence", _fence)
    md.add_render_rule(
        "table_open", lambda *_: '<div class="scroll" role="group" aria-label="Table" tabindex="0"><table>'
    )
    md.add_render_rule("table_close", lambda *_: "</table></div>\n")
    return md


def _formula_rule(state: StateInline, silent: bool) -> bool:
    found = re.compile(r"\$(?=\S)([^$\n]+?)(?<=\S)\$(?!\d)").match(state.src, state.pos)
    if found is None:
        return False
    if not silent:
        token = state.push("formula", "", 0)
        token.content = found[1]
    state.pos = found.end()
    return True


_SET = re.compile(
    r"_(?:\{(?P<low>[^{}]*)\}|(?P<index>[\w′*]+))|\^(?:\{(?P<high>[^{}]*)\}|(?P<power>−?[\w′*½]+))"
    r"|(?P<unit>(?<=\d )K|°C)|(?P<small>d)?(?P<word>(?(small)[A-Za-z](?![A-Za-z])|[A-Za-z]+))|(?P<rest>.)",
    re.S,
)


def set_(formula: str) -> str:
    """HTML of a formula: one letter is a quantity and leans, a word, a unit or an index is a name and stands."""
    parts = []
    for found in _SET.finditer(formula):
        low, high, word = found["low"] or found["index"], found["high"] or found["power"], found["word"]
        if low:
            parts.append(f"<sub>{escape(low)}</sub>")
        elif high:
            parts.append(f"<sup>{set_(high)}</sup>")
        elif word:
            parts.append((found["small"] or "") + (f"<i>{word}</i>" if len(word) == 1 else word))
        else:
            parts.append(escape(found[0]))
    return "".join(parts)


def _fence(self: Any, tokens: Sequence[Token], i: int, options: Any, env: Any) -> str:
    kind, _, _ = tokens[i].info.partition(" ")
    if kind == "formula":
        lines = [line for line in tokens[i].content.splitlines() if line.strip()]
        return '<div class="formula">' + "".join(f"<p>{_aligned(line)}</p>" for line in lines) + "</div>\n"
    words = {"console": "Commands and what they print", "output": "What it prints", "toml": "Site file"}
    label = words.get(kind, "Example")
    lines_ = escape(tokens[i].content.rstrip("\n")).split("\n")
    if kind == "console":
        lines_ = [f"<b>{line}</b>" if line.startswith("$ ") else line for line in lines_]
    return (
        f'<pre class="{escape(kind or "plain")}" role="group" aria-label="{label}" tabindex="0">'
        + "\n".join(lines_)
        + "</pre>\n"
    )


def _aligned(line: str) -> str:
    """A formula and, after three spaces, what it is called."""
    formula, _, remark = re.sub(r" {3,}", "\t", line.strip()).partition("\t")
    words = [set_(part) if n % 2 else escape(part) for n, part in enumerate(remark.split("$"))]
    return set_(formula) + (f" <small>{''.join(words)}</small>" if remark else "")


def anchor_of(text: str) -> str:
    """The anchor of a heading: small letters, digits and hyphens (as code hosts make it)."""
    return re.sub(r"[^\w\- ]", "", text.lower()).strip().replace(" ", "-")


def _plain(inline: Token) -> str:
    return "".join(child.content for child in inline.children or [])


def read_page(name: str, section: str, md: MarkdownIt) -> Page:
    """Parse a page; its headings get anchors, numbered where they repeat."""
    tokens = md.parse((DOCS / name).read_text(encoding="utf-8"))
    headings: list[Heading] = []
    taken: dict[str, int] = {}
    for at, token in enumerate(tokens):
        if token.type != "heading_open":
            continue
        text = _plain(tokens[at + 1])
        anchor = anchor_of(text)
        taken[anchor] = taken.get(anchor, 0) + 1
        if taken[anchor] > 1:
            anchor = f"{anchor}-{taken[anchor] - 1}"
        token.attrSet("id", anchor)
        headings.append(Heading(int(token.tag[1]), text, anchor))
    return Page(name, section, tokens, headings)


# ---- the whole site ----


class Site:
    """All pages, and what is wrong with them."""

    def __init__(self, nav: Sequence[dict[str, Any]]) -> None:
        self.md = parser()
        self.problems: list[str] = []
        self.sections: list[tuple[str, list[Page]]] = []
        for section in nav:
            there = [name for name in section["pages"] if (DOCS / name).is_file()]
            self.problems += [f"nav.toml: {name} is not there" for name in section["pages"] if name not in there]
            self.sections.append((section["title"], [read_page(name, section["title"], self.md) for name in there]))
        self.pages = {page.name: page for _, pages in self.sections for page in pages}
        self.sources: set[Path] = set()
        self.pictures: set[Path] = set()
        self._check_nav()
        self._check_titles()
        for page in self.pages.values():
            self._follow(page)
        self._back_links()

    def _check_nav(self) -> None:
        named = [page.name for _, pages in self.sections for page in pages]
        self.problems += [
            f"nav.toml: {name} stands there twice" for name in sorted({n for n in named if named.count(n) > 1})
        ]
        for file in sorted(DOCS.rglob("*.md")):
            name = file.relative_to(DOCS).as_posix()
            if name not in self.pages and not name.startswith("site/"):
                self.problems.append(f"{name}: not in nav.toml, so nobody would find it")

    def _check_titles(self) -> None:
        seen: dict[str, str] = {}
        for page in self.pages.values():
            levels = [heading.level for heading in page.headings]
            if levels[:1] != [1] or levels.count(1) != 1:
                self.problems.append(f"{page.name}: must begin with its one title, # …")
            if any(after > before + 1 for before, after in pairwise(levels)):
                self.problems.append(f"{page.name}: a heading skips a level")
            other = seen.setdefault(page.title, page.name)
            if other != page.name:
                self.problems.append(f"{page.name}: has the title of {other}, “{page.title}”")

    def _follow(self, page: Page) -> None:
        """Check every link of a page and point it at the site's own file."""
        under = page.headings[0] if page.headings else Heading(1, "", "")
        by_anchor = {heading.anchor: heading for heading in page.headings}
        for token in page.tokens:
            if token.type == "heading_open":
                under = by_anchor[str(token.attrs["id"])]
            for child in token.children or []:
                if child.type == "link_open":
                    child.attrSet("href", self._link(page, str(child.attrs["href"]), under))
                elif child.type == "image":
                    self._image(page, str(child.attrs["src"]))

    def _link(self, page: Page, href: str, under: Heading) -> str:
        if re.match(r"https?://|mailto:", href):
            return href
        where, _, anchor = href.partition("#")
        target = (page.file.parent / where).resolve() if where else page.file
        if not target.is_file() or not target.is_relative_to(ROOT):
            self.problems.append(f"{page.name}: the link {href} leads nowhere")
            return href
        page.links.append((target, anchor, under))
        if target.is_relative_to(DOCS) and target.suffix == ".md":
            return self._page_link(page, target.relative_to(DOCS).as_posix(), anchor, href)
        self.sources.add(target)
        if anchor and anchor not in {name for name, _ in definitions(target)}:
            self.problems.append(f"{page.name}: {href}: no {anchor} is defined there")
        return relative(page.html, source_html(target)) + (f"#{anchor}" if anchor else "")

    def _page_link(self, page: Page, name: str, anchor: str, href: str) -> str:
        other = self.pages.get(name)
        if other is None:
            self.problems.append(f"{page.name}: the link {href} leads to a page that is not in nav.toml")
            return href
        if anchor and anchor not in {heading.anchor for heading in other.headings}:
            self.problems.append(f"{page.name}: the link {href} leads to a heading that is not there")
        return ("" if other is page else relative(page.html, other.html)) + (f"#{anchor}" if anchor else "")

    def _image(self, page: Page, src: str) -> None:
        file = (page.file.parent / src).resolve()
        if not file.is_file() or not file.is_relative_to(DOCS):
            self.problems.append(f"{page.name}: the picture {src} is not there")
        self.pictures.add(file)

    def _back_links(self) -> None:
        """Fill in, on each page that asks for it, the sections of the agreement page that lead to it."""
        agreement = self.pages.get(AGREEMENT)
        for page in self.pages.values():
            for token in page.tokens:
                if token.type != "html_block" or token.content.strip() != BACK_LINKS:
                    continue
                leading = [h for to, _, h in agreement.links if to == page.file] if agreement else []
                if not leading:
                    self.problems.append(f"{page.name}: no section of {AGREEMENT} links to this page")
                    continue
                base = relative(page.html, agreement.html) if agreement else ""
                rows = (f'<li><a href="{base}#{h.anchor}">{escape(h.text)}</a></li>' for h in dict.fromkeys(leading))
                token.content = f"<ul>{''.join(rows)}</ul>\n"

    # -- writing --

    def write(self, out: Path) -> None:
        """Write the site into a folder, which is emptied first."""
        if self.problems:
            raise BrokenDocs("\n".join(self.problems))
        if out.exists():
            shutil.rmtree(out)
        environment = Environment(
            loader=FileSystemLoader(DOCS / "template"), autoescape=True, undefined=StrictUndefined,
            trim_blocks=True, lstrip_blocks=True,
        )  # fmt: skip
        self.template = environment.get_template("page.html.j2")
        order = list(self.pages.values())
        for n, page in enumerate(order):
            self._write_page(out, page, order[n - 1] if n else None, order[n + 1] if n + 1 < len(order) else None)
        self._put(out, HEADINGS, "Index of headings", "", Markup(self._index()))
        for file in sorted(self.sources):
            self._put(out, source_html(file), file.relative_to(ROOT).as_posix(), "The source", Markup(_source(file)))
        shutil.copy(DOCS / "template" / "style.css", out / "style.css")
        for picture in self.pictures:
            target = out / picture.relative_to(DOCS)
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(picture, target)

    def _write_page(self, out: Path, page: Page, before: Page | None, after: Page | None) -> None:
        start = next(i for i, token in enumerate(page.tokens) if token.type == "heading_close") + 1
        middle = start + _opening(page.tokens[start:])
        opening, body = (
            Markup(self.md.renderer.render(part, self.md.options, {}))
            for part in (page.tokens[start:middle], page.tokens[middle:])
        )
        contents = [heading for heading in page.headings[1:] if heading.level <= 3]
        self._put(
            out, page.html, page.title, page.section, body, opening=opening, before=before, after=after,
            contents=contents if len(contents) > 2 else [],
        )  # fmt: skip

    def _put(self, out: Path, html: str, title: str, section: str, body: Markup, **more: Any) -> None:
        """Write one page of the site. ``more``: what only pages of Markdown have."""
        target = out / html
        target.parent.mkdir(parents=True, exist_ok=True)
        given = {"opening": "", "contents": [], "before": None, "after": None, **more}
        page = self.template.render(
            here=html, title=title, anchor=anchor_of(title), section=section, body=body, sections=self.sections,
            to=lambda other: relative(html, other), index=HEADINGS, most_open=MOST_OPEN, **given,
        )  # fmt: skip
        target.write_text(page, encoding="utf-8")

    def _index(self) -> str:
        """Every heading: those that stand on one page only by the alphabet, then all of them page by page."""
        everywhere = [(h, page) for page in self.pages.values() for h in page.headings]
        words = [h.text for h, _ in everywhere]
        single = [(h, page) for h, page in everywhere if words.count(h.text) == 1]
        single.sort(key=lambda pair: _sorting(pair[0].text))
        rows = [
            f'<li><a href="{page.html}#{h.anchor}">{escape(h.text)}</a>'
            + (f" <span>{escape(page.title)}</span>" if h.level > 1 else "") + "</li>"
            for h, page in single
        ]  # fmt: skip
        by_page = [
            f'<li><a href="{page.html}">{escape(page.title)}</a><ul>'
            + "".join(f'<li><a href="{page.html}#{h.anchor}">{escape(h.text)}</a></li>' for h in page.headings[1:])
            + "</ul></li>"
            if page.headings[1:]
            else f'<li><a href="{page.html}">{escape(page.title)}</a></li>'
            for page in self.pages.values()
        ]
        return (
            f'<h2>By the alphabet</h2><ul class="index">{"".join(rows)}</ul>'
            f'<h2>Page by page</h2><ul class="index">{"".join(by_page)}</ul>'
        )


def _opening(tokens: Sequence[Token]) -> int:
    """How many tokens the opening has: up to the first paragraph, which stands before the list of contents."""
    for n, token in enumerate(tokens):
        if token.type == "heading_open":
            break
        if token.type == "paragraph_close" and token.level == 0:
            return n + 1
    return 0


def _sorting(text: str) -> str:
    return re.sub(r"[^\w ]", "", text.lower())


# ---- the source, shown ----


def source_html(file: Path) -> str:
    """The page that shows a file of the repository."""
    return f"source/{file.relative_to(ROOT).as_posix()}.html"


def definitions(file: Path) -> Iterator[tuple[str, int]]:
    """Names a Python file defines (``Class.method`` too) and their lines; nothing for other files."""
    if file.suffix != ".py":
        return
    yield from _defined(ast.parse(file.read_text(encoding="utf-8")).body, "")


def _defined(body: Iterable[ast.stmt], prefix: str) -> Iterator[tuple[str, int]]:
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield prefix + node.name, min([node.lineno, *(d.lineno for d in node.decorator_list)])
            if isinstance(node, ast.ClassDef):
                yield from _defined(node.body, f"{node.name}.")
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                if isinstance(target, ast.Name):
                    yield prefix + target.id, node.lineno


def _source(file: Path) -> str:
    at: dict[int, str] = {}
    for name, line in definitions(file):
        at.setdefault(line, name)
    rows = []
    for n, text in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
        mark = f' id="{at[n]}"' if n in at else ""
        rows.append(f"<span{mark}><i>{n}</i>{escape(text)}</span>")
    return '<pre class="source" role="group" aria-label="Source" tabindex="0">' + "\n".join(rows) + "</pre>"


def relative(here: str, there: str) -> str:
    """From one file of the site to another."""
    return Path(os.path.relpath(there, Path(here).parent)).as_posix()


def build(out: Path) -> Site:
    """Build the site into a folder. Raises :class:`BrokenDocs` naming everything that is wrong."""
    nav = tomllib.loads((DOCS / "nav.toml").read_text(encoding="utf-8"))["section"]
    site = Site(nav)
    site.write(out)
    return site


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS / "site"
    try:
        made = build(folder)
    except BrokenDocs as problems:
        print(problems, file=sys.stderr)
        sys.exit(1)
    print(f"{len(made.pages)} pages in {folder}")

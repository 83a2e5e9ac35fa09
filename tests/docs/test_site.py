"""The documentation as a site: it builds, every link leads somewhere, and nothing is hard to find."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest

from docs import build

ROOT = Path(__file__).parents[2]


class Reader(HTMLParser):
    """Links, anchors and outside addresses of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.anchors: set[str] = set()
        self.loaded: list[str] = []
        self.tags: set[str] = set()
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.tags.add(tag)
        if tag == "a" and given.get("href"):
            self.links.append(str(given["href"]))
        if tag in {"link", "img", "script", "source", "iframe"}:
            self.loaded.append(str(given.get("href") or given.get("src")))
        if given.get("id"):
            self.anchors.add(str(given["id"]))


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site") / "out"
    build.build(folder)
    return folder


@pytest.fixture(scope="module")
def pages(site: Path) -> dict[str, Reader]:
    return {f.relative_to(site).as_posix(): Reader(f.read_text(encoding="utf-8")) for f in site.rglob("*.html")}


def target(page: str, href: str) -> tuple[str, str]:
    """File of the site and anchor that a link leads to."""
    where, _, anchor = href.partition("#")
    parts: list[str] = []
    for part in [*Path(page).parent.parts, *where.split("/")] if where else Path(page).parts:
        if part == "..":
            parts.pop()
        else:
            parts.append(part)
    return "/".join(parts), anchor


def followed(pages: dict[str, Reader]) -> Iterator[tuple[str, str, str, str]]:
    for page, read in pages.items():
        for href in read.links:
            if not href.startswith(("http", "mailto")):
                yield page, href, *target(page, href)


def test_every_link_leads_to_a_page_and_a_place_on_it(pages: dict[str, Reader]) -> None:
    dead = [
        f"{page}: {href}"
        for page, href, file, anchor in followed(pages)
        if file not in pages or (anchor and anchor not in pages[file].anchors)
    ]
    assert dead == []


def test_nothing_is_loaded_from_outside_and_nothing_is_run(site: Path, pages: dict[str, Reader]) -> None:
    for page, read in pages.items():
        assert not read.tags & {"script", "iframe"}, page
        for source in read.loaded:
            assert source == "data:," or (site / target(page, source)[0]).is_file(), f"{page} loads {source}"
    assert "http" not in (site / "style.css").read_text(encoding="utf-8")


def test_titles_are_unique(site: Path) -> None:
    titles = [re.findall(r"<title>(.*?)</title>", f.read_text(encoding="utf-8"))[0] for f in site.rglob("*.html")]
    assert len(titles) == len(set(titles))


def test_every_page_is_reached_from_the_first(pages: dict[str, Reader]) -> None:
    reached, todo = {"index.html"}, ["index.html"]
    while todo:
        page = todo.pop()
        for href in pages[page].links:
            file = target(page, href)[0]
            if file in pages and file not in reached:
                reached.add(file)
                todo.append(file)
    assert reached == set(pages)


def test_the_index_lists_every_heading(site: Path, pages: dict[str, Reader]) -> None:
    listed = {target("headings.html", href) for href in pages["headings.html"].links}
    for file in [page for page in pages if not page.startswith("source/") and page != "headings.html"]:
        html = (site / file).read_text(encoding="utf-8")
        for anchor in re.findall(r'<h[2-6] id="([^"]+)"', html):
            assert (file, anchor) in listed, f"{file}#{anchor}"


def clicks(pages: dict[str, Reader], start: str, wanted: tuple[str, str], most: int) -> int | None:
    """Links to follow from a page to a place on another; None where ``most`` are too few."""
    here = {start}
    for count in range(1, most + 1):
        places = {target(page, href) for page in here for href in pages[page].links if not href.startswith("http")}
        if wanted in places:
            return count
        here = {file for file, _ in places if file in pages}
    return None


@pytest.mark.parametrize("start", ["agreement.html", "index.html"])
def test_the_formula_of_the_wall_is_three_clicks_away(site: Path, pages: dict[str, Reader], start: str) -> None:
    page, anchor = "models/membrane-element.html", "concentration-at-the-wall"
    assert clicks(pages, start, (page, anchor), 3)
    below = (site / page).read_text(encoding="utf-8").split(f'id="{anchor}"')[1].split("<h3")[0]
    assert re.search(r'class="formula".*<i>c</i><sub>w</sub> − <i>c</i><sub>p</sub>', below)
    assert clicks(pages, page, ("source/src/rinsewright/plant/membrane/channel.py.html", "flux"), 1)


MODEL_PAGES = sorted((ROOT / "docs" / "models").glob("*.md"))
PARTS = ["Equations", "Sources", "Where it holds", "How sure", "What it does not do", "In the code", "Published checks"]


@pytest.mark.parametrize("file", [p for p in MODEL_PAGES if p.name != "overview.md"], ids=lambda p: p.stem)
def test_a_law_has_all_its_parts(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    headings = [heading for heading in re.findall(r"^## (.*)$", text, re.M) if heading in PARTS]
    assert headings == PARTS
    assert "src/rinsewright/" in text.split("## In the code")[1]


# ---- what must not pass ----


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A documentation of two pages."""
    docs = tmp_path / "docs"
    shutil.copytree(ROOT / "docs" / "template", docs / "template")
    (docs / "nav.toml").write_text('[[section]]\ntitle = "All"\npages = ["index.md", "other.md"]\n')
    (docs / "index.md").write_text("# First\n\nSee [the other](other.md#here) and [code](../code.py#seen).\n")
    (docs / "other.md").write_text("# Second\n\n## Here\n\n$c_w$ at the wall\n")
    (tmp_path / "code.py").write_text("def seen():\n    pass\n")
    monkeypatch.setattr(build, "DOCS", docs)
    monkeypatch.setattr(build, "ROOT", tmp_path)
    return docs


def test_a_small_site_builds(small: Path) -> None:
    build.build(small / "site")
    assert '<a href="other.html#here">' in (small / "site" / "index.html").read_text(encoding="utf-8")
    assert "<i>c</i><sub>w</sub>" in (small / "site" / "other.html").read_text(encoding="utf-8")
    assert '<span id="seen">' in (small / "site" / "source" / "code.py.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("index.md", "other.md", "gone.md", "leads nowhere"),
        ("index.md", "#here", "#there", "a heading that is not there"),
        ("index.md", "#seen", "#unseen", "no unseen is defined"),
        ("index.md", "# First", "# Second", "has the title of"),
        ("index.md", "# First", "First", "must begin with its one title"),
        ("other.md", "## Here", "### Here", "skips a level"),
        ("nav.toml", '"other.md"', '"gone.md"', "gone.md is not there"),
        ("nav.toml", ', "other.md"', "", "nobody would find it"),
        ("nav.toml", '"other.md"', '"other.md", "other.md"', "twice"),
        ("other.md", "$c_w$", "![a](b.svg)", "the picture b.svg is not there"),
        ("other.md", "$c_w$ at the wall", "<!-- agreement -->", "no section of agreement.md links"),
    ],
)
def test_what_is_wrong_fails_the_build(small: Path, file: str, old: str, new: str, said: str) -> None:
    text = (small / file).read_text(encoding="utf-8")
    assert old in text
    (small / file).write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(build.BrokenDocs, match=said):
        build.build(small / "site")
    assert not (small / "site").exists()


@pytest.mark.parametrize(
    ("formula", "html"),
    [
        ("c_{p,i}", "<i>c</i><sub>p,i</sub>"),
        ("e^{J/k}", "<i>e</i><sup><i>J</i>/<i>k</i></sup>"),
        ("dP/dx", "d<i>P</i>/d<i>x</i>"),
        ("Re^{−0.3} < 1", "Re<sup>−0.3</sup> &lt; 1"),
        ("2700 K at 25 °C", "2700 K at 25 °C"),
        ("x^0.5", "<i>x</i><sup>0</sup>.5"),
    ],
)
def test_formulas_are_set(formula: str, html: str) -> None:
    assert build.set_(formula) == html

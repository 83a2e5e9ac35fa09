"""The plan in print: the page's numbers and words, letters that the font has, A4, readable by eye and by machine."""

from __future__ import annotations

import ast
import io
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

import rinsewright
from rinsewright.papers import PathPart, plan_page, plan_pdf
from rinsewright.papers.outline import FACE, inks, outline
from rinsewright.papers.pdf import page_pdf, print_tree, typeset

from .printed import assert_numbers_in_order, printed, typesetters_letters, without_switches
from .reading import as_number, at, half_of_last_digit, read
from .samples import EVIL, SAMPLES, tern_quay
from .test_plan_sheet import DAY_LINES, OTHER_LINES

PAGES = {name: plan_page(make()) for name, make in SAMPLES.items()}
FILES = {name: plan_pdf(make(), PAGES[name]) for name, make in SAMPLES.items()}
PRINTED = {name: printed(file) for name, file in FILES.items()}
A4 = (595.28, 841.89)  # ISO 216: 210 mm by 297 mm, in points of 1/72 in (from memory)
NUMBER = re.compile(r"[+−]?\d[\d,]*(?:\.\d+)?")


@pytest.fixture(params=SAMPLES)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def texts(tree: Any) -> Iterator[str]:
    """Every string that is set in type, drawings included."""
    if isinstance(tree, str):
        yield tree
    elif isinstance(tree, Mapping):
        for value in tree.values():
            yield from texts(value)
    elif isinstance(tree, list):
        for value in tree:
            yield from texts(value)


# ---- the same numbers and words as the page ----


@pytest.mark.parametrize("sample", ["tern-quay", "harbour-depot", "mill-loft"])
def test_numbers_in_print_are_those_of_the_answer(sample: str) -> None:
    """Lines of the three days, read from the PDF alone and held against the JSON."""
    paper, lines = SAMPLES[sample](), PRINTED[sample].lines
    for words, (place, unit) in DAY_LINES.items():
        line = next(line for line in lines if re.match(rf"{re.escape(words)} (?=[+−\dn])", line))
        for text, day in zip(cells(line.removeprefix(words), unit), ("coldest", "today", "warmest"), strict=True):
            if paper.answer[day] is None:
                assert text == "no water"
                continue
            exact = at(paper, f"/answer/{day}/{place}") * (100 if unit == "%" else 1)
            assert as_number(text) == pytest.approx(exact, rel=0, abs=half_of_last_digit(text)), line


def cells(line: str, unit: str) -> list[str]:
    """The three cells of a line, without their unit."""
    found = re.findall(rf"no water|{NUMBER.pattern}(?= {re.escape(unit)}|$)" if unit else r"no water|[+−\d.,]+", line)
    return [str(text) for text in found]


@pytest.mark.parametrize("words", [words for words in OTHER_LINES if words != "together"])
def test_each_other_line_in_print(words: str) -> None:
    paper, (place, unit) = tern_quay(), OTHER_LINES[words]
    if place not in {number.place for number in read(PAGES["tern-quay"]).numbers}:
        pytest.fail(f"{place} is not on the page")
    lines = [line for line in PRINTED["tern-quay"].lines if re.match(rf"{re.escape(words)} (about )?£?\d", line)]
    assert len(lines) == 1
    first = NUMBER.search(lines[0].removeprefix(words))
    assert first is not None
    exact = at(paper, place)
    assert as_number(first.group()) == pytest.approx(exact, rel=0, abs=half_of_last_digit(first.group()))
    assert unit.rstrip(" (") in lines[0]


def test_every_number_of_the_page_is_printed_in_its_order(name: str) -> None:
    """All marked numbers of the page, each with its unit, are found one after the other."""
    assert_numbers_in_order(PRINTED[name].text, PAGES[name])


def test_every_word_of_the_page_is_printed(name: str) -> None:
    text = squeezed(PRINTED[name].text)
    title, *pieces = read(without_switches(PAGES[name])).loose
    assert title == f"{SAMPLES[name]().site_name}: plan"  # the window's, and the file's
    for piece in pieces:
        assert squeezed(piece) in text, piece


def squeezed(text: str) -> str:
    """Without white space: lines are broken at other places in print."""
    return re.sub(r"\s", "", text)


def test_the_drawing_is_printed_with_every_tag(name: str) -> None:
    text = PRINTED[name].text
    for part in SAMPLES[name]().path.parts():
        for tag in part.tag.readings if part.tag else ():
            assert f"{tag.number} {tag.unit}" in text, part


def test_the_answer_the_number_and_the_drawing_are_on_the_first_page(name: str) -> None:
    paper, first = SAMPLES[name](), PRINTED[name].pages[0]
    words = squeezed(" ".join(first))
    assert squeezed(paper.site_name) in words
    assert all(squeezed(sentence) in words for sentence in paper.sentences)
    large = read(PAGES[name]).numbers[0]
    assert any(line.startswith(f"{large.text} {'L/min' if paper.path.membranes else 'L'}") for line in first)
    assert "Numbers are today’s" in " ".join(first), "what stands below the drawing"
    assert paper.made_on in " ".join(first)


# ---- the sheet ----


def test_sheets_are_a4_and_numbered(name: str) -> None:
    sheets = PRINTED[name].reader.pages
    assert all(float(sheet.mediabox[2]) == pytest.approx(A4[0], abs=0.1) for sheet in sheets)
    assert all(float(sheet.mediabox[3]) == pytest.approx(A4[1], abs=0.1) for sheet in sheets)
    feet = [foot.rsplit(" ", 3)[-3:] for foot in PRINTED[name].feet]
    assert feet == [[str(n), "of", str(len(sheets))] for n in range(1, len(sheets) + 1)]


def test_no_heading_ends_a_page(name: str) -> None:
    html = PAGES[name]
    heads = re.findall(r"<(h2|h3|caption)[^>]*>(.*?)</\1>", html)
    starts = {squeezed(re.sub("<[^>]*>", "", words)) for _, words in heads}
    assert len(starts) > 8
    for page in PRINTED[name].pages:
        assert squeezed(page[-1]) not in starts


def test_all_text_begins_inside_the_margins(name: str) -> None:
    pieces = 0
    for page in PRINTED[name].reader.pages:
        places: list[tuple[float, float]] = []

        def note(text: str, cm: Any, tm: Any, font: Any, size: Any, places: Any = places) -> None:
            if text.strip():
                x, y = tm[4], tm[5]
                places.append((cm[0] * x + cm[2] * y + cm[4], cm[1] * x + cm[3] * y + cm[5]))

        page.extract_text(visitor_text=note)
        pieces += len(places)
        assert all(45 <= x <= A4[0] - 50 for x, _ in places)
        assert all(25 <= y <= A4[1] - 40 for _, y in places)
    assert pieces > 50


def test_a_plant_too_long_for_the_sheet_is_drawn_across_one() -> None:
    paper = tern_quay()
    one = paper.path.membranes[0][0]
    four = replace(paper, path=replace(paper.path, membranes=((one, one), (one,), (one,), (one,))))
    sheets = printed(plan_pdf(four))
    laid = [n for n, page in enumerate(sheets.reader.pages) if page.mediabox[2] > page.mediabox[3]]
    assert laid == [1]
    assert "stage 4" in " ".join(sheets.pages[1])
    assert "The water’s way" in sheets.pages[1]


# ---- letters ----


def test_every_letter_printed_is_in_the_font(name: str) -> None:
    letters = typesetters_letters(FACE)
    paper = SAMPLES[name]()
    missing = {c for text in texts(print_tree(paper, PAGES[name])) for c in text if ord(c) not in letters} - {"\n"}
    assert missing == set()


def test_every_letter_this_program_can_write_is_in_the_font() -> None:
    letters = typesetters_letters(FACE)
    assert ord("µ") in letters
    assert ord("北") not in letters
    root = Path(rinsewright.__file__).parent
    screen = {root / "errors.py", *root.glob("cli/*.py"), *root.glob("store/**/*.py"), *root.glob("web/**/*.py")}
    sources = sorted(set(root.rglob("*.py")) - screen)
    assert len(sources) > 50
    for source in sources:
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                written = {
                    c for c in node.value if c.isprintable() and c not in "\ud7ff\ue000\ufffd\U00010000\U0010ffff"
                }
                assert {c for c in written if ord(c) not in letters} == set(), source
    for template in (root / "papers" / "templates").iterdir():
        assert {c for c in template.read_text(encoding="utf-8") if c != "\n" and ord(c) not in letters} == set()


def test_set_in_one_face_without_a_warning(name: str) -> None:
    """Under PDF/UA a letter without a glyph is an error, and without fallback none can come from elsewhere."""
    file, warnings = typeset(print_tree(SAMPLES[name](), PAGES[name]), fallback=False)
    assert warnings == []
    assert claims_accessibility(file)
    faces = set(re.findall(rb"/BaseFont/[A-Z]{6}\+([\w-]+)", file))
    assert all(face.startswith(b"LibertinusSerif") for face in faces)


def claims_accessibility(file: bytes) -> bool:
    """Whether the file says that it is PDF/UA-1 (ISO 14289-1, from memory: pdfuaid:part)."""
    return b"<pdfuaid:part>1</pdfuaid:part>" in file


def glyphs(resources: Any, content: Any, reader: PdfReader) -> Iterator[int]:
    """The number of every glyph that is shown with a font of two-byte codes; 0 is the box for a missing one."""
    for operands, operator in ContentStream(content, reader).operations:
        if operator in (b"Tj", b"TJ"):
            shown = operands[0] if operator == b"TJ" else operands
            codes = b"".join(part.original_bytes for part in shown if hasattr(part, "original_bytes"))
            yield from (int.from_bytes(codes[at : at + 2]) for at in range(0, len(codes), 2))
    for form in resources.get("/XObject", {}).values():
        if form.get_object()["/Subtype"] == "/Form":
            yield from glyphs(form.get("/Resources", {}), form.get_object(), reader)


def has_a_box(file: bytes) -> bool:
    """Whether a glyph of the file is the box for a missing letter."""
    reader = PdfReader(io.BytesIO(file))
    shown = [code for page in reader.pages for code in glyphs(page["/Resources"], page.get_contents(), reader)]
    assert len(shown) > 10
    return 0 in shown


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("\N{MINIBUS} Van yard 1\ufe0f\u20e3", "Van yard 1"),
        ("\N{CJK UNIFIED IDEOGRAPH-5317} yard \N{BENTO BOX} 2", "? yard 2"),
        ("\N{MINIBUS}", "?"),
        ("Żółć, Říčany, Σύρος, Щёкино", "Żółć, Říčany, Σύρος, Щёкино"),
    ],
)
def test_a_name_is_printed_without_boxes(typed: str, said: str) -> None:
    page = f'<html lang="en"><body><h1>{typed}</h1><p>12 L/min, 4\N{MICRO SIGN}S/cm</p></body></html>'
    file = page_pdf(page, typed, "plan")
    assert claims_accessibility(file)
    assert said in printed(file).pages[0]
    assert not has_a_box(file)


def test_a_name_on_the_drawing_is_printed_without_boxes() -> None:
    paper, typed = tern_quay(), "\N{MINIBUS} \N{CJK UNIFIED IDEOGRAPH-5317} loop"
    feed = (*paper.path.feed, PathPart("tube", typed, typed, None, "plant.feed[9]"))
    paper = replace(paper, path=replace(paper.path, feed=feed))
    assert typed in plan_page(paper)
    assert not has_a_box(plan_pdf(paper))


def test_control_characters_are_left_out() -> None:
    file = plan_pdf(replace(tern_quay(), site_name="yard\x00\x07 two\ufffe"))
    assert claims_accessibility(file)
    assert "yard two" in printed(file).pages[0]


# ---- what people typed ----


def test_what_people_typed_is_printed_as_they_typed_it() -> None:
    assert PRINTED["ohara"].text.count(EVIL) >= 8


def test_no_name_is_taken_for_markup() -> None:
    name = '#panic("x") $y$ *b* _i_ @ref <lab> `r` \\ // [c] = - + /t'
    paper = tern_quay()
    caution = {**paper.answer, "cautions": [name], "assumptions": [{"what": "name", "value": name, "origin": name}]}
    feed = (*paper.path.feed, PathPart("tube", name, name, None, "plant.feed[9]"))
    path = replace(paper.path, feed=feed)
    sheet = printed(
        plan_pdf(replace(paper, site_name=name, sentences=(name,), answer=caution, path=path, made_on=name))
    )
    assert squeezed(sheet.text).count(squeezed(name)) == 6


def test_long_words_stay_on_the_sheet() -> None:
    """A word of 200 letters is broken: as wide as it is, it needs several lines."""
    paper = replace(tern_quay(), site_name="W" * 200)
    page = printed(plan_pdf(paper)).pages[0]
    lines = [line for line in page if re.fullmatch("[W\N{ZERO WIDTH SPACE}]+", line)]
    assert sum(line.count("W") for line in lines) == 200
    assert len(lines) >= 4


# ---- for machines ----


def test_the_file_is_tagged_titled_and_in_a_language(name: str) -> None:
    file, paper = PRINTED[name], SAMPLES[name]()
    root = file.root
    assert claims_accessibility(FILES[name])
    assert root["/Lang"] == ("en-GB" if paper.country == "GB" else "en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert file.reader.metadata is not None
    assert file.reader.metadata.title == f"{paper.site_name}: plan"


def test_pictures_are_told_in_words_and_tables_have_heads(name: str) -> None:
    tags = list(PRINTED[name].tags())
    figures = [node for kind, node in tags if kind == "Figure"]
    charts = PAGES[name].count('class="chart"')
    assert len(figures) >= 1 + charts
    assert all(len(str(node["/Alt"])) > 20 for node in figures)
    kinds = [kind for kind, _ in tags]
    assert kinds.count("Table") == kinds.count("THead") == kinds.count("Caption") == PAGES[name].count("<table")
    assert kinds.count("Title") == 1
    assert kinds.count("H1") == PAGES[name].count("<h2")
    assert kinds.count("H2") == PAGES[name].count("<h3")


def test_the_same_paper_gives_the_same_file(name: str) -> None:
    assert plan_pdf(SAMPLES[name]()) == FILES[name]
    metadata = PRINTED[name].reader.metadata
    assert metadata is not None
    assert metadata.creation_date is None
    assert metadata.modification_date is None


def test_the_same_file_from_another_process_and_place(tmp_path: Path) -> None:
    code = (
        "from tests.papers.samples import tern_quay; from rinsewright.papers import plan_pdf; "
        f"open({str(tmp_path / 'a.pdf')!r}, 'wb').write(plan_pdf(tern_quay()))"
    )
    away = {**os.environ, "TZ": "Pacific/Auckland", "PYTHONHASHSEED": "7", "PYTHONPATH": os.pathsep.join(sys.path)}
    root = Path(__file__).parents[2]
    subprocess.run([sys.executable, "-c", code], check=True, env=away, cwd=root, timeout=120)
    assert (tmp_path / "a.pdf").read_bytes() == FILES["tern-quay"]


def test_setting_takes_less_than_a_second(tmp_path: Path) -> None:
    """From the page to the file, in a fresh process, in seconds of computing."""
    tree = print_tree(tern_quay(), PAGES["tern-quay"])
    (tmp_path / "tree.json").write_text(json.dumps(tree), encoding="utf-8")
    code = (
        "import json, sys, time, pathlib; from rinsewright.papers.pdf import typeset; "
        "tree = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding='utf-8')); "
        "start = time.process_time(); typeset(tree); print(time.process_time() - start)"
    )
    away = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-c", code, str(tmp_path / "tree.json")]
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=away, timeout=120)
    assert 0 < float(done.stdout) < 1.0


# ---- the outline ----


def test_inks_are_fixed() -> None:
    assert inks()["paper"] == "#FFFFFF"
    assert {"ink", "quiet", "product", "polished", "stop", "look", "fine", "rule", "water", "square"} <= set(inks())
    for text in texts(outline(PAGES["tern-quay"])):
        assert "var(" not in text


def test_pictures_keep_the_style_of_the_page() -> None:
    """Each rule begins with a declaration (an empty one would end it for some readers), and carries the page's ink."""
    drawn = list(pictures(outline(PAGES["tern-quay"])))
    looks = {"pen": f"stroke: {inks()['product']}", "chart": "font-family", "strip": f"fill: {inks()['ink']}"}
    for look, declaration in looks.items():
        svg = next(node["svg"] for node in drawn if look in node["class"])
        rule = re.search(rf"\.{look} {{([^}}]*)}}", svg)
        assert rule is not None
        assert declaration in rule.group(1)
    assert not any(re.search(r"\{\s*;", node["svg"]) for node in drawn)


def test_a_bar_keeps_its_ends() -> None:
    """From and to, in per cent of the cell: of a share, and of a number moved both ways."""
    page = (
        '<html lang="en"><body><svg class="bar"><path class="whole" d="M0,13.5 H4000"/><rect width="33.30%"/></svg>'
        '<svg xmlns="http://www.w3.org/2000/svg" class="swing" viewBox="0 0 100 16"><path d="M0,15.5 H100"/>'
        '<path class="to-high" d="M50.00,3 H99.00 V13 H50.00 Z"/><path class="to-low" d="M1.00,3 H50.00 V13 H1.00 Z"/>'
        '<path class="edge" d="M50.00,0 V16"/></svg></body></html>'
    )
    share, swing = outline(page)["children"]
    assert share["bars"] == [{"look": "full", "from": 0.0, "to": 33.3}]
    assert [(bar["look"], bar["from"], bar["to"]) for bar in swing["bars"]] == [
        ("full", 50.0, 99.0),
        ("hollow", 1.0, 50.0),
        ("stroke", 50.0, 50.0),
    ]


def test_the_switch_of_a_screen_is_not_printed() -> None:
    page = '<html lang="en"><body><fieldset class="switch"><legend>Page</legend></fieldset><p>a</p></body></html>'
    assert [node["tag"] for node in outline(page)["children"]] == ["p"]


def test_what_is_for_phones_only_is_not_printed() -> None:
    drawings = [node for node in pictures(outline(PAGES["tern-quay"])) if node["alt"]]
    assert [node["class"][0] for node in drawings] == ["drawing", "chart", "chart", "chart", "strip"]
    assert "strip-wide" in drawings[-1]["class"]


def pictures(tree: Any) -> Iterator[dict[str, Any]]:
    for child in tree["children"]:
        if not isinstance(child, str):
            if "svg" in child:
                yield child
            yield from pictures(child)


def test_space_is_kept_within_lines_and_dropped_around_blocks() -> None:
    page = '<html lang="en"><body>\n <p> a <b>b</b>\n c\N{NO-BREAK SPACE}d </p>\n <p>e</p>\n</body></html>'
    first, second = outline(page)["children"]
    assert first["children"] == ["a ", {"tag": "b", "class": [], "children": ["b"]}, " c\N{NO-BREAK SPACE}d"]
    assert second["children"] == ["e"]


def test_a_paper_prints_the_same_with_or_without_its_page_at_hand() -> None:
    paper = tern_quay()
    assert plan_pdf(paper) == plan_pdf(paper, plan_page(paper))

"""`plan --out`: the page and the PDF of one plan, side by side, with the same numbers as its JSON."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.papers.printed import printed, without_switches
from tests.papers.reading import as_number, half_of_last_digit, read
from tests.papers.test_plan_sheet import DAY_LINES

DEMO = Path(__file__).parents[2] / "examples" / "tern-quay.toml"


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str], float]:
    """The folder, the finished program, and the seconds it took: of computing where the system tells."""
    folder = tmp_path_factory.mktemp("plan")
    command = [sys.executable, "-m", "rinsewright", "plan", str(DEMO), "--json", "--out", str(folder)]
    before = spent()
    run = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", timeout=120, check=True)
    return folder, run, spent() - before


def spent() -> float:
    times = os.times()
    return times.children_user + times.children_system if os.name == "posix" else time.perf_counter()


def test_both_papers_are_written_and_said(done) -> None:
    folder, run, _ = done
    assert sorted(file.name for file in folder.iterdir()) == ["plan.html", "plan.pdf"]
    written = [line for line in run.stderr.splitlines() if line.startswith("written:")]
    assert written == [f"written: {folder / name}" for name in ("plan.html", "plan.pdf")]


def test_the_papers_take_little_time(done) -> None:
    """A plan with its papers takes less than five seconds, from a cold start."""
    assert 0 < done[2] < 5.0


def test_three_ways_of_saying_the_same_numbers(done) -> None:
    """What `--json` answers, what the page shows and what the PDF prints."""
    folder, run, _ = done
    answer = json.loads(run.stdout)
    sheet = printed((folder / "plan.pdf").read_bytes())
    page = read((folder / "plan.html").read_text(encoding="utf-8"))
    for words, (place, unit) in DAY_LINES.items():
        shown = [number for number in page.numbers if number.beside == words][:3]
        line = next(line for line in sheet.lines if re.match(rf"{re.escape(words)} [+−\d]", line))
        assert line == " ".join([words, *(f"{number.text} {unit}".strip() for number in shown)])
        for number, day in zip(shown, ("coldest", "today", "warmest"), strict=True):
            exact = answer[day]
            for key in place.split("/"):
                exact = exact[key]
            exact *= 100 if unit == "%" else 1
            if number.text != "under 0.01":
                assert as_number(number.text) == pytest.approx(exact, rel=0, abs=half_of_last_digit(number.text)), line


def test_every_number_and_sentence_of_the_page_is_printed(done) -> None:
    folder, _, _ = done
    text = "".join(printed((folder / "plan.pdf").read_bytes()).text.split())
    page = read(without_switches((folder / "plan.html").read_text(encoding="utf-8")))
    place = 0
    for number in page.numbers:
        place = text.index("".join(number.text.split()), place)
    for piece in page.loose[1:]:  # the first is the window's title
        assert "".join(piece.split()) in text, piece

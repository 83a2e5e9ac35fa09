"""``rinsewright build``: the contract's object, the words, and the list as tables that say the same."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from openpyxl import load_workbook

from rinsewright.api import Site
from rinsewright.cli import main
from rinsewright.planning.answers import BuildAnswer

ROOT = Path(__file__).parents[2]
DEMO = str(ROOT / "examples" / "tern-quay.toml")
FILES = [Path(DEMO), *sorted((ROOT / "tests" / "cases" / "sites").glob("*.toml"))]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_the_contracts_object(capsys, file):
    assert main(["build", str(file), "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    BuildAnswer.model_validate(json.loads(out))


def test_in_words(capsys):
    assert main(["build", DEMO]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Tern Quay yard")
    assert "Put in membrane 2" in out
    assert "taste filter" in out


def test_the_tables_hold_what_the_answer_holds(capsys, tmp_path):
    assert main(["build", DEMO, "--json", "--out", str(tmp_path)]) == 0
    answer = json.loads(capsys.readouterr().out)
    with (tmp_path / "parts.csv").open(encoding="utf-8", newline="") as stream:
        plain = list(csv.DictReader(stream))
    cells = list(load_workbook(tmp_path / "parts.xlsx")["parts"].values)
    assert list(plain[0]) == list(cells[0])
    assert len(plain) == len(cells) - 1 == len(answer["parts"]) + len(answer["tools"])
    for row, line, part in zip(plain, cells[1:], answer["parts"], strict=False):
        for head, cell in zip(cells[0], line, strict=True):
            given = part[head]
            said = {True: "yes", False: "no"}[given] if isinstance(given, bool) else given
            assert cell == said or (cell is None and said in (None, "")), head
            if isinstance(said, float):
                assert float(row[head]) == pytest.approx(said)
            else:
                assert row[head] == ("" if said is None else str(said)), head


def test_the_same_list_gives_the_same_bytes(tmp_path):
    for folder in ("a", "b"):
        assert main(["build", DEMO, "--json", "--out", str(tmp_path / folder)]) == 0
    for name in ("parts.csv", "parts.xlsx"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_what_people_typed_stays_text(tmp_path):
    text = Path(DEMO).read_text(encoding="utf-8") + '\n[[kit]]\nwhat = "=1+1"\nquantity = 1\n'
    from rinsewright.jobs.build import BuildPapers

    BuildPapers(Site.loads(text).build()).write(tmp_path)
    found = [line[0] for line in load_workbook(tmp_path / "parts.xlsx")["parts"].iter_rows(values_only=False)]
    assert [(cell.value, cell.data_type) for cell in found if str(cell.value).startswith("=")] == [("=1+1", "s")]


def test_a_parts_list_needs_no_water(tmp_path, capsys):
    """What is built does not hang on the water, and the contract asks for no table that a command does not use."""
    text = Path(DEMO).read_text(encoding="utf-8")
    plain = text[text.index("[supply]") : text.index("[demand]")] + text[text.index("[plant]") : text.index("[prices]")]
    file = tmp_path / "plant.toml"
    file.write_text(plain, encoding="utf-8")
    assert main(["build", str(file)]) == 0
    assert "rows in the parts list" in capsys.readouterr().out

"""`year --out`: page, PDF and tables of one year, with the same numbers as its data."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from rinsewright.jobs.year import YearPapers
from rinsewright.planning.year_result import BY_DAY, BY_HOUR
from tests.cases.running import ROOT, run
from tests.papers.reading import read
from tests.papers.years import YEARS

DEMO = ROOT / "examples" / "tern-quay.toml"
ENDS = ("_low", "", "_high")


@pytest.fixture(scope="module", params=["tern-quay", "to-the-pole"])
def written(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path, list[Path]]:
    folder = tmp_path_factory.mktemp("year")
    return request.param, folder, YearPapers(YEARS[request.param]()).write(folder)


def table(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream, strict=True))


def test_four_files_are_written_and_told(written) -> None:
    _, folder, files = written
    assert [file.name for file in files] == ["year.html", "year.pdf", "days.csv", "weeks.csv"]
    assert sorted(folder.iterdir()) == sorted(files)
    assert files[1].read_bytes().startswith(b"%PDF")


def test_every_day_with_its_band(written) -> None:
    name, folder, _ = written
    rows, year = table(folder / "days.csv"), YEARS[name]()
    assert len(rows) == 365
    assert [(row["day"], row["date"], row["weekday"]) for row in (rows[0], rows[59], rows[364])] == [
        ("1", "01-01", "Mon"),
        ("60", "03-01", "Thu"),
        ("365", "12-31", "Mon"),
    ]
    agree(rows, year.days, BY_DAY)


def agree(rows, data, keys) -> None:
    """Every cell, to six digits; empty where there is no number."""
    for key in keys:
        for row_of, end in enumerate(ENDS):
            column = [float(row[f"{key}{end}"] or "nan") for row in rows]
            np.testing.assert_allclose(column, data[key][row_of], rtol=6e-6, equal_nan=True)


def test_every_hour_of_both_weeks(written) -> None:
    name, folder, _ = written
    rows, year = table(folder / "weeks.csv"), YEARS[name]()
    assert len(rows) == 336
    for week, part in zip(year.weeks, (rows[:168], rows[168:]), strict=True):
        assert {row["season"] for row in part} == {week.season}
        assert [int(row["hour"]) for row in part] == [hour % 24 for hour in range(168)]
        assert [int(row["day"]) for row in part] == [week.first_day + hour // 24 for hour in range(168)]
        agree(part, week.hours, BY_HOUR)
    assert (rows[0]["date"], rows[0]["weekday"]) == ("02-12", "Mon")


def test_columns_name_their_units(written) -> None:
    _, folder, _ = written
    units = ("_c", "_l", "_ppm", "_l_min")
    for file, keys in (("days.csv", BY_DAY), ("weeks.csv", BY_HOUR)):
        heads = list(table(folder / file)[0])
        assert heads[-3 * len(keys) :] == [f"{key}{end}" for key in keys for end in ENDS]
        assert all(key.endswith(units) or key == "starts" for key in keys)


def test_a_real_year_on_paper_says_what_its_json_says(tmp_path: Path) -> None:
    done = run("year", DEMO, "--years", "3", "--json", "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    page = read((tmp_path / "year.html").read_text(encoding="utf-8"))
    told = [number for number in page.numbers if number.place.startswith("/answer/")]
    assert len(told) > 20
    for number in told:
        exact = answer
        for key in number.place.split("/")[2:]:
            exact = exact[int(key)] if isinstance(exact, list) else exact[key]
        assert number.value == pytest.approx(exact, rel=1e-5)
    rows = table(tmp_path / "days.csv")
    assert sum(float(row["product_l"]) for row in rows) == pytest.approx(
        1000.0 * answer["product_m3"]["value"], rel=0.1
    ), "middle days come to about a middle year"
    assert (tmp_path / "year.html").stat().st_size < 400_000
    assert len(table(tmp_path / "weeks.csv")) == 336

"""``rinsewright year``: what it takes, what it hands on, what a stop leaves. The year itself is made up."""

from __future__ import annotations

import json
import signal
from pathlib import Path

import pytest

from rinsewright.api import Site
from rinsewright.cli import main, output
from rinsewright.errors import InputError
from rinsewright.planning import SEED
from rinsewright.planning.answers import YearAnswer
from tests.papers.years import a_year

DEMO = Path(__file__).parents[2] / "examples" / "tern-quay.toml"


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[dict]:
    """A made-up year in the engine's place; returns what it was asked for."""
    calls: list[dict] = []

    def year(self, **given):
        calls.append(given)
        return a_year(self.name, given["members"])

    monkeypatch.setattr(Site, "year", year)
    return calls


def test_one_year_without_chance_is_what_is_made(asked, capsys):
    assert main(["year", str(DEMO)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert out.startswith("Tern Quay")
    assert {key: asked[0][key] for key in ("members", "seed", "workers")} == {"members": 1, "seed": None, "workers": 1}
    assert callable(asked[0]["progress"])


def test_what_is_asked_for_is_handed_on(asked, capsys):
    assert main(["year", str(DEMO), "--years", "50", "--workers", "2"]) == 0
    assert main(["year", str(DEMO), "--years", "50", "--seed", "9"]) == 0
    given = [(call["members"], call["seed"], call["workers"]) for call in asked]
    assert given == [(50, SEED, 2), (50, 9, 1)]


def test_one_json_object_in_the_contracts_form(asked, capsys):
    for years in ("1", "50"):
        assert main(["year", str(DEMO), "--json", "--years", years]) == 0
        out, _ = capsys.readouterr()
        YearAnswer.model_validate(json.loads(out))


def test_the_report_is_written_and_said(asked, capsys, tmp_path):
    folder = tmp_path / "a" / "b"
    assert main(["year", str(DEMO), "--json", "--out", str(folder)]) == 0
    out, err = capsys.readouterr()
    json.loads(out)
    names = ["year.html", "year.pdf", "days.csv", "weeks.csv"]
    assert err.splitlines() == [f"written: {folder / name}" for name in names]
    assert sorted(file.name for file in folder.iterdir()) == sorted(names)


@pytest.mark.parametrize(
    ("option", "text", "right"),
    [
        ("--years", "0", "1 to 10000 years"),
        ("--years", "10001", "1 to 10000 years"),
        ("--years", "2.5", "1 to 10000 years"),
        ("--years", "many", "1 to 10000 years"),
        ("--years", "²", "1 to 10000 years"),
        ("--years", "9" * 5000, "1 to 10000 years"),
        ("--workers", "0", "1 to 64 workers"),
        ("--workers", "65", "1 to 64 workers"),
        ("--seed", "-1", "0 to 4294967295"),
        ("--seed", "1e3", "0 to 4294967295"),
    ],
)
def test_bad_values_are_refused_in_one_sentence(asked, capsys, option, text, right):
    assert main(["year", str(DEMO), option, text]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert option in err
    assert right in err
    assert asked == []


def test_a_folder_that_cannot_be_written_to_is_refused_before_the_work(asked, capsys, tmp_path):
    (tmp_path / "taken").write_text("")
    for folder in (tmp_path / "taken", tmp_path / "taken" / "below"):
        assert main(["year", str(DEMO), "--out", str(folder)]) == 2
        assert "this is a file, not a folder" in capsys.readouterr().err
    assert asked == []


def test_a_closed_folder_is_refused(monkeypatch, tmp_path):
    monkeypatch.setattr("os.access", lambda *given: False)
    with pytest.raises(InputError, match="cannot be written to"):
        output.require_folder(str(tmp_path / "new"))


# ---- stopped ----


def stopped(*arguments, **keywords):
    raise KeyboardInterrupt


def test_stopped_while_computing(asked, monkeypatch, capsys, tmp_path):
    monkeypatch.setattr(Site, "year", stopped)
    assert main(["year", str(DEMO), "--out", str(tmp_path / "new")]) == 130
    assert capsys.readouterr().err == "rinsewright: stopped\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("at", ["year.year_page", "pages.page_pdf", "year.hour_lines"])
def test_stopped_while_writing_leaves_nothing(asked, monkeypatch, capsys, tmp_path, at):
    monkeypatch.setattr(f"rinsewright.jobs.{at}", stopped)
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "year.html").write_text("old")
    assert main(["year", str(DEMO), "--out", str(tmp_path / "new")]) == 130
    assert main(["year", str(DEMO), "--out", str(tmp_path / "old")]) == 130
    assert [path.name for path in tmp_path.rglob("*")] == ["old", "year.html"]
    assert (tmp_path / "old" / "year.html").read_text() == "old"
    assert capsys.readouterr().out == ""


def test_an_interrupt_between_two_files_waits_for_the_last(monkeypatch, tmp_path):
    move, moved = output._move, []

    def interrupted(file, draft, place):
        signal.raise_signal(signal.SIGINT)
        moved.append(file.name)
        return move(file, draft, place)

    class Two:
        def write(self, folder):
            files = [folder / "a", folder / "b"]
            for file in files:
                file.write_text("new")
            return files

    monkeypatch.setattr(output, "_move", interrupted)
    before = signal.getsignal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        output.write_papers(Two(), str(tmp_path))
    assert moved == ["a", "b"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "b"]
    assert signal.getsignal(signal.SIGINT) is before

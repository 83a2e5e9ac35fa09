"""--units: papers in the units that a person asks for; answers and tables stay."""

from __future__ import annotations

from pathlib import Path

import pytest

from rinsewright.cli import main

DEMO = Path(__file__).parents[2] / "examples" / "tern-quay.toml"


def test_pages_follow_and_all_else_stays(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    answers = []
    for name, asked in (("own", []), ("us", ["--units", "us"]), ("some", ["--units", "PSI, gal"])):
        assert main(["build", str(DEMO), "--json", "--out", str(tmp_path / name), *asked]) == 0
        answers.append(capsys.readouterr().out)
    assert answers[0] == answers[1] == answers[2]
    own, us, some = ((tmp_path / name / "build.html").read_text() for name in ("own", "us", "some"))
    assert "Rated for 8 bar" in own
    assert "Rated for 116 psi" in us
    assert us == some  # there is no temperature in it
    assert (tmp_path / "us" / "parts.csv").read_bytes() == (tmp_path / "own" / "parts.csv").read_bytes()


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (["--units", "furlong"], "there are no units 'furlong'; give us, or some of f,psi,gal\n"),
        (["--units", "f,,psi", "--out", "x"], "there are no units 'f,,psi'; give us, or some of f,psi,gal\n"),
        (["--units", "us"], "--units is for what is written to a folder; give --out too\n"),
    ],
)
@pytest.mark.parametrize("command", ["plan", "year", "build", "firstrun"])
def test_units_that_are_none_are_refused_before_the_work(
    command: str, asked: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([command, "no such file", *asked]) == 2
    assert capsys.readouterr().err == says

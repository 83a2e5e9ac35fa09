"""start.py: what it decides before it touches anything, and what it says when it cannot go on."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path

import pytest

import start


@pytest.fixture
def clone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder as after cloning, and a set-up that writes down its steps instead of taking them."""
    requirements = {level: tmp_path / f"{level}.txt" for level in ("run", "dev")}
    for file in (*requirements.values(), tmp_path / "pyproject.toml"):
        file.write_text("as cloned")
    monkeypatch.setattr(start, "ROOT", tmp_path)
    monkeypatch.setattr(start, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(start, "STAMP", tmp_path / ".venv" / "set-up.txt")
    monkeypatch.setattr(start, "REQUIREMENTS", requirements)
    monkeypatch.setattr(start, "python_starts", lambda: True)
    return tmp_path


@pytest.fixture
def steps(clone: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    taken: list[str] = []

    def run_quietly(what: str, command: list[str | Path]) -> None:
        if "venv" in command:
            (clone / ".venv").mkdir()
        taken.append(what)

    monkeypatch.setattr(start, "run_quietly", run_quietly)
    return taken


WHOLE = ["Making the virtual environment", "Installing the packages", "Installing rinsewright"]


def test_a_new_clone_is_set_up_once(steps: list[str]) -> None:
    start.set_up("run")
    assert steps == WHOLE
    start.set_up("run")
    assert steps == WHOLE


def test_the_check_adds_to_what_the_demo_made(steps: list[str]) -> None:
    start.set_up("run")
    start.set_up("dev")
    assert steps == WHOLE + WHOLE[1:]
    start.set_up("run")
    assert steps == WHOLE + WHOLE[1:]


@pytest.mark.parametrize("file", ["pyproject.toml", "run.txt", "dev.txt"])
def test_other_requirements_are_installed_into_the_same_environment(clone: Path, steps: list[str], file: str) -> None:
    start.set_up("dev")
    (clone / file).write_text("as pulled")
    start.set_up("run")
    assert steps == WHOLE + WHOLE[1:]
    assert start.stamp()[2] == "dev"


@pytest.mark.parametrize("state", ["no stamp", "empty folder", "file", "dangling link", "Python gone", "moved"])
def test_what_is_not_whole_is_made_anew(
    clone: Path, steps: list[str], state: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    start.set_up("run")
    steps.clear()
    if state == "no stamp":
        start.STAMP.unlink()
    elif state == "Python gone":
        monkeypatch.setattr(start, "python_starts", lambda: False)
    elif state == "moved":
        start.STAMP.write_text(f"elsewhere {start.pins()} run")
    else:
        start.remove_venv()
        if state == "empty folder":
            start.VENV.mkdir()
        elif state == "file":
            start.VENV.touch()
        else:
            make_link(start.VENV, clone / "nowhere")
    start.set_up("run")
    assert steps == WHOLE


def make_link(link: Path, target: Path) -> None:
    try:
        link.symlink_to(target)
    except OSError:  # Windows without the right to make links has no dangling one either
        link.touch()


def pretend_pip(line: str, status: int) -> list[str | Path]:
    return [sys.executable, "-c", f"print({line!r}); raise SystemExit({status})"]


def test_a_failed_download_leaves_the_environment_whole(clone: Path) -> None:
    start.VENV.mkdir()
    start.STAMP.touch()
    with pytest.raises(start.Stop, match=r"(?s)Installing the packages failed:.*no such host"):
        start.run_quietly("Installing the packages", pretend_pip("no such host", 1))
    assert start.STAMP.exists()


def test_a_failure_half_way_through_installing_does_not(clone: Path) -> None:
    start.VENV.mkdir()
    start.STAMP.touch()
    with pytest.raises(start.Stop, match="disk full"):
        start.run_quietly("Installing", pretend_pip("Installing collected packages: numpy\ndisk full", 1))
    assert not start.STAMP.exists()


def test_without_the_venv_module_it_prints_the_one_line(
    clone: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(start, "may_use_apt", lambda: False)
    monkeypatch.setattr(sys, "argv", ["start.py"])
    assert start.main() == 2
    assert capsys.readouterr().err == "apt-get install -y python3-venv\n"
    assert not start.VENV.exists()


def test_the_named_browser_comes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CHROMIUM", sys.executable)
    assert start.find_browser() == sys.executable
    monkeypatch.setenv("CHROMIUM", "no-such-browser")
    with pytest.raises(start.Stop, match="CHROMIUM names no-such-browser"):
        start.ensure_browser()


def test_without_a_browser_it_names_the_way_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start, "find_browser", lambda: None)
    monkeypatch.setattr(start, "is_debian", lambda: False)
    monkeypatch.delenv("CHROMIUM", raising=False)
    with pytest.raises(start.Stop, match="--without-browser"):
        start.ensure_browser()


@pytest.mark.parametrize(("words", "says"), [("paint", "no job 'paint'"), ("--fast", "'--fast' is not understood")])
def test_words_that_mean_nothing_are_refused(words: str, says: str) -> None:
    done = subprocess.run([sys.executable, start.__file__, words], capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr


def test_an_old_python_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 2))
    with pytest.raises(start.Stop, match=r"needs Python 3\.11 or newer"):
        start.run([])


def test_the_record_of_the_longer_tier_names_no_machine() -> None:
    from benchmarks.longer import describe_machine

    described = " ".join(describe_machine().values())
    assert start.__file__ not in described
    assert str(start.ROOT) not in described
    assert str(Path.home() / "x")[:-1] not in described

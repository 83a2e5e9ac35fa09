"""The command line: exit status, what goes to which stream, one sentence for every refusal, never a traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

import rinsewright
from rinsewright.cli import COMMANDS, main

DEMO = Path(__file__).parents[2] / "examples" / "tern-quay.toml"
TEXT = DEMO.read_text(encoding="utf-8")
TANK = 'part = "resin"\nlitres = 7.0\nusable_share = 0.6\ndrop_bar = 0.1\nat_l_min = 8.0'


@pytest.fixture(autouse=True)
def nobodys_own_parts(monkeypatch, tmp_path):
    monkeypatch.delenv("RINSEWRIGHT_PARTS", raising=False)
    monkeypatch.delenv("RINSEWRIGHT_DEBUG", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))


def run(*arguments, **keywords):
    """The program as a shell runs it."""
    command = [sys.executable, "-m", "rinsewright", *map(str, arguments)]
    return subprocess.run(
        command, capture_output=True, text=True, encoding="utf-8", timeout=60, check=False, **keywords
    )


def refused(capsys, status, *arguments):
    """Run in this process; returns the one sentence of the refusal."""
    assert main([str(argument) for argument in arguments]) == status
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    assert err.count("\n") == 1
    return err


def site(tmp_path, *changes):
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    file = tmp_path / "yard.toml"
    file.write_text(text, encoding="utf-8")
    return file


# ---- answers ----


def test_water_as_one_json_object(capsys):
    assert main(["water", str(DEMO), "--json"]) == 0
    out, err = capsys.readouterr()
    answer = json.loads(out)
    assert err == ""
    assert {"schema", "program", "phreeqc", "data", "ions_mg_l", "charge_balance_pct", "bands", "notes"} <= set(answer)
    assert answer["program"] == rinsewright.__version__
    assert abs(answer["charge_balance_pct"]) < 5


def test_water_for_a_person(capsys):
    assert main(["water", str(DEMO)]) == 0
    out, err = capsys.readouterr()
    assert "mg/L" in out
    assert err == ""


def test_solve_takes_temperature_and_pressure(capsys):
    answers = []
    for options in ([], ["--temperature", "5"], ["--standing-bar", "3.0"]):
        assert main(["solve", str(DEMO), "--json", *options]) == 0
        answers.append(json.loads(capsys.readouterr().out)["product"]["flow_l_min"])
    assert answers[1] < answers[0]
    assert answers[2] < answers[0]


def test_an_element(capsys, tmp_path):
    rated = next(line for line in TEXT.split("\n") if line.startswith("rated ="))
    file = tmp_path / "element.toml"
    file.write_text(f"area_m2 = 7.2\nlength_m = 0.92\n{rated}\n")
    assert main(["element", "--rated", str(file), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["water_permeance_l_m2_h_bar"] == pytest.approx(6.7, abs=0.05)
    assert answer["salt_permeance_l_m2_h"] == pytest.approx(0.48, abs=0.005)


def test_the_catalogue(capsys, tmp_path):
    (tmp_path / "mine.toml").write_text('[tubes."my tube"]\nbore_mm = 6.2\n')
    assert main(["catalogue", "tubes", "--parts", str(tmp_path)]) == 0
    text = capsys.readouterr().out
    assert '"my tube"  (your own)' in text
    assert "elements" not in text
    assert main(["catalogue", "--json"]) == 0
    parts = json.loads(capsys.readouterr().out)["parts"]
    assert all(set(part["origin"]) == set(part["values"]) for kind in parts.values() for part in kind)


def test_own_parts_reach_the_plant(capsys, tmp_path):
    own = tmp_path / "own"
    own.mkdir()
    (own / "mine.toml").write_text('[tubes."my tube"]\nbore_mm = 3.0\n')
    file = site(tmp_path, ("bore_mm = 9.0", 'size = "my tube"'))
    message = refused(capsys, 2, "solve", file)
    assert 'plant.feed[0].size: "my tube" is not in the catalogue of tubes' in message
    assert main(["solve", str(file), "--json", "--parts", str(own)]) == 0
    narrow = json.loads(capsys.readouterr().out)["product"]["flow_l_min"]
    assert main(["solve", str(DEMO), "--json"]) == 0
    assert narrow < json.loads(capsys.readouterr().out)["product"]["flow_l_min"]


def test_version_and_help(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"rinsewright {rinsewright.__version__}\n"
    assert main(["--help"]) == 0
    text = capsys.readouterr().out
    assert all(command in text for command in COMMANDS)
    for command in COMMANDS:
        assert main([command, "--help"]) == 0
        has_answer = command not in ("serve", "book")
        assert ("--json" in capsys.readouterr().out) is has_answer


def test_help_needs_nothing_heavy():
    code = (
        "import sys; from rinsewright.cli import main; main(['--help']); "
        "heavy = {'numpy', 'pydantic', 'phreeqc', 'jinja2', 'vl_convert', 'rinsewright.api'} & set(sys.modules); "
        "sys.exit(f'imported {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr


def test_importing_the_package_needs_nothing_heavy():
    code = "import sys, rinsewright; sys.exit(bool({'numpy', 'pydantic'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], timeout=60, check=False).returncode == 0


def test_public_names():
    assert set(rinsewright.__all__) <= set(dir(rinsewright))
    for name in rinsewright.__all__:
        assert getattr(rinsewright, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = rinsewright.nothing


# ---- refusals ----

BAD = [
    ("standing_bar = 4.2", "standing_bar = 400", "supply.standing_bar: 400 is not a plausible standing pressure"),
    ("ph = 7.4", "ph = 74", "water.ph: 74 is not a plausible pH"),
    ("temperature_c = 12.0", "temperature_c = -3", "water.temperature_c: -3 is not a plausible water temperature"),
    (
        "bore_mm = 9.0",
        "bore_mm = 9.0\nboar_mm = 9.0",
        "plant.feed[0].boar_mm: this key is not known here; did you mean",
    ),
    ("length_m = 6.0", "length_m = -6.0", "plant.feed[0].length_m: -6.0 is not a plausible length"),
    ("Ca = 104.0", "Ca = nan", "water.ions_mg_l.Ca: nan is not a plausible calcium"),
    ("Ca = 104.0", "Ca = inf", "water.ions_mg_l.Ca: inf is not a plausible calcium"),
    ("Ca = 104.0", "Ca = = 104", "this line is not TOML"),
    ("pressure_bar = 4.0", "pressure_bar = 4.5", "supply.flowing[0].pressure_bar: the running pressure 4.5 is above"),
]


@pytest.mark.parametrize(("old", "new", "words"), BAD, ids=[new.split("\n")[-1] for _, new, _ in BAD])
@pytest.mark.parametrize("command", ["water", "solve", "plan"])
def test_bad_values(capsys, tmp_path, command, old, new, words):
    file = site(tmp_path, (old, new))
    message = refused(capsys, 2, command, file, "--json")
    line = (
        file.read_text(encoding="utf-8")[: file.read_text(encoding="utf-8").index(new.split("\n")[-1])].count("\n") + 1
    )
    assert message.startswith(f"{file}, line {line}")
    assert words in message


def test_several_mistakes_are_several_lines(capsys, tmp_path):
    assert main(["water", str(site(tmp_path, ("ph = 7.4", "ph = 74"), ("Ca = 104.0", "Ca = -1")))]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert [line.split(", ")[2].split(":")[0] for line in err.splitlines()] == ["water.ph", "water.ions_mg_l.Ca"]


def test_neither_membranes_nor_resin(capsys, tmp_path):
    file = site(tmp_path, (TANK, 'part = "check"'))
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text[: text.index("[[plant.membranes]]")] + text[text.index("[[plant.product]]") :], encoding="utf-8"
    )
    text = file.read_text(encoding="utf-8").replace('[[plant.product]]\npart = "shutoff"\ncloses_at_ratio = 0.66\n', "")
    file.write_text(text.replace("reopens_at_ratio = 0.45\n", ""), encoding="utf-8")
    assert "neither membranes nor resin" in refused(capsys, 2, "solve", file)


def test_a_missing_table(capsys, tmp_path):
    file = tmp_path / "tap.toml"
    file.write_text("[water]\ntemperature_c = 10\n[water.field]\nmeter_ppm = 285\n")
    assert main(["water", str(file)]) == 0
    capsys.readouterr()
    assert main(["solve", str(file)]) == 2
    assert "`solve` needs [supply]" in capsys.readouterr().err


def test_files_that_are_none(capsys, tmp_path):
    assert "there is no such file" in refused(capsys, 2, "water", tmp_path / "none.toml")
    assert "this is a folder" in refused(capsys, 2, "water", tmp_path)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(bytes(range(256)))
    assert "not UTF-8 text" in refused(capsys, 2, "water", binary)
    empty = tmp_path / "empty.toml"
    empty.write_bytes(b"")
    assert "the file is empty" in refused(capsys, 2, "water", empty)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "COMMAND"),
        (["wash"], "invalid choice: 'wash'"),
        (["water"], "SITE"),
        (["water", "x", "--jason"], "unrecognized arguments: --jason"),
        (["element"], "--rated"),
        (["solve", "x", "--temperature", "-3"], "-3 is not plausible; give 0 to 45 °C"),
        (["solve", "x", "--temperature", "nan"], "nan is not plausible"),
        (["solve", "x", "--temperature", "warm"], "warm is not plausible"),
        (["solve", "x", "--standing-bar", "inf"], "inf is not plausible; give 0 to 25 bar"),
        (["catalogue", "tubs"], "did you mean tubes?"),
        (["catalogue", "--parts", "/no/such/folder"], "no such folder of parts"),
    ],
)
def test_bad_command_lines(capsys, arguments, words):
    assert words in refused(capsys, 2, *arguments)


def test_ratings_passed_are_no_working_state(capsys, tmp_path):
    pump = '[[plant.feed]]\npart = "pump"\ncurve = [{ flow_l_min = 0, bar = 20 }, { flow_l_min = 9, bar = 15 }]\n\n'
    file = site(tmp_path, ("[[plant.membranes]]", f"{pump}[[plant.membranes]]"))
    message = refused(capsys, 3, "solve", file)
    line = file.read_text(encoding="utf-8")[: file.read_text(encoding="utf-8").index("max_bar")].count("\n") + 1
    assert message.startswith(
        f"{file}, line {line}, plant.membranes[0].max_bar: the membrane element 1 is made for 20 bar"
    )
    assert main(["water", str(file)]) == 0  # the water does not care


# ---- as a shell sees it ----


def test_a_refusal_through_the_shell(tmp_path):
    done = run("solve", site(tmp_path, ("standing_bar = 4.2", "standing_bar = 400")))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert "supply.standing_bar: 400 is not" in done.stderr


def test_a_terminal_without_the_characters_still_gets_an_answer():
    done = run("water", DEMO, env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONPATH": os.pathsep.join(sys.path)})
    assert done.returncode == 0
    assert "mg/L" in done.stdout


def test_a_reader_that_leaves_early():
    command = [sys.executable, "-m", "rinsewright", "catalogue"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout
        assert process.stderr
        process.stdout.close()
        complaint = process.stderr.read()
        assert process.wait(timeout=60) == 0
    assert complaint == b""


def computing_time():
    """Seconds that children have spent computing; where the system does not tell (Windows), time on the wall."""
    if os.name != "posix":
        return time.perf_counter()
    spent = os.times()
    return spent.children_user + spent.children_system


def test_help_is_quick():
    """A tenth of a second of computing and some room; waiting for a busy machine does not count."""
    times = []
    for _ in range(5):
        before = computing_time()
        assert run("--help").returncode == 0
        times.append(computing_time() - before)
    assert 0 < min(times) < 0.15


# ---- defects ----


def test_a_defect_is_owned_up_to_in_one_line(capsys, monkeypatch):
    def burst(*arguments, **keywords):
        raise ZeroDivisionError("all\nof it")

    monkeypatch.setattr("rinsewright.api.Site.load", burst)
    message = refused(capsys, 1, "water", DEMO)
    assert "a defect of ours: ZeroDivisionError: all of it; please report it" in message
    monkeypatch.setenv("RINSEWRIGHT_DEBUG", "1")
    assert main(["water", str(DEMO)]) == 1
    assert "Traceback" in capsys.readouterr().err


def test_an_interrupt(capsys, monkeypatch):
    def interrupt(*arguments, **keywords):
        raise KeyboardInterrupt

    monkeypatch.setattr("rinsewright.api.Site.load", interrupt)
    assert main(["water", str(DEMO)]) == 130
    assert capsys.readouterr().err == "rinsewright: stopped\n"


def test_an_output_without_room_is_told_plainly():
    if not Path("/dev/full").exists():
        pytest.skip("this system has no device that is always full")
    command = [sys.executable, "-m", "rinsewright", "catalogue"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert done.stderr.startswith("rinsewright: the output could not be written (no space left on device)")
    assert "defect" not in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_folder_without_a_name_is_refused(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert "names no folder" in refused(capsys, 2, "plan", site(tmp_path), "--out", "")
    assert [file.name for file in tmp_path.iterdir()] == ["yard.toml"]


def test_a_port_that_is_none_is_refused_without_a_stray_space(capsys):
    assert "give 1 to 65535; " in refused(capsys, 2, "serve", "--port", "0")

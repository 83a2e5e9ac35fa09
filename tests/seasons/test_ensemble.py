"""Many years side by side: the same on any number of workers, whatever is stopped in between."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rinsewright import Site
from rinsewright.planning.year import case_of, central_inputs, central_resin, march_members, member_inputs
from rinsewright.seasons import ensemble
from rinsewright.seasons.chance import DEMAND_DAY_SPREAD, Draws, draw
from rinsewright.seasons.ensemble import years
from rinsewright.seasons.inputs import CartridgeUse, MembraneUse, Standstill
from rinsewright.seasons.ledger import Ledger
from rinsewright.water.state import Water
from tests.seasons.plants import NIGHT, bed, plant, response

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples" / "tern-quay.toml"
SEED = 7


def members(count: int) -> Any:
    """Inputs and resin that differ from member to member."""
    rng = np.random.default_rng(1)
    of = response((1.0, 0.8, 0.0), (1.0, 2.0, 3.0), openings=(1.0, 0.3, 0.0), ratio=(0.1, 0.5, 1.0))
    many: dict[str, Any] = {
        "demand": rng.uniform(0.0, 0.5, (50, 365)),
        "flow_factor": rng.uniform(0.5, 2.0, 50),
        "salt_factor": rng.uniform(0.5, 2.0, 50),
        "water_factor": rng.uniform(0.8, 1.2, (50, 365)),
        "shut_days": rng.random((50, 365)) < 0.05,
    }
    dirt = rng.uniform(30.0, 90.0, 50)[:count]
    tolerance = rng.uniform(10.0, 30.0, 50)[:count]
    inputs = plant(
        of, members=count, **{name: value[:count] for name, value in many.items()}, week=NIGHT,
        cartridges=(CartridgeUse("sediment", 1e4, 5e-5, dirt, 5e4),), standstill=Standstill(1.5e-3, 900.0, 0.2),
        membranes=MembraneUse(0.07, 0.1, 0.15, 1.5, 1e-6, tolerance, 600.0), hourly_days=(40, 41),
    )  # fmt: skip
    composition = rng.uniform(0.8, 1.2, (50, 9))[:count]
    return inputs, bed(count, litres=20.0, composition=composition, co2=rng.uniform(0.5, 2.0, 50)[:count])


def numbers(ledger: Ledger, count: int | None = None) -> dict[str, bytes]:
    """Every array of a ledger, bit by bit, of the first members."""
    found = {}
    for book in (ledger, ledger.hours):
        for f in fields(book):
            value = getattr(book, f.name)
            if isinstance(value, np.ndarray):
                chosen = value[:, :count] if f.name.startswith("cartridge") else value[:count]
                found[f"{type(book).__name__}.{f.name}"] = np.ascontiguousarray(chosen).tobytes()
    return found


# --- the same numbers ---


@pytest.mark.longer
def test_any_number_of_workers_gives_the_same_bits(monkeypatch):
    monkeypatch.setattr(ensemble, "CHUNK", 1)
    shares: list[float] = []
    inputs, resin = members(3)
    one = numbers(years(inputs, resin, 1, shares.append))
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert len(shares) > 3 * 365  # each day is told
    assert len(one) > 40
    for workers in (2, 3):
        assert numbers(years(inputs, resin, workers)) == one, workers


def test_the_size_of_a_chunk_changes_nothing(monkeypatch):
    inputs, resin = members(4)
    whole = numbers(years(inputs, resin))
    monkeypatch.setattr(ensemble, "CHUNK", 3)
    shares: list[float] = []
    assert numbers(years(inputs, resin, progress=shares.append)) == whole
    assert shares[0] == pytest.approx(3 / 4 * ensemble.LITRES_SHARE / 365)  # each day is told, as it is of all
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_the_first_ten_of_fifty_are_the_ten():
    ten, fifty = (years(*members(count)) for count in (10, 50))
    assert numbers(fifty, 10) == numbers(ten)
    drawn = [draw(SEED, range(count), [0.1] * 12, [0.05] * 12) for count in (10, 50)]
    for f in fields(Draws):
        assert np.array_equal(getattr(drawn[0], f.name), getattr(drawn[1], f.name)[:10]), f.name


def days_and_weeks(result: Any) -> list[bytes]:
    tables = [result.days, *(week.hours for week in result.weeks), result.cost_split]
    return [np.asarray(value if isinstance(value, np.ndarray) else list(value.values())).tobytes()
            for table in tables for value in table.values()]  # fmt: skip


@pytest.fixture(scope="module")
def here() -> Any:
    """Three years of the demo in three chunks, one after the other."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(ensemble, "CHUNK", 1)
        return Site.load(DEMO).year(members=3, seed=SEED)


@pytest.mark.longer
@pytest.mark.parametrize("workers", [2, 4])
def test_the_demo_is_the_same_byte_by_byte(here, monkeypatch, workers):
    """On two and four workers as on one, each asked anew."""
    monkeypatch.setattr(ensemble, "CHUNK", 1)
    asked = Site.load(DEMO).year(members=3, seed=SEED, workers=workers)
    assert json.dumps(asked.answer()) == json.dumps(here.answer())
    assert days_and_weeks(asked) == days_and_weeks(here)
    assert asked.answer()["seed"] == SEED


# --- a year without chance ---


def without_chance(count: int, spread: float) -> Draws:
    """Everything as stated: nothing drawn but the mean of the day's and the year's demand."""
    nothing = np.zeros(count)
    values: dict[str, Any] = {f.name: nothing for f in fields(Draws)}
    sd = spread / 1.645
    values |= {
        "z_demand": nothing + 0.5 * sd,
        "u_gas": nothing + 0.5,
        "z_day": np.full((count, 365), 0.5 * DEMAND_DAY_SPREAD.value),
        "off": np.zeros((count, 365), dtype=bool),
        "frost": np.zeros((count, 365), dtype=bool),
    }
    return Draws(**values)


def test_one_year_is_an_ensemble_of_one():
    """A member of which nothing is drawn, from one water, is the central year."""
    site = Site.load(DEMO)

    def only_this(count: int) -> Any:
        water = site.tap.water

        class Waters:
            waters = Water(
                np.repeat(water.solutes, count, 0), np.repeat(water.carbon, count, 0), water.temperature_k[:1]
            )

        return Waters

    tap = replace(site.tap, _source=only_this)
    case = case_of(site.document, site.plant, tap)
    inputs, resin = member_inputs(site.document, case, tap, without_chance(2, case.demand.spread))
    drawn = years(inputs, resin)
    central = years(central_inputs(case, tap.water), central_resin(case))
    for f in fields(Ledger):
        value = getattr(central, f.name)
        if not isinstance(value, np.ndarray):
            continue
        axis = 1 if f.name.startswith("cartridge") else 0
        found = getattr(drawn, f.name)
        both = np.concatenate([value, value], axis=axis)
        assert found == pytest.approx(both, rel=1e-6, abs=1e-9, nan_ok=True), f.name


# --- stopped, and asked again ---

ASKED = ["year", str(DEMO), "--json", "--years", "3", "--seed", str(SEED), "--workers", "2", "--out"]
# The command with small chunks; behind the second it gets a signal, as from the keyboard: with all its processes.
STOPPED = """
import os, signal, sys
from rinsewright.cli import main, output
from rinsewright.seasons import ensemble

output.Progress.__init__ = lambda self: setattr(self, "_next", 0.0)  # speaks at once
how, done = {how}, ensemble._done

def halfway(*asked):
    for n, part in enumerate(done(*asked)):
        yield part
        if n == 1 and how is not None:
            print("halfway", file=sys.stderr, flush=True)
            (os.killpg if how == signal.SIGINT else os.kill)(os.getpid(), how)

ensemble.CHUNK, ensemble._done = 1, halfway
sys.exit(main(sys.argv[1:]))
"""


def asked(how: signal.Signals | None, folder: Path) -> subprocess.CompletedProcess[str]:
    code = STOPPED.format(how=None if how is None else f"signal.{how.name}")
    return subprocess.run(
        [sys.executable, "-c", code, *ASKED, str(folder)], capture_output=True, text=True, timeout=120, check=False,
        start_new_session=True, env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
    )  # fmt: skip


@pytest.mark.longer
def test_stopped_halfway_and_asked_again(here, tmp_path):
    folder = tmp_path / "out"
    stopped = asked(signal.SIGINT, folder)
    assert (stopped.returncode, stopped.stdout) == (130, "")
    assert stopped.stderr.splitlines()[-1] == "rinsewright: stopped"
    assert "Traceback" not in stopped.stderr
    assert list(tmp_path.iterdir()) == []

    # The workers hold its streams: that they end says that no worker outlives it.
    killed = asked(signal.SIGKILL, folder)
    assert (killed.returncode, killed.stdout) == (-signal.SIGKILL, "")
    assert "halfway" in killed.stderr
    assert list(tmp_path.iterdir()) == []

    again = asked(None, folder)
    assert again.returncode == 0
    assert sorted(file.name for file in folder.iterdir()) == ["days.csv", "weeks.csv", "year.html", "year.pdf"]
    assert json.loads(again.stdout) == json.loads(json.dumps(here.answer()))
    # What is said on the way goes to standard error: standard output is the one JSON object.
    said = again.stderr.splitlines()
    assert said[0] == "rinsewright: drawing the chance of each year 0 %"
    assert all(line.startswith(("rinsewright: ", "written: ")) for line in said)


def test_a_member_does_not_depend_on_how_many_there_are():
    """From the file to the ledger: the table of the plant's response spans the same range for two and for twelve."""
    site = Site.load(DEMO)
    few, many = (march_members(site.document, site.plant, site.tap, count, SEED).ledger for count in (2, 12))
    for name in ("product", "drain", "starts", "salt", "worst", "after", "resin_changes"):
        found, wanted = getattr(many, name)[:2], getattr(few, name)
        assert found == pytest.approx(wanted, rel=1e-9, abs=1e-12, nan_ok=True), name

"""Time the batch solver against a plain C loop on the same plants, in one run.

    python benchmarks/plant_batch.py [--count 10000] [--elements 1] [--steps 8] [--repeats 5] [--check]

One NaCl site, random temperatures, standing pressures and salinities. The C program is compiled with `gcc -O2` into a
temporary folder. Printed: time per plant of both and their ratio, the largest disagreement, the worst residual of each
part's own law (evaluated here, once more, in numpy). `--check` also holds the C program against the slow reference of
`tests/independent` and against itself on a finer mesh.
"""

from __future__ import annotations

import argparse
import platform
import subprocess
import sys
import tempfile
import time
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))

Array = NDArray[np.float64]

BAR = 1e5
L_MIN = 1e-3 / 60
LMH = 1e-3 / 3600
ZERO_C = 273.15
GAS_CONSTANT, NACL_MOLAR_MASS = 8.314462618, 0.0584428
OSMOTIC_ROOT = 0.04  # (m3/kg)^0.5: the C loop's osmotic pressure of NaCl is 2 R T c/M (1 - 0.04 sqrt c)
SODIUM_SHARE = 22.98977 / 58.44277

ELEMENT = """
[[plant.membranes]]
nominal = "4040"
area_m2 = 7.2
length_m = 0.92
channel_mm = 0.71
porosity = 0.89
water_permeance_l_m2_h_bar = 6.7
salt_permeance_l_m2_h = 0.48
water_activation_k = 2700.0
salt_activation_k = 3500.0
"""
SITE = """
schema = 1
[site]
name = "Batch yard"
[water]
temperature_c = 12.0
ph = 7.0
[water.ions_mg_l]
Na = 196.69
Cl = 303.31
[supply]
kind = "mains"
standing_bar = 4.2
flowing = [ {{ flow_l_min = 12.0, pressure_bar = 3.4 }} ]
[plant]
arrangement = "parallel"
[[plant.feed]]
part = "tube"
bore_mm = {bore}
length_m = 2.0
fittings_k = 3.0
roughness_mm = 0.0015
[[plant.feed]]
part = "cartridge"
media = "sediment"
clean_drop_bar = 0.12
at_l_min = 8.0
{elements}
[[plant.drain]]
part = "restrictor"
flow_l_min = {drain}
at_bar = 4.0
exponent = 0.5
[[plant.product]]
part = "check"
[[plant.product]]
part = "lift"
height_m = 1.5
[[plant.product]]
part = "tank"
litres = 650
height_mm = 1100
float_band_mm = 60
float_open_l_min = 12.0
vented = true
"""


@dataclass(frozen=True)
class Conditions:
    """One row per plant: temperature °C, standing pressure bar (the running tests' R kept), NaCl mg/L."""

    site: str
    temperature_c: Array
    standing_bar: Array
    nacl_mg_l: Array


@dataclass(frozen=True)
class Answers:
    """One row per plant: flows L/min, pressures bar, NaCl mg/L; NaN where no working state was found."""

    feed_l_min: Array
    product_l_min: Array
    drain_l_min: Array
    membrane_bar: Array
    drain_bar: Array
    back_pressure_bar: Array
    product_nacl_mg_l: Array
    drain_nacl_mg_l: Array


def rinsewright_batch(conditions: Conditions, steps: int) -> Answers:
    """Every condition in one call of the package's batch solver, with as many steps along the channel as the C loop."""
    from rinsewright import Site
    from rinsewright.plant.membrane.channel import Salt
    from rinsewright.solve.steady import Conditions as Lanes
    from rinsewright.solve.steady import steady

    plant = Site.loads(conditions.site).plant
    kelvin = conditions.temperature_c + ZERO_C
    nacl = conditions.nacl_mg_l * 1e-3
    osmotic = 2 * GAS_CONSTANT * kelvin * nacl / NACL_MOLAR_MASS  # the C loop's law, so that the model is the same
    salt = Salt(osmotic, OSMOTIC_ROOT * np.sqrt(nacl), np.ones_like(kelvin))
    lanes = Lanes(kelvin, conditions.standing_bar * BAR, salt)
    state = steady(plant, lanes, steps)
    columns = [
        state.tap_flow / L_MIN,
        state.product_flow / L_MIN,
        state.drain_flow / L_MIN,
        state.membrane_pa / BAR,
        state.drain_pa / BAR,
        state.product_pa / BAR,
        state.product_strength * conditions.nacl_mg_l,
        state.drain_strength * conditions.nacl_mg_l,
    ]
    return Answers(*(np.where(state.solved, column, np.nan) for column in columns))


def draw_conditions(count: int, elements: int, seed: int = 1) -> Conditions:
    """Temperatures 4-25 °C, standing pressures 3.5-6 bar, NaCl 100-1500 mg/L, each drawn evenly."""
    random = np.random.default_rng(seed)
    return Conditions(
        site=SITE.format(elements=ELEMENT * elements, drain=1.5 * elements, bore=6.0 * elements**0.5),
        temperature_c=random.uniform(4.0, 25.0, count),
        standing_bar=random.uniform(3.5, 6.0, count),
        nacl_mg_l=random.uniform(100.0, 1500.0, count),
    )


# --- the C program --------------------------------------------------------------------------------


def compile_c(folder: Path) -> Path:
    """The plain loop as a program."""
    program = folder / "plant_batch"
    command = ["gcc", "-O2", "-std=gnu11", "-Wall", "-Wextra", "-o", str(program), str(HERE / "plant_batch.c"), "-lm"]
    subprocess.run(command, check=True)
    return program


@dataclass(frozen=True)
class Taken:
    """Seconds by the clock and of the processor."""

    clock: float
    processor: float


def best(times: list[Taken]) -> Taken:
    """The least of each, so that a busy moment does not count."""
    return Taken(min(one.clock for one in times), min(one.processor for one in times))


def run_c(program: Path, conditions: Conditions, steps: int) -> tuple[Taken, Answers, float]:
    """Time of the loop alone, answers, mean number of marches per plant."""
    header = _c_site(tomllib.loads(conditions.site), steps)
    count = len(conditions.temperature_c)
    rows = np.column_stack(
        [conditions.temperature_c + ZERO_C, conditions.standing_bar * BAR, conditions.nacl_mg_l * 1e-3]
    )
    sent = np.concatenate([header, [float(count)], rows.ravel()]).tobytes()
    received = np.frombuffer(subprocess.run([program], input=sent, capture_output=True, check=True).stdout)
    table = received[2:].reshape(count, 9).copy()
    marches = table[:, 8]
    table[marches < 0] = np.nan
    units = np.array([L_MIN, L_MIN, L_MIN, BAR, BAR, BAR, 1e-3, 1e-3])
    return Taken(*map(float, received[:2])), Answers(*(table[:, :8] / units).T), float(marches[marches > 0].mean())


def _c_site(site: dict[str, Any], steps: int) -> Array:
    """The C program's `Site`, in its order."""
    plant, supply = site["plant"], site["supply"]
    tube, cartridge = plant["feed"]
    element, restrictor = plant["membranes"][0], plant["drain"][0]
    lift, tank = plant["product"][1:]
    test = supply["flowing"][0]
    return np.array(
        [
            (supply["standing_bar"] - test["pressure_bar"]) * BAR / (test["flow_l_min"] * L_MIN) ** 2,
            tube["bore_mm"] * 1e-3,
            tube["length_m"],
            tube["fittings_k"],
            tube["roughness_mm"] * 1e-3,
            cartridge["clean_drop_bar"] * BAR / (cartridge["at_l_min"] * L_MIN),
            len(plant["membranes"]),
            element["area_m2"],
            element["length_m"],
            element["channel_mm"] * 1e-3,
            element["porosity"],
            element["water_permeance_l_m2_h_bar"] * LMH / BAR,
            element["salt_permeance_l_m2_h"] * LMH,
            element["water_activation_k"],
            element["salt_activation_k"],
            restrictor["flow_l_min"] * L_MIN,
            restrictor["at_bar"] * BAR,
            restrictor["exponent"],
            lift["height_m"],
            tank["float_open_l_min"] * L_MIN,
            OSMOTIC_ROOT,
            steps,
        ]
    )


# --- what came out --------------------------------------------------------------------------------


def worst_residual(conditions: Conditions, answers: Answers) -> float:
    """The explicit laws put back: restrictor, float valve and lift, water and salt balance (not the tube's)."""
    site = tomllib.loads(conditions.site)
    restrictor = site["plant"]["drain"][0]
    lift, tank = site["plant"]["product"][1:]
    through = restrictor["flow_l_min"] * (answers.drain_bar / restrictor["at_bar"]) ** restrictor["exponent"]
    head = _density(conditions.temperature_c) * 9.80665 * lift["height_m"] / BAR
    back = head + (answers.product_l_min / tank["float_open_l_min"]) ** 2
    salt = answers.product_l_min * answers.product_nacl_mg_l + answers.drain_l_min * answers.drain_nacl_mg_l
    residuals = [
        through / answers.drain_l_min - 1,
        (back - answers.back_pressure_bar) / answers.membrane_bar,
        (answers.product_l_min + answers.drain_l_min) / answers.feed_l_min - 1,
        salt / (answers.feed_l_min * conditions.nacl_mg_l) - 1,
    ]
    return float(np.nanmax(np.abs(residuals)))


def _density(celsius: Array) -> Array:
    """Kell 1975, kg/m3."""
    t = celsius
    top = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    return np.asarray(top / (1 + 16.879850e-3 * t))


def disagreement(one: Answers, other: Answers) -> dict[str, float]:
    """Largest relative difference, column by column."""
    return {
        name: float(np.nanmax(np.abs(getattr(one, name) / getattr(other, name) - 1)))
        for name in Answers.__dataclass_fields__
    }


def check_c(program: Path, conditions: Conditions, steps: int, repeats: int, count: int = 40) -> None:
    """The C program against the slow reference on the same formulas, and against its own finer mesh."""
    from dataclasses import replace

    from tests.independent import ode
    from tests.independent.laws import ANSWER_FLUID

    def osmotic(nacl: float, t_k: float) -> float:
        nacl = max(nacl, 0.0)
        return 2 * GAS_CONSTANT * t_k * nacl / NACL_MOLAR_MASS * (1 - OSMOTIC_ROOT * float(np.sqrt(nacl)))

    few = Conditions(
        conditions.site,
        conditions.temperature_c[:count],
        conditions.standing_bar[:count],
        conditions.nacl_mg_l[:count],
    )
    plant = ode.read_plant(tomllib.loads(conditions.site), fluid=replace(ANSWER_FLUID, osmotic=osmotic))
    sag = float(ode.supply_resistance(plant.supply)) * (10 * L_MIN) ** 2 / BAR
    states = []
    for celsius, standing, nacl in zip(few.temperature_c, few.standing_bar, few.nacl_mg_l, strict=True):
        test = {"flow_l_min": 10.0, "pressure_bar": standing - sag}
        supply = {"standing_bar": standing, "flowing": [test]}
        states.append(ode.solve_plant(replace(plant, t_k=celsius + ZERO_C, nacl=nacl * 1e-3, supply=supply)))
    names = ("feed_l_min", "product_l_min", "drain_l_min", "membrane_bar", "drain_bar", "back_pressure_bar")
    columns = [np.array([getattr(state, name) for state in states]) for name in names]
    columns += [np.array([getattr(state, name) for state in states]) for name in ("product_nacl", "drain_nacl")]
    reference = Answers(*columns)
    for mesh in sorted({steps, 4, 8, 16, 32, 64}):
        runs = [run_c(program, conditions, mesh) for _ in range(repeats)]
        _, answers, marches = runs[0]
        taken = best([run[0] for run in runs])
        each = 1e6 / len(conditions.temperature_c)
        few_answers = run_c(program, few, mesh)[1]
        off = disagreement(few_answers, reference)
        print(
            f"C, {mesh:3d} steps: {each * taken.clock:6.1f} µs per plant ({each * taken.processor:.1f} of processor), "
            f"{marches:.1f} marches; off the reference by product {off['product_l_min']:.1e}, "
            f"salt {off['product_nacl_mg_l']:.1e}, drain {off['drain_l_min']:.1e}; "
            f"worst residual {worst_residual(conditions, answers):.1e}; "
            f"not found: {int(np.isnan(answers.feed_l_min).sum())}"
        )


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--elements", type=int, default=1)
    parser.add_argument("--steps", type=int, default=4, help="Runge-Kutta steps along the channel, of both")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--check", action="store_true")
    options = parser.parse_args()
    conditions = draw_conditions(options.count, options.elements)
    with tempfile.TemporaryDirectory() as folder:
        program = compile_c(Path(folder))
        print(f"{options.count} plants of {options.elements} element(s); Python {platform.python_version()}")
        if options.check:
            check_c(program, conditions, options.steps, options.repeats)
        compare(program, conditions, options.steps, options.repeats)


def compare(program: Path, conditions: Conditions, steps: int, repeats: int) -> None:
    """Both in turn, the best of some repeats, so that a busy moment hits both alike."""
    c_times, our_times = [], []
    rinsewright_batch(conditions, steps)  # the first call pays for imports and caches
    for _ in range(repeats):
        taken, c_answers, _ = run_c(program, conditions, steps)
        c_times.append(taken)
        clock, processor = time.perf_counter(), time.process_time()
        our_answers = rinsewright_batch(conditions, steps)
        our_times.append(Taken(time.perf_counter() - clock, time.process_time() - processor))
    each, c_best, our_best = 1e6 / len(conditions.temperature_c), best(c_times), best(our_times)
    print(
        f"C loop, {steps} steps  {each * c_best.clock:8.1f} µs per plant ({each * c_best.processor:.1f} of processor)"
    )
    ours = f"{each * our_best.clock:8.1f} µs per plant ({each * our_best.processor:.1f} of processor)"
    print(f"rinsewright, {steps} steps {ours}")
    print(f"ratio {our_best.clock / c_best.clock:.2f} by the clock, ", end="")
    print(f"{our_best.processor / c_best.processor:.2f} of processor")
    for name, size in disagreement(our_answers, c_answers).items():
        print(f"  largest difference in {name:18s} {size:.1e}")
    print(f"worst residual: C {worst_residual(conditions, c_answers):.1e}, ", end="")
    print(f"rinsewright {worst_residual(conditions, our_answers):.1e}")


if __name__ == "__main__":
    main()

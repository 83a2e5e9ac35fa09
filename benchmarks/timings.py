"""What a user waits for, timed in one run: one solve, batches with ions, years, cold starts of the command line.

    python benchmarks/timings.py [--count 10000] [--repeats 5]

Batches are given as ratios to the batch of the same plants with one lumped salt; single solves and cold starts in
milliseconds. The best of some repeats is printed, clock and processor.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from rinsewright import Site
from rinsewright.quantities import BAR, ZERO_C
from rinsewright.solve.result import solve_batch
from rinsewright.solve.steady import Conditions, steady
from rinsewright.water.ions import CHARGE, INDEX
from rinsewright.water.state import Water

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "examples" / "tern-quay.toml"
STEPS = 3  # along each element, the same for all batches


def best(work: Callable[[], Any], repeats: int) -> tuple[float, float]:
    """Least seconds by the clock and of processor, after one warm-up."""
    work()
    clocks, processors = [], []
    for _ in range(repeats):
        clock, processor = time.perf_counter(), time.process_time()
        work()
        clocks.append(time.perf_counter() - clock)
        processors.append(time.process_time() - processor)
    return min(clocks), min(processors)


def singles(site: Site, repeats: int) -> Iterator[str]:
    """One plant: the lumped salt alone, and all ions with the answer."""
    water = site.tap.water
    from rinsewright.solve.composition import lumped

    conditions = Conditions(water.temperature_k, np.array([4.2 * BAR]), lumped(water))
    for name, work in (
        ("one solve, one lumped salt", lambda: steady(site.plant, conditions)),
        ("one solve, all ions, with its answer", lambda: site.solve()),
    ):
        clock, processor = best(work, 3 * repeats)
        yield f"{name:45s} {1e3 * clock:8.1f} ms ({1e3 * processor:.1f} of processor)"


def batches(site: Site, count: int, repeats: int) -> Iterator[str]:
    """Many conditions of one plant: one lumped salt, one analysis shared, as many analyses as conditions."""
    from rinsewright.solve.composition import lumped

    rng = np.random.default_rng(1)
    celsius, bar = rng.uniform(4.0, 25.0, count), rng.uniform(3.5, 5.5, count)
    shared = site.tap.water[np.zeros(count, dtype=np.intp)].with_temperature(celsius + ZERO_C)
    solutes = shared.solutes * rng.lognormal(0.0, 0.2, shared.solutes.shape)
    solutes[:, INDEX["HCO3"]] += solutes @ CHARGE
    own = Water.from_ph(solutes, rng.uniform(7.0, 8.0, count), celsius + ZERO_C)
    salt = Conditions(shared.temperature_k, bar * BAR, lumped(shared))
    base = best(lambda: steady(site.plant, salt, STEPS), repeats)
    yield f"{count} plants, one lumped salt{'':17s} {1e6 * base[0] / count:8.2f} µs each"
    for name, water in (("one analysis shared", shared), ("as many analyses", own)):

        def work(water: Water = water) -> None:
            waters = solve_batch(site.plant, water, bar * BAR, STEPS).waters
            assert waters.drain is not None
            for part in (waters.product, waters.drain):
                np.asarray(part.ph), np.asarray(part.conductivity)

        clock, processor = best(work, repeats)
        yield (
            f"{count} plants, all ions, {name:20s} {1e6 * clock / count:8.2f} µs each: "
            f"{clock / base[0]:.1f} times ({processor / base[1]:.1f} of processor)"
        )


def years(site: Site) -> Iterator[str]:
    """The year: its table, one year after it, many years side by side, and how time grows with events and members."""
    from dataclasses import replace

    from rinsewright.planning.year import case_of, central_inputs, central_resin, member_inputs
    from rinsewright.seasons.chance import draw
    from rinsewright.seasons.ensemble import CHUNK
    from rinsewright.seasons.ensemble import years as marched

    table = best(lambda: case_of(site.document, site.plant, site.tap), 3)
    case = case_of(site.document, site.plant, site.tap)
    one, resin = central_inputs(case, site.tap.water), central_resin(case)
    single = best(lambda: marched(one, resin), 3)
    yield f"the plant's response over a year's conditions{'':14s} {table[0]:8.2f} s ({table[1]:.2f} of processor)"
    yield f"one year after it{'':42s} {single[0]:8.2f} s ({single[1]:.2f} of processor)"
    wide = case_of(site.document, site.plant, site.tap, (0.5, 1.8))
    base = None
    for count in (2, 32, CHUNK):
        inputs, bed = member_inputs(site.document, wide, site.tap, draw(1, range(count), [0.0] * 12, [0.0] * 12))
        clock, processor = best(lambda inputs=inputs, bed=bed: marched(inputs, bed), 1)  # type: ignore[misc]
        base = base or processor
        yield f"{count:4d} years side by side{'':36s} {clock:8.2f} s: {processor / base:.1f} times 2 years' processor"
    hourly = replace(one, hourly_days=tuple(range(365)))
    stops = [best(lambda inputs=inputs: marched(inputs, None), 2)[1] for inputs in (one, hourly)]  # type: ignore[misc]
    yield f"one year cut into hours{'':36s} {stops[1] / stops[0]:8.1f} times one cut where its day changes"
    code = (
        "import resource, time; from rinsewright import Site; t = time.perf_counter(); "
        f"Site.load({str(DEMO)!r}).year(members=500, seed=1); "
        "print(time.perf_counter() - t, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    seconds, memory = (float(word) for word in done.stdout.split())
    yield f"500 years of the demo, one core, everything{'':16s} {seconds:8.2f} s, {memory:.0f} MB at most"


def cold_starts(repeats: int) -> Iterator[str]:
    """New processes; byte-code compiled beforehand, as an installation leaves it."""
    subprocess.run([sys.executable, "-m", "compileall", "-q", str(ROOT / "src")], check=False)
    for words in (
        ["--help"],
        ["solve", str(DEMO), "--json"],
        ["plan", str(DEMO), "--json"],
        ["year", str(DEMO), "--json"],
    ):
        taken = []
        for _ in range(repeats):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            clock = time.perf_counter()
            command = [sys.executable, "-m", "rinsewright", *words]
            subprocess.run(command, capture_output=True, check=True, env=dict(os.environ))
            clock = time.perf_counter() - clock
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            taken.append((clock, used, after.ru_maxrss / 1024.0))
        clock, used, memory = (min(column) for column in zip(*taken, strict=True))
        yield f"cold start: {words[0]:33s} {clock:8.2f} s ({used:.2f} of processor, {memory:.0f} MB at most so far)"


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--repeats", type=int, default=5)
    options = parser.parse_args()
    site = Site.load(DEMO)
    print(f"Python {platform.python_version()}, numpy {np.__version__}")
    for lines in (
        singles(site, options.repeats),
        batches(site, options.count, options.repeats),
        years(site),
        cold_starts(options.repeats),
    ):
        for line in lines:
            print(line, flush=True)


if __name__ == "__main__":
    main()

"""The benchmarks run, agree, and leave their figures in the longer tier's result; times are never asserted."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

BENCHMARKS = Path(__file__).resolve().parents[2] / "benchmarks"
Record = Callable[[str, object], None]


def lines_of(*words: str) -> list[str]:
    """What a benchmark prints."""
    script, *options = words
    command = [sys.executable, str(BENCHMARKS / script), *options]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=BENCHMARKS.parent)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


@pytest.mark.longer
@pytest.mark.parametrize("steps", [2, 4, 8])
def test_batch_against_a_plain_c_loop(steps: int, record_property: Record) -> None:
    assert shutil.which("gcc"), "the benchmark compiles a C program with gcc"
    lines = lines_of("plant_batch.py", "--steps", str(steps))
    for number, line in enumerate(lines):
        record_property(f"C loop, {steps} steps, line {number:02d}", line.strip())
    text = "\n".join(lines)
    residuals = re.search(r"worst residual: C ([\d.e+-]+), rinsewright ([\d.e+-]+)", text)
    assert residuals
    assert float(residuals[2]) < 1e-9
    for difference in re.findall(r"largest difference in \w+\s+([\d.e+-]+)", text):
        assert float(difference) < 2e-3  # the same model; the tube's blend between laminar and turbulent differs


@pytest.mark.longer
def test_timings(record_property: Record) -> None:
    for number, line in enumerate(lines_of("timings.py")):
        record_property(f"timings, line {number:02d}", line.strip())


@pytest.mark.longer
def test_what_users_of_the_app_wait_for(record_property: Record) -> None:
    lines = lines_of("app.py")
    for number, line in enumerate(lines):
        record_property(f"app, line {number:02d}", line.strip())
    weights = [float(kilobytes) for kilobytes in re.findall(r"(\d+) kB", "\n".join(lines))]
    assert len(weights) > 5
    assert max(weights) < 400.0  # of a page with all that it loads at once

"""Runs the longer tests and writes what they found and measured, with date and machine, under benchmarks/results/.

    python3 start.py longer [words for pytest]

A test hands a measured number over with ``record_property("conditions per second", 41000)``.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
RESULTS = ROOT / "benchmarks" / "results"
PACKAGES = ("rinsewright", "numpy", "phreeqc", "pydantic", "jinja2", "vl-convert-python")


@dataclass(frozen=True)
class Case:
    """One test's outcome: its name, how it ended, how long it took [s], and what it measured."""

    name: str
    outcome: str
    seconds: float
    measured: dict[str, str]


def run_tests(report: Path, arguments: list[str]) -> int:
    """Run the longer tier one test at a time (a neighbour would spoil the timings); return pytest's status."""
    command = [sys.executable, "-m", "pytest", "-m", "longer", "--hypothesis-profile=longer", f"--junitxml={report}"]
    return subprocess.run([*command, *arguments], cwd=ROOT, check=False).returncode


def read_cases(report: Path) -> list[Case]:
    """The outcomes in a report of pytest's."""
    return [read_case(element) for element in ET.parse(report).iter("testcase")]


def read_case(element: ET.Element) -> Case:
    """One test's outcome."""
    bad = next((child.tag for child in element if child.tag in ("failure", "error", "skipped")), "passed")
    return Case(
        name=f"{element.get('classname')}.{element.get('name')}",
        outcome=bad,
        seconds=float(element.get("time", "nan")),
        measured={p.get("name", ""): p.get("value", "") for p in element.iter("property")},
    )


def describe_machine() -> dict[str, str]:
    """What a reader needs to compare numbers with another machine's: no name, no address."""
    return {
        "system": f"{platform.system()} {platform.machine()}",
        "processor": processor(),
        "cores": str(os.cpu_count()),
        "memory": memory(),
        "Python": f"{platform.python_implementation()} {platform.python_version()}",
        "packages": ", ".join(f"{name} {version(name)}" for name in PACKAGES),
        "commit": commit(),
    }


def processor() -> str:
    """Model of the processor, as the system names it."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text(encoding="utf-8").splitlines() if info.is_file() else []
    named = (line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    return next(named, platform.processor() or "not known")


def memory() -> str:
    """Memory of the machine."""
    try:
        size = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, ValueError, OSError):  # Windows
        return "not known"
    return f"{size / 2**30:.1f} GiB"


def commit() -> str:
    """The state of the code that was measured."""
    try:
        name = git("rev-parse", "--short=12", "HEAD")
        return f"{name} with changes not committed" if git("status", "--porcelain") else name
    except (OSError, subprocess.CalledProcessError):
        return "not known"


def git(*words: str) -> str:
    """What git answers."""
    return subprocess.run(["git", *words], cwd=ROOT, check=True, capture_output=True, text=True).stdout.strip()


def write_results(when: datetime, cases: list[Case]) -> Path:
    """Write the dated record; several of one day stand side by side."""
    lines = [f"# Longer tests, {when:%Y-%m-%d %H:%M} UTC", ""]
    lines += [f"- {what}: {value}" for what, value in describe_machine().items()]
    lines += ["", "| test | outcome | s | measured |", "|---|---|---|---|"]
    for case in cases:
        measured = "; ".join(f"{name}: {value}" for name, value in case.measured.items())
        lines.append(f"| {case.name} | {case.outcome} | {case.seconds:.2f} | {measured} |")
    RESULTS.mkdir(parents=True, exist_ok=True)
    path = RESULTS / f"{when:%Y-%m-%d-%H%M}.md"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def main() -> int:
    """Run, record, and give pytest's status on (no test at all is a failure)."""
    when = datetime.now(UTC)
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder, "report.xml")
        status = run_tests(report, sys.argv[1:])
        cases = read_cases(report) if report.is_file() else []
    if cases:
        print(f"Written to {write_results(when, cases).relative_to(ROOT).as_posix()}.")
    return status


if __name__ == "__main__":
    sys.exit(main())

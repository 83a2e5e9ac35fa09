"""Answers to the ten sites, each worked out once in a test run."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

from rinsewright.api import Site
from rinsewright.planning.plan import Plan

SITES = Path(__file__).parent / "sites"
ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples" / "tern-quay.toml"


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """The program as a shell runs it, without anyone's own parts."""
    command = [sys.executable, "-m", "rinsewright", *map(str, arguments)]
    surroundings = {key: value for key, value in os.environ.items() if not key.startswith("RINSEWRIGHT_")}
    return subprocess.run(
        command, capture_output=True, text=True, encoding="utf-8", timeout=120, check=False, env=surroundings
    )


@cache
def answer_of(command: str, site: Path) -> dict[str, Any]:
    """The JSON object of a command; the command must end well and print nothing else."""
    done = run(command, site, "--json")
    assert done.returncode == 0, f"{command} {site.name} ended with {done.returncode}: {done.stderr}"
    answer = json.loads(done.stdout)
    assert isinstance(answer, dict)
    return answer


@cache
def plan_of(site: Path) -> Plan:
    """The plan itself, with its sentences."""
    return Site.load(site).plan()


def numbers(value: Any, path: str = "") -> list[tuple[str, float]]:
    """Every number of an answer with its path."""
    if isinstance(value, dict):
        return [pair for key, item in value.items() for pair in numbers(item, f"{path}.{key}")]
    if isinstance(value, list):
        return [pair for i, item in enumerate(value) for pair in numbers(item, f"{path}[{i}]")]
    return [(path, value)] if isinstance(value, int | float) and not isinstance(value, bool) else []

"""Reading what a person measured: a flat file of the record's keys, each a number in the key's unit."""

from __future__ import annotations

from collections.abc import Mapping
from numbers import Real
from pathlib import Path
from typing import Any

from rinsewright.catalogue.reading import Places, in_order, nearest, parse, read_text_file, shown
from rinsewright.errors import InputError, Problem
from rinsewright.firstrun.expected import KEYS

NEVER = "never"  # a shut-off that did not stop the drain
UNITS = {"ppm": (0.0, 9990.0), "l_min": (0.0, 100.0), "bar": (0.0, 25.0)}
SAID = {
    "ppm": "ppm as the meter shows it",
    "l_min": "L/min (180 L/h are 3 L/min)",
    "bar": "bar (1 bar is 100 kPa or 14.5 psi)",
}
MAY_NEVER = ("shutoff_closes_bar",)

Measured = dict[str, float | None]  # None: the shut-off never stopped the drain


def read_measured(source: Mapping[str, Any] | str | Path) -> tuple[Measured, Places]:
    """The readings of a TOML file, or of a mapping with the same keys.

    Raises :class:`InputError` naming file, key and line of everything wrong.
    """
    if isinstance(source, Mapping):
        data, places = dict(source), Places("measured", {})
    else:
        data, places = parse(read_text_file(source), str(source))
    if not data:
        raise InputError(Problem(f"no reading is given; known are {', '.join(KEYS)}", places.file))
    problems = [problem for key, value in data.items() if (problem := _problem(key, value, places)) is not None]
    if problems:
        raise InputError(in_order(problems))
    return {key: None if value == NEVER else float(value) for key, value in data.items()}, places


def _problem(key: str, value: Any, places: Places) -> Problem | None:
    if key not in KEYS:
        return places.problem(f"this key is not known here; {nearest(key, list(KEYS))}", key)
    if value == NEVER and key in MAY_NEVER:
        return None
    unit = next(unit for unit in UNITS if key.endswith(unit))
    low, high = UNITS[unit]
    right = f"a number from {low:g} to {high:g} {SAID[unit]}"
    if key in MAY_NEVER:
        right += f', or "{NEVER}" where the drain went on'
    if not isinstance(value, Real) or isinstance(value, bool):
        return places.problem(f"{shown(value)} is not what is needed here; give {right}", key)
    if not low <= float(value) <= high:
        return places.problem(f"{shown(value)} is not plausible; give {right}", key)
    return None

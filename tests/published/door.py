"""Site files as a user writes them, for checks that go in at the front door and see nothing of the formulas.

Only texts and the public names are used here. Molar masses are the source side's own.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rinsewright import Site
from rinsewright.cli import main

MOLAR_MASS = {"Na": 22.98977, "K": 39.0983, "Ca": 40.078, "Cl": 35.453, "HCO3": 61.0168, "SO4": 96.06}  # g/mol
PSI = 0.0689475729  # bar
GALLON = 3.785411784  # L, US


def table(head: str, **keys: Any) -> str:
    """One TOML table; JSON's strings, numbers and lists are TOML's too, mappings are written inline."""
    return "\n".join([head, *(f"{key} = {_value(value)}" for key, value in keys.items())]) + "\n"


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    return json.dumps(value)


def water(ions_mg_l: Mapping[str, float], temperature_c: float = 25.0, **keys: Any) -> str:
    """The water; without a pH and alkalinity it has no carbon in it."""
    return table("[water]", temperature_c=temperature_c, **keys) + table("[water.ions_mg_l]", **ions_mg_l)


def salt(cation: str, anion: str, mmol_l: float) -> dict[str, float]:
    """mg/L of a salt of two univalent ions, or of two divalent ones."""
    return {name: mmol_l * MOLAR_MASS[name] for name in (cation, anion)}


def nacl(mg_l: float) -> dict[str, float]:
    """mg/L of the ions of so much sodium chloride."""
    return salt("Na", "Cl", mg_l / (MOLAR_MASS["Na"] + MOLAR_MASS["Cl"]))


def calcium_chloride(calcium_mg_l: float) -> dict[str, float]:
    """mg/L of the ions of calcium chloride."""
    return {"Ca": calcium_mg_l, "Cl": 2.0 * calcium_mg_l / MOLAR_MASS["Ca"] * MOLAR_MASS["Cl"]}


def held(bar: float) -> str:
    """A supply that keeps its pressure whatever is drawn."""
    return table("[supply]", kind="well", standing_bar=bar)


def part(line: str, name: str, **keys: Any) -> str:
    """A part on a line."""
    return table(f"[[plant.{line}]]", part=name, **keys)


def membrane(**keys: Any) -> str:
    """A membrane element."""
    return table("[[plant.membranes]]", **keys)


def text(*tables: str) -> str:
    """A site file."""
    return "\n".join(["schema = 1\n", *tables])


def site(*tables: str) -> Site:
    """The site of these tables."""
    return Site.loads(text(*tables))


def tap(ions_mg_l: Mapping[str, float], temperature_c: float = 25.0, **keys: Any) -> dict[str, Any]:
    """What `water` answers of this water."""
    return site(water(ions_mg_l, temperature_c, **keys)).water().answer()


def printed(capsys: Any, folder: Path, file_text: str, command: str, *options: str) -> dict[str, Any]:
    """What the command prints with ``--json`` on a file of this text; it must answer."""
    file = folder / "site.toml"
    file.write_text(file_text, encoding="utf-8")
    before = [command, "--rated"] if command == "element" else [command]
    assert main([*before, str(file), *options, "--json"]) == 0
    answer: dict[str, Any] = json.loads(capsys.readouterr().out)
    return answer

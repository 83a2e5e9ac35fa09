"""What every answer carries: the versions that made it."""

from __future__ import annotations

from typing import Any

from rinsewright import __version__
from rinsewright.catalogue.loader import DATA_VERSION
from rinsewright.water.speciation import versions

SCHEMA = 1


def stamped(answer: dict[str, Any]) -> dict[str, Any]:
    """The answer with the schema and the versions of program, engine and data before it."""
    return {"schema": SCHEMA, "program": __version__, "phreeqc": versions()["phreeqc"], "data": DATA_VERSION, **answer}

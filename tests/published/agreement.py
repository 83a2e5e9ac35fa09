"""Published value against ours: fails where they part, and keeps the row for the page `docs/agreement.md`.

    agree(source="crc-salts", quantity="conductivity", at="NaCl 0.01 mol/L", unit="µS/cm", published=1184.5,
          ours=found, tolerance=relative(3e-3), standing="read", model="conductivity of ions")

`source` and `model` are keys of `sources.py`. Whole tables go in at once: `published`, `ours` and `at` are then
sequences of one length.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np
import pytest

from tests.published.sources import MODELS, SOURCES, TOPICS

Standing = Literal["read", "reproduced", "from memory", "constructed"]


@dataclass(frozen=True)
class Tolerance:
    """How far ours may be from the published value: a share of it, or so much in the row's unit."""

    size: float
    is_relative: bool

    def around(self, published: float) -> float:
        """In the row's unit."""
        return self.size * abs(published) if self.is_relative else self.size


def relative(share: float) -> Tolerance:
    """A share of the published value: 0.003 for 0.3 %."""
    return Tolerance(share, is_relative=True)


def absolute(size: float) -> Tolerance:
    """So much in the unit of the row."""
    return Tolerance(size, is_relative=False)


@dataclass(frozen=True)
class Range:
    """A published range; ours must lie inside it, so that the range is its own tolerance."""

    low: float
    high: float


@dataclass(frozen=True)
class Row:
    """One published number against one of ours. For a range `published` is its middle and the tolerance its half."""

    source: str
    quantity: str
    at: str
    unit: str
    published: float
    ours: float
    tolerance: float
    is_relative: bool
    is_range: bool
    standing: Standing
    model: str
    test: str


ROWS: list[Row] = []  # of this run, in the order of the checks


def agree(
    *,
    source: str,
    quantity: str,
    published: Any,
    ours: Any,
    standing: Standing,
    model: str,
    tolerance: Tolerance | None = None,
    unit: str = "",
    at: str | Sequence[Any] = "",
) -> None:
    """Record the comparison, then assert it. A number, a `Range`, or a table (a sequence, `at` naming its rows)."""
    assert source in SOURCES, f"{source} is not in tests/published/sources.py"
    assert model in MODELS, f"{model} is not in tests/published/sources.py"
    for label, value, found in _rows(at, published, ours):
        is_range = isinstance(value, Range)
        assert is_range == (tolerance is None), "a range is its own tolerance; every other value needs one"
        # A range keeps its own ends for the assertion, and its middle and half width for the page.
        middle = (value.low + value.high) / 2.0 if is_range else float(value)
        size = (value.high - value.low) / 2.0 if tolerance is None else tolerance.size
        is_relative = tolerance is not None and tolerance.is_relative
        test = os.environ["PYTEST_CURRENT_TEST"].split("::")[0]
        ROWS.append(
            Row(source, quantity, label, unit, middle, found, size, is_relative, is_range, standing, model, test)
        )
        told = f"{quantity} {label}: {found!r} {unit}, published {value!r}"
        if tolerance is None:
            assert value.low < found < value.high, told
        else:
            assert found == pytest.approx(middle, rel=0.0, abs=tolerance.around(middle)), told


def _rows(at: str | Sequence[Any], published: Any, ours: Any) -> list[tuple[str, Any, float]]:
    if isinstance(published, Range | int | float):
        assert isinstance(at, str), "one value has one label"
        return [(at, published, float(np.squeeze(ours)))]
    values, found = list(published), [float(each) for each in np.ravel(ours)]
    labels = [str(each) for each in at]
    assert not isinstance(at, str), "each row of a table has its own label"
    return list(zip(labels, values, found, strict=True))


def collected() -> dict[str, Any]:
    """All that the page needs, ready for JSON."""
    return {
        "topics": TOPICS,
        "sources": {key: asdict(source) for key, source in SOURCES.items()},
        "models": MODELS,
        "rows": [asdict(row) for row in ROWS],
    }

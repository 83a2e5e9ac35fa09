"""The models of every answer, which the package holds itself and no command loads."""

from __future__ import annotations

from rinsewright.planning.answers import ANSWERS, Banded, PlanAnswer, WaterAnswer

__all__ = ["ANSWERS", "Banded", "PlanAnswer", "WaterAnswer"]

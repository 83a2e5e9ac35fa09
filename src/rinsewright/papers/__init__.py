"""Documents: content as dataclasses, drawings, templates, rendering. Nothing here solves anything."""

from __future__ import annotations

from rinsewright.papers.content import (
    PathPart,
    PlanPaper,
    Reading,
    Tag,
    TemperatureRow,
    WaterPath,
)
from rinsewright.papers.pdf import page_pdf, plan_pdf
from rinsewright.papers.plan import plan_page
from rinsewright.papers.year import year_page

__all__ = [
    "PathPart",
    "PlanPaper",
    "Reading",
    "Tag",
    "TemperatureRow",
    "WaterPath",
    "page_pdf",
    "plan_page",
    "plan_pdf",
    "year_page",
]

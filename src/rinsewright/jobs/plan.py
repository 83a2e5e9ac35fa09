"""The plan as a page and a PDF to send: from what was computed to what is printed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from rinsewright.jobs.water_path import verdict_words, water_path
from rinsewright.papers import PlanPaper, Tag, TemperatureRow, plan_page, plan_pdf
from rinsewright.papers.units import Telling, Units
from rinsewright.planning.plan import Plan
from rinsewright.planning.verdicts.drain import calcite_limit, inhibitor_credit
from rinsewright.seasons.filling import always_open


@dataclass(frozen=True)
class PlanPapers:
    """A plan that can be written to a folder, told in ``units``, the site file's where not given."""

    plan: Plan
    units: Units | None = None

    def write(self, folder: Path) -> list[Path]:
        """Write ``plan.html`` and ``plan.pdf`` into a folder; returns the files."""
        paper = paper_of(self.plan, self.units)
        html = plan_page(paper)
        page, pdf = folder / "plan.html", folder / "plan.pdf"
        page.write_text(html, encoding="utf-8")
        pdf.write_bytes(plan_pdf(paper, html))
        return [page, pdf]


def paper_of(plan: Plan, units: Units | None = None) -> PlanPaper:
    """Everything that stands on the plan sheet."""
    situation = plan.situation
    today = situation.today.solved
    assert today is not None  # without a working state today there is no plan
    words = verdict_words([(verdict.key, verdict.verdict) for verdict in plan.verdicts])
    tag_of = partial(Tag.of, telling=Telling.of(units, today.meter_factor))
    return PlanPaper(
        site_name=plan.site_name,
        made_on=plan.planned_on,
        country=situation.country or "",
        currency=situation.currency,
        answer=plan.answer(),
        path=water_path(situation.plant, today, words, tag_of),
        cold_to_warm=tuple(TemperatureRow(**row) for row in plan.cold_to_warm),
        sentences=plan.sentences(),
        coldest_c=situation.coldest.temperature_c,
        today_c=situation.today.temperature_c,
        warmest_c=situation.warmest.temperature_c,
        product_limit_ppm=plan.limit_ppm,
        meter_factor=today.meter_factor,
        calcite_limit=calcite_limit(situation),
        inhibitor_credit=inhibitor_credit(situation),
        water=plan.water,
        always_open=always_open(plan.year.inputs.week),
        resin_in_year=situation.resin_year.sentences() if situation.resin_year else (),
        units=units,
    )

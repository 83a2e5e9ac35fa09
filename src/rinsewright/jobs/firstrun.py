"""The first run's record and the handover pack as pages and PDFs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from rinsewright.api import Site
from rinsewright.firstrun.handover import handover_of
from rinsewright.firstrun.record import FirstRun
from rinsewright.jobs.pages import write_pages
from rinsewright.papers.firstrun import FirstRunPaper, handover_page, record_page
from rinsewright.papers.units import Telling, Units
from rinsewright.site import build


@dataclass(frozen=True)
class FirstRunPapers:
    """A first run that can be written to a folder; the handover too, where the site says what water is wanted.

    Both are told in ``units``, the site file's where not given.
    """

    site: Site
    run: FirstRun
    units: Units | None = None

    def write(self, folder: Path) -> list[Path]:
        """Write ``firstrun.html`` and ``.pdf``, with a demand ``handover.html`` and ``.pdf`` too; returns the files."""
        paper = self.paper()
        pages = {"firstrun": (record_page(paper), "first run")}
        if self.site.document.model.demand is not None:
            plan, telling = self.site.plan(), Telling.of(self.units, paper.meter_factor)
            pack = handover_of(plan, self.run)
            pack = replace(pack, does=tuple(telling.summary(pack.does, plan.answer())))  # the plan's numbers
            pages["handover"] = (handover_page(pack, self.run.answer(), telling), "handover")
        return write_pages(folder, self.run.site_name, pages)

    def paper(self) -> FirstRunPaper:
        """What stands on the record."""
        about = self.site.document.model.site
        plant = self.site.plant
        return FirstRunPaper(
            run=self.run,
            country=about.country or "",
            made_on=about.planned_on or "",
            page=about.page,
            meter_factor=build.meter_factor(self.site.document),
            has_shutoff=plant.shutoff is not None and bool(plant.stages),
            units=self.units,
        )

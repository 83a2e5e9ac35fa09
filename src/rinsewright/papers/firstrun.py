"""The first run's record, to be filled in or judged, and signed; and the handover pack for the customer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rinsewright.firstrun.handover import Handover
from rinsewright.firstrun.judging import Line
from rinsewright.firstrun.record import FirstRun
from rinsewright.firstrun.wording import CAUSES, HOW, NAMES, band_in_words, shown, unit_of
from rinsewright.papers.sheets import language, template
from rinsewright.papers.units import AS_FILED, Telling, Units
from rinsewright.planning.ensemble import Band

if TYPE_CHECKING:
    from markupsafe import Markup


@dataclass(frozen=True)
class FirstRunPaper:
    """What stands on the record beside the first run itself."""

    run: FirstRun
    country: str
    made_on: str
    page: str | None  # address of the site's page, for the code to be scanned
    meter_factor: float
    has_shutoff: bool
    units: Units | None = None  # in which it was read; None: the site file's


def record_page(paper: FirstRunPaper) -> str:
    """The record as HTML: no script, no request to elsewhere, light and dark, screen and A4."""
    telling = Telling.of(paper.units, paper.meter_factor)
    run, answer = paper.run, paper.run.answer()
    lines = {line.what: line for line in run.lines}
    rows = [
        (NAMES[key], telling.retell(HOW[key]), _should(run.expected[key], key, telling), _read(lines.get(key), telling))
        for key, band in run.expected.items()
        if band.value is not None
    ]
    judged = [(NAMES[line.what], _read(line, telling), telling.retold(line)) for line in run.lines]
    after = [
        (CAUSES[cause], f"{100 * (b.value or 0):.0f} % ({100 * (b.low or 0):.0f} to {100 * (b.high or 0):.0f})")
        for cause, b in run.plant_after.items()
    ]
    return template("firstrun.html.j2").render(
        paper=paper,
        run=run,
        answer=answer,
        rows=rows,
        judged=judged,
        fine=sum(line.verdict == "fine" for line in run.lines),
        after=after if run.lines else [],
        product=telling.retell(f"{run.expected['product_l_min'].value:.1f} L/min").split(" ", 1),
        t=telling,
        code=code_to_scan(paper.page, f"Code that opens the page of {run.site_name}") if paper.page else None,
        lang=language(paper.country),
    )


def handover_page(handover: Handover, answer: dict[str, Any], telling: Telling = AS_FILED) -> str:
    """The handover pack as HTML, in the same dress; ``answer`` gives the versions at its foot."""
    pack = telling.retold(handover)
    return template("handover.html.j2").render(pack=pack, answer=answer, lang=language(handover.country))


def code_to_scan(address: str, title: str) -> Markup:
    """A QR code (ISO/IEC 18004) of an address, as a picture for page and print."""
    import segno
    from markupsafe import Markup

    made = segno.make(address, error="m", micro=False)
    svg = made.svg_inline(
        scale=4, border=4, omitsize=True, dark="#000000", light="#FFFFFF", svgclass="qr", lineclass=None, title=title
    )
    return Markup(svg)


def _should(band: Band, key: str, telling: Telling) -> str:
    return telling.retell(band_in_words(band, key)).removeprefix("about ")


def _read(line: Line | None, telling: Telling) -> str:
    """A reading as its instrument shows it, in other units than the site file's as it was read."""
    if line is None:
        return ""
    if line.measured is None:
        return "never"
    return shown(line.measured, line.what) if telling.is_plain else telling.measured(line.measured, unit_of(line.what))

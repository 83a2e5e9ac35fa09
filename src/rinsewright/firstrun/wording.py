"""A first run as text for a person in a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rinsewright.planning.ensemble import Band

if TYPE_CHECKING:
    from rinsewright.firstrun.record import FirstRun

WORDS = {  # key: what it is called in a table, what in a sentence, how it is read
    "tap_meter_ppm": (
        "tap, meter",
        "the tap's reading",
        "Run the tap until it is cold, rinse the cup three times, read.",
    ),
    "product_meter_ppm": (
        "product, meter",
        "the product's reading",
        "At the product line before the resin, in a running cup.",
    ),
    "after_resin_meter_ppm": (
        "after the resin, meter",
        "the reading after the resin",
        "Behind the resin, after ten litres.",
    ),
    "product_l_min": (
        "product",
        "the product flow",
        "Bucket and watch: litres caught in a minute or more.",
    ),
    "drain_l_min": (
        "drain",
        "the drain flow",
        "Bucket and watch at the drain's end, at the same time.",
    ),
    "membrane_bar": (
        "at the membranes",
        "the pressure at the membranes",
        "Gauge before the first membrane, plant running freely.",
    ),
    "shutoff_closes_bar": (
        "drain stops at a product pressure of",
        "where the shut-off closes",
        "Gauge on the product, product slowly shut: read as the drain stops.",
    ),
    "reopens_bar": (
        "and runs again at",
        "where the plant starts again",
        "Product slowly opened again: read as the drain runs again.",
    ),
}
NAMES, SPOKEN, HOW = ({key: words[n] for key, words in WORDS.items()} for n in range(3))
UNITS = {"ppm": "ppm", "l_min": "L/min", "bar": "bar"}
CAUSES = {
    "water_permeance": "water through the membranes",
    "salt_passage": "salt through the membranes",
    "restrictor_flow": "flow of the restrictor",
}


def unit_of(key: str) -> str:
    """The unit that a key ends on."""
    return next(unit for end, unit in UNITS.items() if key.endswith(end))


def shown(value: float | None, key: str) -> str:
    """A value as its instrument shows it, with the unit."""
    if value is None:
        return "not known"
    unit = unit_of(key)
    return f"{value:.{ {'ppm': 0, 'bar': 1}.get(unit, 2) }f} {unit}"


def band_in_words(band: Band, key: str) -> str:
    """ "about 12.7 ppm (8 to 21)"; not known where the plant has no such line."""
    if band.value is None or band.low is None or band.high is None:
        return "not known"
    digits = {"ppm": 0, "bar": 1}.get(unit_of(key), 1)
    return f"about {shown(band.value, key)} ({band.low:.{digits}f} to {band.high:.{digits}f})"


def first_run_text(record: FirstRun) -> str:
    """The record for a terminal: the answer first, then what to read, what was read, and what is left open."""
    return "\n".join(_lines(record)) + "\n"


def _lines(record: FirstRun) -> Iterator[str]:
    yield from (record.site_name, "")
    if record.verdict is not None:
        yield f"{record.verdict}: {record.why}"
        if record.do and record.do != "Nothing.":
            yield record.do
        yield ""
    at = record.conditions
    tap = "" if at.running_bar is None else f", {at.running_bar:g} bar at the tap while it runs"
    yield f"With the water at {at.temperature_c:g} °C{tap} it should read, in nine plants of ten:"
    known = {key: band for key, band in record.expected.items() if band.value is not None}
    width = max(map(len, (NAMES[key] for key in known)), default=0)
    for key, band in known.items():
        yield f"  {NAMES[key]:<{width}}  {band_in_words(band, key)}"
    if record.lines:
        yield ""
        for line in record.lines:
            measured = "never" if line.measured is None else shown(line.measured, line.what)
            yield f"  {line.verdict:<5} {NAMES[line.what]}: {measured}. {line.why}"
            if line.verdict != "fine":
                yield f"        {line.do}"
        factors = [
            f"  {CAUSES[cause]:<{max(map(len, CAUSES.values()))}}  {100 * (band.value or 0.0):.0f} % of what is stated "
            f"({100 * (band.low or 0.0):.0f} to {100 * (band.high or 0.0):.0f})"
            for cause, band in record.plant_after.items()
        ]
        if factors:
            yield from ("", "What the readings say of this plant:", *factors)
        if record.cannot_tell:
            yield from ("", "What they cannot tell apart:", *(f"  - {text}" for text in record.cannot_tell))
    if record.rinse is not None:
        yield from ("", f"Before the readings: {record.rinse.do}", record.rinse.why)
        yield f"That sends about {record.rinse.litres:.0f} L to the drain. Wear gloves."

"""What an answer rests on that nobody measured at this site: value and origin."""

from __future__ import annotations

from collections.abc import Sequence

from rinsewright.planning import consumables, year
from rinsewright.planning.situation import Situation
from rinsewright.plant.feed import cartridge as filters
from rinsewright.plant.membrane import ageing
from rinsewright.plant.membrane.selectivity import PERMEANCE_RATIO
from rinsewright.plant.product import resin
from rinsewright.quantities import BAR
from rinsewright.seasons.ledger import hours_minutes
from rinsewright.sources import Sourced

Row = dict[str, str]


def _row(what: str, value: str, origin: str) -> Row:
    return {"what": what, "value": value, "origin": origin}


def _sourced(what: str, value: str, source: Sourced) -> Row:
    origin = (
        source.reference if source.reference.startswith(source.standing) else f"{source.standing}: {source.reference}"
    )
    return _row(what, f"{value} (uncertain: {source.uncertainty})", origin)


def assumptions(s: Situation, notes: Sequence[str], defaults: Sequence[tuple[str, object]]) -> list[Row]:
    """Rows of what, value and origin, those that move the answer most first; last the keys left to their defaults."""
    rows = [_row("the tap water", note, "the site file, completed") for note in notes]
    rows += _supply(s)
    if s.has_membranes:
        rows += _membranes(s)
    if s.plant.resin is not None:
        rows += _resin(s)
    rows += _filters(s)
    if s.plant.tank is not None and s.has_membranes:
        rows += _standstill(s)
    rows += _drawing(s)
    if not s.season_known:
        rows.append(_row("water temperature", "today's all year", "the site file names no season"))
    rows += [_row(key, str(value), "default, not given in the site file") for key, value in defaults if value != ""]
    return rows


def _drawing(s: Situation) -> list[Row]:
    """How the day's water is drawn moves drain, starts and resin more than most that is measured."""
    d = s.demand
    if s.year is None or d is None or s.plant.tank is None or any(d.rounds) or d.vans:
        return []
    hours = f"evenly from {hours_minutes(d.draw_from)} to {hours_minutes(d.draw_until)}"
    opened = "with the tap open meanwhile" if d.fill_from is None else "the tap open in its hours only"
    return [_row("how the day's water is drawn", f"{hours}, {opened}", "the site file names no rounds and no vans")]


def _supply(s: Situation) -> list[Row]:
    if not s.plant.supply.standing_estimated:
        return []
    value = f"{s.plant.supply.standing_pa / BAR:.1f} bar standing"
    origin = "estimated from the running tests; measure it with the tap shut"
    return [_row("the tap's standing pressure", value, origin)]


def _membranes(s: Situation) -> list[Row]:
    element = s.plant.elements[0]
    kept = ", ".join(f"{name} {PERMEANCE_RATIO[name]:g}" for name in ("Ca", "HCO3", "SO4", "NO3", "SiO2"))
    return [
        _row(
            "flow of a membrane against its data sheet",
            f"±{100 * element.tolerance:.0f} %",
            "makers' own tolerance (one page read, others from memory)",
        ),
        _row(
            "water permeance in the cold",
            f"exp({element.water_activation:.0f} K·(1/298.15 − 1/T)), ±6 % at 5 °C",
            "read: a published 5–34 °C table; published forms span 0.48 to 0.58 at 5 °C",
        ),
        _row(
            "salt permeance in the cold",
            f"exp({element.salt_activation:.0f} K·(1/298.15 − 1/T))",
            "from memory: 25–35 kJ/mol for polyamide",
        ),
        _row(
            "mass transfer in the feed channel",
            "±30 %",
            "read: Schock & Miquel 1987, used below its range; a laminar slit carries it there",
        ),
        _row(
            "how ions pass, against NaCl",
            f"{kept}; each within a factor of 1.5",
            "read: measured and typical rejections (two sources), divided by that of NaCl",
        ),
    ]


def _resin(s: Situation) -> list[Row]:
    vessel = s.plant.resin
    assert vessel is not None
    rows = []
    if vessel.anion_eq_per_l is None:
        anion, cation = resin.ANION_CAPACITY, resin.CATION_CAPACITY
        rows.append(_sourced("anion capacity of the mixed bed", f"{anion.value / 1e3:.2f} eq/L", anion))
        rows.append(_sourced("cation capacity of the mixed bed", f"{cation.value / 1e3:.2f} eq/L", cation))
    rows.append(_sourced("share of the capacity that is used", f"{vessel.usable_share:g}", resin.USABLE_SHARE))
    return rows


def _filters(s: Situation) -> list[Row]:
    rows = []
    if s.cartridge("sediment") is not None or s.cartridge("carbon") is not None:
        dirt, rise = filters.DIRT_M3_TO_DOUBLE, filters.CHANGE_AT_RISE
        rows.append(_sourced("dirt that doubles a cartridge's loss", f"{dirt.value:.0f} m³ of water", dirt))
        rows.append(_sourced("rise at which a cartridge is changed", f"{rise.value / BAR:.1f} bar", rise))
    if s.cartridge("carbon") is not None:
        volume = 1e3 * consumables.CARBON_IN_CARTRIDGE
        rows.append(_row("carbon in a cartridge", f"{volume:.1f} L", "assumed, a 10 in cartridge"))
    if s.has_membranes:
        flux, tolerance = ageing.FLUX_LOSS_PER_YEAR, ageing.CHLORINE_TOLERANCE
        rows.append(_sourced("flow that membranes lose", f"{100 * flux.value:.0f} % a year", flux))
        rows.append(_sourced("chlorine that a membrane stands", f"{tolerance.value:.0f} mg·h/L", tolerance))
    return rows


def _standstill(s: Situation) -> list[Row]:
    return [
        _row(
            "salt sent to the tank at each start",
            f"{year.CREEP_SHARE:g} of what standing water could take up",
            "assumed; first flushes of one seawater element carried 0.07 to 0.10 (our integral of read data)",
        ),
        _row(
            "bands",
            "90 %: one in ten plants lies outside",
            "an ensemble of waters, membranes and resins, spread as stated here",
        ),
    ]

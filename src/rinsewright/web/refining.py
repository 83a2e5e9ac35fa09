"""The five answers found in a site's text, and put into it again: what nobody touched stays, comments and all."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import TYPE_CHECKING, Any

from rinsewright.planning.starting import is_guess
from rinsewright.site.document import SiteDocument
from rinsewright.web.lines import table_at, unguess

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

Known = dict[str, float | None]


def known(document: SiteDocument, toml: str) -> Known:
    """The answers that a site holds, by question, in its own units; what is missing or only guessed is None.

    Questions that do not fit the site are left out: elements where there are none, litres where rounds are given.
    """
    model = document.model
    water, supply, demand, plant = model.water, model.supply, model.demand, model.plant
    found: Known = {}
    if water is not None:
        found["meter"] = water.field.meter_ppm if water.field else None
        season = water.season
        if season is None or season.coldest_c is not None:
            found["coldest"] = season.coldest_c if season and not is_guess(toml, "coldest_c") else None
    if supply is not None:
        test = supply.flowing[0] if supply.flowing else None
        found["pressure"] = test.pressure_bar if test else None
        found["flow"] = test.flow_l_min if test and not is_guess(toml, "flowing") else None
    if demand is not None and demand.litres_per_day is not None:
        days = [litres for litres in demand.litres_per_day.model_dump().values() if litres > 0.0]
        found["litres"] = sum(days) / len(days) if days else None
    if plant is not None:
        if plant.membranes:
            found["elements"] = float(len(plant.membranes))
        for part in plant.product:
            if part.part in ("resin", "tank"):
                found[part.part] = getattr(part, "litres", None)
    return found


def refine(document: TOMLDocument, before: Mapping[str, float | None], now: Mapping[str, float | None]) -> None:
    """Put those answers in that differ from what the site held."""
    changed = {name: value for name, value in now.items() if value is not None and value != before.get(name)}
    for name, value in changed.items():
        CHANGES[name](document, value, before.get(name))


def _set(table: Any, key: str, value: float) -> None:
    """Put a number in; it is no guess any more, so a remark that says so goes."""
    table[key] = int(value) if float(value).is_integer() else float(f"{value:.6g}")
    unguess(table[key])


def _meter(document: Any, value: float, before: float | None) -> None:
    _set(table_at(document, ("water", "field")), "meter_ppm", value)


def _coldest(document: Any, value: float, before: float | None) -> None:
    season = table_at(document, ("water", "season"))
    _set(season, "coldest_c", value)
    if "warmest_c" not in season:
        _set(season, "warmest_c", max(value, float(document["water"]["temperature_c"])))


def _pressure(document: Any, value: float, before: float | None) -> None:
    _set(_tests(document)[0], "pressure_bar", value)


def _flow(document: Any, value: float, before: float | None) -> None:
    tests = _tests(document)
    _set(tests[0], "flow_l_min", value)
    unguess(tests)


def _tests(document: Any) -> Any:
    """The running tests; one to be filled in where there is none."""
    import tomlkit

    supply = table_at(document, ("supply",))
    if not supply.get("flowing"):
        test = tomlkit.inline_table()
        test.update({"flow_l_min": 10.0, "pressure_bar": 3.0})
        supply["flowing"] = tomlkit.array()
        supply["flowing"].append(test)
    return supply["flowing"]


def _litres(document: Any, value: float, before: float | None) -> None:
    """Every working day in proportion: days that differ keep their differences."""
    days = document["demand"]["litres_per_day"]
    for day, litres in list(days.items()):
        if litres > 0.0:
            _set(days, day, float(litres) * value / before if before else value)


def _elements(document: Any, value: float, before: float | None) -> None:
    """More of the last one, or fewer."""
    elements = document["plant"]["membranes"]
    while len(elements) > value:
        del elements[-1]
    while len(elements) < value:
        elements.append(deepcopy(elements[-1]))


def _litres_of(kind: str) -> Any:
    def change(document: Any, value: float, before: float | None) -> None:
        part = next(part for part in document["plant"]["product"] if part["part"] == kind)
        _set(part, "litres", value)

    return change


CHANGES = {
    "meter": _meter,
    "coldest": _coldest,
    "pressure": _pressure,
    "flow": _flow,
    "litres": _litres,
    "elements": _elements,
    "resin": _litres_of("resin"),
    "tank": _litres_of("tank"),
}

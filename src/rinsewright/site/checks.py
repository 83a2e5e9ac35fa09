"""What one key's range cannot tell: keys that contradict each other, plants that cannot be plants, ratings passed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import date
from typing import TYPE_CHECKING

from rinsewright.catalogue import parts
from rinsewright.catalogue.fields import needed, wanted
from rinsewright.catalogue.lines import Path
from rinsewright.catalogue.reading import Places, key_text, shown, walk
from rinsewright.errors import NoWorkingState, Problem
from rinsewright.plant.joints import End, diameter
from rinsewright.plant.product.line import Tank
from rinsewright.quantities import BAR, MM, US_CM, ZERO_C, celsius
from rinsewright.site.schema import About, Demand, IonsMgL, PlantTable, Season, SiteFile, SupplyTable, WaterTable
from rinsewright.site.season import WAYS, from_air, season_of, way_of
from rinsewright.water.conductivity import PURE_WATER

if TYPE_CHECKING:
    from rinsewright.plant.layout import Plant
    from rinsewright.site.document import SiteDocument

Problems = Iterator[Problem]


def problems_of(site: SiteFile, places: Places) -> Problems:
    """Everything wrong with a document whose keys are each in range."""
    yield from _frost_days_fit(site.site, places)
    if site.water:
        for check in WATER_CHECKS:
            yield from check(site.water, places)
    if site.supply:
        for check_supply in SUPPLY_CHECKS:
            yield from check_supply(site.supply, places)
    if site.demand:
        for check_demand in DEMAND_CHECKS:
            yield from check_demand(site.demand, places)
        yield from _limit_above_pure_water(site.demand, site.water, places)
    if site.plant:
        for check_plant in PLANT_CHECKS:
            yield from check_plant(site.plant, places)
        yield from _fitted_by_then(site.plant, site.site.planned_on, places)


# ---- the site ----

LONGEST_MONTHS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)  # an average may count leap years


def _frost_days_fit(site: About, places: Places) -> Problems:
    for month, (days, most) in enumerate(zip(site.frost_days or [], LONGEST_MONTHS, strict=False)):
        if days > most:
            yield places.problem(
                f"{days:g} days of frost are more than the month has; give at most {most}", "site", "frost_days", month
            )


# ---- water ----


def _water_is_described(water: WaterTable, places: Places) -> Problems:
    if water.ions_mg_l is None and water.field is None:
        yield places.problem("the water is not described; give [water.ions_mg_l], [water.field] or both", "water")
    tables: list[tuple[Path, IonsMgL | None]] = [(("water", "ions_mg_l"), water.ions_mg_l)]
    tables += [(("water", "changes", n, "ions_mg_l"), change.ions_mg_l) for n, change in enumerate(water.changes)]
    for path, ions in tables:
        if ions is not None and not any(ions.model_dump().values()):
            yield places.problem("the analysis is empty; give at least one ion in mg/L", *path)


def _chlorine_adds_up(water: WaterTable, places: Places) -> Problems:
    free, total = water.free_chlorine_mg_l, water.total_chlorine_mg_l
    if free is not None and total is not None and total < free:
        yield places.problem(
            f"total chlorine {total:g} is below free chlorine {free:g}; give the total, which includes the free",
            "water",
            "total_chlorine_mg_l",
        )


def _season_is_whole(water: WaterTable, places: Places) -> Problems:
    season = water.season
    if season is None:
        return
    at = ("water", "season")
    chosen = way_of(season)
    others = [key for way, keys in WAYS.items() if way != chosen for key in keys if key in season.model_fields_set]
    for key in others:
        yield places.problem(f"it contradicts {chosen}; give either one, not both", *at, key)
    if chosen == "coldest_c":
        yield from _coldest_and_warmest(season, places, at)
    if chosen == "air_mean_c":
        yield from _air_is_whole(season, places, at)


def _coldest_and_warmest(season: Season, places: Places, at: Path) -> Problems:
    if season.coldest_c is None or season.warmest_c is None:
        yield places.problem(
            "the season is not whole; give coldest_c and warmest_c, or 12 monthly_c, or a table, or air_mean_c and "
            "air_monthly_spread_c",
            *at,
        )
    elif season.coldest_c > season.warmest_c:
        yield places.problem(
            f"the coldest water, {season.coldest_c:g} °C, is above the warmest, {season.warmest_c:g} °C; swap them",
            *at,
            "coldest_c",
        )


def _air_is_whole(season: Season, places: Places, at: Path) -> Problems:
    if season.air_mean_c is None or season.air_monthly_spread_c is None:
        missing = "air_mean_c" if season.air_mean_c is None else "air_monthly_spread_c"
        yield places.problem(
            f"{missing} is missing; the water follows from the air's mean and the spread of its months, so give both",
            *at,
        )
    elif (coldest := float(celsius(from_air(season).min()))) < 0.0:
        yield places.problem(
            f"this air gives water of {coldest:.1f} °C on the coldest day, and water in a main does not freeze; the "
            "equation does not hold there, so give coldest_c and warmest_c",
            *at,
            "air_mean_c",
        )


def _changes_differ(water: WaterTable, places: Places) -> Problems:
    seen: set[str] = set()
    for n, change in enumerate(water.changes):
        if change.from_day in seen:
            yield places.problem(
                f"two analyses start on {change.from_day}; give each a day of its own", "water", "changes", n, "from"
            )
        seen.add(change.from_day)


# ---- supply ----


def _supply_is_described(supply: SupplyTable, places: Places) -> Problems:
    if supply.standing_bar is None and supply.by_hour_bar is None and not supply.flowing:
        yield places.problem(
            "the tap's pressure is not described; give standing_bar, or running tests in flowing", "supply"
        )


def _running_below_standing(supply: SupplyTable, places: Places) -> Problems:
    standing = highest_standing_bar(supply)
    for n, test in enumerate(supply.flowing):
        at = ("supply", "flowing", n, "pressure_bar")
        if standing is not None and test.pressure_bar > standing:
            yield places.problem(
                f"the running pressure {test.pressure_bar:g} is above the standing pressure {standing:g} bar; "
                "water that runs has less pressure than water that stands, so measure both again",
                *at,
            )
        if standing is None and _rises(supply, n):
            yield places.problem(
                f"the pressure rises with the flow, to {test.pressure_bar:g} bar at {test.flow_l_min:g} L/min; "
                "measure again, or give standing_bar",
                *at,
            )


def _rises(supply: SupplyTable, n: int) -> bool:
    """Whether a test has both more flow and more pressure than another."""
    test = supply.flowing[n]
    return any(
        test.flow_l_min > other.flow_l_min and test.pressure_bar > other.pressure_bar for other in supply.flowing
    )


def highest_standing_bar(supply: SupplyTable) -> float | None:
    """The highest standing pressure stated [bar], through the day; None where it is to be estimated."""
    stated = [*(supply.by_hour_bar or []), *([] if supply.standing_bar is None else [supply.standing_bar])]
    return max(stated, default=None)


def _break_tank_is_whole(supply: SupplyTable, places: Places) -> Problems:
    for key, other in (("tank_litres", "refill_l_min"), ("refill_l_min", "tank_litres")):
        if getattr(supply, key) is None:
            continue
        if supply.kind != "break-tank":
            yield places.problem('only a break tank has it; give kind = "break-tank", or leave it out', "supply", key)
        elif getattr(supply, other) is None:
            yield places.problem(f"{other} is missing; give both or neither", "supply", key)


# ---- demand ----


def _demand_once(demand: Demand, places: Places) -> Problems:
    if demand.litres_per_day is not None and demand.rounds:
        yield places.problem(
            "the rounds contradict litres_per_day; give either one, not both", "demand", "litres_per_day"
        )
    if demand.litres_per_day is not None and not any(demand.litres_per_day.model_dump().values()):
        yield places.problem("no day needs any water; give the litres of at least one", "demand", "litres_per_day")


def _limit_above_pure_water(demand: Demand, water: WaterTable | None, places: Places) -> Problems:
    field = water.field if water else None
    factor = demand.meter_factor or (field.meter_factor if field else 0.5)
    pure = PURE_WATER / US_CM * factor
    if demand.product_limit_ppm <= pure:
        yield places.problem(
            f"no water reads below pure water, {pure:.3f} ppm at a meter factor of {factor:g}; give a limit above it, "
            "10 is usual",
            "demand",
            "product_limit_ppm",
        )


def _hours_in_order(demand: Demand, places: Places) -> Problems:
    if demand.draw_from == demand.draw_until:
        yield places.problem(
            f"drawing starts and ends at {demand.draw_from}; give two times of day", "demand", "draw_until"
        )
    if (demand.fill_from is None) != (demand.fill_until is None):
        given, other = ("fill_from", "fill_until") if demand.fill_until is None else ("fill_until", "fill_from")
        yield places.problem(f"{other} is missing; give both or neither", "demand", given)
    elif demand.fill_from is not None and demand.fill_from == demand.fill_until:
        yield places.problem(
            "filling starts and ends at the same time; give two times, or leave both out", "demand", "fill_until"
        )


def _vans_differ(demand: Demand, places: Places) -> Problems:
    seen: set[str] = set()
    for n, van in enumerate(demand.vans):
        if van.name in seen:
            yield places.problem(
                f"two vans are called {shown(van.name)}; give each its own name", "demand", "vans", n, "name"
            )
        seen.add(van.name)
        if van.payload_kg is not None and van.kit_kg is not None and van.kit_kg > van.payload_kg:
            yield places.problem(
                f"the kit, {van.kit_kg:g} kg, is above the payload, {van.payload_kg:g} kg, with the tank empty; "
                "weigh both again",
                "demand",
                "vans",
                n,
                "kit_kg",
            )


# ---- plant ----


def _plant_purifies(plant: PlantTable, places: Places) -> Problems:
    if not plant.membranes and not any(isinstance(part, parts.Resin) for part in plant.product):
        yield places.problem(
            'the plant has neither membranes nor resin; give [[plant.membranes]], or a product part = "resin"',
            "plant",
        )


def _membranes_have_a_drain(plant: PlantTable, places: Places) -> Problems:
    if plant.membranes and not any(isinstance(part, parts.Restrictor | parts.Tube) for part in plant.drain):
        yield places.problem(
            'nothing holds pressure on the membranes; give [[plant.drain]] with part = "restrictor"', "plant"
        )
    if not plant.membranes:
        for n in range(len(plant.drain)):
            yield places.problem("there is no drain without membranes; take this part out", "plant", "drain", n)


def _membranes_have_permeances(plant: PlantTable, places: Places) -> Problems:
    for n, membrane in enumerate(plant.membranes):
        yield from membrane_problems(membrane, places, ("plant", "membranes", n))


def membrane_problems(membrane: parts.Membrane, places: Places, at: Path) -> Problems:
    """What is wrong with one element at its place. One with a catalogue ``part`` is looked at again when merged."""
    permeances = {
        "water_permeance_l_m2_h_bar": membrane.water_permeance_l_m2_h_bar,
        "salt_permeance_l_m2_h": membrane.salt_permeance_l_m2_h,
    }
    given = [key for key, value in permeances.items() if value is not None]
    if membrane.rated and given:
        yield places.problem("it contradicts rated; give the rating or the two permeances", *at, given[0])
    elif not membrane.rated and not membrane.part and len(given) < 2:
        yield places.problem("the element has no rating; give rated, or both permeances, or a catalogue part", *at)
    rated = membrane.rated
    if rated and rated.pressure_bar <= _OSMOTIC_BAR_PER_MG_L * rated.nacl_mg_l:
        yield places.problem(
            f"{rated.pressure_bar:g} bar is below the osmotic pressure of {rated.nacl_mg_l:g} mg/L of salt, so no "
            "water would pass; give the data sheet's test pressure",
            *at,
            "rated",
            "pressure_bar",
        )


_OSMOTIC_BAR_PER_MG_L = 7.5e-4  # NaCl, rounded down: 2·R·T/M is 8.5e-4 for an ideal solution


def _fitted_by_then(plant: PlantTable, planned_on: str | None, places: Places) -> Problems:
    """An element's age counts to the day of the plan: it is fitted by then, or by today where the plan is older."""
    latest = max(date.today().isoformat(), planned_on or "")  # the user's own day
    for n, membrane in enumerate(plant.membranes):
        if membrane.installed and membrane.installed > latest:
            yield places.problem(
                f"{membrane.installed} is still to come; give the day it was fitted, or leave it out for a new one",
                "plant",
                "membranes",
                n,
                "installed",
            )


def _stages_are_whole(plant: PlantTable, places: Places) -> Problems:
    stages = [membrane.stage for membrane in plant.membranes]
    given = {stage for stage in stages if stage is not None}
    if not given:
        return
    if plant.arrangement == "series":
        n = next(n for n, stage in enumerate(stages) if stage is not None)
        yield places.problem(
            'it contradicts arrangement = "series", one element after the other; leave one of them out',
            "plant",
            "membranes",
            n,
            "stage",
        )
    for n, stage in enumerate(stages):
        if stage is None:
            yield places.problem("its stage is missing; give every element a stage, or none", "plant", "membranes", n)
    if given != set(range(1, max(given) + 1)):
        n = next(n for n, stage in enumerate(stages) if stage == max(given))
        yield places.problem(
            f"stage {max(given)} has no stage before it; number the stages 1, 2, …", "plant", "membranes", n, "stage"
        )


def _recirculation_has_a_pump(plant: PlantTable, places: Places) -> Problems:
    if plant.recirculation_l_min == 0.0:
        return
    at = ("plant", "recirculation_l_min")
    if not plant.membranes:
        yield places.problem("there is no drain water without membranes; leave it out", *at)
    elif not any(isinstance(part, parts.Pump) for part in plant.feed):
        yield places.problem('drain water returns only to a pump; give a feed part = "pump", or leave it out', *at)


def _only_one(plant: PlantTable, places: Places) -> Problems:
    lines: dict[str, list[parts.Stocked]] = {"feed": [*plant.feed], "product": [*plant.product]}
    kinds: tuple[tuple[str, type[parts.Stocked], str], ...] = (
        ("feed", parts.Pump, "booster pump; give one curve for them all"),
        ("feed", parts.Softener, "softener; leave one out"),
        ("product", parts.Tank, "tank; give one with the litres of both"),
        ("product", parts.ShutOff, "automatic shut-off; leave one out"),
        ("product", parts.Resin, "resin part; give one with vessels = 2"),
        ("product", parts.Blend, "blend; give one with the share of both"),
        ("product", parts.DeliveryPump, "delivery pump; leave one out"),
    )
    for line, kind, advice in kinds:
        for n in [n for n, part in enumerate(lines[line]) if isinstance(part, kind)][1:]:
            yield places.problem(f"a plant has one {advice}", "plant", line, n)


def _product_parts_in_place(plant: PlantTable, places: Places) -> Problems:
    tank = next((n for n, part in enumerate(plant.product) if isinstance(part, parts.Tank)), None)
    for n, part in enumerate(plant.product):
        at = ("plant", "product", n)
        if isinstance(part, parts.ShutOff) and tank is not None and n > tank:
            yield places.problem("behind the tank it never sees the product's pressure; put it before the tank", *at)
        if isinstance(part, parts.DeliveryPump) and (tank is None or n < tank):
            yield places.problem("it draws from the tank; put it behind the tank", *at)
        if isinstance(part, parts.ShutOff | parts.Blend) and not plant.membranes:
            yield places.problem("it does nothing without membranes; take this part out", *at)


def _parts_agree_with_themselves(plant: PlantTable, places: Places) -> Problems:
    for path, part in walk(plant, ("plant",)):
        if not isinstance(part, parts.Stocked):
            continue
        for check in (*PART_CHECKS.get(type(part), ()), _ends):
            for message, key in check(part):
                yield places.problem(message, *path, *key)


def _nothing_missing(plant: PlantTable, places: Places) -> Problems:
    """A key that a part needs, unless the catalogue may still give it."""
    for path, part in walk(plant, ("plant",)):
        if not isinstance(part, parts.Stocked):
            continue
        reference = "part" if isinstance(part, parts.Membrane) else "size"
        if getattr(part, reference, None) is None:
            yield from missing_problems(part, places, path, reference)


def missing_problems(part: parts.Stocked, places: Places, path: Path, reference: str | None) -> Problems:
    """The keys that a part needs and does not have."""
    for key, field in type(part).model_fields.items():
        if needed(field) and getattr(part, key) is None:
            right = wanted(field) if "unit" in dict(field.json_schema_extra or {}) else f"the {field.title}"  # type: ignore[arg-type]
            instead = f", or a catalogue name as {reference}" if reference else ""
            yield places.problem(f"this key is missing; give {right}{instead}", *path, key)


Found = Iterator[tuple[str, Path]]


def _pump(pump: parts.Pump) -> Found:
    flows = [point.flow_l_min for point in pump.curve or []]
    for n in range(1, len(flows)):
        if flows[n] <= flows[n - 1]:
            yield (
                f"the flows of the curve do not rise ({flows[n - 1]:g}, then {flows[n]:g} L/min); give them rising",
                ("curve", n, "flow_l_min"),
            )
    if pump.cut_in_bar is not None and pump.cut_out_bar is not None and pump.cut_in_bar >= pump.cut_out_bar:
        yield "the pump cuts in at or above its cut-out pressure; give a lower one", ("cut_in_bar",)


def _shutoff(valve: parts.ShutOff) -> Found:
    if valve.reopens_at_ratio >= valve.closes_at_ratio:
        yield (
            f"it reopens at or above the ratio at which it closes, {valve.closes_at_ratio:g}; give a lower one",
            ("reopens_at_ratio",),
        )


def _tank(tank: parts.Tank) -> Found:
    if tank.litres and tank.usable_litres is not None and tank.usable_litres > tank.litres:
        yield f"it is above the tank's {tank.litres:g} L; give at most that", ("usable_litres",)
    if tank.height_mm and tank.float_band_mm is not None and tank.float_band_mm > tank.height_mm:
        yield f"it is above the tank's height of {tank.height_mm:g} mm; give a part of it", ("float_band_mm",)
    if tank.float_band_mm is not None and tank.height_mm is None:
        yield "the tank's height_mm is missing, so the band means nothing; give both", ("float_band_mm",)
    if not tank.float_valve:
        for key in parts.FLOAT_KEYS:
            if getattr(tank, key) is not None:
                yield "it belongs to a float valve, and float_valve is false; leave one of them out", (key,)


def _stated_drop(part: parts.Stocked) -> Found:
    drop = "clean_drop_bar" if "clean_drop_bar" in type(part).model_fields else "drop_bar"
    given = {drop, "at_l_min"} & part.model_fields_set
    if len(given) == 1 and getattr(part, drop) != 0.0:
        other = ({drop, "at_l_min"} - given).pop()
        yield f"{other} is missing; a pressure drop needs the flow it is stated at, so give both", (given.pop(),)


ENDS_OF: dict[type, tuple[tuple[int, ...], str]] = {
    parts.Membrane: ((3,), "feed, drain and product"),
    parts.ShutOff: ((2, 4), "product in and out, then feed in and out if they differ"),
    parts.Blend: ((2, 3), "product in and out, then the feed water's if it differs"),
}
"""How many ends a part may have, and which; every other part has two, in and out."""


def _ends(part: parts.Stocked) -> Found:
    if part.ends is None:
        return
    if isinstance(part, parts.Lift):
        yield "a height has no ends; give them to the tube that rises", ("ends",)
        return
    counts, which = ENDS_OF.get(type(part), ((2,), "in and out"))
    if len(part.ends) not in counts:
        given = f"{len(part.ends)} {'is' if len(part.ends) == 1 else 'are'} given"
        yield f"it has {counts[0]} ends, {which}, and {given}; give them in flow order", ("ends",)


def _outside(tube: parts.Tube) -> Found:
    if tube.outside is None:
        return
    if tube.hose:
        yield "a hose is called by its bore; leave out outside, or hose = true", ("outside",)
    elif tube.bore_mm and diameter(End("tube", tube.outside, "male")) <= tube.bore_mm * MM:
        yield f"it is not wider than the bore of {tube.bore_mm:g} mm; check both", ("outside",)


PART_CHECKS: dict[type, tuple[Callable[..., Found], ...]] = {
    parts.Pump: (_pump,),
    parts.ShutOff: (_shutoff,),
    parts.Tank: (_tank,),
    parts.Tube: (_outside,),
    parts.Cartridge: (_stated_drop,),
    parts.Softener: (_stated_drop,),
    parts.Solenoid: (_stated_drop,),
    parts.Resin: (_stated_drop,),
}

WATER_CHECKS = (_water_is_described, _chlorine_adds_up, _season_is_whole, _changes_differ)
SUPPLY_CHECKS = (_supply_is_described, _running_below_standing, _break_tank_is_whole)
DEMAND_CHECKS = (_demand_once, _hours_in_order, _vans_differ)
PLANT_CHECKS = (
    _plant_purifies,
    _membranes_have_a_drain,
    _membranes_have_permeances,
    _stages_are_whole,
    _recirculation_has_a_pump,
    _only_one,
    _product_parts_in_place,
    _parts_agree_with_themselves,
    _nothing_missing,
)


# ---- ratings ----


def check_ratings(document: SiteDocument, plant: Plant) -> None:
    """Refuse a plant in which a part may see more than its rating.

    Before the pump a part may see the highest standing pressure; behind it that plus the pump's dead head, since a
    cut-out switch can fail. The product line ends in a float valve or a closed pole: up to there it may see as much,
    or where a shut-off stops the plant before, the share of it at which that closes. An open tank sees none of it.

    Raises:
        NoWorkingState: naming the part, the key and the line.
    """
    supply = document.model.supply
    stated = highest_standing_bar(supply) if supply else None
    standing = max(plant.supply.standing_pa, 0.0 if stated is None else stated * BAR)
    at_tap = f"the tap shut gives {standing / BAR:.3g} bar"
    highest, behind_pump = standing, at_tap
    if plant.pump is not None:
        highest += plant.pump.dead_head_pa
        behind_pump += f" and the pump adds up to {plant.pump.dead_head_pa / BAR:.3g} bar at no flow"
    at = plant.feed.index(plant.pump) if plant.pump is not None else len(plant.feed)
    for place, part in enumerate(plant.feed):
        seen = (highest, behind_pump) if place >= at else (standing, at_tap)
        _refuse(document, part.rated_pa, *seen, part.name, part.key, "rated_bar")
    for element in plant.elements:
        _refuse(document, element.rated_pa, highest, behind_pump, element.name, element.key, "rated_bar")
        _refuse(document, element.max_pa, highest, behind_pump, element.name, element.key, "max_bar")
    for part in plant.drain:
        _refuse(document, part.rated_pa, highest, behind_pump, part.name, part.key, "rated_bar")
    if plant.stages and plant.shutoff is not None:
        highest *= plant.shutoff.closes_at_ratio
        behind_pump += f", of which the product line sees {highest / BAR:.3g} bar before the shut-off closes"
    for part in plant.to_tank:
        if not isinstance(part, Tank):
            _refuse(document, part.rated_pa, highest, behind_pump, part.name, part.key, "rated_bar")
    _refuse_heat(document, plant)


def _refuse(
    document: SiteDocument, limit_pa: float | None, seen_pa: float, cause: str, name: str, key: str, which: str
) -> None:
    if limit_pa is not None and seen_pa > limit_pa:
        raise NoWorkingState(
            f"{_where(document, key, which)}: the {name} is made for {limit_pa / BAR:.3g} bar, but {cause}; "
            "fit a pressure reducer, a smaller pump or a stronger part",
            key,
        )


def _refuse_heat(document: SiteDocument, plant: Plant) -> None:
    water = document.model.water
    if water is None:
        return
    warm = [water.temperature_c]
    if water.season is not None:
        warm.append(season_of(water.season).warmest_k - ZERO_C)
    for element in plant.elements:
        if element.max_k is not None and max(warm) > element.max_k - ZERO_C + 1e-9:
            raise NoWorkingState(
                f"{_where(document, element.key, 'max_c')}: the {element.name} is made for "
                f"{element.max_k - ZERO_C:.3g} °C, but the water reaches {max(warm):.3g} °C; "
                "cool it or fit another element",
                element.key,
            )


def _where(document: SiteDocument, key: str, which: str) -> str:
    """File, line and key of a part's rating, as a :class:`Problem` writes them."""
    path = path_of(key)
    line = document.places.line((*path, which))
    stated = (*path, which) in document.lines
    return ", ".join([document.file, *([f"line {line}"] if line else []), key_text((*path, which)) if stated else key])


def path_of(key: str) -> Path:
    """The path of a key as messages write it: ``plant.feed[1].rated`` is ("plant", "feed", 1, "rated")."""
    return tuple(int(item) if item.isdigit() else item for item in re.findall(r"[^.\[\]]+", key))

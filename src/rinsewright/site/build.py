"""From a checked site file to what the physics takes: a plant, a water, a season, a demand. All in SI."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

from rinsewright.catalogue import parts
from rinsewright.catalogue.lines import Path
from rinsewright.catalogue.loader import KIND_OF_PART, Catalogue, merge
from rinsewright.catalogue.reading import Places, in_order, key_text, shown, walk
from rinsewright.errors import InputError, Problem
from rinsewright.plant.check import Check
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.supply import Supply, fit_supply
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener, Solenoid
from rinsewright.plant.joints import End
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element, Rating
from rinsewright.plant.membrane.restrictor import Flush, Restrictor
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import Blend, DeliveryPump, Lift, ResinVessel, ShutOff, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import BAR, HOUR, L_H, L_MIN, LITRE, LMH, LMH_PER_BAR, MG_L, MINUTE, MM, ZERO_C
from rinsewright.site.checks import PLANT_CHECKS, membrane_problems, missing_problems
from rinsewright.site.document import SiteDocument
from rinsewright.site.schema import WEEKDAYS, IonsMgL, PlantTable, SupplyTable
from rinsewright.site.season import SeasonInput, day_of_year, season_of
from rinsewright.water.climate import MONTH_DAYS
from rinsewright.water.field import Readings

DEFAULT_METER_FACTOR = 0.5
LEAST_PERMEANCE, MOST_PERMEANCE = 0.1, 50.0  # L/(m2 h bar), as for permeances given outright
CURRENCY_OF = {
    **dict.fromkeys(("AT", "BE", "DE", "EE", "ES", "FI", "FR", "IE", "IT", "LT", "LU", "LV", "MT", "NL", "PT"), "EUR"),
    "GB": "GBP",
    "US": "USD",
    "CA": "CAD",
    "AU": "AUD",
    "NZ": "NZD",
    "CH": "CHF",
    "DK": "DKK",
    "NO": "NOK",
    "SE": "SEK",
}

# ---- the plant ----


def build_plant(document: SiteDocument, catalogue: Catalogue) -> Plant:
    """The plant of a site file, with the catalogue's values where a part names one.

    Needs the tables ``supply`` and ``plant``. Elements with a rating have their permeances solved for.

    Raises:
        InputError: a catalogue name is not known, or a part with its catalogue values is not whole.
    """
    supply, table = document.model.supply, document.model.plant
    if supply is None or table is None:
        raise InputError(Problem("the tables [supply] and [plant] are needed to build a plant", document.file))
    table = resolve(table, document.places, catalogue)
    return Plant(
        supply=build_supply(supply),
        feed=_line("feed", table.feed),
        stages=_stages(table, document.places),
        drain=_line("drain", table.drain),
        product=_line("product", table.product),
        recirculation=table.recirculation_l_min * L_MIN,
    )


def build_supply(table: SupplyTable) -> Supply:
    """The tap's curve. Where only standing pressures by the hour are given, their mean is the standing pressure."""
    standing = table.standing_bar
    if standing is None and table.by_hour_bar:
        standing = sum(table.by_hour_bar) / len(table.by_hour_bar)
    tests = [(test.flow_l_min * L_MIN, test.pressure_bar * BAR) for test in table.flowing]
    return replace(
        fit_supply(None if standing is None else standing * BAR, tests, table.kind),
        tank_volume=_times(table.tank_litres, LITRE),
        refill_flow=_times(table.refill_l_min, L_MIN),
    )


def resolve(table: PlantTable, places: Places, catalogue: Catalogue) -> PlantTable:
    """The plant table with every catalogue name replaced by its values, checked once more as a whole."""
    problems: list[Problem] = []
    lines: dict[str, list[Any]] = {}
    for line in ("feed", "membranes", "drain", "product"):
        lines[line] = []
        for n, part in enumerate(getattr(table, line)):
            merged, found = _resolved(part, ("plant", line, n), places, catalogue)
            lines[line].append(merged)
            problems += found
    if problems:
        raise InputError(in_order(problems))
    whole = table.model_copy(update=lines)
    if again := [problem for check in PLANT_CHECKS for problem in check(whole, places)]:
        raise InputError(in_order(again))
    return whole


def resolve_element(membrane: parts.Membrane, places: Places, catalogue: Catalogue, at: Path = ()) -> parts.Membrane:
    """One element with its catalogue values; raises :class:`InputError` if it is not whole."""
    merged: parts.Membrane
    merged, problems = _resolved(membrane, at, places, catalogue)
    problems += membrane_problems(merged, places, at)
    problems += missing_problems(merged, places, at, "part")
    if problems:
        raise InputError(in_order(problems))
    return merged


def _resolved(part: Any, at: Path, places: Places, catalogue: Catalogue) -> tuple[Any, list[Problem]]:
    reference = "part" if isinstance(part, parts.Membrane) else "size"
    name = getattr(part, reference, None)
    if name is None:
        return part, []
    kind = "elements" if isinstance(part, parts.Membrane) else KIND_OF_PART[part.part]
    found = catalogue.find(kind, name)
    if found is None:
        message = f"{shown(name)} is not in the catalogue of {kind}; {catalogue.suggestion(kind, name)}"
        return part, [places.problem(message, *at, reference)]
    update: dict[str, Any] = {reference: None}
    if isinstance(part, parts.Tank) and not part.float_valve:  # nor has it the catalogue's
        update |= {key: getattr(part, key) for key in parts.FLOAT_KEYS}
    return merge(part, found).model_copy(update=update), []


def _stages(table: PlantTable, places: Places) -> tuple[tuple[Element, ...], ...]:
    built = [
        build_element(membrane, places, ("plant", "membranes", n), _element_name(n, len(table.membranes)))
        for n, membrane in enumerate(table.membranes)
    ]
    if table.arrangement == "series":
        return tuple((_in_stage(element, n + 1),) for n, element in enumerate(built))
    numbers = sorted({element.stage for element in built})
    return tuple(tuple(element for element in built if element.stage == number) for number in numbers)


def _in_stage(element: Element, stage: int) -> Element:
    return replace(element, stage=stage)


def _element_name(n: int, many: int) -> str:
    return "membrane element" if many == 1 else f"membrane element {n + 1}"


def build_element(
    membrane: parts.Membrane, places: Places | None = None, at: Path = (), name: str = "membrane element"
) -> Element:
    """One element in SI. It must be whole (:func:`resolve_element`); a rating is turned into permeances."""
    try:
        bare = _element(
            membrane.model_copy(
                update={"installed": None, "price": None, "lead_days": None, "stage": None, "ends": None}
            )
        )
    except InputError as error:  # the rating knows no file
        if places is None:
            raise
        raise InputError([places.problem(problem.message, *at, "rated") for problem in error.problems]) from None
    if membrane.rated and not LEAST_PERMEANCE <= bare.water_permeance / LMH_PER_BAR <= MOST_PERMEANCE:
        problem = (
            f"the rating works out at a water permeance of {bare.water_permeance / LMH_PER_BAR:.3g} L/(m² h bar), and "
            f"membranes have {LEAST_PERMEANCE:g} to {MOST_PERMEANCE:g}; check product_l_h, pressure_bar and area_m2"
        )
        raise InputError(places.problem(problem, *at, "rated") if places else Problem(problem, key="rated"))
    return replace(
        bare,
        key=key_text(at),
        name=name,
        stage=membrane.stage or 1,
        installed=membrane.installed,
        price=membrane.price,
        lead_days=membrane.lead_days,
        ends=_ends(membrane),
    )


@lru_cache(maxsize=256)
def _element(membrane: parts.Membrane) -> Element:
    """Elements with the same keys are rated once."""
    element = Element(
        rated_pa=_times(membrane.rated_bar, BAR),
        area=_given(membrane.area_m2),
        length=_given(membrane.length_m),
        channel=membrane.channel_mm * MM,
        porosity=membrane.porosity,
        water_permeance=(membrane.water_permeance_l_m2_h_bar or 5.0) * LMH_PER_BAR,
        salt_permeance=(membrane.salt_permeance_l_m2_h or 0.4) * LMH,
        water_activation=membrane.water_activation_k,
        salt_activation=membrane.salt_activation_k,
        max_pa=_times(membrane.max_bar, BAR),
        max_k=None if membrane.max_c is None else membrane.max_c + ZERO_C,
        max_recovery=membrane.max_recovery,
        tolerance=membrane.tolerance_pct / 100.0,
        change_at_flow_loss=membrane.change_at_flow_loss_pct / 100.0,
        change_at_passage_times=membrane.change_at_passage_times,
        change_after_years=membrane.change_after_years,
        nominal=membrane.nominal,
    )
    if membrane.rated is None:
        return element
    from rinsewright.plant.membrane.rating import rate

    return rate(element, rating_of(membrane.rated))


def rating_of(rated: parts.Rated) -> Rating:
    """A rating in SI."""
    return Rating(
        product=rated.product_l_h * L_H,
        rejection=rated.rejection_pct / 100.0,
        pressure_pa=rated.pressure_bar * BAR,
        nacl=rated.nacl_mg_l * MG_L,
        temperature_k=rated.temperature_c + ZERO_C,
        recovery=rated.recovery_pct / 100.0,
    )


def _line(line: str, table: Sequence[Any]) -> tuple[Part, ...]:
    names = _names(line, [BUILDERS[type(part)][1](part) for part in table])
    return tuple(
        BUILDERS[type(part)][0](part, key=f"plant.{line}[{n}]", name=names[n], **_common(part))
        for n, part in enumerate(table)
    )


def _names(line: str, plain: list[str]) -> list[str]:
    """Names in words, numbered where a line has several of one kind."""
    names = []
    for n, name in enumerate(plain):
        words = name.replace("LINE", line)
        names.append(f"{words} {plain[: n + 1].count(name)}" if plain.count(name) > 1 else words)
    return names


def _common(part: parts.Stocked) -> dict[str, Any]:
    return {
        "rated_pa": _times(part.rated_bar, BAR),
        "price": part.price,
        "lead_days": part.lead_days,
        "ends": _ends(part),
    }


def _ends(part: parts.Stocked) -> tuple[End, ...]:
    return tuple(End.parse(words) for words in part.ends or ())


def _tube(part: parts.Tube, **common: Any) -> Tube:
    return Tube(
        bore=_given(part.bore_mm) * MM,
        length=_given(part.length_m),
        fittings_k=part.fittings_k,
        roughness=part.roughness_mm * MM,
        outside=part.outside,
        hose=part.hose,
        **common,
    )


def _check(part: parts.Check, **common: Any) -> Check:
    return Check(crack_pa=part.crack_bar * BAR, **common)


def _cartridge(part: parts.Cartridge, **common: Any) -> Cartridge:
    return Cartridge(
        media=part.media or "sediment",
        clean_drop_pa=part.clean_drop_bar * BAR,
        at_flow=part.at_l_min * L_MIN,
        change_after_m3=part.change_after_m3,
        change_at_drop_pa=_times(part.change_at_drop_bar, BAR),
        change_after_months=part.change_after_months,
        change_on=_days(part.change_on),
        dirt_m3_to_double=part.dirt_m3_to_double,
        chlorine_capacity_kg=_times(part.chlorine_capacity_g, 1e-3),
        **common,
    )


def _pump(part: parts.Pump, **common: Any) -> Pump:
    curve = part.curve or []
    return Pump(
        flows=tuple(point.flow_l_min * L_MIN for point in curve),
        pressures=tuple(point.bar * BAR for point in curve),
        power_w=part.power_w,
        cut_in_pa=_times(part.cut_in_bar, BAR),
        cut_out_pa=_times(part.cut_out_bar, BAR),
        min_inlet_pa=_times(part.min_inlet_bar, BAR),
        **common,
    )


def _softener(part: parts.Softener, **common: Any) -> Softener:
    return Softener(
        clean_drop_pa=part.clean_drop_bar * BAR,
        at_flow=part.at_l_min * L_MIN,
        hardness_leak_share=part.hardness_leak_share,
        **common,
    )


def _inhibitor(part: parts.Inhibitor, **common: Any) -> Inhibitor:
    return Inhibitor(calcite_si_credit=part.calcite_si_credit, **common)


def _solenoid(part: parts.Solenoid, **common: Any) -> Solenoid:
    return Solenoid(drop_pa=part.drop_bar * BAR, at_flow=part.at_l_min * L_MIN, **common)


def _restrictor(part: parts.Restrictor, **common: Any) -> Restrictor:
    return Restrictor(
        flow=_given(part.flow_l_min) * L_MIN, at_pa=_given(part.at_bar) * BAR, exponent=part.exponent, **common
    )


def _flush(part: parts.Flush, **common: Any) -> Flush:
    return Flush(volume=part.litres * LITRE, **common)


def _shutoff(part: parts.ShutOff, **common: Any) -> ShutOff:
    return ShutOff(closes_at_ratio=part.closes_at_ratio, reopens_at_ratio=part.reopens_at_ratio, **common)


def _lift(part: parts.Lift, **common: Any) -> Lift:
    return Lift(height=part.height_m, **common)


def _resin(part: parts.Resin, **common: Any) -> ResinVessel:
    capacity = part.capacity_eq_per_l
    return ResinVessel(
        volume=_given(part.litres) * LITRE,
        vessels=part.vessels,
        cation_eq_per_l=capacity.cation if capacity else None,
        anion_eq_per_l=capacity.anion if capacity else None,
        usable_share=part.usable_share,
        clean_drop_pa=part.vessels * part.drop_bar * BAR,
        at_flow=part.at_l_min * L_MIN,
        change_on=_days(part.change_on),
        change_after_months=part.change_after_months,
        **common,
    )


def _tank(part: parts.Tank, **common: Any) -> Tank:
    return Tank(
        volume=_given(part.litres) * LITRE,
        height=_times(part.height_mm, MM),
        float_band=_times(part.float_band_mm, MM),
        float_open_flow=_times(part.float_open_l_min, L_MIN),
        float_valve=part.float_valve,
        vented=part.vented,
        usable_volume=_times(part.usable_litres, LITRE),
        start_full=part.start_full,
        inlet=part.inlet,
        **common,
    )


def _delivery_pump(part: parts.DeliveryPump, **common: Any) -> DeliveryPump:
    return DeliveryPump(flow=_times(part.flow_l_min, L_MIN), power_w=part.power_w, **common)


def _blend(part: parts.Blend, **common: Any) -> Blend:
    return Blend(share=part.share, **common)


def _called(words: str) -> Callable[[Any], str]:
    return lambda part: words


BUILDERS: dict[type, tuple[Callable[..., Part], Callable[[Any], str]]] = {
    parts.Tube: (_tube, _called("LINE tube")),
    parts.Check: (_check, _called("check valve")),
    parts.Cartridge: (_cartridge, lambda part: f"{part.media} cartridge"),
    parts.Pump: (_pump, _called("booster pump")),
    parts.Softener: (_softener, _called("softener")),
    parts.Inhibitor: (_inhibitor, _called("inhibitor doser")),
    parts.Solenoid: (_solenoid, _called("solenoid valve")),
    parts.Restrictor: (_restrictor, _called("drain restrictor")),
    parts.Flush: (_flush, _called("drain flush")),
    parts.ShutOff: (_shutoff, _called("automatic shut-off")),
    parts.Lift: (_lift, _called("lift")),
    parts.Resin: (_resin, _called("resin vessel")),
    parts.Tank: (_tank, _called("tank")),
    parts.DeliveryPump: (_delivery_pump, _called("delivery pump")),
    parts.Blend: (_blend, _called("blend valve")),
}
"""How each kind of part is built, and what a person calls it."""


def _times(value: float | None, unit: float) -> float | None:
    return None if value is None else value * unit


def _days(dates: Sequence[str]) -> tuple[int, ...]:
    return tuple(sorted({day_of_year(date) for date in dates}))


def _given(value: float | None) -> float:
    """A value that the checks have made sure of."""
    if value is None:
        raise AssertionError("a part was built before it was checked")
    return value


# ---- the water ----


@dataclass(frozen=True)
class Analysis:
    """An analysis that holds from a day of the year (1–365) on."""

    from_day: int
    ions_mg_l: dict[str, float]
    ph: float | None


@dataclass(frozen=True)
class WaterInput:
    """The tap water as given. ``ions_mg_l`` holds only what was given (HCO3: alkalinity); None: no analysis."""

    temperature_k: float
    ions_mg_l: dict[str, float] | None
    ph: float | None
    ph_from: Literal["report", "meter", "strip"]
    source: Literal["ground", "surface", "mixed"]
    field: Readings | None
    free_chlorine: float | None  # kg/m3
    total_chlorine: float | None  # kg/m3; the free chlorine where only that was given
    changes: tuple[Analysis, ...]


def water_input(document: SiteDocument) -> WaterInput:
    """The water table as the chemistry takes it."""
    water = _table(document, "water")
    readings = None
    if water.field is not None:
        readings = Readings(
            water.field.meter_ppm,
            water.field.meter_factor,
            water.field.hardness_mg_l_caco3,
            water.field.alkalinity_mg_l_caco3,
        )
    total = water.free_chlorine_mg_l if water.total_chlorine_mg_l is None else water.total_chlorine_mg_l
    return WaterInput(
        temperature_k=water.temperature_c + ZERO_C,
        ions_mg_l=None if water.ions_mg_l is None else _ions(water.ions_mg_l),
        ph=water.ph,
        ph_from=water.ph_from,
        source=water.source,
        field=readings,
        free_chlorine=_times(water.free_chlorine_mg_l, MG_L),
        total_chlorine=_times(total, MG_L),
        changes=tuple(
            Analysis(day_of_year(change.from_day), _ions(change.ions_mg_l), change.ph)
            for change in sorted(water.changes, key=lambda change: change.from_day)
        ),
    )


def _ions(table: IonsMgL) -> dict[str, float]:
    return {name: float(value) for name, value in table.model_dump().items() if value is not None}


# ---- the season ----


def season_input(document: SiteDocument) -> SeasonInput | None:
    """The season as given, or None where only today's temperature is known."""
    season = _table(document, "water").season
    return None if season is None else season_of(season)


def frost_chance(document: SiteDocument) -> tuple[float, ...]:
    """Share of each month's days on which frost shuts the tap: none where frost cannot reach the plant."""
    site = document.model.site
    if site.frost_days is None or site.frost_protected:
        return (0.0,) * 12
    return tuple(min(1.0, float(days / month)) for days, month in zip(site.frost_days, MONTH_DAYS, strict=True))


def seconds_of_day(clock: str) -> float:
    """Seconds since midnight of "HH:MM"."""
    hours, minutes = (int(number) for number in clock.split(":"))
    return hours * HOUR + minutes * MINUTE


# ---- the demand ----


@dataclass(frozen=True)
class JobInput:
    """One job: water [m3] over a time [s]."""

    volume: float
    seconds: float


@dataclass(frozen=True)
class VanInput:
    """A van's tank [m3], the time of day [s] at which it is refilled, and the flow [m3/s] where given."""

    name: str
    volume: float
    refill_at: float
    refill_flow: float | None


@dataclass(frozen=True)
class DemandInput:
    """The product needed. ``by_weekday`` [m3], Monday first; times in seconds since midnight."""

    by_weekday: tuple[float, ...]
    rounds: tuple[tuple[JobInput, ...], ...]  # the jobs of each weekday; empty where only litres are given
    draw_from: float
    draw_until: float
    fill_from: float | None
    fill_until: float | None
    limit_ppm: float
    meter_factor: float
    days_off: frozenset[int]  # days of the year
    weather_off_chance: tuple[float, ...]  # 12 months
    brushes: int
    brush_flow: float | None  # m3/s each
    spread: float  # share by which the year's demand may lie off, either way (90 % band)
    vans: tuple[VanInput, ...]

    @property
    def working_day(self) -> float:
        """Water of an average working day [m3]: the mean of the weekdays that need any."""
        working = [volume for volume in self.by_weekday if volume > 0.0]
        return sum(working) / len(working) if working else 0.0

    @property
    def week(self) -> float:
        """Water of a full week [m3]."""
        return sum(self.by_weekday)


def demand_input(document: SiteDocument) -> DemandInput:
    """The demand table as the seasons take it."""
    demand = _table(document, "demand")
    rounds: dict[str, list[JobInput]] = {day: [] for day in WEEKDAYS}
    for table in demand.rounds:
        rounds[table.day] += [JobInput(job.litres * LITRE, job.minutes * MINUTE) for job in table.jobs]
    if demand.litres_per_day is not None:
        volumes = tuple(getattr(demand.litres_per_day, day) * LITRE for day in WEEKDAYS)
    else:
        volumes = tuple(sum(job.volume for job in rounds[day]) for day in WEEKDAYS)
    return DemandInput(
        by_weekday=volumes,
        rounds=tuple(tuple(rounds[day]) for day in WEEKDAYS),
        draw_from=seconds_of_day(demand.draw_from),
        draw_until=seconds_of_day(demand.draw_until),
        fill_from=None if demand.fill_from is None else seconds_of_day(demand.fill_from),
        fill_until=None if demand.fill_until is None else seconds_of_day(demand.fill_until),
        limit_ppm=demand.product_limit_ppm,
        meter_factor=meter_factor(document),
        days_off=frozenset(day_of_year(day) for day in demand.days_off),
        weather_off_chance=tuple(demand.weather_off_chance or [0.0] * 12),
        brushes=demand.brushes or 1,
        brush_flow=_times(demand.brush_l_min, L_MIN),
        spread=demand.spread_pct / 100.0,
        vans=tuple(
            VanInput(van.name, van.tank_litres * LITRE, seconds_of_day(van.refill_at), _times(van.refill_l_min, L_MIN))
            for van in demand.vans
        ),
    )


def meter_factor(document: SiteDocument) -> float:
    """ppm per µS/cm of the meter that reads the product: [demand]'s, else [water.field]'s, else 0.5."""
    demand, water = document.model.demand, document.model.water
    if demand is not None and demand.meter_factor is not None:
        return demand.meter_factor
    if water is not None and water.field is not None:
        return water.field.meter_factor
    return DEFAULT_METER_FACTOR


def currency(document: SiteDocument) -> str | None:
    """Currency of the prices: as given, else the country's where known."""
    return document.model.prices.currency or CURRENCY_OF.get(document.model.site.country or "")


def _table(document: SiteDocument, name: str) -> Any:
    table = getattr(document.model, name)
    if table is None:
        raise InputError(Problem(f"the table is missing; give [{name}]", document.file, name))
    return table


def assumed(document: SiteDocument) -> Iterator[tuple[str, Any]]:
    """Keys left to their defaults that an answer may rest on, as (key, value): for lists of assumptions."""
    for path, model in walk(document.model):
        for name, field in type(model).model_fields.items():
            value = getattr(model, name)
            if (
                name not in model.model_fields_set
                and isinstance(value, float | int | str)
                and not isinstance(value, bool)
            ):
                yield key_text((*path, field.alias or name)), value

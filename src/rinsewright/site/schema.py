"""Every key of a site file, with its unit, plausible range, default and meaning.

The keys of the parts themselves stand in :mod:`rinsewright.catalogue.parts`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from rinsewright.catalogue.fields import Clock, Country, Currency, Date, Keys, MonthDay, entry, number, short
from rinsewright.catalogue.parts import DrainPart, EndWords, FeedPart, Membrane, ProductPart
from rinsewright.catalogue.reading import shown

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

_TemperatureC = Annotated[float, number("water temperature", "°C", 0, 45)]
_StandingBar = Annotated[float, number("standing pressure", "bar", 0, 25)]
_Share = Annotated[float, number("chance", "share", 0, 1)]
_FrostDays = Annotated[float, number("number of frost days", "days", 0, 31)]


def _address(text: str) -> str:
    start, _, rest = text.partition("://")
    if start not in ("https", "http") or not rest.strip("/") or any(c.isspace() or not c.isprintable() for c in text):
        raise ValueError(f'"{short(text)}" is not the address of a page; give one such as "https://yard.example/plant"')
    return text


class About(Keys):
    """The site itself."""

    name: str = entry("name", default="Unnamed site", min_length=1, note="What you call the site.")
    country: Country | None = entry(
        "country", default=None, note="Two capital letters, as GB; for notes on local rules."
    )
    frost_protected: bool = entry("whether frost cannot reach the plant", default=False)
    frost_days: list[_FrostDays] | None = entry(
        "frost days by month",
        default=None,
        min_length=12,
        max_length=12,
        note="Average number of days with frost at the plant, January to December; none unless given.",
    )
    planned_on: Date | None = entry("day of the plan", default=None, note="YYYY-MM-DD; printed on the plan.")
    page: Annotated[str, AfterValidator(_address)] | None = entry(
        "address of the site's page",
        default=None,
        max_length=300,
        note="Where the site's page can be opened; makes the square code on the first-run record.",
    )


def _ion(name: str, most: float) -> float | None:
    value: float | None = number(name, "mg/L", 0, most, default=None)
    return value


class IonsMgL(Keys):
    """A water analysis. What is not given is taken as not known (and as none where it can be none)."""

    Ca: float | None = _ion("calcium", 2000)
    Mg: float | None = _ion("magnesium", 1500)
    Na: float | None = _ion("sodium", 10000)
    K: float | None = _ion("potassium", 1000)
    NH4: float | None = _ion("total ammonium", 200)
    Fe: float | None = _ion("total iron", 100)
    Mn: float | None = _ion("total manganese", 50)
    Sr: float | None = _ion("strontium", 100)
    Ba: float | None = _ion("barium", 20)
    HCO3: float | None = _ion("total alkalinity, as HCO3", 3000)
    SO4: float | None = _ion("sulphate", 5000)
    Cl: float | None = _ion("chloride", 15000)
    NO3: float | None = _ion("nitrate", 1000)
    F: float | None = _ion("fluoride", 50)
    PO4: float | None = _ion("total phosphate", 100)
    SiO2: float | None = _ion("silica", 300)
    B: float | None = _ion("total boron", 50)


class TapReadings(Keys):
    """What a person can measure at the tap."""

    meter_ppm: float = number("meter reading", "ppm", 0, 15000, above=True)
    meter_factor: float = number(
        "meter factor", "", 0.3, 1.0, default=0.5, note="Parts per million per µS/cm at 25 °C that the meter shows."
    )
    hardness_mg_l_caco3: float | None = number("total hardness", "mg/L as CaCO3", 0, 3000, default=None)
    alkalinity_mg_l_caco3: float | None = number("total alkalinity", "mg/L as CaCO3", 0, 2500, default=None)


class Season(Keys):
    """The water's temperature through the year: coldest and warmest, twelve monthly values, a table or the air."""

    coldest_c: float | None = number("coldest water temperature", "°C", 0, 45, default=None)
    warmest_c: float | None = number("warmest water temperature", "°C", 0, 45, default=None)
    coldest_day: MonthDay = entry("coldest day", default="02-10", note="Month and day, MM-DD.")
    monthly_c: list[_TemperatureC] | None = entry(
        "monthly water temperatures", default=None, min_length=12, max_length=12, note="January to December, in °C."
    )
    table: Literal["GB mains", "GB header tank"] | None = entry(
        "published table",
        default=None,
        note="Cold water of Great Britain by month, from the mains or from a header tank (SAP 10.2, table J1).",
    )
    air_mean_c: float | None = number(
        "mean temperature of the air",
        "°C",
        -5,
        35,
        default=None,
        note="Mean of the year, for the equation of Burch & Christensen; made for mains water of the United States.",
    )
    air_monthly_spread_c: float | None = number(
        "spread of the air's monthly means", "°C", 0, 60, default=None, note="Warmest month's mean less the coldest's."
    )
    southern: bool = entry("whether the site is south of the equator", default=False, note="Goes with air_mean_c.")


class Change(Keys):
    """Another analysis from a day of the year on."""

    from_day: MonthDay = Field(alias="from", title="first day", description="First day it holds, MM-DD.")
    ions_mg_l: IonsMgL = entry("analysis")
    ph: float | None = number("pH", "", 3, 11, default=None)


class WaterTable(Keys):
    """The tap water: an analysis, what was measured at the tap, or both."""

    temperature_c: float = number("water temperature", "°C", 0, 45, note="Today's water temperature.")
    ph: float | None = number("pH", "", 3, 11, default=None)
    ph_from: Literal["report", "meter", "strip"] = entry(
        "source of the pH", default="report", note="Where the pH comes from; sets how uncertain it is."
    )
    source: Literal["ground", "surface", "mixed"] = entry("source of the water", default="mixed")
    free_chlorine_mg_l: float | None = number("free chlorine", "mg/L", 0, 20, default=None)
    total_chlorine_mg_l: float | None = number(
        "total chlorine", "mg/L", 0, 20, default=None, note="Above the free chlorine the rest is chloramine."
    )
    ions_mg_l: IonsMgL | None = entry("analysis", default=None)
    field: TapReadings | None = entry("field readings", default=None)
    season: Season | None = entry("season", default=None)
    changes: list[Change] = entry("changes of the water through the year", default=[])


class RunningTest(Keys):
    """One running test at the tap."""

    flow_l_min: float = number("flow", "L/min", 0, 2000, above=True)
    pressure_bar: float = number("running pressure", "bar", 0, 25)


class SupplyTable(Keys):
    """The tap's pressure."""

    kind: Literal["mains", "break-tank", "well"] = entry("kind of supply", default="mains")
    standing_bar: float | None = number(
        "standing pressure", "bar", 0, 25, default=None, note="Pressure with the tap shut."
    )
    flowing: list[RunningTest] = entry(
        "running tests", default=[], note="Running tests at the tap: [{ flow_l_min, pressure_bar }, …]."
    )
    by_hour_bar: list[_StandingBar] | None = entry(
        "standing pressure by hour",
        default=None,
        min_length=24,
        max_length=24,
        note="Standing pressure through the day, from midnight.",
    )
    tank_litres: float | None = number(
        "break tank", "L", 1, 100000, default=None, note="What can be drawn from the break tank when it is full."
    )
    refill_l_min: float | None = number("refilling flow of the break tank", "L/min", 0, 2000, above=True, default=None)
    end: EndWords | None = entry(
        "end of the tap",
        default=None,
        note='In words, as "G 3/4 male"; that, or "NH 3/4 male" in US and CA, is taken, and named, unless given.',
    )


def _litres() -> float:
    value: float = number("litres of the day", "L", 0, 100000, default=0.0)
    return value


class LitresPerDay(Keys):
    """Product drawn on each day of the week."""

    mon: float = _litres()
    tue: float = _litres()
    wed: float = _litres()
    thu: float = _litres()
    fri: float = _litres()
    sat: float = _litres()
    sun: float = _litres()


class Job(Keys):
    """One job of a round."""

    litres: float = number("litres of the job", "L", 0, 10000, above=True)
    minutes: float = number("length of the job", "minutes", 0, 1440, above=True)


class Round(Keys):
    """A day's jobs in their order."""

    day: Weekday = entry("day of the week")
    jobs: list[Job] = entry("jobs", min_length=1)


class Hose(Keys):
    """A hose."""

    bore_mm: float = number("bore", "mm", 1, 50)
    length_m: float = number("length", "m", 0, 500, above=True)


class Van(Keys):
    """A van with its tank."""

    name: str = entry("name", min_length=1)
    tank_litres: float = number("van tank", "L", 1, 5000)
    refill_at: Clock = entry("time of refilling", default="07:00", note="HH:MM.")
    refill_l_min: float | None = number("refilling flow", "L/min", 0, 300, above=True, default=None)
    payload_kg: float | None = number("payload", "kg", 1, 10000, default=None, note="What the van may carry.")
    kit_kg: float | None = number(
        "weight of the kit", "kg", 0, 10000, default=None, note="Tank, frame, reel, poles and people."
    )
    hose: Hose | None = entry("hose", default=None)
    pole_m: float | None = number("length of the pole", "m", 0, 40, default=None)
    brush_l_min: float | None = number("flow of the brush", "L/min", 0, 30, above=True, default=None)


class Demand(Keys):
    """The product needed."""

    litres_per_day: LitresPerDay | None = entry("litres by day of the week", default=None)
    draw_from: Clock = entry("start of drawing", default="08:00", note="HH:MM.")
    draw_until: Clock = entry("end of drawing", default="16:00", note="HH:MM.")
    product_limit_ppm: float = number(
        "limit of the delivered water", "ppm", 0, 500, above=True, default=10.0, note="Where the resin is changed."
    )
    meter_factor: float | None = number(
        "meter factor",
        "",
        0.3,
        1.0,
        default=None,
        note="Of the meter that shows the limit; else that of [water.field].",
    )
    fill_from: Clock | None = entry("start of filling", default=None, note="HH:MM; the tap is open only from then.")
    fill_until: Clock | None = entry("end of filling", default=None, note="HH:MM; the tap is open only until then.")
    days_off: list[MonthDay] = entry("days without work", default=[], note="Month and day, MM-DD.")
    weather_off_chance: list[_Share] | None = entry(
        "chance of a day off for weather", default=None, min_length=12, max_length=12, note="January to December."
    )
    spread_pct: float = number(
        "spread of the demand",
        "%",
        0,
        100,
        default=10.0,
        note="How far the year's demand may lie off what is given here, either way, in nine years of ten.",
    )
    brushes: int | None = number("number of brushes", "", 1, 50, default=None)
    brush_l_min: float | None = number(
        "flow of one brush", "L/min", 0, 30, above=True, default=None, note="Direct to the pole, without a tank."
    )
    rounds: list[Round] = entry("rounds", default=[], note="Days as lists of jobs, instead of litres_per_day.")
    vans: list[Van] = entry("vans", default=[])


class PlantTable(Keys):
    """The plant in flow order."""

    arrangement: Literal["parallel", "series"] = entry(
        "arrangement", default="parallel", note="Of elements without a stage: side by side, or drain to next feed."
    )
    recirculation_l_min: float = number(
        "recirculation", "L/min", 0, 200, default=0.0, note="Drain water returned to the pump's inlet."
    )
    feed: list[FeedPart] = entry("feed line", default=[], note="From the tap to the membranes.")
    membranes: list[Membrane] = entry("membranes", default=[], note="One table for each element.")
    drain: list[DrainPart] = entry("drain line", default=[], note="From the membranes to the drain.")
    product: list[ProductPart] = entry("product line", default=[], note="From the membranes to the tank or the pole.")


def _price(what: str) -> float | None:
    value: float | None = number(what, "money", 0, 1e6, default=None)
    return value


class Prices(Keys):
    """What things cost. What is not given is left out of the cost, and said so."""

    currency: Currency | None = entry(
        "currency", default=None, note="Three capital letters, as GBP; else the country's."
    )
    water_per_m3: float | None = _price("price of water, per m³")
    sewerage_per_m3: float | None = _price("price of sewerage, per m³ of drain water")
    energy_per_kwh: float | None = _price("price of power, per kWh")
    resin_per_l: float | None = _price("price of resin, per litre")
    sediment_cartridge: float | None = _price("price of a sediment cartridge")
    carbon_cartridge: float | None = _price("price of a carbon cartridge")
    membrane: float | None = _price("price of a membrane")
    labour_per_hour: float | None = _price("price of labour, per hour")
    visit_hours: float | None = number("time of a visit", "h", 0, 24, default=None)
    years: float = number("life of the plant", "years", 0.5, 50, default=5.0, note="Over which capital is spread.")


class KitItem(Keys):
    """One thing that the supplied boxes hold."""

    what: str = entry("name of the thing", min_length=1, note="What it is called, as in the parts list.")
    size: str | None = entry("size", default=None, min_length=1, note="Its size; any, unless given.")
    quantity: float | None = number(
        "quantity",
        "",
        0,
        1e5,
        above=True,
        default=None,
        note="Pieces, metres of tube or litres of resin; 1 unless given.",
    )


def _integer(version: Any) -> Any:
    """A version is 1, and not what only equals it: true and 1.0."""
    if isinstance(version, bool | float):
        raise ValueError(f"{shown(version)} is not known here; give 1")
    return version


class SiteFile(Keys):
    """A site file. Each command says which of the tables it needs."""

    schema_version: Annotated[Literal[1], BeforeValidator(_integer)] = Field(
        1, alias="schema", title="version of the site file", description="Version of the site file's form."
    )
    site: About = entry("site", default=About())
    water: WaterTable | None = entry("water", default=None)
    supply: SupplyTable | None = entry("supply", default=None)
    demand: Demand | None = entry("demand", default=None)
    plant: PlantTable | None = entry("plant", default=None)
    prices: Prices = entry("prices", default=Prices())
    kit: list[KitItem] | None = entry(
        "supplied kit", default=None, note="What the supplied boxes hold, for the check when they are unpacked."
    )

"""The form of every answer: which keys there are, of which type and unit, whatever the input. Nothing less, no more.

A number is a number or, where it may not be known, null; a banded key is always value, low and high. The reference
page, the JSON Schema and the tests are made from these models. No command loads them: answers are plain dicts.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from rinsewright.sources import Standing

Word = Literal["fine", "look", "stop"]
Ion = Literal[
    "Ca", "Mg", "Na", "K", "NH4", "Fe", "Mn", "Sr", "Ba", "HCO3", "SO4", "Cl", "NO3", "F", "PO4", "SiO2", "B"
]  # fmt: skip
Mineral = Literal[
    "calcite", "aragonite", "gypsum", "barite", "celestite", "fluorite", "silica", "hydroxyapatite"
]  # fmt: skip
Share = Annotated[float, Field(ge=0, le=1)]
Amount = Annotated[float, Field(ge=0)]
Text = Annotated[str, StringConstraints(min_length=1, pattern=r"^\S(.*\S)?$")]
Sentence = Annotated[str, StringConstraints(min_length=5, pattern=r"^[A-ZÄÖÜ0-9].*[.]$")]
Clock = Annotated[str, StringConstraints(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]


def number(what: str, unit: str, note: str, **limits: Any) -> Any:
    """A key with a number: the quantity in words, its unit ("" where it has none) and what it means."""
    return Field(title=what, description=note, json_schema_extra={"unit": unit}, **limits)


def entry(what: str, note: str, **limits: Any) -> Any:
    """A key that is not a number: text, a list or a table."""
    return Field(title=what, description=note, **limits)


class Form(BaseModel):
    """A table of an answer. Other keys, text for numbers, NaN and infinity are refused."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, populate_by_name=True)


class Banded(Form):
    """A value with its band: nine in ten plants, waters and years like this one lie within."""

    value: float | None = entry("value", "The central value; null where it is not known.")
    low: float | None = entry("lower end", "Lower end of the 90 % band; null where there is no band.")
    high: float | None = entry("upper end", "Upper end of the 90 % band; null where there is no band.")

    @model_validator(mode="after")
    def _in_order(self) -> Banded:
        known = [number for number in (self.low, self.value, self.high) if number is not None]
        if known != sorted(known):
            raise ValueError(f"{self.low} ≤ {self.value} ≤ {self.high} does not hold")
        if (self.low is None) != (self.high is None):
            raise ValueError("a band has two ends")
        if self.value is None and self.low is not None:
            raise ValueError("a band without a value")
        return self


class Range(Form):
    """The 90 % band beside a plain number."""

    low: float = entry("lower end", "Lower end of the 90 % band.")
    high: float = entry("upper end", "Upper end of the 90 % band.")


class Stamped(Form):
    """What every answer carries."""

    schema_version: Literal[1] = Field(alias="schema", title="version of the form", description="1.")
    program: Text = entry("version of the program", "Version of rinsewright.")
    phreeqc: Text = entry("version of the chemistry", "Version of PHREEQC, which computes the saturation indices.")
    data: Text = entry("version of the data", "Version of the constants and catalogue values.")


_IONS = "By name, as in the site file; HCO3 is total alkalinity as HCO3."
_SATURATION = "Saturation index by mineral, log₁₀; above 0 supersaturated; null where the water lacks its ions."
_NOTES = "Sentences on what was completed or is uncertain."


def _conductivity(of: str, **limits: Any) -> Any:
    return number("conductivity", "µS/cm", f"Conductivity of the {of} at 25 °C.", **limits)


def _meter(of: str) -> Any:
    return number("meter reading", "ppm", f"What the meter shows in the {of}: conductivity × meter factor.")


def _tds(of: str) -> Any:
    return number("dissolved solids", "mg/L", f"Ions and silica of the {of} by mass; CO₂ is not counted.")


def _residue(of: str) -> Any:
    return number("residue on drying", "mg/L", f"What the {of} leaves on glass; bicarbonate ends as carbonate.")


def _ph(of: str) -> Any:
    return number("pH", "", f"pH of the {of} at its own temperature.")


def _co2(of: str) -> Any:
    return number("carbon dioxide", "mg/L", f"Dissolved CO₂ of the {of}.")


class WaterAnswer(Stamped):
    """What is in the tap water, completed from what was given."""

    ions_mg_l: dict[Ion, Amount] = number("ions", "mg/L", _IONS)
    charge_balance_pct: float | None = number(
        "charge balance",
        "%",
        "100·(cations − anions)/(cations + anions) in equivalents, before closing; null without an analysis.",
    )
    conductivity_us_cm: Amount = _conductivity("tap water")
    meter_ppm: Amount = _meter("tap water")
    hardness_mg_l_caco3: Amount = number("total hardness", "mg/L as CaCO3", "Calcium and magnesium.")
    alkalinity_mg_l_caco3: float = number("total alkalinity", "mg/L as CaCO3", "Negative in an acid water.")
    ph: float = _ph("tap water")
    co2_mg_l: Amount = _co2("tap water")
    tds_mg_l: Amount = _tds("tap water")
    residue_mg_l: Amount = _residue("tap water")
    saturation: dict[Mineral, float | None] = entry("saturation", _SATURATION)
    osmotic_bar: Amount = number("osmotic pressure", "bar", "Osmotic pressure of the tap water.")
    bands: dict[str, Range] = entry(
        "bands", "90 % bands of the numbers above, by key (`ions_mg_l.Ca`); empty where nothing is uncertain."
    )
    notes: list[Sentence] = entry("notes", _NOTES)


class ElementAnswer(Stamped):
    """The two permeances that a rating comes to."""

    water_permeance_l_m2_h_bar: Amount = number("water permeance", "L/(m² h bar)", "At 25 °C.")
    salt_permeance_l_m2_h: Amount = number("salt permeance", "L/(m² h)", "Of sodium chloride at 25 °C.")


class Feed(Form):
    """The tap water as it runs."""

    flow_l_min: Amount = number("tap flow", "L/min", "All that is taken from the tap.")
    membrane_bar: float = number("membrane pressure", "bar", "Gauge pressure at the first membrane's inlet.")
    conductivity_us_cm: Amount = _conductivity("tap water")
    meter_ppm: Amount = _meter("tap water")
    tds_mg_l: Amount = _tds("tap water")
    ph: float = _ph("tap water")
    co2_mg_l: Amount = _co2("tap water")
    ions_mg_l: dict[Ion, Amount] = number("ions", "mg/L", _IONS)


class Product(Form):
    """What leaves the membranes."""

    flow_l_min: Amount = number("product flow", "L/min", "All elements together.")
    back_pressure_bar: float = number("back-pressure", "bar", "Gauge pressure on the product side of the membranes.")
    conductivity_us_cm: Amount = _conductivity("product")
    meter_ppm: Amount = _meter("product")
    tds_mg_l: Amount = _tds("product")
    residue_mg_l: Amount = _residue("product")
    ph: float = _ph("product")
    co2_mg_l: Amount = _co2("product")
    ions_mg_l: dict[Ion, float] = number("ions", "mg/L", _IONS)


class Delivered(Form):
    """What leaves the last part of the product line, with fresh resin."""

    conductivity_us_cm: Annotated[float, Field(ge=0.03)] = _conductivity("delivered water")  # water alone at 0 °C
    meter_ppm: Amount = _meter("delivered water")
    residue_mg_l: Amount = _residue("delivered water")
    ph: float = _ph("delivered water")


class Drain(Form):
    """What goes to drain. Nothing is known of a drain that does not run."""

    flow_l_min: Amount = number("drain flow", "L/min", "0 without membranes.")
    pressure_bar: float | None = number(
        "drain pressure", "bar", "Gauge pressure where the last membrane's channel ends, before the restrictor."
    )
    conductivity_us_cm: Amount | None = _conductivity("drain water")
    tds_mg_l: Amount | None = _tds("drain water")
    ph: float | None = _ph("drain water")
    ions_mg_l: dict[Ion, float] = number("ions", "mg/L", _IONS)
    saturation: dict[Mineral, float | None] = entry("saturation", f"{_SATURATION} In the bulk of the drain water.")


class ElementState(Form):
    """One membrane element."""

    stage: int = number("stage", "", "Elements of one stage stand side by side; its drain feeds the next.")
    feed_l_min: Amount = number("inlet flow", "L/min", "Flow into this element's channel.")
    product_l_min: float = number("product flow", "L/min", "What this element makes.")
    recovery: float = number("recovery", "share", "Product over this element's own inlet.")
    flux_l_m2_h: float = number("flux", "L/(m² h)", "Product over membrane area.")
    wall_to_bulk: Annotated[float, Field(ge=1)] = number(
        "concentration polarisation", "", "Salt at the membrane over salt in the channel, mean along the element."
    )


class State(Form):
    """A steady state, running into an open tank."""

    feed: Feed = entry("tap", "The tap water as it runs.")
    product: Product = entry("product", "What leaves the membranes.")
    delivered: Delivered = entry("delivered water", "What leaves the last part of the product line, with fresh resin.")
    drain: Drain = entry("drain", "What goes to drain.")
    recovery: Share = number("recovery", "share", "Product over tap flow.")
    rejection: float | None = number(
        "rejection", "share", "1 − product over tap by `tds_mg_l`; null for a tap without any salt."
    )
    elements: list[ElementState] = entry("elements", "One table for each membrane element, in flow order.")
    notes: list[Sentence] = entry("notes", _NOTES)


class SolveAnswer(State, Stamped):
    """The steady state now, running into an open tank."""


class Point(State):
    """A steady state at one water temperature, with what an average working day takes."""

    temperature_c: float = number("water temperature", "°C", "Temperature of this state.")
    fill_hours: float | None = number(
        "filling time", "h", "Time to make the water of an average working day; null where no demand is given."
    )
    drain_l_per_product_l: float | None = number("drain over product", "L/L", "Litres to drain for each litre made.")


class Resin(Form):
    """How long the resin lasts."""

    needed: bool = entry("whether it is needed", "False where the water meets the limit before the resin.")
    litres_to_first_slip: Banded = number(
        "volume to first slip", "L", "Water until the reading first rises: carbonic acid slips, which leaves no spots."
    )
    litres_to_limit: Banded = number("volume to the limit", "L", "Water until the reading reaches the product limit.")
    plateau_meter_ppm: Banded = number("plateau", "ppm", "Meter reading between first slip and the last climb.")
    co2_share: Banded = number("share of CO₂", "share", "Of the anion load until first slip.")
    limited_by: Literal["anion", "cation", "carbonic acid", "not needed"] = entry(
        "what ends it", "What brings the reading to the limit first."
    )
    days_to_limit: Banded = number("time to the limit", "days", "At the demand of the site file, all days counted.")


class Cartridge(Form):
    """How long a filter cartridge lasts."""

    media: Literal["sediment", "carbon"] = entry("filter medium", "`sediment` or `carbon`.")
    days: float | None = number("life", "days", "Time until it is due.")
    limited_by: Literal["volume", "drop", "months", "chlorine"] | None = entry(
        "what ends it", "Throughput, pressure drop, age or chlorine; null where nothing does."
    )
    days_low: float | None = number("life, lower end", "days", "Lower end of its band: dirty water.")
    days_high: float | None = number("life, upper end", "days", "Upper end of its band: clean water.")


class Membranes(Form):
    """How long the membranes last."""

    years: float | None = number("life", "years", "Time until flow, salt or chlorine ends them.")
    limited_by: Literal["flow", "salt passage", "chlorine"] | None = entry(
        "what ends them", "Loss of flow, growth of salt passage, or chlorine."
    )
    chlorine_mg_h_l_per_year: float | None = number(
        "exposure to free chlorine", "mg·h/L a year", "Concentration × time of free chlorine that reaches them."
    )
    chloramine_mg_h_l_per_year: float | None = number(
        "exposure to chloramine", "mg·h/L a year", "Concentration × time of chloramine that reaches them."
    )
    years_low: float | None = number("life, lower end", "years", "Lower end of its band.")
    years_high: float | None = number("life, upper end", "years", "Upper end of its band.")


class Year(Form):
    """One calendar year of the plant at this demand: 1 January is a Monday, day 365 belongs to week 52."""

    product_m3: Banded = number("product", "m³", "Water made in the year.")
    drain_m3: Banded = number("drain water", "m³", "Water sent to drain in the year, flushes counted.")
    starts: Banded = number("starts", "", "How often the plant starts.")
    short_days: Banded = number("short days", "days", "Days on which less came than was wanted.")
    short_litres: Banded = number("shortfall", "L", "Water that was wanted and did not come.")
    overflow_litres: Banded = number("overflow", "L", "Water lost over the brim of a tank without a float valve.")
    frost_days: Banded = number("frost days", "days", "Days on which frost kept the tap shut.")
    resin_changes: Banded = number("resin changes", "", "How often the resin is changed.")
    cartridge_changes: Banded = number("cartridge changes", "", "How many cartridges are changed.")
    membrane_changes: Banded = number("membrane changes", "", "How often the membranes are changed, all at once.")
    energy_kwh: Banded = number("energy", "kWh", "Electricity of booster and delivery pump.")
    cost: Banded = number("cost", "money", "Of all that has a price; null where nothing has.")
    cost_per_m3: Banded = number("cost of a cubic metre", "money/m³", "Cost over water delivered.")
    worst_meter_ppm: Banded = number("worst reading", "ppm", "Highest meter reading delivered in the year.")
    days_over_limit: Banded = number("days over the limit", "days", "Days with some water above the product limit.")
    dry_chance_by_week: Annotated[list[Share], Field(min_length=52, max_length=52)] = number(
        "chance of a short day", "share", "For each of 52 weeks."
    )
    latest_fill_start: Annotated[list[Clock | None], Field(min_length=12, max_length=12)] = entry(
        "latest start of filling",
        "For each month, the time by which the tap must open on its worst day for a full tank at the next draw, HH:MM; "
        "without filling hours as if it were shut while water is drawn; null where nothing is drawn, there is no tank, "
        "or no start is early enough.",
    )
    notes: list[Sentence] = entry("notes", _NOTES)


class Verdict(Form):
    """One thing looked at."""

    what: Text = entry("subject", "What was looked at.")
    verdict: Word = entry("verdict", "`fine`, `look` (worth a look) or `stop` (mend this first).")
    why: Sentence = entry("reason", "The numbers behind the word.")
    do: Sentence = entry("advice", "What to do next.")


class Assumption(Form):
    """Something the plan rests on that nobody measured at this site."""

    what: Text = entry("subject", "What is assumed; the key, where it is one left to its default.")
    value: Text = entry("value", "What is taken.")
    origin: Text = entry("origin", "Where the value comes from.")


class ResinAlone(Form):
    """The same year's water with resin and no membranes, at the same prices; costs of running, of what has a price."""

    cost_per_year: Amount | None = number("cost with resin alone", "money", "Null where resin has no price.")
    plant_cost_per_year: Amount | None = number("cost of the plant", "money", "As planned, without its capital.")
    resin_litres_per_year: Amount = number("resin used up", "L", "In a year.")
    changes_per_year: Amount = number("changes of the resin", "a year", "How often the resin is changed.")
    break_even_days: Amount | None = number(
        "days to break even",
        "days",
        "Until the membranes and what belongs to them have paid for themselves, of what has a price; null where the "
        "membranes have none or they never do.",
    )
    currency: str = entry("currency", "Of the prices; empty where none is given.")


class Sensitivity(Form):
    """What one uncertain input does alone, everything else in the middle."""

    what: Text = entry("input", "What is uncertain.")
    target: Literal["winter product, L/min", "summer reading, ppm", "resin to its limit, L", "cost of a year"] = entry(
        "target", "What it moves, with its unit; costs in the site's currency."
    )
    low_text: Text = entry("low end of the input", "In words.")
    low: Amount | None = entry(
        "the target there", "Null where the plant has no working state there or the resin is not needed."
    )
    central: Amount = entry("the target as planned", "The same number as elsewhere in the answer.")
    high_text: Text = entry("high end of the input", "In words.")
    high: Amount | None = entry(
        "the target there", "Null where the plant has no working state there or the resin is not needed."
    )


class Source(Form):
    """Where an equation comes from."""

    what: Text = entry("subject", "What the equation is for.")
    citation: Text = entry("citation", "Where it was published.")
    standing: Standing = entry("standing", "How far the source was checked.")


class PlanAnswer(Stamped):
    """The plan: three steady states, what wears, a year, the cost and what to look at.

    Null where a day has no working state, or where there is no resin or no membrane.
    """

    today: Point = entry("today", "With today's water.")
    coldest: Point | None = entry("coldest day", "With the coldest water of the season.")
    warmest: Point | None = entry("warmest day", "With the warmest water of the season.")
    resin: Resin | None = entry("resin", "How long the resin lasts.")
    cartridges: list[Cartridge] = entry("cartridges", "One table for each cartridge, in flow order.")
    membranes: Membranes | None = entry("membranes", "How long the membranes last.")
    year: Year = entry("year", "The year, as the command `year` gives it.")
    cost_split: dict[str, Amount] = number("split of the cost", "money", "By name, for one year, of what has a price.")
    verdicts: list[Verdict] = entry("verdicts", "Worst first; each subject once.")
    cautions: list[Sentence] = entry("cautions", "What can hurt, as it applies to this plant.")
    assumptions: list[Assumption] = entry("assumptions", "What moves the answer most comes first.")
    resin_alone: ResinAlone | None = entry(
        "resin alone", "The same water without membranes; null where there are none, or no resin to compare with."
    )
    sensitivities: list[Sensitivity] = entry(
        "what moves the answer", "By target, what moves it most first; nothing below a hundredth of it."
    )
    sources: list[Source] = entry("sources", "Of the equations that this plan used.")


class YearAnswer(Year, Stamped):
    """The year by itself."""

    seed: int | None = entry("seed", "Seed of the chance that was drawn; null without chance.", default=None)


class ListedPart(Form):
    """One row of the parts list."""

    key: Text = entry("key", "The article's own: the same wherever in the plant it stands.")
    what: Text = entry("part", "What it is.")
    size: str = entry("size", "Empty where it has none.")
    quantity: Amount = entry("quantity", "What the plant needs; of an extra, what the kit holds.")
    unit: Literal["piece", "m", "L", "set"] = entry("unit", "Of the quantity.")
    kind: Literal["part", "housing", "connection", "tube", "consumable", "forgotten", "tool", "extra"] = entry(
        "kind", "`forgotten`: what a layout needs and people forget; `extra`: in the kit and not needed."
    )
    why: str = entry("reason", "What for.")
    needed: bool = entry("whether it is needed", "False for an extra of the kit.")
    in_kit: bool | None = entry("whether the kit holds it all", "Null where no kit is described.")
    kit_quantity: Amount | None = entry("in the kit", "Null where no kit is described.")
    missing: Amount = entry("missing", "What is still to be bought.")
    price: Amount | None = number("price", "money", "Of one, or of one metre or litre.")
    lead_days: Amount | None = number("lead time", "days", "From ordering to having it.")
    origin: Literal["site file", "derived", "assumed"] = entry("origin", "Where the row comes from.")
    serves: list[Text] = entry("serves", "Keys of the parts of the plant that it belongs to.")


class ListedJoint(Form):
    """Two ends that meet on the water's way."""

    from_end: Text = Field(alias="from", title="one end", description="Kind, size and side.")
    to: Text = entry("the other end", "Kind, size and side.")
    fits: bool = entry("whether they fit", "Without anything between them.")
    adapter: str | None = entry("adapter", "The one part that joins them; null where they fit or there is none.")
    why: Sentence = entry("reason", "Why they fit or do not.")
    line: Literal["feed", "membranes", "drain", "product"] = entry("line", "Where.")
    between: list[Text] = entry("between", "Keys of the two parts.", min_length=2, max_length=2)


class StepFitting(Form):
    """What goes between ends that do not fit each other, at one step."""

    adapter: Text = entry("adapter", "What it is.")
    count: int = number("count", "", "How many of it.")


class BuildStep(Form):
    """One step, in the order of the work."""

    title: Text = entry("title", "The step in a few words.")
    why: str = entry("reason", "Why.")
    do: Text = entry("advice", "What to do.")
    check: str = entry("check", "How to see that it is right.")
    caution: str = entry("caution", "Where it can hurt; else empty.")
    stage: Literal["prepare", "tap", "feed", "membranes", "drain", "product", "power", "rinse", "finish"] = entry(
        "stage", "Where in the work."
    )
    drawing: Text = entry("drawing", "Name of the drawing of the place.")
    parts: list[Text] = entry("parts", "Keys of the parts of the plant that it is about.")
    items: list[Text] = entry("rows", "Keys of the parts list that it uses.")
    quantities: list[Amount] = entry("quantities", "How much of each of these; of tube the length that is laid.")
    fittings: list[StepFitting] = entry("fittings", "What goes between ends that do not fit each other here.")


class Van(Form):
    """A van with its tank full."""

    name: Text = entry("name", "Its name.")
    tank_kg: Amount = number("water", "kg", "In its full tank.")
    kit_kg: Amount | None = number("kit", "kg", "Tank, frame, reel, poles and people, as given.")
    payload_kg: Amount | None = number("payload", "kg", "As given.")
    load_kg: Amount | None = number("load", "kg", "Water and kit.")
    left_kg: float | None = number("left", "kg", "Payload less load; negative where it is overloaded.")
    verdict: Word = entry("verdict", "`fine`, `look` or `stop`.")
    why: Sentence = entry("reason", "The numbers behind the word.")
    do: Sentence = entry("advice", "What to do next.")


class Tool(Form):
    """One tool."""

    what: Text = entry("tool", "What it is.")
    size: str = entry("size", "Empty where it has none.")
    why: str = entry("reason", "What for.")


class PieceOfTube(Form):
    """Pieces of tube of one length."""

    line: Text = entry("line", "Where.")
    size: Text = entry("size", "Outside diameter, or bore of a hose.")
    length_m: Amount = number("length", "m", "Of one piece.")
    count: int = number("pieces", "", "How many.")
    where: Text = entry("place", "In words.")
    assumed: bool = entry("whether the length is assumed", "True where the site file gives none.")


class Missing(Form):
    """Something still to be bought."""

    what: Text = entry("part", "What it is.")
    size: str = entry("size", "Empty where it has none.")
    missing: Amount = entry("missing", "How much.")
    unit: Text = entry("unit", "Of the quantity.")
    price: Amount | None = number("price", "money", "Of one, or of one metre or litre.")
    lead_days: Amount | None = number("lead time", "days", "From ordering to having it.")


class BuildAnswer(Stamped):
    """What it takes to build the plant, and in which order."""

    parts: list[ListedPart] = entry("parts", "Each once, with what belongs to it.")
    joints: list[ListedJoint] = entry("joints", "Along the water's way.")
    steps: list[BuildStep] = entry("steps", "In the order of the work.")
    weight_dry_kg: Amount = number("weight, dry", "kg", "Of the whole plant.")
    weight_full_kg: Amount = number("weight, full", "kg", "With its water.")
    vans: list[Van] = entry("vans", "Each with its tank full.")
    tools: list[Tool] = entry("tools", "What to have at hand.")
    cuts: list[PieceOfTube] = entry("cuts", "Pieces of tube.")
    order: list[Missing] = entry("order", "What is still to be bought.")
    cautions: list[Text] = entry("cautions", "Those of the steps.")
    notes: list[Text] = entry("notes", "What was taken for want of better.")


class ExpectedReadings(Form):
    """What each line of the record should read; no value where the plant has no such line."""

    tap_meter_ppm: Banded = number("tap", "ppm", "Meter at the tap.")
    product_meter_ppm: Banded = number("product", "ppm", "Meter behind the membranes.")
    after_resin_meter_ppm: Banded = number("after the resin", "ppm", "Meter behind fresh resin.")
    product_l_min: Banded = number("product flow", "L/min", "By bucket and watch.")
    drain_l_min: Banded = number("drain flow", "L/min", "By bucket and watch.")
    membrane_bar: Banded = number("membrane pressure", "bar", "Gauge at the first membrane.")
    shutoff_closes_bar: Banded = number("closing pressure", "bar", "Product pressure at which the drain stops.")
    reopens_bar: Banded = number("reopening pressure", "bar", "Product pressure at which the plant starts again.")


class Today(Form):
    """The day of the first run."""

    temperature_c: float = number("water temperature", "°C", "Of the water that day.")
    running_bar: float | None = number("running pressure", "bar", "At the tap, where it was read while the plant ran.")
    running_l_min: float | None = number("flow", "L/min", "At which that was read; null: the plant's own.")


class ReadLine(Form):
    """One line that was measured."""

    what: Literal[
        "tap_meter_ppm", "product_meter_ppm", "after_resin_meter_ppm", "product_l_min", "drain_l_min", "membrane_bar",
        "shutoff_closes_bar", "reopens_bar",
    ] = entry("line", "The key of the reading.")  # fmt: skip
    measured: float | None = entry("reading", "In the key's unit; null for a shut-off that never stopped the drain.")
    expected: Banded = entry("expected", "Given the lines that come before it on the way from cause to effect.")
    verdict: Word = entry("verdict", "`fine`, `look` or `stop`.")
    why: Sentence = entry("reason", "What it means, and the likely reason where it is off.")
    do: Sentence = entry("advice", "What to do next.")


class Settling(Form):
    """How far the plant may be from settled after some hours."""

    hours: Amount = number("hours", "h", "After the first start.")
    flow_share: list[float] = number("flow", "share", "Low and high, of the settled flow.", min_length=2, max_length=2)
    reading_share: list[float] = number(
        "reading", "share", "Low and high, of the settled reading.", min_length=2, max_length=2
    )
    why: Sentence = entry("reason", "What is going on.")


class Rinse(Form):
    """Rinsing preservative to the drain before the first readings."""

    minutes: Amount = entry("time", "In minutes, or longer.")
    litres: Amount = number("water", "L", "To the drain, in that time.")
    product_litres: Amount = number("product", "L", "Of it, product.")
    drain_litres: Amount = number("drain water", "L", "Of it, drain water.")
    bypass: list[Literal["resin", "tank"]] = entry("by-passed", "What must not get this water.")
    why: Sentence = entry("reason", "Why.")
    do: Sentence = entry("advice", "What to do.")
    settling: list[Settling] = entry("settling", "The first 24 hours.")
    origin: Text = entry("origin", "Where the values come from.")


class FirstRunAnswer(Stamped):
    """What the plant should read on its first run today, and what was measured."""

    seed: int | None = entry("seed", "Seed of the members that make the bands.", default=None)
    site: Text = entry("site", "Its name.")
    conditions: Today = entry("conditions", "The day.")
    expected: ExpectedReadings = entry("expected", "Narrowed by all other lines that were measured.")
    before: ExpectedReadings = entry("expected before", "The same before anything was measured.")
    lines: list[ReadLine] = entry("lines", "One for each reading given; empty without readings.")
    verdict: Word | None = entry("verdict", "Of the sheet; null without readings.")
    why: str = entry("reason", "The reason behind it; empty without readings.")
    do: str = entry("advice", "What to do next; empty without readings.")
    rinse: Rinse | None = entry("rinse", "Null without membranes.")
    plant_after: dict[Literal["water_permeance", "salt_passage", "restrictor_flow"], Banded] = entry(
        "the plant", "Over what is stated, as far as the readings tell."
    )
    cannot_tell: list[Sentence] = entry("not told apart", "What these readings leave open.")


class CataloguePart(Form):
    """One part of the catalogue."""

    name: Text = entry("name", "What a site file calls it.")
    values: dict[str, Any] = entry("values", "Keys and values, as in the site file.")
    origin: dict[str, Text] = entry("origins", "Where each value comes from, by key.")
    own: bool = entry("whether it is your own", "True for a part of your own folder.")


class CatalogueAnswer(Stamped):
    """The parts a site file can name."""

    parts: dict[str, list[CataloguePart]] = entry("parts", "By kind, as `elements` or `tubes`.")


ANSWERS: dict[str, type[Form]] = {
    "water": WaterAnswer,
    "element": ElementAnswer,
    "solve": SolveAnswer,
    "plan": PlanAnswer,
    "year": YearAnswer,
    "build": BuildAnswer,
    "firstrun": FirstRunAnswer,
    "catalogue": CatalogueAnswer,
}
"""The form of each command's answer."""

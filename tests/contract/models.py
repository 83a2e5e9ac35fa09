"""The form of every answer: which keys there are, of which type, whatever the input. Nothing less and nothing more.

A number is a number or, where the contract allows "not known", null; a banded key is always value, low and high.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

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


class Form(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, populate_by_name=True)


class Banded(Form):
    value: float | None
    low: float | None
    high: float | None

    @model_validator(mode="after")
    def in_order(self) -> Banded:
        known = [number for number in (self.low, self.value, self.high) if number is not None]
        if known != sorted(known):
            raise ValueError(f"{self.low} ≤ {self.value} ≤ {self.high} does not hold")
        if (self.low is None) != (self.high is None):
            raise ValueError("a band has two ends")
        if self.value is None and self.low is not None:
            raise ValueError("a band without a value")
        return self


class Range(Form):
    low: float
    high: float


class Stamped(Form):
    schema_version: Literal[1] = Field(alias="schema")
    program: Text
    phreeqc: Text
    data: Text


class WaterAnswer(Stamped):
    ions_mg_l: dict[Ion, Amount]
    charge_balance_pct: float | None
    conductivity_us_cm: Amount
    meter_ppm: Amount
    hardness_mg_l_caco3: Amount
    alkalinity_mg_l_caco3: float
    ph: float
    co2_mg_l: Amount
    tds_mg_l: Amount
    residue_mg_l: Amount
    saturation: dict[Mineral, float | None]
    osmotic_bar: Amount
    bands: dict[str, Range]
    notes: list[Sentence]


class ElementAnswer(Stamped):
    water_permeance_l_m2_h_bar: Amount
    salt_permeance_l_m2_h: Amount


class Feed(Form):
    flow_l_min: Amount
    membrane_bar: float
    conductivity_us_cm: Amount
    meter_ppm: Amount
    tds_mg_l: Amount
    ph: float
    co2_mg_l: Amount
    ions_mg_l: dict[Ion, Amount]


class Product(Form):
    flow_l_min: Amount
    back_pressure_bar: float
    conductivity_us_cm: Amount
    meter_ppm: Amount
    tds_mg_l: Amount
    residue_mg_l: Amount
    ph: float
    co2_mg_l: Amount
    ions_mg_l: dict[Ion, float]


class Delivered(Form):
    conductivity_us_cm: Annotated[float, Field(ge=0.03)]  # water itself at 0 °C and above
    meter_ppm: Amount
    residue_mg_l: Amount
    ph: float


class Drain(Form):
    """Nothing is known of a drain that does not run."""

    flow_l_min: Amount
    pressure_bar: float | None
    conductivity_us_cm: Amount | None
    tds_mg_l: Amount | None
    ph: float | None
    ions_mg_l: dict[Ion, float]
    saturation: dict[Mineral, float | None]


class ElementState(Form):
    stage: int
    feed_l_min: Amount
    product_l_min: float
    recovery: float
    flux_l_m2_h: float
    wall_to_bulk: Annotated[float, Field(ge=1)]


class State(Form):
    feed: Feed
    product: Product
    delivered: Delivered
    drain: Drain
    recovery: Share
    rejection: float
    elements: list[ElementState]
    notes: list[Sentence]


class SolveAnswer(State, Stamped):
    pass


class Point(State):
    temperature_c: float
    fill_hours: float | None
    drain_l_per_product_l: float | None


class Resin(Form):
    needed: bool
    litres_to_first_slip: Banded
    litres_to_limit: Banded
    plateau_meter_ppm: Banded
    co2_share: Banded
    limited_by: str
    days_to_limit: Banded


class Cartridge(Form):
    media: Literal["sediment", "carbon"]
    days: float | None
    limited_by: str | None
    days_low: float | None
    days_high: float | None


class Membranes(Form):
    years: float | None
    limited_by: str | None
    chlorine_mg_h_l_per_year: float | None
    chloramine_mg_h_l_per_year: float | None
    years_low: float | None
    years_high: float | None


class Year(Form):
    product_m3: Banded
    drain_m3: Banded
    starts: Banded
    short_days: Banded
    short_litres: Banded
    resin_changes: Banded
    cartridge_changes: Banded
    energy_kwh: Banded
    cost: Banded
    cost_per_m3: Banded
    worst_meter_ppm: Banded
    days_over_limit: Banded
    dry_chance_by_week: Annotated[list[Share], Field(min_length=52, max_length=52)]
    latest_fill_start: Annotated[list[Clock | None], Field(min_length=12, max_length=12)]
    notes: list[Sentence]


class Verdict(Form):
    what: Text
    verdict: Word
    why: Sentence
    do: Sentence


class Assumption(Form):
    what: Text
    value: Text
    origin: Text


class PlanAnswer(Stamped):
    """Null where a day has no working state, or where there is no resin or no membrane."""

    today: Point
    coldest: Point | None
    warmest: Point | None
    resin: Resin | None
    cartridges: list[Cartridge]
    membranes: Membranes | None
    year: Year
    cost_split: dict[str, Amount]
    verdicts: list[Verdict]
    cautions: list[Sentence]
    assumptions: list[Assumption]


class YearAnswer(Year, Stamped):
    seed: int | None = None


ANSWERS: dict[str, type[Stamped]] = {
    "water": WaterAnswer,
    "element": ElementAnswer,
    "solve": SolveAnswer,
    "plan": PlanAnswer,
    "year": YearAnswer,
}

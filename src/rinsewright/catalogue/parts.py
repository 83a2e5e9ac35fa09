"""The keys of every part, as they stand in a site file and in the catalogue.

A catalogue entry has the keys of its part; a site file names the entry and may override any of them.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from rinsewright.catalogue.fields import Date, Keys, MonthDay, entry, number
from rinsewright.errors import InputError
from rinsewright.plant.joints import End
from rinsewright.plant.membrane.ageing import FLUX_LOSS_ALLOWED, SALT_PASSAGE_ALLOWED


def _end(text: str) -> str:
    try:
        End.parse(text)
    except InputError as error:
        raise ValueError(f'{error.problems[0].message}; give words such as "push-fit 12 mm" or "G 1/2 male"') from None
    return text


def _outside(text: str) -> str:
    try:
        End("tube", text, "male")
    except InputError as error:
        raise ValueError(error.problems[0].message) from None
    return text


EndWords = Annotated[str, AfterValidator(_end)]
"""An end of a part in words, as "push-fit 12 mm", "G 1/2 male", "tail 13 mm"."""


def _change_on() -> list[MonthDay]:
    value: list[MonthDay] = entry(
        "days of changing", default=[], note="Days of the year on which it is changed in any case, MM-DD."
    )
    return value


class Stocked(Keys):
    """What any part may say of its rating, price and delivery."""

    rated_bar: float | None = number(
        "rated pressure", "bar", 0.1, 100, default=None, note="Highest gauge pressure the part may see."
    )
    price: float | None = number(
        "price", "money", 0, 1e6, default=None, note="Price of one, in the currency of [prices]."
    )
    lead_days: float | None = number("lead time", "days", 0, 365, default=None, note="Days from ordering to having it.")
    ends: list[EndWords] | None = entry(
        "ends",
        default=None,
        note='In words, in flow order: ["push-fit 12 mm", "G 1/2 male"]; a membrane\'s are its housing\'s feed, drain '
        "and product. The usual ones are taken, and named, unless given.",
    )


class Sized(Stocked):
    """A part that the catalogue knows in sizes."""

    size: str | None = entry(
        "catalogue name", default=None, note="A name from the catalogue, whose values hold unless given here."
    )


# ---- any line ----


class Tube(Sized):
    """A tube with its fittings."""

    part: Literal["tube"] = entry("kind of part")
    bore_mm: float | None = number("bore", "mm", 1, 100, needed=True, note="Inside diameter.")
    length_m: float | None = number("length", "m", 0, 1000, above=True, needed=True)
    fittings_k: float = number(
        "sum of loss coefficients",
        "",
        0,
        1000,
        default=0.0,
        note="Sum of the fittings' loss coefficients on the tube's own velocity; an elbow is about 1 to 2.",
    )
    roughness_mm: float = number(
        "roughness", "mm", 0, 1, default=0.0015, note="Roughness of the wall; drawn plastic is about 0.0015."
    )
    outside: Annotated[str, AfterValidator(_outside)] | None = entry(
        "outside diameter",
        default=None,
        note='With its unit, as "12 mm" or "3/8 in"; the usual one for its bore is taken, and named, unless given.',
    )
    hose: bool = entry(
        "whether it is a hose", default=False, note="A hose goes over tails and is called by its bore, not its outside."
    )


class Check(Stocked):
    """A check valve."""

    part: Literal["check"] = entry("kind of part")
    crack_bar: float = number("opening pressure", "bar", 0, 2, default=0.0, note="Pressure lost over the open valve.")


# ---- feed ----


class Cartridge(Sized):
    """A filter cartridge in its housing."""

    part: Literal["cartridge"] = entry("kind of part")
    media: Literal["sediment", "carbon"] | None = entry("filter medium", needed=True)
    clean_drop_bar: float = number(
        "clean pressure drop", "bar", 0, 5, default=0.12, note="Loss when new, at `at_l_min` and 20 °C."
    )
    at_l_min: float = number(
        "flow of the stated drop", "L/min", 0, 200, above=True, default=8.0, note="Flow at which the drop is stated."
    )
    change_after_m3: float | None = number(
        "throughput", "m³", 0, 1e4, above=True, default=None, note="Water after which it is changed."
    )
    change_at_drop_bar: float | None = number(
        "pressure drop", "bar", 0, 5, above=True, default=None, note="Pressure drop at which it is changed."
    )
    change_after_months: float | None = number(
        "age", "months", 0, 60, above=True, default=None, note="Months after which it is changed in any case."
    )
    change_on: list[MonthDay] = _change_on()
    dirt_m3_to_double: float | None = number(
        "throughput", "m³", 0, 1e4, above=True, default=None, note="Water that doubles its pressure drop."
    )
    chlorine_capacity_g: float | None = number(
        "chlorine capacity", "g", 0, 1e4, above=True, default=None, note="Free chlorine it removes in its life."
    )


class CurvePoint(Keys):
    """A point of a pump's curve."""

    flow_l_min: float = number("flow", "L/min", 0, 500)
    bar: float = number("added pressure", "bar", 0, 80)


class Pump(Sized):
    """A booster pump."""

    part: Literal["pump"] = entry("kind of part")
    curve: list[CurvePoint] | None = entry(
        "pump curve", needed=True, min_length=1, note="Added pressure at rising flows: [{ flow_l_min, bar }, …]."
    )
    power_w: float | None = number("electrical power", "W", 0, 2e4, default=None)
    cut_in_bar: float | None = number(
        "cut-in pressure", "bar", 0, 80, default=None, note="Pressure behind the pump below which it starts."
    )
    cut_out_bar: float | None = number(
        "cut-out pressure", "bar", 0, 80, default=None, note="Pressure behind the pump above which it stops."
    )
    min_inlet_bar: float | None = number(
        "lowest inlet pressure", "bar", 0, 25, default=None, note="Inlet pressure below which it is switched off."
    )


class Softener(Stocked):
    """An ion-exchange softener."""

    part: Literal["softener"] = entry("kind of part")
    clean_drop_bar: float = number("pressure drop", "bar", 0, 5, default=0.2, note="Loss at `at_l_min` and 20 °C.")
    at_l_min: float = number("flow of the stated drop", "L/min", 0, 200, above=True, default=10.0)
    hardness_leak_share: float = number(
        "hardness leakage", "share", 0, 0.5, default=0.01, note="Share of the hardness that passes."
    )


class Inhibitor(Stocked):
    """Scale inhibitor dosed into the feed."""

    part: Literal["inhibitor"] = entry("kind of part")
    calcite_si_credit: float = number(
        "credit on the calcite index", "", 0, 2.5, default=1.0, note="How much higher a calcite index it tolerates."
    )


class Solenoid(Stocked):
    """An electric valve."""

    part: Literal["solenoid"] = entry("kind of part")
    drop_bar: float = number("pressure drop", "bar", 0, 5, default=0.1, note="Loss when open, at `at_l_min`.")
    at_l_min: float = number("flow of the stated drop", "L/min", 0, 200, above=True, default=10.0)


# ---- membranes and drain ----


class Rated(Keys):
    """An element's rating: sodium chloride in water, product side open."""

    product_l_h: float = number("product flow", "L/h", 0, 5000, above=True)
    rejection_pct: float = number("rejection", "%", 50, 99.95)
    pressure_bar: float = number("test pressure", "bar", 0.5, 80)
    nacl_mg_l: float = number("salt content", "mg/L", 10, 50000)
    temperature_c: float = number("test temperature", "°C", 1, 45, default=25.0)
    recovery_pct: float = number("test recovery", "%", 0, 80, above=True, default=15.0)


class Membrane(Stocked):
    """A membrane element. Needs `rated` or both permeances, or a catalogue `part` that has them."""

    part: str | None = entry(
        "catalogue name", default=None, note="An element of the catalogue, whose values hold unless given here."
    )
    nominal: str = entry("nominal size", default="", note="Nominal size, as 4040 (4 in × 40 in).")
    area_m2: float | None = number("membrane area", "m²", 0.05, 50, needed=True)
    length_m: float | None = number("length of the leaves", "m", 0.1, 2, needed=True)
    channel_mm: float = number(
        "height of the feed channel", "mm", 0.2, 2, default=0.71, note="Thickness of the feed spacer."
    )
    porosity: float = number("porosity of the feed spacer", "share", 0.5, 1, default=0.89)
    rated: Rated | None = entry("rating", default=None, note="The data sheet's test point.")
    water_permeance_l_m2_h_bar: float | None = number(
        "water permeance", "L/(m² h bar)", 0.1, 50, default=None, note="Water permeance at 25 °C."
    )
    salt_permeance_l_m2_h: float | None = number(
        "salt permeance", "L/(m² h)", 0.001, 50, default=None, note="Permeance of sodium chloride at 25 °C."
    )
    water_activation_k: float = number("activation temperature of the water permeance", "K", 0, 8000, default=2700.0)
    salt_activation_k: float = number("activation temperature of the salt permeance", "K", 0, 8000, default=3500.0)
    stage: int | None = number(
        "stage", "", 1, 6, default=None, note="Elements of one stage stand side by side; the drain feeds the next."
    )
    max_bar: float | None = number("highest feed pressure of the element", "bar", 0.1, 100, default=None)
    max_c: float | None = number("highest water temperature of the element", "°C", 10, 90, default=None)
    max_recovery: float | None = number("highest recovery of one element", "share", 0, 1, above=True, default=None)
    installed: Date | None = entry("date", default=None, note='When it was fitted, "YYYY-MM-DD".')
    tolerance_pct: float = number(
        "tolerance", "%", 0, 50, default=15.0, note="How far the flow of one element may be from its rating."
    )
    change_at_flow_loss_pct: float = number(
        "loss of flow",
        "%",
        1,
        90,
        default=100.0 * FLUX_LOSS_ALLOWED.value,
        note="Share of its flow when new that is lost when it is changed, at like pressure and temperature.",
    )
    change_at_passage_times: float = number(
        "growth of salt passage",
        "",
        1,
        20,
        above=True,
        default=SALT_PASSAGE_ALLOWED.value,
        note="Times its salt passage when new at which it is changed.",
    )
    change_after_years: float | None = number(
        "age", "years", 0, 30, above=True, default=None, note="Years after which it is changed in any case."
    )


class Restrictor(Sized):
    """What holds pressure on the membranes: an orifice, a capillary, a valve or a flow-control rubber."""

    part: Literal["restrictor"] = entry("kind of part")
    flow_l_min: float | None = number("flow", "L/min", 0, 100, above=True, needed=True)
    at_bar: float | None = number(
        "pressure of the stated flow",
        "bar",
        0,
        80,
        above=True,
        needed=True,
        note="Pressure at which the flow is stated.",
    )
    exponent: float = number(
        "exponent", "", 0, 1, default=0.5, note="0.5 an orifice or valve, 1 a capillary, 0 a flow-control rubber."
    )


class Flush(Stocked):
    """A flush of the drain side at every stop."""

    part: Literal["flush"] = entry("kind of part")
    litres: float = number("water of one flush", "L", 0, 500, default=0.0)


# ---- product ----


class ShutOff(Stocked):
    """The automatic shut-off valve: product pressure shuts the feed."""

    part: Literal["shutoff"] = entry("kind of part")
    closes_at_ratio: float = number(
        "closing ratio", "share", 0.1, 1, default=0.66, note="Product over feed pressure at which it closes."
    )
    reopens_at_ratio: float = number(
        "reopening ratio", "share", 0.05, 1, default=0.45, note="Product over feed pressure at which it opens again."
    )


class Lift(Stocked):
    """A height the product is pushed up."""

    part: Literal["lift"] = entry("kind of part")
    height_m: float = number("height", "m", -50, 100, note="Height the product rises; negative downhill.")


class Capacity(Keys):
    """Total capacity of a mixed bed, per litre of bed."""

    cation: float = number("cation capacity", "eq/L", 0, 3, above=True)
    anion: float = number("anion capacity", "eq/L", 0, 3, above=True)

    @model_validator(mode="before")
    @classmethod
    def _pair(cls, given: object) -> object:
        """``[cation, anion]`` is taken too."""
        return {"cation": given[0], "anion": given[1]} if isinstance(given, list) and len(given) == 2 else given


class Resin(Sized):
    """One vessel of mixed-bed resin, or two as lead and lag."""

    part: Literal["resin"] = entry("kind of part")
    litres: float | None = number("resin in one vessel", "L", 0.1, 1000, needed=True)
    capacity_eq_per_l: Capacity | None = entry(
        "capacity", default=None, note="Total capacity of the bed: { cation, anion } or [cation, anion]."
    )
    usable_share: float = number(
        "usable share", "share", 0.05, 1, default=0.6, note="Share of the total capacity a small vessel can use."
    )
    drop_bar: float = number(
        "pressure drop", "bar", 0, 5, default=0.1, note="Loss of one vessel, at `at_l_min` and 20 °C."
    )
    at_l_min: float = number("flow of the stated drop", "L/min", 0, 200, above=True, default=8.0)
    vessels: int = number("number of vessels", "", 1, 2, default=1, note="1, or 2 as lead and lag.")
    change_on: list[MonthDay] = _change_on()
    change_after_months: float | None = number(
        "age", "months", 0, 120, above=True, default=None, note="Months after which it is changed in any case."
    )


class Tank(Sized):
    """The product tank with its float valve."""

    part: Literal["tank"] = entry("kind of part")
    litres: float | None = number("volume", "L", 1, 50000, needed=True)
    height_mm: float | None = number("height", "mm", 100, 10000, default=None, note="Inside height.")
    float_valve: bool = entry(
        "whether a float valve shuts the inlet", default=True, note="Without one the tank overflows when full."
    )
    float_band_mm: float | None = number(
        "float band", "mm", 0, 2000, above=True, default=None, note="Rise from full open to shut."
    )
    float_open_l_min: float | None = number(
        "float valve's flow", "L/min", 0, 100000, above=True, default=None, note="Flow at 1 bar, full open."
    )
    vented: bool = entry("whether the tank breathes", default=True)
    usable_litres: float | None = number(
        "usable volume", "L", 1, 50000, default=None, note="What can be drawn; the whole volume unless given."
    )
    start_full: float = number("starting level", "share", 0, 1, default=1.0, note="Share full when the year starts.")
    inlet: Literal["top", "bottom"] = entry("inlet", default="top", note="Where the product enters.")


FLOAT_KEYS = ("float_band_mm", "float_open_l_min")
"""Keys of a tank that mean nothing without a float valve."""


class DeliveryPump(Stocked):
    """The pump from the tank to the brush."""

    part: Literal["delivery-pump"] = entry("kind of part")
    flow_l_min: float | None = number("flow", "L/min", 0, 200, above=True, default=None)
    power_w: float | None = number("electrical power", "W", 0, 2e4, default=None)


class Blend(Stocked):
    """A by-pass that adds feed water to the product."""

    part: Literal["blend"] = entry("kind of part")
    share: float = number("by-pass share", "share", 0, 0.95, note="Share of the delivered water that is feed water.")


FeedPart = Annotated[Tube | Cartridge | Pump | Softener | Inhibitor | Check | Solenoid, Field(discriminator="part")]
DrainPart = Annotated[Restrictor | Tube | Flush, Field(discriminator="part")]
ProductPart = Annotated[
    Check | ShutOff | Lift | Resin | Tank | Tube | DeliveryPump | Blend, Field(discriminator="part")
]

KINDS: dict[str, type[Stocked]] = {
    "elements": Membrane,
    "cartridges": Cartridge,
    "tubes": Tube,
    "restrictors": Restrictor,
    "pumps": Pump,
    "resin-vessels": Resin,
    "tanks": Tank,
}
"""Kinds of parts that the catalogue holds, with their keys."""

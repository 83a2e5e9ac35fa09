"""The registry of names: every unit that ends a key or a name, and every symbol of an equation.

The nomenclature page is printed from it, and a test compares it with the site file, the answers and the package: what
they use and this does not hold fails.
"""

from __future__ import annotations

from dataclasses import dataclass

from rinsewright import quantities as q


@dataclass(frozen=True)
class Ending:
    """How a name ends that carries a unit. ``si`` is the value of one such unit in ``si_unit``."""

    unit: str
    what: str
    si: float
    si_unit: str


ENDINGS = {
    # At the edges: site file, answers, options.
    "pct": Ending("%", "share in per cent", 0.01, "1"),
    "share": Ending("share", "share of one, 0 to 1", 1.0, "1"),
    "c": Ending("°C", "temperature; 273.15 is added for K", 1.0, "K"),
    "bar": Ending("bar", "gauge pressure or pressure difference", q.BAR, "Pa"),
    "l_min": Ending("L/min", "flow", q.L_MIN, "m³/s"),
    "l_h": Ending("L/h", "flow", q.L_H, "m³/s"),
    "litres": Ending("L", "volume", q.LITRE, "m³"),
    "m3": Ending("m³", "volume", 1.0, "m³"),
    "m2": Ending("m²", "area", 1.0, "m²"),
    "m": Ending("m", "length", 1.0, "m"),
    "mm": Ending("mm", "length", q.MM, "m"),
    "l_m2_h": Ending("L/(m² h)", "flux; permeance of salt", q.LMH, "m/s"),
    "l_m2_h_bar": Ending("L/(m² h bar)", "permeance of water", q.LMH_PER_BAR, "m/(s Pa)"),
    "l_per_product_l": Ending("L/L", "litres for each litre of product", 1.0, "1"),
    "mg_l": Ending("mg/L", "concentration by mass", q.MG_L, "kg/m³"),
    "mg_l_caco3": Ending("mg/L as CaCO3", "hardness, alkalinity as calcium carbonate", q.MG_L, "kg/m³"),
    "mg_h_l_per_year": Ending("mg·h/L a year", "exposure to chlorine", q.MG_L * q.HOUR, "kg s/m³ a year"),
    "us_cm": Ending("µS/cm", "conductivity at 25 °C", q.US_CM, "S/m"),
    "ppm": Ending("ppm", "meter reading: µS/cm at 25 °C × meter factor", 1.0, "ppm"),
    "ph": Ending("", "pH", 1.0, "1"),
    "eq_per_l": Ending("eq/L", "capacity of resin", 1e3, "eq/m³"),
    "g": Ending("g", "mass", 1e-3, "kg"),
    "kg": Ending("kg", "mass", 1.0, "kg"),
    "w": Ending("W", "power", 1.0, "W"),
    "kwh": Ending("kWh", "energy", q.KWH, "J"),
    "k": Ending("K", "absolute or activation temperature", 1.0, "K"),
    "minutes": Ending("minutes", "time", q.MINUTE, "s"),
    "hours": Ending("h", "time", q.HOUR, "s"),
    "days": Ending("days", "time", q.DAY, "s"),
    "months": Ending("months", "time: a twelfth of a year", 365.0 / 12.0 * q.DAY, "s"),
    "years": Ending("years", "time of 365 days", 365.0 * q.DAY, "s"),
    "per_m3": Ending("money/m³", "price of a cubic metre", 1.0, "money/m³"),
    "per_kwh": Ending("money/kWh", "price of energy", 1.0 / q.KWH, "money/J"),
    "per_l": Ending("money/L", "price of a litre", 1.0 / q.LITRE, "money/m³"),
    "per_hour": Ending("money/h", "price of an hour", 1.0 / q.HOUR, "money/s"),
    "litres_per_day": Ending("L a day", "demand", q.LITRE / q.DAY, "m³/s"),
    "litres_per_year": Ending("L a year", "volume in a year", q.LITRE / (365.0 * q.DAY), "m³/s"),
    # Inside: SI, as gauge pressures, absolute temperatures and so on.
    "pa": Ending("Pa", "gauge pressure or pressure difference", 1.0, "Pa"),
    "s": Ending("s", "time", 1.0, "s"),
    "seconds": Ending("s", "time", 1.0, "s"),
    "caco3": Ending("kg/m³ as CaCO3", "hardness, alkalinity as calcium carbonate", 1.0, "kg/m³"),
    "eq": Ending("eq", "equivalents", 1.0, "eq"),
    "mol_l": Ending("mol/L", "concentration", 1e3, "mol/m³"),
    "mg_h_l": Ending("mg·h/L", "exposure to chlorine", q.MG_L * q.HOUR, "kg s/m³"),
    "bar_per_mg_l": Ending("bar per mg/L", "osmotic pressure of salt", q.BAR / q.MG_L, "Pa m³/kg"),
    "f": Ending("°F", "temperature in a published law; 459.67 is added first for K", 5.0 / 9.0, "K"),
    "atm": Ending("atm", "partial pressure of a gas", 101325.0, "Pa"),
    "m3_per_day": Ending("m³ a day", "flow", 1.0 / q.DAY, "m³/s"),
    "s_per_year": Ending("s a year", "running time", 1.0 / (365.0 * q.DAY), "1"),
    "j_per_m3": Ending("J/m³", "energy for a volume", 1.0, "J/m³"),
    "per_s": Ending("money/s", "price of time", 1.0, "money/s"),
    "per_j": Ending("money/J", "price of energy", 1.0, "money/J"),
    "per_day": Ending("a day", "rate", 1.0 / q.DAY, "1/s"),
    "cost_per_year": Ending("money a year", "cost of a year", 1.0, "money a year"),
    "per_year": Ending("a year", "rate", 1.0 / (365.0 * q.DAY), "1/s"),
}
"""Ending of a name, without the underscore before it → its unit."""

UNIT_TOKENS = {
    *("pa", "kpa", "mpa", "hpa", "bar", "mbar", "psi", "atm", "torr"),
    *(
        "m",
        "km",
        "cm",
        "mm",
        "um",
        "nm",
        "ft",
        "inch",
        "m2",
        "cm2",
        "ft2",
        "m3",
        "l",
        "ml",
        "ul",
        "gal",
        "litre",
        "litres",
    ),
    *("h", "min", "s", "ms", "minutes", "hours", "seconds", "days", "months", "years", "gpm", "gpd", "gfd", "lmh"),
    *("kg", "g", "mg", "ug", "lb", "oz", "mol", "mmol", "umol", "eq", "meq", "ppm", "ppb", "gpg", "grains", "caco3"),
    *("c", "f", "k", "w", "kw", "kwh", "wh", "mj", "kj", "j", "v", "us", "pct"),
}
"""Words that are units where they end a name of several words: those in use and those that a newcomer may bring."""


NOT_UNITS = {"free_mg", "free_h", "fittings_k", "hours_minutes"}
"""Names that end as a unit does and carry none: ions, a loss coefficient, a time of day as text."""


@dataclass(frozen=True)
class Symbol:
    """A symbol of an equation. ``code``: what the code calls it, where that is shorter than its name."""

    what: str
    unit: str
    code: str = ""


SYMBOLS = {
    "A": Symbol("water permeance; in chemistry total alkalinity, or the Debye–Hückel coefficient", "m/(s Pa); mol/L"),
    "B": Symbol("permeance of sodium chloride", "m/s"),
    "C": Symbol("total of a kind, as C_T of inorganic carbon; in the Langelier index its calcium term", "mol/L; 1"),
    "C_z": Symbol("concentration of all ions of charge z in the membrane", "mol/m³"),
    "D": Symbol("diffusivity", "m²/s"),
    "D_i": Symbol("diffusivity of ion i; `D_i,eff` in the field of the others", "m²/s"),
    "E": Symbol("coefficient of the electrophoretic effect; activation temperature in exp(E·(1/298.15 − 1/T))", "—; K"),
    "E_z": Symbol("resistance of the membrane to ions of charge z, over that to an uncharged solute", "1"),
    "F": Symbol("Faraday constant", "C/mol"),
    "H": Symbol("height of a column of water; in chemistry the hydrogen ion", "m; —"),
    "I": Symbol("ionic strength", "mol/L"),
    "J": Symbol("water flux through the membrane", "m/s", "j"),
    "K": Symbol("equilibrium constant; selectivity of resin", "mol/L; 1"),
    "K_i": Symbol("selectivity of ion i", "1"),
    "K_j": Symbol("dissociation constant of the site j", "mol/L"),
    "Kw": Symbol("ion product of water", "mol²/L²", "kw"),
    "L": Symbol("length", "m"),
    "LI": Symbol("Langelier index", "1"),
    "P": Symbol("gauge pressure; in a channel that of the feed side", "Pa", "p"),
    "P_i": Symbol("permeance of ion i", "m/s"),
    "P_p": Symbol("pressure on the product side", "Pa"),
    "Q": Symbol("flow in a line", "m³/s"),
    "R": Symbol(
        "gas constant; resistance of the supply; coefficient of the relaxation effect", "J/(mol K); Pa s²/m⁶; —"
    ),
    "Re": Symbol("Reynolds number on the hydraulic diameter", "1"),
    "S": Symbol("membrane area of an element", "m²"),
    "SI": Symbol("saturation index, log₁₀ of ion activity product over solubility product", "1"),
    "Sc": Symbol("Schmidt number, ν/D", "1"),
    "Sh": Symbol("Sherwood number, k·d_h/D", "1"),
    "T": Symbol("absolute temperature; in chemistry total of a weak acid", "K; mol/L"),
    "T_j": Symbol("total of the weak acid j", "mol/L"),
    "V": Symbol("volume in the tank", "m³"),
    "W": Symbol("width of a leaf", "m"),
    "a": Symbol("ion-size parameter of the Debye–Hückel theory", "Å"),
    "b": Symbol("linear coefficient of the Debye–Hückel theory", "L/mol"),
    "c": Symbol("concentration", "mol/m³"),
    "c_b": Symbol("concentration in the bulk of the channel", "relative to the tap"),
    "c_i": Symbol("concentration of ion i", "mol/m³"),
    "c_p": Symbol("concentration in the product", "relative to the tap"),
    "c_w": Symbol("concentration at the membrane's wall", "relative to the tap"),
    "d_h": Symbol("hydraulic diameter of the spacer channel", "m"),
    "f": Symbol("Darcy's friction factor of a tube; a factor", "1"),
    "g": Symbol("acceleration of gravity", "m/s²"),
    "h": Symbol("height of the feed channel; in chemistry the concentration of H⁺", "m; mol/L"),
    "j_i": Symbol("flux of ion i", "mol/(m² s)"),
    "k": Symbol("mass-transfer coefficient", "m/s"),
    "k_lam": Symbol("mass-transfer coefficient of the laminar slit", "m/s"),
    "m": Symbol("molality; a month's share of days", "mol/kg; 1"),
    "o": Symbol("opening of the float valve, 1 full open", "1"),
    "p": Symbol("exponent of the temperature law of an ion's conductivity", "1"),
    "pH": Symbol("−log₁₀ of the activity of H⁺", "1"),
    "q": Symbol("flow in the channel", "m³/s"),
    "q_i": Symbol("load of ion i on the resin", "eq/m³"),
    "r": Symbol(
        "an ion's load on the resin over what is left of it in the water; correlation of a day with the next", "1"
    ),
    "s": Symbol("salt flow in the channel", "m³/s × relative concentration"),
    "s_i": Symbol("share of a species present as the ion that exchanges", "1"),
    "t": Symbol("time; in the Langelier index temperature in °C", "s; °C"),
    "u": Symbol("velocity in the channel", "m/s"),
    "x": Symbol("way along the channel or through the membrane, 0 to 1", "1"),
    "y": Symbol("square root of the ionic strength", "(mol/L)^½"),
    "z": Symbol("charge of an ion", "1"),
    "z_i": Symbol("charge of ion i", "1"),
    "γ": Symbol("activity coefficient", "1"),
    "Δ": Symbol("difference: Δπ of osmotic pressure, ΔP of pressure, ΔP_f lost by friction", "Pa"),
    "δ": Symbol("small step of the potential", "1"),
    "ε": Symbol("porosity of the spacer; in chemistry relative permittivity of water", "1"),
    "ζ": Symbol("loss coefficient of fittings", "1"),
    "θ": Symbol("logarithm of the concentration along the membrane", "1"),
    "κ": Symbol("conductivity; κ25 at 25 °C", "S/m"),
    "Λ": Symbol("molar conductivity of a salt; Λ0 at infinite dilution", "S m²/mol"),
    "λ": Symbol("equivalent conductivity of an ion; in the channel Darcy's friction factor", "S m²/eq; 1"),
    "µ": Symbol("dynamic viscosity; in resin cells the unknown that closes the capacity", "Pa s; —"),
    "ν": Symbol("kinematic viscosity", "m²/s"),
    "π": Symbol("osmotic pressure", "Pa"),
    "ρ": Symbol("density", "kg/m³"),
    "Σ": Symbol("sum over ions, sites or species", "—"),
    "σ": Symbol("screening function of the Debye–Hückel theory", "1"),
    "τ": Symbol("time constant", "s"),
    "Φ": Symbol("Φ_z: sum of flux over permeance of the ions of charge z", "mol/m³"),
    "φ": Symbol("osmotic coefficient", "1"),
    "ψ": Symbol("electric potential over RT/F; ψ0 at the wall", "1", "psi"),
}
"""Symbol → what it stands for."""

NO_SYMBOLS = {
    *("a", "an", "as", "at", "be", "by", "do", "i", "if", "in", "is", "it", "no", "of", "on", "or", "so", "to", "up"),
    *("d", "dp", "dq", "ds", "dt", "dx", "e", "ln", "n", "eq", "pa", "co", "oh", "li", "mg", "mm", "sm", "us", "we"),
}
"""Short words, operators, units and elements that stand in equations and are no symbols."""

COLUMNS = {
    "tap_l_min": "tap flow",
    "product_l_min": "product flow",
    "drain_l_min": "drain flow",
    "membrane_bar": "pressure at the first membrane's inlet",
    "drain_bar": "pressure before the drain restrictor",
    "back_pressure_bar": "pressure on the product side of the membranes",
    "recovery": "product over tap flow",
    "product_meter_ppm": "meter reading of the product",
    "product_tds_mg_l": "dissolved ions and silica of the product",
    "product_ph": "pH of the product",
    "delivered_meter_ppm": "meter reading of the delivered water, with fresh resin",
}
"""Columns of a solved batch."""

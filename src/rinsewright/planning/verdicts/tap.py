"""What comes out of the tap, and whether it is known well enough."""

from __future__ import annotations

import numpy as np

from rinsewright.planning.situation import Situation
from rinsewright.planning.verdicts.word import About, Rule, Verdict, Word, graded
from rinsewright.plant.feed.treatment import Softener
from rinsewright.quantities import MG_L, US_CM
from rinsewright.water.ions import CHARGE, INDEX, MOLAR_MASS


def _mg_l(s: Situation, name: str) -> float:
    return float(s.tap.solutes[0, INDEX[name]] * MOLAR_MASS[INDEX[name]] / MG_L)


LEAST_APART = 20.0  # ppm or mg/L: less is a drop or a digit (assumed)


LEAST_CHARGE = 0.05  # eq/m3: 1 mg/L of calcium, the last digit of many a report (assumed)


def analysis(s: Situation) -> Verdict | None:
    """Cations against anions: beyond ±10 % something is missing. What was measured at the tap against what it gives."""
    if s.charge_balance_pct is None:
        return None
    share = abs(s.charge_balance_pct) / 100.0
    charges = float(np.abs(s.tap.solutes[0] * CHARGE).sum())  # closed: the lesser side raised to the greater
    told = share * charges / (1.0 + share) > LEAST_CHARGE
    word = graded(100.0 * share, 10.0, 40.0) if told else "fine"
    by = f"{s.charge_balance_pct:+.1f} %" if told else "less than a report can tell"
    why = f"Cations and anions of the analysis differ by {by}.".replace("-", "−")
    do = "Nothing." if word == "fine" else "Check the report for a missing ion, a slipped comma or another unit."
    times_apart, apart = _apart(s)
    # Assumed: meters differ by their factors and companies mix their sources, so that half as much again is worth a
    # look; three times is another water.
    against = graded(times_apart, 1.5, 3.0)
    if against == "fine":
        return Verdict("the water analysis", word, why, do, "water.ions_mg_l")
    do = (
        "Measure again, and see that it is the cold tap the plant is fed from, before any softener or filter. Check "
        "the units and the commas of the report, and that it is of this supply."
    )
    if against == "stop":
        do += " Till one of them is mended the plan is for a water that may not come out of this tap."
    worse = max(word, against, key=("fine", "look", "stop").index)
    return Verdict("the water analysis", worse, f"{apart} {why}", do, "water.field")


def _apart(s: Situation) -> tuple[float, str]:
    """How many times apart a reading at the tap and the analysis are, the larger over the smaller, where they are
    furthest; and that in words.
    """
    read = s.water.field
    if read is None:
        return 1.0, ""
    hardness, alkalinity = float(s.tap.hardness[0]) / MG_L, float(s.tap.alkalinity_caco3[0]) / MG_L
    pairs = (
        ("the meter at the tap reads", "ppm", read.meter_ppm, float(s.tap.conductivity[0]) / US_CM * read.meter_factor),
        ("the hardness measured at the tap is", "mg/L as CaCO3", read.hardness_mg_l_caco3, hardness),
        ("the alkalinity measured at the tap is", "mg/L as CaCO3", read.alkalinity_mg_l_caco3, alkalinity),
    )
    found = [
        (
            max(measured, given) / max(min(measured, given), 1.0),
            f"By the analysis it should be {given:.0f} {unit}, but {what} {measured:.0f} {unit}.",
        )
        for what, unit, measured, given in pairs
        if measured is not None and abs(measured - given) > LEAST_APART
    ]
    return max(found, default=(1.0, ""))


def iron(s: Situation) -> Verdict | None:
    """Iron and manganese come out on the membrane; 0.1 mg/L is a usual limit (from memory, membrane practice)."""
    if not s.has_membranes:
        return None
    amount = _mg_l(s, "Fe") + _mg_l(s, "Mn")
    if amount <= 0.0:
        return None
    word = graded(amount, 0.1, 0.5)
    why = f"Iron and manganese together are {amount:.2f} mg/L; above about 0.1 they foul membranes, above 0.5 quickly."
    do = "Nothing." if word == "fine" else "Take the iron out before the membranes; a sediment filter alone does not."
    return Verdict("iron and manganese", word, why, do, "water.ions_mg_l.Fe")


def chlorine(s: Situation) -> Verdict | None:
    """Free chlorine and chloramine wear polyamide out by exposure."""
    if not s.has_membranes or s.membranes is None:
        return None
    carbon = s.cartridge("carbon")
    key = carbon.key if carbon else "plant.feed"
    if s.water.free_chlorine is None and s.water.total_chlorine is None:
        if s.plant.supply.kind == "well" or carbon is not None:
            return None
        why = "Not known: mains water nearly always carries some, and there is no carbon filter before the membranes."
        return Verdict("chlorine", "look", why, "Measure free and total chlorine at the tap.", key)
    free = (s.water.free_chlorine or 0.0) / MG_L
    total = (s.water.total_chlorine or 0.0) / MG_L
    if total <= 0.0:
        return None
    dose, bound = s.membranes["chlorine_mg_h_l_per_year"], s.membranes["chloramine_mg_h_l_per_year"]
    place = "behind the carbon" if carbon else "without a carbon filter"
    why = f"The tap has {free:.2f} mg/L of free chlorine; {place} the membranes see about {dose:.0f} mg·h/L "
    why += "of free chlorine a year."
    years = 1000.0 / dose if dose > 0.0 else float("inf")
    if years < 50.0:
        why += f" At a tolerance of 200 to 1,000 mg·h/L (from memory) that is {0.2 * years:.1f} to {years:.1f} years."
    if total > free + 0.02:
        why += (
            f" Another {total - free:.2f} mg/L is bound as chloramine, which carbon takes out slowly: about "
            f"{bound:.0f} mg·h/L a year pass. Membranes stand far more of it, unless iron is about."
        )
    word: Word = "look" if years <= 5.0 or (total > free + 0.02 and bound > 300.0) else "fine"
    do = "Change the carbon in time." if carbon else "A carbon filter before the membranes spares them."
    if total > free + 0.02 and carbon:
        do = "Use carbon made for chloramine, or a second carbon cartridge, and change it in time."
    return Verdict("chlorine", word, why, do, key)


def phosphate(s: Situation) -> Verdict | None:
    """Tap water dosed with phosphate is always above calcium phosphate's index: information, not a fault."""
    dose = _mg_l(s, "PO4")
    if dose < 0.3 or not s.has_membranes:
        return None
    return Verdict(
        "phosphate in the tap water",
        "fine",
        f"{dose:.1f} mg/L of phosphate, as dosed against lead: its index is above 0 everywhere and says little; a "
        "trace of it "
        "even slows lime scale.",
        "Nothing.",
        "water.ions_mg_l.PO4",
    )


def season_holds_today(s: Situation) -> Verdict | None:
    """Today's water outside the season that was given: one of them is wrong."""
    low, today, high = s.coldest.temperature_c, s.today.temperature_c, s.warmest.temperature_c
    if low - 0.5 <= today <= high + 0.5:
        return None
    return Verdict(
        "water temperature",
        "look",
        f"Today's {today:.0f} °C lies outside the season given, {low:.0f} to {high:.0f} °C.",
        "Correct the season, or measure today's water again.",
        "water.season",
    )


def softener_note(s: Situation) -> Verdict | None:
    """A softener takes the drain's water too, and needs salt."""
    part = s.first(Softener)
    if part is None:
        return None
    return Verdict(
        "softener",
        "fine",
        "It softens the drain's water too; the lime no longer limits the restrictor, the sodium goes to the resin.",
        "Count its salt, and see that it regenerates before it is spent.",
        part.key,
    )


RULES: dict[Rule, About] = {
    analysis: "site",
    season_holds_today: "year",
    iron: "site",
    chlorine: "year",
    phosphate: "site",
    softener_note: "site",
}

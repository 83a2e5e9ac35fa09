"""Each measured line judged, with the likely reason, and the sheet as a whole.

A line is judged by how many spreads it stands from what the lines before it lead one to expect (see ``narrowing``).
The limits are such that a healthy plant's whole sheet seldom gets a *look* and hardly ever a *stop*; the product's
reading is watched most closely upwards, since a leak past a membrane shows nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from rinsewright.firstrun.expected import KEYS, RESOLUTION, Prediction
from rinsewright.firstrun.measured import Measured
from rinsewright.firstrun.narrowing import WIDTH, Narrowed, narrow
from rinsewright.firstrun.wording import SPOKEN
from rinsewright.planning.ensemble import Band
from rinsewright.planning.verdicts.word import Word
from rinsewright.plant.layout import Plant

FACTORS = (0.5, 0.64, 0.7)  # ppm per µS/cm on the meters of the trade (common practice, no source)
ALIKE = 0.12  # two factors count as the same within this share
ORDER: tuple[Word, ...] = ("fine", "look", "stop")
FRESH_PPM = 2.0  # more than that is not what fresh resin leaves, whatever its limit
SOME_NEVER = 0.1  # share of healthy members whose shut-off never closes, from which on that is no fault of the valve
LOOK_RESIN = 3.0  # spreads above what a blend should give behind fresh resin, from which on it is looked at
AS_STRONG = 0.9  # of the tap's reading: what passes even a torn membrane is mixed with what a sound one makes (assumed)
OWN_SIDE = 0.5  # share of the product's reading above which the resin holds next to nothing back


@dataclass(frozen=True)
class Limits:
    """Spreads below and above at which a line is looked at, and at which it stops the handover."""

    low: float
    high: float
    stop_low: float
    stop_high: float

    def word(self, off: float) -> Word:
        """The verdict on a line so many spreads off."""
        if off < -self.stop_low or off > self.stop_high:
            return "stop"
        return "look" if off < -self.low or off > self.high else "fine"


NEVER_STOPS = float("inf")
LIMITS = {
    "tap_meter_ppm": Limits(3.0, 3.0, NEVER_STOPS, NEVER_STOPS),
    "membrane_bar": Limits(2.8, 3.0, 8.0, 6.0),
    "drain_l_min": Limits(3.2, 3.2, 5.5, 8.0),
    "product_l_min": Limits(3.0, 3.0, 6.0, 6.0),
    "product_meter_ppm": Limits(3.5, 2.0, NEVER_STOPS, 3.8),
    "shutoff_closes_bar": Limits(3.3, 3.3, NEVER_STOPS, NEVER_STOPS),
    "reopens_bar": Limits(3.3, 3.3, NEVER_STOPS, NEVER_STOPS),
}


@dataclass(frozen=True)
class Line:
    """One measured line. ``measured`` is None for a shut-off that never stopped the drain."""

    what: str
    measured: float | None
    expected: Band  # given the lines before it
    verdict: Word
    why: str
    do: str

    def answer(self) -> dict[str, Any]:
        """The contract's line, and what to do."""
        return {
            "what": self.what,
            "measured": self.measured,
            "expected": self.expected.answer(),
            "verdict": self.verdict,
            "why": self.why,
            "do": self.do,
        }


@dataclass(frozen=True)
class Case:
    """What the reasons look at."""

    plant: Plant
    prediction: Prediction
    measured: Measured
    narrowed: Narrowed
    factor: float
    limit_ppm: float

    def off(self, key: str) -> float:
        """Spreads by which a line is off; none where it was not measured."""
        return self.narrowed.off.get(key, 0.0)

    def word(self, key: str) -> Word:
        """The verdict on a line; *fine* where it was not measured."""
        return LIMITS[key].word(self.off(key))

    def share(self, key: str) -> float:
        """Measured over expected."""
        value, expected = self.measured.get(key), self.narrowed.judged.get(key)
        if value is None or expected is None:
            return 1.0
        return value / max(expected.band().value or 0.0, 0.5 * RESOLUTION[key])


def case_of(plant: Plant, prediction: Prediction, measured: Measured, factor: float, limit_ppm: float) -> Case:
    """Everything that is known of a sheet."""
    numbers = {key: value for key, value in measured.items() if value is not None}
    return Case(plant, prediction, measured, narrow(prediction, numbers), factor, limit_ppm)


def judge_lines(case: Case) -> tuple[Line, ...]:
    """Every measured line, in the order of the record."""
    return tuple(_line(case, key) for key in KEYS if key in case.measured)


def _line(case: Case, key: str) -> Line:
    if key == "after_resin_meter_ppm":
        return _after_resin(case)
    if key == "shutoff_closes_bar" and (case.measured[key] is None or key not in case.narrowed.judged):
        return _never_closed(case)
    value = case.measured[key]
    if value is None or key not in case.narrowed.judged:
        return _not_expected(case, key)
    expected = case.narrowed.expected[key]
    word = case.word(key)
    if word == "fine":
        return Line(key, value, expected, word, _fits(value, expected), "Nothing.")
    why, do = (_LOW if case.off(key) < 0.0 else _HIGH)[key](case)
    return Line(key, value, expected, word, why, do)


def _fits(value: float, band: Band) -> str:
    low, high = band.low or 0.0, band.high or 0.0
    if low <= value <= high:
        return "It is what this plant should read."
    side = "below" if value < low else "above"
    return f"It is a little {side} what most such plants read, and still within what they may."


# ---- reasons, one function for each line and side: (why, do) ----

Reason = Callable[[Case], tuple[str, str]]


def other_factor(case: Case, key: str) -> float | None:
    """The factor of a meter that would explain a reading, if one of the trade's does."""
    share = case.share(key)
    near = [factor for factor in FACTORS if abs(factor / case.factor - 1.0) > ALIKE]
    fits = [factor for factor in near if abs(share * case.factor / factor - 1.0) < ALIKE]
    return min(fits, key=lambda factor: abs(share * case.factor / factor - 1.0), default=None)


def _changed_over(case: Case) -> tuple[str, str] | None:
    """Readings that no plant can give: a product as strong as the tap, or stronger."""
    product, tap = case.measured.get("product_meter_ppm"), case.measured.get("tap_meter_ppm")
    if product is None or not case.plant.stages:
        return None
    usual = case.prediction.band("tap_meter_ppm").value or 0.0
    if tap is not None and product >= tap > 0.0 and usual > AS_STRONG * product:
        return (
            f"The product reads {product:.0f} ppm and the tap {tap:.0f}: no membrane makes water stronger than it gets "
            "it. The two readings may be changed over, or one of them is wrong.",
            "Read both again, with one meter rinsed in between, before anything else is changed.",
        )
    if product >= AS_STRONG * (tap if tap is not None else usual):
        return (
            f"The product reads {product:.0f} ppm, about as much as the tap or more: no membrane does that. It may "
            "have been read at the drain or at the tap, product and drain may be changed over, or there is no membrane "
            "in the housing.",
            "Follow the product's tube from the middle of the housing's end, and read again there; then look into the "
            "housing with the tap shut and the pressure released.",
        )
    return None


def _tap(case: Case) -> tuple[str, str]:
    impossible = _changed_over(case)
    if impossible is not None and case.off("tap_meter_ppm") < 0.0:
        return impossible
    much = "more" if case.off("tap_meter_ppm") > 0.0 else "less"
    factor = other_factor(case, "tap_meter_ppm")
    if factor is not None:
        return (
            f"The tap reads {case.share('tap_meter_ppm'):.2f} times what this water should: that is what a meter with "
            f"factor {factor:g} shows, and the site file says {case.factor:g}.",
            "Look up the meter's factor, and read tap, product and resin with one and the same meter; if it is the "
            "right one, the water has changed.",
        )
    return (
        f"The tap reads {much} than this water should, and no usual meter factor explains it.",
        "Check the meter in a reference solution; if it is right, the water has changed: enter today's analysis or "
        "meter reading in the site file.",
    )


def _pressure_low(case: Case) -> tuple[str, str]:
    where = (
        "between tap and membranes"
        if case.prediction.conditions.running_bar is not None
        else "at the tap or on the way to the membranes"
    )
    pump = " The pump may be running backwards, sucking air or on too thin a hose." if case.plant.pump else ""
    drain = ""
    if case.share("drain_l_min") > 1.15 and case.word("drain_l_min") != "fine":
        drain = " More goes to the drain than should: the restrictor may be missing or the flush open."
    return (
        f"The membranes get less pressure than they should: something is lost {where}.{pump}{drain}",
        "Open the stop tap fully, look for a kinked or thin hose and a blocked pre-filter, and read the pressure at "
        "the tap while the plant runs.",
    )


def _pressure_high(case: Case) -> tuple[str, str]:
    if case.share("drain_l_min") < 0.85:
        return (
            "The membranes see more pressure than they should and little goes to the drain: the restrictor passes too "
            "little.",
            "Check the restrictor's size and look for dirt in it.",
        )
    return (
        "The membranes see more pressure than the supply should give: it is higher today, or the gauge reads high.",
        "Read the gauge with no pressure on it, and the supply's standing pressure; a pressure reducer protects the "
        "housings.",
    )


def _drain_low(case: Case) -> tuple[str, str]:
    share = case.share("drain_l_min")
    if not case.measured.get("drain_l_min"):
        return (
            "Nothing goes to the drain: the restrictor is blocked, or the drain line is shut or kinked. The membranes "
            "scale in hours like this.",
            "Shut the tap now, release the pressure, free the drain line and the restrictor, and measure again.",
        )
    return (
        f"Only {100 * share:.0f} % of the drain water that this pressure should pass: the restrictor is a smaller one, "
        "or dirt sits in it. Too little to the drain lets the membranes scale.",
        "Take the restrictor out, read its size, rinse it from behind, and measure again before leaving the plant on.",
    )


def _drain_high(case: Case) -> tuple[str, str]:
    return (
        f"{case.share('drain_l_min'):.1f} times the drain water that this pressure should pass: the restrictor is a "
        "larger one, it is not in place, or a flush valve stands open.",
        "Check the restrictor's size and seat, and shut the flush.",
    )


def _product_low(case: Case) -> tuple[str, str]:
    return (
        f"{100 * case.share('product_l_min'):.0f} % of the product that this pressure and temperature should give: "
        "colder water than entered, air in a housing, a product line held back, or a membrane that passes less.",
        "Measure the water's temperature in a running jet, purge the air, open the product line fully; then compare "
        "the membranes with each other.",
    )


def _product_high(case: Case) -> tuple[str, str]:
    if case.off("product_meter_ppm") > LIMITS["product_meter_ppm"].high:
        return (
            f"{case.share('product_l_min'):.2f} times the product that this pressure and temperature should give, and "
            "it is too salty: feed water gets past a membrane.",
            "Shut the tap, release the pressure, and look at the O-rings of the product tube and at the membrane.",
        )
    return (
        f"{case.share('product_l_min'):.2f} times the product that this pressure and temperature should give: warmer "
        "water than entered, another element than the site file says, or a bucket misread.",
        "Measure temperature and flow once more, and read the element's label.",
    )


def leak_share(case: Case) -> float | None:
    """Share of the feed that would have to go straight to the product to explain its reading."""
    product, flow = case.measured.get("product_meter_ppm"), case.prediction.feed_l_min
    tap = case.measured.get("tap_meter_ppm") or case.prediction.band("tap_meter_ppm").value
    made = case.measured.get("product_l_min") or case.prediction.band("product_l_min").value
    expected = case.narrowed.judged.get("product_meter_ppm")
    if product is None or expected is None or not tap or not made or not flow:
        return None
    surplus = product - (expected.band().value or 0.0)
    return max(surplus, 0.0) * made / (tap * flow)


def _reading_high(case: Case) -> tuple[str, str]:
    impossible = _changed_over(case)
    if impossible is not None:
        return impossible
    times = f"The product reads {case.share('product_meter_ppm'):.1f} times what it should"
    leak = leak_share(case)
    passed = f", as if {100 * leak:.1f} % of the feed went past the membranes" if leak is not None else ""
    if case.word("tap_meter_ppm") != "fine" and other_factor(case, "tap_meter_ppm") is not None:
        return (
            f"{times}, and the tap's reading is off as well: the two may have been read with different meters.",
            "Read tap and product again with one and the same meter.",
        )
    factor = other_factor(case, "product_meter_ppm")
    if factor is not None and factor > case.factor and case.off("product_meter_ppm") < 2.5:
        passed += f"; a meter with factor {factor:g} on the product would show the same"
    if case.word("membrane_bar") != "fine" and case.off("membrane_bar") < 0.0:
        passed += "; low pressure makes it worse"
    elif case.word("drain_l_min") != "fine" and case.off("drain_l_min") < 0.0:
        passed += "; too little to the drain makes it worse"
    each = "read each housing's own product to find the one" if len(case.plant.elements) > 1 else "read it once more"
    return (
        f"{times}{passed}: preservative not yet rinsed out, an O-ring or brine seal that leaks, or a membrane that "
        "lets more through.",
        f"Rinse to the drain for another hour and {each}; if it stays, shut the tap, release the pressure and look at "
        "the O-rings.",
    )


def _reading_low(case: Case) -> tuple[str, str]:
    factor = other_factor(case, "product_meter_ppm")
    hint = f" A meter with factor {factor:g} would show that." if factor is not None else ""
    return (
        f"The product is purer than such membranes make it, which is too good to be quite true.{hint}",
        "Check that it was read before the resin, and that the meter is on the right range.",
    )


def _closes(case: Case) -> tuple[str, str]:
    side = "lower" if case.off("shutoff_closes_bar") < 0.0 else "higher"
    return (
        f"The drain stopped at a {side} product pressure than two thirds or so of the feed pressure: the shut-off's "
        "ratio is not the one in the site file, or its lines are changed over.",
        "Check that its four lines are where they belong and that the check valve sits between membrane and shut-off.",
    )


def _reopens(case: Case) -> tuple[str, str]:
    closes, reopens = case.measured.get("shutoff_closes_bar"), case.measured.get("reopens_bar")
    if closes is not None and reopens is not None and reopens > closes:
        return (
            f"It stopped at {closes:.1f} bar and started again at {reopens:.1f} bar, and a shut-off starts at the "
            "lower of the two: they may be changed over.",
            "Watch the product's gauge through one more stop and start.",
        )
    return (
        "The plant started again at another product pressure than this shut-off should: a check valve that leaks "
        "makes it start early, a sticking shut-off late.",
        "Close the product for ten minutes: the drain must stay off and the pressure must hold.",
    )


_LOW: Mapping[str, Reason] = {
    "tap_meter_ppm": _tap,
    "membrane_bar": _pressure_low,
    "drain_l_min": _drain_low,
    "product_l_min": _product_low,
    "product_meter_ppm": _reading_low,
    "shutoff_closes_bar": _closes,
    "reopens_bar": _reopens,
}
_HIGH: Mapping[str, Reason] = {
    **_LOW,
    "membrane_bar": _pressure_high,
    "drain_l_min": _drain_high,
    "product_l_min": _product_high,
    "product_meter_ppm": _reading_high,
}


# ---- lines that are not judged by spreads ----


def _after_resin(case: Case) -> Line:
    key = "after_resin_meter_ppm"
    value, expected = case.measured[key] or 0.0, case.prediction.band(key)
    product = case.measured.get("product_meter_ppm") or case.prediction.band("product_meter_ppm").value
    blended = case.plant.blend_share > 0.0
    if value <= max(_beyond(expected) if blended else expected.high or 0.0, FRESH_PPM - 1.0):
        return Line(key, value, expected, "fine", "It is what fresh resin leaves.", "Nothing.")
    if blended:
        return Line(
            key,
            value,
            expected,
            "look",
            f"With the feed water that is blended in, fresh resin should give {expected.high or 0.0:.0f} ppm at most.",
            "Check how far the blend stands open, then read before the blend.",
        )
    spent = product is not None and value >= OWN_SIDE * product
    if product is not None and value > product + 1.0:
        why = (
            f"More behind the resin than before it ({value:.0f} against {product:.0f} ppm): the two readings may be "
            "changed over; else the water goes around the resin, or stood in it."
        )
    elif spent:
        why = (
            f"The resin lets {value:.0f} ppm of the product's {product:.0f} through: it is spent, or water goes "
            "around it."
        )
    else:
        why = f"Fresh resin leaves 000 to 001, and this is {value:.0f} ppm."
    word: Word = "stop" if value >= case.limit_ppm or (spent and value > FRESH_PPM + 1.0) else "look"
    return Line(
        key,
        value,
        expected,
        word,
        why,
        "Run another ten minutes and read again; then check that the by-pass is shut, that the water enters the vessel "
        "at the right end, and that the resin is new.",
    )


def _beyond(band: Band) -> float:
    """``LOOK_RESIN`` spreads above the middle of a band, in logarithms."""
    value, high = max(band.value or 0.0, 0.5), max(band.high or 0.0, 0.5)
    return float(value * (high / value) ** (LOOK_RESIN / WIDTH[1]))


def _never_closed(case: Case) -> Line:
    key = "shutoff_closes_bar"
    value, expected = case.measured[key], case.prediction.band(key)
    if expected.value is None and value is None:
        return Line(
            key,
            value,
            expected,
            "look",
            "It never closed, as was to be expected: on this water and pressure the product never gets to the share "
            "of the feed pressure that the valve needs.",
            "More pressure, or a valve that closes at a lower share; until then shut the tap when the tank is full.",
        )
    if expected.value is None:
        why = "It closed, and on this water and pressure it was not expected to: the pressure is higher than assumed."
        return Line(key, value, expected, "fine", why, "Nothing.")
    if case.prediction.never_closes > SOME_NEVER:
        return Line(
            key,
            value,
            expected,
            "look",
            "It never closed, and on this water and pressure it hardly can: little is left over its share of the feed "
            "pressure.",
            "Try again with more pressure; until it closes, shut the tap when the tank is full.",
        )
    return Line(
        key,
        value,
        expected,
        "stop",
        "The shut-off never stopped the drain: water would run away day and night. Its product side does not get the "
        "pressure (a leak, a tap not quite shut), its lines are changed over, or it is stuck.",
        "Shut the product right at the membranes and watch the product's gauge: if it reaches the feed pressure and "
        "the drain goes on, the valve is at fault; if it does not, look for the leak.",
    )


def _not_expected(case: Case, key: str) -> Line:
    why = "What it should read is not known for this plant, so it is not judged."
    return Line(key, case.measured[key], case.prediction.band(key), "fine", why, "Nothing.")


# ---- the sheet ----


@dataclass(frozen=True)
class Sheet:
    """All lines, and the word on them together."""

    lines: tuple[Line, ...]
    verdict: Word
    why: str
    do: str
    cannot_tell: tuple[str, ...]


def judge_sheet(case: Case) -> Sheet:
    """The sheet's verdict is that of its worst line; the first of the worst says why and what to do."""
    lines = judge_lines(case)
    word: Word = max((line.verdict for line in lines), key=ORDER.index, default="fine")
    cannot = cannot_tell(case)
    if word == "fine":
        return Sheet(lines, word, "Everything measured is what this plant should read.", "Sign the record.", cannot)
    worst = [line for line in _causes_first(lines) if line.verdict == word]
    others = ", ".join(SPOKEN[line.what] for line in lines if line.verdict != "fine" and line is not worst[0])
    rest = f" Also off: {others}." if others else ""
    return Sheet(lines, word, worst[0].why + rest, worst[0].do, cannot)


def _causes_first(lines: tuple[Line, ...]) -> list[Line]:
    """What comes first on the water's way explains what comes after it."""
    order = (*LIMITS, "after_resin_meter_ppm")
    return sorted(lines, key=lambda line: order.index(line.what))


def cannot_tell(case: Case) -> tuple[str, ...]:
    """What these readings cannot separate, however well they are taken."""
    found = []
    if case.plant.stages:
        if "product_meter_ppm" in case.measured:
            found.append(
                "A little feed water past an O-ring from a membrane that lets more salt through: both only raise the "
                "product's reading. Each housing's own product, or the same reading at another pressure, tells."
            )
        if "product_l_min" in case.measured:
            found.append(
                "A membrane that passes less water from water that is colder than entered: 1 °C is 3 % of the flow."
            )
        if "membrane_bar" not in case.measured:
            found.append("Low pressure from weak membranes: the pressure at the membranes was not read.")
    if "tap_meter_ppm" in case.measured and "product_meter_ppm" in case.measured:
        found.append(
            "A product read with a meter of another factor from a membrane 1.3 to 1.4 times off: read both with one "
            "meter."
        )
    if case.plant.resin is not None and "after_resin_meter_ppm" in case.measured:
        product = case.measured.get("product_meter_ppm") or case.prediction.band("product_meter_ppm").value
        if product is not None and product <= FRESH_PPM:
            found.append("Spent resin from fresh: the product reads hardly more than fresh resin leaves.")
        else:
            found.append("How much of the resin is left: fresh and half-used resin both leave 000.")
    return tuple(found)

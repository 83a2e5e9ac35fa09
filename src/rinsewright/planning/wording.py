"""Answers as text for a person in a terminal."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rinsewright.dates import month_and_day

if TYPE_CHECKING:
    from rinsewright.planning.resin_year import ResinYear

THROTTLED = 1.3  # times the drain for each litre at full flow from which on the year's is told too (assumed)
SIGNS = {"GBP": "£", "EUR": "€", "USD": "$"}


def _number(value: float | None, digits: int = 3) -> str:
    if value is None:
        return "not known"
    if value == 0.0:
        return "0"
    text = f"{value:.{digits}g}"
    return f"{float(text):,.0f}" if abs(value) >= 100.0 else text


def _rows(rows: list[tuple[str, str]]) -> str:
    width = max(len(name) for name, _ in rows)
    return "\n".join(f"  {name:<{width}}  {value}" for name, value in rows)


def element_text(answer: Mapping[str, Any]) -> str:
    """Permeances of an element."""
    return _rows(
        [
            ("water permeance at 25 °C", f"{answer['water_permeance_l_m2_h_bar']:.3f} L/(m² h bar)"),
            ("NaCl permeance at 25 °C", f"{answer['salt_permeance_l_m2_h']:.4f} L/(m² h)"),
        ]
    )


def water_text(answer: Mapping[str, Any]) -> str:
    """A tap water, in words and numbers."""
    bands = answer["bands"]

    def said(key: str, unit: str, digits: int = 3) -> str:
        text = f"{_number(answer[key], digits)} {unit}".rstrip()
        band = bands.get(key)
        return text + (f" ({_number(band['low'], digits)} to {_number(band['high'], digits)})" if band else "")

    ions = [(name, f"{_number(value)} mg/L") for name, value in answer["ions_mg_l"].items() if value > 0.0]
    indices = [(name, f"{index:+.2f}") for name, index in answer["saturation"].items() if index is not None]
    balance = answer["charge_balance_pct"]
    parts = [
        f"The tap reads {_number(answer['meter_ppm'])} ppm; hardness {_number(answer['hardness_mg_l_caco3'])} "
        "mg/L as CaCO3.",
        "",
        _rows(
            [
                ("conductivity at 25 °C", said("conductivity_us_cm", "µS/cm")),
                ("meter", said("meter_ppm", "ppm")),
                ("hardness", said("hardness_mg_l_caco3", "mg/L as CaCO3")),
                ("alkalinity", said("alkalinity_mg_l_caco3", "mg/L as CaCO3")),
                ("pH", said("ph", "")),
                ("carbon dioxide", said("co2_mg_l", "mg/L")),
                ("dissolved in all", said("tds_mg_l", "mg/L")),
                ("left on drying", said("residue_mg_l", "mg/L")),
                ("osmotic pressure", said("osmotic_bar", "bar")),
                ("charge balance as given", "not known" if balance is None else f"{balance:+.1f} %"),
            ]
        ),
        "",
        "Ions (HCO3: alkalinity)",
        _rows(ions),
    ]
    if indices:
        parts += ["", "Saturation indices (0: just saturated)", _rows(indices)]
    if answer["notes"]:
        parts += ["", "Notes", *(f"  {note}" for note in answer["notes"])]
    return "\n".join(parts)


def solve_text(answer: Mapping[str, Any]) -> str:
    """A working state."""
    feed, product, drain = answer["feed"], answer["product"], answer["drain"]
    made = f"{_number(product['flow_l_min'])} L/min"
    first = f"It passes {made} through the resin."
    if answer["elements"]:
        first = f"It makes {made} at {_number(product['meter_ppm'], 2)} ppm before the resin"
        first += f"; {_number(drain['flow_l_min'])} L/min go to drain."
    rejection = answer["rejection"]
    from_tap = (_number(feed["flow_l_min"]), _number(feed["meter_ppm"]), f"{feed['ph']:.2f}")
    left = (_number(product["conductivity_us_cm"]), _number(product["residue_mg_l"], 2), f"{product['ph']:.2f}")
    rows = [
        ("from the tap", "{} L/min, {} ppm, pH {}".format(*from_tap)),
        ("before the product line", f"{_number(feed['membrane_bar'])} bar"),
        ("product", made + ", {} µS/cm, {} mg/L on drying, pH {}".format(*left)),
        ("back pressure", f"{_number(product['back_pressure_bar'])} bar"),
        ("delivered, resin fresh", f"{_number(answer['delivered']['meter_ppm'], 2)} ppm"),
    ]
    if answer["elements"]:
        rows[1] = ("at the membranes", rows[1][1])
        rows += [
            ("drain", f"{_number(drain['flow_l_min'])} L/min at {_number(drain['pressure_bar'])} bar"),
            ("share that becomes product", f"{100 * answer['recovery']:.0f} %"),
            ("dissolved matter kept back", "not known" if rejection is None else f"{100 * rejection:.1f} %"),
        ]
    lines = [first, "", _rows(rows)]
    for number, row in enumerate(answer["elements"], 1):
        flows = f"{_number(row['feed_l_min'])} L/min in, {_number(row['product_l_min'])} L/min through"
        lines.append(f"  membrane {number}: {flows}, {row['flux_l_m2_h']:.1f} L/(m² h)")
    if answer["notes"]:
        lines += ["", "Notes", *(f"  {note}" for note in answer["notes"])]
    return "\n".join(lines)


def _litres(band: Mapping[str, float | None]) -> str:
    if band["value"] is None:
        return "not known"
    text = f"about {_round(band['value'])} L"
    if band["low"] is not None and band["high"] is not None:
        text += f" ({_round(band['low'])} to {_round(band['high'])})"
    return text


def _round(value: float) -> str:
    """Two significant digits, with thousands marked."""
    return f"{float(f'{value:.2g}'):,.0f}"


def _hours(hours: float) -> str:
    return f"{hours:.1f} hours" if hours >= 1.0 else f"{60.0 * hours:.0f} minutes"


def plan_sentences(
    answer: Mapping[str, Any], currency: str, limit_ppm: float, resin_year: ResinYear | None = None
) -> list[str]:
    """The plan as a person would say it, the most important first; ``resin_year``: the resin as the year runs."""
    said = []
    today, cold, warm = answer["today"], answer["coldest"], answer["warmest"]
    made = today["product"]["flow_l_min"]
    one_temperature = all(p is not None and p["temperature_c"] == today["temperature_c"] for p in (cold, warm))
    if one_temperature:
        here = f"At today's {today['temperature_c']:.0f} °C it makes {made:.1f} L/min"
        said.append(f"{here}; how cold the water gets is not known.")
    elif cold is not None:
        said.append(
            f"On the coldest day, {cold['temperature_c']:.0f} °C, it makes {cold['product']['flow_l_min']:.1f} L/min"
            + (f"; a working day's water takes {_hours(cold['fill_hours'])}." if cold["fill_hours"] else ".")
        )
    else:
        said.append("On the coldest day it does not work at all; why is said below.")
    if warm is not None and not one_temperature:
        flow = f"{warm['product']['flow_l_min']:.1f} L/min at {warm['temperature_c']:.0f} °C"
        said.append(f"Today it makes {made:.1f} L/min at {today['temperature_c']:.0f} °C, on the warmest day {flow}.")
    if today["elements"]:
        said.append(_today(today, answer["year"]))
    if answer["resin"] is not None:
        said += _resin(answer["resin"], resin_year, limit_ppm, bool(today["elements"]))
    cost = answer["year"]["cost"]["value"]
    if cost is not None:
        per = answer["year"]["cost_per_m3"]["value"]
        sign = SIGNS.get(currency, f"{currency} ")
        each = f", {sign}{per / 1000.0:.3f} a litre" if per is not None else ""
        said.append(f"A year costs about {sign}{_round(cost)}{each}, of what has a price.")
    stops = [verdict["what"] for verdict in answer["verdicts"] if verdict["verdict"] == "stop"]
    looks = [verdict["what"] for verdict in answer["verdicts"] if verdict["verdict"] == "look"]
    if stops:
        said.insert(0, f"Stop: {'; '.join(stops)}. As proposed it should not be built.")
    elif looks:
        said.append(f"Nothing stops it. Look at: {'; '.join(looks)}.")
    else:
        said.append("Nothing stops it, and nothing needs a second look.")
    return said


def _today(today: Mapping[str, Any], year: Mapping[str, Any]) -> str:
    """Readings and drain at full flow; and what goes to drain over the year, where that is another number."""
    reading = f"{today['feed']['meter_ppm']:.0f} ppm in, {today['product']['meter_ppm']:.0f} ppm behind the membranes"
    drain = f"{today['drain_l_per_product_l']:.1f}"
    made, wasted = ((year.get(key) or {}).get("value") for key in ("product_m3", "drain_m3"))
    if not made or wasted is None or wasted / made < THROTTLED * today["drain_l_per_product_l"]:
        return f"Today: {reading}; {drain} L go to drain for each litre made."
    whole = f"{wasted / made:.1f}"
    return f"Today at full flow: {reading}; {drain} L go to drain for each litre made, over the year {whole}."


def _resin(resin: Mapping[str, Any], year: ResinYear | None, limit_ppm: float, membranes: bool) -> list[str]:
    """First the year, as the plant really runs; then what one filling takes at full flow, and why that differs."""
    said = [year.told()] if year is not None and year.told() else []
    if resin["needed"]:
        lead = "The resin takes"
        if said:
            lead = f"At full flow{' and with new membranes' if membranes else ''} it takes"
            lead = f"{year.always_at_full_flow}, it takes" if year and year.saltier else lead
        said.append(f"{lead} {_litres(resin['litres_to_limit'])} to {limit_ppm:g} ppm" + _slip(resin))
    elif said:
        said.append(f"At full flow the water meets {limit_ppm:g} ppm before the resin.")
    else:
        said.append(f"The water meets {limit_ppm:g} ppm before the resin; the resin is not needed for that limit.")
    if said[0] != said[-1] and year is not None and year.why():
        said[-1] += " " + year.why()
    return said


def _slip(resin: Mapping[str, Any]) -> str:
    slip, end = resin["litres_to_first_slip"]["value"], resin["litres_to_limit"]["value"]
    plateau = resin["plateau_meter_ppm"]["value"]
    if slip is None or end is None or plateau is None or slip > 0.7 * end:
        return "."
    return (
        f"; from {_litres(resin['litres_to_first_slip'])} on it reads about {plateau:.0f} ppm, carbonic acid that "
        "leaves nothing on the glass."
    )


def plan_text(name: str, answer: Mapping[str, Any], sentences: Sequence[str], currency: str) -> str:
    """The plan for a terminal: the sentences, cold to warm, consumables, cost, verdicts, cautions."""
    parts = [name, "", *sentences, "", _points(answer)]
    for row in answer["cartridges"]:
        days = "not known" if row["days"] is None else f"every {row['days']:.0f} days ({row['limited_by']})"
        parts.append(f"  {row['media']} cartridge: {days}")
    if answer["membranes"]:
        ends = answer["membranes"]
        parts.append(f"  membranes: about {ends['years']:.1f} years ({ends['limited_by']})")
    split = answer["cost_split"]
    if split:
        parts += ["", f"A year's cost ({currency})", _rows([(name, f"{value:,.0f}") for name, value in split.items()])]
    parts += ["", "Verdicts"]
    for verdict in answer["verdicts"]:
        parts.append(f"  {verdict['verdict']:<4}  {verdict['what']}: {verdict['why']}")
        if verdict["verdict"] != "fine":
            parts.append(f"        {verdict['do']}")
    parts += ["", "Cautions (local codes and licensed practice come first)"]
    parts += [f"  {caution}" for caution in answer["cautions"]]
    return "\n".join(parts)


def _points(answer: Mapping[str, Any]) -> str:
    rows = [("", "coldest", "today", "warmest")]
    points = [answer["coldest"], answer["today"], answer["warmest"]]

    def row(what: str, say: Callable[[Mapping[str, Any]], str]) -> None:
        cells = ["does not work" if point is None else say(point) for point in points]
        rows.append((what, cells[0], cells[1], cells[2]))

    row("water", lambda p: f"{p['temperature_c']:.0f} °C")
    row("product", lambda p: f"{p['product']['flow_l_min']:.2f} L/min")
    if answer["today"]["elements"]:
        row("drain", lambda p: f"{p['drain']['flow_l_min']:.2f} L/min")
        row("at the membranes", lambda p: f"{p['feed']['membrane_bar']:.2f} bar")
        row("product reads", lambda p: f"{p['product']['meter_ppm']:.0f} ppm")
    else:
        row("before the resin", lambda p: f"{p['product']['meter_ppm']:.0f} ppm")
    row("a day's water takes", lambda p: "not known" if p["fill_hours"] is None else _hours(p["fill_hours"]))
    widths = [max(len(row[column]) for row in rows) for column in range(4)]
    return ("\n").join(
        "  " + "  ".join(f"{cell:<{w}}" for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows
    )


MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def date_of(day: int) -> str:
    """A day of the year, 1 to 365, as "12 February"."""
    month, day_of_month = month_and_day(day)
    return f"{day_of_month} {MONTHS[month - 1]}"


SAME_MINUTES = 15  # no one opens a tap more exactly than that


def earliest_start(starts: Sequence[str | None]) -> tuple[int, int] | None:
    """The month (0 to 11) in which the tap must open first, and by how many minutes before the month that is easiest.

    The times stand on a clock without an end: the first of them is the one that follows the longest pause. None where
    there are no starts.
    """
    minutes = {month: 60 * int(start[:2]) + int(start[3:]) for month, start in enumerate(starts) if start}
    if not minutes:
        return None
    clock = sorted(set(minutes.values()))
    pause, first = max(
        ((at - before) % 1440 or 1440, at) for before, at in zip([clock[-1], *clock], clock, strict=False)
    )
    return next(month for month, at in minutes.items() if at == first), 1440 - pause


def hardest_month(starts: Sequence[str | None]) -> int | None:
    """The month (0 to 11) in which the tap must open first; None where there are no starts or all are much the same."""
    found = earliest_start(starts)
    return found[0] if found and found[1] >= SAME_MINUTES else None


def year_sentences(
    answer: Mapping[str, Any],
    members: int,
    changes: Sequence[tuple[str, str]],
    too_late: Sequence[int],
    currency: str,
    limit_ppm: float,
    always_open: bool = False,
) -> list[str]:
    """A year as a person would say it, the most important first.

    ``changes``: "MM-DD" and what is changed; ``too_late``: months (0 to 11) with no start early enough;
    ``always_open``: the tap may be open at any hour.
    """
    fill_by = _fill_by(answer["latest_fill_start"], too_late, always_open)
    said = [_lasts(answer, members), *fill_by, _brush(answer, limit_ppm)]
    said += _made(answer) + _changed(changes, members) + _year_cost(answer, currency)
    if members == 1:
        said.append("One year without chance: how likely it is to run dry is only counted in many years drawn.")
    return said


def _lasts(answer: Mapping[str, Any], members: int) -> str:
    chances = answer["dry_chance_by_week"]
    worst = max(range(len(chances)), key=lambda week: chances[week])
    litres = answer["short_litres"]["value"]
    if not chances[worst]:
        every = "no day of the year" if members == 1 else f"in {members:,} years drawn no day"
        return f"The water lasts: {every} runs short."
    from_day, days = date_of(7 * worst + 1), _days(_band(answer["short_days"], "days"))
    if members == 1:
        much = f"{days} short of water, {_round(litres)} L in all"
        return f"The water does not last: {much}, the first in the week from {from_day}."
    lasts, share = "may not last", f"{_percent(chances[worst])} of {members:,}"
    if chances[worst] == 1.0:
        lasts, share = "does not last", f"all {members:,}"
    if not answer["short_days"]["value"]:
        most = _number(answer["short_days"]["high"], 2)
        days_of_some = f", one in twenty has {most} or more" if answer["short_days"]["high"] else ""
        return (
            f"The water {lasts}: in the worst week, from {from_day}, it runs short in {share} years drawn. "
            f"Most years have no such day{days_of_some}."
        )
    return (
        f"The water {lasts}: in the worst week, from {from_day}, it runs short in {share} years drawn. "
        f"A year has {days} short of water, {_round(litres)} L in all."
    )


def _days(text: str) -> str:
    """ "1 day" instead of "1 days", "once" instead of "1 times"."""
    return re.sub(r"(?<![\d.,])1 times", "once", re.sub(r"(?<![\d.,])1 days", "1 day", text))


def _percent(share: float) -> str:
    return f"{_number(100.0 * share, 2)} %"


def _band(band: Mapping[str, float | None], unit: str = "", digits: int = 2, sign: str = "") -> str:
    """ "about 5,200 L (3,900 to 6,800)", or without its band where that does not show."""

    def said(key: str) -> str:
        value = band[key]
        return "not known" if value is None else f"{float(f'{value:.{digits}g}'):,.15g}"

    value, low, high = (said(key) for key in ("value", "low", "high"))
    if band["value"] is None:
        return value
    whole = f"{sign}{value} {unit}".rstrip()
    return f"about {whole} ({low} to {high})" if band["low"] is not None and not low == value == high else whole


def _fill_by(starts: Sequence[str | None], too_late: Sequence[int], always_open: bool) -> list[str]:
    """By when the tap must open; where it may always be open, by when if it is shut while water is drawn."""
    found = earliest_start(starts)
    if too_late and always_open:
        months = ", ".join(MONTHS[month][:3] for month in too_late)
        return [
            "Leave the tap open while you draw: filled only before and after, the tank is not full again by the next "
            f"draw on the worst day of these months: {months}."
        ]
    if too_late:
        months = ", ".join(MONTHS[month][:3] for month in too_late)
        rest = "" if found is None else f" In {MONTHS[found[0]]} open it by {starts[found[0]]}."
        return [
            f"No start of filling is early enough for a full tank on the worst day of these months: {months}.{rest}"
        ]
    if found is None:
        return []
    month, ahead = found
    when = "all year" if ahead < SAME_MINUTES else f"{MONTHS[month]} being the hardest month"
    if always_open:
        return [
            "The tap is open all day. If you shut it while you draw, open it by "
            f"{starts[month]} for a full tank, {when}."
        ]
    if ahead < SAME_MINUTES:
        return [f"Open the tap by {starts[month]} for a full tank, all year."]
    return [f"{MONTHS[month]} is the hardest month to fill: open the tap by {starts[month]} for a full tank."]


def _brush(answer: Mapping[str, Any], limit_ppm: float) -> str:
    worst, over = answer["worst_meter_ppm"], answer["days_over_limit"]
    if worst["value"] is None:
        return "What the water reads at the brush is not known."
    if over["value"] or over["high"]:
        many = _days(_band(over, "days"))
        return f"At the brush it reads more than {limit_ppm:g} ppm on {many}; the worst is {_band(worst, 'ppm')}."
    return f"At the brush it reads {_band(worst, 'ppm')} at worst; {limit_ppm:g} ppm is the limit."


def _made(answer: Mapping[str, Any]) -> list[str]:
    drain = answer["drain_m3"]["value"]
    away = f", {_band(answer['drain_m3'], 'm³')} go to drain" if drain else ""
    starts = _days(_band(answer["starts"], "times"))
    return [f"It makes {_band(answer['product_m3'], 'm³')} of water{away}, and starts {starts}."]


def _changed(changes: Sequence[tuple[str, str]], members: int) -> list[str]:
    by_name: dict[str, list[str]] = {}
    for date, what in changes:
        month, day = (int(part) for part in date.split("-"))
        by_name.setdefault(what, []).append(f"{day} {MONTHS[month - 1][:3]}")
    if not by_name:
        return ["Nothing need be changed in the year."]
    when = "Changes" if members == 1 else "Changes, in a year without chance"
    return [f"{when}: " + "; ".join(f"{what} {_dates(dates)}" for what, dates in by_name.items()) + "."]


def _dates(dates: Sequence[str]) -> str:
    """The dates, or how many there are and the first where there are many."""
    if len(dates) > 6:
        return f"{len(dates)} times, first on {dates[0]}"
    return ", ".join(dates)


def _year_cost(answer: Mapping[str, Any], currency: str) -> list[str]:
    cost, each = answer["cost"], answer["cost_per_m3"]["value"]
    if cost["value"] is None:
        return ["No prices are given, so what it costs is not known."]
    sign = SIGNS.get(currency, f"{currency} ")
    per = "" if each is None else f", {sign}{each / 1000.0:.3f} a litre"
    return [f"It costs {_band(cost, sign=sign)}{per}, of what has a price."]


MOST_WEEKS = 10  # told in a terminal
IF_ANY = ("overflow_litres", "frost_days", "membrane_changes")  # not told where there is none
YEAR_ROWS = (
    ("product_m3", "product made", "m³"),
    ("drain_m3", "to drain", "m³"),
    ("starts", "starts of the plant", ""),
    ("short_days", "days short of water", ""),
    ("short_litres", "short in all", "L"),
    ("overflow_litres", "over the tank's brim", "L"),
    ("frost_days", "days lost to frost", ""),
    ("worst_meter_ppm", "worst reading at the brush", "ppm"),
    ("days_over_limit", "days over the limit", ""),
    ("resin_changes", "resin changes", ""),
    ("cartridge_changes", "cartridge changes", ""),
    ("membrane_changes", "membrane changes", ""),
    ("energy_kwh", "electricity", "kWh"),
)


def year_text(
    name: str,
    answer: Mapping[str, Any],
    members: int,
    sentences: Sequence[str],
    notes: Sequence[str],
    always_open: bool = False,
) -> str:
    """The year for a terminal: the sentences, the year in numbers, when to fill, the weeks that run short, notes."""
    option = ["For that give --years, 200 say."] if members == 1 else []
    parts = [name, "", *sentences, *option, ""]
    told = [row for row in YEAR_ROWS if row[0] not in IF_ANY or answer[row[0]]["value"] or answer[row[0]]["high"]]
    parts.append(_rows([(words, _band(answer[key], unit, 3)) for key, words, unit in told]))
    short = [(week, chance) for week, chance in enumerate(answer["dry_chance_by_week"]) if chance]
    if short and members > 1:
        worst = sorted(sorted(short, key=lambda one: -one[1])[:MOST_WEEKS])
        parts += ["", "Chance of a day short of water" + (", worst weeks" if len(short) > MOST_WEEKS else "")]
        parts.append(_rows([(f"week from {date_of(7 * week + 1)}", _percent(chance)) for week, chance in worst]))
    elif len(short) > MOST_WEEKS:
        parts += ["", f"{len(short)} weeks have a day short of water."]
    elif short:
        parts += ["", "Weeks with a day short of water", *(f"  from {date_of(7 * week + 1)}" for week, _ in short)]
    starts = answer["latest_fill_start"]
    if any(starts):
        parts += [
            "",
            f"Open the tap by, for a full tank at the next draw{' (shut while you draw)' if always_open else ''}",
        ]
        parts += ["  " + "  ".join(f"{month[:3]:<5}" for month in MONTHS)]
        parts += ["  " + "  ".join(f"{start or 'none':<5}" for start in starts)]
    said = list(dict.fromkeys([*answer["notes"], *notes]))
    if said:
        parts += ["", "Notes", *(f"  {note}" for note in said)]
    return "\n".join(line.rstrip() for line in parts)

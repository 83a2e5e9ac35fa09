"""What has to be looked after: resin, filters, vans, frost."""

from __future__ import annotations

from collections.abc import Iterator

from rinsewright.planning.resin_year import two
from rinsewright.planning.situation import Situation
from rinsewright.planning.verdicts.word import About, Rule, Verdict, Word
from rinsewright.planning.wording import THROTTLED


def resin_lasts(s: Situation) -> Verdict | None:
    """The year's shortest filling, or one at full flow: under 30 days is a nuisance, under 5 no way to work."""
    if s.plant.resin is None or s.resin is None:
        return None
    year, days = s.resin_year, (s.resin["days_to_limit"] or {}).get("value")
    told = year.told() if year is not None else ""
    if not s.resin["needed"] and not told:
        return Verdict(
            "resin",
            "fine",
            "The water meets the limit before the resin; what the resin adds is a reading near 000.",
            "Keep it if the glass asks for it.",
            s.plant.resin.key,
        )
    spans = [span for span in (days, year.shortest_days if year is not None else None) if span is not None]
    if not spans:
        return None
    span = min(spans)
    word: Word = "stop" if span < 5.0 else "look" if span < 30.0 else "fine"
    saltier = year is not None and year.saltier
    do = {
        "fine": "Change it when the reading climbs from its plateau to the limit, not at the first digit.",
        "look": "A larger vessel, or better membranes before it, would spare visits.",
        "stop": "The membranes leave too much for so little resin: a far larger vessel, or better membranes."
        if s.has_membranes
        else "Resin is the wrong tool for so much salt: put membranes before it, or a far larger vessel.",
    }[word]
    if saltier and s.plant.tank is not None and word != "fine":
        do = f"Fill while nobody draws, at night say: that alone brings it near full flow. {do}"
    return Verdict("resin", word, " ".join(part for part in (told, *_at_full_flow(s)) if part), do, s.plant.resin.key)


def _at_full_flow(s: Situation) -> Iterator[str]:
    """What one filling does if the plant always fills at full flow, and why the year differs."""
    assert s.resin is not None
    year = s.resin_year
    first, last = s.resin["litres_to_first_slip"]["value"], s.resin["litres_to_limit"]["value"]
    days = s.resin["days_to_limit"]["value"]
    if last is not None and days is not None:
        best = "At full flow and with new membranes" if s.has_membranes else "At full flow"
        best = f"{year.always_at_full_flow}," if year is not None and year.saltier else best
        yield f"{best} it reaches its limit after about {two(last)} L, {two(days)} days of this work."
    if year is not None:
        yield year.why()
    if first is not None and last is not None and first < 0.7 * last:
        yield (
            f"From about {two(first)} L the reading then stands near {s.resin['plateau_meter_ppm']['value']:.0f} ppm: "
            "carbonic acid, which leaves nothing on the glass."
        )
    inlet = max(one.answer()["product"]["meter_ppm"] for one in s.states())
    beyond = s.has_membranes and not s.plant.blend_before_resin
    if beyond and s.demand is not None and inlet < 1.3 * s.demand.limit_ppm:
        yield f"The product itself reads up to {inlet:.0f} ppm, so near the limit that this hangs on a few ppm."


def filters(s: Situation) -> Verdict | None:
    """Membranes without a sediment filter before them block."""
    if not s.has_membranes:
        return None
    if s.cartridge("sediment") is None:
        return Verdict(
            "sediment filter",
            "look",
            "There is none before the membranes: grit and rust end in their channels.",
            "Fit a 5 µm sediment cartridge first in the feed line.",
            "plant.feed",
        )
    return None


def frost(s: Situation) -> Verdict | None:
    """Frost bursts housings and ruins membranes."""
    if s.frost_protected:
        return None
    if not s.season_known:
        return Verdict(
            "frost",
            "look",
            "The plant is not protected from frost, and the site file names no season.",
            "Say how cold the water gets ([water.season]), and keep the plant where it cannot freeze.",
        )
    cold = s.coldest.temperature_c < 8.0
    return Verdict(
        "frost",
        "look" if cold else "fine",
        f"The plant is not protected from frost, and its coldest water has {s.coldest.temperature_c:.0f} °C: the "
        "air around "
        "the tap freezes some nights."
        if cold
        else "The plant is not protected from frost; the water stays mild.",
        "Insulate and heat the place, or drain housings and membranes down on frosty nights.",
    )


def van_load(s: Situation) -> Verdict | None:
    """A litre weighs a kilo: the full tank and the kit against what each van may carry."""
    loads = [
        (van.name, van.tank_litres + (van.kit_kg or 0.0) + 80.0, van.payload_kg)
        for van in s.vans
        if van.payload_kg is not None
    ]
    if not loads:
        return None
    name, load, payload = max(loads, key=lambda item: item[1] / item[2])
    word: Word = "stop" if load > payload else "look" if load > 0.9 * payload else "fine"
    return Verdict(
        "weight on the van",
        word,
        f"{name}: full tank, kit and one person (80 kg assumed) are {load:,.0f} kg of {payload:,.0f} kg payload.",
        "Nothing." if word == "fine" else "Fill less or carry less, and have axle loads weighed.",
        "demand.vans",
    )


def short_filters(s: Situation) -> Verdict | None:
    """A cartridge that lasts less than 45 days makes too many visits."""
    short = [row for row in s.cartridges if row["days"] is not None and row["days"] < 45.0]
    if not short:
        return None
    row = min(short, key=lambda each: float(each["days"]))
    return Verdict(
        "cartridges",
        "look",
        f"The {row['media']} cartridge lasts about {row['days']:.0f} days; what ends it: {row['limited_by']}.",
        "A longer or second housing, or a coarser cartridge before it, makes fewer visits.",
    )


def short_days(s: Situation) -> Verdict | None:
    """Days of the year on which less came than was wanted."""
    if s.year is None:
        return None
    days, litres = s.year["short_days"]["value"], s.year["short_litres"]["value"]
    word: Word = "stop" if days > 10.0 else "look" if days > 0.0 else "fine"
    why = (
        (f"Over the year {days:.0f} days run short, by {litres:,.0f} L in all.")
        if days
        else "No day of the year runs short."
    )
    do = "Nothing." if word == "fine" else "A larger tank, more membranes or pressure, or longer filling."
    return Verdict("a year of this work", word, why, do, s.plant.tank.key if s.plant.tank else "")


def many_starts(s: Situation) -> Verdict | None:
    """Each start sends the salt that crept through the standing membranes; many short runs spoil quality."""
    if s.year is None or s.plant.tank is None or not s.has_membranes or s.demand is None:
        return None
    working = sum(1 for volume in s.demand.by_weekday if volume > 0.0) * 52.0
    each = s.year["starts"]["value"] / max(working, 1.0)
    if each <= 10.0:
        return None
    return Verdict(
        "starts",
        "look",
        f"The plant starts about {each:.0f} times a working day; each start sends the salt that crept through "
        "meanwhile.",
        "Fill only while nobody draws, at night say, or use a float that opens only well below the top.",
        s.plant.tank.key,
    )


def throttled(s: Situation) -> Verdict | None:
    """What the float valve's throttling sends to drain over the year, beyond the same water made at full flow."""
    made, waste = (s.year[key]["value"] if s.year else 0.0 for key in ("product_m3", "drain_m3"))
    full = s.today.solved
    if not made or full is None or s.plant.tank is None or not s.plant.stages:
        return None
    at_full = float(full.batch.state.drain_flow[0] / full.batch.state.product_flow[0])
    year = waste / made
    if year < THROTTLED * at_full:
        return None
    return Verdict(
        "drain over the year",
        "look",
        f"Over the year {year:.1f} L go to drain for each litre made, at full flow {at_full:.1f}: the float valve "
        "throttles the product while somebody draws or the tank is all but full, and the waste runs on.",
        "Open the tap only while nobody draws, at night say, or use a float that opens fully well below the top.",
        s.plant.tank.key,
    )


RULES: dict[Rule, About] = {
    resin_lasts: "year",
    filters: "site",
    short_filters: "year",
    short_days: "year",
    many_starts: "year",
    throttled: "year",
    frost: "year",
    van_load: "site",
}

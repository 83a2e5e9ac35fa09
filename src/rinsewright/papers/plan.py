"""The plan sheet: one self-contained HTML page from the answer of the job ``plan``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from rinsewright.papers.content import VERDICTS, PlanPaper
from rinsewright.papers.facts import Facts
from rinsewright.papers.sheets import environment, language
from rinsewright.papers.units import Telling
from rinsewright.papers.words import MONTHS, listed, plain

if TYPE_CHECKING:
    from jinja2 import Template
    from markupsafe import Markup


@dataclass(frozen=True)
class Row:
    """A line of a table over days or of the year: its words, where its number stands, how it is said, its unit."""

    words: str
    keys: tuple[str, ...]
    unit: str
    say: str = "2"
    times: float = 1.0
    membranes: bool = False  # only where there are membranes

    def told(self, telling: Telling) -> Row:
        """The same, its words with the unit of volume that is told."""
        return replace(self, words=self.words if self.unit == "mg" else telling.retell(self.words))


DAYS = ("coldest", "today", "warmest")
DAY_ROWS = (
    Row("product", ("product", "flow_l_min"), "L/min"),
    Row("to drain", ("drain", "flow_l_min"), "L/min", membranes=True),
    Row("from the tap", ("feed", "flow_l_min"), "L/min"),
    Row("drain per litre", ("drain_l_per_product_l",), "L/L", membranes=True),
    Row("recovery", ("recovery",), "%", "share", 100.0, membranes=True),
    Row("rejection", ("rejection",), "%", "3", 100.0, membranes=True),
    Row("membrane pressure", ("feed", "membrane_bar"), "bar", "bar", membranes=True),
    Row("back-pressure", ("product", "back_pressure_bar"), "bar", "bar", membranes=True),
    Row("drain-end pressure", ("drain", "pressure_bar"), "bar", "bar", membranes=True),
    Row("product reading", ("product", "meter_ppm"), "ppm", "ppm", membranes=True),
    Row("delivered reading", ("delivered", "meter_ppm"), "ppm", "ppm"),
    Row("left on glass, per litre", ("delivered", "residue_mg_l"), "mg"),
    Row("CO₂ in product", ("product", "co2_mg_l"), "mg/L"),
    Row("pH delivered", ("delivered", "ph"), "", "ph"),
    Row("fill for an average day", ("fill_hours",), "h"),
)
YEAR_ROWS = (
    Row("product made", ("product_m3",), "m³", "mg"),
    Row("to drain", ("drain_m3",), "m³", "mg"),
    Row("starts of the plant", ("starts",), "times", "whole"),
    Row("days short of water", ("short_days",), "days", "count"),
    Row("litres short", ("short_litres",), "L"),
    Row("resin changes", ("resin_changes",), "times", "count"),
    Row("cartridge changes", ("cartridge_changes",), "times", "count"),
    Row("worst delivered reading", ("worst_meter_ppm",), "ppm", "ppm"),
    Row("days over the limit", ("days_over_limit",), "days", "count"),
    Row("electricity", ("energy_kwh",), "kWh"),
)
SATURATION = {
    "calcite": "lime (calcite)",
    "aragonite": "lime (aragonite)",
    "gypsum": "gypsum",
    "barite": "barium sulphate",
    "celestite": "strontium sulphate",
    "fluorite": "calcium fluoride",
    "silica": "silica",
}
IONS = {
    "Ca": "calcium",
    "Mg": "magnesium",
    "Na": "sodium",
    "K": "potassium",
    "NH4": "ammonium",
    "Fe": "iron",
    "Mn": "manganese",
    "Sr": "strontium",
    "Ba": "barium",
    "HCO3": "alkalinity, as HCO₃",
    "SO4": "sulphate",
    "Cl": "chloride",
    "NO3": "nitrate",
    "F": "fluoride",
    "PO4": "phosphate",
    "SiO2": "silica",
    "B": "boron",
}
STANDINGS = {
    "read": "read in the source or a copy of it",
    "reproduced": "not read, but its values were calculated again and agree",
    "from memory": "not yet checked against the source",
}


@dataclass(frozen=True)
class Target:
    """A number of the plan that uncertain inputs move: its words, how it is said, its unit (none: money)."""

    words: str
    unit: str | None
    nothing: str  # what is said where there is no number
    say: str = "3"


TARGETS = {
    "winter product, L/min": Target("product on the coldest day", "L/min", "no water"),
    "summer reading, ppm": Target("product’s reading on the warmest day", "ppm", "no water"),
    "resin to its limit, L": Target("water from one fill of resin at full flow", "L", "not needed"),
    "cost of a year": Target("cost of a year", None, "no water", "price"),
}
MOST_SWINGS = 6  # lines for each target; the answer holds the smaller ones too


@dataclass(frozen=True)
class Swing:
    """One line of what moves the answer: its place in the answer, and its bar."""

    place: int
    bar: Markup


@dataclass(frozen=True)
class Headline:
    """The one number written large."""

    number: Markup
    unit: str
    caption: Markup


def plan_page(paper: PlanPaper) -> str:
    """The plan sheet as HTML: no script, no request to elsewhere, light and dark, screen and A4.

    Raises KeyError if the answer lacks a key of the contract (a null is printed as "not known").
    """
    from markupsafe import Markup

    from rinsewright.papers.charts import cold_to_warm_charts
    from rinsewright.papers.drawing import path_drawings
    from rinsewright.papers.strips import resin_strip

    telling = paper.telling
    facts = Facts(_root(paper), paper.currency, telling)
    path, answer = telling.retold(paper.path), telling.retold(dict(paper.answer))
    wide, tall = path_drawings(path, paper.site_name)
    resin = answer["resin"]
    strips = [
        resin_strip(resin, paper.product_limit_ppm, width, name, telling)
        for width, name in ((700.0, "strip-wide"), (328.0, "strip-tall"))
    ]
    return _template().render(
        paper=paper,
        answer=answer,
        facts=facts,
        t=telling,
        sentences=telling.summary(paper.sentences, paper.answer),
        headline=_headline(paper, facts),
        resin_in_year=[telling.retell(sentence) for sentence in paper.resin_in_year],
        wide=Markup(wide) if wide else None,  # our own drawings: every text in them is escaped where it is written
        tall=Markup(tall),
        strips=[Markup(strip) for strip in strips if strip],
        charts=[(chart, Markup(chart.svg)) for chart in cold_to_warm_charts(paper)],
        days=[(day, paper.answer[day] is not None) for day in DAYS],
        day_rows=_day_rows(paper, facts),
        year_rows=[row.told(telling) for row in YEAR_ROWS],
        saturation=_saturation(paper.answer, known=True),
        unnamed=listed([SATURATION.get(name, plain(name)) for name in _saturation(paper.answer, known=False)]),
        season=paper.warmest_c > paper.coldest_c,
        ions=_ions(paper.answer, facts),
        verdicts=sorted(answer["verdicts"], key=lambda verdict: VERDICTS.index(verdict["verdict"])),
        costs=_costs(paper.answer["cost_split"]),
        swings=_swings(paper.answer["sensitivities"]),
        lime=_lime(paper),
        assumed=_assumed(paper.answer["assumptions"]),
        STANDINGS={name: words for name, words in STANDINGS.items() if _stands(name, paper.answer["sources"])},
        notes=_notes(answer),
        has_tank=any(part.kind == "tank" for part in paper.path.parts()),
        lang=language(paper.country),
    )


@cache
def _template() -> Template:
    made = environment()
    made.globals.update(MONTHS=MONTHS, ION_WORDS=IONS, SATURATION_WORDS=SATURATION)
    return made.get_template("plan.html.j2")


def _root(paper: PlanPaper) -> dict[str, Any]:
    """What the numbers of the page point into."""
    return {
        "answer": paper.answer,
        "water": paper.water,
        "cold_to_warm": [asdict(row) for row in paper.cold_to_warm],
        "coldest_c": paper.coldest_c,
        "today_c": paper.today_c,
        "warmest_c": paper.warmest_c,
        "product_limit_ppm": paper.product_limit_ppm,
        "calcite_limit": paper.calcite_limit,
        "inhibitor_credit": paper.inhibitor_credit,
        "meter_factor": paper.meter_factor,
    }


def _headline(paper: PlanPaper, facts: Facts) -> Headline:
    """What the plant is chosen by: product on the coldest day; with resin alone, what one fill of it cleans."""
    from markupsafe import Markup

    if not paper.path.membranes:
        litres = facts.number("answer", "resin", "litres_to_limit", "value", unit="L")
        return Headline(litres, facts.telling.word("L"), Markup("from one fill of resin"))
    day, words = (
        ("coldest", "on the coldest day, water at {}") if paper.answer["coldest"] else ("today", "today, water at {}")
    )
    caption = Markup(words).format(facts.measure(f"{day}_c", unit="°C", say="given"))
    if day == "today":
        caption += Markup("; on the coldest day, at {}, the plant makes no water").format(
            facts.measure("coldest_c", unit="°C", say="given")
        )
    unit = facts.telling.word("L/min")
    return Headline(facts.number("answer", day, "product", "flow_l_min", unit="L/min"), unit, caption)


def _day_rows(paper: PlanPaper, facts: Facts) -> list[Row]:
    """The rows that say something of this plant."""
    fitting = [row for row in DAY_ROWS if paper.path.membranes or not row.membranes]
    return [row.told(facts.telling) for row in fitting if facts.any(*(("answer", day, *row.keys) for day in DAYS))]


def _saturation(answer: Mapping[str, Any], *, known: bool) -> list[str]:
    """Minerals with an index on any day, or those with none on all, in the order of the first day that has them."""
    names: dict[str, bool] = {}
    for day in DAYS:
        drain = (answer[day] or {}).get("drain") or {}
        for name, index in (drain.get("saturation") or {}).items():
            names[name] = names.get(name, False) or index is not None
    return [name for name, has_index in names.items() if has_index is known]


def _ions(answer: Mapping[str, Any], facts: Facts) -> list[str]:
    """Ions of the tap water worth a line: those of which anything is there."""
    ions = facts.value("answer", "today", "feed", "ions_mg_l") or {}
    return [name for name in ions if ions[name] is not None and ions[name] >= 0.01]


@dataclass(frozen=True)
class Cost:
    """One line of the yearly cost; ``share`` of the whole in per cent, None if its cost is not known."""

    name: str
    share: float | None


def _costs(split: Mapping[str, float | None]) -> list[Cost]:
    """Largest first, not known last."""
    total = sum(amount or 0.0 for amount in split.values()) or 1.0
    ordered = sorted(split.items(), key=lambda item: -1.0 if item[1] is None else item[1], reverse=True)
    return [Cost(name, None if amount is None else 100.0 * amount / total) for name, amount in ordered]


def _swings(rows: Sequence[Mapping[str, Any]]) -> list[tuple[Target, list[Swing]]]:
    """For each target what moves it most, largest first as the answer has them."""
    found = []
    for name, target in TARGETS.items():
        places = [place for place, row in enumerate(rows) if row["target"] == name][:MOST_SWINGS]
        if places:
            found.append((target, _bars(places, rows, endless=target.nothing == "not needed")))
    return found


def _bars(places: Sequence[int], rows: Sequence[Mapping[str, Any]], *, endless: bool) -> list[Swing]:
    """Bars on one scale. Where there is no number a bar goes beyond all others: to the right if ``endless``."""
    from markupsafe import Markup

    from rinsewright.papers.strips import swing

    found = [rows[place][end] for place in places for end in ("low", "central", "high")]
    known = [value for value in found if value is not None]
    least, most = min(known), max(known)
    beyond = most + 0.12 * (most - least) if endless else least - 0.12 * (most - least)
    span = (min(least, beyond), max(most, beyond)) if None in found else (least, most)
    swings = []
    for place in places:
        low, high = (beyond if rows[place][end] is None else rows[place][end] for end in ("low", "high"))
        swings.append(Swing(place, Markup(swing(low, rows[place]["central"], high, span))))
    return swings


DEFAULT = "default, not given in the site file"


def _assumed(rows: Sequence[Mapping[str, Any]]) -> tuple[list[int], list[int]]:
    """Places of what was assumed, and of the keys left to their defaults."""
    defaults = [place for place, row in enumerate(rows) if row["origin"] == DEFAULT]
    return [place for place in range(len(rows)) if place not in defaults], defaults


@dataclass(frozen=True)
class Lime:
    """The rows (by number) of the table from cold to warm at which lime's index is first and last known, and the first
    above the limit.
    """

    cold: int
    warm: int
    above: int | None


def _lime(paper: PlanPaper) -> Lime | None:
    """How lime's index goes from cold to warm; None where the water brings none."""
    rows = [(place, row.calcite_si_wall) for place, row in enumerate(paper.cold_to_warm)]
    known = [(place, index) for place, index in rows if index is not None]
    if not known:
        return None
    above = next((place for place, index in known if index > paper.calcite_limit), None)
    return Lime(known[0][0], known[-1][0], above)


def _stands(standing: str, sources: Sequence[Mapping[str, str]]) -> bool:
    return any(source["standing"] == standing for source in sources)


def _notes(answer: Mapping[str, Any]) -> list[str]:
    """Notes of the three days and of the year, each once."""
    found: Sequence[str] = [note for key in (*DAYS, "year") for note in (answer[key] or {}).get("notes") or ()]
    return list(dict.fromkeys(found))

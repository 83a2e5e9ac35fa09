"""Tap: what comes out of the wall? The water and its pressure; what was measured, and the water company's report."""

from __future__ import annotations

import base64
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.errors import InputError
from rinsewright.papers.units import Units
from rinsewright.papers.words import fixed, number, opening
from rinsewright.site.schema import IonsMgL, SupplyTable, WaterTable
from rinsewright.web.forms import REFUSED, Typed, month_day, posted
from rinsewright.web.keeping import Seen, keep, made_from_of, seen_of, table_of
from rinsewright.web.lines import Path, put_in, table_at, write
from rinsewright.web.pages.entries import Entries, day_said, entries_of
from rinsewright.web.report_terms import molar_mass
from rinsewright.web.reports import Choice, Report, Row, decoded, read_report, workbook_text
from rinsewright.web.sections import Filled, Section, filled, saved
from rinsewright.web.view import back_to, engine_of, page
from rinsewright.web.words import words

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

# Classes of hardness of the US Geological Survey [mg/L as CaCO3] (from memory).
HARDNESS = (("soft", 60.0), ("moderate", 120.0), ("hard", 180.0), ("very_hard", float("inf")))
RESIN_ALONE_PPM, MEMBRANES_PPM = 100.0, 150.0  # on a meter of factor 0.5: common practice, no source
MUCH_CO2 = 5.0  # mg/L that is worth a word, as it passes the membranes: a judgement
METER = 0.5
GLASS_PPM = 10.0  # on a meter of that factor, below which glass dries without a visible mark (common practice)
METER_PPM = (1.0, 15000.0)
LONGEST_REPORT = 500_000  # characters; it travels with its preview
NUMBERS = (
    ("meter_ppm", "ppm"),
    ("hardness_mg_l_caco3", "mg/L"),
    ("alkalinity_mg_l_caco3", "mg/L"),
    ("ph", ""),
    ("co2_mg_l", "mg/L"),
    ("residue_mg_l", "mg/L"),
    ("tds_mg_l", "mg/L"),
    ("conductivity_us_cm", "µS/cm"),
)
MEASURED = (
    *("temperature_c", "ph", "free_chlorine_mg_l", "total_chlorine_mg_l", "meter_ppm", "meter_factor"),
    *("hardness_mg_l_caco3", "alkalinity_mg_l_caco3", "coldest_c", "standing_bar", "flowing"),
)
LEAST = ("Ca", "HCO3")  # without these an analysis tells neither hardness nor what holds it in solution
WATER, OTHERS, FIELD = ("water",), ("water", "changes"), ("water", "field")
CACO3_OF_HCO3 = 0.5 * molar_mass("CaCO3") / molar_mass("HCO3")
OWN_KEYS = ("ph", "free_chlorine_mg_l", "total_chlorine_mg_l")  # of a report, beside the ions


def sections() -> dict[str, Section]:
    """The tables of the site file that are filled in here."""
    hows = {key: words()(f"tap.how.{key}") for key in MEASURED}
    found = (
        Section("water", words()("tap.form.water"), WaterTable, ("water",), ("ions_mg_l", "changes"), hows),
        Section("supply", words()("tap.form.supply"), SupplyTable, ("supply",), (), hows),
        Section("analysis", words()("tap.form.analysis"), IonsMgL, ("water", "ions_mg_l"), goes_when_empty=True),
    )
    return {section.name: section for section in found}


@dataclass(frozen=True)
class NumberLine:
    """A number of the water: its band, what it means, how it is measured with what is in the van."""

    key: str
    said: str
    band: str


@dataclass(frozen=True)
class TapPage:
    """The page; without a water described ``first`` says so and there are no numbers."""

    slug: str
    address: str
    reading: str
    by_analysis: bool  # the reading is worked out from an analysis, not the one that was taken
    first: str
    means: tuple[str, ...]
    numbers: tuple[NumberLine, ...]
    ions: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...]
    forms: tuple[Filled, ...]
    changes: Entries
    made_from: int
    report: Typed


@dataclass(frozen=True)
class ReportPage:
    """What was understood of a report, before any of it is taken; ``ticked`` are the rows to be taken."""

    address: str
    report: Report
    ticked: Collection[int]
    text: str
    made_from: int
    typed: Typed
    needs_meter: bool = False
    alarm: str = ""

    @property
    def rows(self) -> tuple[Row, ...]:
        """What was read."""
        return self.report.rows

    @property
    def chosen(self) -> dict[str, str]:
        """The sheet and the column that the rows come from, where there are several."""
        return {choice.name: choice.chosen for choice in self.report.choices if choice.chosen}

    @property
    def asked(self) -> Choice | None:
        """What must be chosen before there are rows."""
        return next((choice for choice in self.report.choices if not choice.chosen), None)

    @property
    def known(self) -> list[tuple[int, Row]]:
        """Rows that mean something here, with their numbers."""
        return [(n, row) for n, row in enumerate(self.rows) if row.key is not None]

    @property
    def unknown(self) -> list[Row]:
        """The others."""
        return [row for row in self.rows if row.key is None]


# ---- the page ----


def show(request: Request) -> Response:
    """The page."""
    return page(request, "tap.html", _content(request, seen_of(request)))


def _content(request: Request, seen: Seen, refused: Filled | None = None, report: Typed | None = None) -> TapPage:
    units = seen.units
    try:
        water, alarm = _water(request, seen), ""
    except InputError as refusal:  # what contradicts itself can be put right in the forms below
        water, alarm = None, str(refusal)
    forms = (filled(seen, section) for section in sections().values())
    given = seen.site.document.model.water
    return TapPage(
        slug=seen.slug,
        address=str(request.app.url_path_for("tap", slug=seen.slug)),
        reading=units.number("reading", water["meter_ppm"], seen.site.tap.meter_factor) if water else "",
        by_analysis=given is not None and given.ions_mg_l is not None,
        first=alarm or _first(water),
        means=tuple(_means(water, seen)) if water else (),
        numbers=tuple(_numbers(water, seen, units)) if water else (),
        ions=tuple(_ions(water)) if water else (),
        notes=tuple(water["notes"]) if water else (),
        forms=tuple(refused if refused and refused.name == form.name else form for form in forms),
        changes=entries_of(request, seen, "changes"),
        made_from=seen.number,
        report=report or Typed(),
    )


def _water(request: Request, seen: Seen) -> Mapping[str, Any] | None:
    """The answer `water`, remembered; None where the water is not described."""
    if seen.site.document.model.water is None:
        return None
    return engine_of(request).shelf.get(("water", seen.toml), lambda: seen.site.water().answer())


def hardness_word(mg_l_caco3: float) -> str:
    """Hard or soft, in words."""
    return words()(f"tap.class.{next(name for name, most in HARDNESS if mg_l_caco3 <= most)}")


def _first(water: Mapping[str, Any] | None) -> str:
    if water is None:
        return words()("tap.not_described")
    return words()("tap.first", hard=hardness_word(water["hardness_mg_l_caco3"]))


def _means(water: Mapping[str, Any], seen: Seen) -> Iterator[str]:
    """What the water means for the glass and for the plant."""
    t = words()
    clear = seen.units.say("reading", GLASS_PPM, METER)
    yield t("tap.glass", residue=number(water["residue_mg_l"]), clear=clear)
    ppm = METER * water["conductivity_us_cm"]
    yield t("tap.resin_alone" if ppm < RESIN_ALONE_PPM else "tap.either" if ppm < MEMBRANES_PPM else "tap.membranes")
    has_softener = any(part.part == "softener" for part in (seen.site.document.model.plant or _NoPlant).feed)
    if water["hardness_mg_l_caco3"] > HARDNESS[1][1] and not has_softener:
        yield t("tap.scales")
    if water["co2_mg_l"] > MUCH_CO2:
        yield t("tap.gas", co2=number(water["co2_mg_l"]))


class _NoPlant:
    feed: tuple[Any, ...] = ()


def _numbers(water: Mapping[str, Any], seen: Seen, units: Units) -> Iterator[NumberLine]:
    factor = seen.site.tap.meter_factor
    for key, word in NUMBERS:
        band = water["bands"].get(key)

        def say(value: float, key: str = key) -> str:
            if key == "meter_ppm":
                return units.number("reading", value, factor)
            return fixed(value, 1) if key == "ph" else number(value)

        unit = f"\N{NO-BREAK SPACE}{word}" if word else ""
        told = words()("tap.band", low=say(band["low"]), high=say(band["high"])) if band else ""
        yield NumberLine(key, f"{say(water[key])}{unit}", told)


def _ions(water: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    for ion, value in water["ions_mg_l"].items():
        band = water["bands"].get(f"ions_mg_l.{ion}")
        told = words()("tap.band", low=number(band["low"]), high=number(band["high"])) if band else ""
        title = IonsMgL.model_fields[ion].title or ion
        yield opening(title), f"{number(value)}\N{NO-BREAK SPACE}mg/L", told


# ---- what was measured ----


@posted
def save(request: Request, typed: Typed) -> Response:
    """Keep one of the forms."""
    section = sections().get(request.path_params["table"])
    return saved(request, typed, seen_of(request), section, "tap", _content)


# ---- the report ----


async def report(request: Request) -> Response:
    """Read a report, from a file or pasted, and show what was understood."""
    async with request.form(max_files=1, max_fields=20) as form:
        file, text = form.get("file"), form.get("text")
        sent = {name: value for name, value in form.multi_items() if isinstance(value, str)}
        raw = b"" if file is None or isinstance(file, str) else await file.read()
    pasted = text if isinstance(text, str) else ""
    return await run_in_threadpool(_preview, request, raw, pasted, sent)


def _preview(request: Request, raw: bytes, pasted: str, sent: Mapping[str, str]) -> Response:
    seen, typed = seen_of(request), Typed({"text": pasted})
    text = pasted
    try:
        if raw:
            text = workbook_text(raw) if raw.startswith(b"PK") else decoded(raw)
        elif "report" in sent:  # another sheet or column of what was read before
            text = _unpacked(sent["report"])
    except InputError as refusal:
        typed.refuse("text", str(refusal))
    if len(text) > LONGEST_REPORT:
        typed.refuse("text", words()("reports.too_large"))
    told = read_report(text, sent.get("sheet", ""), sent.get("column", "")) if typed.ok else Report(())
    if typed.ok and not told.is_open and not any(row.key for row in told.rows):
        typed.refuse("text", words()("tap.report_empty" if not text.strip() else "tap.report_nothing"))
    if not typed.ok:
        return page(request, "tap.html", _content(request, seen, report=typed), status=REFUSED)
    ticked = {n for n, row in enumerate(told.rows) if row.is_taken}
    alarm = words()("tap.analysis_wins") if _has_reading(told) and _has_analysis(seen) else ""
    return page(request, "report.html", _report(request, seen, told, ticked, text, Typed(units=seen.units), alarm))


def _has_reading(told: Report) -> bool:
    """Whether a report's hardness is a reading, as no calcium is told."""
    return any(row.key == "hardness" and row.is_taken for row in told.rows)


def _has_analysis(seen: Seen) -> bool:
    return bool(table_of(seen.toml, (*WATER, "ions_mg_l")))


def _unpacked(report: str) -> str:
    try:
        return base64.b64decode(report, validate=True).decode()
    except ValueError:
        raise HTTPException(400) from None


def _report(
    request: Request,
    seen: Seen,
    told: Report,
    ticked: Collection[int],
    text: str,
    typed: Typed,
    alarm: str = "",
) -> ReportPage:
    address = str(request.app.url_path_for("tap", slug=seen.slug))
    packed = base64.b64encode(text.encode()).decode()
    needs_meter = _has_reading(told) and not table_of(seen.toml, FIELD)
    return ReportPage(address, told, ticked, packed, seen.number, typed, needs_meter, alarm)


@posted
def take(request: Request, typed: Typed) -> Response:
    """Put the ticked rows of a report into the site: into its water, or into another one from a day of the year on."""
    seen = seen_of(request)
    text = _unpacked(typed.values.get("report", ""))
    told = read_report(text, typed.values.get("sheet", ""), typed.values.get("column", ""))
    ticked = [n for n, row in enumerate(told.rows) if f"take {n}" in typed.values and row.value is not None]
    chosen = [told.rows[n] for n in ticked]
    if any(row.key == "hardness" for row in chosen):
        alarm, status = _take_readings(request, seen, chosen, typed)
    else:
        alarm, status = _take_analysis(request, seen, chosen, typed)
    if typed.ok and not alarm:
        return back_to(str(request.app.url_path_for("tap", slug=seen.slug)))
    return page(request, "report.html", _report(request, seen, told, ticked, text, typed, alarm), status=status)


def _take_analysis(request: Request, seen: Seen, chosen: list[Row], typed: Typed) -> tuple[str, int]:
    """Put rows into the analysis; what is to be said where that is refused, and its status."""
    day = month_day(typed.text("from", optional=True))
    others = list(table_of(seen.toml, OTHERS)) if day else []
    place = next((n for n, other in enumerate(others) if other["from"] == day), len(others))
    path: Path = (*OTHERS, place) if day else WATER
    is_new = bool(day) and place == len(others)
    of_water = [row for row in chosen if row.key in (*IonsMgL.model_fields, *(("ph",) if day else OWN_KEYS))]

    def change(document: TOMLDocument) -> None:
        if is_new:
            put_in(document, OTHERS, place, {"from": day})
        _put(document, path, of_water)

    if not of_water:
        return words()("tap.none_ticked"), REFUSED
    if _too_little(None if is_new else table_of(seen.toml, path), of_water):
        return words()("tap.too_little"), REFUSED
    key = f"{'.'.join(OTHERS)}[{place}]" if day else WATER[0]
    return keep(request, seen, made_from_of(typed, seen), change, lambda _: _what(of_water, day), typed, key)


def _take_readings(request: Request, seen: Seen, chosen: list[Row], typed: Typed) -> tuple[str, int]:
    """Put a hardness, and an alkalinity with it, beside the meter's reading; as above."""
    t = words()
    if typed.values.get("from", "").strip():
        return t("tap.too_little"), REFUSED
    if _has_analysis(seen):
        return t("tap.analysis_wins"), REFUSED
    changed: dict[Path, Any] = {}
    if not table_of(seen.toml, FIELD):  # a hardness stands beside a reading of the meter
        changed = {("meter_ppm",): typed.number("meter_ppm", *METER_PPM), ("meter_factor",): typed.units.ppm_factor}
        if not typed.ok:
            return t("forms.refused"), REFUSED
    rows = [row for row in chosen if row.key in ("hardness", "HCO3", *OWN_KEYS)]
    values = {row.key: row.value for row in rows if row.value is not None}
    changed["hardness_mg_l_caco3",] = float(f"{values['hardness']:.4g}")
    if "HCO3" in values:
        changed["alkalinity_mg_l_caco3",] = float(f"{values['HCO3'] * CACO3_OF_HCO3:.4g}")

    def change(document: TOMLDocument) -> None:
        _put(document, WATER, [row for row in rows if row.key in OWN_KEYS])
        table_at(document, FIELD)
        write(document, FIELD, changed)

    return keep(request, seen, made_from_of(typed, seen), change, lambda _: _what(rows, ""), typed, WATER[0])


def _what(rows: list[Row], day: str) -> str:
    """What was taken, for the site's history."""
    t = words()
    ions = ", ".join(dict.fromkeys(str(row.key).partition("_mg_l")[0] for row in rows))
    return t("tap.was_taken_from", day=day_said(day), ions=ions) if day else t("tap.was_taken", ions=ions)


def _too_little(water: Mapping[str, Any] | None, rows: list[Row]) -> bool:
    """Whether the rows would make an analysis that says less than a meter: an analysis always wins over readings.

    ``water`` is what they go into, None for a new one, which is nothing without an analysis.
    """
    ions = {row.key for row in rows if row.key in IonsMgL.model_fields}
    return bool(ions or water is None) and not set(LEAST) <= ions | set((water or {}).get("ions_mg_l", ()))


def _put(document: TOMLDocument, path: Path, rows: list[Row]) -> None:
    changed: dict[Path, Any] = {}
    for row in rows:
        assert row.key is not None
        assert row.value is not None
        way = (row.key,) if row.key in OWN_KEYS else ("ions_mg_l", row.key)
        changed[way] = float(f"{row.value:.4g}")
    if path == WATER and ("ph",) in changed:
        changed["ph_from",] = "report"
    if path == WATER and any(len(way) > 1 for way in changed):
        table_at(document, (*path, "ions_mg_l"))  # under a head of its own
    write(document, path, changed)


AT = "/sites/{slug}/tap"
routes = (
    Route(AT, show, name="tap"),
    Route(f"{AT}/report", report, methods=["POST"], name="read-report"),
    Route(f"{AT}/report/take", take, methods=["POST"], name="take-report"),
    Route(f"{AT}/{{table}}", save, methods=["POST"], name="save-tap"),
)

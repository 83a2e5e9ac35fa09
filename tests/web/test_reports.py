"""A water company's report: every layout, name and unit that is understood, and what was done with each number."""

from __future__ import annotations

import io
import re
import tomllib
from datetime import date
from html import unescape
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from rinsewright.errors import InputError
from rinsewright.store.book import Book
from rinsewright.web import reports
from rinsewright.web.report_terms import factor, key_of, milligrams, told_in
from rinsewright.web.reports import Row, read_report

from .served import DEMO

LOOSE = """Calcium 104 mg/l
Magnesium: 4.5 mg/l Mg
Sodium = 14
Nitrate as N 5.4 mg/l
Alkalinity as CaCO3 235 mg/l
Iron <10 µg/l
pH 7.4
Conductivity at 20 °C 590 µS/cm
Chloride 26,5 mg/l"""

ENGLISH = """Parameter,Units,No. of samples,Min,Mean,Max,PCV
Calcium,mg Ca/l,12,98,104.2,110,
"Hardness, total",mg/l CaCO3,12,260,275,290,
Alkalinity,mg HCO3/l,12,280,285,290,
Chloride,mg Cl/l,12,20,26,31,250
Manganese,µg Mn/l,12,<1,<1,2,50
Phosphorus,mg P/l,12,0.3,0.5,0.9,
Hydrogen ion,pH value,12,7.2,7.4,7.6,6.5-9.5
Residual chlorine - free,mg/l,12,0.1,0.3,0.5,
Residual chlorine - total,mg/l,12,0.1,0.35,0.5,
Turbidity,NTU,12,0.1,0.3,0.5,4
Nitrite,mg NO2/l,12,0.01,0.01,0.01,0.5
Fluoride,mg F/l,12,,Not detected,,1.5"""

GERMAN = """Parameter;Einheit;Messwert;Grenzwert
Calcium;mg/l;104,2;
Säurekapazität bis pH 4,3;mmol/l;4,67;
Gesamthärte;°dH;15,4;
Nitrat;mg/l;24,125;50
Natrium;mg/l;14,1;200
Eisen;mg/l;< 0,01;0,2"""


def by_key(text: str) -> dict[str | None, Row]:
    return {row.key: row for row in reversed(read_report(text).rows)}


def values(text: str) -> dict[str | None, float | None]:
    return {key: row.value for key, row in by_key(text).items() if row.is_taken}


# ---- conversions: from the definitions, worked by hand with rounded masses (from memory) ----


@pytest.mark.parametrize(
    ("key", "species", "wanted"),
    [
        ("NO3", "N", 4.427),
        ("NH4", "N", 1.288),
        ("NH4", "NH3", 1.059),
        ("PO4", "P", 3.066),
        ("PO4", "P2O5", 1.338),
        ("SO4", "S", 2.996),
        ("SiO2", "Si", 2.139),
        ("HCO3", "CaCO3", 1.219),
        ("HCO3", "CO3", 2.034),
        ("Ca", "CaCO3", 0.4004),
        ("Mg", "CaCO3", 0.2428),  # by equivalents, M/|z| over 50.04
        ("Na", "CaCO3", 0.4594),
        ("NO3", "CaCO3", 1.239),
        ("SiO2", "CaCO3", None),  # it has no charge
        ("PO4", "CaCO3", None),  # its charge depends on the pH
        ("hardness", "Ca", 2.497),
        ("hardness", "CaO", 1.785),
        ("Ca", "Ca", 1.0),
        ("NO3", "P", None),
    ],
)
def test_a_mass_told_as_something_else(key: str, species: str, wanted: float | None) -> None:
    found = factor(key, species)
    assert found == (None if wanted is None else pytest.approx(wanted, rel=5e-4))


@pytest.mark.parametrize(
    ("key", "unit", "species", "wanted"),
    [
        ("hardness", "°dH", "", 17.85),  # a German degree is 10 mg/L of CaO, by definition
        ("hardness", "German degrees", "", 17.85),
        ("hardness", "°fH", "", 10.0),  # a French one 10 mg/L of CaCO3, by definition
        ("hardness", "°Clark", "", 14.25),  # an English one a grain of CaCO3 in a gallon, by definition
        ("hardness", "mmol/l", "", 100.09),
        ("HCO3", "mmol/l", "", 61.02),
        ("HCO3", "mmol/l", "CaCO3", 122.03),
        ("HCO3", "meq/l", "", 61.02),
        ("Ca", "meq/l", "", 20.04),
        ("Ca", "mmol/l", "", 40.08),
        ("Fe", "µg/l", "", 0.001),
        ("Fe", "ug Fe/l", "", 0.001),
        ("Na", "ppm", "", 1.0),
        ("Na", "mg·l⁻¹", "", 1.0),
        ("Na", "g/l", "", 1000.0),
        ("Na", "Bq/l", "", None),
        ("hardness", "mg/l", "", 1.0),
    ],
)
def test_a_unit(key: str, unit: str, species: str, wanted: float | None) -> None:
    found, _ = milligrams(key, unit, species)
    assert found == (None if wanted is None else pytest.approx(wanted, rel=5e-4))


# ---- names and numbers ----


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("Calcium", "Ca"),
        ("calcium (as Ca)", "Ca"),
        ("Ca2+", "Ca"),
        ("Ca", "Ca"),
        ("K", "K"),
        ("NO3-", "NO3"),
        ("SO4²⁻", "SO4"),
        ("Total Hardness as CaCO3", "hardness"),
        ("Calcium hardness", "Ca"),
        ("Non-carbonate hardness", None),
        ("Bicarbonate alkalinity", "HCO3"),
        ("Nitrite", None),
        ("Nitrite/Nitrate formula", None),
        ("Sodium hypochlorite", None),
        ("Chlorine - free", "free_chlorine_mg_l"),
        ("Total chlorine", "total_chlorine_mg_l"),
        ("pH", "ph"),
        ("pH-Wert", "ph"),
        ("Conductivity", None),
        ("Taste", None),
        ("Environmental", None),
        ("", None),
    ],
)
def test_a_name(name: str, key: str | None) -> None:
    assert key_of(name) == key


@pytest.mark.parametrize(
    ("text", "value", "word"),
    [
        ("104", 104.0, ""),
        ("1,204", None, "two ways"),
        ("1.204", None, "two ways"),
        ("1,204.5", 1204.5, ""),
        ("1.204,5", 1204.5, ""),
        ("1 204,5", 1204.5, ""),
        ("1.2.3", None, "not a number"),
        ("0.3 ± 0.05", 0.3, ""),
        ("nicht nachweisbar", None, "not detected"),
        ("n.b.", None, "not measured"),
        ("12.03.2024", None, ""),
        ("0,123", 0.123, ""),
        ("12,5", 12.5, ""),
        ("<0.05", 0.025, "half of it"),
        ("< 10", 5.0, "half of it"),
        (">3", 3.0, "at least"),
        ("0.1 - 0.3", 0.2, "middle"),
        ("20 to 30", 25.0, "middle"),
        ("not detected", None, "not detected"),
        ("n.d.", None, "not detected"),
        ("1e-2", 0.01, ""),
        ("1e999", None, "not a number"),
        ("twelve", None, ""),
        ("", None, ""),
    ],
)
def test_a_number(text: str, value: float | None, word: str) -> None:
    told = told_in(text)
    found, notes = told.value, told.notes
    assert found == (None if value is None else pytest.approx(value))
    assert word in " ".join(notes)
    assert bool(word) == bool(notes)


# ---- whole reports ----


def test_loose_lines() -> None:
    found = values(LOOSE)
    assert found == pytest.approx(
        {"Ca": 104, "Mg": 4.5, "Na": 14, "NO3": 23.9047, "HCO3": 286.530, "Fe": 0.005, "ph": 7.4, "Cl": 26.5}, rel=1e-4
    )
    rows = by_key(LOOSE)
    assert rows["Na"].notes == ("no unit given: mg/L taken",)
    assert rows["NO3"].notes == ("given as N", "× 4.427")
    assert rows[None].name == "Conductivity"
    assert not rows[None].is_taken


def test_a_table_with_means_takes_the_means_and_says_so() -> None:
    found, rows = values(ENGLISH), by_key(ENGLISH)
    assert found["Ca"] == 104.2
    assert found["HCO3"] == 285
    assert found["Cl"] == 26  # and neither its number of samples nor its limit
    assert found["PO4"] == pytest.approx(0.5 * 3.0662, rel=1e-4)
    assert found["Mn"] == pytest.approx(0.0005)
    assert (found["ph"], found["free_chlorine_mg_l"], found["total_chlorine_mg_l"]) == (7.4, 0.3, 0.35)
    assert rows["Ca"].notes == ("the column of means",)
    assert {row.name for row in read_report(ENGLISH).rows if row.key is None} == {"Turbidity", "Nitrite"}


def test_what_was_not_detected_is_shown_and_not_taken() -> None:
    row = by_key(ENGLISH)["F"]
    assert row.value is None
    assert not row.is_taken
    assert row.notes == ("not detected: not taken",)


def test_magnesium_follows_from_hardness_and_calcium() -> None:
    row = by_key(ENGLISH)["Mg"]
    assert row.value == pytest.approx((275 / 100.0869 - 104.2 / 40.078) * 24.305, rel=1e-6)
    assert row.notes == ("what calcium leaves of the hardness",)
    assert "Mg" not in by_key("Calcium 104 mg/l\nHardness 200 mg/l")  # calcium alone is more than that


def test_decimal_commas_and_german_names() -> None:
    found = values(GERMAN)
    assert found["Ca"] == 104.2
    assert found["HCO3"] == pytest.approx(4.67 * 61.0168)
    assert found["NO3"] == 24.125  # not twenty-four thousand: commas are decimal here
    assert found["Fe"] == pytest.approx(0.005)
    assert by_key(GERMAN)["hardness"].value == pytest.approx(15.4 * 17.848, rel=1e-4)


def test_lowest_and_highest_alone_give_their_middle() -> None:
    row = by_key("Determinand\tMinimum\tMaximum\tUnits\nSulphate\t20\t30\tmg/l")["SO4"]
    assert row.value == 25.0
    assert row.notes == ("the middle of lowest and highest",)


def test_units_in_names_and_heads() -> None:
    assert values("Substance;Result (µg/l)\nIron;12\nManganese;4") == pytest.approx({"Fe": 0.012, "Mn": 0.004})
    assert values("Name | Value\nIron (µg/l) | 12\nSodium (mg/l) | 14") == pytest.approx({"Fe": 0.012, "Na": 14})


def test_columns_held_apart_by_blanks() -> None:
    text = "Calcium              104       mg/l\nTotal alkalinity     235     mg/l CaCO3\nAmmonium     0.02   mg N/l"
    assert values(text) == pytest.approx({"Ca": 104, "HCO3": 286.53, "NH4": 0.02 * 1.28785}, rel=1e-4)


def test_the_first_of_two_is_taken_and_what_is_not_plausible_is_not() -> None:
    rows = read_report("Nitrate 24 mg/l\nNitrate as N 5.4 mg/l\nCalcium 104000 mg/l\nSodium 3 furlongs/l\npH 74").rows
    assert [row.is_taken for row in rows] == [True, False, False, False, False]
    assert "told twice: the first is taken" in rows[1].notes
    assert "not plausible" in rows[2].notes
    assert rows[3].notes == ("the unit “furlongs/l” is not understood here",)


def test_alkalinity_without_its_species_is_taken_as_caco3_and_bicarbonate_as_itself() -> None:
    assert values("Alkalinity 235 mg/l") == pytest.approx({"HCO3": 286.53}, rel=1e-4)
    assert "taken as CaCO3" in by_key("Alkalinity 235 mg/l")["HCO3"].notes
    assert values("Bicarbonate 285 mg/l") == pytest.approx({"HCO3": 285})


# ---- which column holds the results ----

LIMITS = """Parameter;Einheit;Grenzwert;Messwert
Natrium;mg/l;200;14,1
Chlorid;mg/l;250;26
pH-Wert;;6,5-9,5;7,4
Calcium;mg/l;;104

Parameter\tEinheit\tAnforderung TrinkwV\tAnalysenwert
Natrium\tmg/l\t200\t14,1
Chlorid\tmg/l\t250\t26
pH\t\t6,5-9,5\t7,4
Calcium\tmg/l\t\t104

Parameter | Units | Prescribed concentration or value | Result
Sodium | mg/l | 200 | 14.1
Chloride | mg/l | 250 | 26
Hydrogen ion | pH value | 6.5-9.5 | 7.4
Calcium | mg/l | | 104

Paramètre;Unité;Limite de qualité;Référence de qualité;Résultat
Sodium;mg/l;;200;14,1
Chlorures;mg/l;;250;26
pH;unité pH;;6,5-9;7,4
Calcium;mg/l;;;104

Parámetro;Unidad;Valor paramétrico;Valor medido
Sodio;mg/L;200;14,1
Cloruros;mg/L;250;26
pH;;6,5-9,5;7,4
Calcio;mg/L;;104

Parametro|Unità di misura|Limite D.Lgs.|Valore riscontrato
Sodio|mg/l|200|14,1
Cloruri|mg/l|250|26
pH||6,5-9,5|7,4
Calcio|mg/l||104

Parameter;Eenheid;Wettelijke norm;Gemeten gehalte
Natrium;mg/l;150;14,1
Chloride;mg/l;150;26
Zuurgraad;pH;7,0-9,5;7,4
Calcium;mg/l;;104

Contaminant\tUnits\tMCL\tLevel Detected\tRange
Sodium\tppm\tN/A\t14.1\t10-18
Chloride\tppm\t250\t26\t20-30
pH\t\t6.5-8.5\t7.4\t7.0-7.8
Calcium\tppm\t\t104\t90-110

Lfd. Nr.;Parameter;Verfahren;Einheit;Bestimmungsgrenze;Messwert;Messunsicherheit;Grenzwert
1;Natrium;DIN 38406;mg/l;0,5;14,1;1;200
2;Chlorid;ISO 10304;mg/l;0,5;26;2;250
3;pH;ISO 10523;;;7,4;0,1;
4;Calcium;ISO 11885;mg/l;0,5;104;5;

Parameter        Einheit   Grenzwert  Messwert
Natrium          mg/l           200      14,1
Chlorid          mg/l           250      26
pH-Wert                     6,5-9,5      7,4
Calcium          mg/l                    104

Datum;Natrium;Chlorid;pH;Calcium
;mg/l;mg/l;;mg/l
12.03.2024;14,1;26;7,4;104"""


@pytest.mark.parametrize("text", LIMITS.split("\n\n"))
def test_a_limit_is_never_taken_for_the_measurement(text: str) -> None:
    assert values(text) == pytest.approx({"Na": 14.1, "Cl": 26, "ph": 7.4, "Ca": 104})


@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("Parameter;Nord;Süd\nCalcium;104;60\nNatrium;14;8", ["Nord", "Süd"]),
        ("Parameter,Unit,2023,2024\nCalcium,mg/l,104,60", ["2023", "2024"]),
        ("Parameter,Unit,Sample 1,Sample 2\nCalcium,mg/l,104,60", ["Sample 1", "Sample 2"]),
        ("Parameter;Mittelwert Nord;Mittelwert Süd\nCalcium;104;60", ["Mittelwert Nord", "Mittelwert Süd"]),
        (";A;;B;\nName;Mean;Max;Mean;Max\nCalcium;104;110;60;70", ["A Mean", "A Max", "B Mean", "B Max"]),
        ("Parametr;Dopuszczalna;Wynik\nCalcium;250;60", ["Dopuszczalna", "Wynik"]),
        ("Parameter;Grenzwert\nNatrium;200", ["Grenzwert"]),
        ("Parameter;Höchstwert\nNatrium;200", ["Höchstwert"]),
        ("Sodium;200;14\nCalcium;;104", ["column 2", "column 3"]),
        ("Sodium mg/l 200 14.1\nChloride mg/l 250 26", ["column 1", "column 2"]),
        ("Date,Calcium,Magnesium,Sodium\n2024-01-03,104,4.5,14\n2024-02-07,60,4,8", ["2024-01-03", "2024-02-07"]),
    ],
)  # fmt: skip
def test_where_it_cannot_be_told_the_column_is_asked(text: str, columns: list[str]) -> None:
    report = read_report(text)
    assert report.is_open
    assert report.rows == ()
    assert list(report.choices[0].options) == columns
    chosen = read_report(text, column=columns[-1])
    assert not chosen.is_open
    assert any(row.is_taken for row in chosen.rows)


def test_units_may_stand_in_a_row_below_the_heads() -> None:
    text = "Parameter;Min;Mean;Max;Limit\n;mg/l;mg/l;mg/l;mg/l\nSodium;10;14;18;200"
    assert values(text) == {"Na": 14}
    assert by_key(text)["Na"].notes == ("the column of means",)


def test_what_was_chosen_is_read_and_said() -> None:
    text = "Parameter;Einheit;Nord;Süd\nCalcium;mg/l;104;60,5\nNatrium;mg/l;14;"
    assert read_report(text).choices[0].options == {"Nord": "Calcium 104, Natrium 14", "Süd": "Calcium 60,5"}
    calcium, sodium = read_report(text, column="Süd").rows
    assert (calcium.value, calcium.notes) == (60.5, ("from “Süd”",))
    assert (sodium.value, sodium.notes) == (None, ("nothing stands in this column",))
    assert read_report(ENGLISH, column="Max").rows[0].value == 110  # and the means stay what is taken unasked
    assert read_report(ENGLISH).choices[0].chosen == "Mean"


# ---- what is not certain ----


@pytest.mark.parametrize(
    ("row", "value", "note"),
    [
        ("Magnesium hardness as CaCO3, 46 mg/l", 46 * 24.305 / 100.0869, "given as CaCO3"),
        ("Sodium as CaCO3 50 mg/l", 50 * 22.98977 / 50.04345, "given as CaCO3"),
        ("Calcium hardness 260 mg/l", 260 * 40.078 / 100.0869, "taken as CaCO3"),
        ("Chloride as NaCl 50 mg/l", 50 * 35.453 / 58.44277, "given as NaCl"),
        ("Silica as CaCO3 5 mg/l", None, "cannot be converted"),
        ("NO3-N 5 mg/l", 5 * 62.0049 / 14.0067, "given as N"),
        ("Silicon dioxide 8 mg/l", 8, ""),
        ("Hydrogencarbonat 330 mg/l", 330, "taken as HCO3"),
        ("TAC 23 °f", 230 * 1.2193, ""),
        ("Titre alcalimétrique complet 23", 230 * 1.2193, "no unit given: °f taken"),
        ("TH 26 °f", 260, ""),
        ("Hardness in Clark degrees 17.5", 17.5 * 14.2538, ""),
        ("Hardness 15 grains/gal", 256.77, "US gallon"),
        ("Hardness (gpg) 15", 256.77, "US gallon"),
        ("Hardness 15", None, "degrees or mg/L"),
        ("Hardness as Ca + Mg 260 mg/l", 260, "taken as CaCO3"),
        ("Sodium 14 milligrams per litre", 14, ""),
        ("Sodium 0.1 kg/l", None, "“kg/l” is not understood"),
        ("Sodium 14 mg/dl", None, "“mg/dl” is not understood"),
        ("Sodium 1.2.3 mg/l", None, "“1.2.3” is not a number"),
        ("Sulphate 1.234 mg/l", None, "two ways"),
        ("Residual disinfectant - Free 0.3 mg/l", 0.3, ""),
        ("Chlore libre 0,25 mg(Cl2)/L", 0.25, ""),
        ("Nitrat nicht nachweisbar", None, "not detected"),
        ("Fluoride less than 0.1 mg/l", 0.05, "half of it"),
        ("Natrium 14,1 mg/l (Grenzwert: 200 mg/l)", 14.1, ""),
    ],
)
def test_a_row_is_converted_or_refused_with_its_reason(row: str, value: float | None, note: str) -> None:
    (found,) = read_report(row).rows
    assert found.key is not None
    assert found.value == (None if value is None else pytest.approx(value, rel=1e-4))
    assert note in " ".join(found.notes)
    assert found.is_taken == (value is not None)


@pytest.mark.parametrize(
    "name",
    ["Vinyl chloride", "Chlorure de vinyle", "Sodium + potassium", "Phenolphthalein alkalinity", "Dureté permanente",
     "Säurekapazität bis pH 8,2", "Calcium carbonate precipitation potential", "Chlorine dioxide"],
)  # fmt: skip
def test_what_only_sounds_like_it_is_not_taken(name: str) -> None:
    assert key_of(name) is None


def test_thousands_are_read_where_the_report_tells_its_decimals() -> None:
    text = "Calcium;1.234,5;mg/l\nNatrium;14,5;mg/l\nChlorid;1.234;mg/l"
    assert values(text) == {"Ca": 1234.5, "Na": 14.5, "Cl": 1234}
    assert by_key(text)["Cl"].notes == ("“1.234” is read as thousands",)
    both = by_key(f"{text}\nKalium;4.5;mg/l")
    assert both["Ca"].value == 1234.5  # a decimal point elsewhere does not change it
    assert both["Cl"].value is None
    assert by_key("Parameter,Value,Unit\nCalcium,104,5,mg/l\nSodium,14,mg/l")["Ca"].value is None


def test_a_quotation_mark_without_its_other_one_swallows_no_rows() -> None:
    assert values('Calcium,"104,mg/l\nSodium,14,mg/l') == {"Ca": 104, "Na": 14}


def test_the_names_stand_in_the_column_that_is_called_so() -> None:
    text = (
        "Group;Parameter;Unit;Result\nHardness;Calcium;mg/l CaCO3;250\nHardness;Total;mg/l;260\nAnions;Chloride;mg/l;26"
    )
    assert values(text) == pytest.approx({"Ca": 100.1, "Cl": 26}, rel=1e-3)


def test_rows_that_tell_more_numbers_than_the_others_are_not_guessed() -> None:
    found = by_key("Natrium 14,1 mg/l 200\nCalcium 104 mg/l\nMagnesium 4,5 mg/l")
    assert found["Na"].value is None
    assert found["Ca"].value == 104


def test_traces_without_a_unit_are_left_to_be_ticked() -> None:
    rows = by_key("Iron 12\nSodium 14")
    assert (rows["Fe"].is_taken, rows["Na"].is_taken) == (False, True)


# ---- hardness without calcium ----

DEGREES = "Gesamthärte 15 °dH\nKarbonathärte 12 °dH\nChlorid 20 mg/l\npH 7,4"


def test_hardness_and_alkalinity_alone_are_readings() -> None:
    rows = by_key(DEGREES)
    assert values(DEGREES) == pytest.approx({"hardness": 267.72, "HCO3": 261.14, "ph": 7.4}, rel=1e-4)
    assert rows["hardness"].notes[-1].startswith("no calcium is told")
    assert rows["Cl"].notes == ("not taken: without calcium it makes no analysis",)
    assert not by_key(f"{DEGREES}\nCalcium 90 mg/l")["hardness"].is_taken


def preview(client: TestClient, **sent: str) -> str:
    answer = client.post("/sites/tern-quay-yard/tap/report", data=sent)
    assert answer.status_code == 200
    return unescape(answer.text)


def hidden(page: str, address: str = "/report/take") -> dict[str, str]:
    form = page.partition(f'{address}"')[2].partition("</form>")[0]
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form))


def test_readings_of_a_report_stand_beside_the_meters(client: TestClient, book: Book) -> None:
    take = "/sites/tern-quay-yard/tap/report/take"
    page = preview(client, text=DEGREES)
    assert "This site has an analysis" in page
    sent = hidden(page) | dict.fromkeys(("take 0", "take 1", "take 3"), "on")
    assert "This site has an analysis" in client.post(take, data=sent).text
    text = DEMO[: DEMO.index("[water.ions_mg_l]")] + DEMO[DEMO.index("[water.season]") :]
    text = (
        text[: text.index("[water]")]
        + "[water]\ntemperature_c = 12\nfield = { meter_ppm = 300 }\n"
        + text[text.index("[water.season]") :]
    )
    book.save("tern-quay-yard", text, "Tern Quay yard", "readings only", 1)
    page = preview(client, text=DEGREES)
    assert 'name="meter_ppm"' not in page
    client.post(take, data=sent | hidden(page))
    water = tomllib.loads(book.current("tern-quay-yard").toml)["water"]
    assert water["field"] == {"meter_ppm": 300, "hardness_mg_l_caco3": 267.7, "alkalinity_mg_l_caco3": 214.2}
    assert water["ph"] == 7.4


def test_the_column_is_chosen_on_the_page_and_goes_with_what_is_taken(client: TestClient, book: Book) -> None:
    page = preview(client, text="Parameter;Nord;Süd\nCalcium (mg/l);104;60\nNatrium (mg/l);14;8")
    assert "Which column holds your water?" in page
    assert 'type="checkbox"' not in page
    page = preview(client, column="Süd", **hidden(page, "/tap/report"))
    assert "Sodium" in page
    client.post("/sites/tern-quay-yard/tap/report/take", data=hidden(page) | {"take 0": "on", "take 1": "on"})
    ions = tomllib.loads(book.current("tern-quay-yard").toml)["water"]["ions_mg_l"]
    assert (ions["Ca"], ions["Na"]) == (60, 8)


@given(st.text(max_size=400))
def test_any_text_is_read_without_complaint(text: str) -> None:
    for row in read_report(text).rows:
        assert not row.is_taken or row.value is not None


PIECES = [
    "Calcium",
    "Nitrate as N",
    "Alkalinity",
    "pH",
    "104",
    "<0,5",
    "1,204.5",
    "mg/l",
    "°dH",
    ";",
    "\t",
    ",",
    "\n",
    '"',
    "mean",
    "max",
    "Parameter",
    "Result",
    "\x1d",
]


@given(st.lists(st.sampled_from(PIECES), max_size=60).map(" ".join))
def test_any_mixture_of_what_reports_hold_is_read(text: str) -> None:
    report = read_report(text)
    for name in [name for choice in report.choices for name in choice.options][:3]:
        read_report(text, name, name)
    for row in report.rows:
        assert row.value is None or row.value == row.value


# ---- files ----


def workbook(rows: list[list[object]], *, more: bool = False) -> bytes:
    book = openpyxl.Workbook()
    if more:
        book.active.append(["About this report"])
        sheet = book.create_sheet("Results")
    else:
        sheet = book.active
    for row in rows:
        sheet.append(row)
    raw = io.BytesIO()
    book.save(raw)
    return raw.getvalue()


@pytest.mark.parametrize("more", [False, True])
def test_a_workbook_reads_like_a_table(more: bool) -> None:
    rows: list[list[object]] = [
        ["Water quality report 2026", None, None],
        [None, None, None],
        ["Parameter", "Unit", "Average"],
        ["Calcium", "mg/l", 104.25],
        ["Alkalinity", "mg/l CaCO3", 235],
        ["Iron", "µg/l", "<10"],
    ]
    found = values(reports.workbook_text(workbook(rows, more=more)))
    assert found == pytest.approx({"Ca": 104.25, "HCO3": 286.53, "Fe": 0.005}, rel=1e-4)


ODD: tuple[tuple[list[list[object]], dict[str, float]], ...] = (
    (  # text numbers, a date, an empty limit
        [["Sampled", date(2026, 3, 1)], ["Parameter", "Einheit", "Grenzwert", "Messwert"],
         ["Natrium", "mg/l", "200", "14,12"], ["Chlorid", "mg/l", 250, 26.5], ["Calcium", "mg/l", None, 104.125]],
        {"Na": 14.12, "Cl": 26.5, "Ca": 104.125},
    ),
    (  # heads over two columns each
        [[None, None, "Limit", None, "Result", None], ["Parameter", "Unit", "Min", "Max", "Min", "Max"],
         ["pH", None, 6.5, 9.5, 7.2, 7.6], ["Sodium", "mg/l", None, 200, 5, 6]],
        {"ph": 7.4, "Na": 5.5},
    ),
    (  # a formula without its result
        [["Parameter", "Unit", "Result"], ["Calcium", "mg/l", "=50+54"], ["Sodium", "mg/l", 14.5]],
        {"Na": 14.5},
    ),
)  # fmt: skip


@pytest.mark.parametrize(("rows", "wanted"), ODD)
def test_an_odd_workbook(rows: list[list[object]], wanted: dict[str, float]) -> None:
    assert values(reports.workbook_text(workbook(rows))) == pytest.approx(wanted)


def test_of_several_sheets_or_days_one_is_asked() -> None:
    book = openpyxl.Workbook()
    for name, calcium in (("North", 104.5), ("South", 60.5)):
        sheet = book.create_sheet(name)
        for row in (
            ["Parameter", "Unit", date(2026, 1, 3), date(2026, 2, 3)],
            ["Calcium", "mg/l", calcium, calcium + 1],
        ):
            sheet.append(row)
    raw = io.BytesIO()
    book.save(raw)
    text = reports.workbook_text(raw.getvalue())
    assert [(choice.name, list(choice.options)) for choice in read_report(text).choices] == [
        ("sheet", ["North", "South"])
    ]
    days = read_report(text, sheet="South").choices[1]
    assert (list(days.options), days.chosen) == (["2026-01-03", "2026-02-03"], "")
    assert [row.value for row in read_report(text, sheet="South", column="2026-02-03").rows] == [61.5]


@pytest.mark.parametrize("raw", [b"PK\x03\x04 nothing", b"PK", b"\x00\x01"])
def test_what_is_no_workbook_is_refused_in_a_sentence(raw: bytes) -> None:
    with pytest.raises(InputError, match="no workbook"):
        reports.workbook_text(raw)


def test_a_workbook_that_unpacks_to_too_much_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reports, "MOST_UNPACKED", 100)
    with pytest.raises(InputError, match="too large"):
        reports.workbook_text(workbook([["Calcium", 104]]))


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_text_file_in_any_usual_coding(coding: str, tmp_path: Path) -> None:
    assert reports.decoded(GERMAN.encode(coding)) == GERMAN

"""The numbers that the pages of the models state are the code's, and the sources are those that a plan names."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rinsewright.planning import consumables, ensemble, sensitivity, year
from rinsewright.planning.citations import EQUATIONS, Equation
from rinsewright.planning.tap import MEMBERS
from rinsewright.plant import tube
from rinsewright.plant.feed import cartridge
from rinsewright.plant.membrane import ageing, element, restrictor, selectivity
from rinsewright.plant.product import resin
from rinsewright.quantities import BAR, MM
from rinsewright.solve.steady import STEPS_UP_TO, TOLERANCE
from rinsewright.water import analysis, carbonate, field, ions, meter, scaling

MODELS = Path(__file__).parents[2] / "docs" / "models"


def text(name: str) -> str:
    return " ".join((MODELS / f"{name}.md").read_text(encoding="utf-8").split())


def rows(name: str, first: str) -> dict[str, list[str]]:
    """The table of a page whose head begins with a word: first cell → the others."""
    lines = (MODELS / f"{name}.md").read_text(encoding="utf-8").splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith(f"| {first} |"))
    found = {}
    for line in lines[start + 2 :]:
        if not line.startswith("|"):
            break
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        found[cells[0]] = cells[1:]
    return found


def number(words: str) -> float:
    return float(words.replace("−", "-"))


PH = analysis.PH_SPREAD
SAID = {
    "water-and-carbonate": [
        f"{PH['meter']:g} (meter), {PH['report']:g} (report), {PH['strip']:g} (strip) or {PH[None]:g} (none",
        f"Beyond ±{analysis.BALANCE_LIMIT:.0f} %",
        f"{float(carbonate.debye_huckel(298.15)):.3f} at 25 °C",
    ],
    "conductivity-and-meter": [
        f"{ions.NACL_DIFFUSIVITY_25 * 1e9:.2f}·10⁻⁹ m²/s",
        f"1 + {meter.Meter().slope:g} (T − 25 °C)",
        f"{ions.SPECIES['H'].walden:g} (H) to {ions.SPECIES['HCO3'].walden:g} (HCO₃, SO₄)",
    ],
    "membrane-element": [
        f"e^{{{element.Element.water_activation:.0f} K",
        f"e^{{{element.Element.salt_activation:.0f} K",
        f"±{100 * element.Element.tolerance:.0f} % in flow",
        f"another {100 * ensemble.COLD_SPREAD:.0f} %",
        f"salt permeance {100 * ensemble.SALT_SPREAD:.0f} %",
        {2: "Two", 16: "sixteen"}[STEPS_UP_TO[0][1]] + " to " + {16: "sixteen"}[STEPS_UP_TO[-1][1]],
    ],
    "spacer-channel": [
        f"{element.Element.channel / MM:g} mm unless given",
        f"{element.Element.porosity:g} unless given",
    ],
    "hydraulics": [
        f"below Re {tube.LAMINAR_UP_TO:.0f}",
        f"above Re {tube.TURBULENT_FROM:.0f}",
        f"down to {100 * restrictor.RUBBER_NEEDS:.0f} %",
        "1.25 times the running one",
    ],
    "steady-solver": [{1e-10: "below 10⁻¹⁰"}[TOLERANCE]],
    "resin": [
        f"{resin.CATION_CAPACITY.value / 1e3:.2f} cation, {resin.ANION_CAPACITY.value / 1e3:.2f} anion eq/L",
        {16: "row of sixteen cells"}[resin.CELLS],
        ", ".join(f"{name} {value:.2f}" for name, value in resin.CATION_SELECTIVITY.items()),
        f"OH {resin.ANION_SELECTIVITY['OH']:g}, HCO3 {resin.ANION_SELECTIVITY['CO2']:g}",
        f"NO3 {resin.ANION_SELECTIVITY['NO3']:.1f}, SO4 {resin.ANION_SELECTIVITY['SO4']:g}",
        f"usable share {resin.USABLE_SHARE.value:g}",
    ],
    "cartridges": [
        f"e^{{−{cartridge.FREE_CHLORINE_RATE.value:g} t/s}}",
        f"e^{{−{cartridge.CHLORAMINE_RATE.value:g} t/s}}",
        f"else {cartridge.CHANGE_AT_RISE.value / BAR:g} bar",
        f"else {cartridge.CHANGE_AFTER_MONTHS.value:g})",
        f"{cartridge.DIRT_M3_TO_DOUBLE.value:g} m³ to double",
        f"{consumables.CARBON_IN_CARTRIDGE * 1e3:g} L of carbon",
        f"{consumables.CARBON_DENSITY:g} kg/m³",
        {3.0: "a third of the dirt"}[consumables.BEHIND_SEDIMENT],
    ],
    "membrane-ageing": [
        "= 4.0 " + f"{100 * ageing.FLUX_LOSS_PER_YEAR.value:.0f} % a year, "
        f"{100 * ageing.FLUX_LOSS_ALLOWED.value:.0f} % allowed",
        f"= 4.9 {100 * ageing.SALT_PASSAGE_GROWTH_PER_YEAR.value:.0f} % a year, "
        f"{ageing.SALT_PASSAGE_ALLOWED.value:g} times allowed",
        f"{ageing.CHLORINE_TOLERANCE.value:g} mg h/L/dose",
        f"fast ageing ({consumables.FAST_AGEING[0]:.0%} and {consumables.FAST_AGEING[2]:.0%} a year".replace("%", " %"),
    ],
    "climate-and-year": [f"excess = {year.CREEP_SHARE:g} (", f"V_p = {year.PRODUCT_SIDE / MM:g} mm"],
    "bands-and-sensitivities": [
        f"for {MEMBERS} waters",
        f"{ensemble.GAS_LOST[0]:g} to {ensemble.GAS_LOST[1]:g} of what is above",
        f"±{100 * sensitivity.RESTRICTOR:.0f} % against its stamp",
        f"±{sensitivity.DEGREES:.0f} °C",
        f"±{sensitivity.PRESSURE / BAR:g} bar",
        f"±{sensitivity.PH:g}, or the tap's own",
        f"| everything dissolved | ±{100 * sensitivity.IONS:.0f} % |",
        f"| usable share of the resin | ±{sensitivity.USABLE:g} |",
        f"| capacity of the resin | ±{100 * sensitivity.CAPACITY:.0f} % |",
        f"labour | ±{100 * sensitivity.PRICE:.0f} % |",
        f"less than {100 * sensitivity.LEAST:.0f} % gets no line",
    ],
}


@pytest.mark.parametrize(("name", "words"), [(name, words) for name, said in SAID.items() for words in said])
def test_the_page_states_the_codes_number(name: str, words: str) -> None:
    assert words in text(name)


def test_membranes_lose_flow_and_gain_salt_in_the_years_stated() -> None:
    life = ageing.membrane_life(0.0, 0.0, passage_growth_per_year=0.0).years[0]
    assert f"{life:.1f}" == "4.0"
    assert f"{ageing.membrane_life(0.0, 0.0, flux_loss_per_year=0.0).years[0]:.1f}" == "4.9"


def test_permeances_of_the_ions() -> None:
    stated: dict[str, float] = {}
    for first, (ratio, *other) in rows("ion-transport", "Solute").items():
        pairs = [(first, ratio)] + ([(other[0], other[1])] if other else [])
        stated |= {name: number(value.split(":")[0]) for names, value in pairs for name in names.split(", ")}
    assert stated.pop("CO2") == selectivity.CO2_RATIO
    assert stated == selectivity.PERMEANCE_RATIO


def test_thresholds_of_scale() -> None:
    table = rows("scaling", "Mineral")
    stated = {name.split(" ")[0]: [number(cell) for cell in cells] for name, cells in table.items()}
    assert stated == {
        name: [limit.look.value, limit.stop.value, limit.inhibitor_credit.value]
        for name, limit in scaling.THRESHOLDS.items()
    }


def test_kinds_of_water() -> None:
    stated = rows("bands-and-sensitivities", "Kind")
    for name, kind in field._KINDS.items():
        assert stated[name] == [
            f"{kind.hardness[0]:.2f} ± {kind.hardness[1]:.2f}",
            f"{kind.alkalinity[0]:.2f} ± {kind.alkalinity[1]:.2f}",
            " : ".join(f"{share:.2f}" for share in kind.anions),
            f"{kind.silica_mg_l[0]:.0f} ± {kind.silica_mg_l[1]:.0f}",
        ]


def test_spreads_of_the_ensemble() -> None:
    stated = rows("bands-and-sensitivities", "What is drawn")
    assert stated["salt permeance"][0] == f"{100 * ensemble.SALT_SPREAD:.0f} %"
    assert stated["mass transfer $k$"][0].startswith(f"{100 * ensemble.FILM_SPREAD:.0f} %")
    assert f"another {100 * ensemble.COLD_SPREAD:.0f} % at 5 °C" in stated["water permeance"][0]
    assert stated["usable share of the resin"][0].startswith(f"{ensemble.USABLE_SPREAD:g}")
    assert stated["capacities of the resin"][0] == f"{100 * ensemble.CAPACITY_SPREAD:.0f} %"
    assert stated["each ion of an analysis"][0] == f"{100 * field._IONS:.0f} %"


@pytest.mark.parametrize("equation", EQUATIONS, ids=lambda e: e.what)
def test_the_page_with_the_formula_names_its_source(equation: Equation) -> None:
    module, _, name = equation.formula.partition(":")
    place = f"src/rinsewright/{module.replace('.', '/')}.py#{name}"
    author = re.findall(r"[A-ZÀ-Þ]\w+", equation.citation)
    pages = [page.read_text(encoding="utf-8") for page in MODELS.glob("*.md")]
    holding = [page for page in pages if place in page]
    assert holding, place
    assert not author or any(author[0] in page for page in holding)

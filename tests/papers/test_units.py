"""The user's units at the edge; the site file's everywhere else."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rinsewright.papers.units import LITRE_IN_GALLONS, PSI_OF_ONE_BAR, Units

ABROAD = Units("f", "psi", "gal", 0.7)


def test_factors_agree_with_their_definitions() -> None:
    # NIST SP 811, appendix B (from memory): 1 psi = 6.894757 kPa; 1 US gallon = 3.785412 L.
    assert pytest.approx(6.894757e3) == 1e5 / PSI_OF_ONE_BAR
    assert pytest.approx(3.785412) == 1 / LITRE_IN_GALLONS
    assert ABROAD.unit("temperature").show(100.0) == pytest.approx(212.0)
    assert ABROAD.unit("temperature").show(-40.0) == pytest.approx(-40.0)


def test_a_reading_is_told_on_the_users_meter() -> None:
    assert ABROAD.say("reading", 100.0, 0.5) == "140\N{NO-BREAK SPACE}ppm"
    assert ABROAD.unit("reading", 0.5).read(140.0) == pytest.approx(100.0)
    assert ABROAD.unit("reading").show(140.0) == 140.0


def test_what_is_not_known_is_not_a_number() -> None:
    assert Units().say("pressure", None) == "not known"


@given(value=st.floats(-40, 5000), quantity=st.sampled_from(["temperature", "pressure", "volume", "flow", "reading"]))
def test_what_is_shown_is_read_back(value: float, quantity: str) -> None:
    unit = ABROAD.unit(quantity, 0.5)  # type: ignore[arg-type]
    assert unit.read(unit.show(value)) == pytest.approx(value, abs=1e-9)
    assert float(unit.typed(value)) == pytest.approx(unit.show(value), rel=1e-3, abs=1e-3)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("On the coldest day, 5 °C, it makes 2.4 L/min.", "On the coldest day, 41 °F, it makes 0.63 US gal/min."),
        ("Takes about 14,000 L (9,000 to 57,000) to 10 ppm.", "Takes about 3,700 US gal (2,400 to 15,000) to 14 ppm."),
        ("It is 3 °C colder at 2.0 bar.", "It is 5.4 °F colder at 29 psi."),
        ("1.0 L go to drain for each litre made.", "1.0 US gal go to drain for each US gallon made."),
        ("Between about 20 and 45 °C.", "Between about 68 and 113 °F."),
        ("1 °C is 3 % of the flow.", "1.8 °F is 3 % of the flow."),
        ("Rated for 10 bar: never above. It has 10 bar.", "Rated for 145 psi: never above. It has 145 psi."),
        ("The tank holds 650 L and 1,129 L more are made.", "The tank holds 172 US gal and 298 US gal more are made."),
        ("It makes 2.9 L/min, 2.4 in the coldest.", "It makes 0.77 US gal/min, 0.63 in the coldest."),
        ("The resin lets 5 ppm of the product's 12 through.", "The resin lets 7 ppm of the product's 17 through."),
        ("A year costs £2,000, £0.024 a litre.", "A year costs £2,000, £0.091 a US gallon."),
        ("40 m³ of water, after ten litres.", "11,000 US gal of water, after three US gallons."),
        (
            "In Great Britain more than 12 L/min. Or 12 L/min.",
            "In Great Britain more than 12 L/min. Or 3.2 US gal/min.",
        ),
        ("30 L/(m² h) and 7.2 bar/m stay.", "30 L/(m² h) and 7.2 bar/m stay."),
        ("Above 1.0 it may come out.", "Above 1.0 it may come out."),
    ],
)
def test_sentences_are_told_in_the_users_units(said: str, told: str) -> None:
    assert ABROAD.retell(said, 0.5) == told
    assert Units().retell(said, 0.5) == said

"""What people type: numbers as they write them, refusals by field, nothing lost."""

from __future__ import annotations

import pytest

from rinsewright.papers.units import Units
from rinsewright.web.forms import Typed, clock, month_day


@pytest.mark.parametrize(
    ("typed", "value"),
    [("3.4", 3.4), (" 3,4 ", 3.4), ("1,200", 1200.0), ("1,234,567.5", 1234567.5), ("1 200", 1200.0), ("0,5", 0.5),
     ("\N{MINUS SIGN}2", -2.0), ("1e2", 100.0)],
)  # fmt: skip
def test_numbers_are_read_as_people_write_them(typed: str, value: float) -> None:
    form = Typed({"x": typed})
    assert form.number("x", -1e9, 1e9) == value
    assert form.ok


@pytest.mark.parametrize("typed", ["", "  ", "three", "3.4.5", "nan", "inf", "1e999", "--2", "<b>"])
def test_what_is_no_number_is_refused_and_stays(typed: str) -> None:
    form = Typed({"x": typed})
    assert form.number("x", -1e9, 1e9) is None
    assert "x" in form.errors
    assert form.values["x"] == typed


def test_what_may_be_left_out_may_be_left_out() -> None:
    form = Typed({})
    assert form.number("x", 0, 1, optional=True) is None
    assert form.text("y", optional=True) == ""
    assert form.ok


def test_a_refusal_speaks_the_users_unit() -> None:
    form = Typed({"x": "500"}, Units(pressure="psi"))
    assert form.quantity("x", "pressure", 0.1, 25.0) is None
    assert "1.45 to 362.6 psi" in form.errors["x"]
    assert Typed({"x": "50"}, Units(pressure="psi")).quantity("x", "pressure", 0.1, 25.0) == pytest.approx(
        3.447, rel=1e-3
    )


def test_the_ends_are_plausible_in_any_unit() -> None:
    form = Typed({"x": "1.45", "y": "362.5"}, Units(pressure="psi"))
    assert form.quantity("x", "pressure", 0.1, 25.0) is not None or "x" in form.errors
    assert form.quantity("y", "pressure", 0.1, 25.0) is not None


def test_a_choice_is_one_of_them() -> None:
    assert Typed({"x": "a"}).choice("x", ("a", "b")) == "a"
    form = Typed({"x": "c"})
    assert form.choice("x", ("a", "b")) is None
    assert not form.ok


def test_text_has_an_end() -> None:
    form = Typed({"x": "n" * 81})
    form.text("x", longest=80)
    assert "80" in form.errors["x"]


@pytest.mark.parametrize(
    ("typed", "value"),
    [("7", "07:00"), ("7:30", "07:30"), ("16.05", "16:05"), ("0730", "07:30"), ("25:00", "25:00"), ("noon", "noon")],
)
def test_times_of_day_are_read_as_people_write_them(typed: str, value: str) -> None:
    assert clock(typed) == value


@pytest.mark.parametrize(
    ("typed", "value"),
    [("11-01", "11-01"), ("3-1", "03-01"), ("1 Nov", "11-01"), ("25. December", "12-25"), ("june 5", "06-05"),
     ("1 Ju", "1 Ju"), ("5 of May", "5 of May"), ("31-12", "31-12")],
)  # fmt: skip
def test_days_of_the_year_are_read_as_people_write_them(typed: str, value: str) -> None:
    assert month_day(typed) == value


@pytest.mark.parametrize(
    ("text", "value"), [("1.2", 1.2), ("1.25", 1.25), ("0.250", 0.25), ("1.234", 1.234), ("1,200", 1200)]
)
def test_a_point_is_a_decimal_point(text: str, value: float) -> None:
    assert Typed({"litres": text}).number("litres", 0.0, 1e6) == value


@pytest.mark.parametrize("text", ["1.000", "1.200", "12.500"])
def test_a_point_that_may_part_thousands_is_asked_about(text: str) -> None:
    typed = Typed({"litres": text})
    assert typed.number("litres", 0.0, 1e6) is None
    assert text.replace(".", "") in typed.errors["litres"]

"""How numbers are said. Expected texts are worked out by hand from the rule in each docstring."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rinsewright.papers import Tag
from rinsewright.papers.facts import Facts, pointer
from rinsewright.papers.words import fixed, listed, money, number, opening, reading, spoken


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (5213.0, 2, "5,200"),
        (2.04, 2, "2.0"),
        (9.96, 2, "10"),
        (0.0312, 2, "0.031"),
        (285.4, 3, "285"),
        (99.96, 3, "100"),
        (1234567.0, 3, "1,230,000"),
        (-1.52, 2, "−1.5"),
        (0.0, 2, "0"),
        (0.0004, 2, "under 0.01"),
    ],
)
def test_significant_digits(value: float, digits: int, text: str) -> None:
    assert number(value, digits) == text


@given(st.floats(0.01, 1e7), st.integers(2, 4))
def test_rounding_stays_within_half_of_the_last_digit(value: float, digits: int) -> None:
    said = float(number(value, digits).replace(",", ""))
    assert abs(said - value) <= 0.5001 * 10.0 ** (1 - digits) * max(value, said)


@pytest.mark.parametrize(("ppm", "text"), [(0.04, "0.0"), (0.6, "0.6"), (9.94, "9.9"), (9.97, "10"), (285.4, "285")])
def test_a_reading_is_said_as_the_meter_shows_it(ppm: float, text: str) -> None:
    assert reading(ppm) == text


@pytest.mark.parametrize(
    ("value", "say", "text"),
    [
        (0.43, "index", "+0.4"),
        (-0.02, "index", "0.0"),
        (7.0, "ph", "7.0"),
        (62.4, "share", "62"),
        (1.4, "count", "1.4"),
        (5.0, "count", "5"),
        (11.6, "count", "12"),
        (12.0, "given", "12"),
        (12.5, "given", "12.5"),
        (104.2, "mg", "104"),
        (31.04, "mg", "31"),
        (14.9, "price", "15"),
        (3.456, "price", "3.46"),
        (1183.0, "price", "1,180"),
        (1183.4, "money", "1,183"),
    ],
)
def test_ways_of_saying(value: float, say: str, text: str) -> None:
    assert spoken(value, say) == text


@pytest.mark.parametrize(
    ("bar", "text"),
    [(3.41, "3.4"), (0.25, "0.25"), (0.0312, "0.03"), (0.0053, "0.01"), (0.002, "under 0.01"), (12.3, "12")],
)
def test_a_pressure_is_said_as_a_gauge_shows_it(bar: float, text: str) -> None:
    assert spoken(bar, "bar") == text


def test_minus_nought_is_nought() -> None:
    assert fixed(-0.04, 1, sign=True) == "0.0"


def test_money_stands_where_its_currency_puts_it() -> None:
    assert money("1,240", "GBP") == "£1,240"
    assert money("1,240", "CHF") == "1,240 CHF"


def test_small_words() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed([]) == ""
    assert opening("scale at the drain") == "Scale at the drain"


def test_a_tag_leaves_out_what_is_not_given() -> None:
    tag = Tag.of(pressure_bar=3.41, meter_ppm=285.2, verdict="look")
    assert [(line.number, line.unit) for line in tag.readings] == [("3.4", "bar"), ("285", "ppm")]


BANDED = {
    "sure": {"value": 5.0, "low": 5.0, "high": 5.0},
    "wide": {"value": 5213.0, "low": 3910.0, "high": 6777.0},
    "unknown": {"value": None, "low": None, "high": None},
    "plain": 120.0,
    "null": None,
}


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("sure", "5.0\N{NO-BREAK SPACE}L"),
        ("wide", "about 5,200\N{NO-BREAK SPACE}L (3,900 to 6,800)"),
        ("unknown", "not known"),
        ("plain", "120\N{NO-BREAK SPACE}L"),
        ("null", "not known"),
    ],
)
def test_bands_in_words(key: str, text: str) -> None:
    assert re.sub("<[^>]*>", "", Facts(BANDED, "GBP").band(key, unit="L")) == text


def test_a_band_of_money_names_its_currency_once() -> None:
    assert Facts(BANDED, "GBP").money("wide", say="price").striptags() == "about £5,210 (3,910 to 6,780)"


def test_below_a_null_nothing_is_known() -> None:
    assert Facts({"coldest": None}, "GBP").number("coldest", "product", "flow_l_min") == "not known"


def test_a_missing_key_is_named_with_its_place() -> None:
    with pytest.raises(KeyError, match="the answer has no /today/feed"):
        Facts({"today": {}}, "GBP").number("today", "feed", "ph")


def test_pointers_escape_as_rfc_6901_says() -> None:
    """RFC 6901, section 3: "~" is written "~0", "/" is written "~1" (from memory)."""
    assert pointer(["cost_split", "a/b~c", 0]) == "/cost_split/a~1b~0c/0"

"""The march by the second held against closed forms, against half its step, and against the plant's parts themselves.

The closed forms use made-up plants whose flow is a plain function of the float's opening, so that each can be
integrated by hand; their sources are the equations written beside them.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from rinsewright.solve.result import solve_batch
from tests.independent import seconds
from tests.independent.seconds import (
    COUNT,
    FINE,
    FIRST,
    HOUR,
    L_MIN,
    SITES,
    Curve,
    March,
    Totals,
    by_the_second,
    site,
)

Q = 3.0 * L_MIN


def made_up(
    product: Callable[[float], float],
    drain: float = 2.0 * L_MIN,
    signal: Callable[[float], float] = lambda o: 0.0,
    slug: float = 0.0,
    relaxation: float = 1800.0,
) -> Curve:
    """A plant by formulas of its opening; every litre carries 1 mS/m of salt."""
    openings = [n / FINE for n in range(FINE + 2)]
    made = [product(o) for o in openings]
    return Curve(
        made, [drain] * len(openings), [1e-3 * q for q in made], [signal(o) for o in openings], slug, relaxation, 0.0
    )


def marching(name: str, level: float) -> March:
    march = March(site(name))
    march.today = Totals()
    march.level, march.tank_salt = level, 1e-3 * level
    return march


# ---- the tank ----


def test_open_float_fills_at_the_plants_own_flow() -> None:
    march = marching("heron-lock", 0.05)
    march._stretch(3600.0, made_up(lambda o: Q), True, 0.0, [])
    assert march.level == pytest.approx(0.05 + Q * 3600.0, rel=1e-12)
    assert march.today.drain == pytest.approx(2.0 * L_MIN * 3600.0, rel=1e-12)


def test_top_is_approached_exponentially_where_nothing_trips() -> None:
    """q = Q·o: band·do/dt = −Q·o, so that o falls as exp(−Q·t/band)."""
    march = marching("heron-lock", 0.0)
    march.level = march.top - march.band
    for minutes in (5.0, 20.0, 60.0):
        before = (march.top - march.level) / march.band
        march._stretch(60.0 * minutes, made_up(lambda o: Q * o), True, 0.0, [])
        assert (march.top - march.level) / march.band == pytest.approx(
            before * math.exp(-Q * 60.0 * minutes / march.band), abs=3e-4
        )
    assert march.today.running == pytest.approx(85.0 * 60.0)


def test_float_hovers_where_it_passes_what_is_drawn() -> None:
    """q = Q·o against a draw of 0.4 Q: the level comes to rest at o = 0.4 and the drain runs in full."""
    march = marching("heron-lock", 0.3)
    march._stretch(8.0 * HOUR, made_up(lambda o: Q * o), True, 0.4 * Q, [])
    assert (march.top - march.level) / march.band == pytest.approx(0.4, abs=1e-6)
    assert march.today.drain == pytest.approx(2.0 * L_MIN * 8.0 * HOUR)
    assert march.today.short == 0.0


def test_shut_off_cycles_as_often_as_its_band_allows() -> None:
    """q = Q·o, signal 1 − o, closing at 0.68 and opening at 0.5, draw d: filling from o = 0.5 to 0.32 takes
    band/Q·ln((0.5 − d/Q)/(0.32 − d/Q)), standing 0.18·band/d; each start brings the slug of its standing.
    """
    march = marching("plover-mews", 0.0)
    march.level = march.top - 0.32 * march.band
    march.was_open, march.fed_anew = True, False
    drawn = 0.1 * Q
    curve = made_up(lambda o: Q * o, signal=lambda o: 1.0 - o, slug=2e-6)
    filling = march.band / Q * math.log((0.5 - 0.1) / (0.32 - 0.1))
    standing = 0.18 * march.band / drawn
    span = 40.0 * (filling + standing)
    march.stood = 0.0
    march._stretch(span, curve, True, drawn, [])
    assert march.today.starts == pytest.approx(40, abs=1)
    assert march.today.running == pytest.approx(40 * filling, rel=0.02)
    assert march.today.flushed == pytest.approx(march.flush * 40, rel=0.03)
    assert march.today.creep == pytest.approx(march.today.starts * 2e-6 * -math.expm1(-standing / 1800.0), rel=0.02)


def test_an_empty_tank_gives_what_is_made_and_no_more() -> None:
    march = marching("heron-lock", 0.0)
    march._stretch(HOUR, made_up(lambda o: Q), True, 1.5 * Q, [])
    assert march.today.drawn == pytest.approx(Q * HOUR)
    assert march.today.short == pytest.approx(0.5 * Q * HOUR)


def test_tank_mixes() -> None:
    """At a level that rests, κ falls towards the inflow's as exp(−Q·t/V)."""
    march = marching("heron-lock", 0.1)
    march.tank_salt = 5e-3 * 0.1
    march._stretch(2.0 * HOUR, made_up(lambda o: Q), True, Q, [])
    assert march.tank_salt / march.level == pytest.approx(1e-3 + 4e-3 * math.exp(-Q * 2.0 * HOUR / 0.1), rel=1e-3)


def test_break_tank_runs_dry_and_waits_until_it_is_half_full() -> None:
    """Full V lasts V/(feed − refill); from then on half of V comes in at the refill and goes at the difference."""
    march = marching("withy-farm", 0.0)
    supply = march.site.plant.supply
    assert supply.tank_volume is not None
    assert supply.refill_flow is not None
    feed = Q + 2.0 * L_MIN
    first = supply.tank_volume / (feed - supply.refill_flow)
    cycle = 0.5 * supply.tank_volume / (feed - supply.refill_flow) + 0.5 * supply.tank_volume / supply.refill_flow
    march._stretch(first + 6.0 * cycle, made_up(lambda o: Q, signal=lambda o: 0.0), True, Q, [])
    assert march.today.starts == pytest.approx(1 + 6, abs=1)
    assert march.today.running == pytest.approx(
        first + 3.0 * supply.tank_volume / (feed - supply.refill_flow), rel=2e-3
    )


def test_line_runs_empty_and_fills_again() -> None:
    march = marching("heron-lock", 0.1)
    curve = made_up(lambda o: Q)
    for tap in (True, False, True):
        march._stretch(HOUR, curve, tap, 0.0, [])
    bore, length, area = 13e-3, 9.0, 7.2
    line = 0.25 * math.pi * bore**2 * length + 0.17e-3 * area
    assert march.today.flushed == pytest.approx(line)
    assert march.today.product == pytest.approx(2.0 * Q * HOUR)
    assert march.level == pytest.approx(0.1 + 2.0 * Q * HOUR - line)


def test_vans_are_refilled_to_the_brim_and_no_further() -> None:
    march = marching("chandlers-wharf", 1.0)
    march._spend(0.84)
    assert [van.level for van in march.vans] == pytest.approx([0.65 - 0.84 * 65 / 105, 0.40 - 0.84 * 40 / 105])
    march._stretch(3.0 * HOUR, made_up(lambda o: Q), False, 0.0, march.vans)
    assert [van.level for van in march.vans] == pytest.approx([0.65, 0.40])
    assert march.level == pytest.approx(1.0 - 0.84)
    assert march.today.delivered == pytest.approx(0.84)


# ---- the whole march ----


@pytest.mark.parametrize("name", sorted(path.stem for path in SITES.glob("*.toml")))
def test_books_balance(name: str) -> None:
    days = by_the_second(name)
    total, march = seconds.summed(days), March(site(name))
    if site(name).plant.tank is None:
        assert total["product"] == pytest.approx(total["delivered"], rel=1e-9)
        return
    into = total["into_tank"] - total["drawn"] - total["seeped"] - total["overflow"]
    assert total["level_end"] - march.level == pytest.approx(into, abs=1e-9)
    assert total["product"] - total["into_tank"] == pytest.approx(
        march.line * max(total["starts"] - 1, 0), abs=march.line + 1e-9
    )
    wanted = sum(march.demand.by_weekday[day % 7] for day in range(FIRST, FIRST + COUNT))
    assert total["delivered"] + total["short"] == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("name", ["osier-yard", "plover-mews", "chandlers-wharf", "withy-farm", "heron-mill"])
def test_half_the_step_changes_nothing(name: str) -> None:
    whole, half = (seconds.summed(seconds.march_seconds(site(name), 63, 2, dt)) for dt in (1.0, 0.5))
    for key in ("product", "drain", "salt", "delivered", "running"):
        assert half[key] == pytest.approx(whole[key], rel=1e-3), key
    assert half["starts"] == pytest.approx(whole["starts"], abs=1, rel=0.01)


@pytest.mark.parametrize("name", ["osier-yard", "long-row", "plover-mews"])
def test_openings_are_those_of_the_parts(name: str) -> None:
    """Many openings solved at once give what the plant gives with its own valve made smaller."""
    here, warmth = site(name), np.array([280.0])
    curve = seconds.solve_curves(here, warmth, np.array([here.plant.supply.standing_pa]))[0]
    for opening in (0.0625, 0.25, 1.0):  # on the grid
        batch = solve_batch(
            seconds.throttled(here.plant, opening),
            here.tap.water.with_temperature(warmth),
            np.array([here.plant.supply.standing_pa]),
        )
        at = round(opening * FINE)
        assert curve.product[at] == pytest.approx(batch.state.product_flow[0], rel=2e-4)
        assert curve.drain[at] == pytest.approx(batch.state.drain_flow[0], rel=2e-4)


def test_the_sites_are_what_they_are_for() -> None:
    hovers, cycles, dry = (seconds.summed(by_the_second(n)) for n in ("osier-yard", "plover-mews", "withy-farm"))
    assert by_the_second("osier-yard")[3].running > 8.0 * HOUR
    assert by_the_second("osier-yard")[3].starts == 1
    assert hovers["drain"] > hovers["product"]
    assert cycles["starts"] > 1000
    assert dry["starts"] > 100
    assert by_the_second("heron-lock")[5].running == pytest.approx(17.5 * HOUR)
    assert seconds.summed(by_the_second("chandlers-wharf"))["short"] > 0.0

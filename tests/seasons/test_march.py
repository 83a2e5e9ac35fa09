"""The march from event to event: against closed forms, against itself cut into small pieces, and its balances."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import numpy as np
import pytest

from rinsewright.errors import NoWorkingState
from rinsewright.quantities import BAR, DAY, HOUR, L_MIN, LITRE, MINUTE, US_CM, kelvin
from rinsewright.seasons.beds import march_beds
from rinsewright.seasons.inputs import (
    BackFlow,
    BreakTank,
    CartridgeUse,
    Draw,
    MembraneUse,
    ShutOffRule,
    Standstill,
    TankUse,
    VanUse,
    Week,
    YearInputs,
    demand_by_day,
    even_week,
)
from rinsewright.seasons.ledger import Ledger
from rinsewright.seasons.march import _March, march, phase_of
from rinsewright.seasons.quality import inflow, through_resin
from tests.seasons.plants import (
    ALL_DAY,
    ALWAYS,
    NIGHT,
    SHUT_OFF,
    TWENTY,
    bed,
    plant,
    response,
    start_content,
    year,
)

NOTHING = np.zeros(7)
EVERY_DAY = np.ones(7)


def minutes(values: Any) -> Any:
    return np.asarray(values) / MINUTE


# --- filling ---


def test_fill_time_at_constant_flow():
    """594 L up to the level at which the shut-off closes, at 1 L/min."""
    ledger = year(response(1.0, 2.0), demand=NOTHING, tank=TankUse(0.6, 0.06, start_full=0.0), days=3)
    assert minutes(ledger.running[0]) == pytest.approx([594.0, 0.0, 0.0])
    assert ledger.product[0] == pytest.approx([0.594, 0.0, 0.0])
    assert ledger.drain[0] == pytest.approx([1.188, 0.0, 0.0])
    assert ledger.level_end[0] == pytest.approx([0.594] * 3)
    assert ledger.starts[0].tolist() == [1, 0, 0]


def test_exponential_approach_without_a_shut_off():
    """q = q₀·(V_top − V)/band from the bottom of the band: what is missing falls as exp(−q₀·t/band), for ever."""
    tank = TankUse(0.5, 0.2, start_full=0.6)
    ledger = year(response((0.5, 0.0), (1.0, 3.0)), demand=NOTHING, tank=tank, shutoff=(), days=4)
    missing = 0.2 * np.exp(-0.5 * L_MIN * DAY / 0.2 * np.arange(5))
    assert 0.5 - ledger.level_end[0] == pytest.approx(missing[1:], rel=1e-9)
    assert ledger.product[0] == pytest.approx(-np.diff(missing), rel=1e-9)
    opened = ledger.product[0] / (0.5 * L_MIN)  # ∫o dt
    assert ledger.drain[0] == pytest.approx(3.0 * L_MIN * DAY - 2.0 * L_MIN * opened, rel=1e-9)
    assert ledger.running[0] == pytest.approx([DAY] * 4)
    assert ledger.starts[0].tolist() == [1, 0, 0, 0]
    assert ledger.never_stops.tolist() == [True]


def test_a_float_hovers_where_it_makes_what_is_drawn():
    draw = 0.3  # of q₀
    ledger = year(
        response((1.0, 0.0)), demand=draw * L_MIN * DAY * EVERY_DAY, week=ALL_DAY, tank=TankUse(0.5, 0.1), shutoff=(),
        days=5,
    )  # fmt: skip
    assert ledger.level_end[0, 4] == pytest.approx(0.5 - draw * 0.1, rel=1e-9)
    assert ledger.product[0, 4] == pytest.approx(draw * L_MIN * DAY, rel=1e-6)
    assert ledger.drain[0, 4] == pytest.approx(2.0 * L_MIN * DAY)


def test_levels_of_the_shut_off_by_hand():
    """Ratio 0.2 + 0.8·(1 − o): 0.9 where the float is an eighth open, 0.6 where it is half open."""
    of = response((1.0, 0.0), ratio=(0.2, 1.0))
    curve = of.at(np.array([TWENTY]), np.array([4.0 * BAR]), np.ones(1))

    def levels(*rules: ShutOffRule) -> tuple[float, float]:
        phase = phase_of(curve, of.openings, TankUse(0.5, 0.08), rules)
        return float(phase.close[0]), float(phase.reopen[0])

    assert levels(ShutOffRule("ratio", 0.9, 0.6)) == pytest.approx((0.49, 0.46))
    assert levels(ShutOffRule("ratio", 0.9, 0.1)) == pytest.approx((0.49, 0.42))  # lower than it ever is
    assert levels(ShutOffRule("ratio", 1.1, 0.6)) == pytest.approx((np.inf, 0.46))  # never reached
    assert levels(ShutOffRule("ratio", 0.15, 0.1))[0] == -np.inf  # full open it is shut
    switch = ShutOffRule("membrane_pa", 2.0 * BAR, 1.2 * BAR)  # 0.5 and 0.3 of 4 bar: 5/8 and 7/8 open
    assert levels(switch) == pytest.approx((0.45, 0.43))
    assert levels(ShutOffRule("ratio", 0.9, 0.6), switch) == pytest.approx((0.45, 0.43))
    assert levels() == (np.inf, -np.inf)


def test_starts_between_the_levels_by_hand():
    """60 L between reopening and closing, 0.5 L/min drawn: 120 min standing, 60/(1.5 − 0.5) = 60 min running."""
    ledger = year(
        response(1.5), demand=0.5 * L_MIN * DAY * EVERY_DAY, week=ALL_DAY, tank=TankUse(0.5, 0.1),
        shutoff=(ShutOffRule("ratio", 0.9, 0.3),), days=10,
    )  # fmt: skip
    # From the top down to 0.43 m3 in 140 min, then a start every three hours: each day at 140 + 180·n min.
    assert ledger.starts[0].tolist() == [8] * 10
    # At midnight the last, at 1400 min, is 40 min old.
    assert ledger.level_end[0] == pytest.approx([0.47] * 10)
    assert minutes(ledger.running[0]) == pytest.approx([7 * 60 + 40, *[8 * 60] * 9])
    assert ledger.product[0] == pytest.approx(1.5 * L_MIN * ledger.running[0])


def test_a_shut_off_that_never_opens_makes_nothing():
    ledger = year(response((1.0, 0.0), ratio=(0.5, 1.0)), shutoff=(ShutOffRule("ratio", 0.4, 0.2),), days=14)
    assert ledger.product.sum() == 0.0
    assert ledger.short.sum() == pytest.approx(10 * 0.32 - 0.65)


def test_a_chattering_float_is_refused(monkeypatch):
    monkeypatch.setattr(_March, "_cycles", lambda self, phase, stopped, draw, left: left)
    monkeypatch.setattr(_March, "_repeat", lambda self, event, at, left: left)
    monkeypatch.setattr("rinsewright.seasons.march._MOST_SPARE", 0)
    with pytest.raises(NoWorkingState, match=r"more than 1,000 times a day.*wider band"):
        year(tank=TankUse(0.65, 1e-8), days=3)
    with pytest.raises(NoWorkingState, match=r"more than 1,000 times a day.*give the break tank more litres"):
        year(response(4.0, 2.0), days=1, shutoff=(), break_tank=BreakTank(0.1 * LITRE, 3.0 * L_MIN))


# --- cycles counted and cycles stepped ---

CYCLED = (
    "product", "drain", "back", "overflow", "delivered", "short", "starts", "running", "energy", "salt", "creep",
    "salt_drawn", "level_end", "lowest", "keep", "tank_reading", "worst",
)  # fmt: skip
CYCLING: dict[str, dict[str, Any]] = {
    "even": {"of": response((3.0, 0.0), (2.0, 3.0), (15.0, 40.0)), "tank": TankUse(0.3, 0.02)},
    "all day": {"of": response((3.0, 0.0), (2.0, 3.0), (15.0, 40.0)), "tank": TankUse(0.3, 0.02), "week": ALL_DAY},
    "vans": {"of": response((18.0, 0.0)), "tank": TankUse(0.3, 0.008),
             "vans": (VanUse(0.4, 15 * HOUR, 5.0 * L_MIN, 0.6), VanUse(0.2, 16.5 * HOUR, 3.0 * L_MIN, 0.4))},
    "a tank of a cup": {"of": response((4.0, 0.0), 1.0, (5.0, 9.0)), "tank": TankUse(0.004, 0.0035)},
}  # fmt: skip


@pytest.mark.parametrize("name", CYCLING)
def test_cycles_counted_are_cycles_stepped(name, monkeypatch):
    """The same year with each cycle marched one by one; readings start off the balance, so that mixing shows."""
    rest = {"standstill": Standstill(1.5 * LITRE, 900.0, 0.2), "flush_m3": LITRE, "pump_w": 150.0,
            "delivery_j_per_m3": 1e5, "shutoff": (ShutOffRule("ratio", 0.6, 0.2),), "days": 12}  # fmt: skip
    counted = year(**(CYCLING[name] | rest))
    monkeypatch.setattr(_March, "_cycles", lambda self, phase, stopped, draw, left: left)
    stepped = year(**(CYCLING[name] | rest))
    assert stepped.starts.sum() > 60
    for what in CYCLED:
        assert getattr(counted, what) == pytest.approx(getattr(stepped, what), rel=1e-6, abs=1e-9), what


def test_hours_cut_out_change_nothing():
    """Exact between events: with every day cut into hours, and its draw into pieces, it is the same year.

    Mixing takes the water between two openings of the table as one, so that what the tank reads is a little off.
    """
    pieces = Week(((Draw(8 * HOUR, 10.7 * HOUR, 2.7 / 8), Draw(10.7 * HOUR, 16 * HOUR, 5.3 / 8)),) * 7)
    openings = np.linspace(1.0, 0.0, 41)
    of = response(2.0 * openings, 2.5, 15.0, 1.0 - openings, openings)
    still = Standstill(1.5 * LITRE, 900.0, 0.2)
    whole = year(of, standstill=still, days=28)
    for cut in ({"hourly_days": tuple(range(28))}, {"week": pieces}):
        other = year(of, standstill=still, days=28, **cut)
        for what in CYCLED:
            off = {"salt_drawn": 2e-5, "tank_reading": 2e-5, "worst": 2e-5, "keep": 1e-3}.get(what, 1e-6)
            assert getattr(other, what) == pytest.approx(getattr(whole, what), rel=off, abs=1e-9), what


def test_hours_add_up_to_days():
    days = tuple(range(3, 10))
    ledger = year(response((0.7, 0.0)), hourly_days=days, days=14)
    assert ledger.hours.days == days
    for what in ("product", "drain", "delivered", "salt"):
        chosen = getattr(ledger, what)[:, days[0] : days[-1] + 1]
        assert getattr(ledger.hours, what).sum(axis=2) == pytest.approx(chosen, abs=1e-12), what
    assert ledger.hours.level[0, :, -1] == pytest.approx(ledger.level_end[0, 3:10])
    assert ledger.hours.delivered[0, 0, 8:16] == pytest.approx(np.full(8, 0.04))
    assert ledger.hours.delivered[0, 0, :8].sum() == 0.0


def test_members_march_side_by_side():
    """Together as alone, to the last bit."""
    factors, salt = np.array([0.4, 0.9, 1.6]), np.array([1.0, 0.5, 2.0])
    wanted = np.random.default_rng(3).uniform(0.1, 0.6, (3, 365))
    rest: dict[str, Any] = {"week": NIGHT, "standstill": Standstill(LITRE, 900.0, 0.2), "days": 60}
    of = response((1.0, 0.0))
    together = year(of, demand=wanted, members=3, flow_factor=factors, salt_factor=salt, **rest)
    for n in range(3):
        one: dict[str, Any] = {
            "flow_factor": factors[n : n + 1],
            "salt_factor": salt[n : n + 1],
            "demand": wanted[n : n + 1],
        }
        alone = year(of, **one, **rest)
        for what in CYCLED:
            assert getattr(together, what)[n].tolist() == getattr(alone, what)[0].tolist(), what


def test_some_days_of_the_calendar():
    """A march may begin on any day: 1 January is a Monday, so day 5 (from 0) is a Saturday."""
    ledger = year(first_day=5, days=4)
    assert ledger.demand[0] == pytest.approx([0.0, 0.0, 0.32, 0.32])
    assert ledger.first_day == 5


# --- the tank's reading ---


def test_mixing_in_the_tank_is_exact():
    """Level straight in time: against d(V·κ)/dt = q·κ_in − d·κ integrated by scipy."""
    from scipy.integrate import solve_ivp

    first, later = response(0.5, reading=10.0), response(0.5, reading=30.0)
    demand = np.zeros((1, 365))
    demand[0, 1] = 0.3
    ledger = year(responses=((0, first), (1, later)), demand=demand, tank=TankUse(0.4, 0.05), days=2)
    draw, made, low = 0.3 / (8 * HOUR), 0.5 * L_MIN, 0.4 - 0.9 * 0.05
    left = 8 * HOUR - (0.4 - low) / draw  # of the draw when the plant starts

    def slope(t: float, content: Any) -> Any:
        return made * 30.0 * US_CM - draw * content / (low + (made - draw) * t)

    end = solve_ivp(slope, (0.0, left), [10.0 * US_CM * low], rtol=1e-11, atol=1e-16).y[0, -1]
    assert ledger.worst[0, 1] == pytest.approx(end / (low + (made - draw) * left), rel=1e-6)


# --- standing ---


def test_creep_against_its_closed_form():
    """One start each night: share·(1 − exp(−t/τ))·V·(C_source − C_product), t since the last stop."""
    volume, tau, share = 1.5 * LITRE, 20 * HOUR, 0.3
    of = response(1.0, reading=15.0, feed=600.0, concentrate=900.0)
    for flushed, source in ((False, 750.0), (True, 600.0)):
        still = Standstill(volume, tau, share, flushed)
        ledger = year(of, week=NIGHT, demand=0.2 * EVERY_DAY, standstill=still, days=6)
        # Each day's filling begins at 20:00 and ends before midnight: it has stood for the day less yesterday's run.
        assert ledger.starts[0].tolist() == [1] * 6
        stood = DAY - ledger.running[0, :-1]
        bound = share * volume * (source - 15.0) * US_CM
        assert ledger.creep[0, 1:] == pytest.approx(-bound * np.expm1(-stood / tau), rel=1e-9)
        assert (ledger.creep[0] < bound).all()
        assert ledger.creep[0, 0] == pytest.approx(bound, rel=1e-3)  # had stood for a week
        assert ledger.salt[0] == pytest.approx(ledger.product[0] * 15.0 * US_CM + ledger.creep[0], rel=1e-9)


def test_creep_is_slower_where_salt_permeance_is_less_and_faster_as_it_ages():
    still = Standstill(1.5 * LITRE, 100 * HOUR, 1.0)
    rest: dict[str, Any] = {"week": NIGHT, "demand": 0.2 * EVERY_DAY, "days": 3}
    new = year(standstill=still, **rest)
    old = year(standstill=still, membranes=MembraneUse(passage_growth=1.0, age_days=365.0), **rest)
    stood = DAY - old.running[0, 1]
    excess = 1.5 * LITRE * (750.0 - 2 * 15.0 * 2 ** (2 / 365)) * US_CM  # product twice as salty after a year
    assert old.creep[0, 2] == pytest.approx(-excess * np.expm1(-stood * 2 ** (1 + 2 / 365) / (100 * HOUR)), rel=1e-9)
    assert old.creep[0, 2] > 1.5 * new.creep[0, 2]


def test_a_full_tank_is_not_topped_up_when_the_tap_opens():
    """Filled on Friday night, it stands through the weekend: no start on Saturday and Sunday evening."""
    ledger = year(week=NIGHT, days=14)
    assert ledger.starts[0].tolist() == [1, 1, 1, 1, 1, 0, 0] * 2 or ledger.starts[0, [5, 6, 12, 13]].sum() == 2
    by_midnight = year(response(2.0), week=NIGHT, days=14)
    assert by_midnight.starts[0].tolist() == [1, 1, 1, 1, 1, 0, 0] * 2


def test_flush_at_each_stop():
    ledger = year(response(2.0, 3.0), week=NIGHT, flush_m3=5 * LITRE, days=14)
    assert ledger.starts.sum() == 10  # and as many stops: each filling ends before midnight
    assert ledger.drain[0] == pytest.approx(3.0 / 2.0 * ledger.product[0] + 5 * LITRE * ledger.starts[0])


# --- dry, full, closed ---


def test_tank_dry_and_litres_short_by_hand():
    rest: dict[str, Any] = {"tank": TankUse(0.1, 0.01), "demand": 0.3 * EVERY_DAY, "days": 1}
    closed = year(week=NIGHT, **rest)  # the tap opens at 20:00
    assert (closed.delivered[0, 0], closed.short[0, 0]) == pytest.approx((0.1, 0.2))
    assert closed.lowest[0, 0] == 0.0
    # 0.3 m3 in 8 h are 0.625 L/min. Started with 9 L gone; then 0.4 L/min made: dry 91/0.225 min later.
    open_ = year(response(0.4), week=ALWAYS, **rest)
    started = 9.0 / 0.625
    assert open_.delivered[0, 0] == pytest.approx(0.1 + 0.4 * (480.0 - started) * LITRE)
    assert open_.short[0, 0] == pytest.approx(0.2 - 0.4 * (480.0 - started) * LITRE)
    assert open_.short_days.tolist() == [1]


def test_what_comes_through_a_dry_tank_reads_as_made():
    ledger = year(response(0.4, reading=22.0), tank=TankUse(0.05, 0.01), demand=0.5 * EVERY_DAY, days=3)
    assert ledger.short[0].min() > 0.0
    assert ledger.worst[0] == pytest.approx([22.0 * US_CM] * 3)


def test_overflow_without_a_float_valve():
    """Ten hours at 1 L/min bring 600 L, of which a working day's 320 L have room."""
    ledger = year(response(1.0, 2.0), week=NIGHT, tank=TankUse(0.65, 0.06, floats=False), shutoff=(), days=14)
    assert ledger.product[0] == pytest.approx(np.full(14, 0.6))
    # Monday to Friday: 240 L until midnight, 80 L until 01:20, then 280 L over the top; after that two nights of it.
    assert ledger.overflow[0, 1:7] == pytest.approx([0.28] * 4 + [0.28 + 0.24, 0.6])
    assert ledger.overflow[0, 0] == pytest.approx(0.36)  # full on New Year's Eve
    assert ledger.level_end[0, :7] == pytest.approx([0.57] * 5 + [0.65] * 2)


def test_the_tap_opens_in_its_window_only():
    ledger = year(response(1.0), week=NIGHT, hourly_days=tuple(range(7)), days=7)
    made = ledger.hours.product[0].reshape(-1)
    hour = np.arange(len(made)) % 24
    assert made[(hour >= 6) & (hour < 20)].max() == 0.0
    assert made[hour == 20].reshape(7)[:5] == pytest.approx([0.06] * 5)
    cut = year(response(0.4), week=NIGHT, days=7)  # 240 L in ten hours: stopped by the clock, and started again
    assert cut.starts[0].tolist() == [1, 1, 1, 1, 1, 1, 1]
    assert cut.running[0, 1:5] == pytest.approx([10 * HOUR] * 4)


def test_frost_keeps_the_tap_shut():
    frost = np.zeros((1, 365), dtype=bool)
    frost[0, [1, 2]] = True
    ledger = year(response(1.0), shut_days=frost, days=5)
    assert ledger.product[0, [1, 2]].tolist() == [0.0, 0.0]
    assert ledger.shut[0].tolist() == [False, True, True, False, False]
    assert ledger.product[0, [0, 3]].min() > 0.0
    assert ledger.delivered[0].sum() + ledger.short[0].sum() == pytest.approx(5 * 0.32)


def test_pressure_by_the_hour():
    """Half the flow under half the pressure, from 22:00 to 06:00."""
    of = response(1.0, 2.0, by_pressure={2.0: 0.5, 4.0: 1.0})
    pressure = np.full(24, 4.0 * BAR)
    pressure[[22, 23, 0, 1, 2, 3, 4, 5]] = 2.0 * BAR
    ledger = year(of, standing_pa=pressure, tank=TankUse(9.0, 0.05, 0.0), demand=NOTHING, hourly_days=(0,), days=1)
    assert ledger.hours.product[0, 0] == pytest.approx(np.where(pressure > 3.0 * BAR, 0.06, 0.03))
    assert ledger.drain[0, 0] == pytest.approx(2.0 * ledger.product[0, 0])


def test_flows_follow_the_water_temperature_and_the_permeance():
    of = response(1.0, by_temperature={0.0: 0.5, 20.0: 1.0}, by_factor={0.5: 0.5, 1.0: 1.0})
    temperature = np.full((1, 365), float(kelvin(10.0)))
    temperature[0, 1] = float(kelvin(20.0))
    factor = np.ones((1, 365))
    factor[0, 2] = 0.6
    rest: dict[str, Any] = {"tank": TankUse(99.0, 0.05, 0.0), "demand": NOTHING, "days": 3}
    ledger = year(of, temperature_k=temperature, water_factor=factor, flow_factor=np.array([1.1]), **rest)
    assert ledger.full_product[0] / L_MIN == pytest.approx([0.75 * 1.1, 1.1, 0.75 * 0.6 * 1.1])
    assert ledger.product[0] == pytest.approx(ledger.full_product[0] * DAY)


# --- the break tank ---


def test_a_break_tank_runs_dry_and_starts_again_half_full():
    """50 L, 1 L/min in and 3 L/min out: dry after 25 min, then 25 min waiting and 12.5 min running, over and over."""
    mains = BreakTank(0.05, 1.0 * L_MIN)
    tank = TankUse(9.0, 0.05, 0.0)
    ledger = year(response(1.0, 2.0), break_tank=mains, tank=tank, demand=NOTHING, days=2)
    assert minutes(ledger.running[0, 0]) == pytest.approx(25 + 37 * 12.5 + 2.5, abs=0.01)
    assert ledger.starts[0, 0] == 1 + 38
    # It never takes more than there was and came; at midnight 20 L are left.
    assert ledger.feed[0, 0] == pytest.approx(0.05 + 1.44 - 0.02, abs=1e-5)
    assert ledger.feed[0].cumsum()[-1] <= 0.05 + 2 * 1.44 + 1e-9


def test_a_break_tank_refilled_fast_enough_does_not_matter():
    tank = TankUse(0.65, 0.06)
    ledger, without = (
        year(response((1.0, 0.0), 2.0), tank=tank, break_tank=mains, days=14)
        for mains in (BreakTank(0.02, 3.1 * L_MIN), None)
    )
    for what in CYCLED:
        if what != "worst":
            assert getattr(ledger, what) == pytest.approx(getattr(without, what), rel=1e-6, abs=1e-9), what


# --- vans ---

TWO_VANS = (VanUse(0.4, 16 * HOUR, 20.0 * L_MIN, 2 / 3), VanUse(0.2, 23 * HOUR, 2.0 * L_MIN, 1 / 3))


def test_two_vans_by_hand():
    """900 L wanted: 600 and 300 of vans that carry 400 and 200. One is refilled at once, the other over midnight."""
    demand = np.zeros((1, 365))
    demand[0, :2] = 0.9, 0.3
    ledger = year(
        response((1.5, 0.0)), vans=TWO_VANS, demand=demand, tank=TankUse(1.5, 0.06), hourly_days=(0, 1, 2), days=3
    )
    assert ledger.short[0] == pytest.approx([0.3, 0.0, 0.0])
    assert ledger.short_days.tolist() == [1]
    got = ledger.hours.delivered[0]
    assert got[0, 16] == pytest.approx(0.4)  # 20 minutes
    assert got[0, 23] == pytest.approx(0.12)
    assert got[1, 0] == pytest.approx(0.08)  # full at 00:40
    assert got[1, 1:16].sum() == 0.0
    assert got[1, 16] == pytest.approx(0.2)
    assert got[1, 23] + got[2, 0] == pytest.approx(0.1)
    assert ledger.delivered[0].sum() == pytest.approx(0.6 + 0.3)


def test_a_van_leaves_with_what_it_has():
    """At 0.2 L/min from 16:00 to 08:00 it gets 192 L a night of the 300 L it uses."""
    van = VanUse(0.4, 16 * HOUR, 0.2 * L_MIN, 1.0)
    ledger = year(vans=(van,), demand=0.3 * EVERY_DAY, days=5)
    level = 0.4
    for day in range(5):
        assert ledger.short[0, day] == pytest.approx(max(0.3 - level, 0.0), abs=1e-9)
        level = max(level - 0.3, 0.0) + 0.192
    assert ledger.delivered[0, 1:] == pytest.approx([0.192] * 4)


def test_vans_at_an_empty_tank_get_what_is_made():
    of, tank = response(0.25), TankUse(0.1, 0.01)
    ledger = year(of, vans=TWO_VANS, demand=0.6 * EVERY_DAY, tank=tank, days=10)
    assert ledger.lowest[0].max() == 0.0
    assert ledger.delivered[0, 5:] == pytest.approx(ledger.product[0, 5:], abs=1e-9)
    assert ledger.delivered[0, 5:] == pytest.approx(ledger.demand[0, 5:] - ledger.short[0, 5:], abs=0.1)
    assert ledger.short[0].min() >= 0.0


# --- direct to the pole ---


def test_the_brush_throttles_the_plant():
    """q = 2·o L/min and 0.5 L/min wanted: a quarter open, at that opening's drain and reading."""
    of = response((2.0, 0.0), (1.0, 3.0), (10.0, 30.0))
    rest: dict[str, Any] = {"tank": None, "demand": 0.24 * EVERY_DAY, "days": 2}
    ledger = year(of, **rest)
    assert ledger.product[0] == pytest.approx([0.24] * 2)
    assert ledger.drain[0] == pytest.approx([480 * (3.0 - 0.25 * 2.0) * LITRE] * 2)
    assert ledger.salt[0] == pytest.approx([480 * 0.25 * 2.0 * 10.0 * US_CM * LITRE] * 2)
    assert ledger.worst[0] == pytest.approx([10.0 * US_CM] * 2)
    assert ledger.starts[0].tolist() == [1, 1]
    assert ledger.running[0] == pytest.approx([8 * HOUR] * 2)


def test_direct_to_the_pole_gives_what_it_can():
    ledger = year(response((1.0, 0.0)), tank=None, demand=0.6 * EVERY_DAY, days=2)
    assert ledger.product[0] == pytest.approx([0.48] * 2)
    assert ledger.short[0] == pytest.approx([0.12] * 2)
    assert ledger.drain[0] == pytest.approx([0.96] * 2)


def test_between_jobs_the_drain_runs_on_without_a_shut_off():
    """Two jobs of half an hour at 08:00 and 15:30; in between seven hours with the brush shut."""
    jobs = Week(((Draw(8 * HOUR, 8.5 * HOUR, 0.5), Draw(15.5 * HOUR, 16 * HOUR, 0.5)),) * 7)
    of = response((2.0, 0.0), (1.0, 3.0))
    rest: dict[str, Any] = {"tank": None, "week": jobs, "demand": 0.06 * EVERY_DAY, "days": 2}
    held, runs_on = year(of, **rest), year(of, shutoff=(), **rest)
    at_work = 60 * 2.0 * LITRE  # half open
    assert held.drain[0] == pytest.approx([at_work] * 2)
    assert held.starts[0].tolist() == [2, 2]
    assert runs_on.drain[0] == pytest.approx([at_work + 7 * 60 * 3.0 * LITRE] * 2)
    assert runs_on.starts[0].tolist() == [1, 1]
    assert runs_on.running[0] == pytest.approx([8 * HOUR] * 2)
    assert runs_on.product[0] == pytest.approx(held.product[0])


def test_the_first_water_at_the_pole_carries_what_crept():
    still = Standstill(1.5 * LITRE, 900.0, 0.2)
    ledger = year(response((2.0, 0.0), reading=15.0), tank=None, demand=0.24 * EVERY_DAY, standstill=still, days=2)
    # Undiluted in the product side: the reading is a fifth of the way from the product's to the source's.
    assert ledger.worst[0] == pytest.approx([(15.0 + 0.2 * (750.0 - 15.0)) * US_CM] * 2, rel=1e-6)
    assert ledger.salt[0] == pytest.approx(ledger.salt_drawn[0])


# --- water that runs back ---


def test_the_line_runs_back_at_each_stop():
    line = 3.0 * LITRE
    rest: dict[str, Any] = {"week": NIGHT, "days": 14}
    back, held = (year(response(2.0, 1.0), back_flow=BackFlow(line=v), **rest) for v in (line, 0.0))
    # What ran back at a stop is made up at the next start; before the first start there was no stop.
    assert back.back[0] == pytest.approx([0.0, *[line] * 4, 0.0, 0.0, *[line] * 5, 0.0, 0.0])
    assert back.product[0, 1:5] == pytest.approx(held.product[0, 1:5] + line)
    assert back.drain[0, 1:5] == pytest.approx(0.5 * back.product[0, 1:5] + line)
    assert back.feed[0, 1:5] == pytest.approx(1.5 * back.product[0, 1:5])


def test_a_tank_filled_from_below_leaks_while_it_stands():
    leak = 0.1 * LITRE / HOUR
    ledger = year(demand=NOTHING, back_flow=BackFlow(leak=leak), shutoff=(SHUT_OFF,), week=ALWAYS, days=3)
    assert 0.65 - ledger.level_end[0] == pytest.approx(np.arange(1, 4) * 24 * leak * HOUR)
    assert ledger.back[0] == pytest.approx([24 * leak * HOUR] * 3)
    assert ledger.drain[0] == pytest.approx(ledger.back[0])
    assert ledger.feed[0] == pytest.approx([0.0] * 3, abs=1e-12)
    assert ledger.delivered.sum() == 0.0
    fast = year(demand=NOTHING, back_flow=BackFlow(leak=10.0 * leak), days=60)
    # 24 L a day: falls from closing to reopening (48 L) in two days, then is filled again.
    assert fast.starts[0].sum() == pytest.approx((60 * 24 - 6) / 48, abs=1)


# --- what wears ---


def worn(cartridge: CartridgeUse | None = None, membranes: MembraneUse | None = None, **rest: Any) -> Ledger:
    """Some months at 1 m3 of feed a day: 0.4 L/min made and 0.6 drained for 1000 minutes, every day."""
    given: dict[str, Any] = {
        "tank": TankUse(9.0, 0.05, 0.5),
        "shutoff": (),
        "demand": 0.4 * EVERY_DAY,
        "week": WINDOW,
        "days": MONTHS,
    }
    if cartridge is not None:
        given["cartridges"] = (cartridge,)
    if membranes is not None:
        given["membranes"] = membranes
    return year(**({"of": response(0.4, 0.6)} | given | rest))


MONTHS = 150
WINDOW = even_week(8 * HOUR, 16 * HOUR, fill_from=0.0, fill_until=1000 * MINUTE)


def changes(ledger: Ledger) -> list[int]:
    return (np.flatnonzero(ledger.cartridge_changes[0, 0]) + 1).tolist()


def reasons(ledger: Ledger) -> set[int]:
    return set(ledger.cartridge_reasons[0, 0].tolist()) - {-1}


def test_a_cartridge_by_the_rise_of_its_loss():
    """At the day's feed flow, 20 °C: loss 0.1 bar clean at twice that flow, so 0.05; doubled each 20 m3.

    A rise of 0.35 bar over clean is 8 times the clean loss: three doublings, 60 m3.
    """
    use = CartridgeUse("sediment", clean_pa=0.1 * BAR, at_flow=2.0 * L_MIN, to_double=20.0, rise_pa=0.35 * BAR)
    ledger = worn(use)
    assert ledger.feed[0] == pytest.approx(np.ones(MONTHS))
    assert changes(ledger) == [60, 120]
    assert reasons(ledger) == {0}
    assert ledger.cartridge_spent[0, 0] == pytest.approx(2.5)


def test_dirt_takes_its_share_of_the_pressure():
    """Flow as the pressure, 4 bar standing: after 20 m3 the cartridge takes off 0.5 bar more than clean."""
    of = response(0.4, 0.6, by_pressure={2.0: 0.5, 4.0: 1.0})
    use = CartridgeUse("sediment", clean_pa=0.5 * BAR, at_flow=1.0 * L_MIN, to_double=20.0)
    ledger = worn(use, of=of)
    filtered = np.concatenate([[0.0], ledger.feed[0].cumsum()[:-1]])
    flow = ledger.full_product[0] / (0.4 * L_MIN)  # share of the clean one's
    before = np.concatenate([[0.0], flow[:-1]])  # dirt is felt at the flow of the day before
    lost = 0.5 * before * (2.0 ** (filtered / 20.0) - 1.0)
    assert flow == pytest.approx(np.maximum(1.0 - lost / 4.0, 0.5))


def test_a_cartridge_by_volume_by_time_by_date_and_by_chlorine():
    volume = worn(CartridgeUse("carbon", volume=100.0))
    assert changes(volume) == [100]
    assert reasons(volume) == {1}
    assert volume.cartridge_spent[0, 0] == pytest.approx(1.5)
    time = worn(CartridgeUse("carbon", days=91.25))
    assert changes(time) == [92]  # checked at midnight
    assert reasons(time) == {2}
    chlorine = worn(CartridgeUse("carbon", chlorine_kg=0.05, chlorine=0.5e-3))  # 0.5 mg/L: 100 m3
    assert changes(chlorine) == [100]
    assert reasons(chlorine) == {3}
    dates = worn(CartridgeUse("carbon", volume=1000.0, on=(50, 120)))
    assert changes(dates) == [50, 120]
    assert reasons(dates) == {4}
    assert dates.cartridge_spent[0, 0] == pytest.approx(2 + 0.03)  # what is left is thrown away
    either = worn(CartridgeUse("carbon", volume=100.0, days=60.0))
    assert changes(either) == [60, 120]


def test_visits_are_days_not_parts():
    both = worn(cartridges=(CartridgeUse("a", volume=100.0), CartridgeUse("b", volume=50.0)))
    assert both.cartridge_changes.sum() == 1 + 3
    assert both.visits.tolist() == [3]


def membrane_days(ledger: Ledger) -> list[int]:
    return (np.flatnonzero(ledger.membrane_changes[0]) + 1).tolist()


def test_membranes_by_their_flow():
    """7 % a year: 15 % are gone after ln 0.85/ln 0.93 = 2.2394 years, 817.4 days."""
    ledger = worn(membranes=MembraneUse(flow_loss=0.07, flow_loss_allowed=0.15, age_days=700.0))
    assert membrane_days(ledger) == [118]
    assert ledger.membrane_reasons[0, 117] == 0
    assert ledger.membrane_spent[0] == pytest.approx(117.4 / 817.4 + (MONTHS - 118) / 817.4, abs=1e-3)


def test_membranes_by_their_salt():
    """10 % a year, 1.5 times allowed: ln 1.5/ln 1.1 = 4.2542 years, 1552.8 days."""
    ledger = worn(membranes=MembraneUse(passage_growth=0.1, passage_allowed=1.5, age_days=1500.0))
    assert membrane_days(ledger) == [53]
    assert ledger.membrane_reasons[0, 52] == 1
    before, after = ledger.before[0, 52], ledger.before[0, 53]
    assert before / after == pytest.approx(1.1 ** (1552 / 365))


def test_membranes_by_chlorine_and_by_age():
    """0.05 mg/L for 1000 minutes a day are 0.8333 mg h/L a day: 100 of them after 120 days."""
    dose = 100.0 * 1e-3 * HOUR
    ledger = worn(membranes=MembraneUse(chlorine=0.05e-3, tolerance=dose))
    assert membrane_days(ledger) == [120]
    assert set(ledger.membrane_reasons[0].tolist()) == {-1, 2}
    aged = worn(membranes=MembraneUse(change_after_days=1000.0, age_days=900.0))
    assert membrane_days(aged) == [100]
    assert aged.membrane_reasons[0, 99] == 3
    assert aged.membrane_spent[0] == pytest.approx(0.1 + 0.05)


def test_ageing_membranes_make_less_and_saltier_water():
    of = response(0.4, 0.6, by_factor={0.5: 0.5, 1.0: 1.0})
    ledger = worn(membranes=MembraneUse(flow_loss=0.07, passage_growth=0.1), of=of)
    age = np.arange(MONTHS) / 365
    assert ledger.full_product[0] / (0.4 * L_MIN) == pytest.approx(0.93**age)
    assert ledger.before[0] == pytest.approx(15.0 * US_CM * 1.1**age)


# --- balances over a year, of plants and diaries mixed by chance ---


def mixed(seed: int) -> YearInputs:
    """Some members of a plant as nobody would build it."""
    rng = Random(seed)
    numbers = np.random.default_rng(seed)
    members = 2
    openings = (1.0, 0.6, 0.3, 0.1, 0.03, 0.0)
    shape = np.array([1.0, 0.97, 0.8, 0.4, 0.13, 0.0])
    q = rng.uniform(0.3, 4.0)
    w = rng.uniform(0.2, 4.0)
    of = response(
        product=q * shape, drain=w * (1.1 - 0.1 * shape), reading=rng.uniform(5.0, 40.0) * (2.5 - 1.5 * shape),
        ratio=0.1 + 0.85 * (1.0 - shape), openings=openings,
        by_temperature={5.0: 0.7, 20.0: 1.1}, by_pressure={1.0: 0.3, 5.0: 1.2}, by_factor={0.3: 0.3, 1.5: 1.4},
    )  # fmt: skip
    start, length = rng.uniform(4, 11) * HOUR, rng.uniform(1, 10) * HOUR
    window = (rng.uniform(0, 24) * HOUR, rng.uniform(0, 24) * HOUR) if rng.random() < 0.4 else (None, None)
    week = even_week(start, start + length, *window)
    floats, direct = rng.random() < 0.8, seed % 7 == 6
    volume = rng.choice((0.3, 0.65, 2.0) if seed % 4 == 1 else (0.05, 0.3, 0.65, 2.0))
    tank = TankUse(volume, rng.uniform(0.02, 0.5) * volume, rng.choice((0.0, 0.4, 1.0)), floats)
    rules = (ShutOffRule("ratio", 0.85, 0.3),) if rng.random() < 0.7 else ()
    vans: tuple[VanUse, ...] = ()
    if rng.random() < 0.35:
        home = [(rng.uniform(0.1, 0.7), rng.uniform(0, 23.9) * HOUR, rng.uniform(1, 25) * L_MIN) for _ in range(2)]
        vans = VanUse(*home[0], 0.6), VanUse(*home[1], 0.4)
    pressure = np.full(24, 4.0 * BAR)
    if rng.random() < 0.4:
        pressure = np.repeat(numbers.uniform(2.0, 5.0, 4) * BAR, 6)
    check = rng.choice((BackFlow(), BackFlow(), BackFlow(line=2 * LITRE), BackFlow(leak=2.0 * LITRE / HOUR)))
    days = np.arange(365)
    demand = demand_by_day(numbers.choice((0.0, 0.1, 0.4, 1.2), 7)) * numbers.uniform(0.3, 1.5, (members, 365))
    filters = CartridgeUse("sediment", 0.1 * BAR, 2 * L_MIN, 60.0, 0.5 * BAR), CartridgeUse("carbon", volume=1e6)
    return plant(
        of, demand=demand, cartridges=filters,
        members=members, week=week, tank=None if direct else tank, shutoff=rules if floats else (), vans=vans,
        temperature_k=np.asarray(kelvin(12.0 - 7.0 * np.cos(2 * np.pi * (days - 40) / 365)))[None, :],
        standing_pa=pressure, work=(start, start + length), back_flow=check, flush_m3=rng.choice((0.0, 2 * LITRE)),
        water_factor=numbers.uniform(0.8, 1.2, (members, 365)), salt_factor=numbers.uniform(0.5, 2.0, members),
        flow_factor=numbers.uniform(0.9, 1.1, members), shut_days=numbers.random((members, 365)) < 0.03,
        standstill=Standstill(1.5 * LITRE, 900.0, 0.2) if rng.random() < 0.5 else Standstill(),
        pump_w=120.0, delivery_j_per_m3=1e5,
        break_tank=BreakTank(rng.uniform(0.2, 0.5), rng.uniform(2, 6) * L_MIN) if seed % 4 == 1 else None,
        membranes=MembraneUse(0.07, 0.1, 0.15, 1.5, 1e-6, 20.0, 600.0),
    )  # fmt: skip


def small(values: Any, size: Any) -> None:
    """Nothing, to 1e-9 of the size."""
    assert np.abs(values).max() <= 1e-9 * np.max(size), np.abs(values).max() / np.max(size)


@pytest.mark.parametrize("seed", [*range(3), *(pytest.param(n, marks=pytest.mark.longer) for n in range(3, 20))])
def test_nothing_is_made_or_lost(seed):
    inputs = mixed(seed)
    ledger = march(inputs)
    start = inputs.tank.volume * inputs.tank.start_full if inputs.tank is not None else 0.0
    product = ledger.product.sum(axis=1)
    assert product.min() > 0.0

    level = np.concatenate([np.full((2, 1), start), ledger.level_end], axis=1)
    daily = ledger.product - ledger.delivered - ledger.overflow - ledger.back
    small(np.diff(level, axis=1) - daily, product.min())
    # What the filters saw, day after day, is what the tap gave: product and drain, less what ran back.
    small(ledger.cartridge_spent[1] * 1e6 - ledger.feed.sum(axis=1), product.min())

    begun = start_content(ledger, start) if start else 0.0
    left = ledger.level_end[:, -1] * ledger.tank_reading[:, -1]
    small(ledger.salt.sum(axis=1) + begun - ledger.salt_drawn.sum(axis=1) - left, ledger.salt.sum(axis=1))
    assert (ledger.creep <= ledger.salt * (1.0 + 1e-12) + 1e-15).all()
    assert (ledger.creep.sum() > 0.0) == (inputs.standstill.volume > 0.0)

    if not inputs.vans:
        small(ledger.delivered + ledger.short - ledger.demand, ledger.demand.max())
    else:
        carried = ledger.demand.sum(axis=1) - ledger.short.sum(axis=1) - ledger.delivered.sum(axis=1)
        assert (carried >= -1e-9).all()
        assert (carried <= sum(van.volume for van in inputs.vans) + 1e-9).all()
    if inputs.break_tank is not None:
        came = inputs.break_tank.volume + inputs.break_tank.refill * DAY * np.arange(1, 366)
        assert (ledger.feed.cumsum(axis=1) <= came * (1.0 + 1e-6)).all()
    energy = 120.0 * ledger.running + 1e5 * ledger.delivered
    small(ledger.energy - energy, energy.max())

    assert ledger.level_end.min() >= 0.0
    assert ledger.level_end.max() <= (inputs.tank.volume if inputs.tank is not None else 0.0) * (1 + 1e-12)
    assert ledger.running.max() <= DAY * (1 + 1e-9)
    assert min(getattr(ledger, name).min() for name in ("product", "drain", "back", "overflow", "short")) >= -1e-12
    assert ledger.product[ledger.shut & (np.roll(ledger.shut, 1, axis=1))].sum() == 0.0
    assert ((ledger.keep >= 0.0) & (ledger.keep <= 1.0)).all()


@pytest.mark.parametrize("behind", [False, True])
def test_charge_is_neither_made_nor_lost_in_the_resin(behind):
    """Equivalents in, left, held and taken away with changed resin; salt of the membranes becomes the resin's load."""
    inputs = mixed(4)
    ledger, use = march(inputs, days=60), replace(bed(2, litres=2.0), behind_tank=behind)
    taken = inflow(inputs, ledger, use)
    run = march_beds(use.bed, taken, use.limit)
    came = taken.amounts.sum(axis=-1)
    gone = run.leaving.sum(axis=-1) + run.held + run.taken_away
    small(came - gone, came.max())
    assert run.changes.sum() > 0
    # Sodium chloride: as much sodium as the salt that was made, or drawn from the tank.
    salt = (ledger.salt_drawn if behind else ledger.salt).sum(axis=1) / 0.0126
    assert taken.cations[0].sum(axis=1) == pytest.approx(salt, rel=1e-9)
    whole = through_resin(inputs, ledger, use)
    assert whole.resin_changes.sum() == run.changes.sum()
    assert np.nanmax(whole.worst) <= use.limit * (1 + 1e-9)


# --- many events ---


def _events(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Counts the steps of every march from now on."""
    count, step = [0], _March._advance

    def counted(self: _March, *given: Any) -> Any:
        count[0] += 1
        return step(self, *given)

    monkeypatch.setattr(_March, "_advance", counted)
    return count


SMALL_BREAK_TANK = BreakTank(0.02, 3.0 * L_MIN)


def test_a_break_tank_run_dry_by_a_drain_that_nothing_shuts(monkeypatch: pytest.MonkeyPatch):
    """Full tank, no shut-off: 4 L/min run to drain, 3 come. 20 L last 20 min; then 3.33 min of waiting for 10 L and 10
    of running, again and again: 107 more starts by midnight. Full open it would take 6 L/min, but it never is.
    """
    events = _events(monkeypatch)
    of = response(product=(4.0, 0.0), drain=(2.0, 4.0))
    ledger = year(of, days=1, tank=TankUse(0.2, 0.02), shutoff=(), break_tank=SMALL_BREAK_TANK, demand=np.zeros(7))
    assert ledger.starts[0, 0] == 108
    waited = 107 * 10.0 / 3.0 * 60.0
    assert ledger.running[0, 0] == pytest.approx(DAY - waited)
    assert ledger.drain[0, 0] == pytest.approx(4.0 * L_MIN * (DAY - waited))
    assert events[0] < 20


@pytest.mark.parametrize(
    ("draw", "line", "rules"), [(300, 0.5, ()), (2400, 0.5, ()), (4500, 0.5, ()), (1200, 0, (SHUT_OFF,))]
)
def test_counted_cycles_are_the_stepped_ones(
    monkeypatch: pytest.MonkeyPatch, draw: float, line: float, rules: tuple[ShutOffRule, ...]
):
    """The plant hovers under a draw, its line runs back, its break tank runs dry, or its shut-off closes and opens
    while the break tank slowly empties: counted or stepped, the same days.
    """
    of = response(product=(4.0, 2.5, 0.0), drain=(2.0, 3.0, 4.0), openings=(1.0, 0.5, 0.0), ratio=(0.0, 0.5, 1.0))
    rest: dict[str, Any] = {
        "tank": TankUse(0.2, 0.002 if rules else 0.02),
        "shutoff": rules,
        "break_tank": replace(SMALL_BREAK_TANK, volume=0.2) if rules else SMALL_BREAK_TANK,
        "back_flow": BackFlow(line=line * LITRE),
        "standstill": Standstill(LITRE, 600.0),
        "demand": np.full(7, draw * LITRE),
        "week": ALL_DAY,
        "days": 3,
    }
    events = _events(monkeypatch)
    counted = year(of, **rest)
    few = events[0]
    monkeypatch.setattr(_March, "_repeat", lambda self, event, at, left: left)
    stepped = year(of, **rest)
    assert few < 0.5 * (events[0] - few)
    for name in ("product", "drain", "back", "delivered", "short", "starts", "salt", "creep", "salt_drawn", "worst"):
        assert getattr(counted, name) == pytest.approx(getattr(stepped, name), rel=1e-4, abs=1e-9), name
    gained = counted.product.sum() - counted.back.sum() - counted.delivered.sum()
    assert counted.level_end[0, -1] == pytest.approx(0.2 + gained, abs=1e-9)

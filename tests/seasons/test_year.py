"""The year against bookkeeping, against hand calculation and against a march in small steps."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rinsewright.errors import InputError, NoWorkingState
from rinsewright.quantities import HOUR, L_MIN, LITRE, US_CM, kelvin
from rinsewright.seasons.climate import cosine, day_of_year
from rinsewright.seasons.inputs import (
    CartridgeUse,
    Draw,
    Rates,
    Standstill,
    TankUse,
    Week,
    YearInputs,
    demand_by_day,
    even_week,
    rounds_week,
)
from rinsewright.seasons.ledger import band, hours_minutes, year_answer
from rinsewright.seasons.year import simulate

WORKWEEK = np.array([320, 320, 320, 320, 320, 0, 0]) * LITRE
DAY_SHIFT = (8 * HOUR, 16 * HOUR)
ALWAYS = even_week(*DAY_SHIFT)
NIGHT = even_week(*DAY_SHIFT, fill_from=20 * HOUR, fill_until=6 * HOUR)


def constant(product=1.0, drain=2.0, reading=15.0, feed=600.0, members=1, **extra):
    """Rates that do not change with the day: L/min and µS/cm."""
    return Rates.plain(
        np.full((members, 365), product * L_MIN), np.full((members, 365), drain * L_MIN),
        np.full((members, 365), reading * US_CM), np.full((members, 365), feed * US_CM), **extra,
    )  # fmt: skip


TANK = TankUse(0.65, 0.06)


def run(rates=None, week=ALWAYS, demand=None, tank=TANK, **rest):
    demand = demand_by_day(WORKWEEK) if demand is None else demand
    return simulate(YearInputs(constant() if rates is None else rates, week, demand, tank, **rest))


def balance(ledger, start):
    level = np.concatenate([np.full((ledger.members, 1), start), ledger.level_end], axis=1)
    return np.diff(level, axis=1) - (ledger.product - ledger.delivered)


def test_the_book_balances_every_day():
    ledger = run(week=NIGHT)
    assert np.abs(balance(ledger, 0.65)).max() < 1e-12
    assert ledger.delivered + ledger.short == pytest.approx(ledger.demand, abs=1e-12)
    assert ledger.delivered.sum() == pytest.approx(261 * 0.32)  # 1 January a Monday: 52 weeks and another Monday
    assert ledger.drain == pytest.approx(2.0 * ledger.product)


def test_weekdays():
    ledger = run()
    assert ledger.demand[0, [0, 4, 5, 6, 364]] == pytest.approx([0.32, 0.32, 0.0, 0.0, 0.32])
    off = demand_by_day(WORKWEEK, days_off=[day_of_year(12, 25)])
    assert off[day_of_year(12, 25) - 1] == 0.0
    assert off.sum() == pytest.approx(WORKWEEK.sum() * 52)


def test_latest_start_by_hand():
    # Night filling, 320 L drawn by 16:00, 1 L/min: 320 min before the tap shuts at 06:00 is 00:40.
    assert run(week=NIGHT).latest_fill_start() == ["00:40"] * 12
    # Tap always open: the plant starts once 60 L are gone, 90 min after 08:00, and makes 195 of the 320 L until 16:00.
    # The other 125 L take 250 min at 0.5 L/min: 03:50.
    assert run(constant(product=0.5)).latest_fill_start() == ["03:50"] * 12
    # Too slow for one night: no start is early enough.
    assert run(constant(product=0.5), week=NIGHT).latest_fill_start() == [None] * 12


def test_latest_start_of_the_worst_day_of_each_month():
    grid = kelvin(np.array([0.0, 30.0]))
    slope = Rates.plain(
        *(np.array(pair) for pair in ([0.4 * L_MIN, 2.0 * L_MIN], [L_MIN, L_MIN], [1e-3, 1e-3], [0.06, 0.06]))
    )
    days = cosine(float(kelvin(5.0)), float(kelvin(19.0)), day_of_year(2, 10))
    starts = run(slope.by_day(grid, days), week=NIGHT).latest_fill_start()
    assert starts[1] > "20:00"  # in February it must start the evening before
    assert starts[7] < "06:00"
    assert all(start is not None for start in starts)


def test_direct_to_the_pole():
    """No tank: the plant runs while water is drawn, and gives what it can."""
    ledger = run(constant(product=1.0), tank=None, demand=demand_by_day(np.full(7, 0.6)))
    assert ledger.product == pytest.approx(np.full((1, 365), 0.48))  # 8 h at 1 L/min
    assert ledger.short == pytest.approx(np.full((1, 365), 0.12))
    assert ledger.starts.sum() == 365
    assert ledger.drain == pytest.approx(np.full((1, 365), 0.96))
    eased = run(constant(product=2.0), tank=None, demand=demand_by_day(np.full(7, 0.6)))
    assert eased.short.max() == pytest.approx(0.0, abs=1e-12)
    assert eased.product == pytest.approx(
        np.full((1, 365), 0.6)
    )  # held back by what is drawn, while the drain runs in full
    assert eased.drain == pytest.approx(np.full((1, 365), 0.96))
    assert eased.latest_fill_start() == [None] * 12


def test_a_tank_too_small_runs_dry_and_says_in_which_weeks():
    ledger = run(constant(product=0.4), week=NIGHT, tank=TankUse(0.25, 0.02))
    # 10 h at 0.4 L/min give 240 L of the 320 that each working day wants.
    assert ledger.short_days[0] == 261
    assert ledger.short[0, 1] == pytest.approx(0.08)
    assert ledger.dry_chance_by_week.tolist() == [1.0] * 52


def test_day_365_belongs_to_week_52():
    demand = np.zeros(365)
    demand[364] = 5.0
    chance = run(demand=demand).dry_chance_by_week
    assert chance[51] == 1.0
    assert chance[:51].sum() == 0.0


def test_hovering_float_wastes_all_the_while():
    """With no band to fall through, the plant makes just what is drawn and the drain runs in full."""
    banded, hovering = run(tank=TankUse(0.65, 0.06)), run(tank=TankUse(0.65, 0.0))
    assert hovering.product[0, 2] == pytest.approx(0.32)
    assert hovering.drain[0, 2] == pytest.approx(8 * 60 * 2.0 * LITRE)
    assert hovering.drain.sum() > 1.4 * banded.drain.sum()
    assert hovering.starts.sum() == 261
    assert hovering.running[0, 2] == pytest.approx(8 * HOUR)


def test_a_chattering_float_is_refused():
    with pytest.raises(NoWorkingState, match="wider band"):
        run(tank=TankUse(0.65, 1e-8))


def test_a_plant_that_never_trips_drains_on():
    ledger = run(constant(drain_when_full=np.full((1, 365), 3.0 * L_MIN)), demand=np.zeros(365))
    assert ledger.drain.sum() == pytest.approx(365 * 24 * 60 * 3.0 * LITRE)
    assert ledger.product.sum() == 0.0


def test_flush_and_energy():
    rates = constant(pump_w=np.full((1, 365), 200.0))
    ledger = run(rates, week=NIGHT, flush_m3=0.005, delivery_j_per_m3=1e6)
    assert ledger.drain.sum() == pytest.approx(
        2.0 * ledger.product.sum() + 0.005 * (ledger.starts.sum() - 1)
    )  # it still runs at New Year
    assert ledger.energy.sum() == pytest.approx(200.0 * ledger.running.sum() + 1e6 * ledger.delivered.sum())


def with_resin(limit_l, slip_l, **extra):
    full = np.full((1, 365), 1.0)
    return constant(**extra).with_resin(limit_l * LITRE * full, slip_l * LITRE * full, 0.06 * US_CM, 6.0 * US_CM * full)


def test_resin_is_changed_at_its_litres():
    ledger = run(with_resin(10_000, 2_000), limit_conductivity=20 * US_CM)
    assert ledger.resin_spent.sum() == pytest.approx(ledger.product.sum() / 10.0)
    assert ledger.resin_changes.sum() == np.floor(ledger.product.sum() / 10.0)
    assert ledger.days_over_limit[0] == 0
    assert ledger.worst.max() <= 6.0 * US_CM * (1 + 1e-9)  # the tank before the brush sees the plateau, mixed
    behind = run(with_resin(10_000, 2_000), limit_conductivity=20 * US_CM, resin_behind_tank=True)
    assert behind.worst.max() == pytest.approx(20 * US_CM)  # the moment before a change
    assert behind.resin_spent.sum() == pytest.approx(behind.delivered.sum() / 10.0)


def test_resin_that_is_not_needed_is_never_changed():
    ledger = run(with_resin(np.nan, np.nan), limit_conductivity=20 * US_CM)
    assert ledger.resin_changes.sum() == 0
    assert ledger.worst.max() == pytest.approx(15 * US_CM)


def test_without_resin_salty_product_is_over_the_limit_every_working_day():
    ledger = run(constant(reading=30.0), limit_conductivity=20 * US_CM)
    assert ledger.days_over_limit[0] == 261


def test_creep_is_counted_once_for_each_start():
    still = Standstill(volume=1.5 * LITRE, relaxation=0.5 * HOUR)
    with_creep, without = (run(with_resin(10_000, 2_000), week=NIGHT, standstill=s) for s in (still, Standstill()))
    # long nights off: each start brings the whole bound, V·(C_feed − C_product), as so much more product water
    bound = 1.5 * LITRE * (600 - 15) / 15 / 10.0
    starts = with_creep.starts.sum()
    assert with_creep.creep_spent.sum() == pytest.approx(starts * bound, rel=1e-6)
    assert with_creep.resin_spent.sum() - without.resin_spent.sum() == pytest.approx(with_creep.creep_spent.sum())
    # without resin the tank takes it
    tank = run(constant(), week=NIGHT, standstill=still)
    assert tank.worst.max() > run(constant(), week=NIGHT).worst.max()


def test_cartridges_by_volume_and_by_calendar():
    ledger = run(cartridges=(CartridgeUse("sediment", volume=20.0), CartridgeUse("carbon", days=90.0)))
    assert ledger.cartridge_changes[1].sum() == 4
    assert np.flatnonzero(ledger.cartridge_changes[1, 0])[0] == 89
    assert ledger.cartridge_spent[0, 0] == pytest.approx(ledger.feed.sum() / 20.0)
    assert ledger.cartridge_changes[0].sum() == pytest.approx(np.floor(ledger.feed.sum() / 20.0), abs=1)
    assert ledger.visits[0] >= 12


def test_rounds():
    week, demand = rounds_week({0: [(0.04, 1500.0), (0.06, 1500.0)]}, *DAY_SHIFT)
    assert demand.tolist() == pytest.approx([0.1, 0, 0, 0, 0, 0, 0])
    assert [draw.start for draw in week.draws[0]] == [8 * HOUR, 16 * HOUR - 1500.0]
    ledger = run(week=week, demand=demand_by_day(demand))
    assert ledger.delivered[0, 7] == pytest.approx(0.1)
    with pytest.raises(InputError, match="mon last beyond midnight"):
        rounds_week({0: [(0.1, 20 * HOUR)]}, *DAY_SHIFT)


def test_drawing_over_midnight_stays_on_its_date():
    week = even_week(22 * HOUR, 4 * HOUR)
    assert sum(draw.share for draw in week.draws[0]) == pytest.approx(1.0)
    assert run(week=week).delivered == pytest.approx(run().delivered)
    with pytest.raises(InputError, match="draw_until"):
        even_week(HOUR, HOUR)


def test_pieces_change_nothing():
    """Exact between events: cutting the day into more pieces gives the same year."""
    cut = Week(tuple((Draw(8 * HOUR, 10.7 * HOUR, 2.7 / 8), Draw(10.7 * HOUR, 16 * HOUR, 5.3 / 8)) for _ in range(7)))
    resin = with_resin(9_123, 2_511, product=0.9)
    one, other = run(resin), run(resin, week=cut)
    for name in ("product", "drain", "starts", "resin_spent", "resin_changes", "level_end", "worst"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-6, abs=1e-9)


def small_steps(product, drain, reading, tank, restart, week, demand, days, dt=5.0):
    """A second opinion: fixed small steps, one member, no resin."""
    level, running, opened, kappa = tank, False, False, reading[0]
    sums = {name: np.zeros(days) for name in ("product", "drain", "short", "starts", "level_end", "kappa")}
    for day in range(days):
        for step in range(int(86400 / dt)):
            clock = (step + 0.5) * dt
            filling = week.filling(clock)
            wanted = sum(
                d.share * demand[day] / (d.end - d.start) for d in week.draws[day % 7] if d.start <= clock < d.end
            )
            start = filling and not running and (level <= tank - restart or (not opened and level < tank))
            if start:
                running, sums["starts"][day] = True, sums["starts"][day] + 1
            if running and (not filling or (level >= tank and wanted < product[day])):
                running = False
            opened = filling
            made = product[day] if running else 0.0
            drawn = wanted if level > 0 or made >= wanted else made
            drawn = min(drawn, made + level / dt)
            new = min(level + (made - drawn) * dt, tank)
            kappa = (
                (kappa * level + made * dt * reading[day]) / (level + made * dt) if level + made > 0 else reading[day]
            )
            level = new
            sums["product"][day] += made * dt
            sums["drain"][day] += drain * dt * running
            sums["short"][day] += (wanted - drawn) * dt
        sums["level_end"][day], sums["kappa"][day] = level, kappa
    return sums


@pytest.mark.parametrize("week", [ALWAYS, NIGHT])
def test_agrees_with_a_march_in_small_steps(week):
    rng = np.random.default_rng(11)
    product = rng.uniform(0.25, 1.5, 365) * L_MIN
    demand = demand_by_day(WORKWEEK) * rng.uniform(0.5, 1.6, 365)
    reading = rng.uniform(5.0, 20.0, 365) * US_CM
    rates = Rates.plain(product[None], np.full((1, 365), L_MIN), reading[None], np.full((1, 365), 0.06))
    ledger = simulate(YearInputs(rates, week, demand, TankUse(0.3, 0.03)))
    days = 21
    steps = small_steps(product, L_MIN, reading, 0.3, 0.03, week, demand, days)
    for name in ("product", "drain", "short", "level_end"):
        assert getattr(ledger, name)[0, :days] == pytest.approx(steps[name], abs=1.5e-3), name
    assert ledger.starts[0, :days].sum() == pytest.approx(steps["starts"].sum(), abs=2)
    assert ledger.short[0].sum() > 0.0


def test_tank_mixing_is_exact():
    """Level falls or rises linearly: compare the reading with the ODE integrated in fine steps (scipy)."""
    from scipy.integrate import solve_ivp

    rates = Rates.plain(*(np.full((1, 365), x) for x in (0.5 * L_MIN, L_MIN, 10e-4, 0.06)))
    later = Rates.plain(*(np.full((1, 365), x) for x in (0.5 * L_MIN, L_MIN, 30e-4, 0.06)))
    rates = rates.choose(later, np.arange(365) >= 1)
    demand = np.zeros(365)
    demand[1] = 0.3
    ledger = simulate(YearInputs(rates, ALWAYS, demand, TankUse(0.4, 0.05)))
    out, made, low = 0.3 / (8 * HOUR), 0.5 * L_MIN, 0.35
    first = (0.4 - low) / out  # until it starts
    left = 8 * HOUR - first

    def slope(t, y):
        return made * 30e-4 - out * y / (low + (made - out) * t)

    end = solve_ivp(slope, (0, left), [10e-4 * low], rtol=1e-10, atol=1e-14).y[0, -1] / (low + (made - out) * left)
    assert ledger.worst[0, 1] == pytest.approx(end, rel=1e-6)


@settings(max_examples=8, deadline=None)
@given(
    st.floats(0.1, 4.0), st.floats(0.05, 1.0), st.floats(0.1, 0.9), st.floats(0.0, 0.8),
    st.sampled_from([ALWAYS, NIGHT, even_week(22 * HOUR, 3 * HOUR, 9 * HOUR, 17 * HOUR)]),
)  # fmt: skip
def test_whatever_the_plant_water_is_neither_made_nor_lost(product, volume, restart, wanted, week):
    ledger = run(constant(product=product), week=week, demand=demand_by_day(np.full(7, wanted)),
                 tank=TankUse(volume, restart * volume + 1e-3))  # fmt: skip
    assert np.abs(balance(ledger, volume)).max() < 1e-10
    assert ledger.level_end.min() >= 0.0
    assert ledger.level_end.max() <= volume * (1 + 1e-12)
    assert ledger.short.min() > -1e-12
    assert ledger.running.max() <= 86400.0 + 1e-6


def test_more_tank_is_never_shorter():
    short = [run(constant(product=0.35), week=NIGHT, tank=TankUse(size, 0.02)).short.sum() for size in (0.2, 0.4, 0.8)]
    assert short == sorted(short, reverse=True)


def test_members_march_side_by_side():
    flows = np.array([0.3, 0.6, 1.2])
    rates = Rates.plain(np.repeat(flows[:, None], 365, 1) * L_MIN, *(np.full((3, 365), x) for x in (L_MIN, 1e-3, 0.06)))
    together = run(rates, week=NIGHT, tank=TankUse(0.5, 0.02))
    for member, flow in enumerate(flows):
        alone = run(constant(product=flow, drain=1.0, reading=10.0), week=NIGHT, tank=TankUse(0.5, 0.02))
        for name in ("product", "short", "starts", "level_end"):
            assert getattr(together, name)[member] == pytest.approx(getattr(alone, name)[0], abs=1e-12), name
    assert together.dry_chance_by_week == pytest.approx(np.full(52, 1 / 3))


def test_interpolation_over_temperature():
    grid = kelvin(np.arange(0.0, 31.0, 2.0))
    law = np.exp(2700.0 * (1 / 298.15 - 1 / grid)) * 5.0 * L_MIN
    rates = Rates.plain(law, law, np.full(len(grid), 1e-3), np.full(len(grid), 0.06))
    days = cosine(float(kelvin(5.0)), float(kelvin(19.0)), 41)
    expected = np.exp(2700.0 * (1 / 298.15 - 1 / days)) * 5.0 * L_MIN
    assert rates.by_day(grid, days).product[0] == pytest.approx(expected, rel=1e-3)


def test_the_answer_has_the_keys_of_the_contract():
    answer: dict[str, Any] = year_answer(run(week=NIGHT), 0.5, np.array([100.0]))
    assert answer["product_m3"] == {"value": pytest.approx(83.2, abs=0.4), "low": None, "high": None}
    assert answer["worst_meter_ppm"]["value"] == pytest.approx(7.5)
    assert answer["cost_per_m3"]["value"] == pytest.approx(100.0 / (261 * 0.32))
    assert len(answer["dry_chance_by_week"]) == 52
    assert len(answer["latest_fill_start"]) == 12
    unpriced = year_answer(run(), 0.5)
    assert unpriced["cost"] == {"value": None, "low": None, "high": None}
    assert set(answer) == {
        "product_m3", "drain_m3", "starts", "short_days", "short_litres", "resin_changes", "cartridge_changes",
        "energy_kwh", "cost", "cost_per_m3", "worst_meter_ppm", "days_over_limit", "dry_chance_by_week",
        "latest_fill_start", "notes",
    }  # fmt: skip


def test_bands():
    assert band(np.arange(101.0)) == {"value": 50.0, "low": 5.0, "high": 95.0}
    assert band(None)["value"] is None
    assert hours_minutes(86400.0 - 61.0) == "23:58"
    assert hours_minutes(-3600.0) == "23:00"

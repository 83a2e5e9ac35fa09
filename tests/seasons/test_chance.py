"""What an ensemble draws: the right shares, spells as long as said, and the same numbers whoever else is drawn."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rinsewright.dates import DAYS
from rinsewright.seasons.chance import FROST_PERSISTENCE, WEATHER_PERSISTENCE, Draws, draw, member_rng, off_days
from rinsewright.water.climate import MONTH_DAYS, MONTH_OF_DAY

WEATHER = (0.30, 0.25, 0.20, 0.15, 0.10, 0.08, 0.05, 0.08, 0.10, 0.20, 0.25, 0.30)
FROST = tuple(days / month for days, month in zip((12, 11, 7, 3, 0, 0, 0, 0, 0, 1, 5, 10), MONTH_DAYS, strict=True))
NEVER = (0.0,) * 12
MEMBERS = 400
DRAWN = draw(20263, range(MEMBERS), WEATHER, FROST)


def by_month(off):
    return np.array([off[:, month == MONTH_OF_DAY].mean() for month in range(12)])


def error_of_mean(share, persistence):
    """Standard error of a month's share over all members; spells make it wider by (1 + r)/(1 − r)."""
    share = np.asarray(share)
    return np.sqrt(share * (1.0 - share) / (MEMBERS * MONTH_DAYS) * (1.0 + persistence) / (1.0 - persistence))


@pytest.mark.parametrize(
    ("found", "shares", "persistence"),
    [(DRAWN.off, WEATHER, WEATHER_PERSISTENCE.value), (DRAWN.frost, FROST, FROST_PERSISTENCE.value)],
    ids=["weather", "frost"],
)
def test_each_month_has_its_share_and_its_spells(found, shares, persistence):
    assert (np.abs(by_month(found) - shares) <= 3.5 * error_of_mean(shares, persistence)).all()
    for month, share in enumerate(shares):
        if share > 0.0:
            days = found[:, month == MONTH_OF_DAY].astype(float) - share
            measured = (days[:, 1:] * days[:, :-1]).mean() / (share * (1.0 - share))
            spread = 1.0 / np.sqrt(MEMBERS * 27 * min(share * (1.0 - share), 0.25) / 0.25)
            assert measured == pytest.approx(persistence, abs=5.0 * spread)


def test_the_share_holds_from_the_first_of_the_month():
    shares = (0.5, 0.05) * 6
    found = off_days(np.random.default_rng(1).random((40000, DAYS)), shares, 0.6)
    assert found.mean(axis=0) == pytest.approx(np.array(shares)[MONTH_OF_DAY], abs=0.0125)  # 5 standard errors


def test_a_chain_of_rain_after_geng():
    # Geng, Penning de Vries & Supit, Agric. For. Meteorol. 36, 363 (1986), as read in public weather generators: with
    # a share f of wet days, a wet day follows a dry one with 0.75 f, a wet one with 0.25 + 0.75 f.
    share = 0.4
    found = off_days(np.random.default_rng(2).random((2000, DAYS)), (share,) * 12, WEATHER_PERSISTENCE.value)
    today, tomorrow = found[:, :-1], found[:, 1:]
    assert tomorrow[~today].mean() == pytest.approx(0.75 * share, abs=0.004)  # 5 standard errors of 0.0007
    assert tomorrow[today].mean() == pytest.approx(0.25 + 0.75 * share, abs=0.005)


@given(
    st.lists(st.floats(0.0, 1.0) | st.sampled_from([0.0, 1.0]), min_size=12, max_size=12),
    st.floats(0.0, 0.99),
    st.integers(0, 2**32 - 1),
)
@settings(max_examples=60, deadline=None)
def test_any_shares(shares, persistence, seed):
    found = off_days(np.random.default_rng(seed).random((3, DAYS)), shares, persistence)
    for month, share in enumerate(shares):
        if share in (0.0, 1.0):
            assert (found[:, month == MONTH_OF_DAY] == bool(share)).all()


# ---- one stream for each member ----


def same(one, other):
    return all(np.array_equal(getattr(one, field.name), getattr(other, field.name)) for field in fields(Draws))


def some(draws, chosen):
    return Draws(*(getattr(draws, field.name)[chosen] for field in fields(Draws)))


def test_members_are_the_same_whoever_is_drawn_with_them():
    all_of_them = draw(7, range(50), WEATHER, FROST)
    assert all_of_them.members == 50
    assert same(draw(7, range(10), WEATHER, FROST), some(all_of_them, slice(0, 10)))
    assert same(draw(7, range(33, 34), WEATHER, FROST), some(all_of_them, slice(33, 34)))
    assert same(draw(7, range(10, 50), WEATHER, FROST), some(all_of_them, slice(10, 50)))


def test_another_site_changes_nothing_but_its_own_days():
    calm = draw(7, range(5), NEVER, FROST)
    windy = draw(7, range(5), WEATHER, FROST)
    assert not calm.off.any()
    assert windy.off.any()
    for field in fields(Draws):
        if field.name != "off":
            assert np.array_equal(getattr(calm, field.name), getattr(windy, field.name))


def test_another_seed_and_another_member_are_another_chance():
    numbers = {float(member_rng(seed, member).random()) for seed in range(20) for member in range(20)}
    assert len(numbers) == 400  # (0, 1) and (1, 0) too
    assert not same(draw(7, range(3), WEATHER, FROST), draw(8, range(3), WEATHER, FROST))


def test_the_order_of_the_stream_is_fixed():
    """A seed is printed on answers: what it gives must not change. Numbers are NumPy's own, drawn here by hand."""
    rng, drawn = member_rng(7, 2), draw(7, range(2, 3), WEATHER, FROST)
    names = [field.name for field in fields(Draws)]
    z, u = rng.standard_normal(10), rng.random(2)
    assert [float(getattr(drawn, name)[0]) for name in names[:12]] == [*z, *u]
    assert names[:12] == [
        *("z_water_permeance", "z_temperature_form", "z_salt", "z_film", "z_cation", "z_anion", "z_usable", "z_dirt"),
        *("z_chlorine_tolerance", "z_demand", "u_water", "u_gas"),
    ]
    assert np.array_equal(drawn.z_day[0], rng.standard_normal(DAYS))
    assert np.array_equal(drawn.off, off_days(rng.random((1, DAYS)), WEATHER, WEATHER_PERSISTENCE.value))
    assert np.array_equal(drawn.frost, off_days(rng.random((1, DAYS)), FROST, FROST_PERSISTENCE.value))


def test_what_is_drawn_is_spread_as_said_and_independent():
    names = [field.name for field in fields(Draws)][:12]
    table = np.stack([getattr(DRAWN, name) for name in names])
    z, u = table[:10], table[10:]
    assert z.mean(axis=1) == pytest.approx(np.zeros(10), abs=4.0 / np.sqrt(MEMBERS))
    assert z.std(axis=1) == pytest.approx(np.ones(10), abs=4.0 / np.sqrt(2 * MEMBERS))
    assert ((u >= 0.0) & (u < 1.0)).all()
    assert u.mean(axis=1) == pytest.approx(np.full(2, 0.5), abs=4.0 / np.sqrt(12 * MEMBERS))
    between = np.corrcoef(
        np.vstack([table, DRAWN.off.mean(axis=1), DRAWN.frost.mean(axis=1), DRAWN.z_day.mean(axis=1)])
    )
    assert np.abs(between - np.eye(len(between))).max() < 4.5 / np.sqrt(MEMBERS)
    assert DRAWN.z_day.shape == DRAWN.off.shape == DRAWN.frost.shape == (MEMBERS, DAYS)
    assert DRAWN.z_day.std() == pytest.approx(1.0, abs=0.01)


# ---- what is refused ----


@pytest.mark.parametrize(
    "shares", [(0.1,) * 11, (0.1,) * 11 + (1.5,), (0.1,) * 11 + (-0.1,), (0.1,) * 11 + (float("nan"),)]
)
def test_shares_that_are_none(shares):
    with pytest.raises(ValueError, match="twelve shares between 0 and 1"):
        draw(1, range(2), shares, NEVER)


@pytest.mark.parametrize("persistence", [-0.1, 1.0, float("nan")])
def test_persistence_that_is_none(persistence):
    with pytest.raises(ValueError, match="give 0 to below 1"):
        off_days(np.zeros((1, DAYS)), NEVER, persistence)

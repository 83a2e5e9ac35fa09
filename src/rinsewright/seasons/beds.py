"""Mixed-bed resin through a year: the exchange cells of one vessel, or of a lead and a lag, fed day by day.

Nothing in the hydraulics depends on the resin, so it takes the year's water afterwards. A day's water passes in equal
portions, none of which brings much more than one cell can hold; a few drops wait for the next day's water. In each
tick every cell works on one portion: while cell 0 takes portion n, cell j has portion n − j, and portion n leaves
``cells`` − 1 ticks after it came. Each member has its own place in its year; a change sends it back to the portion
that called for it.

A vessel is changed *by reading* before the portion behind which the reading would pass the limit (after it, if a fresh
vessel cannot even take that one), or *by date* before the day's first water. So a change by reading comes at most half
a portion early or late. With a lead and a lag the reading counts between the two: the lag becomes the lead and a fresh
vessel its lag.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rinsewright.plant.product.resin import (
    ANION_ROWS,
    CELLS,
    FRESH,
    MOBILITIES,
    ROWS,
    Bed,
    Load,
    feed_rows,
    plateau_reading,
    reading,
    reading_at_most,
    reading_of,
    settle,
    side_sums,
    strength_rows,
)
from rinsewright.quantities import Array

Index = NDArray[np.intp]
Truths = NDArray[np.bool_]

BY_READING, BY_DATE = 0, 1
CELL_SHARE = 0.85  # of what a cell can hold that one portion may bring: the front is then as steep as in `exhaustion`
MOST_PORTIONS = 40  # a day; a vessel so small that a day brings more than 2.5 times what it holds is marched coarsely

# The order of `Inflow` and `BedYear`, in rows.
SPECIES = ("Na", "K", "Mg", "Ca", "Cl", "NO3", "SO4", "CO2", "SiO2")
_SPECIES = [ROWS.index(name) for name in SPECIES]
_CARBONIC = ROWS.index("CO2")
_MOBILITY, _STRONG = np.zeros((2, len(ROWS), 1))
_MOBILITY[_SPECIES[:7], 0] = MOBILITIES
_STRONG[_SPECIES[:7], 0] = [-1.0] * 4 + [1.0] * 3
TELLS_EVERY = 16  # ticks; some thousands make a year
_DROPS = 1e-3  # of the mean day's water: too little to be a portion by itself


@dataclass(frozen=True)
class Inflow:
    """What passes the resin day by day: ``volume`` [m3] and equivalents, grouped as in `resin.Load`.

    Shapes (members, days), with 4 cations (Na, K, Mg, Ca) or 3 strong anions (Cl, NO3, SO4) before them. ``carbonic``
    is alkalinity and dissolved CO2, one equivalent for each mole.
    """

    volume: Array
    cations: Array
    anions: Array
    carbonic: Array
    silica: Array

    @property
    def amounts(self) -> Array:
        """All nine in the order of :data:`SPECIES`, eq: (9, members, days)."""
        return np.concatenate([self.cations, self.anions, self.carbonic[None], self.silica[None]])

    def load(self) -> Load:
        """The same per m3; zero on days without water."""
        wet = self.volume > 0.0
        per_volume = np.where(wet, 1.0 / np.where(wet, self.volume, 1.0), 0.0)
        carbonic = self.carbonic * per_volume
        return Load(self.cations * per_volume, self.anions * per_volume, carbonic, self.silica * per_volume, carbonic)

    def without_drops(self) -> Inflow:
        """Days of hardly any water wait for the next that has some (at the year's end: go with the last that had)."""
        days = self.volume.shape[1]
        enough = (self.volume > 0.0) & (self.volume >= _DROPS * self.volume.mean(axis=1, keepdims=True))
        everything = np.stack([*self.amounts, self.volume], axis=-1)
        lanes, drops = np.nonzero(~enough & (everything > 0.0).any(axis=-1) & enough.any(axis=1, keepdims=True))
        if not len(lanes):
            return self
        day = np.arange(days)
        following = np.minimum.accumulate(np.where(enough, day, days)[:, ::-1], axis=1)[:, ::-1]
        last = np.where(enough, day, 0).max(axis=1, keepdims=True)
        goes_with = np.where(following < days, following, last)[lanes, drops]
        moved = everything[lanes, drops]
        everything[lanes, drops] = 0.0
        np.add.at(everything, (lanes, goes_with), moved)
        everything = np.moveaxis(everything, -1, 0)
        return Inflow(everything[9], everything[:4], everything[4:7], everything[7], everything[8])


@dataclass(frozen=True)
class BedYear:
    """Behind the resin, (members, days) unless said otherwise.

    ``spent`` counts vessels' lives: a day's water uses the share of a vessel's usable capacity that it takes up on the
    side that runs out first (all anions where the limit lies below the plateau of carbonic acid, else salts only), at
    most one life; what is left of it is spent on the day of the change, by date too. So it sums to the changes plus
    the part used of the vessel in place; nothing where the water never needs resin.
    """

    reading: Array  # S/m at 25 °C, mean behind the last vessel; NaN without water
    worst: Array  # highest of the day, the limit itself on a day of a change by it; NaN without water
    silica: Array  # eq leaving
    changes: NDArray[np.int64]
    reasons: NDArray[np.int64]  # of the day's last change: by reading 0, by date 1; −1 none
    spent: Array
    slipped: Truths  # at times most of the anion load passed: hydroxide used up, carbonic acid and silica let go
    leaving: Array  # eq, (9, members, days) in the order of `SPECIES`
    held: Array  # eq in all vessels at the end, (9, members)
    taken_away: Array  # eq that went with changed resin, (9, members)


def march_beds(
    bed: Bed,
    inflow: Inflow,
    limit: Array | float,
    change_on: Sequence[int] = (),
    change_after_days: float = np.inf,
    cells: int = CELLS,
    first_day: int = 0,
    progress: Callable[[float], None] | None = None,
) -> BedYear:
    """March fresh resin through the days of ``inflow``; ``limit`` [S/m at 25 °C] where a vessel is changed.

    ``change_on``: days of the year, 1 to 365, on which it is changed whatever it reads; ``change_after_days``: so many
    days after the last change. ``first_day`` of the year, from 0, is the inflow's first. ``cells`` along one vessel.
    ``progress`` is told the share of the water that has passed, now and then.

    Members do not touch each other: marched alone they give the same numbers.
    """
    march = _March(bed, inflow.without_drops(), np.asarray(limit, dtype=np.float64), cells)
    march.dates = np.array([*(day - 1 - first_day for day in sorted(change_on) if day > first_day), np.inf])
    march.interval = max(change_after_days, 1.0)
    march.due = np.full(march.members, min(march.dates[0], march.interval))
    ticks, told = 0, 0.0
    while march.tick():
        ticks += 1
        if progress is not None and ticks % TELLS_EVERY == 0:
            told = max(told, march.share)  # portions go back where a vessel is changed
            progress(told)
    return march.result()


class _March:
    """All members' cells at one moment. Axes: rows of species (or the two sides), cells of all vessels, members."""

    dates: Array
    interval: float
    due: Array

    def __init__(self, bed: Bed, inflow: Inflow, limit: Array, cells: int) -> None:
        self.members, self.days = inflow.volume.shape
        self.cells, self.all_cells = cells, cells * bed.vessels
        self.lanes = np.arange(self.members)

        def each(value: Array | float) -> Array:
            return np.broadcast_to(np.asarray(value, dtype=np.float64), (self.members,))

        self.limit = each(limit)
        self.capacity = np.stack([each(bed.cation_eq), each(bed.anion_eq)]) / cells
        self._plan(inflow, each(bed.volume))
        self._start()

    def _plan(self, inflow: Inflow, volume: Array) -> None:
        """Cut each day's water into portions: what one brings, how strongly it exchanges, on which day it passes."""
        amounts = np.maximum(inflow.amounts, 0.0)
        brought = np.stack([amounts[:4].sum(axis=0), amounts[4:].sum(axis=0)])
        wet = inflow.volume > 0.0
        capacity = self.capacity[:, :, None]  # over the days
        portions = np.clip(np.ceil((brought / (CELL_SHARE * capacity)).max(axis=0)), 1.0, MOST_PORTIONS) * wet
        self.parts = np.maximum(portions, 1.0)

        portion = inflow.volume / self.parts
        self.portion_volume = np.where(wet, portion, 1.0)
        load = inflow.load()
        feed = feed_rows(load, portion, np.broadcast_to(capacity, (2, *wet.shape)))
        strength = strength_rows(load, volume[:, None] / self.cells / self.portion_volume)
        self.feed, self.strengths = (np.moveaxis(rows, 0, -1).copy() for rows in (feed, strength))

        salts = np.where(self.limit[:, None] <= plateau_reading(load), brought[1], amounts[4:7].sum(axis=0))
        needs = (reading(load.cations, load.anions, load.carbonic) > self.limit[:, None]).any(axis=1, keepdims=True)
        self.wear = needs * np.stack([brought[0], salts]) / (capacity * self.cells * self.parts)

        self.count = portions.sum(axis=1).astype(np.intp)
        self.day_of = np.full((self.members, max(int(self.count.max(initial=0)), 1)), self.days - 1)
        for lane, counts in enumerate(portions.astype(np.intp)):
            self.day_of[lane, : self.count[lane]] = np.repeat(np.arange(self.days), counts)

    def _start(self) -> None:
        shape = (self.all_cells, self.members)
        self.held, self.moving, self.arriving, self.strength = np.zeros((4, len(ROWS), *shape))
        self.activity = np.zeros((2, *shape))  # logarithm
        self._fill(self.lanes, self.day_of[:, 0], 0)
        self.which = np.full(shape, -1)  # portion in each cell; −1: none that counts
        self.pointer = np.zeros(self.members, dtype=np.intp)  # next portion
        self.last = np.full(self.members, -1)  # portion behind which the lead is to be changed; −1: none
        self.called_on = np.zeros(self.members, dtype=np.intp)
        self.first = np.zeros(self.members, dtype=np.intp)  # portion of the lead's life
        self.used = np.zeros((2, self.members))  # of the lead's life, by side
        days = (self.members, self.days)
        self.leaving = np.zeros((*days, len(ROWS)))
        self.spent = np.zeros(days)
        self.water = np.zeros((*self.day_of.shape, 3))  # behind the last vessel, by portion
        self.slipped = np.zeros(days, dtype=bool)
        self.changes, self.reasons = np.zeros(days, dtype=np.int64), np.full(days, -1)
        self.taken_away = np.zeros((len(ROWS), self.members))

    @property
    def share(self) -> float:
        """Portions that have been fed, of all members' years."""
        return float(self.pointer.sum() / max(self.count.sum(), 1))

    def tick(self) -> bool:
        """Every cell takes its next portion; false when the year is over for every member."""
        ended = self.pointer >= self.count
        day = self.day_of[self.lanes, np.where(ended, self.count - 1, self.pointer)]
        day = np.where(ended, self.days - 1, day)
        by_date = (self.due <= day) & (self.last < 0)
        feeding = ~ended & ~by_date & (self.last < 0)
        if not feeding.all():
            under_way = (self.which[:-1] >= 0).any(axis=0)
            if not (feeding | under_way | by_date).any():
                return False
            now = by_date & ~under_way
            if now.any():
                lanes = np.flatnonzero(now)
                self.taken_away[:, lanes] += self.held[:, : self.cells, lanes].sum(axis=1)
                self._change(lanes, self.due[lanes].astype(np.intp), BY_DATE)
        self._feed(np.where(feeding, self.pointer, -1), day)
        self.pointer += feeding
        self._exchange()
        self._behind_the_lead()
        self._behind_the_last()
        return True

    def _feed(self, portion: Index, day: Index) -> None:
        self.arriving[:, 1:] = self.moving[:, :-1]
        self.arriving[:, 0] = self.feed[self.lanes, day].T
        self.strength[:, 1:] = self.strength[:, :-1]
        self.strength[:, 0] = self.strengths[self.lanes, day].T
        self.which[1:] = self.which[:-1]
        self.which[0] = portion

    def _exchange(self) -> None:
        total = self.held + self.arriving
        moving, self.activity = settle(total, self.capacity[:, None], self.strength, self.activity)
        total -= moving
        idle = self.which < 0
        np.copyto(moving, self.arriving, where=idle)
        np.copyto(total, self.held, where=idle)
        self.moving, self.held = moving, total

    def _behind_the_lead(self) -> None:
        """Wear of the lead, and whether its water calls for a change."""
        there, _, day = self._leaving(self.cells - 1)
        if not len(there):
            return
        water, limit = self._water(self.cells - 1, there, day), self.limit[there]
        over = reading_at_most(*water) > limit
        if over.any():
            over[over] = reading_of(*water[:, over]) > limit[over]
            self._call_for_change(there[over], day[over])
            there, day = there[~over], day[~over]
        before = self._life(there)
        self.used[:, there] += self.wear[:, there, day]
        self.spent[there, day] += self._life(there) - before

    def _call_for_change(self, lanes: Index, day: Index) -> None:
        """Take back the crossing portion and what came after it, unless the vessel has seen no other."""
        crossing = self.which[self.cells - 1, lanes]
        only = crossing == self.first[lanes]
        back = self.which[: self.cells, lanes]
        back[-1, only] = -1
        fed = self.feed[lanes, self.day_of[lanes, back]] * (back >= 0)[:, :, None]
        passing = self.moving[:, : self.cells, lanes] * (back >= 0)
        held = self.held[:, : self.cells, lanes].sum(axis=1)
        self.taken_away[:, lanes] += held + passing.sum(axis=1) - fed.sum(axis=0).T
        self.which[: self.cells - 1, lanes] = -1
        self.which[self.cells - 1, lanes[~only]] = -1
        self.last[lanes] = crossing - ~only
        self.pointer[lanes] = self.last[lanes] + 1
        self.called_on[lanes] = day

    def _behind_the_last(self) -> None:
        """Book what leaves, and change the vessel when the last portion meant for it has passed."""
        there, portion, day = self._leaving(self.all_cells - 1)
        if len(there):
            out = self.moving[:, -1, there]
            self.leaving[there, day] += out.T
            self.water[there, portion] = self._water(self.all_cells - 1, there, day).T
            self.slipped[there, day] |= out[FRESH[1]] < 0.5 * out[ANION_ROWS:].sum(axis=0)
        called = self.last >= 0
        if called.any():
            lanes = np.flatnonzero(called & (self.which[self.cells - 1 : -1] < 0).all(axis=0))
            self._change(lanes, self.called_on[lanes], BY_READING)

    def _leaving(self, cell: int) -> tuple[Index, Index, Index]:
        """Members in whose ``cell`` there is a portion, the portion and its day."""
        there = np.flatnonzero(self.which[cell] >= 0)
        portion = self.which[cell, there]
        return there, portion, self.day_of[there, portion]

    def _water(self, cell: int, there: Index, day: Index) -> Array:
        """What the reading behind a cell depends on: salts' conductivity, excess of strong anions, carbonic acid."""
        out = self.moving[:, cell, there] / self.portion_volume[there, day]
        return np.stack([(out * _MOBILITY).sum(axis=0), (out * _STRONG).sum(axis=0), out[_CARBONIC]])

    def _change(self, lanes: Index, day: Index, reason: int) -> None:
        """A fresh vessel comes last; the others move up."""
        rest = self.all_cells - self.cells
        self.held[:, :rest, lanes] = self.held[:, self.cells :, lanes]
        self.activity[:, :rest, lanes] = self.activity[:, self.cells :, lanes]
        following = np.minimum(self.pointer[lanes], np.maximum(self.count[lanes] - 1, 0))
        self._fill(lanes, self.day_of[lanes, following], rest)
        self.last[lanes] = -1
        self.changes[lanes, day] += 1
        self.reasons[lanes, day] = reason
        self.spent[lanes, day] += 1.0 - self._life(lanes)
        self.used[:, lanes] = 0.0
        self.first[lanes] = self.pointer[lanes]
        following = self.dates[np.searchsorted(self.dates, day, side="right")]
        self.due[lanes] = np.minimum(following, day + self.interval)

    def _fill(self, lanes: Index, day: Index, start: int) -> None:
        """Fresh resin from cell ``start`` on, and a first guess of what the day's water makes of it."""
        self.held[:, start:, lanes] = 0.0
        for side, row in enumerate(FRESH):
            self.held[row, start:, lanes] = self.capacity[side, lanes, None]
        feed, strength = self.feed[lanes, day].T, self.strengths[lanes, day].T
        self.moving[:, start:, lanes], self.strength[:, start:, lanes] = feed[:, None], strength[:, None]
        guess = np.log(self.capacity[:, lanes] / (side_sums(feed) * strength[FRESH]))
        self.activity[:, start:, lanes] = guess[:, None]

    def _life(self, lanes: Index) -> Array:
        return np.asarray(np.minimum(self.used[:, lanes].max(axis=0), 1.0))

    def result(self) -> BedYear:
        mean, worst = np.full((2, self.members, self.days), np.nan)
        for lane, count in enumerate(self.count):
            if count:
                behind = reading_of(*self.water[lane, :count].T)
                days, first = np.unique(self.day_of[lane, :count], return_index=True)
                mean[lane, days] = np.add.reduceat(behind, first) / self.parts[lane, days]
                worst[lane, days] = np.maximum.reduceat(behind, first)
        if self.all_cells == self.cells:
            at_limit = self.reasons == BY_READING
            mean = np.where(at_limit, np.minimum(mean, self.limit[:, None]), mean)
            worst = np.where(at_limit, self.limit[:, None], worst)
        leaving = np.moveaxis(self.leaving[:, :, _SPECIES], -1, 0)
        return BedYear(
            reading=mean,
            worst=worst,
            silica=leaving[-1],
            changes=self.changes,
            reasons=self.reasons,
            spent=self.spent,
            slipped=self.slipped,
            leaving=leaving,
            held=self.held[_SPECIES].sum(axis=1),
            taken_away=self.taken_away[_SPECIES],
        )

"""When the tap must open at the latest for a full tank at the next draw."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from rinsewright.dates import DAYS
from rinsewright.quantities import DAY, Array
from rinsewright.seasons.inputs import WEEKDAY_OF_DAY, Draw, Week, YearInputs
from rinsewright.seasons.ledger import Ledger, hours_minutes
from rinsewright.water.climate import MONTH_OF_DAY

PRESSING = 0.1  # of all members' days of a month, the most pressing are left out down to this share of a day's members


def latest_fill_start(inputs: YearInputs, ledger: Ledger) -> list[str | None]:
    """For each month, the clock time by which the tap must open on its worst day for a full tank at the next draw.

    Where no filling hours are given this is for whoever shuts the tap while water is drawn: one that stays open all day
    needs no time to be opened by. Worst is the day with the least time to spare. ``None``: nothing is drawn, there is
    no tank, or on that day even the earliest start is too late. Of several members the most pressing tenth decides.
    """
    spare, latest = latest_fill(inputs, ledger)
    answer: list[str | None] = []
    for month in range(12):
        left = spare[:, month == MONTH_OF_DAY].reshape(-1)
        clock = latest[:, month == MONTH_OF_DAY].reshape(-1)
        if not np.isfinite(left).any():
            answer.append(None)
            continue
        order = np.argsort(np.where(np.isnan(left), np.inf, left))
        days = max(1, int(np.isfinite(spare[0, month == MONTH_OF_DAY]).sum()))
        worst = order[0] if ledger.members == 1 else order[int(PRESSING * np.isfinite(left).sum() / days)]
        answer.append(None if np.isnan(clock[worst]) else hours_minutes(clock[worst]))
    return answer


def latest_fill(inputs: YearInputs, ledger: Ledger) -> tuple[Array, Array]:
    """Time to spare [s] and latest start [s after midnight] of the filling that follows each day's last draw.

    The tank is to be full when the next draw begins, from the level it has when this day's draw ends, at this day's
    rate, its float valve throttling at the end. Without filling hours that level is what a full tank keeps of a day's
    draw that nothing makes good meanwhile. NaN: no draw, or (latest) too late whenever it starts.
    """
    demand, after_draw, product = ledger.demand, ledger.after_draw, ledger.full_product
    spare, latest = np.full(demand.shape, np.nan), np.full(demand.shape, np.nan)
    if inputs.tank is None:
        return spare, latest
    week = _drawn(inputs)
    days = np.arange(DAYS)
    works = (demand > 0.0) & np.array([bool(week.draws[weekday]) for weekday in WEEKDAY_OF_DAY])
    # The next day with a draw; behind the last one a day like it is taken to follow.
    ahead = np.where(works, days, DAYS)
    following = np.minimum.accumulate(ahead[:, ::-1], axis=1)[:, ::-1]
    following = np.concatenate([following[:, 1:], np.full((len(demand), 1), DAYS)], axis=1)
    wait = np.where(following < DAYS, following - days, 1)
    left = after_draw
    if always_open(week):
        left = np.minimum(left, np.maximum(inputs.tank.volume - demand, 0.0))
    missing = np.maximum(inputs.tank.volume - left, 0.0)
    needed = np.divide(missing, product, out=np.full(demand.shape, np.inf), where=product > 0.0)
    needed = needed + np.where(missing > 0.0, ledger.last_part, 0.0)
    weekday = np.broadcast_to(WEEKDAY_OF_DAY, demand.shape)
    for today, apart in {(int(a), int(b)) for a, b in zip(weekday[works], wait[works], strict=True)}:
        starting = week.draws[(today + apart) % 7] or week.draws[today]
        gap = max(draw.end for draw in week.draws[today]), apart * DAY + min(draw.start for draw in starting)
        these = works & (weekday == today) & (wait == apart)
        spare[these], latest[these] = _fill_backwards(week, gap, needed[these])
    return spare, latest


def always_open(week: Week) -> bool:
    """Whether no hours are given in which the tap may be open, so that it always may."""
    return week.fill_from is None or week.fill_until is None or week.fill_from == week.fill_until


def _drawn(inputs: YearInputs) -> Week:
    """The week as the tank sees it: vans draw when they are refilled."""
    if not inputs.vans:
        return inputs.week
    refills = tuple(Draw(van.refill_at, min(DAY, van.refill_at + van.volume / van.refill)) for van in inputs.vans)
    return Week((refills,) * 7, inputs.week.fill_from, inputs.week.fill_until)


def _fill_backwards(week: Week, gap: tuple[float, float], needed: Array) -> tuple[Array, Array]:
    """Walk back from the end of a gap [s] through the hours in which the tap may be open until ``needed`` is found."""
    start, end = gap
    marks = {start, end}
    for midnight in range(int(end // DAY) + 1):
        marks |= {midnight * DAY + time for time in (week.fill_from, week.fill_until) if time is not None}
    times = sorted(time for time in marks if start <= time <= end)
    open_time, latest = 0.0, np.full(needed.shape, np.nan)
    for begin, finish in reversed(list(pairwise(times))):
        if not week.filling((0.5 * (begin + finish)) % DAY):
            continue
        found = np.isnan(latest) & (open_time + finish - begin >= needed)
        latest = np.where(found, finish - (needed - open_time), latest)
        open_time += finish - begin
    return open_time - needed, latest

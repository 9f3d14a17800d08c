"""Job-card entries placed in time: when each began and ended, and in which order an order's work was done.

Entries with clock times stand where the clock says. Entries with a date only are laid one after the other in the middle
of their day, so that waits counted between them are right on average though each is known to the day only.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from .working_time import Hours, Moments, WorkClock, split_moments

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
_FAR = 10 * 86400
"""Seconds: longer than any day of work lasts."""


def placed_entries(booked: pd.DataFrame, orders: pd.DataFrame, clock: WorkClock) -> pd.DataFrame:
    """Return the entries of orders at stages, placed in time, by order and then by the sequence of the work.

    Parameters
    ----------
    booked : DataFrame
        From `costing.labour.entries`.
    orders : DataFrame
        The orders known so far.
    clock : WorkClock
        The shop's clock.

    Returns
    -------
    DataFrame
        The columns of `booked` and started, finished (datetime64[s]), timed (by the clock), later (after the delivery of the
        order), place (row of `booked`). Entries without order or stage are left out.
    """
    counts = (booked["order"] >= 0).to_numpy() & (booked["stage"] >= 0).to_numpy()
    frame = _with_clock(booked[counts].assign(place=np.flatnonzero(counts)))
    frame = _place_in_day(frame.reset_index(drop=True), clock)
    return frame.assign(later=_after_delivery(frame, orders))


def _with_clock(frame: pd.DataFrame) -> pd.DataFrame:
    start, finish = (frame[name].to_numpy("datetime64[s]") for name in ("start", "finish"))
    seconds = frame["hours"].fillna(0.0).to_numpy() * 3600.0
    work = seconds.astype("timedelta64[s]")
    started = np.where(np.isnat(start), finish - work, start)
    finished = np.where(np.isnat(finish), start + work, finish)
    timed = ~np.isnat(started)
    day = np.where(timed, started.astype("datetime64[D]"), frame["day"].to_numpy("datetime64[D]"))
    return frame.assign(started=started, finished=np.maximum(started, finished), timed=timed, day=day.astype("datetime64[s]"))


def order_days(frame: pd.DataFrame) -> Ints:
    """Return a number for each pair of order and day, the same for entries of one order on one day."""
    days = frame["day"].to_numpy("datetime64[D]").astype(np.int64)
    if not len(days):
        return days
    days = days - days.min()
    pairs: Ints = frame["order"].to_numpy(np.int64) * (days.max() + 1) + days
    return pairs


def _place_in_day(frame: pd.DataFrame, clock: WorkClock) -> pd.DataFrame:
    dated, group = np.flatnonzero(~frame["timed"].to_numpy()), order_days(frame)
    if not len(dated):
        return frame
    hours = frame["hours"].fillna(0.0).to_numpy()[dated]
    begin, end = _laid_in_the_middle(hours, group[dated], clock.usual_h)
    days = frame["day"].to_numpy("datetime64[D]")[dated]
    started, finished = frame["started"].to_numpy("datetime64[s]").copy(), frame["finished"].to_numpy("datetime64[s]").copy()
    started[dated], finished[dated] = clock.moment_in_day(days, begin), clock.moment_in_day(days, end)
    return frame.assign(**_between_the_timed(started, finished, frame["timed"].to_numpy(), group))


def _laid_in_the_middle(hours: Hours, group: Ints, day_h: float) -> tuple[Hours, Hours]:
    """Return begin and end, h after the start of the day, of entries laid end to end in the middle; too much is squeezed in."""
    first = np.flatnonzero(np.diff(group, prepend=group[0] - 1) != 0)
    of_group = np.repeat(np.arange(len(first)), np.diff(np.append(first, len(group))))
    total = np.add.reduceat(hours, first)[of_group]
    done = np.cumsum(hours)
    before = done - hours
    before -= before[first][of_group]
    squeeze = np.where(total > day_h, day_h / np.where(total > 0, total, 1.0), 1.0)
    lead = (day_h - total * squeeze) / 2.0
    return lead + before * squeeze, lead + (before + hours) * squeeze


def _between_the_timed(started: Moments, finished: Moments, timed: Flags, group: Ints) -> dict[str, Moments]:
    """Move entries without a clock behind the end of what the clock shows before them that day, and before what it shows after."""
    turn = np.cumsum(np.diff(group, prepend=group[:1]) != 0) * _FAR
    origin = started.astype("datetime64[D]").astype("datetime64[s]")
    begin, end = ((moment - origin).astype("timedelta64[s]").astype(np.int64) for moment in (started, finished))
    earliest = np.maximum.accumulate(turn + np.where(timed, np.minimum(end, _FAR - 1), 0)) - turn
    latest = np.minimum.accumulate((turn + np.where(timed, begin, _FAR - 1))[::-1])[::-1] - turn
    moved = np.maximum(begin, earliest)
    over = np.minimum(moved + end - begin, latest)
    spans = {"started": np.where(timed, begin, np.minimum(moved, over)), "finished": np.where(timed, end, np.maximum(over, earliest))}
    spans["finished"] = np.maximum(spans["started"], spans["finished"])
    return {name: origin + seconds.astype("timedelta64[s]") for name, seconds in spans.items()}


def _after_delivery(frame: pd.DataFrame, orders: pd.DataFrame) -> Flags:
    delivered = orders["delivered_on"].to_numpy("datetime64[D]")[frame["order"].to_numpy()]
    later: Flags = ~np.isnat(delivered) & (frame["day"].to_numpy("datetime64[D]") > delivered)
    return later


def worker_sequence(frame: pd.DataFrame, began_before: Flags) -> Ints:
    """Return the place of each entry in its worker's own sequence of rows; entries of one shared melt have one place.

    Parameters
    ----------
    frame : DataFrame
        From `placed_entries`.
    began_before : ndarray(bool)
        Whether the entry's visit began on an earlier day. Without a clock, what was in hand is done before what begins
        that day, and then rows go as they stand in the table.
    """
    worker, row, timed = frame["worker"].to_numpy(np.int64), frame["row"].to_numpy(np.int64), frame["timed"].to_numpy()
    day, minute = split_moments(frame["started"].to_numpy("datetime64[s]"))
    number = day.astype(np.int64)
    mixed = _worker_days(worker, number)
    by_clock = ~np.isin(mixed, np.unique(mixed[~timed]))
    first = np.where(by_clock, minute, ~began_before)
    sequence = np.lexsort((row, first, number, worker))
    fresh = np.ones(len(row), dtype=np.int64)
    fresh[1:] = (np.diff(row[sequence]) != 0) | (np.diff(worker[sequence]) != 0)
    place = np.empty(len(row), dtype=np.int64)
    place[sequence] = np.cumsum(fresh)
    return place


def _worker_days(worker: Ints, day: Ints) -> Ints:
    least, most = int(day.min(initial=0)), int(day.max(initial=0))
    pairs: Ints = (worker + 1) * (most - least + 1) + day - least
    return pairs

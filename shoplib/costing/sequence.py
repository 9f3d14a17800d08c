"""The sequence in which an order's work was done.

Entries go by day and clock. Entries with a date only go in route order and rework after: behind the day's first work up to
the stage that found the fault, before the stages that follow. Beside entries with a clock they stand behind what the clock
shows of earlier stages.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
_MINUTES_A_DAY = 1441
_NO_FINDER = np.iinfo(np.int64).max


def work_sequence(frame: pd.DataFrame) -> Ints:
    """Return the positions of `frame` in the sequence of the work, orders one after the other.

    Parameters
    ----------
    frame : DataFrame
        order, stage (route order; −1 blank), day, start (NaT without a clock), rework, row.
    """
    stage, rework, row = (frame[name].to_numpy() for name in ("stage", "rework", "row"))
    group, minute = _order_days(frame)
    if (minute >= 0).all():
        return np.lexsort((row, minute, group)).astype(np.int64)
    after = ~rework & (stage > _finder(group, frame["order"].to_numpy(np.int64), stage, rework))
    phase = np.where(rework, 1, np.where(after, 2, 0))
    by_route = np.lexsort((row, stage, phase, group))
    minute[by_route] = _behind_the_clock(group[by_route], minute[by_route])
    return np.lexsort((row, stage, phase, minute, group)).astype(np.int64)


def _order_days(frame: pd.DataFrame) -> tuple[Ints, Ints]:
    """Return a running number of the order and day of each entry, and its minutes after midnight (−1 without a clock)."""
    start, day = frame["start"].to_numpy("datetime64[m]"), frame["day"].to_numpy("datetime64[D]")
    day = np.where(np.isnat(start), day, start.astype("datetime64[D]"))
    minute = np.where(np.isnat(start), -1, (start - day.astype("datetime64[m]")).astype("timedelta64[m]").astype(np.int64))
    number = day.astype(np.int64)
    number = number - number.min(initial=0)
    pairs = (frame["order"].to_numpy(np.int64) + 1) * (number.max(initial=0) + 1) + number
    return pairs, minute


def _finder(group: Ints, order: Ints, stage: Ints, rework: Flags) -> Ints:
    """Return for each entry the stage that found the fault of the rework of its day: the last one the piece passed again.

    Days of one order that follow each other with rework are one round. A round at a single stage does not tell who found it.
    """
    days, lead, day_of = np.unique(group, return_index=True, return_inverse=True)
    last, first = np.full(len(days), -1), np.full(len(days), _NO_FINDER)
    np.maximum.at(last, day_of[rework], stage[rework])
    np.minimum.at(first, day_of[rework], stage[rework])
    again = last >= 0
    goes_on = np.append(False, again[1:] & again[:-1] & (np.diff(order[lead]) == 0))
    starts = np.flatnonzero(~goes_on)
    length = np.diff(np.append(starts, len(days)))
    end, begin = (np.repeat(each.reduceat(ends, starts), length) for each, ends in ((np.maximum, last), (np.minimum, first)))
    return np.where(again & (end > begin), end, _NO_FINDER)[day_of]


def _behind_the_clock(group: Ints, minute: Ints) -> Ints:
    """Return the minutes with those of entries without a clock set to the latest before them on their day; both in route order."""
    turn = np.cumsum(np.diff(group, prepend=group[0]) != 0) * _MINUTES_A_DAY
    latest = np.maximum.accumulate(turn + minute) - turn
    return np.where(minute < 0, latest, minute)

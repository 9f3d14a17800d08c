"""Working time: how many hours of work lie between two moments.

A `WorkClock` runs only while the shop (or one person) works: from day_start to day_end on open days, and so fast that a
whole day counts its own hours (breaks are spread over the day). Nights, weekends, holidays, closures and absences count nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from ..costing.calendar import WorkingCalendar, closed_on, holidays_of, weekday_of
from ..settings import WEEKDAYS, Calendar

Moments = NDArray[np.datetime64]
Hours = NDArray[np.float64]
_MINUTES_A_DAY = 1440.0


@dataclass(frozen=True)
class WorkClock:
    """A clock that runs only in working time.

    Attributes
    ----------
    first : datetime64[D]
        First day of the clock; it shows 0 h at its midnight and stands still before it and after its last day.
    day_h : ndarray(float), shape (n_days,)
        Working hours of each day from `first` on.
    start_min, end_min : float
        Begin and end of the working day, minutes after midnight.
    usual_h : float
        Hours of a usual day: the length of a day with work on a day that is shut.
    """

    first: np.datetime64
    day_h: Hours
    start_min: float
    end_min: float
    usual_h: float

    @property
    def before_h(self) -> Hours:
        """Working hours before each midnight, shape (n_days + 1,)."""
        return np.concatenate(([0.0], np.cumsum(self.day_h)))

    def hours_at(self, moments: ArrayLike) -> Hours:
        """Return what the clock shows at each moment, h since `first`; NaN for a missing moment."""
        given = np.asarray(moments, dtype="datetime64[s]")
        day, minute = split_moments(given)
        place = (day - self.first).astype(np.int64)
        inside = (place >= 0) & (place < len(self.day_h)) & ~np.isnat(given)
        begun = np.clip((minute - self.start_min) / (self.end_min - self.start_min), 0.0, 1.0)
        index = np.clip(place, 0, len(self.day_h))
        shown = self.before_h[index]
        if len(self.day_h):
            shown = shown + np.where(inside, begun * self.day_h[np.minimum(index, len(self.day_h) - 1)], 0.0)
        return np.where(np.isnat(given), np.nan, shown)

    def hours_between(self, earlier: ArrayLike, later: ArrayLike) -> Hours:
        """Return working hours from `earlier` to `later`; 0 where `later` is not later, NaN where one is missing."""
        return np.maximum(self.hours_at(later) - self.hours_at(earlier), 0.0)

    def moment_in_day(self, days: ArrayLike, worked_h: ArrayLike) -> Moments:
        """Return the moment on each day at which `worked_h` hours of a usual day are done."""
        part = np.asarray(worked_h, dtype=float) / self.usual_h
        seconds = np.round(60.0 * (self.start_min + part * (self.end_min - self.start_min)))
        whole = np.where(np.isnan(seconds), 0.0, seconds).astype("timedelta64[s]")
        moments: Moments = np.asarray(days, dtype="datetime64[D]").astype("datetime64[s]") + whole
        return moments


def split_moments(moments: Moments) -> tuple[NDArray[np.datetime64], Hours]:
    """Return the day of each moment and its minutes after midnight."""
    day = moments.astype("datetime64[D]")
    return day, (moments - day.astype("datetime64[s]")).astype("timedelta64[s]").astype(np.float64) / 60.0


def shop_clock(calendar: Calendar, first: date, last: date) -> WorkClock:
    """Return the clock of the shop from `first` to `last`: hours_per_day on working days that are no holiday and not in a closure."""
    days: Moments = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1, dtype="datetime64[D]")
    works = np.array([name in calendar.working_days for name in WEEKDAYS])[weekday_of(days)]
    is_open = works & ~closed_on(calendar, days) & ~holidays_of(calendar.holidays, days)[0]
    return _clock(calendar, days[0], np.where(is_open, calendar.hours_per_day, 0.0))


def person_clock(calendar: Calendar, people: WorkingCalendar, workers: Sequence[str]) -> WorkClock:
    """Return the clock that runs while any of `workers` is present, each day with the longest of their own hours."""
    rows = people.worker_index(pd.Series(list(workers), dtype=object))
    present = people.present_h[rows[rows >= 0]]
    longest = present.max(axis=0) if len(present) else np.zeros(len(people.days))
    return _clock(calendar, people.days[0], longest)


def _clock(calendar: Calendar, first: np.datetime64, day_h: Hours) -> WorkClock:
    start, end = (60.0 * moment.hour + moment.minute for moment in (calendar.day_start, calendar.day_end))
    return WorkClock(first, day_h, start, end, calendar.hours_per_day)

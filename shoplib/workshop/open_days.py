"""Days on which the shop works, past and to come."""

from __future__ import annotations

from datetime import date

import numpy as np

from ..costing.calendar import closed_on, holidays_of, weekday_of
from ..settings import WEEKDAYS, Settings
from .arrays import Days, Flags

YEARS_BACK, YEARS_AHEAD = 3, 7
"""Holidays and closures are looked up from so far back to so far ahead."""


def shut_days(settings: Settings, as_of: date) -> Days:
    """Return holidays and days of closures from `YEARS_BACK` years before to `YEARS_AHEAD` years after a day."""
    end = np.datetime64(as_of, "D")
    days = np.arange(end - 366 * YEARS_BACK, end + 366 * YEARS_AHEAD)
    return days[holidays_of(settings.calendar.holidays, days)[0] | closed_on(settings.calendar, days)]


def working_weekdays(settings: Settings) -> Flags:
    """Return whether the shop works on each weekday, Monday first."""
    return np.array([name in settings.calendar.working_days for name in WEEKDAYS])


def open_days(settings: Settings, days: Days, shut: Days) -> Flags:
    """Return whether the shop works on each of `days`."""
    return np.asarray(working_weekdays(settings)[weekday_of(days)] & ~np.isin(days, shut))

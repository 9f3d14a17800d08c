"""The working calendar: which days the shop is open, and the own hours of each person on each day.

Own hours are those a person owes by weekday while employed. Four readings of them are kept apart: what is contracted
(weekdays alone), what is left on days the shop is open, what is left without absences, and what is paid.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from importlib.metadata import version

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..cache import cached
from ..intake.shop import Finding
from ..settings import WEEKDAYS, Calendar, Settings, Worker

Days = NDArray[np.datetime64]
Grid = NDArray[np.float64]
_MONDAY = np.datetime64("1970-01-05", "D")


@dataclass(frozen=True)
class WorkingCalendar:
    """Own hours of every person on every day of a stretch.

    Attributes
    ----------
    workers : tuple of str
        Codes, in the order of shop.toml.
    days : ndarray(datetime64[D]), shape (n_days,)
        Every day from first to last, no gap.
    is_open : ndarray(bool), shape (n_days,)
        True where the day is neither a holiday nor in a closure.
    contract_h : ndarray(float), shape (n_workers, n_days)
        Hours owed by weekday from started_on to left_on, holidays and closures included.
    absent, unpaid : ndarray(bool), shape (n_workers, n_days)
        Absent by table `absences`; of that, not paid.
    findings : tuple of Finding
        Holidays that could not be told.
    """

    workers: tuple[str, ...]
    days: Days
    is_open: NDArray[np.bool_]
    contract_h: Grid
    absent: NDArray[np.bool_]
    unpaid: NDArray[np.bool_]
    findings: tuple[Finding, ...] = ()

    @property
    def own_h(self) -> Grid:
        """Own hours on days the shop is open, absent or not, shape (n_workers, n_days)."""
        return self.contract_h * self.is_open

    @property
    def present_h(self) -> Grid:
        """Own hours on open days without absences, shape (n_workers, n_days)."""
        return self.own_h * ~self.absent

    @property
    def excused_h(self) -> Grid:
        """Hours that count as worked though nobody worked them: holidays, closures and absences."""
        return self.contract_h - self.present_h

    @property
    def paid_h(self) -> Grid:
        """Own hours paid whatever is worked: all contracted but unpaid absences."""
        return self.contract_h * ~self.unpaid

    def day_index(self, days: Days) -> NDArray[np.int64]:
        """Return the column of each of `days`; −1 where the calendar does not reach or the day is missing."""
        given = np.asarray(days, dtype="datetime64[D]")
        position = (given - self.days[0]).astype(np.int64) if len(self.days) else np.full(len(given), -1)
        inside = ~np.isnat(given) & (position >= 0) & (position < len(self.days))
        return np.where(inside, position, -1)

    def worker_index(self, codes: pd.Series) -> NDArray[np.int64]:
        """Return the row of each worker code; −1 where shop.toml does not know it."""
        return _rows_of(self.workers, codes)


def working_calendar(settings: Settings, absences: pd.DataFrame, first: date, last: date) -> WorkingCalendar:
    """Return the working calendar from `first` to `last`, both days in.

    Parameters
    ----------
    settings : Settings
        Its calendar and workers.
    absences : DataFrame
        Table `absences`: worker, from, to, paid.
    first, last : date
        Ends of the stretch.
    """
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1)
    shut, findings = holidays_of(settings.calendar.holidays, days)
    is_open = ~shut & ~closed_on(settings.calendar, days)
    contract = np.vstack([np.zeros((0, len(days))), *(contract_hours(w, settings.calendar, days) for w in settings.workers)])
    codes = tuple(worker.code for worker in settings.workers)
    unpaid = ~absences["paid"].to_numpy(dtype=bool)
    absent = absence_grid(codes, days, absences)
    return WorkingCalendar(codes, days, is_open, contract, absent, absence_grid(codes, days, absences[unpaid]), findings)


def weekday_of(days: Days) -> NDArray[np.int64]:
    """Return the weekday of each day, Monday 0 to Sunday 6."""
    weekday: NDArray[np.int64] = (np.asarray(days, dtype="datetime64[D]") - _MONDAY).astype(np.int64) % 7
    return weekday


def week_of(days: Days) -> NDArray[np.int64]:
    """Return a running number of the week (Monday to Sunday) of each day."""
    week: NDArray[np.int64] = (np.asarray(days, dtype="datetime64[D]") - _MONDAY).astype(np.int64) // 7
    return week


def contract_hours(worker: Worker, calendar: Calendar, days: Days) -> Grid:
    """Return the hours one person owes on each of `days` by weekday, 0 before started_on and after left_on."""
    usual = dict.fromkeys(calendar.working_days, calendar.hours_per_day)
    by_weekday = np.array([(worker.hours or usual).get(name, 0.0) for name in WEEKDAYS])
    employed = np.ones(len(days), dtype=bool)
    if worker.started_on:
        employed &= days >= np.datetime64(worker.started_on, "D")
    if worker.left_on:
        employed &= days <= np.datetime64(worker.left_on, "D")
    return np.where(employed, by_weekday[weekday_of(days)], 0.0)


def closed_on(calendar: Calendar, days: Days) -> NDArray[np.bool_]:
    """Return True on each of `days` that lies in a closure of the shop."""
    shut = np.zeros(len(days), dtype=bool)
    for first, last in calendar.closures:
        shut |= (days >= np.datetime64(first, "D")) & (days <= np.datetime64(last, "D"))
    return shut


def holidays_of(place: str | None, days: Days) -> tuple[NDArray[np.bool_], tuple[Finding, ...]]:
    """Return True on public holidays of `place` (country, or country-subdivision), and what could not be told."""
    none = np.zeros(len(days), dtype=bool)
    if not place or not len(days):
        return none, ()
    years = days[[0, -1]].astype("datetime64[Y]").astype(int) + 1970
    found = public_holidays(place.strip().upper(), int(years[0]), int(years[1]))
    if found is None:
        return none, (_unknown_place(place),)
    return np.isin(days, np.array(found, dtype="datetime64[D]")), ()


def public_holidays(place: str, first: int, last: int) -> tuple[date, ...] | None:
    """Return the public holidays of `place` in whole decades around the years `first` to `last`; None where the place is not known.

    They are kept on disk, since the library that knows them loads every country of the world for the sake of one.
    """
    years = range(first // 10 * 10, last // 10 * 10 + 10)

    def compute() -> tuple[date, ...] | None:
        from holidays import country_holidays

        country, _, part = place.partition("-")
        try:
            return tuple(sorted(country_holidays(country, subdiv=part or None, years=years)))
        except RuntimeError:
            return None

    return cached("holidays", [place, years.start, years.stop, version("holidays")], compute)


def _unknown_place(place: str) -> Finding:
    text = (
        f'Holidays of "{place}" are not known; no day counts as a holiday. '
        'Set holidays in [calendar] to a country such as "AT", or a part of it such as "AT-9".'
    )
    return Finding("warn", "holidays_unknown", text, "shop.toml, calendar.holidays")


def absence_grid(workers: tuple[str, ...], days: Days, absences: pd.DataFrame) -> NDArray[np.bool_]:
    """Return True where a person is absent, shape (n_workers, n_days); persons unknown to `workers` are left out."""
    steps = np.zeros((len(workers), len(days) + 1), dtype=np.int64)
    row = _rows_of(workers, absences["worker"])
    start = absences["from"].to_numpy("datetime64[D]")
    stop = absences["to"].to_numpy("datetime64[D]") + np.timedelta64(1, "D")
    known = (row >= 0) & (stop > start)
    if len(days) and known.any():
        for ends, step in ((start, 1), (stop, -1)):
            place = np.clip((ends[known] - days[0]).astype(np.int64), 0, len(days))
            np.add.at(steps, (row[known], place), step)
    grid: NDArray[np.bool_] = np.cumsum(steps, axis=1)[:, :-1] > 0
    return grid


def _rows_of(workers: tuple[str, ...], codes: pd.Series) -> NDArray[np.int64]:
    given = pd.Index(codes.astype(object))
    return np.asarray(pd.Index(workers, dtype=object).get_indexer(given), dtype=np.int64)

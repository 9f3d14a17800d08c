"""Who is at the bench on which day: own hours, holidays, absences and each day's share of bench work, drawn per person and day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from .parameters import DAY_SHARE_SPREAD, DAYS_PER_MONTH, FIRST_DAY, MOST_MONTHS, SUMMER_CLOSURE_WEEK, WARM_UP_DAYS, Person, Truth


@dataclass(frozen=True)
class Days:
    """One person's days from the first day played: paid hours owed, why away ('' present), bench share of that day."""

    owed_h: NDArray[np.float64]
    planned: NDArray[np.bool_]
    unplanned: NDArray[np.bool_]
    share: NDArray[np.float64]

    @property
    def bench_h(self) -> NDArray[np.float64]:
        """Bench hours the day holds if there is work."""
        return self.owed_h * ~(self.planned | self.unplanned) * self.share


def first_played() -> date:
    """Return the first day played, before the records begin."""
    return FIRST_DAY - timedelta(days=WARM_UP_DAYS)


def most_days() -> int:
    """Return the days of the longest play."""
    return WARM_UP_DAYS + round(MOST_MONTHS * DAYS_PER_MONTH)


def closures(n_days: int) -> list[tuple[date, date]]:
    """Return the summer fortnights in which the shop is shut."""
    years = range(first_played().year, (first_played() + timedelta(days=n_days)).year + 1)
    mondays = [date.fromisocalendar(year, SUMMER_CLOSURE_WEEK, 1) for year in years]
    return [(monday, monday + timedelta(days=13)) for monday in mondays]


def open_days(n_days: int) -> NDArray[np.bool_]:
    """Return True on days that are neither in a closure nor a weekend."""
    first = first_played()
    days = np.array([first + timedelta(days=i) for i in range(n_days)], dtype="datetime64[D]")
    is_open = np.is_busday(days)
    for start, end in closures(n_days):
        is_open &= ~((days >= np.datetime64(start)) & (days <= np.datetime64(end)))
    return is_open


def days_of(truth: Truth, person: Person, n_days: int) -> Days:
    """Draw one person's days; the same person and seed give the same days in every play, however long."""
    index = [p.code for p in truth.people].index(person.code) if person.luck is None else person.luck
    rng, most = np.random.default_rng([truth.seed, 71, index]), most_days()
    weekday = (first_played().weekday() + np.arange(most)) % 7
    owed = np.array(person.week)[weekday] * open_days(most) * (np.arange(most) >= person.from_day + WARM_UP_DAYS)
    share = np.clip(rng.normal(person.bench_share, min(DAY_SHARE_SPREAD, (1 - person.bench_share) / 2), most), 0.05, 1.0)
    planned = _holidays(person, rng, most)
    unplanned = _absences(person, rng, (owed > 0) & ~planned)
    return Days(owed[:n_days], (planned & (owed > 0))[:n_days], unplanned[:n_days], share[:n_days])


def _holidays(person: Person, rng: np.random.Generator, n_days: int) -> NDArray[np.bool_]:
    away = np.zeros(n_days, dtype=bool)
    for year_start in range(0, n_days, 365):
        for _ in range(max(0, person.holiday_weeks - 2)):
            start = year_start + int(rng.integers(0, 52)) * 7
            monday = start - (first_played().weekday() + start) % 7
            away[max(0, monday) : max(0, monday + 7)] = True
    return away


def _absences(person: Person, rng: np.random.Generator, at_work: NDArray[np.bool_]) -> NDArray[np.bool_]:
    away, begins, lengths = (
        np.zeros(len(at_work), dtype=bool),
        rng.random(len(at_work)),
        rng.geometric(1 / person.absence_days, len(at_work)),
    )
    working = np.flatnonzero(at_work)
    next_free = 0
    for place, day in enumerate(working):
        if place >= next_free and begins[day] < person.absence_chance:
            away[working[place : place + lengths[day]]] = True
            next_free = place + int(lengths[day])
    return away

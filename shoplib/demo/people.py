"""When each invented person is at the bench: days, absences, overtime, shared work."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from random import Random

import holidays

from .parameters import LAST_DAY, World
from .staff import PEOPLE, PersonTruth

DAYS_BEYOND = 60
"""Days played out beyond the last one, so that a visit running at the end has a planned finish."""
OVERTIME = (
    (date(2024, 11, 4), date(2024, 12, 19)),
    (date(2025, 11, 3), date(2025, 12, 18)),
    (date(2026, 10, 5), date(2026, 10, 29)),
)
"""Stretches in which those who solder stay longer from Monday to Thursday."""
SATURDAYS = (date(2024, 12, 14), date(2025, 12, 13), date(2026, 10, 31))
"""Saturdays worked in the morning."""
LUNCH = (12.0, 12.5)
DAY_START = 8.0


@dataclass(frozen=True)
class Shift:
    """A stretch at the bench: start and end in hours since the first midnight, and the share of it that goes to orders."""

    start: float
    end: float
    rate: float


@dataclass(frozen=True)
class Absence:
    """A stretch of whole days away."""

    worker: str
    first: date
    last: date
    planned: bool
    paid: bool = True


@dataclass(frozen=True)
class SharedWork:
    """Work booked to no order: day index, worker, hours and start by the clock (hours since the first midnight)."""

    day: int
    worker: int
    hours: float
    start: float


@dataclass(frozen=True)
class Rota:
    """Who is there when: shifts per person, absences and shared work."""

    shifts: tuple[tuple[Shift, ...], ...]
    absences: tuple[Absence, ...]
    shared: tuple[SharedWork, ...]


def closures(first_year: int, last_year: int) -> tuple[tuple[date, date], ...]:
    """Days shut, first and last: ten in August, and Christmas to the first days of January."""
    found = []
    for year in range(first_year, last_year + 1):
        monday = date(year, 8, 1) + timedelta(days=(-date(year, 8, 1).weekday()) % 7)
        found += [(monday, monday + timedelta(days=9)), (date(year, 12, 24), date(year + 1, 1, 2))]
    return tuple(found)


@lru_cache(maxsize=4096)
def is_open(day: date) -> bool:
    """Return whether the shop works on `day`: a weekday, no holiday, no closure."""
    shut = any(first <= day <= last for first, last in closures(day.year - 1, day.year))
    return day.weekday() < 5 and not shut and day not in _holidays()


@lru_cache(maxsize=1)
def _holidays() -> frozenset[date]:
    return frozenset(holidays.country_holidays("AT", years=range(2010, LAST_DAY.year + 2)))


def make_rota(world: World) -> Rota:
    """Draw everybody's absences and lay out their shifts over the whole history."""
    absences = [absence for person in PEOPLE for absence in _absences(world, person)]
    shared: list[SharedWork] = []
    shifts = []
    for number, person in enumerate(PEOPLE):
        away = {day for a in absences if a.worker == person.code for day in _span(a.first, a.last)}
        shifts.append(tuple(_shifts(world, number, person, away, shared)))
    return Rota(tuple(shifts), tuple(absences), tuple(shared))


def employed(person: PersonTruth, day: date) -> bool:
    """Return whether `person` belongs to the shop on `day`."""
    return (person.started_on or day) <= day <= (person.left_on or day)


def own_hours(person: PersonTruth, day: date) -> float:
    """Own hours of `person` on `day` when the shop is open, absences aside."""
    return person.hours[day.weekday()] if is_open(day) and employed(person, day) else 0.0


def _span(first: date, last: date) -> Iterator[date]:
    return (first + timedelta(days=n) for n in range((last - first).days + 1))


def _absences(world: World, person: PersonTruth) -> list[Absence]:
    luck = Random(f"{world.seed} absences {person.code}")
    found = _planned(world, person, luck) + _unplanned(world, person, luck)
    taken: set[date] = set()
    kept = []
    for absence in found:
        days = set(_span(absence.first, absence.last))
        if not days & taken and employed(person, absence.first) and employed(person, absence.last):
            kept.append(absence)
            taken |= days
    return sorted(kept, key=lambda a: a.first)


def _planned(world: World, person: PersonTruth, luck: Random) -> list[Absence]:
    """A week in spring or summer, a week in autumn and two long weekends a year."""
    found = []
    for year in range(world.first_day.year, world.last_day.year + 1):
        for first_month, last_month, days in ((4, 7, 5), (9, 10, 5), (1, 3, 2), (5, 7, 2)):
            start = date(year, first_month, 1) + timedelta(days=luck.randrange(30 * (last_month - first_month + 1)))
            start += timedelta(days=(-start.weekday()) % 7 + (0 if days == 5 else 3))
            end = start + timedelta(days=days - 1)
            if world.first_day <= start and end <= world.last_day + timedelta(days=DAYS_BEYOND) and start.month <= 10:
                found.append(Absence(person.code, start, end, planned=True))
    return found


def _unplanned(world: World, person: PersonTruth, luck: Random) -> list[Absence]:
    found = []
    day = world.first_day
    while day <= world.last_day:
        if is_open(day) and luck.random() < person.sick_start:
            days = 1 + min(14, int(math.log(luck.random()) / math.log(0.62)))
            found.append(Absence(person.code, day, day + timedelta(days=days - 1), planned=False, paid=luck.random() > 0.02))
            day += timedelta(days=days)
        day += timedelta(days=1)
    return found


def _shifts(world: World, number: int, person: PersonTruth, away: set[date], shared: list[SharedWork]) -> Iterator[Shift]:
    luck = Random(f"{world.seed} days {person.code}")
    for index in range(world.days + DAYS_BEYOND):
        day = world.day(index)
        hours = 0.0 if day in away else own_hours(person, day) + _overtime(world, person, day)
        rate = min(0.985, max(0.5, luck.gauss(person.on_orders_share, world.bench.day_share_spread)))
        if hours and _cleans(number, day):
            hours -= 0.5
            end = DAY_START + hours + (LUNCH[1] - LUNCH[0] if DAY_START + hours > LUNCH[0] else 0.0)
            shared.append(SharedWork(index, number, 0.5, index * 24 + end))
        yield from _stretches(index * 24.0, hours, rate)


def _stretches(midnight: float, hours: float, rate: float) -> Iterator[Shift]:
    morning = min(hours, LUNCH[0] - DAY_START)
    if morning > 0:
        yield Shift(midnight + DAY_START, midnight + DAY_START + morning, rate)
    if hours > morning:
        yield Shift(midnight + LUNCH[1], midnight + LUNCH[1] + hours - morning, rate)


def _overtime(world: World, person: PersonTruth, day: date) -> float:
    """Hours beyond the own ones: longer days before Christmas and when the bench runs late, and some Saturday mornings."""
    if not employed(person, day):
        return 0.0
    if day in SATURDAYS:
        return 4.0 if person.overtime or person.code == "PN" else 0.0
    inside = any(first <= day <= last for first, last in OVERTIME) and day.weekday() < 4 and is_open(day)
    solders = person.overtime and all(learnt <= day for _, learnt in person.learnt)
    return world.bench.overtime_h_a_day if inside and solders else 0.0


def _cleans(number: int, day: date) -> bool:
    """Three people in turn clean the benches on the last half hour of a Friday."""
    return day.weekday() == 4 and is_open(day) and (number - day.toordinal() // 7) % 3 == 0

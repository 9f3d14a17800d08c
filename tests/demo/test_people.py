"""Who is at the bench when."""

from __future__ import annotations

from datetime import date

import pytest

from shoplib.demo.book import Book
from shoplib.demo.parameters import make_world
from shoplib.demo.people import Shift, is_open, make_rota
from shoplib.demo.staff import PEOPLE

PLACE = {person.code: place for place, person in enumerate(PEOPLE)}


@pytest.mark.parametrize("day", [date(2025, 12, 25), date(2026, 5, 1), date(2026, 8, 5), date(2026, 10, 31), date(2026, 6, 7)])
def test_the_shop_is_shut(day: date) -> None:
    """Christmas, Labour Day, the closure of August, a Saturday and a Sunday (holidays of Austria, from memory)."""
    assert not is_open(day)


def test_an_ordinary_monday_is_open() -> None:
    """Monday 5 October 2026 is no holiday and no closure."""
    assert is_open(date(2026, 10, 5))


def test_a_person_who_left_has_no_shift_afterwards(book: Book) -> None:
    """RT's last shift lies on or before the last day."""
    left = book.world.index(date(2026, 3, 31))
    assert book.rota.shifts[PLACE["RT"]][-1].end <= 24.0 * (left + 1)


def test_absence_means_no_shift(book: Book) -> None:
    """Nobody has a shift that begins on a day of absence."""
    away = {(PLACE[a.worker], day) for a in book.rota.absences for day in range(book.world.index(a.first), book.world.index(a.last) + 1)}
    assert not [s for n, shifts in enumerate(book.rota.shifts) for s in shifts if (n, int(s.start // 24)) in away]


def test_shifts_follow_each_other(book: Book) -> None:
    """A person's shifts never overlap."""
    for shifts in book.rota.shifts:
        assert all(a.end <= b.start for a, b in zip(shifts, shifts[1:], strict=False))


def test_a_full_day_is_eight_hours_around_lunch() -> None:
    """08:00 to 12:00 and 12:30 to 16:30 for a person of eight hours a day without overtime or cleaning."""
    world = make_world(months=1)
    tuesday = world.index(date(2026, 10, 13))
    shifts: list[Shift] = [s for s in make_rota(world).shifts[PLACE["JB"]] if int(s.start // 24) == tuesday]
    assert [(s.start % 24, s.end % 24) for s in shifts] == [(8.0, 12.0), (12.5, 16.5)]

"""The working calendar against days counted by hand."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from shoplib.costing.calendar import WorkingCalendar, week_of, weekday_of, working_calendar
from shoplib.settings import parse_settings

HEAD = '[shop]\nname = "Invented"\ncurrency = "EUR"\n'


def calendar(text: str, first: date, last: date, absent: list[tuple[str, str, str, bool]] | None = None) -> WorkingCalendar:
    table = pd.DataFrame(absent or [], columns=["worker", "from", "to", "paid"])
    table[["from", "to"]] = table[["from", "to"]].apply(lambda days: days.astype("datetime64[s]"))
    return working_calendar(parse_settings(HEAD + text), table.astype({"paid": bool}), first, last)


def test_a_week_without_own_hours_is_five_times_the_shops() -> None:
    """A worker whose hours are not written works the shop's days and hours."""
    week = calendar('[[workers]]\ncode = "A"', date(2026, 1, 5), date(2026, 1, 11))
    assert week.contract_h.tolist() == [[8, 8, 8, 8, 8, 0, 0]]


def test_own_hours_by_weekday_win_over_the_shops_days() -> None:
    """Hours written for a Saturday count even where the shop's usual week ends on Friday."""
    week = calendar('[[workers]]\ncode = "A"\nhours = { sat = 4 }', date(2026, 1, 5), date(2026, 1, 11))
    assert week.contract_h.tolist() == [[0, 0, 0, 0, 0, 4, 0]]


def test_nobody_owes_hours_before_the_first_or_after_the_last_day() -> None:
    """started_on and left_on are both days of work."""
    text = '[[workers]]\ncode = "A"\nstarted_on = 2026-01-06\nleft_on = 2026-01-08'
    assert calendar(text, date(2026, 1, 5), date(2026, 1, 11)).contract_h.tolist() == [[0, 8, 8, 8, 0, 0, 0]]


def test_a_public_holiday_shuts_the_shop_and_stays_paid() -> None:
    """6 January is a public holiday in Austria (Feiertagsruhegesetz, by the library `holidays`)."""
    week = calendar('[calendar]\nholidays = "AT"\n[[workers]]\ncode = "A"', date(2026, 1, 5), date(2026, 1, 11))
    assert (week.own_h.sum(), week.excused_h.sum(), week.paid_h.sum()) == (32, 8, 40)


def test_both_ends_of_a_closure_are_shut() -> None:
    """A closure holds its first and its last day."""
    text = '[calendar]\nclosures = [["2026-01-06", "2026-01-08"]]\n[[workers]]\ncode = "A"'
    assert calendar(text, date(2026, 1, 5), date(2026, 1, 11)).is_open.tolist() == [True, False, False, False, True, True, True]


def test_an_unknown_country_is_told_and_shuts_no_day() -> None:
    """A country without holidays known gives a finding and no holiday."""
    week = calendar('[calendar]\nholidays = "ZZ"\n[[workers]]\ncode = "A"', date(2026, 1, 5), date(2026, 1, 11))
    assert week.is_open.all() and [found.code for found in week.findings] == ["holidays_unknown"]


def test_absences_that_overlap_count_once() -> None:
    """Two absences over the same day take away its hours once."""
    rows = [("A", "2026-01-05", "2026-01-06", True), ("A", "2026-01-06", "2026-01-07", False)]
    week = calendar('[[workers]]\ncode = "A"', date(2026, 1, 5), date(2026, 1, 11), rows)
    assert (week.present_h.sum(), week.paid_h.sum()) == (16, 24)


def test_an_absence_of_a_person_unknown_to_the_settings_is_left_out() -> None:
    """A code that is no worker changes nobody's hours."""
    week = calendar('[[workers]]\ncode = "A"', date(2026, 1, 5), date(2026, 1, 11), [("Z", "2026-01-05", "2026-01-09", True)])
    assert week.present_h.sum() == 40


def test_a_shop_without_workers_has_an_empty_grid() -> None:
    """No worker: no row, and every day still stands."""
    assert calendar("", date(2026, 1, 5), date(2026, 1, 11)).contract_h.shape == (0, 7)


def test_days_outside_the_calendar_have_no_column() -> None:
    """A day before the first, after the last or missing is −1."""
    week = calendar("", date(2026, 1, 5), date(2026, 1, 11))
    asked = np.array(["2026-01-04", "2026-01-05", "2026-01-11", "2026-01-12", "NaT"], dtype="datetime64[D]")
    assert week.day_index(asked).tolist() == [-1, 0, 6, -1, -1]


@pytest.mark.parametrize("day, weekday", [("1970-01-01", 3), ("2026-01-05", 0), ("2024-02-29", 3), ("1969-12-31", 2)])
def test_weekday_agrees_with_the_standard_library(day: str, weekday: int) -> None:
    """Python's date.weekday gives the same number; the value is worked by hand from it."""
    assert weekday_of(np.array([day], dtype="datetime64[D]"))[0] == weekday == date.fromisoformat(day).weekday()


def test_a_week_runs_from_monday_to_sunday() -> None:
    """Monday starts a new running number."""
    numbers = week_of(np.array(["2026-01-04", "2026-01-05", "2026-01-11"], dtype="datetime64[D]"))
    assert (numbers - numbers[0]).tolist() == [0, 1, 1]


def test_a_part_of_a_country_has_its_own_holidays() -> None:
    """15 November is Saint Leopold's day in Vienna (AT-9) and Lower Austria, by the library `holidays`, where it keeps it."""
    whole, part = (calendar(f'[calendar]\nholidays = "{place}"', date(2027, 1, 1), date(2027, 12, 31)) for place in ("AT", "AT-9"))
    assert set(whole.days[~whole.is_open]) <= set(part.days[~part.is_open])


def test_an_unknown_part_of_a_country_is_told() -> None:
    """AT-77 is no part of Austria."""
    week = calendar('[calendar]\nholidays = "AT-77"', date(2026, 1, 5), date(2026, 1, 11))
    assert [found.code for found in week.findings] == ["holidays_unknown"]

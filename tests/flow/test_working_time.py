"""Working hours between moments. All values worked by hand; no source."""

from datetime import date, time

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.costing.calendar import working_calendar
from shoplib.flow.working_time import person_clock, shop_clock
from shoplib.settings import Calendar, parse_settings

from .shops import TOML, table_of

EIGHT_TO_FOUR = Calendar(day_start=time(8), day_end=time(16))
MARCH = shop_clock(EIGHT_TO_FOUR, date(2026, 3, 2), date(2026, 3, 29))


def between(earlier, later, clock=MARCH):
    """Return working hours between two moments written as text."""
    return float(clock.hours_between(np.array([earlier], "datetime64[s]"), np.array([later], "datetime64[s]"))[0])


def test_a_night_does_not_count():
    """From 15:00 to 09:00 the next day is one hour and one hour."""
    assert between("2026-03-02T15:00", "2026-03-03T09:00") == pytest.approx(2.0)


def test_a_weekend_does_not_count():
    """From Friday 12:00 to Monday 12:00 is half a day and half a day."""
    assert between("2026-03-06T12:00", "2026-03-09T12:00") == pytest.approx(8.0)


def test_a_break_is_spread_over_the_day():
    """With 8:00 to 16:30 for 8 paid hours, half the day's span is 4 h."""
    clock = shop_clock(Calendar(), date(2026, 3, 2), date(2026, 3, 6))
    assert between("2026-03-02T08:00", "2026-03-02T12:15", clock) == pytest.approx(4.0)


def test_a_closure_does_not_count():
    """A closed Tuesday and Wednesday leave one day of a Monday to Thursday, morning to morning."""
    closed = EIGHT_TO_FOUR.model_copy(update={"closures": ((date(2026, 3, 3), date(2026, 3, 4)),)})
    clock = shop_clock(closed, date(2026, 3, 2), date(2026, 3, 6))
    assert between("2026-03-02T08:00", "2026-03-05T08:00", clock) == pytest.approx(8.0)


def test_a_holiday_does_not_count():
    """6 January is a public holiday in Austria (from memory): Monday noon to Wednesday noon is 8 h."""
    clock = shop_clock(EIGHT_TO_FOUR.model_copy(update={"holidays": "AT"}), date(2026, 1, 5), date(2026, 1, 9))
    assert between("2026-01-05T12:00", "2026-01-07T12:00", clock) == pytest.approx(8.0)


def test_a_later_moment_first_counts_nothing():
    """Time does not run backwards."""
    assert between("2026-03-04T12:00", "2026-03-03T12:00") == 0.0


def test_a_missing_moment_gives_no_hours():
    """A wait with an unknown end is unknown, not zero."""
    assert np.isnan(between("2026-03-04T12:00", "NaT"))


def test_an_absent_person_has_no_time():
    """A person away on Tuesday has 8 h from Monday noon to Wednesday noon where the shop has 16."""
    settings = parse_settings(TOML)
    away = table_of("absences", [{"worker": "A", "from": "2026-03-03", "to": "2026-03-03"}])
    people = working_calendar(settings, away, date(2026, 3, 2), date(2026, 3, 6))
    clock = person_clock(settings.calendar, people, ["A"])
    assert between("2026-03-02T12:00", "2026-03-04T12:00", clock) == pytest.approx(8.0)


def test_unknown_people_have_no_time():
    """A code that shop.toml does not know never works."""
    settings = parse_settings(TOML)
    people = working_calendar(settings, table_of("absences", []), date(2026, 3, 2), date(2026, 3, 6))
    assert between("2026-03-02T12:00", "2026-03-04T12:00", person_clock(settings.calendar, people, ["?"])) == 0.0


def test_moment_in_day_is_the_inverse_of_the_clock():
    """Three worked hours into a day that begins at eight it is eleven."""
    assert MARCH.moment_in_day(["2026-03-02"], [3.0])[0] == np.datetime64("2026-03-02T11:00", "s")


MOMENTS = st.integers(0, 27 * 24 * 60).map(lambda minutes: pd.Timestamp("2026-03-02") + pd.Timedelta(minutes=minutes))


@settings(deadline=None)
@given(MOMENTS, MOMENTS, MOMENTS)
def test_stretches_add_up(one, two, three):
    """Working hours of two stretches end to end are those of the whole."""
    early, middle, late = sorted((one, two, three))
    assert between(early, middle) + between(middle, late) == pytest.approx(between(early, late), abs=1e-9)

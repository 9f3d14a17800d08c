"""Dates in cells: each way of writing one gives its day, or a reason."""

import numpy as np
import pytest

from shoplib.intake.dates import DateStyle, date_evidence, read_dates
from shoplib.intake.distinct import distinct_objects
from shoplib.intake.parsed import PLAIN, REJECTED, REPAIRED

DMY, MDY = DateStyle("dmy", {"", "-"}), DateStyle("mdy", {"", "-"})


def one(text, style=DMY, kind="date"):
    parsed = read_dates(distinct_objects([text]), style, kind)
    return str(parsed.values[0]), int(parsed.state[0]), parsed.reasons.get(0)


@pytest.mark.parametrize(
    ("text", "style", "day"),
    [
        ("03.04.2025", DMY, "2025-04-03"), ("3.4.25", MDY, "2025-04-03"), ("03/04/2025", DMY, "2025-04-03"), ("03/04/2025", MDY, "2025-03-04"), ("3-4-2025", DMY, "2025-04-03"),
        ("2025/04/03", DMY, "2025-04-03"), ("2025.4.3", DMY, "2025-04-03"), ("3 April 2025", DMY, "2025-04-03"), ("April 3, 2025", DMY, "2025-04-03"), ("3rd Apr 25", DMY, "2025-04-03"),
        ("3. März 2025", DMY, "2025-03-03"), ("03-Apr-2025", DMY, "2025-04-03"), ("Thu 3 Apr 2025", DMY, "2025-04-03"), ("45750", DMY, "2025-04-03"),
        ("2025-04-03 00:00:00", DMY, "2025-04-03"), ("2025-04-03 08:15", DMY, "2025-04-03"), (" 2025-04-03", DMY, "2025-04-03"), ("45750.34", DMY, "2025-04-03"),
        ("2025-4-3", DMY, "2025-04-03"), ("29.02.2024", DMY, "2024-02-29"),
    ],
)  # fmt: skip
def test_a_date_written_otherwise_is_repaired(text, style, day):
    """Its day is the one meant (serial 45750 is 2025-04-03 in a spreadsheet whose day 1 is 1900-01-01)."""
    value, state, _ = one(text, style)
    assert (value[:10], state) == (day, REPAIRED)


def test_an_iso_date_is_taken_as_it_stands():
    """Nothing is repaired in 2025-04-03."""
    assert one("2025-04-03")[:2] == ("2025-04-03T00:00:00", PLAIN)


@pytest.mark.parametrize(
    "text",
    [
        "31.02.2025",
        "2025-02-29",
        "2025-13-01",
        "2025-00-10",
        "13/13/2025",
        "soon",
        "1900-01-00",
        "########",
        "2025",
        "0",
        "12",
        "3 Foo 2025",
        "2025-04-03x",
    ],
)
def test_what_is_no_day_is_rejected(text):
    """There is no such day, and the reason says how to write one."""
    _, state, reason = one(text)
    assert state == REJECTED and reason.to_do


@pytest.mark.parametrize("text", ["1900-01-01", "2260-03-01", "03.04.1925", "01.01.2101", "1", "1989-12-31"])
def test_a_year_like_1900_or_2260_is_rejected(text):
    """Years outside 1990 to 2100 are typing errors."""
    assert one(text)[1] == REJECTED


def test_a_month_first_date_is_impossible_day_first():
    """05/13/2025 is refused when days come first."""
    assert one("05/13/2025", DMY)[1] == REJECTED


@pytest.mark.parametrize(
    ("text", "state"), [("2026-03", PLAIN), ("03/2026", REPAIRED), ("Mar 2026", REPAIRED), ("2026-03-01", PLAIN), ("2026-03-17", REPAIRED)]
)
def test_a_month_is_read_as_its_first_day(text, state):
    """March 2026 is 2026-03-01."""
    assert one(text, kind="month")[:2] == ("2026-03-01T00:00:00", state)


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-03-09 08:15", "2026-03-09T08:15:00"), ("2026-03-09T08:15:30", "2026-03-09T08:15:30"), ("9.3.2026 8:15", "2026-03-09T08:15:00"), ("09/03/2026 8:15 pm", "2026-03-09T20:15:00"),
        ("46090.34375", "2026-03-09T08:15:00"), ("12:05 am", "1970-01-01T00:05:00"), ("8:15", "1970-01-01T08:15:00"), ("2026-03-09 24:00", "2026-03-10T00:00:00"),
    ],
)  # fmt: skip
def test_a_moment_is_read(text, moment):
    """Date and time; a time alone waits for its row's date."""
    assert one(text, kind="timestamp")[0] == moment


@pytest.mark.parametrize("text", ["2026-03-09", "2026-03-09 25:00", "13:15 pm", "2026-03-09 08:61", "morning"])
def test_no_moment_is_rejected(text):
    """A date without a time of day, and a time that does not exist, are refused."""
    assert one(text, kind="timestamp")[1] == REJECTED


@pytest.mark.parametrize(("text", "day"), [("2026-05", "2026-05-29"), ("Feb 2026", "2026-02-27"), ("2026-05-12", "2026-05-12")])
def test_a_price_of_a_month_stands_for_its_last_working_day(text, day):
    """31 May 2026 is a Sunday, so Friday the 29th; 28 February 2026 is a Saturday."""
    assert one(text, kind="metal_prices")[0][:10] == day


def test_a_price_may_be_as_old_as_1968_and_not_older():
    """Long price histories are kept."""
    read = read_dates(distinct_objects(["1968-04-01", "1967-12-31"]), DateStyle("dmy", {""}, 1968))
    assert read.state.tolist() == [PLAIN, REJECTED]


def test_every_day_of_a_century_is_read_as_the_calendar_has_it():
    """The array arithmetic agrees with numpy's calendar from 1990 to 2099."""
    days = np.arange(np.datetime64("1990-01-01"), np.datetime64("2100-01-01"))
    read = read_dates(distinct_objects([str(day) for day in days]), DMY)
    assert (read.values.astype("datetime64[D]") == days).all()


def test_date_evidence_counts_what_each_cell_can_mean():
    """13/04 is day first, 04/13 month first, 03/04 either; 4/4 and dotted or ISO dates tell nothing."""
    found = date_evidence(distinct_objects(["13/04/2025", "04/13/2025", "03/04/2025", "04/04/2025", "03.04.2025", "2025-04-03"]))
    assert (found.day_first, found.month_first, found.either) == (1, 1, 1)

"""Dates, months and times of day. ISO dates at once by array arithmetic, the others by a careful reader."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .distinct import Cells
from .findings import Reason
from .parsed import BLANK, REJECTED, Parsed, Unreadable, matrix, plain_width, tidy

FIRST_YEAR, LAST_YEAR = 1990, 2100
"""Years a workshop's own dates may lie in; a spreadsheet's day zero is 1900."""

FIRST_PRICE_YEAR = 1968
"""Year from which daily metal prices are published (London gold, two fixings a day from 1968; from memory)."""

_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january januar jänner jaen janvier enero gennaio", "feb february februar feber février fevrier febrero febbraio",
            "mar march märz maerz mär mars marzo", "apr april avril abril aprile", "may mai mayo maggio", "jun june juni juin junio giugno",
            "jul july juli juillet julio luglio", "aug august août aout agosto", "sep sept september septembre septiembre settembre",
            "oct october okt oktober octobre octubre ottobre", "nov november novembre noviembre",
            "dec december dez dezember décembre diciembre dicembre",
        ),
        1,
    )
    for name in names.split()
}  # fmt: skip

_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_THREE = re.compile(r"(\d{1,2})\s*([-/.])\s*(\d{1,2})\s*\2\s*(\d{4}|\d{2})")
_NAMED = re.compile(r"(?:(\d{1,2})(?:st|nd|rd|th)?[.\s-]*)?([^\W\d]+)\.?[\s,-]*(?:(\d{1,2})(?:st|nd|rd|th)?,?\s+)?(\d{4}|\d{2})")
_MONTH = re.compile(r"(\d{4})[-/.](\d{1,2})|(\d{1,2})[-/.](\d{4})")
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?\s*([ap]\.?m\.?)?", re.IGNORECASE)
_SERIAL = re.compile(r"\d{5}(?:\.\d+)?")
_WEEKDAY = re.compile(r"^[^\W\d]{2,10}[.,]*\s+(?=\d)")
_EPOCH = datetime(1899, 12, 30)


@dataclass(frozen=True)
class DateStyle:
    """How dates of a column are written.

    Attributes
    ----------
    order : str
        ``dmy``, ``mdy`` or ``ymd``: decides cells such as 03/04/2025.
    blanks : collection of str
        Cells that mean nothing, case-folded.
    first_year : int
        Earlier ones are refused.
    """

    order: str
    blanks: Collection[str]
    first_year: int = FIRST_YEAR


@dataclass(frozen=True)
class DateEvidence:
    """How many cells of a column can only be day-first, only month-first, or either with different meanings."""

    day_first: int = 0
    month_first: int = 0
    either: int = 0

    def __add__(self, other: DateEvidence) -> DateEvidence:
        return DateEvidence(self.day_first + other.day_first, self.month_first + other.month_first, self.either + other.either)


def date_evidence(cells: Cells) -> DateEvidence:
    """Count how the distinct cells of a column of dates are written."""
    iso = _iso(cells)[0]
    found = DateEvidence()
    for text in cells.texts(np.flatnonzero(~iso)):
        found = found + told_by(text)
    return found


def told_by(text: str) -> DateEvidence:
    """Tell by one cell how its column writes dates."""
    match = _THREE.match(_WEEKDAY.sub("", plain_width(tidy(text))))
    if not match or match[2] == ".":
        return DateEvidence()
    one, two = int(match[1]), int(match[3])
    if one > 12 >= two:
        return DateEvidence(day_first=1)
    if two > 12 >= one:
        return DateEvidence(month_first=1)
    return DateEvidence(either=1) if one != two and max(one, two) <= 12 else DateEvidence()


def _iso(cells: Cells) -> tuple[NDArray[np.bool_], NDArray[np.datetime64], NDArray[np.bool_]]:
    """Tell which distinct cells are ISO dates or moments, their values, and which hold a time of day."""
    if "iso" not in cells.memo:
        cells.memo["iso"] = _read_iso(cells)
    found: tuple[NDArray[np.bool_], NDArray[np.datetime64], NDArray[np.bool_]] = cells.memo["iso"]
    return found


def _read_iso(cells: Cells) -> tuple[NDArray[np.bool_], NDArray[np.datetime64], NDArray[np.bool_]]:
    signs, whole = matrix(cells)
    count = len(signs)
    if signs.shape[1] < 10:
        return np.zeros(count, np.bool_), np.full(count, np.datetime64("NaT", "s")), np.zeros(count, np.bool_)
    sign = np.zeros((20, count), dtype=np.uint8)
    sign[: signs.shape[1]] = signs.T[:20]
    number = sign - np.uint8(ord("0"))

    def digits(*places: int) -> NDArray[np.bool_]:
        """Tell which cells have digits at `places`; a sign below 0 comes out above 9."""
        return np.asarray(np.logical_and.reduce([number[place] <= 9 for place in places]), dtype=np.bool_)

    def two(place: int) -> NDArray[np.int64]:
        """Return the number that two digits make."""
        return np.asarray(number[place].astype(np.int64) * 10 + number[place + 1])

    shaped = whole & digits(0, 1, 2, 3, 5, 6, 8, 9) & (sign[4] == ord("-")) & (sign[7] == ord("-"))
    dated = shaped & (sign[10] == 0)
    minutes = digits(11, 12, 14, 15) & (sign[13] == ord(":")) & ((sign[10] == ord(" ")) | (sign[10] == ord("T")))
    short = minutes & (sign[16] == 0)
    seconds = minutes & (sign[16] == ord(":")) & digits(17, 18) & (sign[19] == 0)
    timed = shaped & (short | seconds)

    day, fine = _days(two(0) * 100 + two(2), two(5), two(8))
    clock = two(11) * 3600 + two(14) * 60 + np.where(seconds, two(17), 0)
    in_day = (two(11) < 24) & (two(14) < 60) & (~seconds | (two(17) < 60))
    value = day.astype("datetime64[s]") + np.where(timed, clock, 0).astype("timedelta64[s]")
    return fine & (dated | (timed & in_day)), value, timed


def _days(year: NDArray[np.int64], month: NDArray[np.int64], day: NDArray[np.int64]) -> tuple[NDArray[np.datetime64], NDArray[np.bool_]]:
    """Return days and whether each exists in the calendar."""
    fine = (month >= 1) & (month <= 12) & (day >= 1)
    months = (np.where(fine, (year - 1970) * 12 + month - 1, 0)).astype("datetime64[M]")
    first = months.astype("datetime64[D]")
    length = ((months + 1).astype("datetime64[D]") - first).astype(np.int64)
    return first + np.where(fine, day - 1, 0).astype("timedelta64[D]"), fine & (day <= length)


def read_dates(cells: Cells, style: DateStyle, kind: str = "date") -> Parsed:
    """Read a column of dates.

    Parameters
    ----------
    cells : Cells
        The column.
    style : DateStyle
        How they are written.
    kind : str
        ``date``, ``timestamp``, ``month`` (read as its first day), or ``metal_prices`` and ``fx``, whose dates may be
        months without a day: each stands for its last working day.

    Returns
    -------
    Parsed
        Values datetime64[s], NaT where blank or rejected. A time of day without a date stands on 1 January 1970, for
        the row to add its date.
    """
    with_time, month = kind == "timestamp", kind == "month"
    parsed = Parsed.empty(len(cells.raw), "datetime64[s]", np.datetime64("NaT", "s"))
    iso, values, timed = _iso(cells)
    iso = iso & (timed if with_time else ~timed)
    if month:
        iso &= values == values.astype("datetime64[M]")
    parsed.values[iso] = values[iso]
    parsed.state[cells.raw == b""] = BLANK
    rest = np.flatnonzero(~iso & (cells.raw != b""))
    read = {"timestamp": _moment, "month": _month, "date": _date}.get(kind, _price_day)
    for i, text in zip(rest.tolist(), cells.texts(rest), strict=True):
        parsed.put(i, text, lambda clean: read(clean, style.order), style.blanks)
    _within(parsed, style, with_time)
    return parsed


def _within(parsed: Parsed, style: DateStyle, with_time: bool) -> None:
    year = parsed.values.astype("datetime64[Y]").astype(np.int64) + 1970
    fine = (parsed.state != BLANK) & (parsed.state != REJECTED)
    if with_time:
        fine &= parsed.values >= np.datetime64("1970-01-03")
    allowed = f"years {style.first_year} to {LAST_YEAR} are taken"
    parsed.refuse(
        fine & ((year < style.first_year) | (year > LAST_YEAR)), Reason("year", f"the year cannot be right; {allowed}", "correct the date")
    )


def _date(text: str, order: str) -> tuple[Any, Reason | None]:
    text = plain_width(text)
    day, repair = _day(text, order)
    if day is not None:
        return day, repair
    head, _, tail = text.replace("T", " ").rpartition(" ")
    if head and _TIME.fullmatch(tail):
        day, repair = _day(head, order)
        if day is not None:
            return day, Reason("time_dropped", "a time of day was left off the date")
    raise _no_date(text)


def _no_date(text: str) -> Unreadable:
    if text.startswith("#"):
        return Unreadable(
            "spreadsheet_error", "the cell shows a spreadsheet's error", "widen the column or mend the formula and save again"
        )
    return Unreadable("not_a_date", "this is no date in the calendar", "write it as year-month-day, such as 2026-03-09")


def _day(text: str, order: str) -> tuple[np.datetime64 | None, Reason | None]:
    """Read a date in any of the forms known; None when it is none of them."""
    text = _WEEKDAY.sub("", text) if not _NAMED.fullmatch(text) else text
    written = Reason("date_written", "the date was read from another way of writing it")
    if match := _ISO.fullmatch(text):
        return _built(int(match[1]), int(match[2]), int(match[3])), None if "-" in text and len(text) == 10 else written
    if match := _THREE.fullmatch(text):
        one, two, year = int(match[1]), int(match[3]), _year(match[4])
        if order == "ymd" and len(match[4]) == 2:
            return _built(_year(match[1]), two, int(match[4])), written
        month_first = order == "mdy" and match[2] != "."
        return _built(year, *((one, two) if month_first else (two, one))), written
    if match := _NAMED.fullmatch(text):
        month, day = _MONTHS.get(match[2].casefold(), 0), match[1] or match[3]
        return (_built(_year(match[4]), month, int(day)), written) if month and day else (None, None)
    if _SERIAL.fullmatch(text):
        moment = _EPOCH + timedelta(days=int(float(text)))
        return np.datetime64(moment.date(), "s"), Reason("serial", "a spreadsheet's day number was read as a date")
    return None, None


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text) if int(text) < 70 else 1900 + int(text)


def _built(year: int, month: int, day: int) -> np.datetime64 | None:
    try:
        return np.datetime64(date(year, month, day), "s")
    except ValueError:
        return None


def _month(text: str, order: str) -> tuple[Any, Reason | None]:
    text = plain_width(text)
    written = Reason("date_written", "the month was read from another way of writing it")
    if match := _MONTH.fullmatch(text):
        value = _built(int(match[1] or match[4]), int(match[2] or match[3]), 1)
        if value is not None:
            return value, None if match[1] and "-" in text else written
    if (match := _NAMED.fullmatch(text)) and not match[1] and not match[3] and match[2].casefold() in _MONTHS:
        return _built(_year(match[4]), _MONTHS[match[2].casefold()], 1), written
    day, _ = _date(text, order)
    return np.datetime64(day, "M").astype("datetime64[s]"), written


def _price_day(text: str, order: str) -> tuple[Any, Reason | None]:
    """Read a date, or a month as its last working day (Monday to Friday)."""
    named = _NAMED.fullmatch(plain_width(text))
    if not _MONTH.fullmatch(plain_width(text)) and not (named and not named[1] and not named[3] and named[2].casefold() in _MONTHS):
        return _date(text, order)
    after = np.datetime64(_month(text, order)[0], "M") + 1
    day = np.busday_offset(after.astype("datetime64[D]"), -1, roll="forward")
    return day.astype("datetime64[s]"), Reason("month_end", "a month without a day stands for its last working day")


def _moment(text: str, order: str) -> tuple[Any, Reason | None]:
    text = plain_width(text)
    written = Reason("date_written", "the time was read from another way of writing it")
    if match := _TIME.fullmatch(text):
        return np.datetime64("1970-01-01T00:00:00") + _clock(match, text), written
    if re.fullmatch(r"\d{5}\.\d+", text):
        return np.datetime64(_EPOCH, "s") + np.timedelta64(round(float(text) * 1440) * 60, "s"), Reason(
            "serial", "a spreadsheet's day number was read as a time"
        )
    match = re.search(_TIME.pattern + "$", text, re.IGNORECASE)
    day, _ = _day(text[: match.start()].rstrip("T, "), order) if match else _day(text, order)
    if match and day is not None:
        return day + _clock(match, text), written
    if day is not None:
        raise Unreadable("no_time", "the time of day is missing", "write date and time, such as 2026-03-09 08:15")
    raise Unreadable("not_a_time", "this is no date and time", "write it as 2026-03-09 08:15")


def _clock(match: re.Match[str], text: str) -> np.timedelta64:
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    half = (match[4] or "").lower().replace(".", "")
    if minute > 59 or second > 59 or hour > 24 or (half and not 1 <= hour <= 12):
        raise Unreadable("not_a_time", "there is no such time of day", "write it as 08:15")
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    return np.timedelta64(hour * 3600 + minute * 60 + second, "s")

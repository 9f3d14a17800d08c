"""The months a report looks at."""

from __future__ import annotations

from datetime import date, timedelta


def month_start(day: date, back: int = 0) -> date:
    """Return the first day of the month `back` months before that of `day`."""
    months = day.year * 12 + day.month - 1 - back
    return date(months // 12, months % 12 + 1, 1)


def whole_months(as_of: date, months: int) -> tuple[date, date]:
    """Return first and last day of the last `months` whole months up to `as_of`.

    A running month is left out: to 17 November the last whole month is October; to 30 November it is November.
    """
    after = as_of + timedelta(days=1)
    end = month_start(after)
    return month_start(end, months), end - timedelta(days=1)

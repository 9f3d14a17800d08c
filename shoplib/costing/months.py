"""Each month from what its orders earned down to what was left after all pay and overheads.

result = book margin + corrections + cancelled − unbooked pay − overheads. An order's month is that of its delivery;
corrections belong to the month in which they became known. Capital cost is shown below the result.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .calendar import WorkingCalendar
from .labour import Pay, excused_hours
from .loads import available_hours, booked_hours, skills_of
from .order_labour import months_of
from .totals import ratio, total_by

Floats = NDArray[np.float64]
FROM_ORDERS = (
    "fine_g", "price", "metal_billed", "making_charge", "making_margin", "metal_result_move", "metal_result_premium", "metal_result",
    "book_margin", "owner_labour", "capital_cost",
)  # fmt: skip
RATE_MONTHS = 12


def month_names(first: np.datetime64, last: np.datetime64) -> list[str]:
    """Return every month from that of `first` to that of `last` as ``YYYY-MM``."""
    return [str(month) for month in np.arange(first.astype("datetime64[M]"), last.astype("datetime64[M]") + 1)]


def overheads_by_month(overheads: pd.DataFrame, first: np.datetime64, months: int) -> Floats:
    """Return the overheads of each month, money; an item that recurs counts in each of its months.

    Parameters
    ----------
    overheads : DataFrame
        Table `overheads`.
    first : datetime64
        First month.
    months : int
        Number of months; what lies outside is left out.
    """
    start = overheads["month"].fillna(overheads["month_from"]).to_numpy("datetime64[D]")
    stop = overheads["month"].fillna(overheads["month_to"]).to_numpy("datetime64[D]")
    begin = (start.astype("datetime64[M]") - first.astype("datetime64[M]")).astype(np.int64).clip(0, months)
    end = (stop.astype("datetime64[M]") - first.astype("datetime64[M]")).astype(np.int64).clip(-1, months - 1) + 1
    amount = np.where(end > begin, overheads["amount"].to_numpy(), 0.0)
    steps = total_by(begin, amount, months + 1) - total_by(np.maximum(begin, end), amount, months + 1)
    return np.cumsum(steps)[:months]


def unbooked_pay(
    frame: pd.DataFrame, unborne: Floats, calendar: WorkingCalendar, pay: Pay, first: np.datetime64, last: np.datetime64
) -> Floats:
    """Return by month what the bank sees and no order bears: paid hours × cost − booked labour, money.

    Paid hours are own hours − unpaid absence + overtime; owners are left out, their wage is a stand-in's. Work shared by all that
    no order could bear is in it.

    Parameters
    ----------
    frame : DataFrame
        Costed entries; hours not on a card (standard) count as booked.
    unborne : ndarray(float), shape (n_months,)
        Shared work that no order bears, from `order_labour.shared_work`.
    calendar, pay
        Own hours and cost of an hour.
    first, last : datetime64
        First day with an order or an entry, and the last day that counts.
    """
    people, days = calendar.contract_h.shape
    worker, day = frame["worker"].to_numpy(), calendar.day_index(frame["day"].to_numpy("datetime64[D]"))
    hired, known = ~frame["owner"].to_numpy(dtype=bool), worker >= 0
    booked = total_by(np.where(known, worker * days + day, -1), frame["hours"].to_numpy(), people * days).reshape(people, days)
    absent = np.minimum(excused_hours(booked, calendar), calendar.contract_h) * calendar.unpaid
    counted = (calendar.days >= first) & (calendar.days <= last) & ~pay.owner[:-1, None]
    paid = ((calendar.contract_h - absent) * counted * pay.rate[:-1]).sum(axis=0)
    overtime = np.where(hired & known, frame["overtime_h"] * frame["rate"], 0.0)
    labour = np.where(hired & (known | (frame["row"] == 0).to_numpy()), frame["cost"].to_numpy(), 0.0)
    month = months_of(calendar.days, calendar.days[0])
    by_day = paid + total_by(day, overtime - labour, days)
    return total_by(np.where(calendar.days <= last, month, -1), by_day, len(unborne)) + unborne


def normal_hours(frame: pd.DataFrame, calendar: WorkingCalendar, settings: Settings, skill: str | None, months: int) -> Floats:
    """Return for each month the normal hours of the twelve up to it: those available for `skill`, all present ones for None."""
    of_day = months_of(calendar.days, calendar.days[0])
    present = np.array([total_by(np.where(of_day < months, of_day, -1), hours, months) for hours in calendar.present_h]).reshape(-1, months)
    names = skills_of(settings)
    booked = booked_hours(frame, settings, months_of(frame["day"].to_numpy("datetime64[D]"), calendar.days[0]), months)[:-1]
    hours = np.zeros(months)
    for month in range(months):
        year = slice(max(0, month + 1 - RATE_MONTHS), month + 1)
        here = present[:, year].sum(axis=1)
        free = available_hours(settings, here, booked[:, :, year].sum(axis=2))
        hours[month] = free[names.index(skill)] if skill in names else here.sum()
    return hours


def absorption_rates(overheads: Floats, hours: Floats) -> Floats:
    """Return the overhead rate of each month, money an hour: overheads of its twelve months ÷ `normal_hours`."""
    return ratio(np.convolve(overheads, np.ones(RATE_MONTHS))[: len(overheads)], hours)


def month_table(
    delivered: pd.DataFrame,
    cancelled: pd.DataFrame,
    corrections: pd.DataFrame,
    by_month: dict[str, Floats],
    last: np.datetime64,
    names: list[str],
) -> pd.DataFrame:
    """Return every month from margin down to result.

    Parameters
    ----------
    delivered, cancelled : DataFrame
        Costed orders with `absorbing_hours`.
    corrections : DataFrame
        date, amount.
    by_month : dict
        unbooked_pay, overheads and overhead_rate, shape (n_months,).
    last : datetime64
        Last day that counts.
    names : list of str
        Months, from `month_names`.

    Returns
    -------
    DataFrame
        month (``YYYY-MM``), partial (the month runs on), orders, fine_g, price (metal billed included apart), making_charge,
        making_margin, metal_result_move, metal_result_premium, metal_result, book_margin, corrections, unbooked_pay, cancelled,
        overheads_absorbed, overheads, result, capital_cost, owner_labour (the owner's hours at a stand-in's wage, in the margins).
    """
    first, n = np.datetime64(names[0], "M"), len(names)
    month = months_of(delivered["delivered_on"].to_numpy("datetime64[D]"), first)
    table = pd.DataFrame({"month": names, "partial": False, "orders": np.bincount(month, minlength=n)})
    table.loc[n - 1, "partial"] = (last + 1).astype("datetime64[M]") == last.astype("datetime64[M]")
    for name in FROM_ORDERS:
        table[name] = total_by(month, delivered[name].to_numpy(), n)
    known = months_of(corrections["date"].to_numpy("datetime64[D]"), first)
    off = months_of(cancelled["closed_on"].to_numpy("datetime64[D]"), first)
    table["corrections"] = total_by(known, corrections["amount"].to_numpy(), n)
    table["cancelled"] = total_by(off, cancelled["book_margin"].to_numpy(), n)
    table["unbooked_pay"], table["overheads"] = by_month["unbooked_pay"], by_month["overheads"]
    absorbed = total_by(month, delivered["absorbing_hours"].to_numpy(), n) + total_by(off, cancelled["absorbing_hours"].to_numpy(), n)
    table["overheads_absorbed"] = absorbed * by_month["overhead_rate"]
    table["result"] = table["book_margin"] + table["corrections"] + table["cancelled"] - table["unbooked_pay"] - table["overheads"]
    return table

"""The shop month by month: orders in and out, work in process, flow, hours on the bench, promises kept; Little's law.

An order is in process on a day when it was ordered on or before it and neither delivered nor called off by then.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..costing.totals import ratio, total_by
from .entries import Flags, Ints
from .visits import History
from .working_time import Hours, shop_clock

Days = NDArray[np.datetime64]
_FAR_AHEAD = np.datetime64("9999-01-01", "D")


def month_table(history: History, count: int | None = 12) -> pd.DataFrame:
    """Return one row a month: the last `count` whole months (None: all since the first order) and the running one.

    Returns
    -------
    DataFrame
        - month (datetime64, its first day), partial (the month still runs)
        - orders_in, orders_out, cancelled, grams_out (g gross), fine_out_g (g fine by the mark), money_out (price)
        - wip_orders (at the end of the month, or of the last day seen), started_orders (of them, with an entry), wip_mean_orders (mean
          of its days)
        - flow_days_mean, flow_days_p80 (calendar days, delivered orders), touch_hours_mean (hours booked on them)
        - on_time_share (first promise) with n_due, on_time_last_share (last promise) with n_due_last: of the promises that fell due
          in the month, those kept
    """
    months = months_until(history, count)
    table = pd.DataFrame({"month": months.astype("datetime64[s]"), "partial": _partial(history, months)})
    return table.assign(**_moved(history, months), **_in_process(history, months), **_flow(history, months), **_promises(history, months))


def months_until(history: History, count: int | None = 12) -> Days:
    """Return the last `count` whole months and the running one, as datetime64[M]; none before the first order."""
    running = np.datetime64(history.as_of, "M")
    first = history.shop["orders"]["ordered_on"].min()
    earliest = running if pd.isna(first) else np.datetime64(first, "M")
    whole = running if month_runs(history) else running + 1
    begin = earliest if count is None else max(earliest, whole - count)
    return np.arange(min(begin, running), running + 1, dtype="datetime64[M]")


def month_runs(history: History) -> bool:
    """Tell whether a working day of the month of `as_of` is still to come."""
    next_day = history.as_of + timedelta(days=1)
    month_end = (np.datetime64(history.as_of, "M") + 1).astype("datetime64[D]").astype(date) - timedelta(days=1)
    return next_day <= month_end and bool(shop_clock(history.shop.settings.calendar, next_day, month_end).day_h.any())


def _partial(history: History, months: Days) -> Flags:
    partial: Flags = (months == np.datetime64(history.as_of, "M")) & month_runs(history)
    return partial


def _place(days: pd.Series, months: Days) -> Ints:
    """Return the place in `months` of the month of each day, −1 outside."""
    month = days.to_numpy("datetime64[M]")
    place = np.where(np.isnat(month), -1, (month - months[0]).astype(np.int64))
    return np.where((place >= 0) & (place < len(months)), place, -1)


def _moved(history: History, months: Days) -> dict[str, Hours | Ints]:
    orders, many = history.shop["orders"], len(months)
    out, ones = _place(orders["delivered_on"], months), np.ones(len(orders))
    phi = {alloy.code: alloy.phi for alloy in history.shop.settings.alloys}
    weight = orders["finished_weight_g"].to_numpy()
    fine = (weight - orders["not_metal_g"].to_numpy()) * orders["alloy"].map(phi).to_numpy(float)
    return {
        "orders_in": total_by(_place(orders["ordered_on"], months), ones, many).astype(np.int64),
        "orders_out": total_by(out, ones, many).astype(np.int64),
        "cancelled": total_by(_place(orders["cancelled_on"], months), ones, many).astype(np.int64),
        "grams_out": total_by(out, weight, many),
        "fine_out_g": total_by(out, fine, many),
        "money_out": total_by(out, orders["price"].to_numpy(), many),
    }


def _stay(history: History) -> tuple[Days, Days]:
    """Return the first day in process and the first day out of it of each order; far ahead while open."""
    orders = history.shop["orders"]
    begin = orders["ordered_on"].to_numpy("datetime64[D]")
    closed = orders["delivered_on"].fillna(orders["cancelled_on"]).to_numpy("datetime64[D]")
    return begin, np.maximum(begin, np.where(np.isnat(closed), _FAR_AHEAD, closed))


def _ends(history: History, months: Days) -> tuple[Days, Days]:
    """Return the first and the last day seen of each month."""
    last = (months + 1).astype("datetime64[D]") - 1
    return months.astype("datetime64[D]"), np.minimum(last, np.datetime64(history.as_of, "D"))


def _in_process(history: History, months: Days) -> dict[str, Hours | Ints]:
    (begin, end), (first, last) = _stay(history), _ends(history, months)
    started = np.full(len(begin), _FAR_AHEAD)
    entries = history.entries
    np.minimum.at(started, entries["order"].to_numpy(np.int64), entries["day"].to_numpy("datetime64[D]"))
    began = np.minimum(np.maximum(started, begin), end)
    return {
        "wip_orders": _count(begin, last) - _count(end, last),
        "started_orders": _count(began, last) - _count(end, last),
        "wip_mean_orders": days_in_process(begin, end, first, last) / ((last - first).astype(float) + 1.0),
    }


def _count(days: Days, until: Days) -> Ints:
    """Return how many of `days` lie on or before each of `until`."""
    return np.searchsorted(np.sort(days), until, side="right").astype(np.int64)


def days_in_process(begin: Days, end: Days, first: Days, last: Days) -> Hours:
    """Return the order-days in process of each stretch: Σ over orders of the days d with begin ≤ d < end and first ≤ d ≤ last."""
    inside = [_days_before(days, last + 1) - _days_before(days, first) for days in (begin, end)]
    return (inside[0] - inside[1]).astype(np.float64)


def _days_before(days: Days, at: Days) -> NDArray[np.int64]:
    """Return Σ over `days` of max(0, at − day) for each of `at`."""
    numbers = np.sort(days.astype(np.int64))
    place = np.searchsorted(numbers, at.astype(np.int64))
    total = np.concatenate(([0], np.cumsum(numbers)))
    area: NDArray[np.int64] = at.astype(np.int64) * place - total[place]
    return area


def flow_days(history: History) -> Hours:
    """Return delivered_on − ordered_on of each order, calendar days; NaN while open, or where the delivery stands before the order."""
    orders = history.shop["orders"]
    stay = orders["delivered_on"] - orders["ordered_on"]
    days = np.asarray(stay.dt.total_seconds(), dtype=np.float64) / 86400.0
    return np.where(days >= 0, days, np.nan)


def touch_hours(history: History) -> Hours:
    """Return the hours booked on each order; NaN where none are."""
    frame, many = history.booked, len(history.shop["orders"])
    order = np.where(frame["hours"].notna(), frame["order"].to_numpy(np.int64), -1)
    told = total_by(order, np.ones(len(order)), many) > 0
    return np.where(told, total_by(order, frame["hours"].to_numpy(), many), np.nan)


def _flow(history: History, months: Days) -> dict[str, Hours]:
    place = _place(history.shop["orders"]["delivered_on"], months)
    days, hours = flow_days(history), touch_hours(history)
    p80 = np.full(len(months), np.nan)
    for month in np.unique(place[(place >= 0) & ~np.isnan(days)]):
        p80[month] = np.nanquantile(days[place == month], 0.8)
    return {"flow_days_mean": _mean(place, days, len(months)), "flow_days_p80": p80, "touch_hours_mean": _mean(place, hours, len(months))}


def _mean(place: Ints, values: Hours, many: int) -> Hours:
    known = np.where(np.isnan(values), -1, place)
    return ratio(total_by(known, values, many), total_by(known, np.ones(len(values)), many), np.nan)


def _promises(history: History, months: Days) -> dict[str, Hours | Ints]:
    orders = history.shop["orders"]
    first = orders["first_promised_on"].fillna(orders["promised_on"])
    latest = orders["promised_on"].fillna(orders["first_promised_on"])
    share, due = _kept(history, first, months)
    share_last, due_last = _kept(history, latest, months)
    return {"on_time_share": share, "n_due": due, "on_time_last_share": share_last, "n_due_last": due_last}


def _kept(history: History, promise: pd.Series, months: Days) -> tuple[Hours, Ints]:
    """Return the share of the promises that fell due in each month which were kept, and how many fell due."""
    orders = history.shop["orders"]
    called_off = (orders["cancelled_on"] <= promise).to_numpy()
    is_due = (promise <= pd.Timestamp(history.as_of)).to_numpy() & ~called_off
    place = np.where(is_due, _place(promise, months), -1)
    kept = (orders["delivered_on"] <= promise).to_numpy().astype(float)
    due = total_by(place, np.ones(len(kept)), len(months))
    return ratio(total_by(place, kept, len(months)), due, np.nan), due.astype(np.int64)


@dataclass(frozen=True)
class LittlesLaw:
    """Work in process, output and flow of one stretch. Little (1961), Operations Research 9:383.

    Attributes
    ----------
    wip_mean : float
        Orders in process on a mean day.
    out_per_day : float
        Orders delivered a calendar day.
    flow_by_law_days : float
        wip_mean ÷ out_per_day; NaN without a delivery.
    flow_mean_days : float
        Mean flow of the orders delivered.
    gap_days : float
        flow_by_law_days − flow_mean_days: above zero the shop fills up, or old orders are still inside.
    """

    wip_mean: float
    out_per_day: float
    flow_by_law_days: float
    flow_mean_days: float
    gap_days: float


def littles_law(history: History, first: date, last: date) -> LittlesLaw:
    """Return Little's law over the days `first` … `last`, both in."""
    begin, end = _stay(history)
    ends = np.array([first], "datetime64[D]"), np.array([last], "datetime64[D]")
    days = float((last - first).days + 1)
    wip = float(days_in_process(begin, end, *ends)[0]) / days
    delivered = history.shop["orders"]["delivered_on"].between(pd.Timestamp(first), pd.Timestamp(last)).to_numpy()
    out = float(delivered.sum()) / days
    days_inside = flow_days(history)[delivered]
    flow = float(np.nanmean(days_inside)) if np.isfinite(days_inside).any() else float("nan")
    by_law = wip / out if out else float("nan")
    return LittlesLaw(wip, out, by_law, flow, by_law - flow)

"""Holds: stretches in which an order could not be worked on. They are waits of their own, not queues at a bench."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from ..costing.totals import total_by
from .entries import Ints
from .working_time import Hours, Moments, WorkClock

_DAY = np.timedelta64(1, "D")


def hold_stretches(holds: pd.DataFrame, orders: pd.DataFrame, as_of: date) -> pd.DataFrame:
    """Return stretches on hold that do not overlap, by order.

    Parameters
    ----------
    holds, orders : DataFrame
        Accepted tables.
    as_of : date
        End of a hold that still lasts.

    Returns
    -------
    DataFrame
        order (row of `orders`), begin, end (datetime64, the midnight after the last day), why (of the first that overlap).
    """
    order = pd.Index(orders["order_id"].astype(object)).get_indexer(pd.Index(holds["order_id"].astype(object)))
    begin = holds["from"].to_numpy("datetime64[D]")
    last = holds["to"].to_numpy("datetime64[D]")
    end = np.where(np.isnat(last), np.datetime64(as_of, "D"), last) + _DAY
    frame = pd.DataFrame({"order": order, "begin": begin.astype("datetime64[s]"), "end": end.astype("datetime64[s]"), "why": holds["why"]})
    frame = frame[(order >= 0) & (end > begin)].sort_values(["order", "begin"], kind="stable")
    return _joined(frame)


def _joined(frame: pd.DataFrame) -> pd.DataFrame:
    reach = frame.groupby("order", sort=False)["end"].cummax()
    apart = (frame["order"] != frame["order"].shift()) | (frame["begin"] >= reach.shift())
    joined = frame.assign(end=reach).groupby(apart.cumsum(), sort=False)
    return joined.agg(order=("order", "first"), begin=("begin", "first"), end=("end", "last"), why=("why", "first")).reset_index(drop=True)


def waits_held(
    holds: pd.DataFrame, orders: pd.DataFrame, order: Ints, begin: Moments, end: Moments, as_of: date, clock: WorkClock
) -> tuple[Hours, Hours]:
    """Return working hours and calendar days on hold within each wait.

    Parameters
    ----------
    holds, orders : DataFrame
        Accepted tables.
    order : ndarray(int)
        Row of `orders` of each wait.
    begin, end : ndarray(datetime64)
        The wait; a missing begin counts nothing.
    as_of : date
        End of a hold that still lasts.
    clock : WorkClock
        The shop's working time.
    """
    stretches = hold_stretches(holds, orders, as_of)
    waits = pd.DataFrame({"order": order, "wait": np.arange(len(order)), "ready": begin, "start": end})
    pairs = waits[waits["order"].isin(stretches["order"])].merge(stretches, on="order")
    lower = np.maximum(pairs["ready"].to_numpy("datetime64[s]"), pairs["begin"].to_numpy("datetime64[s]"))
    upper = np.minimum(pairs["start"].to_numpy("datetime64[s]"), pairs["end"].to_numpy("datetime64[s]"))
    meets = upper > lower
    wait, lower, upper = pairs["wait"].to_numpy()[meets], lower[meets], upper[meets]
    days = (upper - lower).astype("timedelta64[s]").astype(float) / 86400.0
    return total_by(wait, clock.hours_between(lower, upper), len(order)), total_by(wait, days, len(order))



def holds_by_reason(holds: pd.DataFrame, orders: pd.DataFrame, first: date, last: date) -> pd.DataFrame:
    """Return the time on hold from `first` to `last`, a row a reason, the longest first.

    Returns
    -------
    DataFrame
        why, holds (stretches that touch the period), orders, days (calendar days inside it), open (still on hold in the end).
    """
    stretches = hold_stretches(holds, orders, last)
    begin, end = pd.Timestamp(first), pd.Timestamp(last) + pd.Timedelta(days=1)
    inside = stretches[(stretches["end"] > begin) & (stretches["begin"] < end)]
    span = np.minimum(inside["end"].to_numpy(), end.to_numpy()) - np.maximum(inside["begin"].to_numpy(), begin.to_numpy())
    days = span / np.timedelta64(1, "D")
    grouped = inside.assign(days=days, open=inside["end"] >= end).groupby("why", sort=True)
    table = grouped.agg(holds=("order", "size"), orders=("order", "nunique"), days=("days", "sum"), open=("open", "sum")).reset_index()
    return table.sort_values("days", ascending=False, kind="stable", ignore_index=True)

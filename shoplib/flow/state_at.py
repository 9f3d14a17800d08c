"""Where each open order stood on any past day, told only by what was known then."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from ..intake.shop import Shop
from .entries import Flags
from .holds import hold_stretches
from .queues import usual_next
from .visits import History, history


def state_at(shop: Shop, day: date) -> pd.DataFrame:
    """Return the open orders in the evening of `day`.

    Parameters
    ----------
    shop : Shop
        Whole; rows dated later are left out.
    day : date
        Last day seen.

    Returns
    -------
    DataFrame
        See `open_orders`.
    """
    return open_orders(history(shop, day))


def open_orders(past: History) -> pd.DataFrame:
    """Return where each order stands that is neither delivered nor called off.

    Returns
    -------
    DataFrame
        One row an order, in the sequence of the table:

        - order (row of the orders known by then), order_id, ordered_on, promised_on (NaT without), rush
        - visits (so far), stage_no (of the last visit, −1 before the first), stage, number (visits there)
        - running, worker (at it), hours (spent on the running visit, else 0), hours_so_far (on the order)
        - next_stage_no (where orders usually go from here; −1: to delivery, or running), waiting_since (NaT while running), waiting_h
          (working hours since then)
        - held, held_since, held_why
    """
    orders = past.shop["orders"]
    is_open = (orders["delivered_on"].isna() & orders["cancelled_on"].isna()).to_numpy()
    columns = ["order_id", "ordered_on", "promised_on", "rush"]
    table = orders.loc[is_open, columns].reset_index(drop=True).assign(order=np.flatnonzero(is_open))
    table = table.merge(_last_visits(past), on="order", how="left")
    table = _filled(table)
    table = _waiting(table, past)
    return table.merge(_on_hold(past), on="order", how="left").assign(held=lambda frame: frame["held_since"].notna())


def _last_visits(past: History) -> pd.DataFrame:
    table = past.visits
    last = table.drop_duplicates("order", keep="last")
    last = last[["order", "visit", "stage_no", "stage", "number", "running", "worker", "hours", "last_at"]]
    spent = table.groupby("order")["hours"].sum().rename("hours_so_far")
    return last.rename(columns={"visit": "visits"}).merge(spent, on="order", how="left")


def _filled(table: pd.DataFrame) -> pd.DataFrame:
    none = table["stage_no"].isna().to_numpy()
    counts = {name: table[name].fillna(value).astype(np.int64) for name, value in (("visits", 0), ("stage_no", -1), ("number", 0))}
    running: Flags = np.where(none, False, table["running"]).astype(bool)
    hours = np.where(running, table["hours"].fillna(0.0), 0.0)
    worker = table["worker"].astype(object).where(running, None)
    return table.assign(**counts, running=running, hours=hours, worker=worker, hours_so_far=table["hours_so_far"].fillna(0.0))


def _waiting(table: pd.DataFrame, past: History) -> pd.DataFrame:
    running = table["running"].to_numpy()
    days = table["ordered_on"].to_numpy("datetime64[D]")
    taken = past.clock.moment_in_day(days, np.full(len(days), past.clock.usual_h / 2.0))
    before = table["last_at"].to_numpy("datetime64[s]")
    since = np.where(running, np.datetime64("NaT", "s"), np.where(np.isnat(before), taken, before))
    goes_to = np.where(running, -1, usual_next(past)[table["stage_no"].to_numpy()])
    waited = past.clock.hours_between(since, np.full(len(since), past.now))
    return table.drop(columns="last_at").assign(next_stage_no=goes_to, waiting_since=since, waiting_h=waited)


def _on_hold(past: History) -> pd.DataFrame:
    holds = hold_stretches(past.shop["holds"], past.shop["orders"], past.as_of)
    lasts = holds[holds["end"].to_numpy("datetime64[s]") >= past.now].drop_duplicates("order")
    return lasts[["order", "begin", "why"]].rename(columns={"begin": "held_since", "why": "held_why"})

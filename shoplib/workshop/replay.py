"""Trust: past months simulated from the state at their start, against what happened in them.

Each origin is fitted only on what was known then. A shop's orders share their luck, so that one month proves little: what counts
is how often the 80 % range held over many.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from ..flow.visits import history
from ..intake.as_of import until
from ..intake.shop import Shop
from .arrays import Days, Floats
from .fit import SEED, fitted
from .records import Records
from .replicate import simulate
from .state import state

WHAT = ("orders_out", "orders_in", "wip_end", "flow_days")
MONTHS = 12
REPLICATIONS = 64
DRAWS = 64
LEAST_DAYS = 180
"""Days of records an origin needs before it."""
LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9


def replay(
    shop: Shop, as_of: date, months: int = MONTHS, seed: int = SEED, replications: int = REPLICATIONS, threads: int = 1
) -> pd.DataFrame:
    """Replay the last whole months before `as_of`.

    Parameters
    ----------
    shop : Shop
        Whole; rows dated after `as_of` are left out.
    as_of : date
        Last day seen.
    months : int
        How many months, at most; an origin needs half a year of records before it.
    seed : int
        Seed of fits and runs.
    replications : int
        Of each month.
    threads : int
        Threads of the simulation; the answer does not depend on it.

    Returns
    -------
    DataFrame
        One row a month and measure, by month: month (datetime64), what (orders_out: delivered; orders_in: taken; wip_end: open at the
        end; flow_days: mean days from order to delivery of those delivered, NaN where none was), happened, low, middle, high (P10,
        P50, P90 of the replications), inside (low ≤ happened ≤ high).
    """
    seen = until(shop, as_of)
    rows = []
    for first in origins(seen, as_of, months):
        last = (first + 1).astype("datetime64[D]") - 1
        told = _month(seen, first, last, seed, replications, threads)
        happened = what_happened(seen, first, last)
        for place, what in enumerate(WHAT):
            value = told[:, place][np.isfinite(told[:, place])]
            low, middle, high = np.quantile(value, [LOW, MIDDLE, HIGH]) if len(value) else np.full(3, np.nan)
            rows.append((first, what, happened[place], low, middle, high, bool(low <= happened[place] <= high)))
    table = pd.DataFrame(rows, columns=["month", "what", "happened", "low", "middle", "high", "inside"])
    return table.assign(month=table["month"].to_numpy("datetime64[M]").astype("datetime64[s]"))


def origins(shop: Shop, as_of: date, months: int) -> list[np.datetime64]:
    """Return the last whole months up to `as_of` that have `LEAST_DAYS` of labour before them, oldest first."""
    labour = shop["labour"]
    days = labour["date"].fillna(labour["finish"]).to_numpy("datetime64[D]")
    known = days[~np.isnat(days)]
    if not len(known):
        return []
    end = (np.datetime64(as_of, "D") + 1).astype("datetime64[M]")
    first = (known.min() + LEAST_DAYS).astype("datetime64[M]") + 1
    return list(np.arange(max(end - months, first), end)) if first < end else []


def _month(shop: Shop, first: np.datetime64, last: np.datetime64, seed: int, replications: int, threads: int) -> Floats:
    """Return what the model tells of a month on the eve of it, shape (R, 4)."""
    eve: date = (first.astype("datetime64[D]") - 1).astype(object)
    known = until(shop, eve)
    past = history(known, eve)
    workshop = fitted(known, eve, seed, DRAWS, past).workshop
    days = int((last - first.astype("datetime64[D]")).astype(np.int64)) + 1
    records = simulate(
        workshop, state(known, workshop, eve, past), horizon_days=days, seed=seed, replications=replications, threads=threads
    )
    return measured(records)


def measured(records: Records) -> Floats:
    """Return orders delivered, taken, open at the end and mean days of flow of those delivered, by replication, shape (R, 4)."""
    cards, horizon = records.cards, records.horizon_days
    out = cards["delivered"] < horizon
    came = (records.number >= records.n_open) & records.taken & (cards["arrival"] < horizon)
    open_since = (records.state.ordered_on.astype("datetime64[D]") - records.start_on).astype(float)
    is_open = records.number < records.n_open
    ordered = np.floor(cards["arrival"])
    ordered[is_open] = open_since[records.number[is_open]]
    count = np.bincount(records.replication[out], minlength=records.replications)
    total = np.bincount(records.replication[out], (np.floor(cards["delivered"]) - ordered)[out], minlength=records.replications)
    flow = np.divide(total, count, out=np.full(len(count), np.nan), where=count > 0)
    return np.column_stack([count, np.bincount(records.replication[came], minlength=records.replications), records.wip()[:, -1], flow])


def what_happened(shop: Shop, first: np.datetime64, last: np.datetime64) -> Floats:
    """Return the same four figures as the tables tell them for the days from `first` to `last`."""
    orders = shop["orders"]
    ordered, delivered = (orders[name].to_numpy("datetime64[D]") for name in ("ordered_on", "delivered_on"))
    closed = orders["delivered_on"].fillna(orders["cancelled_on"]).to_numpy("datetime64[D]")
    begin = first.astype("datetime64[D]")
    out = _within(delivered, begin, last)
    flow = (delivered - ordered).astype(np.int64)[out]
    still = (ordered <= last) & ~(closed <= last)
    return np.array([out.sum(), _within(ordered, begin, last).sum(), still.sum(), flow.mean() if len(flow) else np.nan], dtype=float)


def _within(days: Days, first: np.datetime64, last: np.datetime64) -> np.ndarray:
    return np.asarray((days >= first) & (days <= last))

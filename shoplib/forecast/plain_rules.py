"""Three plain rules for when an order will be delivered: what a careful owner does without a model.

* ``recent``: the 50, 80 and 95 % points of the last twenty flow times, less the order's age, never before tomorrow;
* ``recent_by_load``: the same, times orders open now ÷ mean of orders open when those twenty were ordered;
* ``promised``: the date promised, for all three levels.

A forecast is a table with one row an order asked about: order_id and q50, q80, q95 in calendar days after the origin.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

LEVELS = (0.50, 0.80, 0.95)
QUANTILES = ("q50", "q80", "q95")
RECENT = 20
SILENT_DAYS = 183
Days = NDArray[np.datetime64]
Rule = Callable[[pd.DataFrame, np.datetime64, pd.DataFrame], pd.DataFrame]
"""Takes the orders known at an origin, the origin and the orders asked about."""


def days_of(dates: pd.Series) -> Days:
    """Return dates as datetime64[D]; missing stays NaT."""
    return dates.to_numpy().astype("datetime64[D]")


def day_count(later: Days, earlier: Days | np.datetime64) -> NDArray[np.float64]:
    """Return calendar days between, NaN where either is missing."""
    gap = later - earlier
    return np.where(np.isnat(gap), np.nan, gap.astype(np.float64))


def record_begins(ordered_on: Days) -> np.datetime64:
    """Return the day of the first order since the last half year without any.

    An order left open from years ago is thereby no history; `ordered_on` has one day at least and no NaT.
    """
    days = np.unique(ordered_on)
    silent = np.flatnonzero(np.diff(days).astype(np.int64) > SILENT_DAYS)
    begins: np.datetime64 = days[silent[-1] + 1 if len(silent) else 0]
    return begins


def open_on(orders: pd.DataFrame, days: Days) -> NDArray[np.int64]:
    """Return how many orders were open at the end of each of `days`.

    Parameters
    ----------
    orders : DataFrame
        Columns ordered_on, delivered_on, cancelled_on.
    days : ndarray(datetime64[D], ndim=1)
        Days asked about.
    """
    began = np.sort(days_of(orders["ordered_on"]))
    delivered, cancelled = days_of(orders["delivered_on"]), days_of(orders["cancelled_on"])
    ended = np.fmin(delivered, cancelled)
    ended = np.sort(ended[~np.isnat(ended)])
    return np.asarray(np.searchsorted(began, days, "right") - np.searchsorted(ended, days, "right"), dtype=np.int64)


def recent(orders: pd.DataFrame, origin: np.datetime64, asked: pd.DataFrame) -> pd.DataFrame:
    """Forecast from the last twenty flow times known at `origin`.

    Parameters
    ----------
    orders : DataFrame
        Orders as known at the origin: ordered_on, delivered_on, cancelled_on.
    origin : datetime64[D]
        Day on which the forecast is made.
    asked : DataFrame
        Orders asked about: order_id, ordered_on (on or before the origin when open, after it when new).

    Returns
    -------
    DataFrame
        order_id, q50, q80, q95; NaN when nothing has been delivered yet.
    """
    return _from_flows(_last_flows(orders, origin)[0], origin, asked)


def recent_by_load(orders: pd.DataFrame, origin: np.datetime64, asked: pd.DataFrame) -> pd.DataFrame:
    """Forecast as `recent`, scaled by the orders open now against those open when the twenty were ordered."""
    flows, began = _last_flows(orders, origin)
    then = open_on(orders, began).mean() if len(began) else np.nan
    now = open_on(orders, np.array([origin]))[0]
    return _from_flows(flows * (now / then if then > 0 else 1.0), origin, asked)


def promised(orders: pd.DataFrame, origin: np.datetime64, asked: pd.DataFrame) -> pd.DataFrame:
    """Forecast the first promise for every level, not before tomorrow; NaN without one. `asked` has first_promised_on and promised_on."""
    first, last = days_of(asked["first_promised_on"]), days_of(asked["promised_on"])
    days = day_count(np.where(np.isnat(first), last, first), origin)
    days = np.where(np.isnan(days), np.nan, np.maximum(days, 1.0))
    return pd.DataFrame({"order_id": asked["order_id"].to_numpy(), **dict.fromkeys(QUANTILES, days)})


def _last_flows(orders: pd.DataFrame, origin: np.datetime64) -> tuple[NDArray[np.float64], Days]:
    delivered = days_of(orders["delivered_on"])
    known = np.flatnonzero(~np.isnat(delivered) & (delivered <= origin))
    last = known[np.argsort(delivered[known], kind="stable")][-RECENT:]
    began = days_of(orders["ordered_on"])[last]
    return day_count(delivered[last], began), began


def _from_flows(flows: NDArray[np.float64], origin: np.datetime64, asked: pd.DataFrame) -> pd.DataFrame:
    points = np.quantile(flows, LEVELS, method="inverted_cdf") if len(flows) else np.full(3, np.nan)
    age = day_count(np.full(len(asked), origin), days_of(asked["ordered_on"]))
    days = np.maximum(points[None, :] - age[:, None], 1.0)
    return pd.DataFrame({"order_id": asked["order_id"].to_numpy(), **dict(zip(QUANTILES, days.T, strict=True))})


RULES: dict[str, Rule] = {
    "recent": recent,
    "recent_by_load": recent_by_load,
    "promised": promised,
}
"""The plain rules by the name they bear in the backtest."""

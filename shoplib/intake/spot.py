"""Spot from the two price tables, by day, in shop currency per gram fine."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from ..units import GRAMS_PER

Days = NDArray[np.datetime64]


def spot_table(
    prices: pd.DataFrame, fx: pd.DataFrame, metal: str, currency: str, inverse: bool = False
) -> tuple[Days, NDArray[np.float64]]:
    """Return the days of `metal`'s prices and the prices per gram fine, sorted, the last of a day only.

    Parameters
    ----------
    prices, fx : DataFrame
        Tables ``metal_prices`` and ``fx``.
    metal : str
        Gold, silver, platinum or palladium.
    currency : str
        The shop's.
    inverse : bool
        Whether `fx` quotes foreign currency for one unit of the shop's.

    Returns
    -------
    days : ndarray of datetime64[D]
    per_g : ndarray of float
        Shop currency; NaN where no rate of exchange is known.
    """
    rows = prices[(prices["metal"] == metal).to_numpy()]
    days = rows["date"].to_numpy("datetime64[D]")
    per_g = rows["price"].to_numpy(np.float64) / rows["per"].map(GRAMS_PER).to_numpy(np.float64)
    foreign = rows["currency"].to_numpy(object)
    for code in pd.unique(foreign[foreign != currency]):
        there = foreign == code
        per_g[there] *= rate_on(fx, str(code), days[there], inverse)
    order = np.argsort(days, kind="stable")
    days, per_g = days[order], per_g[order]
    last = np.append(days[1:] != days[:-1], True) if len(days) else np.zeros(0, dtype=np.bool_)
    return days[last], per_g[last]


def spot_on_days(prices: pd.DataFrame, fx: pd.DataFrame, metal: str, settings: Settings, days: Days) -> NDArray[np.float64]:
    """Return spot of `metal` on each of `days`: the last price on or before, before the first price the first; NaN without prices."""
    return last_on(*spot_table(prices, fx, metal, settings.shop.currency, settings.formats.fx.inverse), days)


def rate_on(fx: pd.DataFrame, currency: str, days: Days, inverse: bool = False) -> NDArray[np.float64]:
    """Return shop currency for one unit of `currency` on each of `days`: the last rate on or before, else the first."""
    rows = fx[(fx["currency"] == currency).to_numpy()].sort_values("date", kind="stable")
    rates = last_on(rows["date"].to_numpy("datetime64[D]"), rows["rate"].to_numpy(np.float64), days)
    return 1.0 / rates if inverse else rates


def last_on(known: Days, values: NDArray[np.float64], days: Days) -> NDArray[np.float64]:
    """Return the last of `values` on or before each of `days`; before the first the first; NaN for NaT and without values."""
    if not len(known):
        return np.full(len(days), np.nan)
    at = np.maximum(np.searchsorted(known, days, side="right") - 1, 0)
    return np.where(np.isnat(days), np.nan, values[np.minimum(at, len(values) - 1)])


def cadence(days: Days) -> str:
    """Return ``daily``, ``weekly`` or ``monthly``, told by the usual step between two prices."""
    step = float(np.median(np.diff(days).astype(np.int64))) if len(days) > 1 else 1.0
    return "daily" if step <= 4 else "weekly" if step <= 10 else "monthly"


def gaps(days: Days) -> int:
    """Return how many working days (Monday to Friday) between first and last price have none, in a daily table."""
    if len(days) < 2 or cadence(days) != "daily":
        return 0
    return int(np.busday_count(days[0], days[-1] + 1)) - int(np.is_busday(days).sum())

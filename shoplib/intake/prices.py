"""Spot S(t): the last price on or before a day, in shop currency per gram fine.

A price table may be daily, weekly or monthly, in any currency for which `fx` has rates and per ounce, gram or
kilogram; between two prices the earlier one stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..units import GRAMS_PER
from .shop import Shop

Days = NDArray[np.datetime64]


def spot_table(prices: pd.DataFrame, fx: pd.DataFrame, metal: str, currency: str, inverse: bool = False) -> tuple[Days, NDArray[np.float64]]:
    """Return the days of `metal`'s prices and the prices in `currency` per gram fine, sorted, the last of a day only.

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
        NaN where no rate of exchange is known.
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


def rate_on(fx: pd.DataFrame, currency: str, days: Days, inverse: bool = False) -> NDArray[np.float64]:
    """Return shop currency for one unit of `currency` on each of `days`: the last rate on or before, else the first."""
    rows = fx[(fx["currency"] == currency).to_numpy()].sort_values("date", kind="stable")
    rates = _last_on(rows["date"].to_numpy("datetime64[D]"), rows["rate"].to_numpy(np.float64), days)
    return 1.0 / rates if inverse else rates


def _last_on(known: Days, values: NDArray[np.float64], days: Days) -> NDArray[np.float64]:
    """Return the last of `values` on or before each of `days`; before the first the first, NaT and no values NaN."""
    if not len(known):
        return np.full(len(days), np.nan)
    at = np.maximum(np.searchsorted(known, days, side="right") - 1, 0)
    return np.where(np.isnat(days), np.nan, values[at])


def spot_on(shop: Shop, metal: str, days: Any) -> NDArray[np.float64]:
    """Return spot of `metal` on each of `days`.

    Parameters
    ----------
    shop : Shop
        The shop.
    metal : str
        Gold, silver, platinum or palladium.
    days : array-like of dates, or one date
        NaT gives NaN.

    Returns
    -------
    ndarray of float
        Shop currency per gram fine. Before the first price the first price stands in (`load` says for how many
        orders); NaN for a metal without prices.
    """
    wanted = np.atleast_1d(days.to_numpy("datetime64[D]") if isinstance(days, (pd.Series, pd.Index)) else np.asarray(days, "datetime64[D]"))
    return _last_on(*_table(shop, metal), wanted)


def spot_series(shop: Shop, metal: str) -> pd.Series:
    """Return spot of `metal` for every calendar day from its first to its last price, carried forward.

    Returns
    -------
    Series of float
        Shop currency per gram fine, index daily datetime64, name `metal`; empty for a metal without prices.
    """
    days, per_g = _table(shop, metal)
    if not len(days):
        return pd.Series(dtype="float64", index=pd.DatetimeIndex([], name="date"), name=metal)
    every = np.arange(days[0], days[-1] + 1)
    index = pd.DatetimeIndex(every.astype("datetime64[s]"), name="date")
    return pd.Series(_last_on(days, per_g, every), index=index, name=metal)


def price_days(shop: Shop, metal: str) -> Days:
    """Return the days on which `metal` has a price of its own, not carried forward."""
    return _table(shop, metal)[0]


def priced_metals(shop: Shop) -> Mapping[str, int]:
    """Return the metals that have prices and how many each has."""
    return {str(metal): int(count) for metal, count in shop["metal_prices"]["metal"].value_counts().sort_index().items()}


def _table(shop: Shop, metal: str) -> tuple[Days, NDArray[np.float64]]:
    settings = shop.settings
    return spot_table(shop["metal_prices"], shop["fx"], metal, settings.shop.currency, settings.formats.fx.inverse)


def cadence(days: Days) -> str:
    """Return ``daily``, ``weekly`` or ``monthly``, told by the usual step between two prices."""
    step = float(np.median(np.diff(days).astype(np.int64))) if len(days) > 1 else 1.0
    return "daily" if step <= 4 else "weekly" if step <= 10 else "monthly"


def gaps(days: Days) -> int:
    """Return how many working days (Monday to Friday) between first and last price have none, in a daily table."""
    if len(days) < 2 or cadence(days) != "daily":
        return 0
    return int(np.busday_count(days[0], days[-1] + 1)) - int(np.is_busday(days).sum())

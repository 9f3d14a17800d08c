"""Spot S(t): the last price on or before a day, in shop currency per gram fine.

A price table may be daily, weekly or monthly, in any currency for which `fx` has rates and per ounce, gram or
kilogram; between two prices the earlier one stands.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from .shop import Shop
from .spot import Days, last_on, spot_table


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
    wanted = days.to_numpy("datetime64[D]") if isinstance(days, (pd.Series, pd.Index)) else np.asarray(days, "datetime64[D]")
    return last_on(*_table(shop, metal), np.atleast_1d(wanted))


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
    return pd.Series(last_on(days, per_g, every), index=index, name=metal)


def price_days(shop: Shop, metal: str) -> Days:
    """Return the days on which `metal` has a price of its own, not carried forward."""
    return _table(shop, metal)[0]


def priced_metals(shop: Shop) -> dict[str, int]:
    """Return the metals that have prices and how many each has."""
    return {str(metal): int(count) for metal, count in shop["metal_prices"]["metal"].value_counts().sort_index().items()}


def _table(shop: Shop, metal: str) -> tuple[Days, NDArray[np.float64]]:
    return spot_table(shop["metal_prices"], shop["fx"], metal, shop.settings.shop.currency, shop.settings.formats.fx.inverse)

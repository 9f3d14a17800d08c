"""Spot of every metal on any day, in shop currency per g fine: the last price on or before the day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..intake.shop import Shop
from ..units import GRAMS_PER

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]


@dataclass(frozen=True)
class Spot:
    """Daily prices of each metal.

    Attributes
    ----------
    days : mapping of str to ndarray(datetime64[D])
        Days with a price, ascending.
    prices : mapping of str to ndarray(float)
        Shop currency per g fine on those days.
    """

    days: Mapping[str, Days]
    prices: Mapping[str, Floats]

    def on(self, metal: str, days: Days) -> Floats:
        """Return the spot of one metal on each day; before its first price that first price, NaN without any price or day."""
        given = np.asarray(days, dtype="datetime64[D]")
        if metal not in self.days or not len(self.days[metal]):
            return np.full(given.shape, np.nan)
        place = np.maximum(np.searchsorted(self.days[metal], given, side="right") - 1, 0)
        return np.where(np.isnat(given), np.nan, self.prices[metal][place])

    def of(self, metals: NDArray[np.object_], days: Days) -> Floats:
        """Return the spot of each row's own metal on its day; NaN where a row has no metal."""
        spot = np.full(len(metals), np.nan)
        for metal in self.days:
            rows = metals == metal
            spot[rows] = self.on(metal, days[rows])
        return spot


def spot_of(shop: Shop) -> Spot:
    """Return the spot prices of table `metal_prices`, which is in shop currency."""
    table = shop["metal_prices"].sort_values(["date", "row"], kind="stable").drop_duplicates(["metal", "date"], keep="last")
    per_g = table["price"].to_numpy() / table["per"].map(GRAMS_PER).to_numpy(dtype=float)
    parts = {str(metal): np.flatnonzero((table["metal"] == metal).to_numpy()) for metal in pd.unique(table["metal"])}
    days = table["date"].to_numpy("datetime64[D]")
    return Spot({metal: days[rows] for metal, rows in parts.items()}, {metal: per_g[rows] for metal, rows in parts.items()})

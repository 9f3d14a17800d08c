"""Spot of every metal on any day, in shop currency per g fine: the last price on or before the day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..intake.prices import priced_metals, spot_series
from ..intake.shop import Shop

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
        prices: Floats = np.where(np.isnat(given), np.nan, self.prices[metal][place])
        return prices

    def of(self, metals: NDArray[np.object_], days: Days) -> Floats:
        """Return the spot of each row's own metal on its day; NaN where a row has no metal."""
        spot = np.full(len(metals), np.nan)
        for metal in self.days:
            rows = metals == metal
            spot[rows] = self.on(metal, days[rows])
        return spot


def spot_of(shop: Shop) -> Spot:
    """Return the spot prices of every metal that has any, in shop currency."""
    series = {metal: spot_series(shop, metal) for metal in priced_metals(shop)}
    days = {metal: prices.index.to_numpy("datetime64[D]") for metal, prices in series.items()}
    return Spot(days, {metal: prices.to_numpy(np.float64) for metal, prices in series.items()})

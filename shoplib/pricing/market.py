"""Spot as prices see it: with the supplier's premium, on any day, and what moved it: the metal, or the currency it is quoted in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..costing.spot import Spot, spot_of
from ..intake.prices import price_days
from ..intake.shop import Shop
from ..intake.spot import cadence, rate_on
from ..units import METALS

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]


@dataclass(frozen=True)
class Market:
    """What metal costs.

    Attributes
    ----------
    metals : tuple of str
        Metals of the shop's alloys, M of them.
    as_of : datetime64[D]
        Today.
    spot : Spot
        Daily prices, shop currency per g fine.
    premium : float
        Supplier's premium over spot, share of one.
    """

    metals: tuple[str, ...]
    as_of: np.datetime64
    spot: Spot
    premium: float

    @property
    def now(self) -> Floats:
        """Spot of today, money per g fine, shape (M,); NaN for a metal without prices."""
        return np.asarray(self.on(np.array([self.as_of]))[0])

    def on(self, days: Days) -> Floats:
        """Return spot on each day, money per g fine, shape (n_days, M)."""
        columns = [self.spot.on(metal, days) for metal in self.metals]
        return np.column_stack(columns) if columns else np.zeros((len(days), 0))

    def place(self, metal: str) -> int:
        """Return the position of a metal."""
        return self.metals.index(metal)


def market_of(shop: Shop, as_of: np.datetime64) -> Market:
    """Return the market of a shop on a day; prices dated later are not looked at because every day asked for is at most `as_of`."""
    used = {metal for alloy in shop.settings.alloys for metal in (alloy.metal, *alloy.parts)}
    return Market(
        tuple(metal for metal in METALS if metal in used), as_of, spot_of(shop), shop.settings.policy.metal_premium_percent / 100.0
    )


def quoted_in(shop: Shop, metal: str, as_of: np.datetime64) -> str:
    """Return the currency in which the last price of a metal was given."""
    rows = shop["metal_prices"]
    rows = rows[(rows["metal"] == metal).to_numpy() & (rows["date"].to_numpy("datetime64[D]") <= as_of)].sort_values("date", kind="stable")
    return str(rows["currency"].iloc[-1]) if len(rows) else shop.settings.shop.currency


def moves(shop: Shop, market: Market, struck: Days) -> pd.DataFrame:
    """Return how each metal moved since each day a price was struck, and whether the metal did it or the currency.

    Parameters
    ----------
    shop : Shop
        Rates of exchange and the currency of its prices.
    market : Market
        Spot.
    struck : ndarray(datetime64[D])
        Days on which prices were struck.

    Returns
    -------
    DataFrame
        metal, struck_on, currency (of the price table), spot_when_struck, spot_now (shop currency per g fine), change_share,
        from_metal_share (in its own currency), from_currency_share; (1 + from_metal)(1 + from_currency) = 1 + change.
    """
    days, own, rows = np.unique(struck[~np.isnat(struck)]), shop.settings.shop.currency, []
    inverse, today = shop.settings.formats.fx.inverse, np.array([market.as_of])
    for k, metal in enumerate(market.metals):
        then, now, currency = market.on(days)[:, k], market.now[k], quoted_in(shop, metal, market.as_of)
        first = price_days(shop, metal)[:1]
        told = np.maximum(days, first[0]) if len(first) else days
        rate_then = np.ones(len(days)) if currency == own else rate_on(shop["fx"], currency, told, inverse)
        rate_now = 1.0 if currency == own else float(rate_on(shop["fx"], currency, today, inverse)[0])
        by_rate = rate_now / rate_then
        rows.append(pd.DataFrame({
            "metal": metal, "struck_on": days.astype("datetime64[s]"), "currency": currency, "spot_when_struck": then, "spot_now": now,
            "change_share": now / then - 1.0, "from_metal_share": now / then / by_rate - 1.0, "from_currency_share": by_rate - 1.0,
        }))  # fmt: skip
    names = ("metal", "struck_on", "currency", "spot_when_struck", "spot_now", "change_share", "from_metal_share", "from_currency_share")
    return pd.concat(rows, ignore_index=True) if rows else pd.DataFrame(columns=list(names))


def struck_prices(shop: Shop, metal: str, as_of: np.datetime64) -> tuple[Days, Floats, str]:
    """Return the days up to `as_of` with a price of their own, those prices (shop currency per g fine), and how often they come.

    How often is ``daily``, ``weekly`` or ``monthly``.
    """
    days = price_days(shop, metal)
    days = days[days <= as_of]
    prices = spot_of(shop).on(metal, days) if len(days) else np.zeros(0)
    return days, prices, cadence(days)

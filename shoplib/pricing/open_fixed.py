"""Open orders at a fixed price: what spot does to them, and what deposit would have covered their metal.

uncovered g = needed g − own g         needed = φm (W + L), own = metal in hand for it, owned and priced
break-even spot = (price − own g × book cost − other costs) ÷ uncovered g
making margin at spot = price − needed g × spot − other costs
deposit that covers = uncovered g × spot when its price was struck
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from .market import Floats

NOTHING_G = 5e-4


@dataclass(frozen=True)
class FixedOrders:
    """Open orders at a fixed price, n of them; metal is the alloy's own.

    Attributes
    ----------
    price : ndarray(float)
        Money.
    needed_g, own_g : ndarray(float)
        Fine grams it takes, loss included, and those in hand for it, owned and priced.
    own_cost_per_g : ndarray(float)
        What the grams in hand cost, money per g fine.
    other_costs : ndarray(float)
        Labour done and to come, other metals, findings, outwork, stones, money.
    fix_price_per_g : ndarray(float)
        Metal price at which it was struck, money per g fine.
    """

    price: Floats
    needed_g: Floats
    own_g: Floats
    own_cost_per_g: Floats
    other_costs: Floats
    fix_price_per_g: Floats

    @property
    def uncovered_g(self) -> Floats:
        """Fine grams sold but not in hand."""
        short = self.needed_g - self.own_g
        return np.asarray(np.where(short > NOTHING_G, short, 0.0))

    @property
    def breakeven_spot(self) -> Floats:
        """Spot at which the order earns nothing if the rest is bought then; NaN when it is covered."""
        grams = self.uncovered_g
        left = self.price - np.minimum(self.own_g, self.needed_g) * self.own_cost_per_g - self.other_costs
        return np.asarray(np.divide(left, grams, out=np.full(len(grams), np.nan), where=grams > 0))

    def making_margin_at(self, spot: float | Floats) -> Floats:
        """Return the making margin with all metal, the own too, at `spot`."""
        return np.asarray(self.price - self.needed_g * spot - self.other_costs)

    def book_margin_at(self, spot: float | Floats) -> Floats:
        """Return what is left if the uncovered grams are bought at `spot` and the own ones count as they cost."""
        own = np.minimum(self.own_g, self.needed_g) * self.own_cost_per_g
        return np.asarray(self.price - own - self.uncovered_g * spot - self.other_costs)

    def money_per_percent(self, spot: float | Floats) -> Floats:
        """Return what 1 % on spot brings, money: negative, since uncovered grams are still to be bought."""
        return np.asarray(-self.uncovered_g * spot / 100.0)

    @property
    def deposit_that_covers(self) -> Floats:
        """Deposit that would have bought the uncovered grams when the price was struck, money."""
        return self.uncovered_g * self.fix_price_per_g


def allocate(needed_g: Floats, issued_g: Floats, stock_g: float) -> Floats:
    """Return the grams in hand for each order: its own issued metal first, then stock in the order given.

    Parameters
    ----------
    needed_g, issued_g : ndarray(float), shape (n,)
        Fine grams; orders in the order in which they were placed.
    stock_g : float
        Fine grams in the house that are owned, priced and not in any of these orders.
    """
    own = np.minimum(issued_g, needed_g)
    free = max(0.0, stock_g) + float((issued_g - own).sum())
    asked = needed_g - own
    before = np.concatenate([[0.0], np.cumsum(asked)[:-1]]) if len(asked) else asked
    return np.asarray(own + np.clip(free - before, 0.0, asked))


def open_fixed_table(ids: pd.Series, metal: pd.Series, orders: FixedOrders, spot: Floats) -> pd.DataFrame:
    """Return one row an open order at a fixed price.

    Returns
    -------
    DataFrame
        order_id, metal, price, fine_g_needed, fine_g_uncovered, breakeven_spot (NaN: covered), spot_now, making_margin_at_spot,
        deposit_that_covers, money_per_percent, other_costs.
    """
    return pd.DataFrame({
        "order_id": ids.to_numpy(object), "metal": metal.to_numpy(object), "price": orders.price, "fine_g_needed": orders.needed_g,
        "fine_g_uncovered": orders.uncovered_g, "breakeven_spot": orders.breakeven_spot, "spot_now": spot,
        "making_margin_at_spot": orders.making_margin_at(spot), "deposit_that_covers": orders.deposit_that_covers,
        "money_per_percent": orders.money_per_percent(spot), "other_costs": orders.other_costs,
    }).sort_values("order_id", ignore_index=True)  # fmt: skip

"""What a pool of metal is told, what it holds beside the safe, and what it finds out about each order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .stock import NOTHING_G, Worth

Floats = NDArray[np.float64]


class Event(NamedTuple):
    """One thing that happens to the metal.

    `day` is an ordinal of datetime64[D], `order` a row of the orders or −1, `fine_g` the grams moved (an order's true-up
    may be negative), `filings_g` the grams expected back as filings, `customers_g` what it adds to the customers' grams in the
    safe, `money` the money of the row (NaN where blank; of a true-up what the order is charged with, where that is not
    its cost), `unpriced_g` the grams of a count without a cost, `spot` that of the day.
    """

    kind: str
    day: int
    order: int
    fine_g: float
    filings_g: float
    customers_g: float
    money: float
    unpriced_g: float
    spot: float
    lot: str


@dataclass
class Held:
    """Grams and their worth on an account beside the pool."""

    grams: float = 0.0
    worth: Worth = Worth(0.0, 0.0)

    def add(self, grams: float, worth: Worth) -> None:
        """Add grams with their worth."""
        self.grams, self.worth = self.grams + grams, Worth(self.worth.cost + worth.cost, self.worth.spot + worth.spot)

    def per_g(self, otherwise: Worth) -> Worth:
        """Return the worth of a gram, `otherwise` when empty."""
        return self.worth.times(1.0 / self.grams) if abs(self.grams) > NOTHING_G else otherwise

    def clear(self) -> None:
        """Empty the account."""
        self.grams, self.worth = 0.0, Worth(0.0, 0.0)


@dataclass
class OrdersMetal:
    """What the walk found out for each order: worth of a gram at issue, borrowed share then, and book metal in money."""

    cost_per_g: Floats
    spot_per_g: Floats
    borrowed_share: Floats
    book: Floats

    @classmethod
    def empty(cls, n_orders: int) -> OrdersMetal:
        """Return arrays for `n_orders` orders that have not taken metal."""
        return cls(np.full(n_orders, np.nan), np.full(n_orders, np.nan), np.zeros(n_orders), np.zeros(n_orders))

    def take_over(self, other: OrdersMetal, rows: NDArray[np.bool_]) -> None:
        """Take the rows marked from another walk."""
        for name in ("cost_per_g", "spot_per_g", "borrowed_share", "book"):
            getattr(self, name)[rows] = getattr(other, name)[rows]

"""Delivery lag: calendar days from the end of an order's last visit to its delivery, by the weekday of that end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..costing.calendar import weekday_of
from ..intake.shop import Finding
from .arrays import Days, Integers
from .cards import Cards

FEW = 10
"""A weekday with fewer deliveries borrows those of all weekdays."""
RECENT_DAYS = 730
"""Deliveries of the last two years tell of today's habits."""
LONGEST_DAYS = 120
"""Longer lags (a piece the customer did not fetch) count as so many days."""


@dataclass(frozen=True)
class DeliveryLag:
    """Past lags sorted by weekday: weekday w owns positions from_[w] … from_[w + 1] − 1."""

    days: Integers
    from_: Integers
    findings: tuple[Finding, ...]

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of `Workshop` this part fills."""
        return {"delivery_lag_days": self.days, "delivery_lag_from": self.from_}


def deliveries(cards: Cards) -> tuple[Days, Days]:
    """Return the day of the end of the last visit and of the delivery of each delivered order of the last two years."""
    orders, table = cards.past.shop["orders"], cards.table
    last = table.drop_duplicates("order", keep="last")
    place = last["order"].to_numpy(np.int64)
    delivered = orders["delivered_on"].to_numpy("datetime64[D]")[place]
    recent = ~np.isnat(delivered) & ((np.datetime64(cards.past.as_of, "D") - delivered).astype(np.int64) < RECENT_DAYS)
    return last["last_at"].to_numpy("datetime64[D]")[recent], delivered[recent]


def fit_delivery_lag(ended_on: Days, delivered_on: Days) -> DeliveryLag:
    """Collect the lags of delivered orders.

    Parameters
    ----------
    ended_on, delivered_on : Days, shape (n,)
        Day of the end of the last visit and of delivery of each delivered order with work on it.
    """
    lag = np.clip((delivered_on - ended_on).astype(np.int64), 0, LONGEST_DAYS)
    if not len(lag):
        text = "No delivered order has work on its card: orders are taken to go out on the day they are finished."
        return DeliveryLag(
            np.zeros(0, np.int64), np.zeros(8, np.int64), (Finding("note", "delivery_lag_assumed", text, "orders.delivered_on"),)
        )
    weekday = weekday_of(ended_on)
    by_day = [np.sort(lag[weekday == w]) if np.sum(weekday == w) >= FEW else np.sort(lag) for w in range(7)]
    return DeliveryLag(np.concatenate(by_day), np.concatenate([[0], np.cumsum([len(one) for one in by_day])]).astype(np.int64), ())

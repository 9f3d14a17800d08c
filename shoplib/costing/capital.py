"""Cost of the capital that lies in an order: its metal at spot less the deposit, from issue to payment."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Policy
from .spot import Spot

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]
DAYS_A_YEAR = 365.0


def capital_cost(
    table: pd.DataFrame, held_g: Floats, borrowed: Floats, paid_on: Days, spot: Spot, as_of: np.datetime64, policy: Policy
) -> Floats:
    """Return the cost of capital of each order, money.

    Sum over the days from issue to payment of (fine grams in process and filings × spot − deposit, not below 0) × rate ÷ 365.

    Parameters
    ----------
    table : DataFrame
        Orders with issued_on, closed_on, metal, deposit.
    held_g : ndarray(float)
        The shop's g fine in the order, gross loss included; customers' metal is 0.
    borrowed : ndarray(float)
        Share of the metal that was borrowed when it was issued; it costs the lender's rate.
    paid_on : ndarray(datetime64[D])
        Day of payment; NaT: the day of closing, for an open order `as_of`.
    spot : Spot
        Prices.
    as_of : datetime64
        Last day that counts.
    policy : Policy
        cost_of_capital_percent and borrowed_metal_percent, a year.
    """
    start = table["issued_on"].to_numpy("datetime64[D]")
    closed = table["closed_on"].to_numpy("datetime64[D]")
    end = np.where(~np.isnat(paid_on), paid_on, np.where(np.isnat(closed), as_of, closed))
    rate = (policy.cost_of_capital_percent * (1.0 - borrowed) + policy.borrowed_metal_percent * borrowed) / 100.0
    days = np.where(np.isnat(start) | (held_g <= 0), 0, (end - start).astype(np.int64)).clip(min=0)
    return _money_days(table, held_g, start, days, spot) * rate / DAYS_A_YEAR


def _money_days(table: pd.DataFrame, held_g: Floats, start: Days, days: NDArray[np.int64], spot: Spot) -> Floats:
    """Sum the money tied up over the days of each order, never below 0 on any of them."""
    total = np.zeros(len(table))
    metal, deposit = table["metal"].to_numpy(), table["deposit"].to_numpy()
    for name in pd.unique(metal[days > 0]):
        rows = np.flatnonzero((metal == name) & (days > 0))
        first = start[rows].min()
        grid = spot.on(name, np.arange(first, (start[rows] + days[rows]).max()))
        place = (start[rows] - first).astype(np.int64)
        value, low = held_g[rows], deposit[rows] / held_g[rows]
        running = np.concatenate([[0.0], np.cumsum(grid)])
        total[rows] = value * (running[place + days[rows]] - running[place]) - deposit[rows] * days[rows]
        crossing = np.flatnonzero(_reaches(grid, place, days[rows], low))
        total[rows[crossing]] = value[crossing] * _above(grid, place[crossing], days[rows][crossing], low[crossing])
    return total


def _reaches(grid: Floats, place: NDArray[np.int64], days: NDArray[np.int64], low: Floats) -> NDArray[np.bool_]:
    """Tell where spot may lie under the deposit per gram on some day: it is no lower than the lowest of its month-long blocks."""
    block = 32
    padded = np.pad(grid, (0, -len(grid) % block), constant_values=np.inf).reshape(-1, block).min(axis=1)
    first, last = place // block, (place + days - 1) // block
    lowest = padded[first]
    for step in range(1, int((last - first).max(initial=0)) + 1):
        lowest = np.minimum(lowest, padded[np.minimum(first + step, last)])
    reaches: NDArray[np.bool_] = lowest < low
    return reaches


def _above(grid: Floats, place: NDArray[np.int64], days: NDArray[np.int64], low: Floats) -> Floats:
    """Sum spot above `low` over each order's own days, one day at a time for all orders."""
    total = np.zeros(len(place))
    for day in range(int(days.max(initial=0))):
        there = days > day
        total[there] += np.maximum(0.0, grid[place[there] + day] - low[there])
    return total


def payment_days(table: pd.DataFrame, payments: pd.DataFrame) -> Days:
    """Return the day of each order's last payment; NaT where none is known that could be the balance (a deposit is not)."""
    order = pd.Index(table["order_id"].astype(object)).get_indexer(pd.Index(payments["order_id"].astype(object)))
    day = payments["date"].to_numpy("datetime64[D]").astype(np.int64)
    last = np.full(len(table), np.iinfo(np.int64).min)
    np.maximum.at(last, order[order >= 0], day[order >= 0])
    paid = last.astype("datetime64[D]")
    closed = table["closed_on"].to_numpy("datetime64[D]")
    settles = (paid > table["issued_on"].to_numpy("datetime64[D]")) & (np.isnat(closed) | (paid >= closed))
    return np.where(settles, paid, np.datetime64("NaT", "D"))

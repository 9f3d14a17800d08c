"""Metal in the safe at cost: perpetual weighted average, or first in first out. One class each, one interface.

Beside its cost the stock carries spot at purchase, so that a gain can be told apart into the move of spot and the
supplier's premium. Taken below zero, grams go out at the last cost; the next purchase settles the difference.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple, Protocol

NOTHING_G = 1e-9
"""Grams below which a stock is empty: far under any scale, far above rounding."""


class Worth(NamedTuple):
    """Money: at cost, and at spot of the day of purchase."""

    cost: float
    spot: float

    def times(self, factor: float) -> Worth:
        """Return both multiplied."""
        return Worth(self.cost * factor, self.spot * factor)


class Stock(Protocol):
    """What both kinds of stock can do. Grams are fine."""

    grams: float
    cost: float

    def per_g(self, today: float) -> Worth:
        """Return the worth of a gram now; of the last gram when empty, of spot `today` when there was none yet."""

    def take(self, grams: float, today: float) -> Worth:
        """Take grams out and return what they had cost."""

    def put(self, grams: float, worth: Worth) -> float:
        """Put grams in and return the correction, money, that settling grams taken below zero brings."""

    def put_back(self, grams: float, left_at: Worth, today: float) -> tuple[float, float]:
        """Put grams back that left at `left_at` a gram; return what the stock gained in money, and the correction in it."""


class AverageStock:
    """Perpetual weighted average."""

    def __init__(self) -> None:
        self.grams = self.cost = self.spot = 0.0
        self._last: Worth | None = None

    def per_g(self, today: float) -> Worth:
        """See `Stock.per_g`."""
        if abs(self.grams) > NOTHING_G:
            return Worth(self.cost / self.grams, self.spot / self.grams)
        return self._last or Worth(today, today)

    def take(self, grams: float, today: float) -> Worth:
        """See `Stock.take`."""
        each = self.per_g(today)
        self._add(-grams, each.times(-grams), each)
        return each.times(grams)

    def put(self, grams: float, worth: Worth) -> float:
        """See `Stock.put`."""
        if grams <= 0:
            return 0.0
        each = worth.times(1.0 / grams)
        owed = min(grams, max(0.0, -self.grams))
        carried = self.per_g(each.cost) if owed > NOTHING_G else each
        correction = -owed * (each.cost - carried.cost)
        self._add(grams, Worth(worth.cost + correction, worth.spot - owed * (each.spot - carried.spot)), each)
        return correction

    def put_back(self, grams: float, left_at: Worth, today: float) -> tuple[float, float]:
        """See `Stock.put_back`: at the cost of the day, the difference to `left_at` is a correction."""
        each = self.per_g(today)
        self._add(grams, each.times(grams), each)
        return grams * each.cost, grams * (each.cost - left_at.cost)

    def _add(self, grams: float, worth: Worth, each: Worth) -> None:
        self.grams, self.cost, self.spot = self.grams + grams, self.cost + worth.cost, self.spot + worth.spot
        if abs(self.grams) <= NOTHING_G:
            self.grams = self.cost = self.spot = 0.0
        self._last = each


class FifoStock:
    """First in, first out: what lies longest goes first."""

    def __init__(self) -> None:
        self.grams = self.cost = 0.0
        self._layers: deque[tuple[float, Worth]] = deque()
        self._short_g = 0.0
        self._short = Worth(0.0, 0.0)
        self._last: Worth | None = None

    def per_g(self, today: float) -> Worth:
        """See `Stock.per_g`: the mean of all layers."""
        if self.grams > NOTHING_G:
            return Worth(self.cost / self.grams, sum(grams * each.spot for grams, each in self._layers) / self.grams)
        return self._last or Worth(today, today)

    def take(self, grams: float, today: float) -> Worth:
        """See `Stock.take`."""
        cost = spot = 0.0
        wanted = grams
        while wanted > NOTHING_G and self._layers:
            held, each = self._layers.popleft()
            used = min(held, wanted)
            cost, spot, wanted = cost + used * each.cost, spot + used * each.spot, wanted - used
            self._last = each
            if held - used > NOTHING_G:
                self._layers.appendleft((held - used, each))
        if wanted > NOTHING_G:
            each = self._last or Worth(today, today)
            cost, spot = cost + wanted * each.cost, spot + wanted * each.spot
            self._fall_short(wanted, each)
        self._count(-grams, -cost)
        return Worth(cost, spot)

    def put(self, grams: float, worth: Worth) -> float:
        """See `Stock.put`."""
        if grams <= 0:
            return 0.0
        each = worth.times(1.0 / grams)
        owed = min(grams, self._short_g)
        correction = -owed * (each.cost - self._short.cost)
        self._short_g -= owed
        if grams - owed > NOTHING_G:
            self._layers.append((grams - owed, each))
        self._last = self._last if self._short_g > NOTHING_G else each
        self._count(grams, worth.cost + correction)
        return correction

    def put_back(self, grams: float, left_at: Worth, today: float) -> tuple[float, float]:
        """See `Stock.put_back`: as the youngest layer, at the cost at which it left."""
        correction = self.put(grams, left_at.times(grams))
        return grams * left_at.cost + correction, correction

    def _fall_short(self, grams: float, each: Worth) -> None:
        total = self._short_g + grams
        self._short = Worth(
            (self._short.cost * self._short_g + each.cost * grams) / total,
            (self._short.spot * self._short_g + each.spot * grams) / total,
        )
        self._short_g, self._last = total, each

    def _count(self, grams: float, cost: float) -> None:
        self.grams, self.cost = self.grams + grams, self.cost + cost
        if abs(self.grams) <= NOTHING_G:
            self.grams = self.cost = 0.0


def new_stock(method: str) -> Stock:
    """Return an empty stock kept by ``average`` or ``fifo``."""
    return FifoStock() if method == "fifo" else AverageStock()

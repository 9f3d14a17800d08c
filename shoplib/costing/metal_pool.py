"""The pool of one metal, walked day by day: what each order took at what cost, and what differences came to light when.

Four accounts stand beside the orders: the pool in the safe, filings expected back, metal at the refiner, and metal owed
(borrowed, not yet priced). In every movement, to the cent,

    pool + orders + filings + refiner − owed = paid + correction.

Customers' metal has grams only. Metal an order took before the pool opens, or in a shop without a ledger, is worth spot.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from .pool_accounts import Event, Held, OrdersMetal
from .stock import NOTHING_G, Stock, Worth, new_stock

COLUMNS = (
    "date", "kind", "order", "fine_g", "pool", "orders", "filings", "refiner", "owed", "paid", "correction",
    "pool_g", "pool_cost", "c_per_g", "filings_g", "customers_g", "below_zero",
)  # fmt: skip
"""Columns of the movements; changes of each account in money, then the state after the movement."""


@dataclass
class Walk:
    """The accounts of one metal while its events are walked through.

    Parameters
    ----------
    stock : Stock
        The pool.
    orders : OrdersMetal
        Filled as orders take metal.
    opens : int
        Ordinal day on which the pool opens; later than all days in a shop without a ledger.
    by_count : bool
        The pool opens with a count at the end of that day, not with its first row.
    """

    stock: Stock
    orders: OrdersMetal
    opens: int
    by_count: bool
    filings: Held = field(default_factory=Held)
    lots: dict[str, Held] = field(default_factory=dict)
    unit_of_lot: dict[str, Worth] = field(default_factory=dict)
    owed: Held = field(default_factory=Held)
    customers_g: float = 0.0
    is_open: bool = False
    rows: list[tuple[object, ...]] = field(default_factory=list)

    def through(self, events: Iterable[Event]) -> list[tuple[object, ...]]:
        """Walk through the events in their order and return the movements, one tuple of `COLUMNS` each."""
        steps: dict[str, Callable[[Event], None]] = {
            "issue": self._issue, "bench": self._true_up, "true_up": self._true_up, "part_issue": self._issue,
            "part_bench": self._true_up, "part_true_up": self._true_up, "bought": self._bought, "sold": self._sold,
            "borrowed": self._borrowed, "returned": self._returned, "priced": self._priced, "refining_sent": self._refining_sent,
            "filings_sent": self._filings_sent, "refined_back": self._refined_back, "refining_charge": self._charge,
            "stock_count": self._count, "customer_in": self._customers, "customer_out": self._customers,
        }  # fmt: skip
        for event in events:
            if not self.is_open and not self.by_count and event.day >= self.opens:
                self.is_open = True
            steps[event.kind](event)
        return self.rows

    def _log(
        self,
        event: Event,
        pool: float = 0.0,
        orders: float = 0.0,
        filings: float = 0.0,
        refiner: float = 0.0,
        owed: float = 0.0,
        paid: float = 0.0,
        correction: float = 0.0,
        grams: float | None = None,
    ) -> None:
        stock = self.stock
        self.rows.append((
            event.day, event.kind, event.order, event.fine_g if grams is None else grams, pool, orders, filings, refiner, owed, paid,
            correction, stock.grams, stock.cost, stock.per_g(event.spot).cost, self.filings.grams, self.customers_g,
            stock.grams < -NOTHING_G,
        ))  # fmt: skip

    def _issue(self, event: Event) -> None:
        orders, i = self.orders, event.order
        self.customers_g += event.customers_g
        borrowed = self.owed.grams / self.stock.grams if self.is_open and self.stock.grams > NOTHING_G else 0.0
        orders.borrowed_share[i] = min(1.0, max(0.0, borrowed))
        each = self.stock.per_g(event.spot) if self.is_open else Worth(event.spot, event.spot)
        worth = each.times(event.fine_g)
        if self.is_open and event.fine_g > 0:
            worth = self.stock.take(event.fine_g, event.spot)
            each = worth.times(1.0 / event.fine_g)
        orders.cost_per_g[i], orders.spot_per_g[i] = each
        orders.book[i] += worth.cost
        pool = -worth.cost if self.is_open else 0.0
        self._log(event, pool=pool, orders=worth.cost, paid=worth.cost + pool, grams=-event.fine_g)

    def _true_up(self, event: Event) -> None:
        orders, i = self.orders, event.order
        left_at = Worth(orders.cost_per_g[i], orders.spot_per_g[i])
        gained, correction = self._from_pool(event, left_at)
        back = left_at.times(event.filings_g)
        self.customers_g += event.customers_g
        self.filings.add(event.filings_g, back)
        taken = event.fine_g * left_at.cost
        paid = gained + taken - correction
        # A part of the alloy is charged to its order at spot; what it cost more or less is a correction.
        charged = event.money - (orders.book[i] + taken - back.cost) if event.money == event.money else 0.0
        booked = taken - back.cost + charged
        orders.book[i] += booked
        self._log(event, pool=gained, orders=booked, filings=back.cost, paid=paid, correction=correction + charged, grams=-event.fine_g)

    def _from_pool(self, event: Event, left_at: Worth) -> tuple[float, float]:
        """Return the pool's change and the correction when an order takes the true-up, or gives it back."""
        grams = event.fine_g
        if not self.is_open or grams == 0:
            return 0.0, 0.0
        if grams < 0:
            return self.stock.put_back(-grams, left_at, event.spot)
        cost = self.stock.take(grams, event.spot).cost
        return -cost, grams * left_at.cost - cost

    def _money(self, event: Event) -> float:
        return event.money if event.money == event.money else event.fine_g * event.spot

    def _bought(self, event: Event) -> None:
        if self.is_open:
            money = self._money(event)
            correction = self.stock.put(event.fine_g, Worth(money, event.fine_g * event.spot))
            self._log(event, pool=money + correction, paid=money, correction=correction)

    def _sold(self, event: Event) -> None:
        if self.is_open:
            money, cost = self._money(event), self.stock.take(event.fine_g, event.spot).cost
            self._log(event, pool=-cost, paid=-money, correction=money - cost, grams=-event.fine_g)

    def _borrowed(self, event: Event) -> None:
        if self.is_open:
            money = self._money(event)
            self.owed.add(event.fine_g, Worth(money, event.fine_g * event.spot))
            correction = self.stock.put(event.fine_g, Worth(money, event.fine_g * event.spot))
            self._log(event, pool=money + correction, owed=money, correction=correction)

    def _settle(self, event: Event) -> float:
        """Take grams off what is owed and return the money they were owed at; what was never borrowed was owed at nothing."""
        owed = self.owed.per_g(Worth(0.0, 0.0))
        grams = min(event.fine_g, max(0.0, self.owed.grams))
        self.owed.add(-grams, owed.times(-grams))
        return grams * owed.cost

    def _returned(self, event: Event) -> None:
        if self.is_open:
            owed, cost = self._settle(event), self.stock.take(event.fine_g, event.spot).cost
            fee = event.money if event.money == event.money else 0.0
            self._log(event, pool=-cost, owed=-owed, paid=fee, correction=owed - cost - fee, grams=-event.fine_g)

    def _priced(self, event: Event) -> None:
        if self.is_open:
            owed, money = self._settle(event), self._money(event)
            self._log(event, owed=-owed, paid=money, correction=owed - money, grams=0.0)

    def _refining_sent(self, event: Event) -> None:
        if self.is_open:
            worth = self.stock.take(event.fine_g, event.spot)
            self._lot(event.lot).add(event.fine_g, worth)
            self._log(event, pool=-worth.cost, refiner=worth.cost, grams=-event.fine_g)

    def _filings_sent(self, event: Event) -> None:
        moved, grams = self.filings.worth, self.filings.grams
        self._lot(event.lot).add(grams, moved)
        self.filings.clear()
        self._log(event, filings=-moved.cost, refiner=moved.cost, grams=0.0)

    def _lot(self, lot: str) -> Held:
        return self.lots.setdefault(lot, Held())

    def _refined_back(self, event: Event) -> None:
        lot = self.lots.get(event.lot)
        account = self.filings if lot is None else lot
        each = account.per_g(self.unit_of_lot.get(event.lot, self.stock.per_g(event.spot)))
        self.unit_of_lot[event.lot] = each
        expected, back = account.worth.cost, each.times(event.fine_g)
        account.clear()
        charge = event.money if event.money == event.money else 0.0
        settled = self.stock.put(event.fine_g, back) if self.is_open else 0.0
        pool = back.cost + settled if self.is_open else 0.0
        filings, refiner = (-expected, 0.0) if lot is None else (0.0, -expected)
        paid = charge if self.is_open else charge - back.cost
        self._log(event, pool=pool, filings=filings, refiner=refiner, paid=paid, correction=back.cost - expected + settled - charge)

    def _charge(self, event: Event) -> None:
        money = event.money if event.money == event.money else 0.0
        self._log(event, paid=money, correction=-money, grams=0.0)

    def _customers(self, event: Event) -> None:
        self.customers_g += event.customers_g
        self._log(event, grams=0.0)

    def _count(self, event: Event) -> None:
        own = max(0.0, event.fine_g - max(0.0, self.customers_g))
        if not self.is_open:
            self.is_open = True
            unpriced = max(0.0, event.unpriced_g - max(0.0, self.customers_g)) * event.spot
            money = event.money + unpriced if own > 0 else 0.0
            self.stock.put(own, Worth(money, money))
            self._log(event, pool=money, paid=money, grams=own)
            return
        difference = own - self.stock.grams
        each = self.stock.per_g(event.spot)
        if difference > 0:
            change = difference * each.cost + self.stock.put(difference, each.times(difference))
        else:
            change = -self.stock.take(-difference, event.spot).cost
        self._log(event, pool=change, correction=change, grams=difference)


def walk_pool(events: pd.DataFrame, opens: tuple[int, bool], method: str, orders: OrdersMetal) -> pd.DataFrame:
    """Walk the pool of one metal and return its movements, columns `COLUMNS` with `date` as datetime64 and `order` a row.

    Parameters
    ----------
    events : DataFrame
        In sequence, columns of `Event`.
    opens : tuple of int and bool
        Ordinal day on which the pool opens, and whether by a count.
    method : str
        ``average`` or ``fifo``.
    orders : OrdersMetal
        Filled in place for the orders of this metal.
    """
    walk = Walk(new_stock(method), orders, *opens)
    rows = walk.through(map(Event._make, zip(*(events[name].tolist() for name in Event._fields), strict=True)))
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    table["date"] = table["date"].to_numpy(np.int64).astype("datetime64[D]").astype("datetime64[s]")
    return table

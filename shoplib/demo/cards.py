"""The job cards as the play fills them: one entry a visit and day, in compact columns."""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass

from .metal import Flows, Outcome
from .order import Order
from .parameters import MELT, World

CAUSES = ("", "broken link", "gap in a joint", "overheated", "pit", "scratch")
SHARED = -1
"""Order number of work booked to no order."""
Spell = tuple[float, float, float]
"""Start and finish in hours since the first midnight, and hours booked."""


@dataclass(slots=True)
class Entry:
    """One entry on a job card.

    Weights not taken are nan; `start` and `finish` are what happened, written down only where `clocked`; `solder` is
    the alloy's place or −1.
    """

    order: int
    stage: int
    worker: int
    day: int
    hours: float
    start: float
    finish: float
    clocked: bool = False
    again: bool = False
    links: int = 0
    cause: str = ""
    weight_in: float = math.nan
    weight_out: float = math.nan
    scrap: float = 0.0
    solder: int = -1
    solder_g: float = 0.0


class JobCards:
    """Entries in columns; `melts` holds the orders of an entry that several share (order number −2 − its place)."""

    def __init__(self) -> None:
        self.order, self.stage, self.worker, self.day = array("q"), array("b"), array("b"), array("i")
        self.hours, self.start, self.finish = array("d"), array("d"), array("d")
        self.clocked = array("b")
        self.again, self.links, self.cause = array("b"), array("i"), array("b")
        self.weight_in, self.weight_out, self.scrap = array("d"), array("d"), array("d")
        self.solder, self.solder_g = array("b"), array("d")
        self.melts: list[tuple[int, ...]] = []

    def __len__(self) -> int:
        return len(self.order)

    def add(self, entry: Entry) -> None:
        """Write one entry."""
        self.order.append(entry.order)
        self.stage.append(entry.stage)
        self.worker.append(entry.worker)
        self.day.append(entry.day)
        self.hours.append(entry.hours)
        self.start.append(entry.start)
        self.finish.append(entry.finish)
        self.clocked.append(entry.clocked)
        self.again.append(entry.again)
        self.links.append(entry.links)
        self.cause.append(CAUSES.index(entry.cause))
        self.weight_in.append(entry.weight_in)
        self.weight_out.append(entry.weight_out)
        self.scrap.append(entry.scrap)
        self.solder.append(entry.solder)
        self.solder_g.append(entry.solder_g)

    def visit(self, world: World, orders: Sequence[Order], worker: int, spells: Sequence[Spell], done: bool, flows: Flows) -> None:
        """Write the days of one visit, or of its part: what went in on the first entry, what came of it on the last."""
        lead, days = orders[0], _by_day(spells)
        number, begins = self._number(orders), not _begun(lead)
        if begins:
            for order in orders:
                flows.begin(order, days[0][0])
        clocked = flows.luck.random() < world.bench.clock_share
        for place, (day, start, finish, hours) in enumerate(days):
            entry = Entry(number, lead.stage, worker, day, hours, start, finish, clocked, lead.again)
            if begins and place == 0:
                _going_in(entry, orders)
            if done and place == len(days) - 1:
                _coming_out(entry, orders, flows.end(orders, day))
            self.add(entry)

    def _number(self, orders: Sequence[Order]) -> int:
        if len(orders) == 1:
            return orders[0].number
        self.melts.append(tuple(order.number for order in orders))
        return -1 - len(self.melts)

    def orders_of(self, number: int) -> tuple[int, ...]:
        """Return the orders an entry's number stands for; none for shared work."""
        if number >= 0:
            return (number,)
        return () if number == SHARED else self.melts[-2 - number]


def _begun(order: Order) -> bool:
    return order.visit is not None and order.visit.begun


def _weighed(orders: Sequence[Order]) -> bool:
    return all(order.visit is not None and order.visit.weighed for order in orders)


def _going_in(entry: Entry, orders: Sequence[Order]) -> None:
    lead = orders[0]
    entry.links, entry.cause = lead.links, lead.cause
    lead.links, lead.cause = 0, ""
    if _weighed(orders) or (lead.stage == MELT and lead.of_metal):
        entry.weight_in = sum(order.visit.weight_in for order in orders if order.visit is not None)


def _coming_out(entry: Entry, orders: Sequence[Order], outcome: Outcome) -> None:
    entry.scrap, entry.solder_g = outcome.scrap, outcome.solder
    entry.solder = orders[0].piece.alloy if outcome.solder > 0 else -1
    if _weighed(orders):
        entry.weight_out = outcome.weight_out


def _by_day(spells: Sequence[Spell]) -> list[tuple[int, float, float, float]]:
    """Join spells of one day, the lunch break inside: (day, start, finish, hours)."""
    days: list[tuple[int, float, float, float]] = []
    for start, finish, hours in spells:
        day = int(start // 24)
        if days and days[-1][0] == day:
            days[-1] = (day, days[-1][1], finish, days[-1][3] + hours)
        else:
            days.append((day, start, finish, hours))
    return days

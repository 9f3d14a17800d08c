"""The job cards as the play fills them: one entry a visit and day, in compact columns."""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence

from .metal import Flows, Outcome
from .order import Order
from .parameters import CUT, MELT, World

CAUSES = ("", "broken link", "gap in a joint", "overheated", "pit", "scratch")
SHARED = -1
"""Order number of work booked to no order."""
Spell = tuple[float, float, float]
"""Start and finish in hours since the first midnight, and hours booked."""


class JobCards:
    """Entries in columns; `melts` holds the orders of an entry that several share (order number −2 − its place)."""

    def __init__(self) -> None:
        self.order, self.stage, self.worker, self.day = array("q"), array("b"), array("b"), array("i")
        self.hours, self.start, self.finish = array("d"), array("d"), array("d")
        self.again, self.links, self.cause = array("b"), array("i"), array("b")
        self.weight_in, self.weight_out, self.scrap = array("d"), array("d"), array("d")
        self.solder, self.solder_g = array("b"), array("d")
        self.melts: list[tuple[int, ...]] = []

    def __len__(self) -> int:
        return len(self.order)

    def add(
        self, order: int, stage: int, worker: int, day: int, hours: float, start: float, finish: float, *, again: bool = False,
        links: int = 0, cause: str = "", weight_in: float = math.nan, weight_out: float = math.nan, scrap: float = 0.0,
        solder: int = -1, solder_g: float = 0.0,
    ) -> None:
        """Write one entry; weights and times not taken are nan."""
        self.order.append(order)
        self.stage.append(stage)
        self.worker.append(worker)
        self.day.append(day)
        self.hours.append(hours)
        self.start.append(start)
        self.finish.append(finish)
        self.again.append(again)
        self.links.append(links)
        self.cause.append(CAUSES.index(cause))
        self.weight_in.append(weight_in)
        self.weight_out.append(weight_out)
        self.scrap.append(scrap)
        self.solder.append(solder)
        self.solder_g.append(solder_g)

    def visit(self, world: World, orders: Sequence[Order], worker: int, spells: Sequence[Spell], done: bool, flows: Flows) -> None:
        """Write the days of one visit, or of its part: what went in on the first entry, what came of it on the last."""
        lead, days = orders[0], _by_day(spells)
        number, begins = self._number(orders), not _begun(lead)
        if begins:
            for order in orders:
                flows.begin(order, days[0][0])
        clocked = flows.luck.random() < world.bench.clock_share
        for place, (day, start, finish, hours) in enumerate(days):
            outcome = flows.end(orders, day) if done and place == len(days) - 1 else None
            start, finish = (start, finish) if clocked else (math.nan, math.nan)
            self.add(
                number, lead.stage, worker, day, hours, start, finish, again=lead.again,
                **_going_in(orders) if begins and place == 0 else {}, **_coming_out(orders, outcome) if outcome else {},
            )

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


def _going_in(orders: Sequence[Order]) -> dict[str, float | int | str]:
    lead = orders[0]
    links, cause = lead.links, lead.cause
    lead.links, lead.cause = 0, ""
    weight = sum(order.visit.weight_in for order in orders if order.visit is not None)
    weighed = _weighed(orders) or (lead.stage == MELT and lead.of_metal)
    return {"links": links, "cause": cause, "weight_in": weight if weighed else math.nan}


def _coming_out(orders: Sequence[Order], outcome: Outcome) -> dict[str, float | int]:
    lead = orders[0]
    return {
        "weight_out": outcome.weight_out if _weighed(orders) else math.nan,
        "scrap": outcome.scrap if lead.stage == CUT else 0.0,
        "solder": lead.piece.alloy if outcome.solder > 0 else -1,
        "solder_g": outcome.solder,
    }


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

"""An order of the invented workshop, the visit it is on, and the queue it waits in."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass

from .parameters import FINISH, POLISH, SOLDER
from .pieces import Piece

ROUTE = tuple(range(FINISH + 1))
REPAIR_ROUTE = (SOLDER, POLISH)


@dataclass(slots=True)
class Visit:
    """One visit of an order to a stage: whether somebody has begun, whether it is weighed, and the weight that went in."""

    weighed: bool
    begun: bool = False
    weight_in: float = 0.0


@dataclass(slots=True, eq=False)
class Order:
    """An order on its way; days count from the first day, −1 means not yet.

    `metal_g` is the shop's alloy in the piece as it stands (solder included), `needed_g` what it shall weigh when
    finished, `left_h` the hours left on a visit handed over (below zero: none begun), `calls_off` the moment the
    customer thinks better of it, `hold` (stage, why, days) a wait to come.
    """

    number: int
    kind: str
    piece: Piece
    ordered: int
    promise: int
    price: float
    terms: str = "fixed"
    rush: bool = False
    by_weight: bool = False
    customer_type: str = ""
    quote: int = -1
    calls_off: float = math.inf
    hold: tuple[int, str, int] | None = None
    place: int = 0
    again: bool = False
    returns: int = 0
    links: int = 0
    cause: str = ""
    left_h: float = -1.0
    visit: Visit | None = None
    metal_g: float = 0.0
    needed_g: float = 0.0
    finished_g: float = 0.0
    first_work: int = -1
    finished: int = -1
    delivered: int = -1
    cancelled: int = -1

    @property
    def of_metal(self) -> bool:
        """Whether the shop works metal into it; repairs and guarantees are the customer's own piece."""
        return self.kind in ("order", "stock")

    @property
    def route(self) -> tuple[int, ...]:
        """Stages to pass."""
        return ROUTE if self.of_metal else REPAIR_ROUTE

    @property
    def stage(self) -> int:
        """Index of the stage the order is at or waits for."""
        return self.route[self.place]


Rank = tuple[bool, int, int, int]
"""Rush or not, first promise, day of order, number: the smallest goes first."""


class Queue:
    """Orders waiting at one stage: earliest first promise at the top, any of them within reach."""

    def __init__(self) -> None:
        self._heap: list[Rank] = []
        self._waiting: list[Order] = []
        self._where: dict[int, int] = {}

    def __len__(self) -> int:
        return len(self._waiting)

    def __contains__(self, order: Order) -> bool:
        return order.number in self._where

    def __getitem__(self, place: int) -> Order:
        return self._waiting[place]

    def add(self, order: Order) -> None:
        """Let `order` wait."""
        heapq.heappush(self._heap, (not order.rush, order.promise, order.ordered, order.number))
        self._where[order.number] = len(self._waiting)
        self._waiting.append(order)

    def top(self) -> Rank:
        """Return the rank of the order that is next; the queue must not be empty."""
        while self._heap[0][3] not in self._where:
            heapq.heappop(self._heap)
        return self._heap[0]

    def first(self) -> Order:
        """Return the order that is next; the queue must not be empty."""
        return self._waiting[self._where[self.top()[3]]]

    def remove(self, order: Order) -> None:
        """Take `order`, which waits here, out."""
        place = self._where.pop(order.number)
        last = self._waiting.pop()
        if last is not order:
            self._waiting[place] = last
            self._where[last.number] = place

    def alike(self, order: Order, most: int) -> list[Order]:
        """Return up to `most` waiting orders of the same alloy that a melt may take along."""
        return [other for other in self._waiting if other.piece.alloy == order.piece.alloy and other.left_h < 0][:most]

"""Customers: enquiries quoted at the day's spot and backlog, answered yes or no some days later, and work that comes unasked."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Generator
from dataclasses import dataclass, replace
from datetime import date
from random import Random
from typing import Any

import simpy

from .catalogue import ALLOYS
from .order import Order
from .parameters import ASSEMBLE, FINISH, POLISH, World
from .people import is_open
from .pieces import Piece, draw_piece, list_making, make_offer, odds_of_order, wave, weeks_quoted
from .play import Workshop
from .prices import Spot

OPEN_DAYS_A_MONTH = 20.3
HOURS = (9.0, 17.0)
"""Customers come between these hours."""
VALID_DAYS = 14
STOCK_WEEKS = 8.0
OWN_GOLD_UPLIFT = 1.08
"""Making charge of a piece in the customer's own gold ÷ that of the list."""
Events = Generator[simpy.Event, Any, None]


@dataclass(slots=True)
class Quote:
    """A quote given: its place, day, piece, price, weeks named; `won` None while unanswered, `order` the number it became."""

    place: int
    day: int
    piece: Piece
    price: float
    making: float
    weeks: float
    yes: bool
    won: bool | None = None
    order: int = -1


class Customers:
    """The stream of enquiries and of work that comes without one; `quotes` records it."""

    def __init__(self, shop: Workshop, spot: Spot) -> None:
        self.shop, self.spot, self.world = shop, spot, shop.world
        self.quotes: list[Quote] = []
        self._luck = Random(f"{self.world.seed} customers")
        self._answers: dict[int, list[Quote]] = defaultdict(list)
        open_days = [day for day in map(self.world.day, range(self.world.days)) if is_open(day)]
        self._mean_trend = sum(map(self._trend, open_days)) / max(1, len(open_days))
        shop.env.process(self._days())

    def _days(self) -> Events:
        for index in range(self.world.days):
            day = self.world.day(index)
            if not is_open(day):
                continue
            yield self.shop.env.timeout(max(0.0, index * 24 + HOURS[0] - self.shop.env.now))
            self._answers_of(index)
            rates = self._rates(day)
            moment, end = index * 24 + HOURS[0], index * 24 + HOURS[1]
            while (moment := moment + self._luck.expovariate(sum(rates.values()) / (HOURS[1] - HOURS[0]))) < end:
                yield self.shop.env.timeout(moment - self.shop.env.now)
                self._comes(self._luck.choices(list(rates), list(rates.values()))[0], index)

    def _rates(self, day: date) -> dict[str, float]:
        """Arrivals an open day, by what they want."""
        market = self.world.market
        season = 1 + market.season * wave(day)
        scale = self.world.busier / OPEN_DAYS_A_MONTH
        return {
            "enquiry": market.enquiries_a_month * self._trend(day) / self._mean_trend * season * scale,
            "walk_in": market.walk_ins_a_month * season * scale,
            "customer_metal": market.customer_metal_a_month * scale,
            "stock": market.stock_a_month * scale,
            "repair": market.repairs_a_month * scale,
            "guarantee": market.guarantees_a_month * scale,
        }

    def _trend(self, day: date) -> float:
        """Growth and the late rise, 1 at the end without the rise."""
        market, years = self.world.market, (day - self.world.last_day).days / 365.25
        return float((1 + market.growth_a_year) ** years * (1 + market.late_rise * min(1.0, max(0.0, 3 * years + 2.5))))

    def _comes(self, what: str, day: int) -> None:
        if what == "enquiry":
            self._quote(day)
        elif what in ("repair", "guarantee"):
            self._mend(what, day)
        else:
            self._unasked(what, day)

    def _quote(self, day: int) -> None:
        piece, today = draw_piece(self.world, self._luck), self.world.day(day)
        offer = make_offer(self.world, piece, self.spot, today, self._luck)
        weeks = weeks_quoted(self.world, self.shop.open_orders, self._luck)
        yes = self._luck.random() < odds_of_order(self.world, offer, weeks, today)
        answered = day if self._luck.random() < 0.45 else day + min(VALID_DAYS, 1 + int(self._luck.expovariate(0.25)))
        while not is_open(self.world.day(answered)):
            answered += 1
        quote = Quote(len(self.quotes), day, piece, offer.price, offer.making, weeks, yes)
        self.quotes.append(quote)
        if answered == day:
            self._answer(quote, day)
        else:
            self._answers[answered].append(quote)

    def _answers_of(self, day: int) -> None:
        for quote in self._answers.pop(day, []):
            self._answer(quote, day)

    def _answer(self, quote: Quote, day: int) -> None:
        quote.won = quote.yes
        if not quote.yes:
            return
        quote.order = len(self.shop.orders)
        at_delivery = self._luck.random() < self.world.market.at_delivery_share
        terms, price = ("at_delivery", quote.making) if at_delivery else ("fixed", quote.price)
        order = self._order("order", quote.piece, day, quote.weeks, price, terms)
        order.quote = quote.place
        order.by_weight = terms == "fixed" and self._luck.random() < self.world.market.by_weight_share
        self.shop.take_in(order)

    def _unasked(self, what: str, day: int) -> None:
        """Walk-ins at the price of the list, customers with gold of their own, and pieces for the window."""
        piece, today = draw_piece(self.world, self._luck), self.world.day(day)
        offer = make_offer(self.world, piece, self.spot, today, self._luck)
        if what == "stock":
            self.shop.take_in(self._order("stock", piece, day, STOCK_WEEKS, offer.price, "fixed"))
            return
        weeks = weeks_quoted(self.world, self.shop.open_orders, self._luck)
        if what == "walk_in":
            self.shop.take_in(self._order("order", piece, day, weeks, offer.price, "fixed"))
            return
        piece = self._of_customers_gold()
        making = list_making(self.world, piece.style, piece.alloy, piece.weight_g, today) * OWN_GOLD_UPLIFT
        self.shop.take_in(self._order("order", piece, day, weeks, making, "customer_metal"))

    def _of_customers_gold(self) -> Piece:
        """A piece of the customer's own gold: no white alloy, no bought-in clasp."""
        while True:
            piece = draw_piece(self.world, self._luck)
            if not ALLOYS[piece.alloy].palladium:
                return replace(piece, weight_g=round(piece.metal_g, self.world.digits), findings_g=0.0, findings_cost=0.0, stones_g=0.0)

    def _mend(self, kind: str, day: int) -> None:
        piece = draw_piece(self.world, self._luck)
        price = 0.0 if kind == "guarantee" else 5.0 * round(self._luck.uniform(14, 34))
        weeks = 1.0 if kind == "guarantee" else 0.5 * self._luck.randint(2, 4)
        self.shop.take_in(self._order(kind, piece, day, weeks, price * self.world.shrink, "fixed"))

    def _order(self, kind: str, piece: Piece, day: int, weeks: float, price: float, terms: str) -> Order:
        market, luck = self.world.market, self._luck
        rush = kind == "order" and luck.random() < market.rush_share
        promise = day + max(5, round(7 * weeks * (0.5 if rush else 1.0)))
        order = Order(len(self.shop.orders), kind, piece, day, promise, round(price, 2), terms, rush)
        order.customer_type = "" if kind == "stock" else luck.choices(("retail", "trade"), (7, 3))[0]
        if kind == "order" and luck.random() < market.cancelled_share:
            order.calls_off = day * 24.0 + 12.0 + 24.0 * min(60.0, 2 + luck.expovariate(0.12))
        elif kind == "order" and luck.random() < market.held_share:
            why, stage = luck.choice((("customer", ASSEMBLE), ("part", FINISH), ("assay", FINISH), ("outwork", POLISH)))
            order.hold = (stage, why, 2 + int(min(20.0, luck.expovariate(0.2))))
        return order


def play(world: World, shop: Workshop, customers: Customers) -> None:
    """Run the clock to the end of the last day."""
    shop.env.run(until=math.nextafter(world.days * 24.0, math.inf))

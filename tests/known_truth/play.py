"""The shop played in simpy: enquiries, quotes, orders, queues, people. It shares no line with the program under test.

Each order's whole path (stages, bench hours, returns) is drawn from its own luck when it comes in, each person's days from
that person's, each enquiry from its own: two plays that differ in one thing share everything else.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import simpy

from . import parameters as p
from .capacity import orders_a_week
from .paths import path_of, stream
from .people import Days, days_of, first_played, most_days, open_days
from .things import Entry, Order, Pick, Played, Quote

ANOTHER_LUCK = 10**6
PRICE_LUCK, LAG_LUCK, PICK_LUCK, SPOT_LUCK = 11, 14, 17, 19


def play(
    truth: p.Truth,
    months: float = p.HISTORY_MONTHS,
    extra: tuple[p.Person, ...] = (),
    luck: int = 0,
    luck_from: int = 10**9,
    demand_factor: float = 1.0,
    gold_still_from: int = 10**9,
) -> Played:
    """Play the warm-up and `months` months.

    Parameters
    ----------
    truth : Truth
        The shop.
    months : float
        Length after the records begin.
    extra : tuple of Person
        Further people (``from_day`` counts from the first day of the records).
    luck, luck_from : int
        Enquiries and people's days from record day `luck_from` on are drawn from another luck, number `luck`.
    demand_factor : float
        Enquiries as a multiple of the shop's.
    gold_still_from : int
        Record day from which gold keeps the price of the day before.
    """
    n_days = p.WARM_UP_DAYS + round(months * p.DAYS_PER_MONTH)
    people = truth.people + extra
    days = [_spliced(truth, person, n_days, luck, luck_from) for person in people]
    played = Played(truth, n_days, people, days, spot_prices(truth, n_days, gold_still_from + p.WARM_UP_DAYS))
    floor = _Floor(played)
    demand = _Demand(played, floor, demand_factor, luck, luck_from + p.WARM_UP_DAYS)
    floor.env.process(demand.run())
    for index in range(len(people)):
        floor.env.process(floor.work_of(index))
    floor.env.run(until=24.0 * n_days)
    played.in_hand = [order.number if order else -1 for order in floor.in_hand]
    return played


def _spliced(truth: p.Truth, person: p.Person, n_days: int, luck: int, luck_from: int) -> Days:
    base = days_of(truth, person, n_days)
    if luck == 0 or luck_from + p.WARM_UP_DAYS >= n_days:
        return base
    index = person.luck if person.luck is not None else [q.code for q in truth.people].index(person.code)
    other = days_of(truth, replace(person, luck=1000 * luck + index), n_days)
    late = np.arange(n_days) >= luck_from + p.WARM_UP_DAYS
    return Days(
        base.owed_h,
        np.where(late, other.planned, base.planned),
        np.where(late, other.unplanned, base.unplanned),
        np.where(late, other.share, base.share),
    )


def spot_prices(truth: p.Truth, n_days: int, still_from: int = 10**9) -> np.ndarray:
    """Return money per fine gram on each day played: a random walk of ln price, which stands still from day `still_from`."""
    steps = np.random.default_rng([truth.seed, SPOT_LUCK]).normal(0.0, p.SPOT_DAILY_SD, n_days)
    steps[still_from:] = 0.0
    return np.round(p.SPOT_START * np.exp(np.cumsum(steps)), 2)


class _Floor:
    """Queues and people."""

    def __init__(self, played: Played) -> None:
        self.played, self.truth, self.env = played, played.truth, simpy.Environment()
        stages = [bench.name for bench in self.truth.benches]
        self.serves = [[s for s, bench in enumerate(self.truth.benches) if bench.skill in person.skills] for person in played.people]
        self.queues: list[list[Order]] = [[] for _ in stages]
        self.idle: dict[int, Any] = {}
        self.in_hand: list[Order | None] = [None] * len(played.people)
        self.n_open = 0
        self.luck = stream(self.truth, PICK_LUCK, 0)
        self.rule: Callable[[Order], tuple[Any, ...]] = {
            "promise": lambda o: (not o.rush, o.promised, o.day, o.number),
            "order_date": lambda o: (not o.rush, o.day, o.number),
            "queue": lambda o: (not o.rush, o.queued, o.day, o.number),
        }[self.truth.rule]

    def join(self, order: Order) -> None:
        """Put an order into the queue of its next stage, after its hold if one falls here."""
        if order.hold and order.hold[0] == order.place:
            self.env.process(self._held(order))
            return
        order.queued = self.env.now
        self.queues[order.path[order.place].stage].append(order)
        self._wake(order.path[order.place].stage)

    def _held(self, order: Order) -> Iterator[Any]:
        assert order.hold
        place, days = order.hold
        order.hold = None
        self.played.holds.append((order.number, int(self.env.now // 24), int(self.env.now // 24) + days))
        yield self.env.timeout(24.0 * (self.env.now // 24 + days) - self.env.now)
        self.join(order)

    def _wake(self, stage: int) -> None:
        able = [i for i in self.idle if stage in self.serves[i]]
        if able:
            self.idle.pop(min(able, key=lambda i: (len(self.serves[i]), i))).succeed()

    def _take(self, index: int) -> Order | None:
        waiting = [order for s in self.serves[index] for order in self.queues[s]]
        if not waiting:
            return None
        first = min(waiting, key=self.rule)
        chosen = first
        if len(waiting) > 1:
            if not first.rush and self.luck.random() >= self.truth.strength:
                chosen = self.luck.choice(waiting)
            self.played.picks.append(Pick(len(waiting), chosen is first))
        step = chosen.path[chosen.place]
        self.queues[step.stage].remove(chosen)
        chosen.left_h = chosen.left_h or step.hours
        return chosen

    def work_of(self, index: int) -> Iterator[Any]:
        """One person's days, one after the other."""
        days = self.played.days[index]
        bench, owed = days.bench_h, days.owed_h
        away = 0
        for day in np.flatnonzero(owed > 0).tolist():
            if bench[day] == 0:
                away += 1
                if away > p.HANDOVER_DAYS:
                    self._hand_over(index)
                continue
            away = 0
            start = 24.0 * day + p.DAY_START_H
            yield self.env.timeout(max(0.0, start - self.env.now))
            clock = owed[day] * p.DAY_CLOCK_H / 8.0
            yield from self._day(index, start + clock, bench[day] / clock)

    def _hand_over(self, index: int) -> None:
        order, self.in_hand[index] = self.in_hand[index], None
        if order:
            self.queues[order.path[order.place].stage].append(order)
            self._wake(order.path[order.place].stage)

    def _day(self, index: int, end: float, speed: float) -> Iterator[Any]:
        while self.env.now < end - 1e-9:
            order = self.in_hand[index] = self.in_hand[index] or self._take(index)
            if order is None:
                woken = self.idle[index] = self.env.event()
                yield woken | self.env.timeout(end - self.env.now)
                self.idle.pop(index, None)
                continue
            start, take = self.env.now, min(order.left_h / speed, end - self.env.now)
            yield self.env.timeout(take)
            order.left_h -= take * speed
            done = order.left_h < 1e-7
            self.played.entries.append(
                Entry(order.number, order.place, order.path[order.place].stage, index, start, self.env.now, take * speed, done)
            )
            if done:
                self.in_hand[index] = None
                self._passed_on(order)

    def _passed_on(self, order: Order) -> None:
        order.left_h = 0.0
        order.place += 1
        if order.place < len(order.path):
            self.join(order)
            return
        order.finished = self.env.now
        self.env.process(self._deliver(order))

    def _deliver(self, order: Order) -> Iterator[Any]:
        lag = stream(self.truth, LAG_LUCK, order.number).choice(p.DELIVERY_LAG_DAYS)
        day = int(order.finished // 24) + lag
        while (first_played().weekday() + day) % 7 > 4:
            day += 1
        yield self.env.timeout(max(0.0, 24.0 * day + 17.0 - self.env.now))
        order.delivered = day
        self.n_open -= 1


def enquiries_a_day(truth: p.Truth) -> float:
    """Return enquiries an open day, the mean over the year."""
    a_week = orders_a_week(truth)[0] * truth.demand / truth.win_usual
    return a_week * most_days() / 7 / int(open_days(most_days()).sum())


class _Demand:
    """Enquiries come on working days; each is quoted a price and weeks, and taken or not."""

    def __init__(self, played: Played, floor: _Floor, factor: float, luck: int, luck_from: int) -> None:
        self.played, self.floor, self.truth, self.env = played, floor, played.truth, floor.env
        self.luck, self.luck_from = luck, luck_from
        self.is_open = open_days(played.n_days)
        self.a_day = enquiries_a_day(self.truth) * factor

    def run(self) -> Iterator[Any]:
        """Each open day's enquiries, at 10 o'clock."""
        number = 0
        for day in np.flatnonzero(self.is_open).tolist():
            yield self.env.timeout(24.0 * day + 10.0 - self.env.now)
            luck = self.luck if day >= self.luck_from else 0
            for _ in range(self._count(day, luck)):
                self._enquiry(number, day, luck)
                number += 1

    def _count(self, day: int, luck: int) -> int:
        rate = self.a_day * (1 + self.truth.season * math.sin(2 * math.pi * (day - 60) / 365.25))
        return int(np.random.default_rng([self.truth.seed, 23, luck, day]).poisson(rate))

    def _enquiry(self, number: int, day: int, luck: int) -> None:
        t, own = self.truth, stream(self.truth, PRICE_LUCK + 100 * luck, number)
        style = own.choices(range(len(t.styles)), [s.share for s in t.styles])[0]
        alloy = own.choices(range(len(t.alloys)), [a.share for a in t.alloys])[0]
        grams = p.USUAL_GRAMS * math.exp(own.gauss(0.0, p.GRAMS_SD_LN))
        metal = grams * t.alloys[alloy].fineness / 1000 * self.played.spot[day]
        price = (metal + p.MAKING_PER_G * grams) * math.exp(own.gauss(0.0, p.PRICE_SD_LN))
        weeks = max(1.0, float(round(t.quote_a + t.quote_b * self.floor.n_open + own.gauss(0.0, t.quote_sd))))
        usual = math.log(1 + p.MAKING_PER_G / (p.SPOT_START * t.alloys[0].fineness / 1000))
        logit = (
            math.log(t.win_usual / (1 - t.win_usual))
            + t.win_wait * (weeks - t.usual_weeks)
            + t.win_price * (math.log(price / metal) - usual)
            + t.hidden_season * math.sin(2 * math.pi * (day - 60) / 365.25)
        )
        won = own.random() < 1 / (1 + math.exp(-logit))
        self.played.quotes.append(Quote(number, day, style, alloy, round(grams, 1), round(price, 0), weeks, won))
        if won:
            later = own.randrange(p.ANSWER_DAYS)
            self.env.process(self._ordered(self.played.quotes[-1], later, own.random() < t.rush_share))

    def _ordered(self, quote: Quote, later: int, rush: bool) -> Iterator[Any]:
        yield self.env.timeout(24.0 * later)
        day = int(self.env.now // 24)
        order = Order(
            quote.number,
            day,
            quote.style,
            quote.alloy,
            quote.grams,
            quote.price,
            day + round(7 * quote.weeks),
            rush,
            *path_of(
                self.truth,
                quote.number + (ANOTHER_LUCK * self.luck if quote.day >= self.luck_from else 0),
                quote.style,
                quote.alloy,
                quote.grams,
            ),
            quote=quote.number,
        )
        self.played.orders.append(order)
        self.floor.n_open += 1
        self.floor.join(order)

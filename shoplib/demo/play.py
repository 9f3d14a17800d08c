"""The benches played in simpy: orders queue, people choose, pieces go back.

Nothing here knows the kernel that is later fitted to what this play writes down. Time runs in hours since midnight of
the first day. A person who is free takes the order with the earliest first promise among all that wait for a skill he
or she has (rush before all), or, now and then, any of them.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from random import Random
from typing import Any

import simpy

from .cards import Entry, JobCards, Spell
from .catalogue import ALLOYS, STYLES
from .metal import Flows
from .order import Order, Queue
from .parameters import FILE, MELT, POLISH, SOLDER, TIGHTEN, World
from .people import Rota, Shift, is_open
from .staff import PEOPLE

GAP_THAT_HANDS_OVER_H = 108.0
"""A visit that would rest longer than this goes back to its queue."""
CAUSES_AT = {
    TIGHTEN: (("broken link", "gap in a joint", "overheated"), (6, 3, 1)),
    POLISH: (("pit", "scratch"), (6, 4)),
}
REPAIR_HOURS = {SOLDER: 0.75, POLISH: 0.45}
Events = Generator[simpy.Event, Any, None]


class Workshop:
    """Queues, people who wait for work, and the rules by which work moves; `orders`, `cards`, `holds` and `flows` record it."""

    def __init__(self, env: simpy.Environment, world: World, rota: Rota) -> None:
        self.env, self.world, self.rota = env, world, rota
        self.orders: list[Order] = []
        self.holds: list[tuple[int, int, int, str]] = []
        self.cards, self.flows = JobCards(), Flows(world)
        self.queues = [Queue() for _ in world.stages]
        self.open_orders = 0
        self._luck = Random(f"{world.seed} bench")
        self._again = dict(world.bench.again_hours)
        self._idle: dict[int, simpy.Event] = {}
        names = [stage.name for stage in world.stages]
        self._skills = [tuple(names.index(s) for s in p.skills) for p in PEOPLE]
        self._learnt = [{names.index(s): 24.0 * world.index(day) for s, day in p.learnt} for p in PEOPLE]
        by_breadth = sorted(range(len(PEOPLE)), key=lambda n: (len(PEOPLE[n].skills), n))
        self._who = [[n for n in by_breadth if stage in self._skills[n]] for stage in range(len(names))]
        self._pieces_done = [0] * len(PEOPLE)
        for number in range(len(PEOPLE)):
            env.process(self._work(number))

    @property
    def today(self) -> int:
        """Index of the running day."""
        return int(self.env.now // 24)

    def take_in(self, order: Order) -> None:
        """Put a new order on the board and into its first queue."""
        self.orders.append(order)
        self.open_orders += 1
        self._to_queue(order)
        if order.calls_off < math.inf:
            self.env.process(self._call_off(order))

    def _to_queue(self, order: Order) -> None:
        if order.hold and order.hold[0] == order.stage:
            self.env.process(self._held(order, *order.hold[1:]))
            return
        self.queues[order.stage].add(order)
        for number in self._who[order.stage]:
            waker = self._idle.pop(number, None)
            if waker is not None:
                waker.succeed()

    def _held(self, order: Order, why: str, days: int) -> Events:
        order.hold = None
        self.holds.append((order.number, self.today, self.today + days, why))
        yield self.env.timeout((self.today + days + 1) * 24.0 + 8.0 - self.env.now)
        self._to_queue(order)

    def _call_off(self, order: Order) -> Events:
        """The customer thinks better of it: heeded while the piece waits for its first soldering or earlier."""
        yield self.env.timeout(max(0.0, order.calls_off - self.env.now))
        if order.returns or order.stage > SOLDER or order.left_h >= 0 or order not in self.queues[order.stage]:
            return
        self.queues[order.stage].remove(order)
        order.cancelled = self.today
        self.open_orders -= 1
        if order.metal_g > 0:
            self._put_back(order)

    def _put_back(self, order: Order) -> None:
        """Somebody puts the unfinished metal back to stock and says so on the card."""
        worker = next(n for n in self._who[order.stage] if PEOPLE[n].left_on is None)
        weight, hours, now = self.flows.shown(order.metal_g), 0.1 * self.world.shrink, self.env.now
        self.cards.add(Entry(order.number, order.stage, worker, self.today, hours, now, now + hours, weight_in=weight, scrap=weight))
        self.flows.put_back(order, self.today)

    def _work(self, number: int) -> Events:
        env, shifts, place = self.env, self.rota.shifts[number], 0
        while True:
            while place < len(shifts) and shifts[place].end <= env.now + 1e-9:
                place += 1
            if place >= len(shifts):
                return
            if shifts[place].start > env.now:
                yield env.timeout(shifts[place].start - env.now)
            orders = self._choose(number)
            if orders:
                until, done = self._visit(number, place, orders)
                yield env.timeout(until - env.now)
                self._after(orders, done)
            else:
                self._idle[number] = env.event()
                yield self._idle[number]

    def _choose(self, number: int) -> list[Order]:
        """Return the order this person takes up next, with others of the same melt, or nothing."""
        learnt = self._learnt[number]
        stages = [s for s in self._skills[number] if len(self.queues[s]) and learnt.get(s, 0.0) <= self.env.now]
        if not stages:
            return []
        order = self.queues[min(stages, key=lambda stage: self.queues[stage].top())].first()
        if not order.rush and self._luck.random() > self.world.bench.dispatch_strength:
            order = self._any(stages)
        self.queues[order.stage].remove(order)
        return [order, *self._others_in_melt(order)]

    def _others_in_melt(self, order: Order) -> list[Order]:
        if order.stage != MELT or order.left_h >= 0 or self._luck.random() > self.world.bench.shared_melt_share:
            return []
        others = self.queues[MELT].alike(order, 1 + self._luck.randrange(2))
        for other in others:
            self.queues[MELT].remove(other)
        return others

    def _any(self, stages: list[int]) -> Order:
        waiting = [(stage, len(self.queues[stage])) for stage in stages]
        place = self._luck.randrange(sum(count for _, count in waiting))
        for stage, count in waiting:
            if place < count:
                return self.queues[stage][place]
            place -= count
        raise IndexError(place)

    def _visit(self, number: int, place: int, orders: list[Order]) -> tuple[float, bool]:
        """Plan the visit through this person's shifts; return when it ends or is handed over, and whether it is done."""
        for order in orders:
            if order.left_h < 0:
                order.left_h = self._hours(order, number)
                self.flows.plan(order)
        work = sum(order.left_h for order in orders)
        spells, left = self._through(self.rota.shifts[number], place, work)
        self.cards.visit(self.world, orders, number, spells, left <= 0, self.flows)
        for order in orders:
            order.first_work = int(spells[0][0] // 24) if order.first_work < 0 else order.first_work
            order.left_h *= left / work
        return spells[-1][1], left <= 0

    def _through(self, shifts: tuple[Shift, ...], place: int, work: float) -> tuple[list[Spell], float]:
        """Lay `work` hours through the shifts from now on; return the spells and the hours left when it is handed over."""
        spells: list[Spell] = []
        now = self.env.now
        while True:
            shift = shifts[place]
            start = max(now, shift.start)
            hours = (shift.end - start) * shift.rate
            if hours >= work:
                return [*spells, (start, start + work / shift.rate, work)], 0.0
            spells.append((start, shift.end, hours))
            work -= hours
            place += 1
            if place >= len(shifts) or shifts[place].start - shift.end > GAP_THAT_HANDS_OVER_H:
                return spells, work

    def _hours(self, order: Order, number: int) -> float:
        sigma = self.world.stages[order.stage].sigma
        mean = self._mean_hours(order) * self._learning(order.stage, number)
        return mean * math.exp(self._luck.gauss(0.0, sigma) - sigma**2 / 2)

    def _mean_hours(self, order: Order) -> float:
        stage, piece = self.world.stages[order.stage], order.piece
        if not order.of_metal:
            return REPAIR_HOURS[order.stage] * self.world.shrink
        mean = stage.fixed_h + stage.per_g_h * piece.weight_g
        mean *= STYLES[piece.style].hours_factor if stage.by_style else 1.0
        mean *= ALLOYS[piece.alloy].solder_factor if stage.by_alloy else 1.0
        return mean * (self._again[order.stage] if order.again else 1.0)

    def _learning(self, stage: int, number: int) -> float:
        """How much longer a learner takes: unit learning curve until the standard is reached."""
        if stage not in self._learnt[number]:
            return 1.0
        self._pieces_done[number] += 1
        bench = self.world.bench
        share = self._pieces_done[number] * self.world.shrink / bench.learning_pieces
        return min(3.0, max(1.0, math.pow(share, math.log2(bench.learning_rate))))

    def _after(self, orders: list[Order], done: bool) -> None:
        for order in orders:
            if not done:
                self._to_queue(order)
                continue
            order.left_h, order.visit = -1.0, None
            if self._goes_back(order):
                self._to_queue(order)
            elif order.place + 1 < len(order.route):
                order.place += 1
                order.again = order.again and order.stage in (TIGHTEN, POLISH)
                self._to_queue(order)
            else:
                self.env.process(self._deliver(order))

    def _goes_back(self, order: Order) -> bool:
        """Send a piece back if tightening or polishing finds a fault."""
        alloy, found_at = ALLOYS[order.piece.alloy], order.stage
        chance = {TIGHTEN: alloy.return_to_solder, POLISH: alloy.return_to_file}.get(found_at, 0.0)
        chance *= self.world.bench.return_again_factor if order.again else 1.0
        if not order.of_metal or order.returns >= self.world.bench.most_returns or self._luck.random() >= chance:
            return False
        order.place = order.route.index(SOLDER if found_at == TIGHTEN else FILE)
        order.again, order.returns = True, order.returns + 1
        order.links = 1 + min(7, int(self._luck.expovariate(0.6))) if found_at == TIGHTEN else 0
        order.cause = self._luck.choices(*CAUSES_AT[found_at])[0]
        return True

    def _deliver(self, order: Order) -> Events:
        order.finished = self.today
        order.finished_g = order.metal_g + order.piece.findings_g + order.piece.stones_g
        wait = 0 if order.kind == "stock" or self._luck.random() < 0.4 else 1 + int(self._luck.expovariate(0.55))
        day = order.finished + wait
        while not is_open(self.world.day(day)):
            day += 1
        yield self.env.timeout(max(0.0, day * 24.0 + 17.9 - self.env.now))
        order.delivered = day
        self.open_orders -= 1

"""The network of benches in simpy: one process an order, people called and freed by one dispatcher."""

from __future__ import annotations

from collections.abc import Generator
from heapq import heappop, heappush
from typing import Any

import simpy

from .common import Luck, Network


class Benches:
    """People, queues and what is counted; orders are processes that wait for a person and then work.

    Attributes
    ----------
    finish : list of float
        When each order is done.
    visits, worked, waited : list
        Sums by stage.
    events : int
        Arrivals and ended visits.
    """

    def __init__(self, network: Network, luck: Luck) -> None:
        n = network.stages
        self.env = simpy.Environment()
        self.luck, self.can = luck, network.can
        self.people_of = [[p for p, can in enumerate(network.can) if s in can] for s in range(n)]
        self.idle = [True] * len(network.can)
        self.queue: list[list[tuple[int, Any]]] = [[] for _ in range(n)]
        self.finish = [0.0] * len(luck.arrival)
        self.visits, self.worked, self.waited, self.events = [0] * n, [0.0] * n, [0.0] * n, 0

    def run(self) -> Benches:
        """Run until the last order is done."""
        self.env.process(self.arrivals())
        self.env.run()
        return self

    def arrivals(self) -> Generator[Any, Any, None]:
        """Let every order come at its time."""
        env, now = self.env, 0.0
        for o, time in enumerate(self.luck.arrival):
            yield env.timeout(time - now)
            now = time
            env.process(self.order(o))

    def order(self, o: int) -> Generator[Any, Any, None]:
        """Pass one order through its visits."""
        env, person = self.env, None
        self.events += 1
        for s, hours in zip(self.luck.route[o], self.luck.hours[o], strict=True):
            came, turn = env.now, env.event()
            heappush(self.queue[s], (o, turn))
            self.call(s)
            if person is not None:
                self.look(person)
            person = yield turn
            self.visits[s] += 1
            self.worked[s] += hours
            self.waited[s] += env.now - came
            yield env.timeout(hours)
            self.events += 1
        self.finish[o] = env.now
        if person is not None:
            self.look(person)

    def call(self, s: int) -> None:
        """Let the first idle person with the skill take the order that has just joined the queue."""
        for p in self.people_of[s]:
            if self.idle[p]:
                self.idle[p] = False
                heappop(self.queue[s])[1].succeed(p)
                return

    def look(self, p: int) -> None:
        """Give a person who has become free the earliest order among own queues."""
        best = None
        for s in self.can[p]:
            if self.queue[s] and (best is None or self.queue[s][0][0] < self.queue[best][0][0]):
                best = s
        if best is None:
            self.idle[p] = True
        else:
            heappop(self.queue[best])[1].succeed(p)


def play(network: Network, orders: int, seed: int, replication: int) -> Benches:
    """Draw and run one replication."""
    return Benches(network, Luck(network, orders, seed, replication)).run()

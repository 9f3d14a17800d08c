"""The common model: eleven stages, nine people with several skills each, two ways back, a year of 800 orders.

An invented shop. What every engine plays is the same list of draws: `Luck` makes it with numpy and scipy, independently of the kernel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtri

ORDERS, HOURS_A_YEAR = 800, 1760.0
MASK = (1 << 64) - 1
GOLDEN = 0x9E3779B97F4A7C15
FOR_HOURS, FOR_WAY, FOR_GAP = 0, 2, 13
"""Purposes of a draw, as numbered in the kernel."""


@dataclass(frozen=True)
class Network:
    """An open network of benches: who can do what, how long it takes, where orders go.

    `ways[s]` is a list of (chance, next stage) after stage s, the last with the rest; the number of stages means out. `enters` alike.
    """

    gap: float
    mean: Any
    sd: Any
    can: tuple[tuple[int, ...], ...]
    enters: tuple[tuple[float, int], ...]
    ways: tuple[tuple[tuple[float, int], ...], ...]
    law: int = 0

    @property
    def stages(self) -> int:
        """Number of stages."""
        return len(self.mean)

    def arrays(self) -> dict[str, Any]:
        """Return the arguments of `kernel.run_network` that describe the network."""
        n = self.stages
        usual, word, onward = np.zeros(n + 1, np.uint64), np.full(n + 1, MASK, np.uint64), np.zeros((n + 1, n + 1))
        for row, ways in enumerate((self.enters, *self.ways)):
            chance = np.zeros(n + 1)
            for share, to in ways:
                chance[to] += share
            usual[row] = int(np.argmax(chance))
            if chance.max() < 1.0:
                word[row], onward[row] = 0, np.cumsum(chance)
            onward[row, -1] = 2.0
        return {
            "gap": self.gap,
            "law": self.law,
            "mean": self.mean,
            "sd": self.sd,
            "usual": usual,
            "usual_word": word,
            "onward": onward,
            "people_of": np.array([sum(1 << p for p, can in enumerate(self.can) if s in can) for s in range(n)], np.uint64),
            "stages_of": np.array([sum(1 << s for s in can) for can in self.can], np.uint64),
        }


def common(orders: int = ORDERS) -> Network:
    """Return the common model; hours an order shrink in proportion when more orders come in the year, so that the load stays."""
    shrink = ORDERS / orders
    hours = np.array([0.6, 0.9, 1.3, 1.0, 1.5, 1.9, 3.3, 1.3, 1.5, 2.0, 0.8]) * shrink
    sd = np.full(11, 0.45)
    ways = [((1.0, s + 1),) for s in range(11)]
    ways[7] = ((0.12, 6), (0.88, 8))
    ways[9] = ((0.08, 8), (0.92, 10))
    can = ((0, 1, 2), (1, 2, 3), (3, 4), (4, 5), (5, 6), (6,), (6, 7), (7, 8, 9), (8, 9, 10))
    return Network(HOURS_A_YEAR / orders, np.log(hours) - sd**2 / 2, sd, can, ((1.0, 0),), tuple(ways))


def mix(word: Any) -> Any:
    """Return the splitmix64 finaliser of an array of words."""
    word = (word ^ (word >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    word = (word ^ (word >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return word ^ (word >> np.uint64(31))


def unit(word: Any) -> Any:
    """Return even draws in (0, 1) from the upper 53 bits."""
    return ((word >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53


class Luck:
    """All draws of one replication: gaps between orders, and for each order its stages and hours, visit by visit.

    Attributes
    ----------
    arrival : list of float
        When each order comes.
    route : list of list of int
        Stages of each order's visits.
    hours : list of list of float
        Hours of each order's visits.
    way, first_visit : int
        Purpose of the draw that sends orders back, and the number under which it counts the first visit.
    """

    def __init__(self, network: Network, orders: int, seed: int, replication: int, way: int = FOR_WAY, first_visit: int = 1) -> None:
        self.way, self.first_visit = way, first_visit
        with np.errstate(over="ignore"):
            first = mix(np.uint64((seed * GOLDEN + 1) & MASK))
            self.stream = mix(first + np.uint64(replication * GOLDEN & MASK))
            self._draw(network, orders)

    def _draw(self, network: Network, orders: int) -> None:
        n = network.stages
        gaps = -network.gap * np.log(self._even(FOR_GAP, np.arange(orders), 0, 0))
        self.arrival = np.cumsum(gaps).tolist()
        order = np.arange(orders)[:, None]
        first = np.exp(network.mean + network.sd * ndtri(self._even(FOR_HOURS, order, np.arange(n), 0))).tolist()
        chance = [[share for share, _ in ways] for ways in network.ways]
        drawn = [s for s in range(n) if len(network.ways[s]) > 1]
        way = dict(zip(drawn, self._even(self.way, order, np.array(drawn, int), self.first_visit).T.tolist(), strict=True)) if drawn else {}
        enters = self._even(FOR_WAY, np.arange(orders), 63, 0) if len(network.enters) > 1 else np.zeros(orders)
        self.route: list[list[int]] = []
        self.hours: list[list[float]] = []
        for o in range(orders):
            route, hours, visits = [], [], [0] * n
            s = _way(network.enters, enters[o])
            while s < n:
                visit = visits[s]
                visits[s] += 1
                route.append(s)
                hours.append(first[o][s] if visit == 0 else self._again(network, o, s, visit))
                if len(chance[s]) == 1:
                    s = network.ways[s][0][1]
                else:
                    s = _way(network.ways[s], way[s][o] if visit == 0 else float(self._even(self.way, o, s, visit + self.first_visit)))
            self.route.append(route)
            self.hours.append(hours)

    def _again(self, network: Network, o: int, s: int, visit: int) -> float:
        return float(np.exp(network.mean[s] + network.sd[s] * ndtri(self._even(FOR_HOURS, o, s, visit))))

    def _even(self, purpose: int, order: Any, stage: Any, visit: Any) -> Any:
        place = ((np.asarray(order) << 5 | purpose) << 12 | np.asarray(stage) << 6 | visit).astype(np.uint64)
        return unit(mix(self.stream + place * np.uint64(GOLDEN)))


def _way(ways: tuple[tuple[float, int], ...], u: float) -> int:
    """Return where a draw leads; ways are taken in the order of their stages, as the kernel's cumulative rows."""
    ways = tuple(sorted(ways, key=lambda way: way[1]))
    total = 0.0
    for share, to in ways[:-1]:
        total += share
        if u <= total:
            return to
    return ways[-1][1]


def play() -> None:
    """Play the common model once with the compiled kernel."""
    from shoplib.workshop.kernel import run_network

    network, out = common(), np.zeros((2, 1, ORDERS))
    run_network(7, 0, **network.arrays(), counted=(0, ORDERS), arrival=out[0], finish=out[1], totals=np.zeros((1, network.stages, 3)),
                events=np.zeros(1, np.int64))

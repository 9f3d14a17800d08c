"""Invented paths of gold, palladium and the dollar: weekday prices that pass through given knots."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from ..units import GRAMS_PER_TROY_OUNCE
from .parameters import LAST_DAY, World

SWING = 1.082
"""Gold in the shop's currency on the last day ÷ a month before."""
_BEFORE = date(LAST_DAY.year, 9, 30)
GOLD_KNOTS = (
    (date(2024, 1, 2), 66.0),
    (date(2024, 5, 1), 69.5),
    (date(2024, 10, 30), 73.0),
    (date(2025, 4, 30), 76.5),
    (date(2025, 10, 31), 79.0),
    (date(2026, 4, 30), 82.5),
    (_BEFORE, 83.0),
    (date(2026, 10, 30), 83.0 * SWING),
)
PALLADIUM_KNOTS = ((date(2024, 1, 2), 33.0), (date(2025, 3, 3), 30.0), (date(2026, 2, 2), 34.0), (date(2026, 10, 30), 36.0))
DOLLAR_KNOTS = ((date(2024, 1, 2), 0.915), (date(2025, 1, 15), 0.965), (date(2025, 9, 1), 0.86), (date(2026, 10, 30), 0.875))


@dataclass(frozen=True)
class Spot:
    """Weekday prices: gold and palladium in EUR a fine gram, the dollar in EUR."""

    days: tuple[date, ...]
    gold: tuple[float, ...]
    palladium: tuple[float, ...]
    dollar: tuple[float, ...]

    def on(self, day: date, metal: str = "gold") -> float:
        """Return the last price of `metal` on or before `day`, EUR a fine gram."""
        series: tuple[float, ...] = getattr(self, metal)
        return series[max(0, bisect_right(self.days, day) - 1)]

    def in_dollars(self, place: int, metal: str) -> float:
        """Return the published price of `metal` at `place`, dollars a troy ounce, to the cent."""
        series: tuple[float, ...] = getattr(self, metal)
        return round(series[place] * GRAMS_PER_TROY_OUNCE / self.dollar[place], 2)


def make_spot(world: World) -> Spot:
    """Draw the paths; they start in January 2024, or at the turn of the year before a longer history."""
    start = min(GOLD_KNOTS[0][0], date(world.first_day.year, 1, 2))
    days = [start + timedelta(days=n) for n in range((LAST_DAY - start).days + 1)]
    weekdays = tuple(day for day in days if day.weekday() < 5 and (day.month, day.day) not in ((1, 1), (12, 25)))
    paths = [
        _bridge(weekdays, knots, spread, Random(f"{world.seed} {name}"))
        for name, knots, spread in (
            ("gold", GOLD_KNOTS, 0.0085),
            ("palladium", PALLADIUM_KNOTS, 0.016),
            ("dollar", DOLLAR_KNOTS, 0.004),
        )
    ]
    return Spot(weekdays, *paths)


def _bridge(days: tuple[date, ...], knots: tuple[tuple[date, float], ...], spread: float, luck: Random) -> tuple[float, ...]:
    """A random walk of logarithms with heavy-tailed days, tilted between knots so that it passes through them."""
    walk = [0.0]
    turbulence = 1.0
    for _ in days[1:]:
        turbulence = 0.94 * turbulence + 0.06 * luck.expovariate(1.0)
        walk.append(walk[-1] + luck.gauss(0.0, spread * math.sqrt(turbulence)))
    first, last = knots[0], knots[-1]
    places = [bisect_right(days, max(day, days[0])) - 1 for day, _ in (first, *knots[1:-1], last)]
    wanted = [math.log(price) for _, price in knots]
    return tuple(math.exp(walk[i] + _tilt(i, places, wanted, walk)) for i in range(len(days)))


def _tilt(i: int, places: list[int], wanted: list[float], walk: list[float]) -> float:
    k = min(max(bisect_right(places, i) - 1, 0), len(places) - 2)
    left, right = places[k], places[k + 1]
    share = min(1.0, max(0.0, (i - left) / max(1, right - left)))
    return (1 - share) * (wanted[k] - walk[left]) + share * (wanted[k + 1] - walk[right])

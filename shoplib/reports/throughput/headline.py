"""The sentence at the top of the throughput report, one branch a function, and the stake under it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from ...workshop.limits import DEMAND
from ..sentences import Writing, count, missing, odds, short_odds

NO_BENCH = "demand"
LEAST_ORDERS = 20
"""Under this many orders delivered nothing is named; common practice, no source."""
CLEAR = 0.66
"""From this chance on one bench is named alone: "likely" of the likelihood words."""


@dataclass(frozen=True)
class Bench:
    """One bench as the headline needs it: skill, orders a year for one more hour a week with its range, chance that it limits."""

    skill: str
    gain: float
    low: float
    high: float
    chance: float


@dataclass(frozen=True)
class Told:
    """What the headline needs.

    Attributes
    ----------
    benches : tuple of Bench
        The likeliest to limit first; empty when the shop cannot be simulated.
    demand : float
        Chance that no bench limits.
    reason : str
        Why the shop cannot be simulated; empty when it can.
    orders_a_week : float
        Delivered; NaN without a delivery.
    orders : int
        Delivered in the period.
    months : int
        Whole months of the period.
    worth : float
        Contribution of a usual order, money; NaN when none was delivered.
    """

    benches: tuple[Bench, ...]
    demand: float
    reason: str
    orders_a_week: float
    orders: int
    months: int
    worth: float

    @property
    def thin(self) -> bool:
        """Whether the history is too short to name what limits."""
        return not self.benches or self.orders < LEAST_ORDERS

    @property
    def ranked(self) -> list[tuple[str, float]]:
        """Benches and demand with the chance that each limits, the likeliest first; demand first of equals."""
        named = [(NO_BENCH, self.demand), *((bench.skill, bench.chance) for bench in self.benches)]
        return sorted(named, key=lambda one: -one[1])


def ranked(limits: pd.DataFrame) -> tuple[float, tuple[Bench, ...]]:
    """Return the chance that demand limits, and the benches, the likeliest to limit first, from a table of limits."""
    own = limits[limits["skill"] != DEMAND].sort_values(["limiting_probability", "orders_per_extra_hour"], ascending=False, kind="stable")
    names = ["orders_per_extra_hour", "low", "high", "limiting_probability"]
    numbers = own[names].to_numpy(float).tolist()
    demand = float(limits.loc[limits["skill"] == DEMAND, "limiting_probability"].astype(float).sum())
    return demand, tuple(Bench(str(skill), *row) for skill, row in zip(own["skill"], numbers, strict=True))


def headline(told: Told, writing: Writing) -> str:
    """Return the headline: what limits output, how sure that is, and what an hour more there finishes."""
    if told.thin:
        return _unknown(told, writing)
    (name, chance), *others = told.ranked
    if chance < CLEAR and others:
        return _unclear((name, chance), others[0], told, writing)
    return _demand(told, writing) if name == NO_BENCH else _one(told.benches[0], writing)


def stake(told: Told, writing: Writing) -> str:
    """Return what the hour is worth in money, and the next best bench."""
    if not told.benches:
        return "Job cards with stage, person and hours for some months let the shop be simulated; until then the pages below are counted."
    if told.thin:
        return "What is simulated below rests on very few orders: take it as a sketch."
    if told.ranked[0][0] == NO_BENCH:
        return "More hours at a bench shorten the wait, not the list of customers: ask for orders before hours."
    return f"{_worth(told.benches[0], told, writing)}{_next(told, writing)}"


def first_up(text: str) -> str:
    """Return `text` with a capital first letter."""
    return text[:1].upper() + text[1:]


def period_words(months: int) -> str:
    """Return the period: the last month, 12 months."""
    return "the last month" if months == 1 else f"{months}\u00a0months"


def gain_words(gain: float, writing: Writing) -> str:
    """Return orders a year for a sentence: whole from 10 on, one decimal below, none below 0."""
    return writing.number(max(gain, 0.0), 0 if gain >= 10 else 1)


def _one(top: Bench, writing: Writing) -> str:
    gain = gain_words(top.gain, writing)
    return (
        f"It is {odds(top.chance)} that {top.skill} limits output: while orders are waiting, "
        f"one more hour a week there finishes {gain} more a year."
    )


def _unclear(first: tuple[str, float], second: tuple[str, float], told: Told, writing: Writing) -> str:
    ends = [f"{name} ({short_odds(chance)})" for name, chance in (first, second)]
    return (
        f"Too close to call whether {ends[0]} or {ends[1]} limits output; "
        f"one more hour a week finishes at most {_most(told, writing)} orders more a year."
    )


def _demand(told: Told, writing: Writing) -> str:
    return (
        f"It is {odds(told.demand)} that demand, not a bench, limits output: "
        f"one more hour a week finishes at most {_most(told, writing)} orders more a year."
    )


def _most(told: Told, writing: Writing) -> str:
    return gain_words(max(bench.gain for bench in told.benches), writing)


def _unknown(told: Told, writing: Writing) -> str:
    if not told.orders:
        return f"No order was delivered in {period_words(told.months)}: what limits the workshop cannot be told yet."
    if told.benches:
        few = count(told.orders, "order", writing=writing)
        return f"Too little to tell what limits the workshop: {few} delivered in {period_words(told.months)}, {LEAST_ORDERS} are needed."
    pace = writing.number(told.orders_a_week, 1)
    return f"What limits the workshop cannot be told from these tables; {pace} orders a week were delivered in {period_words(told.months)}."


def _worth(top: Bench, told: Told, writing: Writing) -> str:
    if missing(told.worth):
        return "What such an hour is worth in money cannot be told: no order was delivered in the period. "
    each = writing.money(told.worth, step=10.0 if abs(told.worth) >= 100 else 1.0)
    return f"That hour is worth {writing.about(top.gain * told.worth)} a year, at {each} an order before regular wages. "


def _next(told: Told, writing: Writing) -> str:
    others = sorted(told.benches[1:], key=lambda bench: -bench.gain)
    if not others:
        return ""
    best = others[0]
    gain = gain_words(best.gain, writing)
    return f"The next bench is {best.skill}: {gain} orders a year for the same hour."

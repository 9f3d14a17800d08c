"""The sentence at the top of the throughput report, one branch a function, and the stake under it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from ...workshop.limits import DEMAND
from ..sentences import Writing, missing, odds, short_odds

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


def ranked(limits: pd.DataFrame) -> tuple[float, tuple[Bench, ...]]:
    """Return the chance that demand limits, and the benches, the likeliest to limit first, from a table of limits."""
    own = limits[limits["skill"] != DEMAND].sort_values(["limiting_probability", "orders_per_extra_hour"], ascending=False, kind="stable")
    names = ["orders_per_extra_hour", "low", "high", "limiting_probability"]
    numbers = own[names].to_numpy(float).tolist()
    demand = float(limits.loc[limits["skill"] == DEMAND, "limiting_probability"].astype(float).sum())
    return demand, tuple(Bench(str(skill), *row) for skill, row in zip(own["skill"], numbers, strict=True))


def headline(told: Told, writing: Writing) -> str:
    """Return the headline: what limits output, how sure that is, and what an hour more there finishes."""
    if not told.benches:
        return _unknown(told, writing)
    top = told.benches[0]
    if told.demand >= max(top.chance, 0.5):
        return _demand(told, writing)
    if top.chance >= CLEAR or len(told.benches) < 2:
        return _one(top, writing)
    return _unclear(told, writing)


def stake(told: Told, writing: Writing) -> str:
    """Return what the hour is worth in money, and the next best bench."""
    if not told.benches:
        return "Job cards with stage, person and hours for some months let the shop be simulated; until then the pages below are counted."
    top = told.benches[0]
    if told.demand >= max(top.chance, 0.5):
        return "More hours at a bench shorten the wait, not the list of customers: ask for orders before hours."
    return f"{_worth(top, told, writing)}{_next(told, writing)}"


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


def _unclear(told: Told, writing: Writing) -> str:
    first, second = told.benches[:2]
    best = max(first, second, key=lambda bench: bench.gain)
    gain = gain_words(best.gain, writing)
    ends = [f"{bench.skill} ({short_odds(bench.chance)})" for bench in (first, second)]
    return f"Too close to call whether {ends[0]} or {ends[1]} limits output; one more hour a week finishes up to {gain} orders more a year."


def _demand(told: Told, writing: Writing) -> str:
    best = max(told.benches, key=lambda bench: bench.gain)
    gain = gain_words(best.gain, writing)
    return f"No bench limits output, demand does: {odds(told.demand)}. One more hour a week finishes at most {gain} orders more a year."


def _unknown(told: Told, writing: Writing) -> str:
    if not told.orders:
        return f"No order was delivered in {period_words(told.months)}: what limits the workshop cannot be told yet."
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

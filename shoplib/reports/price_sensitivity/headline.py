"""The sentence at the top of the price report, one branch a function, and the stake under it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..sentences import SPACE, Writing, count, cut, listed

MOST_WORDS = 30
LEAST_CHANGE = 5e-4
"""A smaller move of spot is none."""


@dataclass(frozen=True)
class Told:
    """What headline and stake need.

    Attributes
    ----------
    metal : str
        Main metal.
    lines, short : int
        Lines of the list, and those that miss the target.
    first : tuple of str
        The lines with most money at stake.
    change : float
        Spot against the day the prices were struck (by money of the lines); NaN without prices.
    money : float
        A year of new prices, money.
    quote_days : float
        Days a quote of the usual line may stand; NaN when not known.
    """

    metal: str
    lines: int
    short: int
    first: tuple[str, ...]
    change: float
    money: float
    quote_days: float

    @property
    def known(self) -> bool:
        """Whether there are lines and a price of their metal."""
        return self.lines > 0 and not math.isnan(self.change)


def headline(told: Told, writing: Writing) -> str:
    """Return which prices must move, or that none must."""
    if not told.lines:
        return "There is no price to look at yet: neither a price list nor an order at a fixed price."
    if math.isnan(told.change):
        return f"The {told.lines} prices cannot be judged: {told.metal or 'the metal'} has no price. Add it to metal_prices."
    stands = _stands(told, writing, "the price they were struck at" if told.short else "its price when they were struck")
    if told.short:
        names = [cut(name, 40).replace(" · ", " ") for name in told.first]
        rest = f"first: {stands}, {told.short} of {told.lines} lines miss the target."
        both = f"Raise {listed(names, 2)} {rest}"
        return both if len(both.replace(SPACE, " ").split()) <= MOST_WORDS else f"Raise {names[0]} {rest}"
    if told.money < 0:
        spare = writing.money(-told.money, step=100.0)
        return f"No price needs raising: {stands}; {told.lines} lines meet the target with {spare} a year to spare."
    return f"No price needs raising: {stands}, and all {told.lines} lines meet the target."


def _stands(told: Told, writing: Writing, at: str) -> str:
    if abs(told.change) < LEAST_CHANGE:
        return f"{told.metal} stands where it did when they were struck"
    return f"{told.metal} stands {writing.percent(abs(told.change))} {'above' if told.change >= 0 else 'below'} {at}"


def stake(told: Told, writing: Writing) -> str:
    """Return what the new prices would bring and how long a quote may stand."""
    if not told.known:
        return "The report fills once lines and metal prices are there."
    brings = "bring" if told.money >= 0 else "cost"
    money = f"The new prices would {brings} {writing.money(abs(told.money), step=1000.0)} a year if customers order as before."
    if math.isnan(told.quote_days):
        return money
    if told.quote_days < 1:
        return f"{money} A quote of the usual line holds for the day it is given."
    return f"{money} A quote of the usual line may stand {count(int(told.quote_days), 'day', writing=writing)}.".replace(f" {SPACE}", " ")

"""The sentence at the top of the margin report, one branch a function, and the stake under it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from ..sentences import Writing

FULL = 0.9
"""A bench that books nine tenths of its available hours is full: only then does an hour there rank what to make."""


@dataclass(frozen=True)
class Told:
    """What the headline needs.

    Attributes
    ----------
    orders : int
        Orders delivered in the period.
    months : int
        Whole months of the period.
    making_margin, making_charge : float
        Sums over them, money.
    bench : str
        The limiting bench, empty when none is known.
    load : float
        Its booked ÷ available hours; NaN when unknown.
    styles : DataFrame
        Groups by style: group, n, rank, contribution_per_limiting_hour, low, high.
    limits : bool
        The simulator finds that the bench limits output, whatever its load.
    paid : bool
        Hours and wages are written, so that labour costs something.
    """

    orders: int
    months: int
    making_margin: float
    making_charge: float
    bench: str
    load: float
    styles: pd.DataFrame
    limits: bool = False
    paid: bool = True

    @property
    def scarce(self) -> bool:
        """Whether an hour at the bench ranks what to make."""
        return self.limits or self.load >= FULL


def headline(told: Told, writing: Writing) -> str:
    """Return the headline: what the benches earned and, where an hour there is scarce, which style uses it best and worst."""
    if not told.orders:
        return f"No order was delivered in {_months(told.months)}: there is no margin to show yet."
    return f"{_earned(told, writing)}; {_ranking(told, writing)}."


def best_and_worst(styles: pd.DataFrame) -> tuple[pd.Series, pd.Series] | None:
    """Return the ranked styles at both ends when their 80 % ranges do not touch, else None."""
    ranked = styles[styles["rank"].notna() & styles["low"].notna()].sort_values("rank")
    if len(ranked) < 2 or ranked["low"].iloc[0] <= ranked["high"].iloc[-1]:
        return None
    return ranked.iloc[0], ranked.iloc[-1]


def _months(n: int) -> str:
    return "the last month" if n == 1 else f"{n}\u00a0months"


def _earned(told: Told, writing: Writing) -> str:
    verb = "earned" if told.making_margin >= 0 else "lost"
    money = writing.money(abs(told.making_margin), step=100.0)
    text = f"In {_months(told.months)} the benches {verb} {money} before {'overheads' if told.paid else 'labour, which nobody wrote down'}"
    if told.making_charge <= 0 or not told.paid:
        return text
    share = writing.percent(abs(told.making_margin) / told.making_charge)
    return f"{text} and unbooked pay ({share} of making charges)"


def _ranking(told: Told, writing: Writing) -> str:
    if not told.bench:
        return "without hours per stage no bench can be ranked by"
    if not told.scarce:
        return "no bench is full: rank chains by margin, not by the hour"
    ends = best_and_worst(told.styles)
    if ends is None:
        return f"no style clearly brings more than another an hour at {told.bench}"
    best, worst = (writing.money(end["contribution_per_limiting_hour"], step=1.0) for end in ends)
    return f"{ends[0]['group']} brings {best} an hour at {told.bench}, {ends[1]['group']} {worst}"


def stake(told: Told, result: float, writing: Writing) -> str:
    """Return the sentence under the headline: what was left after everything, and what one scarce hour is worth between the ends."""
    if not told.orders:
        return "The report fills once orders carry a delivery date and a finished weight."
    left = f"After overheads, unbooked pay and metal result {writing.money(result, step=100.0)} was left."
    ends = best_and_worst(told.styles) if told.scarce else None
    if ends is None:
        return left
    gap = ends[0]["contribution_per_limiting_hour"] - ends[1]["contribution_per_limiting_hour"]
    return f"{left} An hour at {told.bench} moved from {ends[1]['group']} to {ends[0]['group']} is worth {writing.money(gap, step=1.0)}."

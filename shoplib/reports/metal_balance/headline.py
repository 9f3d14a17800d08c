"""The sentence at the top of the metal balance, one branch a function, and the stake under it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from ..sentences import Writing, day, month

CHECK = "check scale, fineness, scrap and filings lot first"


@dataclass(frozen=True)
class Told:
    """What the headline needs, of the metal shown first.

    Attributes
    ----------
    metal : str
        Its name; empty when the shop has worked none.
    reason : str
        Why nothing can be called missing (see `metal.whole.OneMetal.cannot_tell`); empty when the test speaks.
    alarm, at_once : bool
        The test calls metal missing; it went between two counts.
    missing_g : float
        Fine grams missing.
    began, ended : date or None
        The two counts between which it went or began to go.
    from_, to : date or None
        The last two counts.
    unexplained_g, low_g, high_g : float
        Between them, with the 95 % range; NaN without two counts.
    delivered_g, lost_g, assumed_g : float
        Over the whole record: in pieces delivered, recorded loss, and what of it was assumed.
    spot : float
        Money per g fine; NaN without a price.
    drift_g, drift_months : float
        Half of the 95 % range over all counts, and the months between the first and the last of them.
    tolerance_permille : float
        Half-width of the fineness of an alloy.
    overdue_g : float
        At the refiner beyond its day.
    """

    metal: str
    reason: str = ""
    alarm: bool = False
    at_once: bool = False
    missing_g: float = math.nan
    began: date | None = None
    ended: date | None = None
    from_: date | None = None
    to: date | None = None
    unexplained_g: float = math.nan
    low_g: float = math.nan
    high_g: float = math.nan
    delivered_g: float = 0.0
    lost_g: float = 0.0
    assumed_g: float = 0.0
    spot: float = math.nan
    drift_g: float = math.nan
    drift_months: float = math.nan
    tolerance_permille: float = 1.0
    overdue_g: float = 0.0


def headline(told: Told, writing: Writing) -> str:
    """Return the headline: metal missing, metal found, nothing beyond what weighing can hide, or why it cannot be told."""
    if not told.metal:
        return "No metal was worked up to this day: there is nothing to balance yet."
    if told.alarm:
        return _missing(told, writing)
    if told.reason and told.reason != "few_counts":
        return _cannot_tell(told, writing)
    if told.high_g < 0:
        return _too_much(told, writing)
    if told.reason:
        return _few_counts(told, writing)
    return f"Nothing shows as missing; between the last two counts up to {_grams(told.high_g, told, writing)} could be missing unseen."


def _grams(grams: float, told: Told, writing: Writing) -> str:
    money = "" if math.isnan(told.spot) else f" ({_money(grams, told, writing)})"
    return f"{writing.unit(grams, f'g of fine {told.metal}', 1)}{money}"


def _money(grams: float, told: Told, writing: Writing) -> str:
    amount = grams * told.spot
    return writing.money(amount, step=10.0 if abs(amount) >= 100 else 1.0)


def _between(first: date | None, last: date | None) -> str:
    return f"between {day(first)} and {day(last)}"


def _missing(told: Told, writing: Writing) -> str:
    when = _between(told.began, told.ended) if told.at_once else f"since {month(told.ended)}"
    return f"{_grams(told.missing_g, told, writing)} is unexplained {when}, more than weighing hides: {CHECK}."


def _too_much(told: Told, writing: Writing) -> str:
    return (
        f"{_grams(-told.unexplained_g, told, writing)} more was counted on {day(told.to)} than the books hold: "
        "look for an unwritten purchase or customer's metal."
    )


def _few_counts(told: Told, writing: Writing) -> str:
    if told.low_g > 0:
        span = writing.span(told.low_g, told.high_g, 1)
        money = "" if math.isnan(told.spot) else f", {_money(told.unexplained_g, told, writing)},"
        grams = f"{writing.unit(told.unexplained_g, 'g', 1)} ({span}) of fine {told.metal}{money}"
        return f"{grams} is unexplained {_between(told.from_, told.to)}: {CHECK}."
    unseen = _grams(told.high_g, told, writing)
    return f"Nothing shows as missing yet; {_between(told.from_, told.to)} up to {unseen} could be missing unseen."


def _cannot_tell(told: Told, writing: Writing) -> str:
    lost, delivered = writing.number(told.lost_g), writing.number(told.delivered_g)
    why = {
        "no_ledger": f"there is no metal ledger; the job cards show {delivered} g fine delivered and {lost} g lost",
        "no_count": f"the safe was never counted; the job cards show {delivered} g fine delivered and {lost} g lost",
        "one_count": f"the safe was counted once, on {day(told.from_)}; a second count closes the first balance",
        "no_cards": f"no job card says when metal left the safe for the {delivered} g fine delivered",
        "assumed": f"{writing.number(told.assumed_g)} of {lost} g fine lost was assumed, not weighed",
    }[told.reason]
    return f"Whether {told.metal} is missing cannot be told: {why}."


def stake(told: Told, writing: Writing) -> str:
    """Return what stands under the headline: what being wrong costs, and the next thing to do."""
    parts = []
    if told.alarm:
        parts.append("Most such gaps turn out to be a slip of the books, scales, sweeps or timing; the figure names no person.")
    if told.reason:
        parts.append(NEXT[told.reason])
    elif not math.isnan(told.drift_g):
        drift = writing.unit(told.drift_g, "g", 0)
        permille = writing.number(told.tolerance_permille, 1 if told.tolerance_permille % 1 else 0)
        parts.append(
            f"Over {writing.number(told.drift_months)} months a slow drift of up to {drift} could hide behind a fineness "
            f"{permille}‰ off; an assay of the melt settles it."
        )
    if told.overdue_g > 0:
        parts.append(f"{_grams(told.overdue_g, told, writing)} is overdue at the refiner.")
    return " ".join(parts)


NEXT = {
    "no_ledger": "Write purchases, sales, refiner's returns and counts of the safe into metal_ledger; two counts make the first balance.",
    "no_count": "Count all metal in the safe at the end of a day and write it as stock_count; do it once a month.",
    "one_count": "Count once a month; after five counts a leak can be told from weighing.",
    "few_counts": "From four balances between counts on, a leak is told from weighing; count once a month.",
    "no_cards": "Book each order at the stage that takes metal, with the weight given out.",
    "assumed": "Weigh each order when metal is given out and when it is finished; what is weighed can be balanced.",
}
"""What would settle it, by reason."""

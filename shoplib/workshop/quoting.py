"""Quoting rule: the weeks a customer is told, as a straight line in the orders open at that moment.

Fitted to the weeks named in quotes, else to first promise − order date; rounded as in the past. A shop "never under 3 weeks" is told
by quotes that pile up there: the least (most) weeks ever quoted bound the rule only where the line would have gone beyond them more
often than chance lets be missed. Else they are only how far the queue has come so far, and a plan may bring it further.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from ..intake.shop import Finding, Shop
from .arrays import Days, Floats

STEPS = (1.0, 0.5)
"""Roundings looked for, weeks."""
ROUNDED_SHARE = 0.95
RECENT_DAYS = 730
"""Quotes and promises of the last two years tell of today's habits."""
LEAST_VARIANCE = 1e-6
FEW = 20
BEYOND = 4.6
"""Quotes expected beyond the least or most ever quoted from which that is a bound: none by chance where so many are due, 1 in 100."""
LEAST_WEEKS, MOST_WEEKS = 0.0, 104.0
"""Nothing is quoted beyond, whatever waits; two years are taken to be the longest anybody would write down (no source)."""
PRIOR_WEEKS = 4.0
"""Weeks quoted by a shop that says nothing; common practice, no source."""
PRIOR_SLOPE_SD = 0.3
"""Of a shop with few quotes: weeks an open order."""


@dataclass(frozen=True)
class Quoting:
    """Weeks = a + b · open + sd · z, rounded to `step` (0: not), within low … high. Row 0 the estimate, the rest draws."""

    a: Floats
    b: Floats
    sd: Floats
    step: float
    low: float
    high: float
    n: int
    findings: tuple[Finding, ...]

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of `Workshop` this part fills."""
        return {
            "quote_a": self.a,
            "quote_b": self.b,
            "quote_sd": self.sd,
            "quote_step": self.step,
            "quote_low": self.low,
            "quote_high": self.high,
        }


def quoted_weeks(shop: Shop, as_of: date) -> tuple[Floats, Floats]:
    """Return weeks quoted and orders open at that moment: from quotes, else from first promises, of the last two years."""
    orders, quotes = shop["orders"], shop["quotes"]
    day, weeks = quotes["quoted_on"].to_numpy("datetime64[D]"), quotes["lead_weeks"].to_numpy(float)
    if not np.isfinite(weeks).any():
        day = orders["ordered_on"].to_numpy("datetime64[D]")
        promise = orders["first_promised_on"].fillna(orders["promised_on"]).to_numpy("datetime64[D]")
        weeks = np.where(np.isnat(promise), np.nan, (promise - day).astype(np.int64) / 7.0)
    recent = (np.datetime64(as_of, "D") - day).astype(np.int64) < RECENT_DAYS
    return weeks[recent], open_orders_on(shop, day[recent])


def open_orders_on(shop: Shop, days: Days) -> Floats:
    """Return how many orders were open at the begin of each day."""
    orders = shop["orders"]
    closed = orders["delivered_on"].fillna(orders["cancelled_on"]).to_numpy("datetime64[D]")
    begun, ended = np.sort(orders["ordered_on"].to_numpy("datetime64[D]")), np.sort(closed[~np.isnat(closed)])
    return (np.searchsorted(begun, days) - np.searchsorted(ended, days)).astype(float)


def fit_quoting(weeks: Floats, n_open: Floats, rng: np.random.Generator, draws: int) -> Quoting:
    """Fit the quoting rule.

    Parameters
    ----------
    weeks : Floats, shape (n,)
        Weeks quoted.
    n_open : Floats, shape (n,)
        Orders open at that moment.
    rng : Generator
        Of the draws.
    draws : int
        Number of draws beside the estimate.
    """
    known = np.isfinite(weeks) & np.isfinite(n_open) & (weeks >= 0)
    told, load = weeks[known], n_open[known]
    if len(told) < FEW:
        return _assumed(told, draws)
    step = rounding_step(told)
    design = np.column_stack([np.ones(len(load)), load - load.mean()])
    gram = design.T @ design + np.diag([0.0, 1e-9])
    line = np.linalg.solve(gram, design.T @ told)
    freedom = len(told) - 2
    variance = max(float(np.sum((told - design @ line) ** 2)) / freedom, LEAST_VARIANCE)
    scale = np.concatenate([[1.0], freedom / rng.chisquare(freedom, draws)])
    ridge = np.diag([0.0, variance / PRIOR_SLOPE_SD**2])
    root = np.linalg.cholesky(np.linalg.inv(gram + ridge) * variance)
    steps = np.concatenate([np.zeros((1, 2)), rng.standard_normal((draws, 2)) @ root.T])
    middle, slope = (line + steps).T
    sd = np.sqrt(np.maximum(variance * scale - step**2 / 12, 0.0))
    low, high = _bounds(told, design @ line, max(float(sd[0]), LEAST_VARIANCE), step)
    return Quoting(middle - slope * load.mean(), slope, sd, step, low, high, len(told), ())


def _bounds(told: Floats, middle: Floats, sd: float, step: float) -> tuple[float, float]:
    """Return the weeks nothing is quoted below and above: those of the past where quotes pile up at them, else no bound but sense."""
    from scipy.special import ndtr

    low, high = float(told.min()), float(told.max())
    under, over = (float(ndtr(sign * (end - middle) / sd - step / (2 * sd)).sum()) for sign, end in ((1, low), (-1, high)))
    return low if under >= BEYOND else min(step or LEAST_WEEKS, low), high if over >= BEYOND else max(MOST_WEEKS, high)


def rounding_step(weeks: Floats) -> float:
    """Return the widest of `STEPS` to whose multiples nearly all of `weeks` are rounded, 0 when none."""
    for step in STEPS:
        if np.mean(np.abs(weeks / step - np.round(weeks / step)) < 0.02) >= ROUNDED_SHARE:
            return step
    return 0.0


def _assumed(told: Floats, draws: int) -> Quoting:
    usual = float(np.mean(told)) if len(told) else PRIOR_WEEKS
    sd = float(np.std(told)) if len(told) > 2 else usual / 4
    low, high = (float(told.min()), float(told.max())) if len(told) else (usual, usual)
    text = (
        f"Only {len(told)} quotes or promises name a date: the shop is taken to quote {usual:.1f} weeks whatever waits. "
        "Fill lead_weeks in quotes, or first_promised_on in orders."
    )
    one = np.ones(1 + draws)
    return Quoting(
        usual * one, 0.0 * one, sd * one, 0.0, low, high, len(told), (Finding("note", "quoting_assumed", text, "quotes.lead_weeks"),)
    )

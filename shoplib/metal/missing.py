"""Is metal missing? A sequential test on what is left unexplained from count to count.

The test is a one-sided cumulative sum (E. S. Page, *Continuous inspection schemes*, Biometrika 41, 1954): what is
unexplained, in standard deviations, is added up above a reference of one half; an alarm is raised when the sum passes a
threshold that a shop without a leak passes in 2 of 100 whole histories. The error of fineness that all melts of an
alloy share grows with the grams delivered: it is a slope, taken out first and shown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .tolerance import COVERAGE, even_u

Floats = NDArray[np.float64]

REFERENCE = 0.5
"""Allowance of the cumulative sum in standard deviations: half of the shift that is looked for (Page 1954)."""
FALSE_ALARMS = 0.02
"""Share of whole histories without a leak in which the test may raise an alarm."""
FEWEST_COUNTS = 4
"""Balances between counts below which the shop's own spread cannot be told and nothing is called missing."""
MAD_TO_SD = 1.4826
_HISTORIES = 20_000
_SEED = 1954


@dataclass(frozen=True)
class Drift:
    """The shared error of fineness, by alloy.

    Attributes
    ----------
    permille : ndarray, shape (n_alloys,)
        What a gram delivered really held above its stated fineness, per mille.
    u_permille : ndarray, shape (n_alloys,)
        Its standard uncertainty.
    grams : ndarray, shape (n_periods,)
        Fine grams it explains in each balance.
    """

    permille: Floats
    u_permille: Floats
    grams: Floats


@dataclass(frozen=True)
class Missing:
    """What the sequential test says.

    Attributes
    ----------
    tested : bool
        False where there are too few balances between counts.
    alarm : bool
        True when metal is missing.
    first, last : int
        The balances in which the most likely change happened: one when the metal went at once, up to the last one when it
        goes on; −1 without an alarm.
    at_once : bool
        True when one balance explains it best.
    grams, low, high : float
        Fine grams missing since then, and their 95 % range; NaN without an alarm.
    sd : ndarray, shape (n_periods,)
        Standard deviation used for each balance, g fine.
    cusum : ndarray, shape (n_periods,)
        The cumulative sum, in standard deviations.
    threshold : float
        Where the alarm is raised.
    seen_at_once_g : float
        Fine grams that would have been seen 9 times in 10 had they gone between the last two counts.
    drift : Drift
        What was taken out first.
    miscounted : tuple of int
        Balances whose excess came back in the next one: a count was wrong.
    """

    tested: bool
    alarm: bool
    first: int
    last: int
    at_once: bool
    grams: float
    low: float
    high: float
    sd: Floats
    cusum: Floats
    threshold: float
    seen_at_once_g: float
    drift: Drift
    miscounted: tuple[int, ...] = ()


def look_for_missing(
    unexplained_g: Floats, independent_u: Floats, gross_delivered_g: Floats, tolerance_permille: float, false_alarms: float = FALSE_ALARMS
) -> Missing:
    """Run the sequential test over the balances of one metal, oldest first.

    Parameters
    ----------
    unexplained_g : ndarray, shape (n_periods,)
        Fine grams unexplained between counts, positive when missing.
    independent_u : ndarray, shape (n_periods,)
        Standard uncertainty of each from weighing alone, g fine.
    gross_delivered_g : ndarray, shape (n_periods, n_alloys)
        Grams gross delivered of each alloy.
    tolerance_permille : float
        Half-width of the fineness of an alloy.
    false_alarms : float
        Share of histories without a leak that may alarm.

    Notes
    -----
    The standard deviation of a balance is its part from weighing, not below 1.48 × the median absolute deviation of the
    shop's own balances. The change is the one balance, or the start of a lasting shift, that is most likely.
    """
    drift = fineness_drift(unexplained_g, independent_u, gross_delivered_g, tolerance_permille)
    left = unexplained_g - drift.grams
    sd, floor = spread(left, independent_u)
    scores = left / sd
    sums = cusum(scores)
    limit = threshold(len(left), floor, false_alarms)
    tested = len(left) >= FEWEST_COUNTS
    wrong = miscounts(scores, limit)
    seen = (limit + REFERENCE + 1.2816) * float(sd[-1]) if len(sd) else math.nan
    raised = tested and bool((cusum(_without(scores, wrong)) > limit).any())
    if not raised:
        return Missing(tested, False, -1, -1, False, math.nan, math.nan, math.nan, sd, sums, limit, seen, drift, wrong)
    first, at_once = change(_without(scores, wrong), sd)
    last = first if at_once else len(left) - 1
    grams = math.fsum(left[first : last + 1])
    half = COVERAGE * math.hypot(float(np.sqrt(np.sum(sd[first : last + 1] ** 2))), _drift_u(drift, gross_delivered_g[first : last + 1]))
    return Missing(True, True, first, last, at_once, grams, grams - half, grams + half, sd, sums, limit, seen, drift, wrong)


def _drift_u(drift: Drift, gross_g: Floats) -> float:
    return float(np.sqrt(np.sum((gross_g.sum(axis=0) * drift.u_permille / 1000.0) ** 2)))


def fineness_drift(unexplained_g: Floats, independent_u: Floats, gross_delivered_g: Floats, tolerance_permille: float) -> Drift:
    """Return the shared error of fineness of each alloy: a slope of the unexplained on the grams delivered.

    Shapes and units as in `look_for_missing`.

    Notes
    -----
    Fitted by Huber weights (P. J. Huber, *Robust estimation of a location parameter*, 1964), so that one bad month does
    not bend it, with the tolerance as prior: mean 0, standard deviation tolerance ÷ √3; kept within the tolerance.
    """
    grams = np.asarray(gross_delivered_g, dtype=float) / 1000.0
    count = grams.shape[1]
    if not tolerance_permille or not grams.any():
        return Drift(np.zeros(count), np.zeros(count), np.zeros(len(unexplained_g)))
    prior = np.eye(count) / even_u(tolerance_permille) ** 2
    slope: Floats = np.zeros(count)
    weight: Floats = np.ones(len(grams))
    information = np.asarray(prior, dtype=float)
    for _ in range(25):
        scale = spread(unexplained_g - grams @ slope, independent_u)[0]
        precision = weight / scale**2
        information = np.asarray((grams.T * precision) @ grams + prior, dtype=float)
        slope = np.linalg.solve(information, (grams.T * precision) @ unexplained_g)
        weight = np.minimum(1.0, 1.345 / np.maximum(np.abs(unexplained_g - grams @ slope) / scale, 1e-12))
    slope = np.clip(slope, -tolerance_permille, tolerance_permille)
    return Drift(slope, np.sqrt(np.diag(np.linalg.inv(information))), grams @ slope)


def spread(left_g: Floats, independent_u: Floats) -> tuple[Floats, float]:
    """Return the standard deviation of each balance, g fine, and the share of it that weighing alone explains.

    The part from weighing is raised, by one factor for all balances, to 1.48 × the median absolute deviation of the shop's own.
    """
    floor = np.maximum(np.asarray(independent_u, dtype=float), 1e-6)
    if len(left_g) < 2:
        return floor, 1.0
    relative = left_g / floor
    own = MAD_TO_SD * float(np.median(np.abs(relative - np.median(relative))))
    factor = max(1.0, own)
    return floor * factor, 1.0 / factor


def cusum(scores: Floats) -> Floats:
    """Return Page's cumulative sum of standardised scores above the reference, never below zero; works along the last axis."""
    sums = np.empty_like(scores, dtype=float)
    level = np.zeros(scores.shape[:-1])
    for t in range(scores.shape[-1]):
        level = np.maximum(0.0, level + scores[..., t] - REFERENCE)
        sums[..., t] = level
    return sums


def threshold(n_periods: int, floor: float, false_alarms: float = FALSE_ALARMS) -> float:
    """Return the threshold that a history of `n_periods` balances without a leak passes with chance `false_alarms`.

    Parameters
    ----------
    n_periods : int
        Balances between counts.
    floor : float
        Share of the standard deviation that weighing explains (1: it is known; near 0: it comes from the balances alone).
    false_alarms : float
        Chance over the whole history.

    Notes
    -----
    By simulation with a fixed seed, because the standard deviation may itself be estimated from the same balances.
    """
    if n_periods < 1:
        return math.inf
    histories = int(np.clip(1_200_000 // n_periods, 4_000, _HISTORIES))
    draws = np.random.default_rng(_SEED).standard_normal((histories, n_periods))
    middle = np.median(draws, axis=1, keepdims=True)
    own = MAD_TO_SD * np.median(np.abs(draws - middle), axis=1, keepdims=True)
    highest = cusum(draws / np.maximum(own, floor)).max(axis=1)
    return float(np.quantile(highest, 1.0 - false_alarms))


def change(scores: Floats, sd: Floats) -> tuple[int, bool]:
    """Return the balance in which metal most likely began to be missing, and whether it went at once.

    Notes
    -----
    Maximum likelihood over one balance that differs and over a lasting shift from one balance on (D. V. Hinkley,
    *Inference about the change-point in a sequence of random variables*, Biometrika 57, 1970), means above zero only.
    """
    once = np.maximum(scores, 0.0) ** 2 / 2.0
    weights = 1.0 / sd
    tail = np.cumsum((scores * weights)[::-1])[::-1]
    lasting = np.maximum(tail, 0.0) ** 2 / np.cumsum((weights**2)[::-1])[::-1] / 2.0
    at_once = bool(once.max() >= lasting.max() * (1.0 - 1e-9))
    return int(np.argmax(once if at_once else lasting)), at_once


def miscounts(scores: Floats, limit: float) -> tuple[int, ...]:
    """Return the balances whose excess the next balance takes back: a count between them was wrong, nothing is gone."""
    far = limit + REFERENCE
    pairs = [t for t in range(len(scores) - 1) if scores[t] > far and scores[t + 1] < -far]
    return tuple(t for t in pairs if abs(scores[t] + scores[t + 1]) < 0.5 * abs(scores[t]))


def _without(scores: Floats, pairs: tuple[int, ...]) -> Floats:
    kept = scores.copy()
    for t in pairs:
        kept[t], kept[t + 1] = scores[t] + scores[t + 1], 0.0
    return kept

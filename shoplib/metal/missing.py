"""Is metal missing? A sequential test on what is left unexplained from count to count.

The test is a one-sided cumulative sum (E. S. Page, *Continuous inspection schemes*, Biometrika 41, 1954): what is
unexplained, in standard deviations, is added up above a reference of one half; an alarm is raised when the sum passes a
threshold that a shop without a leak passes in 2 of 100 whole histories. The error of fineness that all melts of an
alloy share grows with the grams delivered: it is a slope, taken out first and shown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .tolerance import COVERAGE, even_u, together

Floats = NDArray[np.float64]

REFERENCE = 0.5
"""Allowance of the cumulative sum in standard deviations: half of the shift that is looked for (Page 1954)."""
FALSE_ALARMS = 0.02
"""Share of whole histories without a leak in which the test may raise an alarm."""
FEWEST_COUNTS = 4
"""Balances between counts below which the shop's own spread cannot be told and nothing is called missing; with one more for
each alloy a shared error of fineness can be told."""
MAD_TO_SD = 1.4826
"""Standard deviation of a normal spread ÷ its median absolute deviation."""
SMALL_SAMPLES = {2: 1.196, 3: 1.495, 4: 1.363, 5: 1.206, 6: 1.200, 7: 1.140, 8: 1.129, 9: 1.107}
"""By how much the deviation of so few values looks too small (from memory: C. Croux and P. J. Rousseeuw, *Time-efficient algorithms for two
highly robust estimators of scale*, 1992); above nine n ÷ (n − 0.8)."""
HUBER = 1.345
"""Huber's constant: 95 % of least squares' efficiency when nothing is wrong."""
NINE_IN_TEN = 1.2816
"""Normal quantile passed by 9 in 10."""
_ROUNDS = 5
_DRAWS, _FEWEST_HISTORIES, _MOST_HISTORIES = 60_000, 2_000, 8_000
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
    shop's own balances. The change is the one balance, or the start of a lasting shift, that is most likely. With too few
    balances to tell a slope for each alloy, none is taken out and the tolerance of fineness counts as spread.
    """
    weighing = np.maximum(np.asarray(independent_u, dtype=float), 1e-6)
    few = len(weighing) < FEWEST_COUNTS + gross_delivered_g.shape[1]
    drift = fineness_drift(unexplained_g, weighing, gross_delivered_g, 0.0 if few else tolerance_permille)
    left = unexplained_g - drift.grams
    weighing = np.hypot(weighing, _shared_u(gross_delivered_g, tolerance_permille)) if few else weighing
    sd = spread(left, weighing)
    scores = left / sd
    own = sd if few else sd * _widened(drift, tolerance_permille)
    limit = threshold(weighing, own, gross_delivered_g, tolerance_permille, few, false_alarms)
    wrong = miscounts(scores, limit)
    kept = _without(scores, wrong)
    seen = (limit + REFERENCE + NINE_IN_TEN) * float(sd[-1]) if len(sd) else math.nan
    found = Missing(
        tested=len(left) >= FEWEST_COUNTS, alarm=False, first=-1, last=-1, at_once=False, grams=math.nan, low=math.nan, high=math.nan,
        sd=sd, cusum=cusum(scores), threshold=limit, seen_at_once_g=seen, drift=drift, miscounted=wrong,
    )  # fmt: skip
    if not found.tested or not (cusum(kept) > limit).any():
        return found
    first, at_once = change(kept, sd)
    return _with_alarm(found, left, first, first if at_once else len(left) - 1, at_once, gross_delivered_g)


def _shared_u(gross_g: Floats, tolerance_permille: float) -> Floats:
    shared: Floats = even_u(tolerance_permille / 1000.0) * np.sqrt(np.sum(gross_g**2, axis=1))
    return shared


def _widened(drift: Drift, tolerance_permille: float) -> float:
    """Return by how much slopes told from few balances make their spread look too small: √(n ÷ (n − slopes told))."""
    if not tolerance_permille or not len(drift.grams):
        return 1.0
    told = float(np.sum(1.0 - (drift.u_permille / even_u(tolerance_permille)) ** 2))
    return math.sqrt(len(drift.grams) / max(len(drift.grams) - told, 1.0))


def _with_alarm(found: Missing, left: Floats, first: int, last: int, at_once: bool, gross_g: Floats) -> Missing:
    these = slice(first, last + 1)
    by_drift = gross_g[these].sum(axis=0) * found.drift.u_permille / 1000.0
    half = COVERAGE * together([*found.sd[these], *by_drift])
    grams = math.fsum(left[these])
    return replace(found, alarm=True, first=first, last=last, at_once=at_once, grams=grams, low=grams - half, high=grams + half)


def fineness_drift(unexplained_g: Floats, weighing_u: Floats, gross_delivered_g: Floats, tolerance_permille: float) -> Drift:
    """Return the shared error of fineness of each alloy: a slope of the unexplained on the grams delivered.

    Shapes and units as in `look_for_missing`; `unexplained_g` may hold many histories, shape (n_histories, n_periods).

    Notes
    -----
    Fitted by Huber weights (P. J. Huber, *Robust estimation of a location parameter*, 1964), so that one bad month does
    not bend it, with the tolerance as prior: mean 0, standard deviation tolerance ÷ √3; kept within the tolerance.
    """
    grams = np.asarray(gross_delivered_g, dtype=float) / 1000.0
    alloys = (*unexplained_g.shape[:-1], grams.shape[1])
    if not tolerance_permille or not grams.any():
        return Drift(np.zeros(alloys), np.zeros(alloys), np.zeros(unexplained_g.shape))
    prior = np.eye(grams.shape[1]) / even_u(tolerance_permille) ** 2
    slope: Floats = np.zeros(alloys)
    weight: Floats = np.ones(unexplained_g.shape)
    squares = (grams[:, :, None] * grams[:, None, :]).reshape(len(grams), -1)
    for _ in range(_ROUNDS):
        scale = spread(unexplained_g - slope @ grams.T, weighing_u)
        precision = weight / scale**2
        information = (precision @ squares).reshape(*alloys, alloys[-1]) + prior
        slope = np.asarray(np.linalg.solve(information, ((precision * unexplained_g) @ grams)[..., None])[..., 0], dtype=float)
        weight = np.minimum(1.0, HUBER / np.maximum(np.abs(unexplained_g - slope @ grams.T) / scale, 1e-12))
    slope = np.clip(slope, -tolerance_permille, tolerance_permille)
    u = np.sqrt(np.diagonal(np.linalg.inv(information), axis1=-2, axis2=-1))
    return Drift(slope, np.asarray(u, dtype=float), slope @ grams.T)


def spread(left_g: Floats, weighing_u: Floats) -> Floats:
    """Return the standard deviation of each balance, g fine.

    The part from weighing, not below 1.48 × the median absolute deviation of the shop's own balances; along the last axis.
    """
    n = left_g.shape[-1]
    if n < 2:
        return np.asarray(weighing_u, dtype=float) * np.ones(left_g.shape)
    middle = np.median(left_g, axis=-1, keepdims=True)
    own = MAD_TO_SD * SMALL_SAMPLES.get(n, n / (n - 0.8)) * np.median(np.abs(left_g - middle), axis=-1, keepdims=True)
    return np.asarray(np.maximum(weighing_u, own), dtype=float)


def cusum(scores: Floats) -> Floats:
    """Return Page's cumulative sum of standardised scores above the reference, never below zero; works along the last axis."""
    sums = np.empty_like(scores, dtype=float)
    level = np.zeros(scores.shape[:-1])
    for t in range(scores.shape[-1]):
        level = np.maximum(0.0, level + scores[..., t] - REFERENCE)
        sums[..., t] = level
    return sums


def threshold(
    weighing_u: Floats, sd: Floats, gross_delivered_g: Floats, tolerance_permille: float, few: bool, false_alarms: float = FALSE_ALARMS
) -> float:
    """Return the threshold that a history like this one, without a leak, passes with chance `false_alarms`.

    Parameters
    ----------
    weighing_u, sd : ndarray, shape (n_periods,)
        Standard uncertainty of each balance from weighing, and its standard deviation, g fine.
    gross_delivered_g, tolerance_permille, false_alarms
        As in `look_for_missing`.
    few : bool
        True when no slope is taken out.

    Notes
    -----
    By simulation with a fixed seed: balances that spread by `sd` around a fineness that is evenly likely within its tolerance go
    through the whole test, because slope and spread are themselves estimated from a handful of balances.
    """
    n = len(sd)
    if n < FEWEST_COUNTS:
        return math.inf
    luck = np.random.default_rng(_SEED)
    shape = (int(np.clip(_DRAWS // n, _FEWEST_HISTORIES, _MOST_HISTORIES)), n)
    fineness = luck.uniform(-tolerance_permille, tolerance_permille, (shape[0], gross_delivered_g.shape[1])) / 1000.0
    own = np.sqrt(np.maximum(sd**2 - few * _shared_u(gross_delivered_g, tolerance_permille) ** 2, 0.0))
    histories = luck.standard_normal(shape) * own + fineness @ gross_delivered_g.T
    left = histories - fineness_drift(histories, weighing_u, gross_delivered_g, 0.0 if few else tolerance_permille).grams
    return float(np.quantile(cusum(left / spread(left, weighing_u)).max(axis=1), 1.0 - false_alarms))


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

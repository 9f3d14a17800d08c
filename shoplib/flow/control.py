"""Control charts: whether a value is unusual or ordinary noise.

Formulas: NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.1.6 (capability), 6.3.2.2 (individuals and moving range),
6.3.2.4 (EWMA), 6.3.3.1 (counts) and 6.3.3.2 (proportions).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .entries import Flags
from .working_time import Hours

SIGMAS = 3.0
D2_OF_TWO = 1.128
"""Mean range of two normal values ÷ their standard deviation."""
D4_OF_TWO = 3.267
"""Upper limit of a range of two ÷ the mean range."""
LEAST_EXPECTED = 5.0
"""Under this many failures expected a month 3 sigma is no fair limit of a share; common practice, no source."""
TAIL = 0.00135
"""Share of a normal law beyond 3 standard deviations on one side."""
LEAST_A_MONTH = 20
"""A proportion is charted as one only from this many a month; common practice, no source."""


@dataclass(frozen=True)
class Chart:
    """One control chart.

    Attributes
    ----------
    values : ndarray(float)
        What is plotted.
    centre : float
        Centre line.
    lower, upper : ndarray(float)
        Limits of each value; NaN where it is not judged.
    """

    values: Hours
    centre: float
    lower: Hours
    upper: Hours

    @property
    def unusual(self) -> Flags:
        """True where a value lies outside its limits."""
        outside: Flags = (self.values < self.lower) | (self.values > self.upper)
        return outside


def individuals_chart(values: ArrayLike) -> Chart:
    """Return the chart of single values: mean ± 3 · (mean moving range ÷ 1.128); gaps (NaN) are passed over.

    With fewer than two values there are no limits.
    """
    plotted = np.asarray(values, dtype=float)
    known = plotted[~np.isnan(plotted)]
    if len(known) < 2:
        return _flat(plotted, float(known.mean()) if len(known) else np.nan, np.nan)
    return _flat(plotted, float(known.mean()), SIGMAS * float(np.abs(np.diff(known)).mean()) / D2_OF_TWO)


def moving_range_chart(values: ArrayLike) -> Chart:
    """Return the chart of the differences between neighbours, limits 0 and 3.267 · their mean."""
    known = np.asarray(values, dtype=float)
    ranges = np.abs(np.diff(known[~np.isnan(known)]))
    mean = float(ranges.mean()) if len(ranges) else np.nan
    return Chart(ranges, mean, np.zeros(len(ranges)), np.full(len(ranges), D4_OF_TWO * mean))


def ewma_chart(values: ArrayLike, target: float, sd: float, weight: float = 0.3, sigmas: float = SIGMAS) -> Chart:
    """Return the chart of exponentially weighted means, which sees a small lasting shift.

    Parameters
    ----------
    values : array_like
        In sequence, no gaps.
    target, sd : float
        Mean and standard deviation of the past.
    weight : float
        Of the newest value, 0–1.
    sigmas : float
        Width of the limits.

    Returns
    -------
    Chart
        One value more than given: the first is the target. Limits are those of a chart that has run for long.
    """
    means = [target]
    for value in np.asarray(values, dtype=float):
        means.append(weight * float(value) + (1.0 - weight) * means[-1])
    return _flat(np.array(means), target, sigmas * sd * float(np.sqrt(weight / (2.0 - weight))))


def p_chart(failures: ArrayLike, counts: ArrayLike, least: int = LEAST_A_MONTH) -> Chart:
    """Return the chart of proportions; a value of fewer than `least` is plotted and not judged.

    Parameters
    ----------
    failures, counts : array_like
        How many failed, of how many.
    least : int
        Smallest count judged.
    """
    many = np.asarray(counts, dtype=float)
    share = np.divide(np.asarray(failures, dtype=float), many, out=np.full(len(many), np.nan), where=many > 0)
    total = float(many.sum())
    mean = float(np.asarray(failures, dtype=float).sum()) / total if total else np.nan
    width = SIGMAS * np.sqrt(mean * (1.0 - mean) / np.where(many >= max(least, 1), many, np.nan))
    return Chart(share, mean, np.maximum(mean - width, 0.0), np.minimum(mean + width, 1.0))


def c_chart(counts: ArrayLike) -> Chart:
    """Return the chart of counts on equal areas of chance: mean ± 3 · √mean, not below 0."""
    plotted = np.asarray(counts, dtype=float)
    mean = float(plotted.mean()) if len(plotted) else np.nan
    chart = _flat(plotted, mean, SIGMAS * float(np.sqrt(mean)))
    return Chart(plotted, mean, np.maximum(chart.lower, 0.0), chart.upper)


def share_chart(failures: ArrayLike, counts: ArrayLike, least: int = LEAST_A_MONTH) -> Chart:
    """Return the chart of a monthly share: of proportions when every month with any has `least`, else of single values."""
    many = np.asarray(counts, dtype=float)
    if len(many) and (many[many > 0] >= least).all():
        return _with_exact_upper(p_chart(failures, counts, least), many)
    share = np.divide(np.asarray(failures, dtype=float), many, out=np.full(len(many), np.nan), where=many > 0)
    chart = individuals_chart(share)
    return Chart(share, chart.centre, np.maximum(chart.lower, 0.0), np.minimum(chart.upper, 1.0))


def _with_exact_upper(chart: Chart, counts: Hours) -> Chart:
    """Return the chart with upper limits from the binomial law itself where so few failures are expected that 3 sigma misleads."""
    few = counts * chart.centre < LEAST_EXPECTED
    exact = np.array([_binomial_upper(int(n), chart.centre) / n if rare and n else np.nan for n, rare in zip(counts, few, strict=True)])
    upper = np.where(few & ~np.isnan(chart.upper), exact, chart.upper)
    return Chart(chart.values, chart.centre, np.where(few, np.fmin(chart.lower, 0.0), chart.lower), upper)


def _binomial_upper(many: int, share: float) -> int:
    """Return the smallest count that no more than a share TAIL of binomial draws exceeds."""
    chance = below = (1.0 - share) ** many
    count = 0
    while below < 1.0 - TAIL and count < many:
        chance *= (many - count) / (count + 1) * share / (1.0 - share)
        count, below = count + 1, below + chance
    return count


def _flat(values: Hours, centre: float, width: float) -> Chart:
    return Chart(values, centre, np.full(len(values), centre - width), np.full(len(values), centre + width))


@dataclass(frozen=True)
class Capability:
    """How a spread fits between two limits. cp: width ÷ 6 sd; cpu, cpl: room above, below ÷ 3 sd; cpk the smaller; k how far off centre."""

    cp: float
    cpk: float
    cpu: float
    cpl: float
    k: float


def capability(mean: float, sd: float, lower: float, upper: float) -> Capability:
    """Return the capability of a process with `mean` and `sd` > 0 between the limits `lower` < `upper`."""
    above, below = (upper - mean) / (3.0 * sd), (mean - lower) / (3.0 * sd)
    middle, half = (upper + lower) / 2.0, (upper - lower) / 2.0
    return Capability((upper - lower) / (6.0 * sd), min(above, below), above, below, abs(middle - mean) / half)

"""How many enquiries come: a working day, month by month, with the growth of the past fading and the wave of the year."""

from __future__ import annotations

import numpy as np

from .arrays import Days, Floats

FADING = 0.9
"""Share of its growth a month keeps of the month before it; common practice, no source."""
SD_GROWTH, SD_SEASON = 0.006, 0.3
"""Prior standard deviations of growth a month and of the wave, ln; common practice, no source: eight shops in ten grow or shrink by
less than 10 % a year. A wider one follows the luck of three years' counts and misses the year to come by more."""
LONG_MONTHS, MOST_MONTHS = 24, 36
"""Whole months from which a season can be told, and the most looked at."""


def monthly_rate(
    day: Days, as_of: np.datetime64, open_days: Days, rng: np.random.Generator, draws: int
) -> tuple[np.datetime64, Floats, Floats]:
    """Return the month after the as-of date, enquiries a working day by month from there (draws + 1, 12), and their dispersion.

    Poisson regression of whole months' counts on the last three years: level, growth that fades, and a yearly wave from `LONG_MONTHS`
    months on; its covariance is widened by the dispersion found.

    References
    ----------
    P. McCullagh and J. A. Nelder, *Generalized Linear Models*, 2nd ed. 1989, ch. 6 (overdispersed counts).
    E. S. Gardner and E. McKenzie, "Forecasting trends in time series", Management Science 31 (1985), 1237–1246 (fading growth).
    """
    start = (as_of + 1).astype("datetime64[M]")
    months, counts, days = _whole_months(day, start, open_days)
    seasonal = len(months) >= LONG_MONTHS
    design, future = _terms(months, start, seasonal), _terms(start + np.arange(12), start, seasonal)
    usual = np.zeros(design.shape[1])
    usual[0] = np.log(max(counts.sum(), 0.5) / max(days.sum(), 1.0))
    b, covariance, scale, mean = _count_regression(design, counts, days, usual)
    rows = np.vstack([b, b + rng.standard_normal((draws, len(b))) @ np.linalg.cholesky(covariance).T])
    dispersion = max(0.0, (scale - 1.0) / max(mean, 1.0))
    return start, np.exp(np.clip(rows @ future.T, -20, 20)), np.full(1 + draws, dispersion)


def _count_regression(design: Floats, counts: Floats, days: Floats, usual: Floats) -> tuple[Floats, Floats, float, float]:
    """Return coefficients leaning on `usual`, their covariance, variance ÷ mean of the counts (at least 1), and their mean."""
    precision = np.diag(np.concatenate([[1e-2, SD_GROWTH**-2.0], np.full(len(usual) - 2, SD_SEASON**-2.0)]))
    b = usual.copy()
    for _ in range(12):
        mean = np.maximum(days, 1e-9) * np.exp(np.clip(design @ b, -20, 20))
        hessian = (design * mean[:, None]).T @ design + precision
        b = b + np.clip(np.linalg.solve(hessian, design.T @ (counts - mean) - precision @ (b - usual)), -1, 1)
    freedom = max(len(counts) - len(b), 1)
    scale = max(1.0, float(np.sum((counts - mean) ** 2 / np.maximum(mean, 1e-9))) / freedom) if len(counts) > len(b) else 1.0
    return b, np.linalg.inv(hessian) * scale, scale, float(mean.mean()) if len(mean) else 0.0


def _whole_months(day: Days, start: np.datetime64, open_days: Days) -> tuple[Days, Floats, Floats]:
    """Return up to `MOST_MONTHS` whole months before `start` with counts and working days; a part of one where none is whole."""
    known = day[~np.isnat(day)]
    first = known.min().astype("datetime64[M]") + 1 if len(known) else start
    if first >= start:
        first = start - 1
    months = np.arange(max(first, start - MOST_MONTHS), start)
    counts = np.array([np.sum(known.astype("datetime64[M]") == month) for month in months], dtype=float)
    calendar = open_days.astype("datetime64[M]")
    days = np.array([np.sum(calendar == month) for month in months], dtype=float)
    return months, counts, days


def _terms(months: Days, start: np.datetime64, seasonal: bool) -> Floats:
    """Return level, growth (months up to `start`, fading after it) and the wave of the year."""
    t = (months.astype("datetime64[M]") - start).astype(np.int64).astype(float)
    growth = np.where(t < 0, t, FADING * (1 - FADING ** np.maximum(t, 0.0)) / (1 - FADING))
    angle = 2 * np.pi * (months.astype("datetime64[M]").astype(np.int64) % 12) / 12
    return np.column_stack([np.ones(len(t)), growth, *([np.sin(angle), np.cos(angle)] if seasonal else [])])

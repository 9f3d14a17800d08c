"""How good a forecast was: pinball loss, mean absolute scaled error, CRPS of an ensemble.

References
----------
R. Koenker and G. Bassett, "Regression quantiles", Econometrica 46 (1978), 33–50 (pinball loss).
R. J. Hyndman and A. B. Koehler, "Another look at measures of forecast accuracy", Int. J. Forecasting 22 (2006), 679–688 (MASE).
T. Gneiting and A. Raftery, "Strictly proper scoring rules, prediction, and estimation", JASA 102 (2007), 359–378 (CRPS).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def pinball(happened: ArrayLike, quantile: ArrayLike, level: float) -> Floats:
    """Return the pinball loss of each forecast `quantile` at `level` (0–1); missing stays missing.

    Parameters
    ----------
    happened, quantile : array_like of float
        What happened and what was forecast, shapes that broadcast.
    level : float
        Level of the quantile.
    """
    error = np.asarray(happened, dtype=np.float64) - np.asarray(quantile, dtype=np.float64)
    return np.maximum(level * error, (level - 1.0) * error)


def scaled_error(history: ArrayLike, happened: ArrayLike, forecast: ArrayLike, season: int) -> float:
    """Return the mean absolute error in units of the in-sample seasonal naive error (MASE).

    Parameters
    ----------
    history : array_like of float, shape (n,)
        What the forecast was made from.
    happened, forecast : array_like of float, shape (h,)
        What came and what was forecast.
    season : int
        Steps of the naive forecast; 1 for no season.
    """
    past = np.asarray(history, dtype=np.float64)
    naive = np.mean(np.abs(past[season:] - past[:-season]))
    error = np.mean(np.abs(np.asarray(happened, dtype=np.float64) - np.asarray(forecast, dtype=np.float64)))
    return float(error / naive)


def ensemble_crps(members: ArrayLike, happened: float) -> float:
    """Return the continuous ranked probability score of an ensemble: E|X − y| − ½ E|X − X′|."""
    x = np.sort(np.asarray(members, dtype=np.float64))
    n = x.size
    spread = float(np.sum((2.0 * np.arange(1, n + 1) - n - 1.0) * x)) / n**2
    return float(np.mean(np.abs(x - happened))) - spread


def binomial_interval(n: int, share: float, level: float = 0.95) -> tuple[float, float]:
    """Return the shares between which `level` of samples of `n` lie when the true share is `share`."""
    from scipy import stats

    low, high = stats.binom.interval(level, n, share)
    return float(low / n), float(high / n)

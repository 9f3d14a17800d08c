"""Orders (or enquiries) to come, by month: three candidate forecasts and their mean.

The mean of the candidates is used unless one of them beat it by more than the standard error of the difference over the last
twelve origins. Counts are modelled per working day, so that closures and holidays move months.

References
----------
J. M. Bates and C. W. J. Granger, "The combination of forecasts", Operational Research Quarterly 20 (1969), 451–468.
A. C. Cameron and P. K. Trivedi, *Regression Analysis of Count Data*, 2nd ed. 2013, ch. 3 (negative binomial, moment estimate).
R. J. Hyndman, A. B. Koehler, J. K. Ord and R. D. Snyder, *Forecasting with Exponential Smoothing*, 2008, ch. 6 (variance of ETS).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..errors import DataError
from .scores import pinball

Floats = NDArray[np.float64]
SEASON = 12
ORIGINS = 12
PATHS = 1000
SHORTEST = 3
LEVELS = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class Demand:
    """Counts to come.

    Attributes
    ----------
    method : str
        ``seasonal_naive``, ``count_trend``, ``damped`` or ``mean``.
    months : ndarray(datetime64[M], ndim=1)
        Months ahead.
    mean : ndarray(float, ndim=1)
        Expected count of each month.
    rate_paths : ndarray(float, ndim=2)
        Shape (paths, months): draws of the expected count, before the luck of counting.
    count_paths : ndarray(float, ndim=2)
        Shape (paths, months): draws of the count itself.
    dispersion : float
        Variance of a month's count is mean + dispersion × mean².
    scores : DataFrame
        Columns method, origin, months, loss: the mean pinball loss at the levels 0.1, 0.5, 0.9 of each candidate at each origin.
    """

    method: str
    months: NDArray[np.datetime64]
    mean: Floats
    rate_paths: Floats
    count_paths: Floats
    dispersion: float
    scores: pd.DataFrame

    def table(self) -> pd.DataFrame:
        """Return columns month, orders_p10, orders_p50, orders_p90."""
        low, middle, high = np.quantile(self.count_paths, LEVELS, axis=0, method="inverted_cdf")
        return pd.DataFrame({"month": self.months.astype(str), "orders_p10": low, "orders_p50": middle, "orders_p90": high})


@dataclass(frozen=True)
class _History:
    """Counts and working days, oldest first; `ahead` working days of the months to come."""

    counts: Floats
    days: Floats
    ahead: Floats

    @property
    def rate(self) -> Floats:
        return self.counts / np.maximum(self.days, 1.0)

    @cached_property
    def count_fit(self) -> tuple[Floats, Floats, float]:
        """Coefficients, their covariance and the dispersion of a log-linear count model per working day."""
        return _count_fit(self)

    def until(self, n: int, horizon: int) -> _History:
        return _History(self.counts[:n], self.days[:n], self.days[n : n + horizon])


def forecast_demand(counts: pd.Series, working_days: pd.Series, seed: int, origins: int = ORIGINS) -> Demand:
    """Forecast monthly counts for every month that `working_days` reaches beyond `counts`.

    Parameters
    ----------
    counts : Series of float
        Count by whole month, ascending without a gap; index convertible to datetime64[M].
    working_days : Series of float
        Working days of the same months and of those to come.
    seed : int
        Seed of the draws.
    origins : int
        Past months from which the candidates are judged.

    Raises
    ------
    DataError
        When there are fewer than three whole months.
    """
    if len(counts) < SHORTEST:
        raise DataError("too few whole months to forecast demand", where="orders", found=len(counts), allowed=f"{SHORTEST} or more")
    n, days = len(counts), working_days.to_numpy(dtype=np.float64)
    history = _History(counts.to_numpy(dtype=np.float64), days[:n], days[n:])
    scores = _judge(history, seed, origins)
    method = _choose(scores)
    rates = _rate_paths(history, method, seed)
    dispersion = history.count_fit[2]
    months = working_days.index[n:].to_numpy().astype("datetime64[M]")
    return Demand(method, months, rates.mean(axis=0), rates, _count(rates, dispersion, seed), dispersion, scores)


def _judge(history: _History, seed: int, origins: int) -> pd.DataFrame:
    """Score all candidates at the last origins from which at least one month can be checked and a year looked back on."""
    n = len(history.counts)
    rows = [row for origin in range(max(SEASON, n - origins), n) for row in _judge_origin(history, origin, seed)]
    return pd.DataFrame(rows, columns=["method", "origin", "months", "loss"])


def _judge_origin(history: _History, origin: int, seed: int) -> list[tuple[str, int, int, float]]:
    past = history.until(origin, min(SEASON, len(history.counts) - origin))
    happened = history.counts[origin : origin + len(past.ahead)]
    members = {name: candidate(past, seed) for name, candidate in CANDIDATES.items()}
    members["mean"] = np.mean(list(members.values()), axis=0)
    dispersion = past.count_fit[2]
    return [(name, origin, len(happened), _loss(happened, _count(paths, dispersion, seed))) for name, paths in members.items()]


def _loss(happened: Floats, paths: Floats) -> float:
    return float(np.mean([pinball(happened, np.quantile(paths, level, axis=0), level).mean() for level in LEVELS]))


def _choose(scores: pd.DataFrame) -> str:
    """The mean, unless a candidate beat it by more than the standard error of the difference."""
    if scores.empty or scores["origin"].nunique() < ORIGINS // 2:
        return "mean"
    by_origin = scores.pivot(index="origin", columns="method", values="loss")
    gain = by_origin.drop(columns="mean").rsub(by_origin["mean"], axis=0)
    beyond = gain.mean() - gain.std(ddof=1) / np.sqrt(len(gain))
    return str(beyond.idxmax()) if beyond.max() > 0 else "mean"


def _rate_paths(history: _History, method: str, seed: int) -> Floats:
    chosen = CANDIDATES if method == "mean" else {method: CANDIDATES[method]}
    return np.asarray(np.mean([candidate(history, seed) for candidate in chosen.values()], axis=0), dtype=np.float64)


def _draws(seed: int, stream: int, shape: tuple[int, ...]) -> Floats:
    return np.random.default_rng([seed, stream]).standard_normal(shape)


def _seasonal_naive(history: _History, seed: int) -> Floats:
    """The rate of the same month a year ago; without a year, the mean rate so far."""
    rate, ahead = history.rate, history.ahead
    if len(rate) < SEASON:
        middle, spread = np.full(len(ahead), rate.mean()), rate.std(ddof=1) / np.sqrt(len(rate))
    else:
        middle, spread = rate[-SEASON:][np.arange(len(ahead)) % SEASON], _yearly_spread(history)
    paths: Floats = np.maximum(middle + spread * _draws(seed, 1, (PATHS, len(ahead))), 0.0) * ahead
    return paths


def _yearly_spread(history: _History) -> float:
    """Standard deviation of the change of the rate over a year beyond the luck of counting in this year's month."""
    rate = history.rate
    if len(rate) < SEASON + SHORTEST:
        return float(np.sqrt(rate.mean() / np.maximum(history.days, 1.0).mean()))
    change = rate[SEASON:] - rate[:-SEASON]
    luck = np.mean(rate / np.maximum(history.days, 1.0))
    return float(np.sqrt(max(np.mean(np.square(change)) - luck, luck)))


def _design(first: int, n: int, history: int) -> Floats:
    """Constant, trend (from a year on) and one yearly harmonic (from two years on)."""
    t = np.arange(first, first + n, dtype=np.float64)
    parts = [np.ones(n)]
    if history >= SEASON:
        parts.append(t / SEASON)
    if history >= 2 * SEASON:
        parts += [np.cos(2 * np.pi * t / SEASON), np.sin(2 * np.pi * t / SEASON)]
    return np.column_stack(parts)


def _count_fit(history: _History) -> tuple[Floats, Floats, float]:
    from statsmodels.genmod import families
    from statsmodels.genmod.generalized_linear_model import GLM

    x, exposure = _design(0, len(history.counts), len(history.counts)), np.maximum(history.days, 0.5)
    counts = history.counts if history.counts.any() else history.counts + 0.5
    mu = np.asarray(GLM(counts, x, family=families.Poisson(), exposure=exposure).fit().mu)
    degrees = max(len(counts) - x.shape[1], 1)
    dispersion = max(float(np.sum((np.square(counts - mu) - mu * degrees / len(counts)) / np.square(mu))) / degrees, 0.0)
    family = families.NegativeBinomial(alpha=max(dispersion, 1e-8))
    found = GLM(counts, x, family=family, exposure=exposure).fit()
    return np.asarray(found.params), np.asarray(found.cov_params()), dispersion


def _count_trend(history: _History, seed: int) -> Floats:
    coefficients, covariance, _ = history.count_fit
    x = _design(len(history.counts), len(history.ahead), len(history.counts))
    root = np.linalg.cholesky(covariance + 1e-12 * np.eye(len(covariance)))
    draws = coefficients + _draws(seed, 2, (PATHS, len(coefficients))) @ root.T
    ceiling = 4.0 * max(float(history.rate.max()), 1e-9)
    return np.minimum(np.exp(draws @ x.T), ceiling) * history.ahead


def _damped(history: _History, seed: int) -> Floats:
    """Exponential smoothing of the rate with a damped trend; the spread of the state grows with the horizon."""
    from statsmodels.tsa.holtwinters import ExponentialSmoothing

    if len(history.rate) < SEASON:
        return _seasonal_naive(history, seed + 1)
    model = ExponentialSmoothing(history.rate, trend="add", damped_trend=True, initialization_method="heuristic")
    with np.errstate(all="ignore"):
        found = model.fit(minimize_kwargs={"options": {"maxiter": 100}})
    level, slope, damping = (float(found.params[name]) for name in ("smoothing_level", "smoothing_trend", "damping_trend"))
    state = state_spread(level, slope, damping, len(history.ahead)) * np.sqrt(np.mean(np.square(found.resid)))
    paths = np.asarray(found.forecast(len(history.ahead))) + _draws(seed, 3, (PATHS, 1)) * state
    counts: Floats = np.maximum(paths, 0.0) * history.ahead
    return counts


def state_spread(level: float, slope: float, damping: float, months: int) -> Floats:
    """Return how uncertain the smoothed level is 1 … `months` months ahead, in units of the error of one month.

    Parameters
    ----------
    level, slope, damping : float
        Weights of smoothing (the slope's is that of the level's change) and the share of the slope each month keeps.
    months : int
        At least 1.

    Notes
    -----
    √Σ c², c = level · (1 + slope · (damping + damping² + …)), over the months between; the luck of the month itself is not in it.
    """
    weights = level * (1.0 + slope * np.cumsum(damping ** np.arange(1, months)))
    spread: Floats = np.sqrt(np.concatenate([[0.0], np.cumsum(np.square(weights))]))
    return spread


def _count(rates: Floats, dispersion: float, seed: int) -> Floats:
    """Draw counts around expected counts: Poisson, or negative binomial with variance mean + dispersion × mean²."""
    draw = np.random.default_rng([seed, 9])
    if dispersion <= 1e-8:
        return draw.poisson(rates).astype(np.float64)
    return draw.poisson(draw.gamma(1.0 / dispersion, np.maximum(rates, 1e-12) * dispersion)).astype(np.float64)


CANDIDATES: dict[str, Callable[[_History, int], Floats]] = {
    "seasonal_naive": _seasonal_naive,
    "count_trend": _count_trend,
    "damped": _damped,
}
"""Each returns draws of the expected count, shape (paths, months ahead)."""

"""How far spot may move while a quote stands: daily volatility, the chance of a rise, and whether that chance was right.

The direction of a metal price is not forecast. What is estimated is the spread of its log returns:

* GARCH(1,1) with Student-t innovations (Bollerslev 1987, Review of Economics and Statistics 69:542) from 500 daily prices;
* else an exponentially weighted variance, σ² ← λσ² + (1 − λ)r² with λ = 0.94 (RiskMetrics Technical Document, 4th ed. 1996, ch. 5);
* else one constant volatility over the few returns there are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..errors import DataError

Method = Literal["garch_t", "ewma", "constant"]
Floats = NDArray[np.float64]

GARCH_NEEDS = 500
EWMA_NEEDS = 60
DECAY = 0.94
PATHS = 20_000
_PERCENT = 100.0


@dataclass(frozen=True)
class Volatility:
    """The spread of daily log returns of one price series.

    Attributes
    ----------
    method : {'garch_t', 'ewma', 'constant'}
        How it was estimated.
    variance : float
        Variance of the next day's log return.
    omega, alpha, beta : float
        Recursion σ² ← ω + α r² + β σ²; a constant or weighted variance has ω = 0, α = 0, β = 1.
    freedom : float
        Degrees of freedom of the innovations; infinity for normal ones.
    n : int
        Daily returns used.
    """

    method: Method
    variance: float
    omega: float = 0.0
    alpha: float = 0.0
    beta: float = 1.0
    freedom: float = np.inf
    n: int = 0

    @property
    def daily(self) -> float:
        """Standard deviation of the next day's log return."""
        return float(np.sqrt(self.variance))


def daily_returns(prices: pd.Series) -> Floats:
    """Return log returns between the days on which the price was struck anew.

    Parameters
    ----------
    prices : Series of float
        Price by day, ascending. Days on which the price stands still because it was carried forward must not be in it.

    Raises
    ------
    DataError
        When a price is zero or below.
    """
    values = prices.to_numpy(dtype=np.float64)
    if (values <= 0).any():
        raise DataError("a metal price must be above zero", where="metal_prices", found=float(values.min()), to_do="mend the row")
    return np.asarray(np.diff(np.log(values)), dtype=np.float64)


def fit_volatility(returns: Floats, method: Method | None = None) -> Volatility:
    """Estimate the spread of daily returns by the best method the number of returns supports.

    Parameters
    ----------
    returns : ndarray(float, ndim=1)
        Daily log returns, oldest first.
    method : {'garch_t', 'ewma', 'constant'}, optional
        Left out: GARCH-t from 500 prices, EWMA from 60 returns, else constant.

    Raises
    ------
    DataError
        When there are fewer than two returns.
    """
    if len(returns) < 2:
        raise DataError(
            "too few daily prices to tell how the metal moves", where="metal_prices", found=len(returns) + 1, allowed="3 or more"
        )
    enough: Method = "garch_t" if len(returns) + 1 >= GARCH_NEEDS else "ewma" if len(returns) >= EWMA_NEEDS else "constant"
    chosen = method or enough
    if chosen == "garch_t":
        return _garch_t(returns)
    if chosen == "ewma":
        return Volatility("ewma", float(ewma_variance(returns)[-1]), n=len(returns))
    return Volatility("constant", float(np.mean(np.square(returns))), n=len(returns))


def ewma_variance(returns: Floats, decay: float = DECAY) -> Floats:
    """Return the weighted variance before the first and after each return, shape ``(n + 1,)``.

    It starts from the mean square of the first 60 returns.

    References
    ----------
    J.P. Morgan/Reuters, *RiskMetrics Technical Document*, 4th ed. 1996, chapter 5.
    """
    variance = np.empty(len(returns) + 1)
    variance[0] = np.mean(np.square(returns[:EWMA_NEEDS]))
    for day, squared in enumerate(np.square(returns)):
        variance[day + 1] = decay * variance[day] + (1.0 - decay) * squared
    return variance


def effective_days(decay: float, tolerance: float) -> float:
    """Return the days after which all older weights together are `tolerance`: ln tolerance ÷ ln decay."""
    return float(np.log(tolerance) / np.log(decay))


def _garch_t(returns: Floats) -> Volatility:
    scaled = returns * _PERCENT
    parameters = garch_parameters(scaled)
    variance = float(_garch_path(scaled, parameters)[-1])
    omega, alpha, beta, freedom = parameters
    return Volatility("garch_t", variance / _PERCENT**2, omega / _PERCENT**2, alpha, beta, freedom, len(returns))


def garch_parameters(scaled: Floats, normal: bool = False) -> tuple[float, float, float, float]:
    """Return ω, α, β and the degrees of freedom that make the returns likeliest.

    The likelihood is searched from the best of a few starts over ln ω, the persistence α + β, α's share of it and the tails, each on
    a scale without bounds; the first variance is that of all returns, as the published benchmark asks.

    Parameters
    ----------
    scaled : ndarray(float), shape (n,)
        Returns in per cent, mean taken as 0.
    normal : bool
        Normal instead of Student-t innovations (freedom is then infinite).
    """
    from scipy.optimize import minimize

    squared = np.square(scaled)
    starts = [_free(float(squared.mean()) * (1.0 - stays), stays, share) for stays in (0.9, 0.97, 0.995) for share in (0.03, 0.1, 0.2)]
    size = 3 if normal else 4
    best = min((start[:size] for start in starts), key=lambda free: _minus_log_likelihood(free, squared))
    simplex = np.vstack([best, best + 0.4 * np.eye(size)])
    ends = {"initial_simplex": simplex, "xatol": 1e-5, "fatol": 1e-7, "maxiter": 2000, "maxfev": 2000}
    found = minimize(_minus_log_likelihood, best, args=(squared,), method="Nelder-Mead", options=ends)
    return _bound(found.x)


def _free(omega: float, persistence: float, share: float) -> Floats:
    return np.array([np.log(omega), np.log(persistence / (1.0 - persistence)), np.log(share / (1.0 - share)), np.log(6.0)])


def _bound(free: Floats) -> tuple[float, float, float, float]:
    """Return ω, α, β, freedom from their scales without bounds; without a fourth the innovations are normal."""
    persistence, share = 1.0 / (1.0 + np.exp(-np.clip(free[1:3], -30, 30)))
    freedom = 2.0 + np.exp(np.clip(free[3], -8, 6)) if len(free) > 3 else np.inf
    return float(np.exp(np.clip(free[0], -60, 60))), float(persistence * share), float(persistence * (1.0 - share)), float(freedom)


def _minus_log_likelihood(free: Floats, squared: Floats) -> float:
    omega, alpha, beta, freedom = _bound(free)
    variance = np.array(_variances(squared, omega, alpha, beta)[:-1])
    if not np.isfinite(freedom):
        return float(0.5 * np.sum(np.log(2.0 * np.pi * variance) + squared / variance))
    shape = math.lgamma((freedom + 1.0) / 2.0) - math.lgamma(freedom / 2.0) - 0.5 * math.log(math.pi * (freedom - 2.0))
    tails = (freedom + 1.0) / 2.0 * np.log1p(squared / (variance * (freedom - 2.0)))
    return float(np.sum(0.5 * np.log(variance) + tails) - len(squared) * shape)


def _variances(squared: Floats, omega: float, alpha: float, beta: float) -> list[float]:
    """Return the variance before the first and after each return; the first is that of all returns, moved on by one day."""
    variance = [omega + (alpha + beta) * float(np.mean(squared))]
    for step in (omega + alpha * squared).tolist():
        variance.append(step + beta * variance[-1])
    return variance


def _garch_path(scaled: Floats, parameters: tuple[float, float, float, float]) -> Floats:
    omega, alpha, beta, _ = parameters
    return np.array(_variances(np.square(scaled), omega, alpha, beta))


def rise_paths(volatility: Volatility, days: int, seed: int, paths: int = PATHS) -> Floats:
    """Draw log rises of spot after 1 … `days` price days, shape ``(paths, days)``; mean zero each day.

    Parameters
    ----------
    volatility : Volatility
        The fitted spread.
    days : int
        Days on which the metal is priced, at least 1.
    seed : int
        Seed of the draws: the same seed, the same paths.
    paths : int
        How many; made of mirrored pairs so that the mean is zero exactly.
    """
    shocks = _innovations(volatility, (paths // 2, days), seed)
    variance = np.full(paths // 2, volatility.variance)
    steps = np.empty((paths // 2, days))
    for day in range(days):
        steps[:, day] = np.sqrt(variance) * shocks[:, day]
        variance = volatility.omega + volatility.alpha * np.square(steps[:, day]) + volatility.beta * variance
    return np.cumsum(np.concatenate([steps, -steps]), axis=1)


def _innovations(volatility: Volatility, shape: tuple[int, int], seed: int) -> Floats:
    draw = np.random.default_rng(seed)
    if not np.isfinite(volatility.freedom):
        return draw.standard_normal(shape)
    return np.asarray(draw.standard_t(volatility.freedom, shape) * np.sqrt((volatility.freedom - 2.0) / volatility.freedom))


def chance_above(paths: Floats, rise: float) -> Floats:
    """Return, for each day, the share of `paths` whose log rise is above `rise`, shape ``(days,)``."""
    return np.asarray(np.mean(paths > rise, axis=0), dtype=np.float64)


def upper_quantiles(volatility: Volatility, tails: tuple[float, ...]) -> Floats:
    """Return the next day's log rises that are passed with the chances `tails`."""
    from scipy import stats

    if not np.isfinite(volatility.freedom):
        return np.asarray(stats.norm.isf(tails) * volatility.daily, dtype=np.float64)
    scale = np.sqrt((volatility.freedom - 2.0) / volatility.freedom)
    return np.asarray(stats.t.isf(tails, volatility.freedom) * scale * volatility.daily, dtype=np.float64)


@dataclass(frozen=True)
class Coverage:
    """How often a stated chance was passed, and what Kupiec's test says of it.

    `ratio` is −2 ln of the likelihood ratio, `p_value` its chance under a right forecast (χ², one degree of freedom).
    """

    tail: float
    n: int
    passed: int
    ratio: float
    p_value: float

    @property
    def rejected(self) -> bool:
        """True when the forecast is rejected at 5 %."""
        return self.p_value < 0.05

    @property
    def at_most(self) -> float:
        """Chance of no more than `passed` exceptions under a right forecast, from the binomial law itself: for few days."""
        from scipy import stats

        return float(stats.binom.cdf(self.passed, self.n, self.tail))


def kupiec(n: int, passed: int, tail: float) -> Coverage:
    """Test a share of exceptions against the stated chance.

    References
    ----------
    P. Kupiec, "Techniques for verifying the accuracy of risk measurement models", Journal of Derivatives 3 (1995), 73–84.
    """
    from scipy import stats

    share = passed / n
    ratio = -2.0 * (_log_likelihood(n, passed, tail) - _log_likelihood(n, passed, share))
    return Coverage(tail, n, passed, float(ratio), float(stats.chi2.sf(ratio, 1)))


def _log_likelihood(n: int, passed: int, tail: float) -> float:
    inside = (n - passed) * np.log1p(-tail) if passed < n else 0.0
    outside = passed * np.log(tail) if passed else 0.0
    return float(inside + outside)


def one_day_backtest(
    returns: Floats, tails: tuple[float, ...] = (0.01, 0.05, 0.10), window: int = 1000, refit: int = 250, method: Method = "garch_t"
) -> list[Coverage]:
    """Forecast each day from the `window` days before it and count the rises beyond the stated chances (upper tail).

    Parameters
    ----------
    returns : ndarray(float, ndim=1)
        Daily log returns.
    tails : tuple of float
        Stated chances.
    window, refit : int
        Days a fit sees; days between refits. The variance is brought up to date every day.
    method : {'garch_t', 'ewma'}
        Forecast judged.
    """
    limits = _one_day_limits(returns, tails, window, refit, method)
    beyond = returns[window:, None] > limits
    return [kupiec(len(beyond), int(beyond[:, k].sum()), tail) for k, tail in enumerate(tails)]


def _one_day_limits(returns: Floats, tails: tuple[float, ...], window: int, refit: int, method: Method) -> Floats:
    limits = np.empty((len(returns) - window, len(tails)))
    for first in range(window, len(returns), refit):
        last = min(first + refit, len(returns))
        past, ahead = returns[first - window : first], returns[first - window : last]
        fitted = fit_volatility(past, method)
        variance = _variance_path(ahead, fitted)[window:-1] if method == "garch_t" else ewma_variance(ahead)[window:-1]
        unit = upper_quantiles(Volatility(fitted.method, 1.0, freedom=fitted.freedom), tails)
        limits[first - window : last - window] = np.sqrt(variance)[:, None] * unit
    return limits


def _variance_path(returns: Floats, fitted: Volatility) -> Floats:
    return _garch_path(returns * _PERCENT, (fitted.omega * _PERCENT**2, fitted.alpha, fitted.beta, fitted.freedom)) / _PERCENT**2


def several_days_backtest(returns: Floats, days: int, tail: float, window: int = 1000, seed: int = 1) -> tuple[int, Coverage | None]:
    """Judge a forecast over `days` days by non-overlapping windows from each start offset.

    Returns the number of windows of the median offset and its coverage; None ("cannot tell") under 100 windows.
    Overlapping windows would reject a right forecast far too often, since neighbours share their days.
    """
    total = (len(returns) - window) // days
    if total < 100:
        return total, None
    counts = [_passed_from(returns, days, tail, window, offset, seed) for offset in range(days)]
    median = sorted(counts, key=lambda pair: pair[1] / pair[0])[len(counts) // 2]
    return median[0], kupiec(median[0], median[1], tail)


def _passed_from(returns: Floats, days: int, tail: float, window: int, offset: int, seed: int) -> tuple[int, int]:
    passed = n = 0
    fitted: Volatility | None = None
    for first in range(window + offset, len(returns) - days + 1, days):
        if fitted is None or n % max(1, 250 // days) == 0:
            fitted = fit_volatility(returns[first - window : first])
        variance = float(_variance_path(returns[first - window : first], fitted)[-1])
        now = Volatility(fitted.method, variance, fitted.omega, fitted.alpha, fitted.beta, fitted.freedom)
        limit = np.quantile(rise_paths(now, days, seed, 2000)[:, -1], 1.0 - tail)
        passed += int(returns[first : first + days].sum() > limit)
        n += 1
    return n, passed

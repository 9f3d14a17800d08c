"""Customers' answer to price and wait: which quotes are won.

    log odds of won = a + p · ln(price ÷ metal) + w · weeks quoted + c · ln g + style + time and season

fitted twice: with a smooth of time and season, and with an effect of each month. A hidden season that lengthens the queue and wins
quotes biases the first towards 0; month effects, fed by few quotes each, err the other way. The range is the hull of both
80 % ranges and the draws come from both alike. The owner's stated prior takes part in both, so that it carries a thin history.

References
----------
A. Gelman et al., "A weakly informative default prior distribution for logistic and other regression models",
Annals of Applied Statistics 2 (2008), 1360–1383.
S. Nickell, "Biases in dynamic models with fixed effects", Econometrica 49 (1981), 1417–1426.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arrays import Floats, Integers

ITERATIONS = 30
NORMAL_80 = 1.2815515655446004
"""Half-width of the 80 % range of a standard normal variable."""
SD_STYLE = 0.5
SD_WEIGHT = 1.0
"""Prior standard deviations, log odds: of a style, of ln g. Weak; common practice, no source."""
SD_TIME, SD_TIME_LEAST, PRIOR_TERMS = 0.4, 0.1, 2.0
"""Standard deviation of the terms of time, log odds: where its estimate leans, its least, and the weight of that leaning in terms."""
TIME_ROUNDS = 5
MOST_QUOTES = 12_000
"""More quotes than these tell no more than their own luck: a shop of any size is fitted on so many."""
SD_INTERCEPT = 3.0
LEAST_SD = 1e-3
CONVERGED = 1e-7
"""Log likelihood below which a step no longer counts."""


@dataclass(frozen=True)
class QuotesGiven:
    """Answered quotes, n of them.

    Attributes
    ----------
    won : Floats, shape (n,)
        1 or 0.
    ln_ratio : Floats, shape (n,)
        ln (price ÷ metal at the quote's spot).
    weeks : Floats, shape (n,)
        Weeks quoted; NaN counts as the mean.
    ln_weight : Floats, shape (n,)
        ln g gross.
    style : Integers, shape (n,)
        Position.
    day : Floats, shape (n,)
        Days since a fixed day.
    month : Integers, shape (n,)
        Calendar months since a fixed month.
    """

    won: Floats
    ln_ratio: Floats
    weeks: Floats
    ln_weight: Floats
    style: Integers
    day: Floats
    month: Integers


@dataclass(frozen=True)
class Answer:
    """One coefficient: estimate, 80 % range and draws (row 0 the estimate)."""

    estimate: float
    low: float
    high: float
    draws: Floats


@dataclass(frozen=True)
class Response:
    """The fit.

    `logit`: log odds of each quote given at its own price, `mean_weeks` quoted and the mean of time and season over the quotes
    with `recent`; `shift`: draws about it; `smooth`, `monthly`: estimate and standard deviation of (price, wait) by each fit.
    """

    price: Answer
    wait: Answer
    shift: Floats
    logit: Floats
    mean_weeks: float
    n: int
    smooth: Floats
    monthly: Floats


def fit_response(
    quotes: QuotesGiven,
    recent: Floats,
    n_styles: int,
    prior_price: tuple[float, float],
    prior_wait: tuple[float, float],
    rng: np.random.Generator,
    draws: int,
) -> Response:
    """Fit the answer to price and wait.

    Parameters
    ----------
    quotes : QuotesGiven
        Answered quotes.
    recent : Floats, shape (n,)
        1 for the quotes that stand for today (the last 12 months), else 0.
    n_styles : int
        Length of the axis.
    prior_price, prior_wait : tuple of float
        80 % ranges the owner holds likely.
    rng : Generator
        Of the draws.
    draws : int
        Number of draws beside the estimate.
    """
    centre = _Centre.of(quotes, recent)
    prior = np.array([_normal(prior_price), _normal(prior_wait)])
    common = _common(quotes, centre, n_styles)
    rows = _spread_over_time(quotes.day)
    first = _fit_time(common, _smooth_terms(quotes.day), prior, quotes.won, rows)
    second = _fit_time(common, _month_terms(quotes.month), prior, quotes.won, rows)
    price, wait = (_hull(first, second, place, rng, draws) for place in (1, 2))
    logit, error = _today(first, common, recent)
    shift = np.concatenate([[0.0], error * rng.standard_normal(draws)])
    both = [np.column_stack([fit.mean[1:3], np.sqrt(np.diag(fit.covariance)[1:3])]) for fit in (first, second)]
    return Response(price, wait, shift, logit, centre.weeks, len(quotes.won), both[0], both[1])


@dataclass(frozen=True)
class _Centre:
    ratio: float
    weeks: float
    weight: float

    @classmethod
    def of(cls, q: QuotesGiven, recent: Floats) -> _Centre:
        use = recent > 0 if (recent > 0).any() else np.ones(len(recent), dtype=bool)
        told = q.weeks[use & np.isfinite(q.weeks)]
        return cls(*(float(np.mean(v)) if len(v) else 0.0 for v in (q.ln_ratio[use], told, q.ln_weight[use])))


@dataclass(frozen=True)
class _Fit:
    mean: Floats
    covariance: Floats
    design: Floats


def _normal(low_high: tuple[float, float]) -> tuple[float, float]:
    low, high = low_high
    return (low + high) / 2, max((high - low) / (2 * NORMAL_80), LEAST_SD)


def _common(q: QuotesGiven, centre: _Centre, n_styles: int) -> tuple[Floats, Floats]:
    """Return the columns intercept, price, wait, weight, styles, and their prior standard deviations (0 for price and wait)."""
    weeks = np.where(np.isfinite(q.weeks), q.weeks - centre.weeks, 0.0)
    plain = np.column_stack([np.ones(len(q.won)), q.ln_ratio - centre.ratio, weeks, q.ln_weight - centre.weight])
    styles = (q.style[:, None] == np.arange(n_styles)).astype(np.float64)
    return np.hstack([plain, styles]), np.concatenate([[SD_INTERCEPT, 0.0, 0.0, SD_WEIGHT], np.full(n_styles, SD_STYLE)])


def _smooth_terms(day: Floats) -> Floats:
    """Return a line, a bow and the first two yearly harmonics of time; a history of under a year has no season to tell."""
    span = max(float(np.ptp(day)), 1.0) if len(day) else 1.0
    u = 2 * (day - day.min(initial=np.inf)) / span - 1 if len(day) else day
    terms = [u, 1.5 * u**2 - 0.5]
    if span >= 365:
        terms += [wave(2 * np.pi * k * day / 365.25) for k in (1, 2) for wave in (np.sin, np.cos)]
    return np.column_stack(terms)


def _month_terms(month: Integers) -> Floats:
    seen = np.unique(month)
    return np.asarray(month[:, None] == seen, dtype=np.float64)


def _spread_over_time(day: Floats) -> Integers:
    """Return the rows to fit on: all, or `MOST_QUOTES` of them spread evenly over the past."""
    sort = np.argsort(day, kind="stable")
    if len(day) <= MOST_QUOTES:
        return np.sort(sort)
    return np.sort(sort[np.linspace(0, len(day) - 1, MOST_QUOTES).astype(np.int64)])


def _fit_time(common: tuple[Floats, Floats], terms: Floats, prior: Floats, won: Floats, rows: Integers) -> _Fit:
    """Return the fit in which the terms of time spread as widely as they are found to (EM on their variance)."""
    design, sd_time = np.hstack([common[0], terms]), SD_TIME
    fixed, b = common[0].shape[1], None
    for _ in range(TIME_ROUNDS):
        sd = np.concatenate([common[1], np.full(terms.shape[1], sd_time)])
        sd[1:3] = prior[:, 1]
        found = _fit(design[rows], sd, prior, won[rows], b)
        b = found.mean
        squares = np.sum(b[fixed:] ** 2) + np.trace(found.covariance[fixed:, fixed:])
        sd_time = max(float(np.sqrt((squares + PRIOR_TERMS * SD_TIME**2) / (terms.shape[1] + PRIOR_TERMS))), SD_TIME_LEAST)
    return _Fit(found.mean, found.covariance, design)


def _fit(design: Floats, sd: Floats, prior: Floats, won: Floats, start: Floats | None) -> _Fit:
    """Return the mode and the covariance of the penalised logit (Newton's method, halved steps where the fit would worsen)."""
    middle = np.zeros(len(sd))
    middle[1:3] = prior[:, 0]
    precision, b = sd**-2.0, middle.copy() if start is None else start
    value = _penalised(design, won, b, middle, precision)
    for _ in range(ITERATIONS):
        chance = _odds(design @ b)
        gradient = design.T @ (won - chance) - precision * (b - middle)
        hessian = (design * (chance * (1 - chance))[:, None]).T @ design + np.diag(precision)
        step = np.linalg.solve(hessian, gradient)
        while (after := _penalised(design, won, b + step, middle, precision)) < value - CONVERGED and np.abs(step).max() > CONVERGED:
            step = step / 2
        b, gain, value = b + step, after - value, after
        if gain < CONVERGED:
            break
    return _Fit(b, np.asarray(np.linalg.inv(hessian), dtype=np.float64), design)


def _penalised(design: Floats, won: Floats, b: Floats, middle: Floats, precision: Floats) -> float:
    told = design @ b
    return float(np.sum(won * told - np.logaddexp(0.0, told)) - 0.5 * np.sum(precision * (b - middle) ** 2))


def _odds(logit: Floats) -> Floats:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(logit, -40, 40))))


def _hull(first: _Fit, second: _Fit, place: int, rng: np.random.Generator, draws: int) -> Answer:
    means = np.array([fit.mean[place] for fit in (first, second)])
    sds = np.sqrt([fit.covariance[place, place] for fit in (first, second)])
    which = np.arange(draws) % 2
    drawn = means[which] + sds[which] * rng.standard_normal(draws)
    estimate = float(means.mean())
    low, high = float((means - NORMAL_80 * sds).min()), float((means + NORMAL_80 * sds).max())
    return Answer(estimate, low, high, np.concatenate([[estimate], drawn]))


def _today(fit: _Fit, common: tuple[Floats, Floats], recent: Floats) -> tuple[Floats, float]:
    """Return each quote's log odds at mean weeks and today's mean of time and season, and the standard error of their level."""
    n = common[0].shape[1]
    use = recent > 0 if (recent > 0).any() else np.ones(len(recent), dtype=bool)
    terms = fit.design[use][:, n:].mean(axis=0) if len(recent) else np.zeros(fit.design.shape[1] - n)
    at_mean = common[0].copy()
    at_mean[:, 2] = 0.0
    row = np.concatenate([at_mean[use].mean(axis=0) if len(recent) else np.zeros(n), terms])
    return at_mean @ fit.mean[:n] + float(terms @ fit.mean[n:]), float(np.sqrt(row @ fit.covariance @ row))

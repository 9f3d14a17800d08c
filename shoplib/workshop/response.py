"""Customers' answer to price and wait: which quotes are won.

    log odds of won = a + p · ln(price ÷ metal) + w · weeks quoted + c · ln g + style + time and season

fitted twice: with a trend and a yearly wave of time, and with an effect of each month besides. Time terms must be there, for a
hidden season that lengthens the queue and wins quotes biases the plain fit towards 0; and they must be no wider than they are, for a
won quote lengthens the queue it is compared with later, and every term of time that only fits luck then errs the other way. How wide
each kind of term spreads, nothing among the choices, is therefore averaged over by how well each width foretells the quotes
(marginal likelihood), not set. The range is the hull of both 80 % ranges and the draws come from both alike. The owner's stated
prior takes part in both, so that it carries a thin history.

References
----------
A. Gelman et al., "A weakly informative default prior distribution for logistic and other regression models",
Annals of Applied Statistics 2 (2008), 1360–1383.
S. Nickell, "Biases in dynamic models with fixed effects", Econometrica 49 (1981), 1417–1426.
J. Hoeting et al., "Bayesian model averaging: a tutorial", Statistical Science 14 (1999), 382–417.
L. Tierney and J. Kadane, "Accurate approximations for posterior moments and marginal densities", Journal of the American
Statistical Association 81 (1986), 82–86.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from .arrays import Floats, Integers

ITERATIONS = 30
NORMAL_80 = 1.2815515655446004
"""Half-width of the 80 % range of a standard normal variable."""
SD_STYLE = 0.5
SD_WEIGHT = 1.0
"""Prior standard deviations, log odds: of a style, of ln g. Weak; common practice, no source."""
WIDTHS = ((0.0, 0.15, 0.5), (0.0, 0.15, 0.5), (0.0, 0.1, 0.3))
"""Standard deviations looked at of the terms of time, log odds: trend, yearly wave, months; no source."""
NONE = 0.5
"""Prior chance that there is no term of a kind; the rest is shared by its other widths."""
PILOT = 0.3
"""Width at which the odds of each quote are found, about which the others are told."""
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
    with `recent`; `shift`: draws about it; `smooth`, `monthly`: estimate and standard deviation of (price, wait), without and with
    month effects.
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
    trend, wave, months = _trend(quotes.day), _wave(quotes.day), _month_terms(quotes.month)
    first = _fit_time(common, (trend, wave), prior, quotes.won, rows)
    second = _fit_time(common, (trend, wave, months), prior, quotes.won, rows)
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


def _trend(day: Floats) -> Floats:
    """Return a line and a bow of time."""
    span = max(float(np.ptp(day)), 1.0) if len(day) else 1.0
    u = 2 * (day - day.min(initial=np.inf)) / span - 1 if len(day) else day
    return np.column_stack([u, 1.5 * u**2 - 0.5])


def _wave(day: Floats) -> Floats:
    """Return the first two yearly harmonics; a history of under a year has no season to tell: no column."""
    if not len(day) or np.ptp(day) < 365:
        return np.zeros((len(day), 0))
    return np.column_stack([wave(2 * np.pi * k * day / 365.25) for k in (1, 2) for wave in (np.sin, np.cos)])


def _month_terms(month: Integers) -> Floats:
    seen = np.unique(month)
    return np.asarray(month[:, None] == seen, dtype=np.float64)


def _spread_over_time(day: Floats) -> Integers:
    """Return the rows to fit on: all, or `MOST_QUOTES` of them spread evenly over the past."""
    sort = np.argsort(day, kind="stable")
    if len(day) <= MOST_QUOTES:
        return np.sort(sort)
    return np.sort(sort[np.linspace(0, len(day) - 1, MOST_QUOTES).astype(np.int64)])


def _fit_time(common: tuple[Floats, Floats], kinds: tuple[Floats, ...], prior: Floats, won: Floats, rows: Integers) -> _Fit:
    """Return the fit averaged over the widths of each kind of term of time, by prior chance × marginal likelihood (Laplace)."""
    design = np.hstack([common[0], *kinds])
    kind = np.repeat(np.arange(-1, len(kinds)), [common[0].shape[1], *(part.shape[1] for part in kinds)])
    sd = np.concatenate([common[1], np.full(len(kind) - len(common[1]), PILOT)])
    sd[1:3] = prior[:, 1]
    pilot = _fit(design[rows], sd, prior, won[rows], None)
    middle = np.zeros(len(sd))
    middle[1:3] = prior[:, 0]
    information: Floats = np.asarray(np.linalg.inv(pilot.covariance) - np.diag(sd**-2.0), dtype=np.float64)
    told = information @ (pilot.mean - middle) + (pilot.mean - middle) / sd**2
    parts = [_at_widths(information, told, sd, kind, widths) for widths in product(*WIDTHS[: len(kinds)])]
    weight = np.exp(np.array([one[0] for one in parts]) - max(one[0] for one in parts))
    weight /= weight.sum()
    means = np.array([one[1] for one in parts])
    mean = weight @ means
    off = means - mean
    within = np.einsum("k,kij->ij", weight, np.array([one[2] for one in parts]))
    return _Fit(mean + middle, within + (off * weight[:, None]).T @ off, design)


def _at_widths(information: Floats, told: Floats, sd: Floats, kind: Integers, widths: tuple[float, ...]) -> tuple[float, Floats, Floats]:
    """Return ln (prior chance × marginal likelihood), mean less prior mean, and covariance with the terms of time at `widths`."""
    spread = np.where(kind < 0, sd, np.array([*widths, 0.0])[kind])
    keep = np.flatnonzero(spread > 0)
    precision = spread[keep] ** -2.0
    inner = np.asarray(np.linalg.inv(information[np.ix_(keep, keep)] + np.diag(precision)), dtype=np.float64)
    mean, covariance = np.zeros(len(sd)), np.zeros((len(sd), len(sd)))
    mean[keep], covariance[np.ix_(keep, keep)] = inner @ told[keep], inner
    evidence = 0.5 * (told[keep] @ mean[keep] + np.linalg.slogdet(inner)[1] + np.sum(np.log(precision)))
    chance = sum(np.log(NONE if width == 0 else (1 - NONE) / (len(WIDTHS[k]) - 1)) for k, width in enumerate(widths))
    return float(evidence + chance), mean, covariance


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

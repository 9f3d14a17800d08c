"""Work time: hours of a visit by stage, weight, style, alloy and rework, all stages in one fit.

    ln hours = intercept + slope · (ln g − centre) + style + alloy (+ rework) + sd · z,     z standard normal

for every stage, with partial pooling: slopes and rework lean on their mean over the stages, styles and alloys on 0, as strongly
as their spread between stages says. The solution is a ridge in closed form; its penalties (one variance a kind of effect) come
from a fixed point of the marginal likelihood. A visit that still runs is known only to last longer than the hours booked: its
expected ln hours take their place (EM).

References
----------
D. J. C. MacKay, "Bayesian interpolation", Neural Computation 4 (1992), 415–447, eq. 4.9 (fixed point of the variances).
J. Tobin, "Estimation of relationships for limited dependent variables", Econometrica 26 (1958), 24–36 (censored regression).
N. Duan, "Smearing estimate: a nonparametric retransformation method", JASA 78 (1983), 605–610.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .arrays import Flags, Floats, Integers

ROUNDS = 8
"""Rounds of the fixed point; the running visits take part in each."""
PRIOR_SD_INTERCEPT = 1.0
"""A stage without a visit may take e times the usual hours, or a part."""
LEAST_VARIANCE = 1e-4
PRIOR_SD_LN = 0.4
"""Standard deviation of ln hours where nothing is measured; common practice, no source."""
PRIOR_VISITS = 8.0
"""Weight, in visits, of the shop's mean variance in each stage's own."""
SMEARING_VISITS = 20.0
"""Weight, in visits, of a retransformation factor of 1."""
MOST_SMEARING = 0.4
FAR_OUT = 30.0


@dataclass(frozen=True)
class VisitHours:
    """Visits with hours, n of them.

    Attributes
    ----------
    stage, style, alloy : Integers, shape (n,)
        Positions; alloy −1 where the order has none.
    ln_weight : Floats, shape (n,)
        ln g gross; NaN counts as the usual weight.
    again : Flags, shape (n,)
        The order had been at the stage before.
    hours : Floats, shape (n,)
        Hours booked, > 0.
    running : Flags, shape (n,)
        Not over: the hours are a lower bound.
    """

    stage: Integers
    style: Integers
    alloy: Integers
    ln_weight: Floats
    again: Flags
    hours: Floats
    running: Flags

    def usable(self) -> VisitHours:
        """Return the visits whose hours are known and above zero."""
        keep = np.isfinite(self.hours) & (self.hours > 0) & (self.stage >= 0) & (self.style >= 0)
        return replace(self, **{name: getattr(self, name)[keep] for name in self.__dataclass_fields__})


@dataclass(frozen=True)
class WorkTime:
    """The fit: row 0 the estimate, the rest draws; axes as in `Workshop`. `visits`: visits each stage rests on."""

    centre: float
    intercept: Floats
    slope: Floats
    style: Floats
    alloy: Floats
    rework: Floats
    sd: Floats
    visits: Integers

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of `Workshop` this part fills."""
        return {
            "ln_weight_centre": self.centre,
            "work_intercept": self.intercept,
            "work_slope": self.slope,
            "work_style": self.style,
            "work_alloy": self.alloy,
            "work_rework": self.rework,
            "work_sd": self.sd,
        }


def fit_work_time(
    visits: VisitHours, n_stages: int, n_styles: int, n_alloys: int, rng: np.random.Generator, draws: int, standard_h: Floats | None = None
) -> WorkTime:
    """Fit work time at all stages.

    Parameters
    ----------
    visits : VisitHours
        Ended and running visits.
    n_stages, n_styles, n_alloys : int
        Lengths of the axes.
    rng : Generator
        Of the draws.
    draws : int
        Number of draws beside the estimate.
    standard_h : Floats, shape (n_stages,), optional
        Standard hours of the usual piece, 0 or NaN where not known: where a stage leans without visits of its own.
    """
    known = visits.usable()
    finite = known.ln_weight[np.isfinite(known.ln_weight)]
    centre = float(np.mean(finite)) if len(finite) else float(np.log(30.0))
    problem = _Problem.of(known, centre, n_stages, n_styles, n_alloys, standard_h)
    solution = problem.solve()
    return _draw(problem, solution, centre, rng, draws)


@dataclass(frozen=True)
class _Solution:
    """Coefficients and their covariance by stage, ln variance, and degrees of freedom behind it."""

    coefficient: Floats
    covariance: Floats
    variance: Floats
    freedom: Floats


@dataclass(frozen=True)
class _Problem:
    """Normal equations by stage. Columns: intercept, slope, rework, styles, alloys."""

    designs: tuple[Floats, ...]
    ln_hours: tuple[Floats, ...]
    running: tuple[Flags, ...]
    n_styles: int
    n_alloys: int
    intercepts: Floats

    @classmethod
    def of(cls, v: VisitHours, centre: float, n_stages: int, n_styles: int, n_alloys: int, standard_h: Floats | None) -> _Problem:
        grams = np.where(np.isfinite(v.ln_weight), v.ln_weight - centre, 0.0)
        plain = np.column_stack([np.ones(len(grams)), grams, v.again])
        design = np.hstack([plain, _one_hot(v.style, n_styles), _one_hot(v.alloy, n_alloys)])
        order = np.argsort(v.stage, kind="stable")
        cuts = np.searchsorted(v.stage[order], np.arange(1, n_stages))
        parts = [np.split(a[order], cuts) for a in (design, np.log(v.hours), v.running)]
        return cls(tuple(parts[0]), tuple(parts[1]), tuple(parts[2]), n_styles, n_alloys, _prior_intercepts(parts[1], standard_h))

    @property
    def kinds(self) -> tuple[slice, ...]:
        """Columns of slope, rework, styles, alloys: each kind has one variance."""
        first, last = 3, 3 + self.n_styles
        return slice(1, 2), slice(2, 3), slice(first, last), slice(last, last + self.n_alloys)

    def solve(self) -> _Solution:
        """Iterate ridge, running visits and variances."""
        gram = np.array([x.T @ x for x in self.designs])
        filled = [y.copy() for y in self.ln_hours]
        extra = np.zeros(len(filled))
        variance = np.full(len(filled), PRIOR_SD_LN**2)
        spread, means = np.array([0.05, 0.05, 0.05, 0.05]), np.array([0.5, 0.0])
        for _ in range(ROUNDS):
            precision, centre = self._prior(spread, means)
            moment = np.array([x.T @ y for x, y in zip(self.designs, filled, strict=True)])
            covariance = np.linalg.inv(gram / variance[:, None, None] + np.apply_along_axis(np.diag, 1, precision))
            coefficient = np.einsum("sij,sj->si", covariance, moment / variance[:, None] + precision * centre)
            variance, freedom = self._variance(coefficient, covariance, gram, filled, extra, variance)
            spread, means = self._spread(coefficient, covariance, precision, means)
            extra = self._fill(filled, coefficient, variance)
        return _Solution(coefficient, covariance, variance, freedom)

    def _prior(self, spread: Floats, means: Floats) -> tuple[Floats, Floats]:
        shape = (len(self.designs), 3 + self.n_styles + self.n_alloys)
        precision, centre = np.empty(shape), np.zeros(shape)
        precision[:, 0], centre[:, 0] = PRIOR_SD_INTERCEPT**-2, self.intercepts
        centre[:, 1], centre[:, 2] = means
        for kind, variance in zip(self.kinds, spread, strict=True):
            precision[:, kind] = 1.0 / variance
        return precision, centre

    def _variance(
        self, coefficient: Floats, covariance: Floats, gram: Floats, filled: list[Floats], extra: Floats, before: Floats
    ) -> tuple[Floats, Floats]:
        """Return each stage's residual variance, leaning on the shop's, and its degrees of freedom."""
        squares = np.array([np.sum((y - x @ b) ** 2) for x, y, b in zip(self.designs, filled, coefficient, strict=True)]) + extra
        used = np.einsum("sij,sji->s", covariance, gram) / before
        own = np.maximum(np.array([len(y) for y in filled]) - used, 0.0)
        shop = float(squares.sum() / own.sum()) if own.sum() > 1 else PRIOR_SD_LN**2
        freedom = own + PRIOR_VISITS
        return np.maximum((squares + PRIOR_VISITS * max(shop, LEAST_VARIANCE)) / freedom, LEAST_VARIANCE), freedom

    def _spread(self, coefficient: Floats, covariance: Floats, precision: Floats, means: Floats) -> tuple[Floats, Floats]:
        """Return the variance of each kind of effect between stages, and the means of slope and rework."""
        doubt = np.einsum("sii->si", covariance)
        known = np.clip(1.0 - doubt * precision, 0.0, 1.0)
        after = np.array([np.average(coefficient[:, j], weights=known[:, j] + 1e-6) for j in (1, 2)])
        spread = []
        for place, kind in enumerate(self.kinds):
            off = coefficient[:, kind] - (after[place] if place < 2 else 0.0)
            spread.append(max(float(np.sum(off**2) / max(np.sum(known[:, kind]), 0.5)), LEAST_VARIANCE))
        return np.array(spread), after

    def _fill(self, filled: list[Floats], coefficient: Floats, variance: Floats) -> Floats:
        """Put expected ln hours in place of running visits; return the variance they add to the squares of each stage."""
        extra = np.zeros(len(filled))
        for s, running in enumerate(self.running):
            if running.any():
                sd, mean = np.sqrt(variance[s]), self.designs[s][running] @ coefficient[s]
                z = (self.ln_hours[s][running] - mean) / sd
                beyond = hazard(z)
                filled[s][running] = mean + sd * beyond
                extra[s] = variance[s] * np.sum(np.maximum(1.0 - beyond * (beyond - z), 0.0))
        return extra

    def smearing(self, solution: _Solution) -> Floats:
        """Return what must be added to each intercept so that mean hours agree with those booked."""
        shift = np.zeros(len(self.designs))
        for s, (x, y, running) in enumerate(zip(self.designs, self.ln_hours, self.running, strict=True)):
            told = np.exp(x[~running] @ solution.coefficient[s] + solution.variance[s] / 2).sum()
            if told > 0:
                n = float(np.sum(~running))
                shift[s] = np.log(np.exp(y[~running]).sum() / told) * n / (n + SMEARING_VISITS)
        return np.clip(shift, -MOST_SMEARING, MOST_SMEARING)


def hazard(z: Floats) -> Floats:
    """Return the mean of a standard normal variable given that it exceeds `z`: its density over its upper tail.

    Far out, where the tail is smaller than any number, z + 1 ÷ z − 2 ÷ z³ (Abramowitz & Stegun 1964, 26.2.12, inverted).
    """
    tail = np.array([0.5 * math.erfc(x / math.sqrt(2.0)) for x in np.minimum(z, FAR_OUT).tolist()])
    near = np.exp(-0.5 * np.minimum(z, FAR_OUT) ** 2) / (math.sqrt(2 * math.pi) * tail)
    far = np.maximum(z, FAR_OUT)
    return np.where(z < FAR_OUT, near, far + 1 / far - 2 / far**3)


def _one_hot(place: Integers, n: int) -> Floats:
    return np.asarray(place[:, None] == np.arange(n)[None, :], dtype=np.float64)


def _prior_intercepts(ln_hours: list[NDArray[np.float64]], standard_h: Floats | None) -> Floats:
    """Return where each stage's intercept leans: ln of its standard hours, else the mean of the stages that have visits."""
    seen = [float(np.mean(y)) for y in ln_hours if len(y)]
    usual = np.full(len(ln_hours), float(np.mean(seen)) if seen else 0.0)
    if standard_h is None:
        return usual
    known = np.isfinite(standard_h) & (standard_h > 0)
    return np.where(known, np.log(np.where(known, standard_h, 1.0)), usual)


def _draw(problem: _Problem, solution: _Solution, centre: float, rng: np.random.Generator, draws: int) -> WorkTime:
    root = np.linalg.cholesky(solution.covariance)
    z = rng.standard_normal((draws, *solution.coefficient.shape))
    drawn = solution.coefficient + np.einsum("sij,dsj->dsi", root, z)
    rows = np.concatenate([solution.coefficient[None], drawn])
    rows[:, :, 0] += problem.smearing(solution)
    chi = rng.chisquare(solution.freedom, (draws, len(solution.freedom)))
    sd = np.sqrt(np.concatenate([solution.variance[None], solution.variance * solution.freedom / chi]))
    slope, rework, styles, alloys = (rows[:, :, kind] for kind in problem.kinds)
    seen = np.array([len(y) for y in problem.ln_hours], dtype=np.int64)
    return WorkTime(centre, rows[:, :, 0], slope[:, :, 0], styles, alloys, rework[:, :, 0], sd, seen)

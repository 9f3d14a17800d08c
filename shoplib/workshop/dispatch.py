"""Dispatch: by which rule people take the next order, and how strictly.

At each start of a visit with two or more orders waiting in that person's queues, the rank of the one taken is scored under three
rules: earliest promise, earliest order, longest in the queue. A conditional logit in the rank says which is the likeliest; its
strength is the share of picks that follow it, the others being drawn evenly from what waits.

References
----------
D. McFadden, "Conditional logit analysis of qualitative choice behavior", in P. Zarembka (ed.), *Frontiers in Econometrics* (1974), 105–142.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from ..intake.shop import Finding
from .arrays import Flags, Floats, Integers
from .model import RULES

FEW_PICKS = 200
PRIOR_STRENGTH = 0.8
"""Share of picks that follow the rule where too few tell; common practice, no source."""
MOST_PICKS = 4000
"""The latest picks tell of today's habits."""
PASSED_OVER = 5
"""An order that stood first of all at so many picks and was not taken was held up by something nobody wrote down."""
CHUNK = 400
"""Picks compared with what waited at a time."""
STEEPNESS = np.linspace(0.0, 4.0, 81)
STRENGTH = np.linspace(0.0, 1.0, 201)
CLEAR = 3.0
"""Log likelihood by which a rule must beat earliest promise to be named."""


@dataclass(frozen=True)
class Waits:
    """Waits of visits in queues, n of them, sorted by `begun`.

    Attributes
    ----------
    stage : Integers, shape (n,)
        Stage waited for.
    person : Integers, shape (n,)
        Who began the visit; −1 unknown or not begun.
    joined, begun : Floats, shape (n,)
        Days since a fixed day; begun is +inf while waiting. Whole days where the cards name dates only.
    key : Floats, shape (3, n)
        What each of RULES sorts by, smaller first; +inf where missing.
    rush : Flags, shape (n,)
        Goes first under each rule.
    order : Integers, shape (n,)
        Position of the order by order date: the last tie-break.
    sure : Flags, shape (n,)
        The wait tells of work that could be done: no stage of the route was passed over without an entry, and it was not so long
        that the order was rather held up.
    """

    stage: Integers
    person: Integers
    joined: Floats
    begun: Floats
    key: Floats
    rush: Flags
    order: Integers
    sure: Flags


@dataclass(frozen=True)
class Dispatch:
    """The fit: rule, strength (row 0 the estimate, the rest draws), number of picks and log likelihood of each rule by name."""

    rule: str
    strength: Floats
    picks: int
    log_likelihood: dict[str, float]
    findings: tuple[Finding, ...]

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of `Workshop` this part fills."""
        return {"dispatch_rule": self.rule, "dispatch_strength": self.strength}


def fit_dispatch(waits: Waits, serves_from: Floats, dates_only: bool, wanted: str, rng: np.random.Generator, draws: int) -> Dispatch:
    """Fit the dispatch rule.

    Parameters
    ----------
    waits : Waits
        All waits in queues.
    serves_from : Floats, shape (P, S)
        Day from which each person serves each stage, +inf when not.
    dates_only : bool
        Whether moments within a day are unknown: then only orders that waited on the day before and on the day after compare.
    wanted : str
        A rule of RULES set by the owner, or ``auto``.
    rng : Generator
        Of the draws.
    draws : int
        Number of draws beside the estimate.
    """
    waits = _latest(waits, dates_only)
    ahead, n, passed = ranks(waits, serves_from, dates_only)
    likelihood = {rule: _best_logit(ahead[place], n) for place, rule in enumerate(RULES)}
    promised = bool(np.isfinite(waits.key[0]).any())
    rule, findings = _choose(likelihood, len(n), promised, wanted)
    place = RULES.index(rule)
    if (passed[place] >= PASSED_OVER).any():
        free = replace(waits, sure=waits.sure & (passed[place] < PASSED_OVER))
        ahead, n, _ = ranks(free, serves_from, dates_only)
    return Dispatch(rule, _strength(ahead[place], n, rng, draws), len(n), likelihood, findings)


def _picks(waits: Waits, dates_only: bool) -> Integers:
    return np.flatnonzero((waits.person >= 0) & np.isfinite(waits.begun) & (waits.joined + dates_only <= waits.begun) & waits.sure)


def _latest(waits: Waits, dates_only: bool) -> Waits:
    """Return the waits that end with the `MOST_PICKS` latest picks or later: nothing that ended before waited beside them."""
    picks = _picks(waits, dates_only)[-MOST_PICKS:]
    first = int(picks[0]) if len(picks) else 0
    return replace(waits, **{field.name: getattr(waits, field.name)[..., first:] for field in fields(waits)})


def ranks(waits: Waits, serves_from: Floats, dates_only: bool) -> tuple[Integers, Integers, Integers]:
    """Return how the order taken stood at each pick.

    Returns
    -------
    ahead : Integers, shape (3, picks)
        By rule, how many of the others waiting stood before it.
    n : Integers, shape (picks,)
        Others waiting, at least 1.
    passed : Integers, shape (3, n waits)
        By rule, at how many picks each wait stood first of all and was passed over.
    """
    picks = _picks(waits, dates_only)
    longest, standing = _running_longest(waits), _standing(waits)
    passed = np.zeros(standing.shape, dtype=np.int64)
    parts = [
        _ranks_of(waits, picks[at : at + CHUNK], longest, standing, serves_from, dates_only, passed) for at in range(0, len(picks), CHUNK)
    ]
    ahead = np.concatenate([np.zeros((3, 0), np.int64), *(one for one, _ in parts)], axis=1)
    n = np.concatenate([np.zeros(0, np.int64), *(one for _, one in parts)])
    return ahead[:, n > 0], n[n > 0], passed


def _standing(waits: Waits) -> Integers:
    """Return the place of each wait among all by each rule: rush first, then the rule's key, then order date; equal where tied.

    Time in the queue is told to the day: when in the day an order was taken, nobody wrote down, so that two that joined on one day
    stand alike.
    """
    standing = np.empty(waits.key.shape, dtype=np.int64)
    for place, rule in enumerate(RULES):
        by_day = rule == "queue"
        last, key = (np.zeros_like(waits.order), np.floor(waits.key[place])) if by_day else (waits.order, waits.key[place])
        sort = np.lexsort((last, key, ~waits.rush))
        columns = np.vstack([last, key, ~waits.rush])[:, sort]
        fresh = np.append(True, (columns[:, 1:] != columns[:, :-1]).any(axis=0))[: len(sort)]
        standing[place, sort] = np.cumsum(fresh)
    return standing


def _running_longest(waits: Waits) -> Floats:
    """Return, for each wait, the earliest moment at which it or a later one joined: nothing after it can have waited before."""
    return np.asarray(np.minimum.accumulate(waits.joined[::-1])[::-1])


def _ranks_of(
    waits: Waits, picks: Integers, longest: Floats, standing: Integers, serves_from: Floats, dates_only: bool, passed: Integers
) -> tuple[Integers, Integers]:
    """Return `ahead` and `n` of some picks, and count into `passed`."""
    first = int(picks[0])
    last = int(np.searchsorted(longest, waits.begun[picks[-1]], side="right"))
    others = np.arange(first, max(last, first))
    others = others[(waits.joined[others] <= waits.begun[picks[-1]]) & waits.sure[others]]
    now, joined, begun = waits.begun[picks][:, None], waits.joined[others][None, :], waits.begun[others][None, :]
    beside = (joined + dates_only <= now) & (begun >= now + dates_only) & (begun > now)
    beside &= serves_from[waits.person[picks]][:, waits.stage[others]] <= now
    beside &= waits.order[picks][:, None] != waits.order[others][None, :]
    ahead = np.empty((3, len(picks)), dtype=np.int64)
    for rule in range(3):
        theirs = np.where(beside, standing[rule, others], standing.max(initial=0) + 1)
        before = theirs < standing[rule, picks][:, None]
        ahead[rule] = before.sum(axis=1)
        over = before.any(axis=1)
        np.add.at(passed[rule], others[theirs[over].argmin(axis=1)] if over.any() else [], 1)
    return ahead, beside.sum(axis=1)


def _best_logit(ahead: Integers, n: Integers) -> float:
    """Return the greatest log likelihood over the steepness λ of P(rank r of n + 1) ∝ exp(−λ r)."""
    if not len(n):
        return 0.0
    steep = STEEPNESS[1:, None]
    counts, inverse = np.unique(n, return_inverse=True)
    total = np.log1p(-np.exp(-steep * (counts + 1.0))) - np.log1p(-np.exp(-steep))
    times = np.bincount(inverse.ravel(), minlength=len(counts))
    curve = -steep[:, 0] * float(ahead.sum()) - total @ times
    even = -float(np.sum(np.log(n + 1.0)))
    return float(max(curve.max(), even))


def _choose(likelihood: dict[str, float], picks: int, promised: bool, wanted: str) -> tuple[str, tuple[Finding, ...]]:
    if wanted != "auto":
        return wanted, ()
    usual = "promise" if promised else "order_date"
    if picks < FEW_PICKS:
        text = (
            f"Only {picks} times did an order have to be chosen before another: work is taken to go by "
            f"{'earliest promise' if promised else 'order date'}. Set policy.work_order if it goes otherwise."
        )
        return usual, (Finding("note", "dispatch_assumed", text, "policy.work_order"),)
    best = max(likelihood, key=lambda rule: likelihood[rule])
    if likelihood[best] - likelihood[usual] < CLEAR:
        best = usual
    return best, ()


def _strength(ahead: Integers, n: Integers, rng: np.random.Generator, draws: int) -> Floats:
    """Return the share of picks that follow the rule: estimate and draws from its likelihood on a grid, flat prior."""
    if len(n) < FEW_PICKS // 4:
        return np.asarray(np.clip(np.concatenate([[PRIOR_STRENGTH], rng.normal(PRIOR_STRENGTH, 0.1, draws)]), 0.0, 1.0))
    even = (1 - STRENGTH[:, None]) / (n + 1.0)[None, :]
    chance = even + STRENGTH[:, None] * (ahead == 0)[None, :]
    log_likelihood = np.log(np.maximum(chance, 1e-12)).sum(axis=1)
    weight = np.exp(log_likelihood - log_likelihood.max())
    step = STRENGTH[1] - STRENGTH[0]
    drawn = rng.choice(STRENGTH, draws, p=weight / weight.sum()) + rng.uniform(-step / 2, step / 2, draws)
    estimate = float(np.average(STRENGTH, weights=weight))
    return np.asarray(np.clip(np.concatenate([[estimate], drawn]), 0.0, 1.0))

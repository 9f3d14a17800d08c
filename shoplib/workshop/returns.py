"""Returns: how often a stage sends an order back, where to, and which stages it then passes again.

The chance of each stage and alloy is a beta-binomial estimate. It leans on its stage's chance times a factor of its alloy, the
stage's on the shop's, the alloy's on 1, each as strongly as the spread between them says (moment estimates).

References
----------
J. C. Kleinman, "Proportions with extraneous variance: single and independent samples", JASA 68 (1973), 46–54.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .arrays import Flags, Floats, Integers

LEAST_CORRELATION = 1e-3
MOST_CORRELATION = 0.5
MOST_ALLOY_WEIGHT = 30.0
"""Returns that the mean of all alloys counts for at most, so that an alloy with many returns of its own can tell."""
MOST_RETURNS = 20_000
"""The latest returns tell which stages are passed again."""
PRIOR_REPASS = (1.0, 1.0)
"""Beta prior of passing a stage again: anything between never and always."""


@dataclass(frozen=True)
class Sequence:
    """Visits by order and in sequence, n of them: order number, stage, alloy (−1: none), whether the order is closed."""

    order: Integers
    stage: Integers
    alloy: Integers
    closed: Flags

    @property
    def following(self) -> Integers:
        """Stage of the order's next visit; −1 without one, shape (n,)."""
        after = np.full(len(self.order), -1, dtype=np.int64)
        after[:-1] = np.where(self.order[1:] == self.order[:-1], self.stage[1:], -1)
        return after

    @property
    def sent_back(self) -> Flags:
        """The next visit of the order is at the same stage or an earlier one, shape (n,)."""
        return np.asarray((self.following >= 0) & (self.following <= self.stage))

    @property
    def decided(self) -> Flags:
        """It is known what followed: another visit, or the order was closed, shape (n,)."""
        return np.asarray((self.following >= 0) | self.closed)


@dataclass(frozen=True)
class Returns:
    """The fit; axes as in `Workshop`. `visits` and `returns`: counts by stage and alloy."""

    chance: Floats
    to: Floats
    repass: Floats
    visits: Floats
    returns: Floats

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of `Workshop` this part fills."""
        return {"return_chance": self.chance, "return_to": self.to, "repass": self.repass}


def fit_returns(seen: Sequence, n_stages: int, n_alloys: int, rng: np.random.Generator, draws: int) -> Returns:
    """Fit the returns.

    Parameters
    ----------
    seen : Sequence
        Visits of orders before their delivery.
    n_stages, n_alloys : int
        Lengths of the axes.
    rng : Generator
        Of the draws.
    draws : int
        Number of draws beside the estimate.
    """
    decided, back = seen.decided, seen.sent_back
    visits = _counts(seen, decided, n_stages, n_alloys)
    returns = _counts(seen, back, n_stages, n_alloys)
    to = np.zeros((n_stages, n_stages))
    np.add.at(to, (seen.stage[back], seen.following[back]), 1.0)
    total = to.sum(axis=1, keepdims=True)
    chance = _shrunk(visits, returns, rng, draws) * (total[:, 0] > 0)[:, None]
    return Returns(chance, np.divide(to, total, out=np.zeros_like(to), where=total > 0), _repass(seen, n_stages), visits, returns)


def _counts(seen: Sequence, which: Flags, n_stages: int, n_alloys: int) -> Floats:
    table = np.zeros((n_stages, n_alloys + 1))
    np.add.at(table, (seen.stage[which], seen.alloy[which]), 1.0)
    # Alloy −1 counts in the last column: work without an alloy tells about the stage, not about an alloy.
    table[:, :-1] += table[:, -1:] * _share(table[:, :-1])
    return np.asarray(table[:, :-1])


def _share(table: Floats) -> Floats:
    total = table.sum(axis=1, keepdims=True)
    return np.asarray(np.where(total > 0, table / np.maximum(total, 1.0), 1.0 / table.shape[1]))


def _shrunk(visits: Floats, returns: Floats, rng: np.random.Generator, draws: int) -> Floats:
    """Return chances, row 0 the estimate and the rest draws, shape (draws + 1, stages, alloys)."""
    n, k = visits.sum(axis=1), returns.sum(axis=1)
    shop = (k.sum() + 0.5) / (n.sum() + 1.0)
    weight = shrink_weight(n[None], k[None])
    stage = np.vstack([(k + weight * shop) / (n + weight), rng.beta(k + weight * shop, n - k + weight * (1 - shop), (draws, len(n)))])
    factor = _alloy_factors(visits, returns, rng, draws)
    expected = stage[:1, :, None] * factor[:1, None, :]
    within = shrink_weight(visits, returns, np.clip(expected[0], 1e-9, 0.99))
    lean = np.clip(stage[:, :, None] * factor[:, None, :], 1e-9, 0.99) * within
    mean = (returns + lean[:1]) / (visits + within)
    return np.concatenate([mean, rng.beta(returns + lean[1:], visits - returns + within - lean[1:])])


def _alloy_factors(visits: Floats, returns: Floats, rng: np.random.Generator, draws: int) -> Floats:
    """Return by how much each alloy comes back more often than the mean at the same stages, shape (draws + 1, alloys)."""
    n, k = visits.sum(axis=1, keepdims=True), returns.sum(axis=1, keepdims=True)
    expected = (visits * np.divide(k, n, out=np.zeros_like(n), where=n > 0)).sum(axis=0)
    found = returns.sum(axis=0)
    total = max(float(expected.sum()), 1e-9)
    excess = float(np.sum((found - expected) ** 2 / np.maximum(expected, 1e-9) * (expected > 0)) - (np.sum(expected > 0) - 1))
    weight = float(np.clip(np.sum(expected * (1 - expected / total)) / max(excess, 1e-9), 2.0, MOST_ALLOY_WEIGHT))
    shape, rate = found + weight, expected + weight
    return np.vstack([shape / rate, rng.gamma(shape, 1 / rate, (draws, len(rate)))])


def shrink_weight(visits: Floats, returns: Floats, expected: Floats | None = None) -> float:
    """Return the weight, in visits, of the expected chance in each own one.

    Parameters
    ----------
    visits, returns : Floats, shape (rows, groups)
        Rows are taken together.
    expected : Floats, shape (rows, groups), optional
        Chance about which the groups spread; left out: the mean of each row.

    Returns
    -------
    float
        1 ÷ ρ − 1, ρ the correlation within groups by Kleinman's moment estimate.
    """
    n, k = visits.sum(axis=1, keepdims=True), returns.sum(axis=1, keepdims=True)
    row_mean = np.divide(k, n, out=np.zeros_like(n), where=n > 0) * np.ones_like(visits)
    mean = row_mean if expected is None else expected
    use = (row_mean > 0) & (row_mean < 1) & (visits > 0)
    if use.sum() < 2:
        return 1.0 / LEAST_CORRELATION - 1.0
    own = np.divide(returns, visits, out=np.zeros_like(visits), where=visits > 0)
    squares = float(np.sum(visits[use] * (own - mean)[use] ** 2 / (mean * (1 - mean))[use]))
    share = (1 - visits / np.maximum(n, 1.0))[use]
    excess = float(np.sum(share * np.maximum(visits[use] - 1, 0.0)))
    correlation = (squares - float(share.sum())) / excess if excess > 0 else LEAST_CORRELATION
    return float(1.0 / np.clip(correlation, LEAST_CORRELATION, MOST_CORRELATION) - 1.0)


def _repass(seen: Sequence, n_stages: int) -> Floats:
    """Return the share of orders on their way back that passed each stage in between again."""
    could, did = np.zeros(n_stages), np.zeros(n_stages)
    after = seen.following
    for place in np.flatnonzero(seen.sent_back)[-MOST_RETURNS:].tolist():
        found, back = int(seen.stage[place]), int(after[place])
        way = _way_back(seen, place, found)
        if way is not None:
            between = _stages_before(seen, place, back, found)
            could[between] += 1.0
            did[[s for s in between if s in way]] += 1.0
    return np.asarray((did + PRIOR_REPASS[0]) / (could + sum(PRIOR_REPASS)))


def _way_back(seen: Sequence, place: int, found: int) -> set[int] | None:
    """Return the stages from the return at `place` until the stage that sent it back is reached again; None when it is not yet."""
    way: set[int] = set()
    for at in range(place + 1, len(seen.order)):
        if seen.order[at] != seen.order[place]:
            break
        if seen.stage[at] >= found:
            return way
        way.add(int(seen.stage[at]))
    return None


def _stages_before(seen: Sequence, place: int, back: int, found: int) -> list[int]:
    """Return the stages between `back` and `found` that the order had passed before it was sent back at `place`."""
    first = int(np.searchsorted(seen.order, seen.order[place]))
    return sorted({int(s) for s in seen.stage[first:place] if back < s < found})

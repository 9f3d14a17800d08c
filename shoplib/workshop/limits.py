"""Which skill limits the shop: orders delivered a year per extra hour a week, skill by skill, under common luck.

A phantom with one skill and four hours a week lends a hand wherever an order waits for that skill; the gain against doing
nothing, a year and an hour of the week, is how much one more hour there is worth. The skill with the largest gain limits.
Where even the largest is a small part of what the hours could carry, nothing at the benches limits: demand does.

All skills are screened with a few replications; only those that could still have the largest gain are run to the end.

E. M. Goldratt's constraint, told by experiment instead of by load: the busiest bench is not always the one that limits.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from .arrays import Flags, Floats, Integers
from .model import State, Workshop
from .records import Records
from .replicate import simulate, simulate_each
from .scenario import Scenario

PHANTOM_HOURS = 4.0
SCREENING = 8
REPLICATIONS = 32
HORIZON_DAYS = 730
LEAST_SHARE = 0.15
"""A gain below this share of the orders the extra hours could carry is taken for none: demand limits."""
DEMAND = "none: demand limits"
NORMAL_80 = 1.2816
"""Half an 80 % range of a normal mean, in standard errors."""
DRAWS_A_GROUP = 4
"""A replication's own luck is averaged over so many neighbours before draws are judged."""


@dataclass(frozen=True)
class Limits:
    """What an hour more is worth.

    Attributes
    ----------
    skills : tuple of str
        In the workshop's order.
    gains : ndarray(float), shape (R, K)
        Orders a year per extra hour a week, by replication (one parameter draw each) and skill; NaN beyond the screening for
        skills that could not have the largest gain.
    ideal : ndarray(float), shape (K,)
        Orders a year that an hour a week would carry were it never short of work: 52 ÷ mean hours an order asks of the skill.
    """

    skills: tuple[str, ...]
    gains: Floats
    ideal: Floats

    def table(self) -> pd.DataFrame:
        """Return skill, orders_per_extra_hour, low, high (80 % range of the mean), limiting_probability.

        The last row is `DEMAND`, with the probability that no skill limits.
        """
        mean, error = _mean_and_error(self.gains)
        winner = self.winners()
        odds = [float(np.mean(winner == place)) for place in range(-1, len(self.skills))]
        rows = pd.DataFrame({"skill": self.skills, "orders_per_extra_hour": mean}).assign(
            low=mean - NORMAL_80 * error, high=mean + NORMAL_80 * error
        )
        none = pd.DataFrame({"skill": [DEMAND], **dict.fromkeys(rows.columns[1:], [np.nan])})
        return pd.concat([rows, none], ignore_index=True).assign(limiting_probability=[*odds[1:], odds[0]])

    def winners(self) -> Integers:
        """Return, per replication, the position of the limiting skill; −1 where demand limits."""
        if not self.gains.size:
            return np.full(len(self.gains), -1)
        groups = np.array_split(self.gains, max(1, len(self.gains) // DRAWS_A_GROUP))
        means = np.array([_mean_and_error(group)[0] for group in groups])
        best = np.where(np.isnan(means), -np.inf, means).argmax(axis=1)
        enough = np.take_along_axis(means, best[:, None], 1)[:, 0] >= LEAST_SHARE * self.ideal[best]
        return np.repeat(np.where(enough, best, -1), [len(group) for group in groups])

    @property
    def limiting(self) -> str | None:
        """The likeliest limiting skill; None where it is likelier that demand limits."""
        table = self.table()
        top = table["skill"].iloc[int(table["limiting_probability"].to_numpy().argmax())]
        return None if top == DEMAND else str(top)

    def probability(self, skill: str) -> float:
        """Return the share of replications in which `skill` (or `DEMAND`) limits."""
        places = {name: place for place, name in enumerate(self.skills)} | {DEMAND: -1}
        return float(np.mean(self.winners() == places[skill]))


def _mean_and_error(gains: Floats) -> tuple[Floats, Floats]:
    """Return mean and standard error of each column, NaN left out; NaN for a column without any."""
    count = np.sum(~np.isnan(gains), axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.nansum(gains, axis=0) / count
        squares = np.nansum((gains - mean) ** 2, axis=0)
        error = np.where(count > 1, np.sqrt(squares / np.maximum(count - 1, 1) / count), 0.0)
    return mean, error


def find_limits(workshop: Workshop, state: State, seed: int, threads: int = 1, cluster: str | None = None) -> Limits:
    """Run one phantom per skill against doing nothing.

    Parameters
    ----------
    workshop, state : Workshop, State
        The shop and its open orders.
    seed : int
        Of all runs: common luck.
    threads, cluster
        As in `simulate`.
    """
    years = HORIZON_DAYS / 365.25

    def gained(skills: Iterable[int], replications: int) -> Floats:
        found = simulate_each(
            workshop, state, [_phantom(skill) for skill in skills], _delivered, horizon_days=HORIZON_DAYS, seed=seed,
            replications=replications, threads=threads, cluster=cluster,
        )  # fmt: skip
        return np.array(found).reshape(-1, replications).T - base[:replications, None]

    base = _delivered(
        simulate(workshop, state, horizon_days=HORIZON_DAYS, seed=seed, replications=REPLICATIONS, threads=threads, cluster=cluster)
    )
    gains = np.full((REPLICATIONS, len(workshop.skills)), np.nan)
    gains[:SCREENING] = gained(range(len(workshop.skills)), SCREENING)
    close = np.flatnonzero(_could_be_largest(gains[:SCREENING]))
    gains[:, close] = gained(close.tolist(), REPLICATIONS)
    return Limits(tuple(workshop.skills.tolist()), gains / years / PHANTOM_HOURS, ideal_gain(workshop))


def _delivered(records: Records) -> Floats:
    return records.delivered_by(HORIZON_DAYS).astype(float)


def _phantom(skill: int) -> Scenario:
    return Scenario(helping_hours=((skill, PHANTOM_HOURS),))


def _could_be_largest(gains: Floats) -> Flags:
    """Return the skills whose gain, two standard errors up, reaches the largest, two standard errors down."""
    mean, error = _mean_and_error(gains)
    if not len(mean):
        return np.zeros(0, dtype=bool)
    top = int(mean.argmax())
    could: Flags = mean + 2.0 * error >= mean[top] - 2.0 * error[top]
    return could


def ideal_gain(workshop: Workshop) -> Floats:
    """Return orders a year that one hour a week of each skill would carry: 52.18 ÷ mean hours of the usual piece."""
    hours = workshop.expected_hours(workshop.piece_style, workshop.piece_alloy, workshop.piece_weight_g).mean(axis=0)
    asked = np.bincount(workshop.stage_skill, weights=hours, minlength=len(workshop.skills))
    ideal: Floats = np.divide(365.25 / 7.0, asked, out=np.full(len(asked), np.inf), where=asked > 0)
    return ideal

"""Which skill limits the shop: orders delivered a year per extra hour a week, skill by skill, under common luck.

A phantom with one skill and four hours a week lends a hand wherever an order waits for that skill; the gain against doing
nothing, a year and an hour of the week, is how much one more hour there is worth. The skill with the largest gain limits.
Where even the largest is a small part of what the hours could carry, nothing at the benches limits: demand does.

E. M. Goldratt's constraint, told by experiment instead of by load: the busiest bench is not always the one that limits.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from .arrays import Floats, Integers
from .model import State, Workshop
from .records import Records
from .replicate import simulate
from .scenario import Scenario

PHANTOM_HOURS = 4.0
REPLICATIONS = 32
HORIZON_DAYS = 730
LEAST_SHARE = 0.15
"""A gain below this share of the orders the extra hours could carry is taken for none: demand limits."""
DEMAND = "none: demand limits"
NORMAL_80 = 1.2816
"""Half an 80 % range of a normal mean, in standard errors."""


@dataclass(frozen=True)
class Limits:
    """What an hour more is worth.

    Attributes
    ----------
    skills : tuple of str
        In the workshop's order.
    gains : ndarray(float), shape (R, K)
        Orders a year per extra hour a week, by replication (one parameter draw each) and skill.
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
        mean = self.gains.mean(axis=0)
        error = self.gains.std(axis=0, ddof=1) / np.sqrt(len(self.gains)) if len(self.gains) > 1 else np.zeros(len(mean))
        winner = self.winners()
        odds = [float(np.mean(winner == place)) for place in range(len(self.skills))]
        low, high = mean - NORMAL_80 * error, mean + NORMAL_80 * error
        rows = pd.DataFrame({"skill": self.skills, "orders_per_extra_hour": mean, "low": low, "high": high})
        none = pd.DataFrame({"skill": [DEMAND], "orders_per_extra_hour": [np.nan], "low": [np.nan], "high": [np.nan]})
        table = pd.concat([rows, none], ignore_index=True)
        return table.assign(limiting_probability=[*odds, float(np.mean(winner < 0))])

    def winners(self) -> Integers:
        """Return, per replication, the position of the limiting skill; −1 where demand limits.

        A replication's own luck is averaged over its neighbours: draws are judged in groups of four.
        """
        groups = np.array_split(self.gains, max(1, len(self.gains) // 4))
        means = np.array([group.mean(axis=0) for group in groups])
        best = means.argmax(axis=1)
        enough = np.take_along_axis(means, best[:, None], 1)[:, 0] >= LEAST_SHARE * self.ideal[best]
        return np.repeat(np.where(enough, best, -1), [len(group) for group in groups])

    @property
    def limiting(self) -> str | None:
        """The likeliest limiting skill; None where it is likelier that demand limits."""
        table = self.table()
        top = table["skill"].iloc[int(table["limiting_probability"].to_numpy().argmax())]
        return None if top == DEMAND else str(top)


def find_limits(workshop: Workshop, state: State, nothing: Records, seed: int, threads: int = 1, cluster: str | None = None) -> Limits:
    """Run one phantom per skill against doing nothing.

    Parameters
    ----------
    workshop, state : Workshop, State
        The shop and its open orders.
    nothing : Records
        Doing nothing under the same seed, at least `REPLICATIONS` long and `HORIZON_DAYS` ahead.
    seed : int
        As for `nothing`: common luck.
    threads, cluster
        As in `simulate`.
    """
    base = nothing.delivered_by(HORIZON_DAYS)[:REPLICATIONS]
    years = HORIZON_DAYS / 365.25
    gains = np.empty((len(base), len(workshop.skills)))
    for skill in range(len(workshop.skills)):
        plan = Scenario(helping_hours=((skill, PHANTOM_HOURS),))
        run = simulate(
            workshop, state, horizon_days=HORIZON_DAYS, seed=seed, replications=len(base), scenario=plan, threads=threads, cluster=cluster
        )
        gains[:, skill] = (run.delivered_by(HORIZON_DAYS) - base) / years / PHANTOM_HOURS
    return Limits(tuple(workshop.skills.tolist()), gains, ideal_gain(workshop))


def ideal_gain(workshop: Workshop) -> Floats:
    """Return orders a year that one hour a week of each skill would carry: 52.18 ÷ mean hours of the usual piece."""
    hours = workshop.expected_hours(workshop.piece_style, workshop.piece_alloy, workshop.piece_weight_g).mean(axis=0)
    asked = np.bincount(workshop.stage_skill, weights=hours, minlength=len(workshop.skills))
    ideal: Floats = np.divide(365.25 / 7.0, asked, out=np.full(len(asked), np.inf), where=asked > 0)
    return ideal

"""What happens when one person is away, skill by skill: orders late, days of wait, contribution lost, under common luck.

For each skill the one who books most hours at it stays away from tomorrow on, for four weeks or for good. No person is named:
two skills of one person share a run.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arrays import Floats, Integers
from .model import State, Workshop
from .records import Records
from .replicate import simulate, simulate_each
from .scenario import Away, Scenario

REPLICATIONS = 16
AWAY = FOUR_WEEKS, FOR_GOOD = "four weeks", "for good"
AWAY_DAYS = 28
YEAR_DAYS = 365
ARRIVALS_DAYS = 182
"""The wait is that of orders that come in within half a year …"""
HORIZON_DAYS = 548
"""… and a year more is run, so that nearly all of them are delivered."""


@dataclass(frozen=True)
class Absence:
    """One skill with one person away.

    Attributes
    ----------
    skill : str
        The skill.
    away : str
        FOUR_WEEKS or FOR_GOOD.
    others : int
        People who have the skill beside the one away.
    orders_late : ndarray(float), shape (R,)
        Promises that fall due within a year and are missed, more than with everybody there.
    wait_days_change : ndarray(float), shape (R,)
        Change of the mean days from order to delivery of orders that come in within half a year; NaN where none is delivered.
    contribution_lost : ndarray(float), shape (R,)
        Contribution of orders delivered within a year, less than with everybody there, money.
    """

    skill: str
    away: str
    others: int
    orders_late: Floats
    wait_days_change: Floats
    contribution_lost: Floats


@dataclass(frozen=True)
class _Year:
    """What a run comes to."""

    late: Floats
    flow: Floats
    contribution: Floats


def without_one(
    workshop: Workshop, state: State, booked_h: Floats, seed: int, threads: int = 1, cluster: str | None = None,
    nothing: Records | None = None,
) -> list[Absence]:  # fmt: skip
    """Return every skill that somebody has, with one person away for four weeks and for good.

    Parameters
    ----------
    workshop, state : Workshop, State
        The shop and its open orders.
    booked_h : ndarray(float), shape (P, K)
        Hours each person of the workshop booked at each skill.
    seed : int
        Of all runs: common luck.
    threads, cluster
        As in `simulate_each`.
    nothing : Records, optional
        The shop run on unchanged with the same seed, at least REPLICATIONS times over HORIZON_DAYS; left out: run here.
    """
    everybody = nothing or simulate(
        workshop, state, horizon_days=HORIZON_DAYS, seed=seed, replications=REPLICATIONS, threads=threads, cluster=cluster
    )
    base, who = _year(everybody.part(0, REPLICATIONS)), busiest_person(workshop, booked_h)
    asked = [(person, away) for person in np.unique(who[who >= 0]).tolist() for away in AWAY]
    years = simulate_each(
        workshop, state, [_plan(state, person, away) for person, away in asked], _year, horizon_days=HORIZON_DAYS, seed=seed,
        replications=REPLICATIONS, threads=threads, cluster=cluster,
    )  # fmt: skip
    plans = dict(zip(asked, years, strict=True))
    found = []
    for skill in np.flatnonzero(who >= 0).tolist():
        for away in AWAY:
            year, others = plans[int(who[skill]), away], int(workshop.can[:, skill].sum()) - 1
            stuck = others == 0 and away == FOR_GOOD
            wait = np.full(REPLICATIONS, np.nan) if stuck else year.flow - base.flow
            found.append(Absence(
                str(workshop.skills[skill]), away, others, year.late - base.late, wait, base.contribution - year.contribution
            ))  # fmt: skip
    return found


def busiest_person(workshop: Workshop, booked_h: Floats) -> Integers:
    """Return, per skill, who of those who have it booked most hours at it, the first when equal; −1 where nobody has it."""
    hours = np.where(workshop.can, booked_h, -1.0)
    who: Integers = np.where(workshop.can.any(axis=0), hours.argmax(axis=0), -1)
    return who


def _plan(state: State, person: int, away: str) -> Scenario:
    first = state.as_of.astype("datetime64[D]") + 1
    return Scenario(away=(Away(person, first, first + AWAY_DAYS - 1 if away == FOUR_WEEKS else None),))


def _year(records: Records) -> _Year:
    cards = records.cards
    due = records.taken & (cards["promise"] >= 0) & (cards["promise"] < YEAR_DAYS)
    late = due & ~(cards["delivered"] <= cards["promise"])
    count = np.bincount(records.replication[late], minlength=records.replications).astype(float)
    return _Year(count, records.flow_days(0.0, ARRIVALS_DAYS, HORIZON_DAYS), records.contribution_by(YEAR_DAYS))

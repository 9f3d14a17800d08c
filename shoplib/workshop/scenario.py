"""What is asked of the workshop: another person, overtime, outwork, a mark-up, more or fewer enquiries, somebody away.

A `Scenario` without arguments is doing nothing. Positions are those of the workshop's `stages`, `skills` and `people`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

WEEK = (8.0, 8.0, 8.0, 8.0, 8.0, 0.0, 0.0)


@dataclass(frozen=True)
class ExtraPerson:
    """Somebody who is not there yet.

    Attributes
    ----------
    skills : tuple of int
        What the person can do.
    own_hours : tuple of float
        Paid hours, Monday first.
    starts_on, leaves_on : np.datetime64, optional
        First and last day; open where None.
    bench_share : float, optional
        Booked ÷ paid hours with work waiting; None: the mean of the others, draw by draw.
    absence_chance : float, optional
        Chance a day that an absence begins; None: the mean of the others, draw by draw.
    learning_rate : float
        Time falls to this share when the count of pieces doubles (unit form); 1: standard from day one.
    learning_pieces : float
        Pieces, per skill, until standard time; 0: standard from day one.
    learning_spread : float
        Standard deviation of ln `learning_pieces` over replications (0.54: half to twice in 80 of 100).
    leaves_first_year : float
        Chance to leave in the first 365 days, on a day drawn evenly.
    """

    skills: tuple[int, ...]
    own_hours: tuple[float, ...] = WEEK
    starts_on: np.datetime64 | None = None
    leaves_on: np.datetime64 | None = None
    bench_share: float | None = None
    absence_chance: float | None = None
    learning_rate: float = 1.0
    learning_pieces: float = 0.0
    learning_spread: float = 0.0
    leaves_first_year: float = 0.0


@dataclass(frozen=True)
class Training:
    """A person of the shop learns one more skill.

    Attributes
    ----------
    person, skill : int
        Who learns what.
    starts_on : np.datetime64, optional
        From when on; None: from the first day.
    learning_rate, learning_pieces, learning_spread : float
        As in `ExtraPerson`.
    """

    person: int
    skill: int
    starts_on: np.datetime64 | None = None
    learning_rate: float = 1.0
    learning_pieces: float = 0.0
    learning_spread: float = 0.0


@dataclass(frozen=True)
class Hours:
    """Paid hours a week that somebody gains or loses, spread over own working days in proportion.

    Attributes
    ----------
    person : int
        Whose hours.
    hours_per_week : float
        Added; negative for hours lost (a teacher's).
    first_on, last_on : np.datetime64, optional
        From and to; open where None.
    """

    person: int
    hours_per_week: float
    first_on: np.datetime64 | None = None
    last_on: np.datetime64 | None = None


@dataclass(frozen=True)
class Away:
    """Somebody is away; `last_on` None: for good."""

    person: int
    first_on: np.datetime64
    last_on: np.datetime64 | None = None


@dataclass(frozen=True)
class Outwork:
    """A stage is sent out.

    Attributes
    ----------
    stage : int
        Which.
    days : float
        Calendar days until the order is back.
    share : float
        Share of visits sent out.
    starts_on : np.datetime64, optional
        From when on.
    """

    stage: int
    days: float
    share: float = 1.0
    starts_on: np.datetime64 | None = None


@dataclass(frozen=True)
class Scenario:
    """One plan; the default is doing nothing.

    Attributes
    ----------
    extra_people : tuple of ExtraPerson
        Asked after the people of the shop when several are idle.
    trained : tuple of Training
        Skills learnt.
    hours : tuple of Hours
        Overtime, or hours lost to teaching.
    away : tuple of Away
        Absences that are planned or feared.
    outwork : tuple of Outwork
        Stages sent out.
    helping_hours : tuple of (int, float)
        Per skill, hours a week of a phantom with that one skill: they shorten, by up to a half, visits begun while another order
        waits for that skill. Hours found no use for within a week are lost. Lent this way an hour never holds an order up.
    mark_up : float
        Share added to the making part of each price (price less its metal).
    demand_factor : float
        Multiplies enquiries.
    return_factor : tuple of (int, float)
        Per stage, what its chance to send back is multiplied by; 0 switches a cause off.
    patience_factor : float
        Multiplies the answer to the wait; 0: customers wait as long as it takes.
    """

    extra_people: tuple[ExtraPerson, ...] = ()
    trained: tuple[Training, ...] = ()
    hours: tuple[Hours, ...] = ()
    away: tuple[Away, ...] = ()
    outwork: tuple[Outwork, ...] = ()
    helping_hours: tuple[tuple[int, float], ...] = ()
    mark_up: float = 0.0
    demand_factor: float = 1.0
    return_factor: tuple[tuple[int, float], ...] = ()
    patience_factor: float = 1.0

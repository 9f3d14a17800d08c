"""The people of the fitted workshop: who is with the shop, with which skills and hours, and whose absence is planned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from ..intake.shop import Shop
from ..settings import WEEKDAYS, Settings
from .arrays import Days, Flags, Floats, Integers
from .attendance import Employed
from .axes import Axes, check_people


@dataclass(frozen=True)
class Crew:
    """People with the shop on the as-of date or later, fewest skills first.

    Attributes
    ----------
    place : Integers, shape (P,)
        Position of each in `axes.workers`.
    fields : dict
        The fields of `Workshop` that tell of them.
    """

    place: Integers
    fields: dict[str, Any]


def crew_of(shop: Shop, axes: Axes, employed: Employed, can: Flags, as_of: date) -> Crew:
    """Return the people of the workshop.

    Parameters
    ----------
    shop : Shop
        As known on `as_of`.
    axes : Axes
        Positions.
    employed : Employed
        Who was with the shop from when to when.
    can : Flags, shape (W, K)
        Skills of each worker.
    as_of : date
        Last day seen.

    Raises
    ------
    UsageError
        Nobody, or more people than the simulator runs.
    """
    there = np.flatnonzero(np.isnat(employed.last) | (employed.last > np.datetime64(as_of, "D")))
    check_people(len(there))
    place = there[np.argsort(can[there].sum(axis=1), kind="stable")]
    person, first, last = _away(shop, axes, place, as_of)
    n, n_skills = len(place), len(axes.skills)
    return Crew(
        place,
        {
            "people": np.array([axes.workers[p] for p in place]),
            "can": can[place],
            "own_hours": _own_hours(shop.settings, place),
            "started_on": employed.first[place],
            "left_on": employed.last[place],
            "away_person": person,
            "away_from": first,
            "away_to": last,
            "learning_rate": np.ones(n),
            "learning_pieces": np.zeros((n, n_skills)),
            "pieces_done": np.zeros((n, n_skills)),
        },
    )


def _own_hours(settings: Settings, place: Integers) -> Floats:
    usual = dict.fromkeys(settings.calendar.working_days, settings.calendar.hours_per_day)
    weeks = [settings.workers[p].hours or usual for p in place]
    return np.array([[week.get(day, 0.0) for day in WEEKDAYS] for week in weeks], dtype=float).reshape(len(place), len(WEEKDAYS))


def _away(shop: Shop, axes: Axes, people: Integers, as_of: date) -> tuple[Integers, Days, Days]:
    """Return planned absences that reach beyond the as-of date, by position in `people`."""
    table = shop["absences"]
    worker = axes.worker_at(table["worker"])
    first, last = (table[name].to_numpy("datetime64[D]") for name in ("from", "to"))
    place = np.full(len(axes.workers) + 1, -1, dtype=np.int64)
    place[people] = np.arange(len(people))
    person = place[worker]
    ahead = (person >= 0) & table["planned"].to_numpy(bool) & (last > np.datetime64(as_of, "D"))
    return person[ahead], first[ahead], last[ahead]

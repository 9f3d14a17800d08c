"""How full each skill is: hours booked ÷ hours available, and the busiest of them."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..intake.shop import Shop
from ..settings import Settings
from .calendar import WorkingCalendar, working_calendar
from .labour import entries
from .standard import standard_hours
from .totals import ratio, total_by

Floats = NDArray[np.float64]
LOAD_COLUMNS = ("skill", "booked_h", "available_h", "load")


def skills_of(settings: Settings) -> tuple[str, ...]:
    """Return every skill a stage asks for, in route order."""
    return tuple(dict.fromkeys(stage.needs for stage in settings.stages))


def skill_of_stage(settings: Settings) -> NDArray[np.int64]:
    """Return for each stage the place of its skill in `skills_of`; one −1 more at the end, for no stage."""
    skills = skills_of(settings)
    return np.array([*(skills.index(stage.needs) for stage in settings.stages), -1], dtype=np.int64)


def available_hours(settings: Settings, present_h: Floats, booked: Floats) -> Floats:
    """Return the hours available for each skill: present hours of all who have it, less what they booked elsewhere.

    Parameters
    ----------
    settings : Settings
        Skills of workers; one with none written has those booked.
    present_h : ndarray(float), shape (n_workers,)
        Own hours on open days without absences over the stretch.
    booked : ndarray(float), shape (n_workers, n_skills + 1)
        Hours booked by person and skill; the last column is work of no skill.
    """
    names = skills_of(settings)
    skilled = [[skill in worker.skills for skill in names] for worker in settings.workers]
    has = np.array(skilled, dtype=bool).reshape(len(settings.workers), len(names))
    has |= ~has.any(axis=1, keepdims=True) & (booked[:, :-1] > 0)
    elsewhere = booked.sum(axis=1, keepdims=True) - booked[:, :-1]
    free = np.maximum(0.0, present_h[:, None] - elsewhere)
    hours: Floats = (free * has).sum(axis=0)
    return hours


def skill_loads(shop: Shop, first: date, last: date) -> pd.DataFrame:
    """Return booked and available hours of every skill from `first` to `last`, both days in, in route order.

    Without hours on the cards, the standard hours of the orders delivered stand for them.

    Returns
    -------
    DataFrame
        skill, booked_h, available_h, load (booked ÷ available, NaN where nobody has the skill).
    """
    settings = shop.settings
    calendar = working_calendar(settings, shop["absences"], first, last)
    frame = entries(shop["labour"], shop["orders"], settings)
    return loads_of(frame, shop["orders"], settings, calendar, np.ones(len(calendar.days), dtype=bool))


def loads_of(
    frame: pd.DataFrame, orders: pd.DataFrame, settings: Settings, calendar: WorkingCalendar, stretch: NDArray[np.bool_]
) -> pd.DataFrame:
    """Return what `skill_loads` does, from entries and calendar at hand, for the days of the calendar marked in `stretch`."""
    names, days = skills_of(settings), np.append(stretch, False)
    inside = days[calendar.day_index(frame["day"].to_numpy("datetime64[D]"))]
    by_person = booked_hours(frame, settings, np.where(inside, 0, -1), 1)[:, :, 0]
    booked = by_person[:, :-1].sum(axis=0)
    if not booked.any():
        delivered = days[calendar.day_index(orders["delivered_on"].to_numpy("datetime64[D]"))]
        by_stage = standard_hours(orders, settings)[delivered].sum(axis=0)
        booked = total_by(skill_of_stage(settings)[:-1], by_stage, len(names))
    available = available_hours(settings, calendar.present_h[:, stretch].sum(axis=1), by_person[:-1])
    return pd.DataFrame({"skill": names, "booked_h": booked, "available_h": available, "load": ratio(booked, available, np.nan)})


def booked_hours(frame: pd.DataFrame, settings: Settings, part: NDArray[np.int64], parts: int) -> Floats:
    """Return the hours booked by person, skill and part of the time, shape (n_workers + 1, n_skills + 1, parts).

    Parameters
    ----------
    frame : DataFrame
        Entries, from `labour.entries`.
    settings : Settings
        Its stages and workers; the last person is whoever is unknown, the last skill that of no stage.
    part : ndarray(int)
        Part of each entry, e.g. its month; −1 leaves it out.
    parts : int
        Number of parts.
    """
    people, skills = len(settings.workers) + 1, len(skills_of(settings)) + 1
    person = frame["worker"].to_numpy() % people
    skill = skill_of_stage(settings)[frame["stage"].to_numpy()] % skills
    place = np.where(part >= 0, (person * skills + skill) * parts + part, -1)
    return total_by(place, frame["hours"].to_numpy(), people * skills * parts).reshape(people, skills, parts)


def busiest_skill(shop: Shop, first: date, last: date) -> str | None:
    """Return the skill with the highest load from `first` to `last`, the earlier in the route where two are equal.

    None where no hours, booked or standard, fall into the stretch.
    """
    return busiest(skill_loads(shop, first, last))


def busiest(loads: pd.DataFrame) -> str | None:
    """Return the skill with the highest load in a table of `skill_loads`, None where no hours stand."""
    told = loads[(loads["booked_h"] > 0) & loads["load"].notna()]
    return None if told.empty else str(told["skill"].iloc[int(told["load"].to_numpy().argmax())])

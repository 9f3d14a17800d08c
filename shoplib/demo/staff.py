"""The invented people, known by codes only: skills, own hours, presence, wages."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class PersonTruth:
    """One invented person, known by a code only.

    Attributes
    ----------
    skills : tuple of str
        Stages the person may work at; `learnt` names those that came later.
    hours : tuple of float
        Own hours Monday to Friday.
    on_orders_share : float
        Share of present own hours that becomes hours booked to orders while work waits.
    sick_start : float
        Chance that an unplanned absence begins on a working day.
    wage : float
        Wage an hour at the end; earlier years were 3 % lower each.
    """

    code: str
    skills: tuple[str, ...]
    hours: tuple[float, ...]
    on_orders_share: float
    sick_start: float
    wage: float
    owner: bool = False
    started_on: date | None = None
    left_on: date | None = None
    learnt: tuple[tuple[str, date], ...] = ()
    overtime: bool = False


FULL = (8.0, 8.0, 8.0, 8.0, 8.0)
LEARNT_SOLDERING_ON = date(2026, 1, 12)
PEOPLE = (
    PersonTruth(
        "AH", ("melt", "finish", "assemble"), (5.0, 5.0, 5.0, 5.0, 5.0), 0.84, 0.006, 31.0, owner=True, started_on=date(2012, 3, 1)
    ),
    PersonTruth("EV", ("solder", "assemble"), (8.0, 8.0, 8.0, 8.0, 6.0), 0.95, 0.012, 28.5, overtime=True, started_on=date(2016, 9, 1)),
    PersonTruth("KM", ("solder", "tighten"), FULL, 0.94, 0.010, 27.5, overtime=True, started_on=date(2019, 2, 1)),
    PersonTruth("RT", ("solder",), FULL, 0.93, 0.020, 27.0, overtime=True, started_on=date(2014, 5, 1), left_on=date(2026, 3, 31)),
    PersonTruth(
        "TL",
        ("assemble", "coil", "cut", "solder"),
        FULL,
        0.93,
        0.010,
        23.5,
        overtime=True,
        started_on=date(2022, 8, 1),
        learnt=(("solder", LEARNT_SOLDERING_ON),),
    ),
    PersonTruth("JB", ("melt", "roll", "draw"), FULL, 0.88, 0.014, 24.5, started_on=date(2010, 1, 4)),
    PersonTruth("SO", ("draw", "coil", "cut", "roll", "melt"), FULL, 0.88, 0.012, 22.5, started_on=date(2021, 3, 1)),
    PersonTruth("PN", ("file", "polish", "finish", "draw", "tighten"), FULL, 0.89, 0.012, 24.0, started_on=date(2017, 6, 1)),
    PersonTruth("DW", ("polish", "file", "tighten"), (8.0, 8.0, 8.0, 8.0, 4.0), 0.88, 0.016, 22.5, started_on=date(2023, 1, 9)),
    PersonTruth("NK", ("assemble", "tighten", "cut", "coil"), FULL, 0.87, 0.012, 21.5, started_on=date(2026, 4, 7)),
)
ON_COSTS_PERCENT = 22.0
WAGE_RISE_A_YEAR = 0.03

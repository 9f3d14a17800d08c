"""The benches over a period: hours booked and available, load, right first time, queues.

Capacity is asked by skill: stages that share one show the same hours available and load, and it counts once.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import numpy as np
import pandas as pd

from ..costing.calendar import working_calendar
from ..costing.totals import ratio, total_by
from .entries import Flags, Ints
from .queues import longest_queue_share, weekly_queue_hours
from .visits import History
from .working_time import Hours
from .yields import stage_yields


def stage_table(history: History, first: date, last: date, bench_share: Mapping[str, float] | None = None, seed: int = 1) -> pd.DataFrame:
    """Return one row a stage over the days `first` … `last`.

    Parameters
    ----------
    history : History
        What the cards tell.
    first, last : date
        The period, both days in.
    bench_share : mapping of str to float, optional
        Share of a person's present hours spent at the bench (fitted by the simulator); 1 for who is not named.
    seed : int
        Of the bootstrap behind the range of longest_queue_share.

    Returns
    -------
    DataFrame
        stage, skill, hours_booked (h; NaN when the cards tell no hours), hours_available and load (of the skill), visits (begun),
        first_pass_yield (NaN under 20 orders), orders_passed, returns_found (seen here), rework_hours (h), queue_hours_mean (working
        hours, holds apart), longest_queue_share, longest_low, longest_high (80 % range; of the skill).
    """
    skills = skill_table(history, first, last, bench_share).set_index("skill")
    longest = longest_queue_share(weekly_queue_hours(history, first, last), seed).set_index("skill")
    own, yields = list(history.skills), stage_yields(history, delivered_in(history, first, last))
    table = pd.DataFrame({"stage": history.stages, "skill": own, "hours_booked": _booked(history, first, last).sum(axis=0)[:-1]})
    table = table.assign(
        hours_available=skills["hours_available"].reindex(own).to_numpy(),
        load=skills["load"].reindex(own).to_numpy(),
        first_pass_yield=yields["first_pass_yield"],
        orders_passed=yields["orders"],
        longest_queue_share=longest["share"].reindex(own).to_numpy(),
        longest_low=longest["low"].reindex(own).to_numpy(),
        longest_high=longest["high"].reindex(own).to_numpy(),
    )
    return table.assign(**_visit_counts(history, first, last))


def delivered_in(history: History, first: date, last: date) -> pd.Series:
    """Return for each order whether it was delivered from `first` to `last`."""
    return history.shop["orders"]["delivered_on"].between(pd.Timestamp(first), pd.Timestamp(last))


def _within(days: pd.Series, first: date, last: date) -> Flags:
    inside: Flags = days.between(pd.Timestamp(first), pd.Timestamp(last) + pd.Timedelta(days=1), inclusive="left").to_numpy()
    return inside


def _visit_counts(history: History, first: date, last: date) -> dict[str, Hours | Ints]:
    table, many = history.visits, len(history.stages)
    begun = _within(table["started"], first, last)
    stage = np.where(begun, table["stage_no"].to_numpy(np.int64), -1)
    waited = np.where(table["queue_h"].notna(), stage, -1)
    found_at = pd.Index(history.stages, dtype=object).get_indexer(pd.Index(table["returned_from"].astype(object)))
    entries = history.entries
    again = table["rework"].to_numpy()[entries["visit"].to_numpy()] & _within(entries["day"], first, last)
    ones = np.ones(len(table))
    return {
        "visits": total_by(stage, ones, many).astype(np.int64),
        "returns_found": total_by(np.where(begun, found_at, -1), ones, many).astype(np.int64),
        "rework_hours": total_by(np.where(again, entries["stage"].to_numpy(np.int64), -1), entries["hours"].to_numpy(), many),
        "queue_hours_mean": ratio(total_by(waited, table["queue_h"].to_numpy(), many), total_by(waited, ones, many), np.nan),
    }


def _booked(history: History, first: date, last: date) -> Hours:
    """Return hours booked by person and stage, shape (n_workers + 1, n_stages + 1); the last of each is unknown or blank.

    All NaN where the cards of the period tell no hours: nothing is known, which is not nought.
    """
    people, many = len(history.shop.settings.workers), len(history.stages)
    frame = history.booked
    worker, stage = frame["worker"].to_numpy(np.int64) % (people + 1), frame["stage"].to_numpy(np.int64) % (many + 1)
    inside = _within(frame["day"], first, last)
    if not frame["hours"].notna().to_numpy()[inside].any():
        return np.full((people + 1, many + 1), np.nan)
    place = np.where(inside, worker * (many + 1) + stage, -1)
    return total_by(place, frame["hours"].to_numpy(), (people + 1) * (many + 1)).reshape(people + 1, many + 1)


def skill_table(history: History, first: date, last: date, bench_share: Mapping[str, float] | None = None) -> pd.DataFrame:
    """Return hours booked and available of each skill over the days `first` … `last`.

    Available are the present hours (own hours on open days, without absences) of all who have the skill, less what each of
    them booked elsewhere. Who booked here without having the skill adds those hours.

    Returns
    -------
    DataFrame
        skill, people (who have it), hours_booked, hours_available (h), load (booked ÷ available; NaN when none are available).
    """
    settings = history.shop.settings
    skills = list(dict.fromkeys(history.skills))
    calendar = working_calendar(settings, history.shop["absences"], first, last)
    shares = np.array([(bench_share or {}).get(code, 1.0) for code in calendar.workers])
    present = np.append(calendar.present_h.sum(axis=1) * shares, 0.0)
    booked = _booked(history, first, last)
    rows = []
    for skill in skills:
        here = booked[:, [*(own == skill for own in history.skills), False]].sum(axis=1)
        has = np.array([*(skill in worker.skills for worker in settings.workers), False])
        elsewhere = np.nan_to_num(booked.sum(axis=1) - here)
        free = np.where(has, np.maximum(present - elsewhere, 0.0), np.nan_to_num(here))
        rows.append((skill, int(has.sum()), here.sum(), free.sum()))
    table = pd.DataFrame(rows, columns=["skill", "people", "hours_booked", "hours_available"])
    return table.assign(load=ratio(table["hours_booked"].to_numpy(float), table["hours_available"].to_numpy(float), np.nan))

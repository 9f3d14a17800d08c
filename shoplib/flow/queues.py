"""Queues: how many orders, and how many hours of work, waited at each stage at any moment.

An order waits at a stage from the end of its visit before (the first one from the day it was taken) until it is begun; time on
hold is taken out. Where it waits now is not yet known: it is counted at the stage to which orders usually go from there.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..costing.totals import ratio, total_by
from .entries import Ints
from .holds import hold_stretches
from .visits import History
from .working_time import Hours

WEEKS_A_BLOCK = 4
"""Queues of neighbouring weeks are alike: the bootstrap draws weeks in blocks of a month. Künsch (1989), Annals of Statistics 17:1217."""
RESAMPLES = 1000


def usual_next(history: History) -> Ints:
    """Return the stage to which most orders went from each stage; −1: to delivery, or never left.

    The last element, at place −1, is where most orders began.
    """
    table, many = history.visits, len(history.stages)
    table = table[~table["later"].to_numpy()]
    stage, order = table["stage_no"].to_numpy(np.int64), table["order"].to_numpy()
    delivered = history.shop["orders"]["delivered_on"].notna().to_numpy()[order]
    last = np.append(order[1:] != order[:-1], True)[: len(order)]
    follower = np.where(last, many, np.append(stage[1:], many)[: len(order)])
    seen = ~last | delivered
    steps = np.zeros((many + 1, many + 1), dtype=np.int64)
    np.add.at(steps, (stage[seen], follower[seen]), 1)
    np.add.at(steps[many], stage[(table["visit"] == 1).to_numpy()], 1)
    usual = np.where(steps.any(axis=1), steps.argmax(axis=1), np.append(np.arange(1, many + 1), 0))
    return np.where(usual == many, -1, usual)


def hours_of_visits(history: History) -> Hours:
    """Return the hours of each visit; of one that runs or has no hours, what visits of its stage take on average if that is more."""
    table = history.visits
    hours, stage = table["hours"].to_numpy(), table["stage_no"].to_numpy(np.int64)
    usual = mean_hours(history)[stage]
    unsure = table["running"].to_numpy() | np.isnan(hours)
    return np.where(unsure, np.fmax(hours, usual), hours)


def mean_hours(history: History) -> Hours:
    """Return mean hours of the visits of each stage that are over; where none tells, the standard hours of 40 g, then one hour."""
    table, stages = history.visits, history.shop.settings.stages
    known = (~table["running"] & table["hours"].notna()).to_numpy()
    stage = np.where(known, table["stage_no"].to_numpy(np.int64), -1)
    count = total_by(stage, np.ones(len(stage)), len(stages))
    standard = np.array([each.fixed_hours + 40.0 * each.hours_per_g or 1.0 for each in stages])
    return np.where(count > 0, ratio(total_by(stage, table["hours"].to_numpy(), len(stages)), count), standard)


def waiting_stretches(history: History) -> pd.DataFrame:
    """Return every wait in a queue, time on hold taken out.

    Returns
    -------
    DataFrame
        order (row of the orders), stage_no, begin, end (datetime64; the end of the last day for what still waits), weight (1, or
        −1 for a stretch on hold to be taken off), work_h (hours of work that wait, of the same sign), open (still waiting).
    """
    waits = pd.concat([_past_waits(history), _present_waits(history)], ignore_index=True)
    waits = waits[(waits["end"] > waits["begin"]).to_numpy()]
    held = waits.merge(hold_stretches(history.shop["holds"], history.shop["orders"], history.as_of), on="order", suffixes=("", "_held"))
    off = held.assign(begin=held[["begin", "begin_held"]].max(axis=1), end=held[["end", "end_held"]].min(axis=1))
    off = off.assign(weight=-1, work_h=-off["work_h"])[(off["end"] > off["begin"]).to_numpy()]
    return pd.concat([waits, off[waits.columns]], ignore_index=True) if len(off) else waits.reset_index(drop=True)


def _past_waits(history: History) -> pd.DataFrame:
    table = history.visits
    waits = pd.DataFrame({"order": table["order"], "stage_no": table["stage_no"].to_numpy(np.int64), "begin": table["ready_at"]})
    waits = waits.assign(end=table["started"], weight=1, work_h=hours_of_visits(history), open=False)
    return waits[table["ready_at"].notna().to_numpy()]


def _present_waits(history: History) -> pd.DataFrame:
    """Return the waits of open orders that are on no bench, each at the stage to which orders usually go."""
    orders, table = history.shop["orders"], history.visits
    last = table.drop_duplicates("order", keep="last")
    stage, since, busy = np.full(len(orders), -1), _taken(history), np.zeros(len(orders), dtype=bool)
    place = last["order"].to_numpy(np.int64)
    stage[place], busy[place] = last["stage_no"].to_numpy(), last["running"].to_numpy()
    since[place] = last["last_at"].to_numpy("datetime64[s]")
    goes_to = usual_next(history)[stage]
    waits = (orders["delivered_on"].isna() & orders["cancelled_on"].isna()).to_numpy() & ~busy & (goes_to >= 0)
    row = np.flatnonzero(waits)
    usual = mean_hours(history)
    columns = {"order": row, "stage_no": goes_to[row], "begin": since[row], "end": np.full(len(row), history.now)}
    return pd.DataFrame({**columns, "weight": 1, "work_h": usual[goes_to[row]] if len(row) else np.zeros(0), "open": True})


def _taken(history: History) -> NDArray[np.datetime64]:
    days = history.shop["orders"]["ordered_on"].to_numpy("datetime64[D]")
    return history.clock.moment_in_day(days, np.full(len(days), history.clock.usual_h / 2.0))


def queues(history: History) -> pd.DataFrame:
    """Return the queue of each stage after each change.

    Returns
    -------
    DataFrame
        stage_no, at (datetime64, ascending within a stage), waiting (orders), work_h (hours of work that wait); both hold until
        the next row of the stage.
    """
    changes = _changes(waiting_stretches(history))
    changes = changes.groupby(["stage_no", "at"], as_index=False)[["weight", "work_h"]].sum()
    totals = changes.groupby("stage_no", sort=False)[["weight", "work_h"]].cumsum()
    waiting = totals["weight"].to_numpy().astype(np.int64)
    work = np.where(waiting > 0, np.maximum(totals["work_h"].to_numpy(), 0.0), 0.0)
    return changes[["stage_no", "at"]].assign(waiting=waiting, work_h=work)


def _changes(waits: pd.DataFrame) -> pd.DataFrame:
    joins = waits[["stage_no", "begin", "weight", "work_h"]].rename(columns={"begin": "at"})
    leaves = waits[["stage_no", "end", "weight", "work_h"]].rename(columns={"end": "at"})
    return pd.concat([joins, leaves.assign(weight=-leaves["weight"], work_h=-leaves["work_h"])], ignore_index=True)


def weekly_queue_hours(history: History, first: date, last: date) -> pd.DataFrame:
    """Return the mean hours of work that waited for each skill, a row a week in which the shop worked.

    Parameters
    ----------
    history : History
        What the cards tell.
    first, last : date
        Days of the stretch; weeks run from Monday to Sunday and are cut at both ends.

    Returns
    -------
    DataFrame
        week (its Monday, or `first`) and one column a skill, hours of work.
    """
    edges = _week_edges(first, last)
    at = history.clock.hours_at(edges)
    skills = list(dict.fromkeys(history.skills))
    skill_of = np.array([skills.index(skill) for skill in history.skills], dtype=np.int64)
    changes = _changes(waiting_stretches(history))
    skill, moment = skill_of[changes["stage_no"].to_numpy(np.int64)], history.clock.hours_at(changes["at"].to_numpy("datetime64[s]"))
    work = changes["work_h"].to_numpy(float)
    areas = [np.diff(_area(moment[skill == k], work[skill == k], at)) for k in range(len(skills))]
    span = np.diff(at)
    columns = {name: ratio(area, span)[span > 0] for name, area in zip(skills, areas, strict=True)}
    return pd.DataFrame({"week": edges[:-1][span > 0], **columns})


def _week_edges(first: date, last: date) -> NDArray[np.datetime64]:
    begin, end = np.datetime64(first, "D"), np.datetime64(last, "D") + 1
    monday = begin - np.timedelta64(first.weekday(), "D")
    mondays = np.arange(monday + 7, end, 7)
    return np.concatenate([[begin], mondays, [end]]).astype("datetime64[s]")


def _area(moment: Hours, work: Hours, at: Hours) -> Hours:
    """Return the integral of the queue up to each of `at`: Σ work · (at − moment) over the changes before it."""
    sequence = np.argsort(moment, kind="stable")
    moment, work = moment[sequence], work[sequence]
    place = np.searchsorted(moment, at, side="right")
    total = np.concatenate(([0.0], np.cumsum(work)))[place]
    weighted = np.concatenate(([0.0], np.cumsum(work * moment)))[place]
    area: Hours = total * at - weighted
    return area


def longest_queue_share(weekly: pd.DataFrame, seed: int = 1) -> pd.DataFrame:
    """Return the share of weeks in which the queue of each skill was the longest in hours, with an 80 % range.

    Parameters
    ----------
    weekly : DataFrame
        From `weekly_queue_hours`.
    seed : int
        Of the block bootstrap over weeks.

    Returns
    -------
    DataFrame
        skill, share, low, high (P10, P90), weeks. Weeks in which nothing waited belong to no skill. NaN without weeks.
    """
    hours = weekly.drop(columns="week")
    grid = hours.to_numpy(float)
    wins = (grid == grid.max(axis=1, initial=0.0)[:, None]) & (grid > 1e-9)
    wins = wins & (np.cumsum(wins, axis=1) == 1)
    table = pd.DataFrame({"skill": list(hours.columns), "weeks": len(grid)})
    if not len(grid):
        return table.assign(share=np.nan, low=np.nan, high=np.nan)
    low, high = np.quantile(_resampled(wins.astype(float), np.random.default_rng([seed, 7])), [0.1, 0.9], axis=0)
    return table.assign(share=wins.mean(axis=0), low=low, high=high)


def _resampled(wins: Hours, luck: np.random.Generator) -> Hours:
    """Return means of circular block resamples, shape (RESAMPLES, skills).

    Politis & Romano (1992), A circular block-resampling procedure for stationary data, in Exploring the Limits of Bootstrap.
    """
    weeks = len(wins)
    block = min(WEEKS_A_BLOCK, weeks)
    starts = luck.integers(0, weeks, (RESAMPLES, -(-weeks // block)))
    rows = (starts[:, :, None] + np.arange(block)) % weeks
    means: Hours = wins[rows.reshape(RESAMPLES, -1)[:, :weeks]].mean(axis=1)
    return means

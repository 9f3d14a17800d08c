"""Job-card entries as costed labour: one row an entry and order, hours of a shared melt split by weight.

Hours cost the pay of their day with on-costs. Hours of a person above the own hours of a week are overtime; holidays
and absences count as worked. The premium is spread over that person's entries of the week by hours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings, Stage, Worker
from .calendar import WorkingCalendar, week_of
from .sequence import work_sequence
from .totals import ratio, total_by

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_KEPT = [
    "hours", "start", "finish", "rework", "rework_cause", "links_redone", "weight_in_g", "weight_out_g", "scrap_back_g",
    "solder", "solder_g", "row",
]


def entries(labour: pd.DataFrame, orders: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return one row an entry and order, in the order in which the work was done.

    Parameters
    ----------
    labour, orders : DataFrame
        Accepted tables.
    settings : Settings
        Its stages and workers.

    Returns
    -------
    DataFrame
        order (row of `orders`, −1 for work shared by all), stage and worker (rows of the settings, −1 unknown or
        blank), day (datetime64), hours (NaN for a move), start, finish, rework (flag or stage), rework_cause,
        links_redone, weight_in_g, weight_out_g, scrap_back_g, solder, solder_g, share (of the row), row (as the spreadsheet
        shows it). Weights, scrap, solder and hours of a row that names several orders are split by their weight.
    """
    frame = _split_melts(_plain(labour, settings), labour["order_id"], orders)
    frame["rework"] |= np.isin(frame["stage"], [k for k, stage in enumerate(settings.stages) if stage.rework_of])
    return frame.iloc[work_sequence(frame)].reset_index(drop=True)


def labour_days(labour: pd.DataFrame) -> NDArray[np.datetime64]:
    """Return the day from which each labour row exists: that of its finish, else its date, else its start."""
    finish, day, start = (labour[name].to_numpy("datetime64[D]") for name in ("finish", "date", "start"))
    return np.where(~np.isnat(finish), finish, np.where(~np.isnat(day), day, start))


def _plain(labour: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    stages = pd.Index([stage.name for stage in settings.stages], dtype=object)
    workers = pd.Index([worker.code for worker in settings.workers], dtype=object)
    clock = (labour["finish"] - labour["start"]).dt.total_seconds() / 3600.0
    frame = labour[_KEPT].copy()
    frame["hours"] = labour["hours"].fillna(clock)
    frame["stage"] = stages.get_indexer(pd.Index(labour["stage"].astype(object)))
    frame["worker"] = workers.get_indexer(pd.Index(labour["worker"].astype(object)))
    frame["day"] = labour_days(labour).astype("datetime64[s]")
    return frame


def _split_melts(frame: pd.DataFrame, order_ids: pd.Series, orders: pd.DataFrame) -> pd.DataFrame:
    names = pd.Index(orders["order_id"].astype(object))
    order = names.get_indexer(pd.Index(order_ids.astype(object))).astype(np.int64)
    several = np.flatnonzero(order_ids.astype(object).fillna("").astype(str).str.contains(";", regex=False).to_numpy())
    frame = frame.assign(order=order, share=1.0)
    if not len(several):
        return frame
    lists = order_ids.iloc[several].astype(str).str.split(";")
    count = np.array([len(names_of_one) for names_of_one in lists])
    each = names.get_indexer(pd.Index([name.strip() for name in lists.explode()])).astype(np.int64)
    rows = np.repeat(several, count)
    weight = _weight_at_melt(frame, orders)
    melts = frame.iloc[rows].assign(order=each, share=_shares(each, np.repeat(np.arange(len(several)), count), weight))
    split = ["hours", "weight_in_g", "weight_out_g", "scrap_back_g", "solder_g", "links_redone"]
    melts[split] = melts[split].mul(melts["share"], axis=0)
    return pd.concat([frame.drop(index=frame.index[several]), melts], ignore_index=True)


def _weight_at_melt(frame: pd.DataFrame, orders: pd.DataFrame) -> Floats:
    """Return about what each order's metal weighed when it was melted, g gross, by its own entries.

    Finished weight less findings and what is not metal, plus clean scrap, less solder; of an order not finished the most it
    has weighed by itself, else the weight quoted × what others took for theirs. By finished weight alone a melt of pieces
    with unlike scrap is split wrong.
    """
    order = frame["order"].to_numpy()
    scrap, solder = (total_by(order, frame[name].to_numpy(), len(orders)) for name in ("scrap_back_g", "solder_g"))
    finished = orders["finished_weight_g"] - orders["findings_g"] - orders["not_metal_g"] + scrap - solder
    own = frame[order >= 0].groupby("order")[["weight_in_g", "weight_out_g"]].max().max(axis=1)
    known = finished.where(finished > 0).fillna(own.reindex(orders.index))
    usual = (known / orders["quoted_weight_g"]).median()
    guess = orders["quoted_weight_g"] * (1.0 if np.isnan(usual) else usual)
    return known.fillna(guess).fillna(0.0).to_numpy(dtype=float)


def _shares(order: Ints, melt: Ints, weight: Floats) -> Floats:
    grams = np.append(weight, 0.0)[order]
    n_melts = int(melt[-1]) + 1
    grams = np.where(total_by(melt, grams, n_melts)[melt] > 0, grams, 1.0)
    return grams / total_by(melt, grams, n_melts)[melt]


def visits(frame: pd.DataFrame) -> Ints:
    """Return the running number of the visit of each entry, −1 without order or stage.

    A visit is an order's entries at a stage with no other stage between; rework starts a new one.
    """
    order, stage, rework = (frame[name].to_numpy() for name in ("order", "stage", "rework"))
    counted = np.flatnonzero((order >= 0) & (stage >= 0))
    numbers = np.full(len(frame), -1, dtype=np.int64)
    if len(counted):
        o, s, r = order[counted], stage[counted], rework[counted]
        fresh = (o[1:] != o[:-1]) | (s[1:] != s[:-1]) | (r[1:] & ~r[:-1])
        numbers[counted] = np.concatenate([[0], np.cumsum(fresh)])
    return numbers


def mark_rework(frame: pd.DataFrame, visit: Ints, settings: Settings) -> tuple[pd.DataFrame, str]:
    """Return the entries with `rework` filled by the best record there is, and its basis.

    Parameters
    ----------
    frame : DataFrame
        From `entries`.
    visit : ndarray(int)
        From `visits`.
    settings : Settings
        Its stages' expected_visits.

    Returns
    -------
    tuple of DataFrame and str
        Basis ``flag`` (rework = y or a stage that only means rework), ``links_redone`` (broken links counted on a second
        visit), ``inferred`` (back at a stage beyond expected_visits) or ``none``.
    """
    if frame["rework"].any():
        return frame, "flag"
    again = _visit_of_stage(frame, visit)
    links = (frame["links_redone"].fillna(0).to_numpy() > 0) & (again > 1)
    if links.any():
        return frame.assign(rework=links), "links_redone"
    expected = np.array([stage.expected_visits for stage in settings.stages] + [np.iinfo(np.int64).max])
    inferred = again > expected[frame["stage"].to_numpy()]
    return frame.assign(rework=inferred), "inferred" if inferred.any() else "none"


def _visit_of_stage(frame: pd.DataFrame, visit: Ints) -> Ints:
    """Return which visit of its order to its stage each entry belongs to, from 1; 0 without visit."""
    first = np.flatnonzero(np.diff(visit, prepend=-2) != 0)
    first = first[visit[first] >= 0]
    heads = frame.iloc[first].assign(visit=visit[first]).drop_duplicates("visit")
    nth = heads.groupby(["order", "stage"], sort=False).cumcount().to_numpy() + 1
    numbers = np.zeros(int(visit.max(initial=-1)) + 2, dtype=np.int64)
    numbers[heads["visit"].to_numpy()] = nth
    found: Ints = numbers[visit]
    return found


@dataclass(frozen=True)
class Pay:
    """What an hour of each person costs on each day.

    Attributes
    ----------
    rate : ndarray(float), shape (n_workers + 1, n_days)
        Wage with on-costs, money an hour; the last row is the mean of those employed, for whoever is unknown.
    owner : ndarray(bool), shape (n_workers + 1,)
        True for a stand-in's wage.
    overtime_multiple : float
        Pay of an overtime hour ÷ that of a usual one.
    """

    rate: Floats
    owner: NDArray[np.bool_]
    overtime_multiple: float


def pay_of(settings: Settings, calendar: WorkingCalendar) -> Pay:
    """Return the pay of every worker on every day of the calendar."""
    named = [worker for worker in settings.workers if wage_known(worker)]
    rates = [_rate(worker, calendar.days) if wage_known(worker) else np.full(len(calendar.days), np.nan) for worker in settings.workers]
    rate = np.vstack([np.zeros((0, len(calendar.days))), *rates])
    mean = np.zeros(len(calendar.days))
    if named:
        employed = _employed(calendar) & ~np.isnan(rate)
        count = employed.sum(axis=0)
        anyone = np.nanmean(rate, axis=0)
        mean = np.where(count > 0, np.where(employed, rate, 0.0).sum(axis=0) / np.maximum(count, 1), anyone)
    rate = np.where(np.isnan(rate), mean, rate)
    owner = np.array([worker.owner for worker in settings.workers] + [False])
    return Pay(np.vstack([rate, mean]), owner, settings.policy.overtime_multiple)


def wage_known(worker: Worker) -> bool:
    """Tell whether any wage of the worker is written."""
    return worker.wage_per_hour is not None or bool(worker.pay)


def _employed(calendar: WorkingCalendar) -> NDArray[np.bool_]:
    worked = calendar.contract_h > 0
    before = np.maximum.accumulate(worked, axis=1)
    after = np.maximum.accumulate(worked[:, ::-1], axis=1)[:, ::-1]
    return before & after


def _rate(worker: Worker, days: NDArray[np.datetime64]) -> Floats:
    steps = sorted(worker.pay, key=lambda step: step.from_)
    wages = [step.wage_per_hour for step in steps] or [worker.wage_per_hour or 0.0]
    starts = np.array([step.from_ for step in steps], dtype="datetime64[D]")
    place = np.maximum(np.searchsorted(starts, days, side="right") - 1, 0)
    return np.array(wages)[place] * (1.0 + worker.on_costs_percent / 100.0)


def costed(frame: pd.DataFrame, calendar: WorkingCalendar, pay: Pay) -> pd.DataFrame:
    """Return the entries with ``rate`` (money an hour), ``cost`` (money), ``overtime_h`` and ``premium`` (money)."""
    worker, day = frame["worker"].to_numpy(), calendar.day_index(frame["day"].to_numpy("datetime64[D]"))
    hours = frame["hours"].fillna(0.0).to_numpy()
    rate = pay.rate[worker, day]
    overtime = overtime_hours(worker, day, hours, calendar)
    premium = overtime * rate * (pay.overtime_multiple - 1.0) * ~pay.owner[worker]
    return frame.assign(rate=rate, cost=hours * rate, overtime_h=overtime, premium=premium, owner=pay.owner[worker])


def overtime_hours(worker: Ints, day: Ints, hours: Floats, calendar: WorkingCalendar) -> Floats:
    """Return the overtime in each entry: the person's excess over the own hours of the week, spread by hours.

    Parameters
    ----------
    worker, day : ndarray(int)
        Row and column of `calendar`; a worker of −1 has no own hours and no overtime.
    hours : ndarray(float)
        Hours of each entry.
    calendar : WorkingCalendar
        Own hours, holidays and absences.
    """
    people, days = calendar.contract_h.shape
    if not people:
        return np.zeros(len(hours))
    week = week_of(calendar.days) - week_of(calendar.days[:1])[0]
    known = worker >= 0
    booked = total_by(np.where(known, worker * days + day, -1), hours, people * days).reshape(people, days)
    excess = np.maximum(0.0, _by_week(booked + excused_hours(booked, calendar) - calendar.contract_h, week))
    share = ratio(excess, _by_week(booked, week))
    return np.where(known, hours * share[worker, week[day]], 0.0)


def excused_hours(booked: Floats, calendar: WorkingCalendar) -> Floats:
    """Return hours that count as worked, shape (n_workers, n_days): all of a day shut, the rest of a day absent."""
    partly = np.maximum(0.0, calendar.contract_h - booked) * calendar.absent
    return np.where(calendar.is_open, partly, calendar.contract_h)


def _by_week(grid: Floats, week: Ints) -> Floats:
    starts = np.flatnonzero(np.diff(week, prepend=-1))
    sums: Floats = np.add.reduceat(grid, starts, axis=1)
    return sums


def stage_hours(frame: pd.DataFrame, n_orders: int, stages: tuple[Stage, ...]) -> Floats:
    """Return the hours of each order at each stage, shape (n_orders, n_stages)."""
    order, stage = frame["order"].to_numpy(), frame["stage"].to_numpy()
    place = np.where((order >= 0) & (stage >= 0), order * len(stages) + stage, -1)
    return total_by(place, frame["hours"].to_numpy(), n_orders * len(stages)).reshape(n_orders, len(stages))

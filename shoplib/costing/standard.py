"""Standard hours: what a stage should take by shop.toml, for orders whose card has no hours, and what is usual."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .calendar import WorkingCalendar
from .labour import Pay
from .pieces import BROUGHT_IN
from .totals import ratio, total_by

Floats = NDArray[np.float64]
ENOUGH_ORDERS = 5
"""Orders of a style that must have passed a stage before its own usual hours are taken."""


def standard_hours(orders: pd.DataFrame, settings: Settings) -> Floats:
    """Return the standard hours of each order at each stage, shape (n_orders, n_stages).

    fixed_hours + hours_per_g × weight, the finished one or else the quoted; 0 at stages that only mean work done again, and
    for repairs and guarantees, whose work no standard tells.
    """
    weight = orders["finished_weight_g"].fillna(orders["quoted_weight_g"]).fillna(0.0).to_numpy()
    fixed = np.array([stage.fixed_hours * (not stage.rework_of) for stage in settings.stages])
    per_g = np.array([stage.hours_per_g * (not stage.rework_of) for stage in settings.stages])
    usual = ~orders["kind"].isin(BROUGHT_IN).to_numpy()
    hours: Floats = (fixed + weight[:, None] * per_g) * usual[:, None]
    return hours


def standard_entries(table: pd.DataFrame, frame: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return entries of standard hours for delivered orders without an hour on their card, dated at delivery.

    Parameters
    ----------
    table : DataFrame
        Orders, with delivered_on.
    frame : DataFrame
        Entries, from `labour.entries`.
    settings : Settings
        Standard hours.

    Returns
    -------
    DataFrame
        The columns of `frame`; worker −1.
    """
    booked = frame.loc[frame["hours"].fillna(0.0) > 0, "order"].to_numpy()
    bare = table["delivered_on"].notna().to_numpy() & ~np.isin(np.arange(len(table)), booked)
    hours = standard_hours(table, settings) * bare[:, None]
    order, stage = np.nonzero(hours)
    day = table["delivered_on"].to_numpy("datetime64[s]")[order]
    told = {"order": order, "stage": stage, "hours": hours[order, stage], "day": day, "worker": -1, "share": 1.0, "rework": False, "row": 0}
    extra = pd.DataFrame(told)
    for name in frame.columns.difference(extra.columns):
        extra[name] = pd.Series(np.nan, index=extra.index).astype(frame[name].dtype)
    return extra[list(frame.columns)]


def stage_rates(settings: Settings, pay: Pay) -> Floats:
    """Return what an hour at each stage costs on each day: the mean of those who have its skill, else of all.

    Shape (n_stages + 1, n_days); the last row is the mean of all.
    """
    rates = []
    for stage in settings.stages:
        skilled = [k for k, worker in enumerate(settings.workers) if stage.needs in worker.skills]
        rates.append(pay.rate[skilled].mean(axis=0) if skilled else pay.rate[-1])
    return np.vstack([*rates, pay.rate[-1]])


def price_standard(extra: pd.DataFrame, settings: Settings, calendar: WorkingCalendar, pay: Pay) -> pd.DataFrame:
    """Return entries of standard hours costed at their stage's rate: rate, cost, and no overtime, premium or owner."""
    day = calendar.day_index(extra["day"].to_numpy("datetime64[D]"))
    rate = stage_rates(settings, pay)[extra["stage"].to_numpy(), day]
    return extra.assign(rate=rate, cost=extra["hours"].to_numpy() * rate, overtime_h=0.0, premium=0.0, owner=False)


def usual_hours(table: pd.DataFrame, by_stage: Floats, recent: NDArray[np.bool_], settings: Settings) -> Floats:
    """Return the hours an order of its style and weight usually takes at each stage, shape (n_orders, n_stages).

    Booked ÷ standard hours of the recent orders of its style × its own standard hours; a stage without standard hours
    goes by weight. Under five recent orders of the style, all recent orders tell; without any, the standard. A repair or a
    guarantee takes the mean of its kind, and 0 under five of them: nothing is usual yet.

    Parameters
    ----------
    table : DataFrame
        Orders.
    by_stage : ndarray(float), shape (n_orders, n_stages)
        Hours booked.
    recent : ndarray(bool)
        Delivered orders that tell what is usual.
    settings : Settings
        Standard hours.
    """
    standard, brought_in = standard_hours(table, settings), table["kind"].isin(BROUGHT_IN).to_numpy()
    has_standard = standard.sum(axis=0) > 0
    measure = np.where(brought_in[:, None], 1.0, np.where(has_standard, standard, table["weight_g"].to_numpy()[:, None]))
    made = recent & ~brought_in
    everyone = ratio(by_stage[made].sum(axis=0), measure[made].sum(axis=0), np.nan)
    everyone = np.where(np.isnan(everyone), has_standard * 1.0, everyone)
    group, names = pd.factorize(table["style"].astype(object).where(~brought_in, table["kind"].astype(object) + " brought in"))
    told = np.where(recent, group, -1)
    own = ratio(_sums_by(told, by_stage, len(names)), _sums_by(told, measure, len(names)), np.nan)[group]
    enough = (np.bincount(told[recent], minlength=len(names)) >= ENOUGH_ORDERS)[group][:, None]
    otherwise = np.where(brought_in[:, None], 0.0, everyone)
    usual: Floats = np.where(enough & ~np.isnan(own), own, otherwise) * measure
    return usual


def _sums_by(index: NDArray[np.int64], values: Floats, size: int) -> Floats:
    return np.column_stack([np.zeros((size, 0)), *(total_by(index, column, size) for column in values.T)])

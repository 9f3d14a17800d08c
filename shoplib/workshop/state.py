"""The state of the open orders on a day, told only by what was known then, on the axes of a fitted workshop."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from ..costing.cost import Costing
from ..flow.state_at import open_orders
from ..flow.visits import History, history
from ..intake.as_of import until
from ..intake.shop import Shop
from .arrays import Days, Floats, Integers
from .asked import asked_in_orders
from .axes import Axes, axes_like
from .cards import CLEARLY_PASSED, ln_weights
from .costs import measured_share
from .model import DONE, ENDED, HELD, RUNNING, WAITING, State, Workshop
from .sent_back import sent_back

FORGOTTEN_DAYS = 21
"""A visit on which nobody has booked for so many days lies aside, whoever began it."""
SENT_BACK_DAYS = 3
"""An order not sent back whose last stage of the route ended longer ago is not sent back any more: it awaits delivery."""


def state(shop: Shop, workshop: Workshop, as_of: date, past: History | None = None, costing: Costing | None = None) -> State:
    """Return where each open order stood in the evening of `as_of`.

    Parameters
    ----------
    shop : Shop
        Whole; rows dated later are left out.
    workshop : Workshop
        Whose axes are used; fitted on the same day or another.
    as_of : date
        Last day seen.
    past : History, optional
        `history` of that day, where it is at hand.
    costing : Costing, optional
        As in `fit.fitted`.
    """
    told = past or history(until(shop, as_of), as_of)
    axes = axes_like(workshop, told.shop.settings)
    table = open_orders(told)
    table = table.iloc[np.argsort(table["ordered_on"].to_numpy("datetime64[D]"), kind="stable")].reset_index(drop=True)
    if not len(table):
        return State.empty(np.datetime64(as_of, "D"), len(axes.stages))
    visits = _route_visits(told, workshop, axes, table)
    where = _standing(table, visits, told, workshop, axes)
    order = table["order"].to_numpy(np.int64)
    asked = asked_in_orders(told.shop, axes, measured_share(costing, told.shop, axes) if costing else None)
    found = State(
        as_of=np.datetime64(as_of, "D"),
        order_id=np.array(table["order_id"].tolist(), dtype=np.str_),
        style=asked.style[order],
        alloy=asked.alloy[order],
        weight_g=np.exp(ln_weights(told.shop["orders"], asked.style)[order]),
        ordered_on=table["ordered_on"].to_numpy("datetime64[D]"),
        promised_on=table["promised_on"].to_numpy("datetime64[D]"),
        rush=table["rush"].to_numpy(bool),
        contribution=asked.contribution[order],
        hours_done=table["hours_so_far"].to_numpy(float),
        **where,
    )
    found.check(workshop)
    return found


def _route_visits(told: History, workshop: Workshop, axes: Axes, table: pd.DataFrame) -> pd.DataFrame:
    """Return the visits of open orders at stages of the route: row (of `table`), stage, running, person, hours, last_at."""
    visits = told.visits
    row = np.full(len(told.shop["orders"]), -1, dtype=np.int64)
    row[table["order"].to_numpy(np.int64)] = np.arange(len(table))
    stage = axes.redoes[visits["stage_no"].to_numpy(np.int64)]
    on_route = workshop.passes.any(axis=(0, 1))
    seen = visits.assign(row=row[visits["order"].to_numpy(np.int64)], stage=stage, person=axes.worker_at(visits["worker"]))
    seen = seen[(seen["row"] >= 0).to_numpy() & np.append(on_route, False)[stage]]
    sorted_visits: pd.DataFrame = seen.sort_values(["row", "visit"], kind="stable").reset_index(drop=True)
    return sorted_visits


def _standing(table: pd.DataFrame, visits: pd.DataFrame, told: History, workshop: Workshop, axes: Axes) -> dict[str, np.ndarray]:
    """Return status, stage, person, spent_h, visits, repair_until, queued_days and until of each open order."""
    n, n_stages = len(table), len(axes.stages)
    counts = np.zeros((n, n_stages), dtype=np.int64)
    np.add.at(counts, (visits["row"].to_numpy(np.int64), visits["stage"].to_numpy(np.int64)), 1)
    last = visits.drop_duplicates("row", keep="last").set_index("row")
    begun = np.zeros(n, dtype=bool)
    begun[last.index.to_numpy(np.int64)] = True
    stage = _first_stage(told, workshop, axes, table)
    status = np.where(begun, ENDED, WAITING)
    at = last.index.to_numpy(np.int64)
    stage[at] = last["stage"].to_numpy(np.int64)
    running = np.zeros(n, dtype=bool)
    running[at] = last["running"].to_numpy(bool)
    spent, person = np.zeros(n), np.full(n, -1, dtype=np.int64)
    spent[at] = last["hours"].fillna(0.0).to_numpy()
    person[at] = last["person"].to_numpy(np.int64)
    touched = np.full(n, np.datetime64("NaT", "s"))
    touched[at] = last["last_at"].to_numpy("datetime64[s]")
    status = np.where(running, RUNNING, status)
    repair = _under_way_to(visits, n)
    days_since = told.clock.hours_between(touched, np.full(n, told.now)) / told.clock.usual_h
    waited = np.where((status == ENDED) & ~table["held"].to_numpy(bool), days_since, np.nan)
    alloy = axes.alloy_at(told.shop["orders"]["alloy"].iloc[table["order"].to_numpy(np.int64)])
    back = sent_back(told, workshop, axes, stage, repair, alloy, _passes(told, workshop, axes, table), waited)
    repair = np.where(back >= 0, np.maximum(repair, stage), repair)
    status, stage = np.where(back >= 0, WAITING, status), np.where(back >= 0, back, stage)
    status = np.where((status == ENDED) & _route_done(stage, repair, workshop, told, axes, table) & _long_ago(touched, told), DONE, status)
    status, stage = _with_holds(status, stage, table, axes)
    forgotten = told.now - touched.astype("datetime64[D]") > np.timedelta64(FORGOTTEN_DAYS, "D")
    on_bench = np.where((status == RUNNING) & ~forgotten, person, -1)
    return {
        "status": status.astype(np.int64),
        "stage": stage,
        "person": _one_each(on_bench, last),
        "spent_h": np.where(status == RUNNING, spent, 0.0),
        "visits": counts,
        "repair_until": repair,
        "queued_days": _queued(table, status, told),
        "until": np.full(n, np.datetime64("NaT", "D")),
    }


def _first_stage(told: History, workshop: Workshop, axes: Axes, table: pd.DataFrame) -> Integers:
    passes = _passes(told, workshop, axes, table)
    return np.asarray((passes >= CLEARLY_PASSED).argmax(axis=1))


def _passes(told: History, workshop: Workshop, axes: Axes, table: pd.DataFrame) -> Floats:
    orders = told.shop["orders"].iloc[table["order"].to_numpy(np.int64)]
    return np.asarray(workshop.passes[axes.style_at(orders["style"]), axes.alloy_at(orders["alloy"])])


def _route_done(stage: Integers, repair: Integers, workshop: Workshop, told: History, axes: Axes, table: pd.DataFrame) -> np.ndarray:
    """Return whether no stage of the route follows that the order would surely pass."""
    passes = _passes(told, workshop, axes, table) >= CLEARLY_PASSED
    later = np.arange(passes.shape[1])[None, :] > stage[:, None]
    return np.asarray(~(passes & later).any(axis=1) & (repair < 0))


def _long_ago(touched: Days, told: History) -> np.ndarray:
    return np.asarray(told.now.astype("datetime64[D]") - touched.astype("datetime64[D]") > np.timedelta64(SENT_BACK_DAYS, "D"))


def _under_way_to(visits: pd.DataFrame, n: int) -> Integers:
    """Return, for each order, the stage that sent it back and that it has not reached again, −1 when none."""
    goal = np.full(n, -1, dtype=np.int64)
    before = np.full(n, -1, dtype=np.int64)
    for row, stage in zip(visits["row"].tolist(), visits["stage"].tolist(), strict=True):
        if before[row] >= stage:
            goal[row] = max(goal[row], before[row])
        if stage >= goal[row] or before[row] == stage:
            goal[row] = goal[row] if stage < goal[row] else -1
        before[row] = stage
    return goal


def _with_holds(status: Integers, stage: Integers, table: pd.DataFrame, axes: Axes) -> tuple[Integers, Integers]:
    """Return status and stage with orders on hold before the stage to which they usually go."""
    goes_to = table["next_stage_no"].to_numpy(np.int64)
    known = np.where(goes_to >= 0, axes.redoes[goes_to], -1)
    held = table["held"].to_numpy(bool) & np.isin(status, (WAITING, ENDED)) & ((known >= 0) | (status == WAITING))
    return np.where(held, HELD, status), np.where(held & (status == ENDED), known, stage)


def _one_each(person: Integers, last: pd.DataFrame) -> Integers:
    """Return the person on whose bench each running order lies; of several on one bench only that worked on last."""
    touched = np.full(len(person), np.datetime64("NaT", "s"))
    touched[last.index.to_numpy(np.int64)] = last["last_at"].to_numpy("datetime64[s]")
    kept = person.copy()
    for one in np.unique(person[person >= 0]):
        rows = np.flatnonzero(person == one)
        kept[rows] = -1
        kept[rows[np.argmax(touched[rows].astype("datetime64[s]").astype(np.int64))]] = one
    return kept


def _queued(table: pd.DataFrame, status: Integers, told: History) -> Floats:
    since = table["waiting_since"].to_numpy("datetime64[s]")
    days = (told.now - since).astype("timedelta64[s]").astype(float) / 86400.0
    return np.where(np.isnat(since) | ~np.isin(status, (WAITING, ENDED)), 0.0, np.maximum(days, 0.0))

"""Visits: an order's entries at a stage with no other stage between. Rework starts a new one.

A visit has waited since the order's visit before it ended (the first one since the order was taken). It is over when its
weight out was taken, a later entry or the delivery follows, or its worker has begun another; else it is running.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
import pandas as pd

from ..costing.labour import entries as split_entries
from ..intake.as_of import until
from ..intake.shop import Shop
from .entries import Flags, Ints, placed_entries, worker_sequence
from .holds import waits_held
from .rework import mark_rework
from .working_time import Hours, Moments, WorkClock, shop_clock


@dataclass(frozen=True)
class History:
    """What the job cards tell up to a day.

    Attributes
    ----------
    shop : Shop
        Rows known on `as_of`.
    as_of : date
        Last day seen.
    clock : WorkClock
        The shop's working time.
    booked : DataFrame
        `costing.labour.entries`: all hours booked, shared work included.
    entries : DataFrame
        `entries.placed_entries`: work on orders at stages, with visit (row of `visits`).
    visits : DataFrame
        See `visits`.
    """

    shop: Shop
    as_of: date
    clock: WorkClock
    booked: pd.DataFrame
    entries: pd.DataFrame
    visits: pd.DataFrame

    @cached_property
    def stages(self) -> tuple[str, ...]:
        """Names of the stages in route order."""
        return tuple(stage.name for stage in self.shop.settings.stages)

    @cached_property
    def skills(self) -> tuple[str, ...]:
        """Skill of each stage, in route order."""
        return tuple(stage.needs for stage in self.shop.settings.stages)

    @property
    def now(self) -> np.datetime64:
        """The end of the last day seen."""
        return np.datetime64(self.as_of, "s") + np.timedelta64(1, "D")


def visits(shop: Shop, as_of: date) -> pd.DataFrame:
    """Return the visits known on `as_of`, by order and then in sequence.

    Parameters
    ----------
    shop : Shop
        Whole; rows dated later are left out.
    as_of : date
        Last day seen.

    Returns
    -------
    DataFrame
        One row a visit:

        - order (row of the orders known by then), order_id, visit (1, 2, … in the order), stage, stage_no (route order from 0),
          number (1, 2, … at the stage), entries
        - worker (most hours; the later one when equal), workers (how many)
        - started, last_at, ended (datetime64; ended is NaT while running), timed (every entry by the clock), running, later
          (begun after the delivery)
        - hours (NaN when no entry tells any), censored (running: hours so far)
        - rework, rework_basis (flag, stage, links, inferred, or empty), is_return, returned_from (the stage that sent it back),
          charged_to (the stage it went back to), cause: see `rework.mark_rework`
        - links_redone, weight_in_g (first taken), weight_out_g (last taken), scrap_back_g, solder_g
        - ready_at (when it became available to the stage), queue_h (working hours from there to the start, without holds),
          held_days (calendar days of that wait on hold); NaT and NaN for work after the delivery
    """
    return history(shop, as_of).visits


def history(shop: Shop, as_of: date) -> History:
    """Return entries and visits known on `as_of`, with the clock they are measured by."""
    seen = until(shop, as_of)
    clock = shop_clock(seen.settings.calendar, _first_day(seen, as_of), as_of)
    booked = split_entries(seen["labour"], seen["orders"], seen.settings)
    frame = placed_entries(booked, seen["orders"], clock)
    frame = frame.assign(visit=_visit_of_entry(frame))
    return History(seen, as_of, clock, booked, frame, _visits(frame, seen, as_of, clock))


def _first_day(shop: Shop, as_of: date) -> date:
    columns = (shop["orders"]["ordered_on"], shop["labour"]["date"], shop["labour"]["start"])
    firsts: list[date] = [column.min().date() for column in columns if column.notna().any()]
    return min([as_of, *firsts])


def _visit_of_entry(frame: pd.DataFrame) -> Ints:
    if not len(frame):
        return np.zeros(0, dtype=np.int64)
    order, stage, rework, later = (frame[name].to_numpy() for name in ("order", "stage", "rework", "later"))
    fresh = (np.diff(order) != 0) | (np.diff(stage) != 0) | (rework[1:] & ~rework[:-1]) | (later[1:] != later[:-1])
    return np.concatenate(([0], np.cumsum(fresh)))


def _visits(frame: pd.DataFrame, shop: Shop, as_of: date, clock: WorkClock) -> pd.DataFrame:
    first = np.flatnonzero(np.diff(frame["visit"].to_numpy(), prepend=-1) != 0)
    last = np.append(first[1:], len(frame)) - 1
    heads = frame.iloc[first].reset_index(drop=True)
    table = pd.DataFrame({name: heads[name].to_numpy() for name in ("order", "later")}).assign(stage_no=heads["stage"].to_numpy())
    table["order_id"] = shop["orders"]["order_id"].to_numpy()[table["order"].to_numpy()]
    table["stage"] = _names([stage.name for stage in shop.settings.stages], table["stage_no"].to_numpy())
    table["visit"] = table.groupby("order", sort=False).cumcount() + 1
    table["number"] = table.groupby(["order", "stage_no"], sort=False).cumcount() + 1
    table["entries"] = last - first + 1
    table = table.assign(**_workers(frame, len(first), shop))
    table = table.assign(**_sums(frame, first), **_weights(frame, first))
    table = table.assign(**_times(frame, first, last, shop))
    table = mark_rework(table, frame, first, shop.settings)
    return _waits(table, shop, as_of, clock)[list(_COLUMNS)]


_COLUMNS = (
    "order", "order_id", "visit", "stage", "stage_no", "number", "entries", "worker", "workers", "started", "last_at", "ended", "timed",
    "running", "later", "hours", "censored", "rework", "rework_basis", "is_return", "returned_from", "charged_to", "cause", "links_redone",
    "weight_in_g", "weight_out_g", "scrap_back_g", "solder_g", "ready_at", "queue_h", "held_days",
)


def _names(names: list[str], place: Ints) -> pd.Series:
    return pd.Series(np.array([*names, None], dtype=object)[place], dtype=object)


def _workers(frame: pd.DataFrame, count: int, shop: Shop) -> dict[str, pd.Series]:
    """Return who worked most on each visit, and how many did."""
    codes = [worker.code for worker in shop.settings.workers]
    visit, worker = frame["visit"].to_numpy(), frame["worker"].to_numpy(np.int64)
    pair, inverse = np.unique(visit * (len(codes) + 1) + worker + 1, return_inverse=True)
    hours = np.bincount(inverse.ravel(), frame["hours"].fillna(0.0), minlength=len(pair))
    latest = np.zeros(len(pair), dtype=np.int64)
    np.maximum.at(latest, inverse.ravel(), np.arange(len(visit)))
    of_visit, who = np.divmod(pair, len(codes) + 1)
    ranked = np.lexsort((latest, hours, of_visit))
    most = np.zeros(count, dtype=np.int64)
    most[of_visit[ranked]] = who[ranked] - 1
    return {"worker": _names(codes, most), "workers": pd.Series(np.bincount(of_visit, minlength=count))}


def _sums(frame: pd.DataFrame, first: Ints) -> dict[str, Hours]:
    if not len(first):
        return {name: np.zeros(0) for name in ("hours", "links_redone", "scrap_back_g", "solder_g")}
    totals = {name: np.add.reduceat(frame[name].fillna(0.0).to_numpy(), first) for name in ("links_redone", "scrap_back_g", "solder_g")}
    hours = np.add.reduceat(frame["hours"].fillna(0.0).to_numpy(), first)
    told = np.logical_or.reduceat(frame["hours"].notna().to_numpy(), first)
    return {"hours": np.where(told, hours, np.nan), **totals}


def _weights(frame: pd.DataFrame, first: Ints) -> dict[str, Hours]:
    return {
        "weight_in_g": picked(frame["weight_in_g"].to_numpy(float), first, np.minimum),
        "weight_out_g": picked(frame["weight_out_g"].to_numpy(float), first, np.maximum),
    }


def picked(values: Hours, first: Ints, which: np.ufunc) -> Hours:
    """Return the first (`np.minimum`) or last (`np.maximum`) known value of each stretch that begins at `first`; NaN without any."""
    if not len(first):
        return np.zeros(0)
    none = len(values) if which is np.minimum else -1
    place = which.reduceat(np.where(np.isnan(values), none, np.arange(len(values))), first)
    found: Hours = np.append(values, np.nan)[place]
    return found


def _times(frame: pd.DataFrame, first: Ints, last: Ints, shop: Shop) -> dict[str, Moments | Flags]:
    if not len(first):
        moments, flags = np.zeros(0, "datetime64[s]"), np.zeros(0, dtype=bool)
        return {**dict.fromkeys(("started", "last_at", "ended"), moments), **dict.fromkeys(("timed", "running", "censored"), flags)}
    started = np.minimum.reduceat(frame["started"].to_numpy("datetime64[s]"), first)
    last_at = np.maximum.reduceat(frame["finished"].to_numpy("datetime64[s]"), first)
    running = ~_over(frame, first, last, shop)
    ended = np.where(running, np.datetime64("NaT", "s"), last_at)
    timed = np.logical_and.reduceat(frame["timed"].to_numpy(), first)
    return {"started": started, "last_at": last_at, "ended": ended, "timed": timed, "running": running, "censored": running}


def _over(frame: pd.DataFrame, first: Ints, last: Ints, shop: Shop) -> Flags:
    order = frame["order"].to_numpy()[last]
    followed = np.append(order[1:] == order[:-1], False)
    weighed = frame["weight_out_g"].notna().to_numpy()[last]
    closed = (shop["orders"]["delivered_on"].notna() | shop["orders"]["cancelled_on"].notna()).to_numpy()[order]
    moved_on: Flags = followed | weighed | closed | _worker_began_another(frame, first, last)
    return moved_on


def _worker_began_another(frame: pd.DataFrame, first: Ints, last: Ints) -> Flags:
    began = frame["day"].to_numpy()[first][frame["visit"].to_numpy()]
    place = worker_sequence(frame, frame["day"].to_numpy() > began)
    worker = frame["worker"].to_numpy(np.int64) + 1
    latest = np.zeros(worker.max(initial=0) + 1, dtype=np.int64)
    np.maximum.at(latest, worker, place)
    later: Flags = place[last] < latest[worker[last]]
    return later & (worker[last] > 0)


def _waits(table: pd.DataFrame, shop: Shop, as_of: date, clock: WorkClock) -> pd.DataFrame:
    ordered = shop["orders"]["ordered_on"].to_numpy("datetime64[D]")[table["order"].to_numpy()]
    taken = clock.moment_in_day(ordered, np.full(len(table), clock.usual_h / 2.0))
    first = table["visit"].to_numpy() == 1
    before = np.where(first, taken, table["last_at"].shift().to_numpy("datetime64[s]"))
    started = table["started"].to_numpy("datetime64[s]")
    ready = np.where(table["later"].to_numpy(), np.datetime64("NaT", "s"), np.minimum(before, started))
    held_h, held_days = waits_held(shop["holds"], shop["orders"], table["order"].to_numpy(), ready, started, as_of, clock)
    queue = np.maximum(clock.hours_between(ready, started) - held_h, 0.0)
    return table.assign(ready_at=ready, queue_h=queue, held_days=np.where(np.isnat(ready), np.nan, held_days))

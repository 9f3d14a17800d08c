"""What a simulation leaves behind, and the plain figures read from it. Statistics live here, not in the kernel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from .arrays import Days, Flags, Floats, Integers
from .model import State, Workshop
from .scenario import Scenario

ORDERS_AT_ONCE = 2_000_000
"""Records looked at at a time: some 300 MB."""
VISITS, HOURS, WAITED, RETURNED = range(4)
"""Columns of `Records.totals`."""


@dataclass(frozen=True)
class Records:
    """All replications of one plan. Day 0.0 is the midnight after the as-of day; NaN: not within the horizon.

    Attributes
    ----------
    workshop, state, scenario : Workshop, State, Scenario
        What was run.
    horizon_days, seed, replications : int
        How long, with which luck, how often.
    cards : structured array
        One record an order, fields of `kernel.ORDER`, replication after replication; open orders first, in the order of the state,
        then enquiries won as they came.
    first : Integers, shape (R + 1,)
        Where each replication begins in `cards`.
    totals : Floats, shape (R, M, S, 4)
        By replication, month of the run and stage: visits begun, hours booked, days waited, orders sent back from the stage.
    busy : Floats, shape (R, M, P)
        Hours booked by each person, those of the scenario last.
    open_waits : Floats, shape (R, n, S)
        Days each open order waited in each queue.
    lost : Integers, shape (R, horizon)
        Enquiries lost on each day.
    months : Days, shape (M,)
        The months of the run; the first and last may be partial.
    events : Integers, shape (R,)
        Events of each replication.
    cut : int
        Replications stopped by the bound on events: their later days are missing. Callers say so.
    most_events : int
        That bound.
    """

    workshop: Workshop
    state: State
    scenario: Scenario
    horizon_days: int
    seed: int
    replications: int
    cards: Any
    first: Integers
    totals: Floats
    busy: Floats
    open_waits: Floats
    lost: Integers
    months: Days
    events: Integers
    cut: int
    most_events: int

    @property
    def n_open(self) -> int:
        """Number of orders open at the as-of date."""
        return len(self.state.order_id)

    @property
    def start_on(self) -> np.datetime64:
        """The day on which day 0 of the records falls."""
        return np.datetime64(self.state.as_of.astype("datetime64[D]") + 1)

    def part(self, first: int, past: int) -> Records:
        """Return replications `first` to before `past`, themselves when these are all."""
        if (first, past) == (0, self.replications):
            return self
        low, high = self.first[first], self.first[past]
        rows = {name: getattr(self, name)[first:past] for name in ("totals", "busy", "open_waits", "lost", "events")}
        return replace(self, replications=past - first, cards=self.cards[low:high], first=self.first[first : past + 1] - low, **rows)

    def parts(self) -> Iterator[tuple[int, Records]]:
        """Yield the first replication and the records of some replications at a time, so that a busy shop's fit into memory."""
        at_once = max(1, self.replications * ORDERS_AT_ONCE // max(len(self.cards), 1))
        for first in range(0, self.replications, at_once):
            yield first, self.part(first, min(first + at_once, self.replications))

    @cached_property
    def replication(self) -> Integers:
        """The replication of each record of `cards`."""
        return np.repeat(np.arange(self.replications), np.diff(self.first))

    @cached_property
    def number(self) -> Integers:
        """The number of each order within its replication; below `n_open` an order of the state, then enquiries counted through.

        An enquiry has the same number, and so the same luck, in every plan.
        """
        return np.asarray(self.cards["number"].astype(np.int64))

    @cached_property
    def source(self) -> Integers:
        """What each record of `cards` is: its place among the open orders, then `n_open` + its piece for what came later."""
        return np.asarray(np.where(self.number < self.n_open, self.number, self.n_open + self.cards["piece"]))

    @cached_property
    def orders(self) -> pd.DataFrame:
        """One row an order; enquiries lost are counted in `lost`.

        Columns: replication, order, order_id (open orders), style, alloy, piece (row of the workshop's pieces, −1 for open orders), rush,
        arrival_days, weeks_quoted, promise_days, first_start_days, finish_days (last visit ended),
        delivered_days, touch_h, wait_days (in queues), visits, contribution (money).
        """
        c, is_open = self.cards, self.number < self.n_open
        place = np.where(is_open, self.number, 0)
        table = {"replication": self.replication, "order": self.number, "order_id": _taken(self.state.order_id, place, is_open, ""),
                 "style": self._class("style"), "alloy": self._class("alloy"), "piece": c["piece"], "rush": c["rush"] == 1}
        for name, field in (("arrival_days", "arrival"), ("weeks_quoted", "weeks_quoted"), ("promise_days", "promise"),
                            ("first_start_days", "first_start"), ("finish_days", "finish"), ("delivered_days", "delivered"),
                            ("touch_h", "touch_h"), ("wait_days", "wait_days")):
            table[name] = c[field].astype(float)
        table["visits"], table["contribution"] = c["visits"].astype(np.int64), self.contribution
        return pd.DataFrame(table)

    @cached_property
    def contribution(self) -> Floats:
        """Throughput contribution of each record of `cards`, money."""
        is_open, piece = self.number < self.n_open, np.maximum(self.cards["piece"], 0)
        ours = _taken(self.state.contribution, np.where(is_open, self.number, 0), is_open, 0.0)
        return np.asarray(np.where(is_open, ours, _taken(self._piece_contribution(), piece, ~is_open, 0.0)))

    def _class(self, name: str) -> Any:
        """Return the style or alloy of every record, as text."""
        is_open = self.number < self.n_open
        ours = _taken(getattr(self.state, name), np.where(is_open, self.number, 0), is_open, 0)
        theirs = _taken(getattr(self.workshop, f"piece_{name}"), np.maximum(self.cards["piece"], 0), ~is_open, 0)
        return getattr(self.workshop, f"{name}s")[np.where(is_open, ours, theirs)]

    def _piece_contribution(self) -> Floats:
        """Return the contribution of each piece at the scenario's mark-up."""
        making = np.maximum(self.workshop.piece_price - self.workshop.piece_metal, 0.0)
        return np.asarray(self.workshop.piece_contribution + self.scenario.mark_up * making)

    @cached_property
    def taken(self) -> Flags:
        """Records of `cards` that are orders taken: all of them."""
        return np.ones(len(self.cards), bool)

    def delivered_by(self, days: float) -> Integers:
        """Return orders delivered before day `days`, by replication."""
        return np.asarray(self._count(self.cards["delivered"] < days))

    def lost_by(self, days: float) -> Integers:
        """Return enquiries lost before day `days`, by replication."""
        return np.asarray(self.lost[:, : max(int(np.ceil(days)), 0)].sum(axis=1, dtype=np.int64))

    def _count(self, chosen: Flags, weights: Floats | None = None) -> Any:
        picked = None if weights is None else weights[chosen]
        return np.bincount(self.replication[chosen], weights=picked, minlength=self.replications)

    def contribution_by(self, days: float) -> Floats:
        """Return throughput contribution of orders delivered before day `days`, by replication, money."""
        return np.asarray(self._count(self.cards["delivered"] < days, self.contribution))

    def monthly(self, what: str = "delivered") -> Integers:
        """Return counts by replication and month of the run.

        Parameters
        ----------
        what : {'delivered', 'arrived', 'lost'}
            Orders delivered; orders taken; enquiries lost.
        """
        if what == "lost":
            return np.asarray(np.add.reduceat(self.lost.astype(np.int64), np.flatnonzero(np.diff(self._month_of_day, prepend=-1)), axis=1))
        day = self.cards["delivered"] if what == "delivered" else self.cards["arrival"]
        chosen = (day >= 0) & (day < self.horizon_days)
        month = self.month_of(day[chosen])
        flat = np.bincount(self.replication[chosen] * len(self.months) + month, minlength=self.replications * len(self.months))
        return flat.reshape(self.replications, len(self.months))

    def month_of(self, days: Floats) -> Integers:
        """Return the position in `months` of each day of the run."""
        return np.asarray(self._month_of_day[np.floor(days).astype(np.int64)])

    @cached_property
    def _month_of_day(self) -> Integers:
        dates = self.start_on + np.arange(self.horizon_days)
        return np.asarray((dates.astype("datetime64[M]") - self.months[0]).astype(np.int64))

    def wip(self) -> Integers:
        """Return orders in the shop at the end of each day: ordered by then, not delivered by then. Shape (R, horizon)."""
        h, c = self.horizon_days, self.cards
        here = self.taken
        came = np.clip(np.floor(c["arrival"]), -1, h - 1).astype(np.int64) + 1
        went = np.where(np.isnan(c["delivered"]), h, np.minimum(c["delivered"], h)).astype(np.int64) + 1
        change = np.zeros((self.replications, h + 2), np.int64)
        np.add.at(change, (self.replication[here], came[here]), 1)
        np.add.at(change, (self.replication[here], went[here]), -1)
        return np.asarray(np.cumsum(change, axis=1)[:, 1: h + 1])

    def open_finish(self) -> Floats:
        """Return the day each open order is delivered, shape (R, n); +inf when not within the horizon."""
        place = self.first[:-1, None] + np.arange(self.n_open)
        day = self.cards["delivered"][place]
        return np.where(np.isnan(day), np.inf, day)

    def open_finish_quantiles(self, levels: tuple[float, ...] = (0.5, 0.8, 0.95)) -> Floats:
        """Return, per open order, the first day by which at least a share `level` of replications are done.

        Returns
        -------
        Floats, shape (n, levels)
            Days of the run (0: the day after the as-of date); +inf when the horizon is too short to tell.
        """
        ordered = np.sort(self.open_finish(), axis=0)
        place = [min(max(int(np.ceil(level * self.replications - 1e-9)) - 1, 0), self.replications - 1) for level in levels]
        return np.asarray(ordered[place].T)

    def late_chance(self) -> Floats:
        """Return, per open order, the share of replications delivered after the promise; NaN where nothing was promised."""
        promise = (self.state.promised_on.astype("datetime64[D]") - self.start_on).astype(float)
        late = (self.open_finish() > promise).mean(axis=0)
        return np.where(np.isnat(self.state.promised_on), np.nan, late)

    def flow_days(self, from_day: float = 0.0, to_day: float = np.inf, horizon_days: float = np.inf) -> Floats:
        """Return days from order to delivery, mean by replication, of new orders that came from `from_day` to before `to_day`.

        Orders not done within the horizon, the run's or a shorter one that is given, are left out; take a `to_day` well before it.
        """
        c = self.cards
        chosen = (self.number >= self.n_open) & (c["arrival"] >= from_day) & (c["arrival"] < to_day) & ~np.isnan(c["delivered"])
        chosen &= ~(c["finish"] >= horizon_days)
        with np.errstate(invalid="ignore"):
            return np.asarray(self._count(chosen, c["delivered"] - np.floor(c["arrival"])) / self._count(chosen))

    def on_time_share(self, from_day: float, to_day: float) -> Floats:
        """Return the share of promises due from `from_day` to before `to_day` that were kept, by replication."""
        c = self.cards
        due = self.taken & (c["promise"] >= from_day) & (c["promise"] < to_day)
        with np.errstate(invalid="ignore"):
            return np.asarray(self._count(due & (c["delivered"] <= c["promise"])) / self._count(due))

    def queue_days(self) -> Floats:
        """Return mean days waited for a visit, by replication and stage; NaN without a visit."""
        sums = self.totals.sum(axis=1)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(sums[:, :, WAITED] / sums[:, :, VISITS])


def _taken(source: Any, place: Any, chosen: Flags, missing: Any) -> Any:
    """Return source[place] where `chosen`, else `missing`; `source` may be empty."""
    return np.where(chosen, source[np.where(chosen, place, 0)], missing) if len(source) else np.full(len(place), missing)

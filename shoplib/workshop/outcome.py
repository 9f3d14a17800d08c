"""What a plan comes to, month by month and replication by replication: small enough to keep, enough to decide by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .arrays import Days, Floats, Integers
from .records import Records

DAYS_A_YEAR = 365
SHARED = frozenset({"months", "year_ends", "cut"})
"""What is the same for every replication."""


@dataclass(frozen=True)
class Outcome:
    """A plan's figures; R replications, M months of the run (the first and the last may be partial), P people, S stages.

    Attributes
    ----------
    months : Days, shape (M,)
        datetime64[M].
    delivered, arrived, lost : Integers, shape (R, M)
        Orders delivered, orders taken, enquiries lost.
    contribution, grams : Floats, shape (R, M)
        Throughput contribution (money) and gross grams of the orders delivered.
    due, kept : Integers, shape (R, M)
        Promises that fell due, and those kept.
    flow_days : Floats, shape (R, M)
        Mean days from order to delivery of new orders that came in the month and were delivered; NaN without one.
    in_process_g : Floats, shape (R, M)
        Mean gross grams between an order's first entry and its delivery.
    busy_h : Floats, shape (R, M, P)
        Hours booked by each person, those of the plan last.
    queue_days : Floats, shape (R, S)
        Mean days waited for a visit over the run.
    year_ends : Integers, shape (Y,)
        Days of the run after which a year is complete.
    by_year_end : Integers, shape (R, Y)
        Orders delivered by then.
    credit : Floats, shape (R, Y)
        Contribution of orders then in process × share of their bench time done, money.
    cut : int
        Replications stopped by the bound on events.
    """

    months: Days
    delivered: Integers
    arrived: Integers
    lost: Integers
    contribution: Floats
    grams: Floats
    due: Integers
    kept: Integers
    flow_days: Floats
    in_process_g: Floats
    busy_h: Floats
    queue_days: Floats
    year_ends: Integers
    by_year_end: Integers
    credit: Floats
    cut: int


def outcome(records: Records) -> Outcome:
    """Return what `records` come to.

    Parameters
    ----------
    records : Records
        All replications of one plan; some are looked at at a time, so that a busy shop's fit into memory.
    """
    again = _again(records)
    parts = [_outcome(part, again) for _, part in records.parts()]
    whole = {name: np.concatenate([getattr(part, name) for part in parts]) for name in Outcome.__dataclass_fields__ if name not in SHARED}
    return replace(parts[0], **whole, cut=records.cut)


def _outcome(records: Records, again: float) -> Outcome:
    c, taken = records.cards, records.taken
    money, grams = card_contribution(records), card_grams(records)
    by_month = _Months(records)
    out, came = c["delivered"], c["arrival"]
    new = taken & (records.number >= records.n_open) & ~np.isnan(out)
    flows, count = by_month.sum(came, new, out - np.floor(came)), by_month.sum(came, new)
    due = taken & (c["promise"] >= 0)
    ends = np.arange(DAYS_A_YEAR, records.horizon_days + 1, DAYS_A_YEAR)
    return Outcome(
        records.months,
        records.monthly("delivered"), records.monthly("arrived"), records.monthly("lost"),
        by_month.sum(out, taken, money), by_month.sum(out, taken, grams),
        by_month.sum(c["promise"], due).astype(np.int64), by_month.sum(c["promise"], due & (out <= c["promise"])).astype(np.int64),
        np.divide(flows, count, out=np.full(flows.shape, np.nan), where=count > 0), _in_process(records, grams, by_month),
        records.busy, records.queue_days(), ends, _at(records, ends, lambda end: records.delivered_by(end)),
        _credit(records, ends, money, again), records.cut,
    )  # fmt: skip


def _at(records: Records, ends: Integers, count: Callable[[float], Any]) -> Any:
    """Return `count` at each of `ends`, shape (R, len(ends))."""
    return np.array([count(float(end)) for end in ends]).reshape(len(ends), records.replications).T


def card_grams(records: Records) -> Floats:
    """Return the gross grams of every record of `cards`."""
    return _of_cards(records, records.state.weight_g, records.workshop.piece_weight_g)


def card_contribution(records: Records) -> Floats:
    """Return the throughput contribution of every record of `cards` at the plan's mark-up, money."""
    making = np.maximum(records.workshop.piece_price - records.workshop.piece_metal, 0.0)
    return _of_cards(records, records.state.contribution, records.workshop.piece_contribution + records.scenario.mark_up * making)


def _of_cards(records: Records, of_open: Any, of_piece: Any) -> Floats:
    return np.asarray(np.concatenate([of_open, of_piece]).astype(np.float64)[records.source])


class _Months:
    """Sums by replication and month of the run."""

    def __init__(self, records: Records) -> None:
        self.records, self.shape = records, (records.replications, len(records.months))

    def sum(self, day: Floats, chosen: Any, weight: Floats | None = None) -> Floats:
        """Sum `weight` (or count) of `chosen` records by the month in which `day` falls."""
        use = chosen & (day >= 0) & (day < self.records.horizon_days)
        place = self.records.replication[use] * self.shape[1] + self.records.month_of(day[use])
        return np.bincount(place, None if weight is None else weight[use], self.shape[0] * self.shape[1]).reshape(self.shape).astype(float)


def _hours_before(records: Records) -> Floats:
    """Return the hours each record had before the run: those of open orders, 0 for new ones."""
    return _of_cards(records, records.state.hours_done, np.zeros(len(records.workshop.piece_style)))


def _in_process(records: Records, grams: Floats, by_month: _Months) -> Floats:
    """Mean over the days of each month of the grams begun and not delivered."""
    h, c = records.horizon_days, records.cards
    before = _hours_before(records) > 0
    begun = records.taken & (before | ~np.isnan(c["first_start"]))
    start = np.where(before | np.isnan(c["first_start"]), 0.0, np.clip(c["first_start"], 0, h)).astype(np.int64)
    stop = np.where(np.isnan(c["delivered"]), h, np.clip(c["delivered"], 0, h)).astype(np.int64)
    row = records.replication[begun] * (h + 1)
    change = np.bincount(row + start[begun], grams[begun], records.replications * (h + 1))
    change -= np.bincount(row + stop[begun], grams[begun], records.replications * (h + 1))
    held = np.cumsum(change.reshape(records.replications, h + 1), axis=1)[:, :h]
    month = records.month_of(np.arange(h, dtype=float))
    first = np.searchsorted(month, np.arange(by_month.shape[1]))
    days = np.maximum(np.bincount(month, minlength=by_month.shape[1]), 1)
    return np.asarray(np.add.reduceat(held, np.minimum(first, h - 1), axis=1) / days)


def _credit(records: Records, ends: Integers, money: Floats, again: float) -> Floats:
    """Contribution of orders in process at each of `ends` × share of their bench hours done by then, shape (R, len(ends)).

    Hours of a finished order are taken as even between its begin and end; one that never finishes within the run has done what it
    booked, of the hours its kind usually asks.
    """
    c, before, usual = records.cards, _hours_before(records), _usual_hours(records) * again
    first, out, finish, touch = (np.ascontiguousarray(c[name]) for name in ("first_start", "delivered", "finish", "touch_h"))
    credit = np.zeros((records.replications, len(ends)))
    for place, day in enumerate(ends.tolist()):
        use = np.flatnonzero(records.taken & ((before > 0) | (first < day)) & ~(out < day))
        begun = np.where((before[use] > 0) | np.isnan(first[use]), 0.0, first[use])
        known = ~np.isnan(finish[use])
        end = np.where(known, finish[use], max(records.horizon_days, day))
        so_far = np.clip((day - begun) / np.maximum(end - begun, 1.0), 0.0, 1.0)
        hours = before[use] + touch[use]
        total = np.where(known, hours, np.maximum(hours, usual[use]))
        share = (before[use] + touch[use] * so_far) / np.maximum(total, 1e-9)
        credit[:, place] = np.bincount(records.replication[use], money[use] * share, records.replications)
    return credit


def _usual_hours(records: Records) -> Floats:
    """Return the bench hours a record of its style, alloy and weight takes when nothing comes back."""
    w, s = records.workshop, records.state
    of_open = w.expected_hours(s.style, s.alloy, s.weight_g).sum(axis=1)
    of_piece = w.expected_hours(w.piece_style, w.piece_alloy, w.piece_weight_g).sum(axis=1)
    return _of_cards(records, of_open, of_piece)


def _again(records: Records) -> float:
    """Return how many times their first hours new orders take, returns included, as the run shows them; at least once."""
    took = asked = 0.0
    for _, part in records.parts():
        done = ~np.isnan(part.cards["finish"]) & (part.number >= part.n_open)
        took, asked = took + float(part.cards["touch_h"][done].sum()), asked + float(_usual_hours(part)[done].sum())
    return max(took / max(asked, 1e-9), 1.0)

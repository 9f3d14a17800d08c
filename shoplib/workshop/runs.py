"""Replications of one plan: what each draws before its first event, the memory it works in, and the call of the kernel."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from .arrays import Floats, Integers
from .compiling import quick_to_compile
from .kernel import (
    CARD,
    DRAW,
    FAR,
    GOLDEN,
    HOLD_DAYS,
    LEFT,
    MONTH,
    NO_EVENT,
    ORDER,
    PERSON_DRAW,
    SIX,
    STAGE_DRAW,
    WEIBULL,
    Plan,
    U,
    evens,
    run_once,
    streams,
)
from .model import HELD, RUNNING

LEAST_H = 1e-6
"""Hours left of a running visit at least."""
CERTAIN = 1e-280
"""Chance that a visit lasts longer than it has, below which its rest is a thousandth of what is spent."""


def run_workshop(plan: Plan, seed: int, first: int, room: int, totals: Any, busy: Any, open_waits: Any, lost: Any,
                 counts: Any) -> Iterator[Any]:
    """Run replications of one plan, `first` and as many as `counts` has rows.

    Parameters
    ----------
    plan : Plan
        What `lower.lower` made; its shop, stages, people, skills, learning and open orders are written to: one thread each its own copy.
    seed, first : int
        Seed; number of the first replication.
    room : int
        Orders and enquiries of a replication there is room for.
    totals : ndarray(float64, ndim=4)
        Zeros, filled: replication × month × stage × (visits begun, hours booked, days waited, sent back).
    busy : ndarray(float64, ndim=3)
        Zeros, filled: replication × month × person, hours booked.
    open_waits : ndarray(float64, ndim=3)
        Zeros, filled: replication × open order × stage, days waited in the queue.
    lost : ndarray(int16, ndim=2)
        Zeros, filled: replication × day, enquiries lost.
    counts : ndarray(int64, ndim=2)
        Filled, replication × (flag, events).

    Yields
    ------
    ndarray(ORDER, ndim=1)
        Orders and enquiries of each replication, those lost among them, in memory that the next one writes over.
    """
    wide, orders = plan.mean.shape[2], np.zeros(room, ORDER)
    keys, cards = np.empty((len(plan.people) + 9) // 8 * 8, np.int64), np.zeros(room, CARD)
    scratch = (keys, np.empty((len(plan.stages), room), np.int64), np.empty((room, wide)), (np.arange(wide, dtype=U) << SIX) * GOLDEN,
               np.zeros(wide))
    today = np.empty(plan.paid.shape)
    numbers, luck = np.arange(first, first + len(counts)), streams(seed, first, first + len(counts))
    rows = 1 + numbers % (len(plan.draws) - 1) if len(plan.draws) > 1 else np.zeros(len(numbers), np.int64)
    running, held = running_orders(plan), held_orders(plan)
    left_h, until, factor = hours_left(plan, running, luck, rows), held_until(plan, held, luck), month_factors(plan, luck, rows)
    for r, (stream, row) in enumerate(zip(luck, rows.tolist(), strict=True)):
        take_draw(plan, row)
        plan.opened["left_h"][running], plan.opened["until"][held] = left_h[r], until[r]
        keys[:] = NO_EVENT
        with quick_to_compile(run_once):
            flag, events = run_once(
                plan.shop, plan.mean[row], plan.back[row], *plan[6:13], plan.days, plan.rates[row], *plan[15:], today, factor[r], *scratch,
                np.ascontiguousarray(plan.stage_draws["sd"][row]), cards, stream, orders, totals[r], busy[r], open_waits[r], lost[r])
        counts[r] = flag, events
        yield orders[: len(plan.opened) + int(plan.shop["next"][0])]


def take_draw(plan: Plan, row: int) -> None:
    """Set the parameters of draw `row` in the tables of `plan`, and empty its queues."""
    shop, stages, people, n_stages = plan.shop, plan.stages, plan.people, len(plan.stages) - 1
    for name in DRAW.names or ():
        shop[name] = plan.draws[name][row]
    for name in STAGE_DRAW.names or ():
        stages[name][:n_stages] = plan.stage_draws[name][row, :n_stages]
    for name in PERSON_DRAW.names or ():
        people[name] = plan.person_draws[name][row]
    for name in ("idle", "waiting", "seq", "next", "day", "frac"):
        shop[name] = 0
    shop["open"] = shop["undelivered"] = len(plan.opened)
    stages["size"], people["busy"], people["closes"] = 0, 0, -FAR
    plan.learning["count"] = plan.learning["done"]
    plan.skills["bank"] = plan.skills["bank_from"] = 0.0


def running_orders(plan: Plan) -> Integers:
    """Return which open orders have a visit under way."""
    return np.flatnonzero(plan.opened["status"] == RUNNING)


def held_orders(plan: Plan) -> Integers:
    """Return which open orders are held until nobody knows when."""
    return np.flatnonzero((plan.opened["status"] == HELD) & np.isnan(plan.opened["until"]))


def hours_left(plan: Plan, running: Integers, luck: Any, rows: Integers) -> Floats:
    """Draw the hours left of running visits, given that each whole exceeds the hours spent.

    Parameters
    ----------
    running : Integers, shape (n,)
        Open orders.
    luck : uint64, shape (R,)
        Streams of the replications.
    rows : Integers, shape (R,)
        Their rows of draws.

    Returns
    -------
    Floats, shape (R, n)
    """
    from scipy.special import erfc, ndtri  # numba has loaded it

    orders = plan.opened[running]
    stage, spent = orders["stage"], orders["spent_h"]
    visit = plan.opened_visits[running, stage] - 1
    drawn = plan.stage_draws[rows][:, stage]
    location = plan.mean[rows[:, None], orders["cls"], stage] + drawn["slope"] * orders["ln_w"] + np.where(visit > 0, drawn["rework"], 0.0)
    u, sd = evens(luck[:, None], LEFT, running, stage, visit), drawn["sd"] + 1e-6
    z = (np.log(spent + 1e-9) - location) / sd
    if plan.shop["law"][0] == WEIBULL:
        return np.asarray(np.exp(location + sd * np.log(np.exp(z) - np.log(u))) - spent)
    longer = 0.5 * erfc(z / 2.0**0.5)
    left = np.exp(location - sd * ndtri(np.maximum(longer, CERTAIN) * u)) - spent
    return np.asarray(np.where(longer < CERTAIN, 1e-3 * spent + LEAST_H, np.maximum(left, LEAST_H)))


def held_until(plan: Plan, held: Integers, luck: Any) -> Floats:
    """Draw the day each held order goes on, replication × order, from the holds of the past; today where there is none."""
    if len(plan.hold_days) == 0:
        return np.zeros((len(luck), len(held)))
    u = evens(luck[:, None], HOLD_DAYS, held, plan.opened["stage"][held], 1)
    return np.asarray(plan.hold_days[(u * len(plan.hold_days)).astype(np.int64)])


def month_factors(plan: Plan, luck: Any, rows: Integers) -> Floats:
    """Draw the factor of each month on enquiries, replication × month: log-normal of mean 1."""
    from scipy.special import ndtri  # numba has loaded it

    spread = np.sqrt(np.log1p(plan.draws["dispersion"][rows]))[:, None]
    z = ndtri(evens(luck[:, None], MONTH, np.arange(plan.rates.shape[1]), 0, 0))
    return np.asarray(np.exp(spread * z - 0.5 * spread**2))

"""Replications of one plan: fixed blocks, threads, until the precision asked for; plans share their luck.

Draws are keyed by seed, replication, order, stage and visit, so that the answer does not depend on how the work is shared out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

import joblib
import numpy as np

from .arrays import Days, Floats
from .cluster import connection
from .kernel import CUT_BY_EVENTS, CUT_BY_ROOM, LOGNORMAL, Plan
from .lower import lower
from .model import State, Workshop
from .records import Records
from .runs import run_workshop
from .scenario import Scenario

BLOCK = 32
"""Precision is looked at after 32, 64, 128 … replications, whatever the number of threads."""
TASK = 8
"""Replications of one task of a thread; a worker of a cluster is sent its whole share, since sending costs more than waiting."""
EVENTS_AN_ORDER = 400
"""Bound on events: this many for each order there is room for; a usual order has about fifteen."""
NOTHING = Scenario()
Told = TypeVar("Told")

Block = tuple[Any, Any, Floats, Floats, Floats, Any, Any]
"""Orders, their number by replication; then totals, busy, open_waits, lost and counts, see `runs.run_workshop`."""


def simulate(workshop: Workshop, state: State, *, horizon_days: int, seed: int, replications: int = 128,
             scenario: Scenario = NOTHING, standard_error: float | None = None, measure: Callable[[Records], Floats] | None = None,
             threads: int = 1, cluster: str | None = None, until_open_done: bool = False, law: int = LOGNORMAL) -> Records:
    """Run a plan again and again and return what happened.

    Parameters
    ----------
    workshop, state : Workshop, State
        The shop and where its open orders stand.
    horizon_days : int
        Calendar days from the day after the as-of date.
    seed : int
        Same seed, same luck: replication r of two plans differs only by what the plans change.
    replications : int
        How many, at most when `standard_error` is given.
    scenario : Scenario
        The plan; the default is doing nothing.
    standard_error : float, optional
        Stop after 32, 64, 128 … replications once the standard error of the mean of `measure` is at most this.
    measure : callable, optional
        One number a replication from the records; default: orders delivered within the horizon.
    threads : int
        Threads of this machine; the answer is the same bits whatever their number.
    cluster : str, optional
        Address of a running Dask scheduler, whose workers are used instead of threads.
    until_open_done : bool
        Stop a replication as soon as the open orders are delivered: enough for their dates.
    law : int
        Law of hours, for checks.

    Returns
    -------
    Records
        `Records.cut` counts replications the bound on events has stopped.

    Raises
    ------
    UsageError, DataError
        As `lower.lower`.
    """
    plan = lower(workshop, state, scenario, horizon_days, until_open_done=until_open_done, law=law)
    plan.shop["most_events"] = EVENTS_AN_ORDER * room_for(plan)
    dates = state.as_of.astype("datetime64[D]") + np.arange(1, horizon_days + 1)
    months = np.unique(dates.astype("datetime64[M]"))
    blocks: list[Block] = []
    with _workers(threads, cluster) as (parallel, workers):
        for first, past in _schedule(replications, standard_error is not None):
            size = TASK if cluster is None else max(TASK, -(-(past - first) // workers))
            tasks = [(start, min(start + size, past)) for start in range(first, past, size)]
            blocks += parallel(joblib.delayed(run_block)(plan, seed, start, stop) for start, stop in tasks)
            spent = standard_error is None
            records = _records(workshop, state, scenario, horizon_days, seed, blocks, months, int(plan.shop["most_events"][0]), spent)
            if standard_error is not None and precise(records, standard_error, measure):
                break
    return records


def simulate_each(workshop: Workshop, state: State, plans: Sequence[Scenario], told: Callable[[Records], Told], *, horizon_days: int,
                  seed: int, replications: int, threads: int = 1, cluster: str | None = None) -> list[Told]:
    """Run plans under common luck, one a thread, and return what `told` reads from the records of each.

    Parameters
    ----------
    workshop, state, horizon_days, seed, replications
        As in `simulate`.
    plans : sequence of Scenario
        Each is run with the same seed.
    told : callable
        What is wanted of a plan; its records are let go afterwards.
    threads : int
        Plans run at a time, a single one by all of them; the answers are the same bits whatever their number.
    cluster : str, optional
        As in `simulate`: plans follow one another, the replications of each are shared out.

    Raises
    ------
    UsageError, DataError
        As `simulate`.
    """

    def one(plan: Scenario) -> Told:
        return told(simulate(workshop, state, horizon_days=horizon_days, seed=seed, replications=replications, scenario=plan,
                             threads=threads // at_once, cluster=cluster))

    at_once = max(1, min(threads, len(plans))) if cluster is None else 1
    answers: list[Told] = joblib.Parallel(n_jobs=at_once, backend="threading")(joblib.delayed(one)(plan) for plan in plans)
    return answers


def precise(records: Records, standard_error: float, measure: Callable[[Records], Floats] | None = None) -> bool:
    """Return whether the standard error of the mean of `measure` (default: orders delivered) is at most `standard_error`."""
    values = measure(records) if measure else records.delivered_by(records.horizon_days)
    return len(values) > 1 and float(np.std(values, ddof=1)) / len(values) ** 0.5 <= standard_error


def _schedule(replications: int, in_steps: bool) -> Iterator[tuple[int, int]]:
    """Yield first and one past the last replication of each step: doubling from BLOCK, or all at once."""
    first, past = 0, min(BLOCK, replications) if in_steps else replications
    while first < replications:
        yield first, past
        first, past = past, min(2 * past, replications)


@contextmanager
def _workers(threads: int, cluster: str | None) -> Iterator[tuple[Any, int]]:
    """Yield what runs tasks side by side, and how many at a time."""
    if cluster is None:
        with joblib.Parallel(n_jobs=threads, backend="threading") as parallel:
            yield parallel, threads
        return
    with connection(cluster) as client, joblib.parallel_config(backend="dask"), joblib.Parallel() as parallel:
        yield parallel, max(1, sum(client.nthreads().values()))


def run_block(plan: Plan, seed: int, first: int, past: int) -> Block:
    """Run replications `first` to before `past`; room for orders is doubled until it is enough, which changes no draw."""
    room = room_for(plan)
    while True:
        block = _run_block(plan, seed, first, past, room)
        if not (block[-1][:, 0] & CUT_BY_ROOM).any():
            return block
        room *= 2


def room_for(plan: Plan) -> int:
    """Return a number of orders that few replications exceed: the open ones and six standard deviations above the enquiries expected."""
    rates = plan.rates[:, plan.days["month"]] * plan.days["shop_open"]
    spread = np.sqrt(np.log1p(plan.draws["dispersion"]))
    most = float((rates.sum(axis=1) * np.exp(spread)).max(initial=0.0) * plan.shop["demand_factor"][0])
    return len(plan.opened) + int(most + 6.0 * most**0.5) + 16


def _run_block(plan: Plan, seed: int, first: int, past: int, room: int) -> Block:
    own = plan._replace(**{name: getattr(plan, name).copy() for name in ("shop", "stages", "people", "skills", "learning", "opened")})
    runs, n_stages, n_months = past - first, len(plan.stages) - 1, plan.rates.shape[1]
    counts = np.zeros((runs, 2), np.int64)
    totals, busy = np.zeros((runs, n_months, n_stages, 4)), np.zeros((runs, n_months, len(plan.people)))
    open_waits, lost = np.zeros((runs, len(plan.opened), n_stages)), np.zeros((runs, len(plan.days)), np.int16)
    played = run_workshop(own, seed, first, room, totals, busy, open_waits, lost, counts)
    taken = [records[records["lost"] == 0] for records in played]
    return np.concatenate(taken), np.array([len(one) for one in taken]), totals, busy, open_waits, lost, counts


def _records(workshop: Workshop, state: State, scenario: Scenario, horizon_days: int, seed: int, blocks: list[Block], months: Days,
             most_events: int, spent: bool) -> Records:
    orders, totals, busy, open_waits, lost, counts = (np.concatenate(part) for part in list(zip(*blocks, strict=True))[1:])
    cards = _cards(blocks, spent)
    return Records(
        workshop, state, scenario, horizon_days, seed, len(counts), cards, np.concatenate([[0], np.cumsum(orders)]), totals, busy,
        open_waits, lost, months, counts[:, 1], int((counts[:, 0] & CUT_BY_EVENTS > 0).sum()), most_events)


def _cards(blocks: list[Block], spent: bool) -> Any:
    """Return the orders of all blocks, one block after another; those that are `spent` are let go on the way, a gigabyte on a busy shop."""
    cards, at = np.empty(sum(len(block[0]) for block in blocks), blocks[0][0].dtype), 0
    for place, block in enumerate(blocks):
        cards[at : at + len(block[0])] = block[0]
        at += len(block[0])
        if spent:
            blocks[place] = (None, *block[1:])
    return cards

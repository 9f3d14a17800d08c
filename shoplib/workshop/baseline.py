"""Doing nothing, computed once a run: what throughput, promises, hiring and prices all start from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from ..costing.cost import cost
from ..flow.visits import history
from ..intake.as_of import until
from ..intake.shop import Finding, Shop
from .arrays import Floats
from .fit import fitted
from .limits import Limits, find_limits
from .model import State, Workshop
from .outcome import Outcome, card_grams, outcome
from .records import Records
from .replicate import simulate
from .state import state

REPLICATIONS = 128
HORIZON_DAYS = 3 * 365 + 1
NEAR_DAYS = 56
"""New orders and metal needs are kept order by order for eight weeks ahead."""


@dataclass(frozen=True)
class Baseline:
    """The fitted shop, where it stands, and what comes if nothing is changed.

    Attributes
    ----------
    workshop, state : Workshop, State
        The fit and the open orders.
    seed : int
        Seed of all runs; plans compared with `nothing` use the same.
    nothing : Outcome
        Doing nothing for 36 months, 128 replications.
    limits : Limits
        What an hour more is worth, skill by skill.
    open_finish : ndarray(float), shape (R, n)
        Day of the run on which each open order is delivered (0: the day after the as-of date); +inf beyond the horizon.
    open_waits : ndarray(float), shape (n, S)
        Mean days each open order waits before each stage.
    new_orders : DataFrame
        replication, style, alloy (text), arrival_days, promise_days, delivered_days of orders that come in the next eight weeks.
    issues : DataFrame
        replication, start_days, grams (gross), open (position among the open orders, −1 for a new one), piece (of the workshop's
        pieces, −1 for an open order): orders whose first entry falls in the next eight weeks.
    findings : tuple of Finding
        What the fit assumed, and whether a bound on events was met.
    """

    workshop: Workshop
    state: State
    seed: int
    nothing: Outcome
    limits: Limits
    open_finish: Floats
    open_waits: Floats
    new_orders: pd.DataFrame
    issues: pd.DataFrame
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Start:
    """The fitted shop and where it stands: what every run starts from.

    Attributes
    ----------
    workshop, state : Workshop, State
        The fit and the open orders.
    findings : tuple of Finding
        What the fit assumed.
    """

    workshop: Workshop
    state: State
    findings: tuple[Finding, ...]


def start(shop: Shop, as_of: date, seed: int) -> Start:
    """Fit the shop and tell where it stands.

    Parameters
    ----------
    shop : Shop
        Whole; rows dated after `as_of` are left out.
    as_of : date
        Last day seen.
    seed : int
        Of the fit's draws.

    Raises
    ------
    UsageError
        No stage or no person, or more than the simulator runs.
    """
    seen = until(shop, as_of)
    past = history(seen, as_of)
    costing = cost(seen, as_of)
    found = fitted(shop, as_of, seed, past=past, costing=costing)
    return Start(found.workshop, state(shop, found.workshop, as_of, past, costing), found.findings)


def baseline(shop: Shop, as_of: date, seed: int, threads: int = 2, cluster: str | None = None) -> Baseline:
    """Fit the shop, tell where it stands and what limits it, and run it on unchanged.

    Parameters
    ----------
    shop : Shop
        Whole; rows dated after `as_of` are left out.
    as_of : date
        Last day seen.
    seed : int
        Seed of fit and runs.
    threads, cluster
        As in `simulate`; the answer does not depend on them.

    Raises
    ------
    UsageError
        No stage or no person, or more than the simulator runs.
    """
    begin = start(shop, as_of, seed)
    return run_on(begin, find_limits(begin.workshop, begin.state, seed, threads, cluster), seed, threads, cluster)


def run_on(begin: Start, limits: Limits, seed: int, threads: int = 2, cluster: str | None = None) -> Baseline:
    """Run the shop on unchanged from where it stands.

    Parameters
    ----------
    begin : Start
        From `start`.
    limits : Limits
        From `find_limits` with the same seed.
    seed : int
        Of the runs.
    threads, cluster
        As in `simulate`; the answer does not depend on them.
    """
    workshop, here = begin.workshop, begin.state
    records = simulate(workshop, here, horizon_days=HORIZON_DAYS, seed=seed, replications=REPLICATIONS, threads=threads, cluster=cluster)
    return Baseline(
        workshop, here, seed, outcome(records), limits, records.open_finish(), records.open_waits.mean(axis=0),
        _by_parts(records, _new_orders), _by_parts(records, _issues), (*begin.findings, *_cut(records)),
    )  # fmt: skip


def _by_parts(records: Records, table: Callable[[Records], pd.DataFrame]) -> pd.DataFrame:
    """Return `table` of all replications, made of some at a time."""
    made = [(first, table(part)) for first, part in records.parts()]
    return pd.concat([rows.assign(replication=rows["replication"] + first) for first, rows in made], ignore_index=True)


def _new_orders(records: Records) -> pd.DataFrame:
    c, w = records.cards, records.workshop
    use = np.flatnonzero((records.number >= records.n_open) & records.taken & (c["arrival"] < NEAR_DAYS))
    piece = c["piece"][use]
    return pd.DataFrame({
        "replication": records.replication[use], "style": w.styles[w.piece_style[piece]], "alloy": w.alloys[w.piece_alloy[piece]],
        "arrival_days": c["arrival"][use], "promise_days": c["promise"][use], "delivered_days": c["delivered"][use],
    })  # fmt: skip


def _issues(records: Records) -> pd.DataFrame:
    c = records.cards
    begun_before = np.zeros(len(c), dtype=bool)
    is_open = records.number < records.n_open
    begun_before[is_open] = records.state.hours_done[records.number[is_open]] > 0
    use = np.flatnonzero(records.taken & ~begun_before & (c["first_start"] < NEAR_DAYS))
    number = records.number[use]
    return pd.DataFrame({
        "replication": records.replication[use], "start_days": c["first_start"][use], "grams": card_grams(records)[use],
        "open": np.where(number < records.n_open, number, -1), "piece": c["piece"][use],
    })  # fmt: skip


def _cut(records: Records) -> tuple[Finding, ...]:
    if not records.cut:
        return ()
    text = (
        f"{records.cut} of {records.replications} simulated futures stopped at the bound of {records.most_events:,} events; their later "
        "days are missing. Look for orders that return again and again."
    )
    return (Finding("warn", "events_bound", text, "labour"),)

"""What several reports share, computed once a run and read from the cache by each notebook.

The fit and the limiting bench are kept apart from the rest, so that a report that needs no more than these does not wait for it.
"""

from __future__ import annotations

import os
from datetime import date

import numpy as np
import pandas as pd
from joblib import Parallel, delayed

from ..cache import cached
from ..errors import ShoplibError
from ..forecast.lead_time import said_at
from ..forecast.promises import Record, track_record
from ..intake.shop import Shop
from ..memory import give_back
from ..orphans import end_with
from ..workshop.baseline import Baseline, Start, run_on, start
from ..workshop.limits import Limits, find_limits

THREADS = 2
LARGE_ROWS = 300_000
"""Beyond so many labour rows past days are played one at a time: each takes about 1 GB."""


def start_of(shop: Shop, as_of: date, seed: int) -> Start:
    """Return the fitted shop and where it stands on a day, from the cache where it is kept.

    Raises
    ------
    ShoplibError
        The history cannot carry a simulation; see `workshop.baseline.start`.
    """
    return cached("start", [shop.fingerprint, as_of, seed], lambda: start(shop, as_of, seed))


def limits_of(shop: Shop, as_of: date, seed: int, threads: int = THREADS, cluster: str | None = None) -> Limits:
    """Return what an hour more is worth at each bench; raises as `start_of`."""

    def compute() -> Limits:
        begin = start_of(shop, as_of, seed)
        return find_limits(begin.workshop, begin.state, seed, threads, cluster)

    return cached("limits", [shop.fingerprint, as_of, seed], compute)


def baseline_of(shop: Shop, as_of: date, seed: int, threads: int = THREADS, cluster: str | None = None) -> Baseline:
    """Return the baseline of a shop on a day, from the cache where it is kept; raises as `start_of`."""

    def compute() -> Baseline:
        limits = limits_of(shop, as_of, seed, threads, cluster)
        return run_on(start_of(shop, as_of, seed), limits, seed, threads, cluster)

    return cached("baseline", [shop.fingerprint, as_of, seed], compute)


def limits_or_none(shop: Shop, as_of: date, seed: int) -> tuple[Limits | None, str]:
    """Return what an hour more is worth at each bench, or None and the reason why the shop cannot be simulated."""
    try:
        return limits_of(shop, as_of, seed), ""
    except ShoplibError as error:
        return None, str(error)


def baseline_or_none(shop: Shop, as_of: date, seed: int) -> tuple[Baseline | None, str]:
    """Return the baseline, or None and the reason why the shop cannot be simulated."""
    try:
        return baseline_of(shop, as_of, seed), ""
    except ShoplibError as error:
        return None, str(error)


def track_record_of(shop: Shop, as_of: date, seed: int, jobs: int = 2) -> Record:
    """Return how the shop's past dates would have been forecast, from the cache where it is kept."""

    def each(days: list[np.datetime64]) -> list[pd.DataFrame]:
        last, at_once = np.datetime64(as_of, "D"), 1 if len(shop["labour"]) > LARGE_ROWS else jobs
        players = Parallel(n_jobs=at_once, backend="loky", initializer=end_with, initargs=(os.getpid(),))
        done: list[pd.DataFrame] = players(delayed(_said_at)(shop, day, last, seed) for day in days)
        return done

    return cached("track_record", [shop.fingerprint, as_of, seed], lambda: track_record(shop, as_of, seed, each))


def _said_at(shop: Shop, day: np.datetime64, last: np.datetime64, seed: int) -> pd.DataFrame:
    said = said_at(shop, day, last, seed)
    give_back()
    return said

"""What several reports share, computed once a run and read from the cache by each notebook."""

from __future__ import annotations

from datetime import date

from ..cache import cached
from ..errors import ShoplibError
from ..intake.shop import Shop
from ..workshop.baseline import Baseline, baseline


def baseline_of(shop: Shop, as_of: date, seed: int, threads: int = 2, cluster: str | None = None) -> Baseline:
    """Return the baseline of a shop on a day, from the cache where it is kept.

    Raises
    ------
    ShoplibError
        The history cannot carry a simulation; see `baseline`.
    """
    return cached("baseline", [shop.fingerprint, as_of, seed], lambda: baseline(shop, as_of, seed, threads, cluster))


def baseline_or_none(shop: Shop, as_of: date, seed: int) -> tuple[Baseline | None, str]:
    """Return the baseline, or None and the reason why the shop cannot be simulated."""
    try:
        return baseline_of(shop, as_of, seed), ""
    except ShoplibError as error:
        return None, str(error)

"""The metal ledger in fine grams: what came into and left the safe, and what was counted."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..costing.totals import total_by
from ..settings import Settings
from ..units import FINEST, METALS
from .cards import Days, Floats
from .fine import shares_by_alloy

INTO = ("bought", "customer_in", "borrowed", "refined_back")
"""Kinds that bring metal into the safe."""
OUT_OF = ("sold", "customer_out", "returned", "refining_sent")
"""Kinds that take metal out of the safe."""
COUNT = "stock_count"


def fine_share(ledger: pd.DataFrame, metal: str, settings: Settings) -> Floats:
    """Return the fine grams of `metal` in a gram of each ledger row, shape (n_rows,).

    A row of a metal has its own fineness, 999.9 when blank. A blank row of an alloy is at the mark when the alloy comes in,
    and as the shop really melts it when it is counted or goes out; a fineness that is written is that of the main metal.
    """
    names = ledger["metal"].astype(object)
    written = ledger["fineness"].to_numpy() / 1000.0
    pure = np.where(names == metal, np.where(np.isnan(written), FINEST / 1000.0, written), 0.0)
    marked = np.array([*(alloy.phi for alloy in settings.alloys), 0.0])
    main = np.array([alloy.metal == metal for alloy in settings.alloys] + [False])
    place = pd.Index([alloy.code for alloy in settings.alloys], dtype=object).get_indexer(pd.Index(names))
    comes_in = ledger["kind"].isin(INTO).to_numpy()
    own = np.where(np.isnan(written), np.where(comes_in, marked[place], np.nan), written)
    alloyed = np.where(main[place] & ~np.isnan(own), own, shares_by_alloy(names, metal, settings))
    shares: Floats = np.where(names.isin(METALS), pure, alloyed)
    return shares


def moved(ledger: pd.DataFrame, kind: str, fine_g: Floats) -> tuple[Days, Floats]:
    """Return days and fine grams of the rows of one kind."""
    rows = (ledger["kind"] == kind).to_numpy()
    return ledger["date"].to_numpy("datetime64[D]")[rows], fine_g[rows]


def counts(ledger: pd.DataFrame, share: Floats) -> tuple[Days, Floats, Floats]:
    """Return the days on which a metal was counted, the fine grams counted and the squared fineness of its weighings.

    Parameters
    ----------
    ledger : DataFrame
        Table `metal_ledger`.
    share : ndarray, shape (n_rows,)
        From `fine_share`; a count of metals that hold none of this one is no count of it.
    """
    rows = ((ledger["kind"] == COUNT) & ledger["gross_g"].notna()).to_numpy() & (share > 0)
    days, place = np.unique(ledger["date"].to_numpy("datetime64[D]")[rows], return_inverse=True)
    grams = ledger["gross_g"].to_numpy()[rows] * share[rows]
    return days, total_by(place, grams, len(days)), total_by(place, share[rows] ** 2, len(days))

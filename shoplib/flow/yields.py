"""Right first time: the share of orders that pass a stage, or the whole route, without being done again."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from ..costing.totals import ratio, total_by
from .entries import Ints
from .visits import History
from .working_time import Hours

LEAST_ORDERS = 20
"""Under this many orders no yield is told; common practice, no source."""


def first_pass_yield(entered: ArrayLike, not_right: ArrayLike) -> Hours:
    """Return the share right first time: what entered less what was scrapped or done again ÷ what entered; NaN when none entered."""
    many = np.asarray(entered, dtype=float)
    return ratio(many - np.asarray(not_right, dtype=float), many, np.nan)


def rolled_yield(yields: ArrayLike) -> float:
    """Return the chance to pass all stages right first time: the product of their yields, those unknown left out; NaN without any."""
    known = np.asarray(yields, dtype=float)
    known = known[~np.isnan(known)]
    return float(np.prod(known)) if len(known) else float("nan")


def stage_yields(history: History, delivered: pd.Series, least: int = LEAST_ORDERS) -> pd.DataFrame:
    """Return the first-pass yield of each stage over delivered orders: only they have left every stage for good.

    Parameters
    ----------
    history : History
        What the cards tell.
    delivered : Series of bool
        Which of the orders count (delivered in the period), a value a row of the orders.
    least : int
        Under this many orders the yield is NaN.

    Returns
    -------
    DataFrame
        stage, orders (that passed it), sent_back (of them, orders sent back to it at least once), first_pass_yield.
    """
    table, many = history.visits, len(history.stages)
    table = table[delivered.to_numpy()[table["order"].to_numpy()] & ~table["later"].to_numpy()]
    charged = pd.Index(history.stages, dtype=object).get_indexer(pd.Index(table["charged_to"].astype(object)))
    order = table["order"].to_numpy(np.int64)
    passed = _orders_at(order, table["stage_no"].to_numpy(np.int64), many)
    back = _orders_at(order, charged.astype(np.int64), many)
    told = np.where(passed >= least, first_pass_yield(np.maximum(passed, back), back), np.nan)
    return pd.DataFrame({"stage": history.stages, "orders": passed.astype(int), "sent_back": back.astype(int), "first_pass_yield": told})


def _orders_at(order: Ints, stage: Ints, many: int) -> Hours:
    """Return the number of different orders at each stage; −1 is no stage."""
    pairs = np.unique(order[stage >= 0] * many + stage[stage >= 0])
    return total_by(pairs % max(many, 1), np.ones(len(pairs)), many)

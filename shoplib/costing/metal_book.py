"""The metal book: what was given out and came back by stage, alloy and stretch, as a loss per finished gram."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings

Floats = NDArray[np.float64]


def book_rates(book: pd.DataFrame, table: pd.DataFrame, settings: Settings) -> tuple[Floats, Floats]:
    """Return the gross loss per finished gram of each order by the metal book, and where it was lost.

    A row's loss is given − work back − clean scrap back; filings that came back are part of it. An order takes the row
    whose stretch holds its delivery where that row was complete by the end of the month of delivery, else the last row
    before, so that a later book never changes a past month. Grams multiply along the route: Π(1 + loss ÷ work back) − 1.

    Parameters
    ----------
    book : DataFrame
        Table `metal_book` as known.
    table : DataFrame
        Orders with alloy and closed_on; orders still open take the last row.
    settings : Settings
        Its stages; a blank stage is the whole bench.

    Returns
    -------
    tuple of ndarray
        Loss per finished gram, shape (n_orders,), NaN without a row; share by stage, shape (n_orders, n_stages + 1).
    """
    n, stages = len(table), len(settings.stages)
    growth, told = np.zeros((n, stages + 1)), np.zeros(n, dtype=bool)
    stage = pd.Index([stage.name for stage in settings.stages], dtype=object).get_indexer(pd.Index(book["stage"].astype(object)))
    usable = book.assign(stage=stage, rate=_rates(book)).dropna(subset=["rate"])
    alloys = table["alloy"].astype(object).to_numpy()
    for _, rows in usable.sort_values("to", kind="stable").groupby(["alloy", "stage"], sort=True):
        mine = np.flatnonzero(alloys == rows["alloy"].iloc[0])
        rate = _rate_at(rows, table["closed_on"].to_numpy("datetime64[D]")[mine])
        growth[mine, int(rows["stage"].iloc[0])] = np.log1p(np.nan_to_num(rate))
        told[mine] |= ~np.isnan(rate)
    total = growth.sum(axis=1)
    share = np.divide(growth, total[:, None], out=np.zeros_like(growth), where=total[:, None] > 0)
    return np.where(told, np.expm1(total), np.nan), share


def _rates(book: pd.DataFrame) -> pd.Series:
    lost = (book["given_g"] - book["work_back_g"] - book["scrap_back_g"]).clip(lower=0.0)
    return (lost / book["work_back_g"]).where(book["work_back_g"] > 0)


def _rate_at(rows: pd.DataFrame, closed: NDArray[np.datetime64]) -> Floats:
    first, last = rows["from"].to_numpy("datetime64[D]"), rows["to"].to_numpy("datetime64[D]")
    day = np.where(np.isnat(closed), last[-1], closed)
    cover = np.minimum(np.searchsorted(last, day, side="left"), len(rows) - 1)
    in_time = (first[cover] <= day) & (day <= last[cover]) & (last[cover].astype("datetime64[M]") <= day.astype("datetime64[M]"))
    before = np.searchsorted(last, day, side="left") - 1
    chosen = np.where(in_time, cover, before)
    return np.where(chosen >= 0, rows["rate"].to_numpy()[chosen], np.nan)

"""Gross and net loss of each order, by the best record there is: weighings, metal book, ledger, else policy.

Gross loss is what left the piece between scale and scale. Net loss is what does not come back: gross × (1 − ρ(1 − c)), ρ the
share recovered and c what the refiner keeps of it in metal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .totals import ratio

Floats = NDArray[np.float64]
Texts = NDArray[np.object_]
BASES = ("weighings", "metal_book", "ledger", "policy", "none")
SCALE_SLACK_G = 0.05
"""A weighing may show a gain up to this without being called wrong: a few readings of the scale."""
MOST_LOST_SHARE = 0.5
"""A gross loss above this share of what was given out is a slip of the pen, not a loss."""


@dataclass(frozen=True)
class Losses:
    """Losses of every order.

    Attributes
    ----------
    gross_g, net_g : ndarray(float), shape (n_orders,)
        g gross.
    gross_of_alloy_g, net_of_alloy_g : ndarray(float), shape (n_orders,)
        The part that is alloy and not base metal burnt off (loss_fine_share_percent); times fineness it is the fine loss.
    stage_share : ndarray(float), shape (n_orders, n_stages + 1)
        Where it was lost; the last column is between the stages, or not told.
    basis : ndarray(object), shape (n_orders,)
        One of `BASES`.
    contradicted : ndarray(bool), shape (n_orders,)
        Weighed, but with a gain or an impossible loss, so that the next best record was used.
    """

    gross_g: Floats
    net_g: Floats
    gross_of_alloy_g: Floats
    net_of_alloy_g: Floats
    stage_share: Floats
    basis: Texts
    contradicted: NDArray[np.bool_]


def gross_by_scale(table: pd.DataFrame, given_g: Floats, scrap_g: Floats, unusual_g: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the gross loss of delivered orders by weighings, NaN where not weighed, and where the weighings contradict.

    Parameters
    ----------
    table : DataFrame
        From `pieces.pieces`.
    given_g : ndarray(float)
        First weight given out, g gross, NaN unless weighed.
    scrap_g, unusual_g : ndarray(float)
        Clean scrap back, and unusual drops that are left out, g gross.
    """
    weighed = given_g + table["solder_g"] + table["findings_g"] + table["not_metal_g"] - scrap_g - unusual_g - table["weight_g"]
    lost = weighed.where(table["delivered_on"].notna() & (table["weight_g"] > 0)).to_numpy()
    wrong = (lost < -SCALE_SLACK_G) | (lost > MOST_LOST_SHARE * given_g)
    return np.where(wrong, np.nan, np.maximum(lost, 0.0)), wrong


def losses_of(
    table: pd.DataFrame,
    weighed: tuple[Floats, NDArray[np.bool_], Floats],
    book: tuple[Floats, Floats],
    ledger_share: Floats,
    kept_share: Floats,
    settings: Settings,
) -> Losses:
    """Return the losses of every order, each by the best record there is.

    Parameters
    ----------
    table : DataFrame
        From `pieces.pieces`.
    weighed : tuple
        Gross loss and contradictions from `gross_by_scale`, and drops by stage, shape (n_orders, n_stages).
    book : tuple
        Gross loss per finished gram and its share by stage, from `metal_book.book_rates`; NaN without a book.
    ledger_share : ndarray(float)
        Gross loss ÷ grams issued less clean scrap by the ledger, NaN where it cannot tell.
    kept_share : ndarray(float), shape (n_orders, n_stages + 1)
        ρ(1 − c) by stage, from `recovery.returned_share`.
    settings : Settings
        Policy and loss_fine_share_percent.
    """
    by_scale, contradicted, drops = weighed
    metal_g = (table["weight_g"] - table["findings_g"] - table["not_metal_g"]).clip(lower=0.0).to_numpy()
    p = settings.policy.loss_percent / 100.0
    found = np.column_stack([by_scale, book[0] * metal_g, _grown(ledger_share) * metal_g, np.full(len(table), p / (1.0 - p)) * metal_g])
    best = np.argmin(np.isnan(found), axis=1)
    touched = (table["own"] | table["customers"]).to_numpy()
    gross = np.where(touched, found[np.arange(len(table)), best], 0.0)
    share = _stage_share(best, gross, drops, book[1])
    fine_share = np.array([*(stage.loss_fine_share_percent / 100.0 for stage in settings.stages), 1.0])
    lost = gross[:, None] * share
    net = lost * (1.0 - kept_share)
    basis = np.where(touched, np.array(BASES, dtype=object)[best], "none")
    return Losses(gross, net.sum(axis=1), lost @ fine_share, net @ fine_share, share, basis, contradicted & touched)


def _grown(share: Floats) -> Floats:
    """Turn a share of what was issued into a share of what was finished."""
    return share / (1.0 - share)


def _stage_share(best: NDArray[np.int64], gross: Floats, drops: Floats, book_share: Floats) -> Floats:
    n, stages = drops.shape
    between = gross - drops.sum(axis=1)
    seen = np.maximum(np.column_stack([drops, between]), 0.0)
    by_scale = ratio(seen, np.repeat(seen.sum(axis=1)[:, None], stages + 1, axis=1))
    told = np.where((best == 0)[:, None], by_scale, np.where((best == 1)[:, None], book_share, 0.0))
    told[:, -1] += 1.0 - told.sum(axis=1)
    return told

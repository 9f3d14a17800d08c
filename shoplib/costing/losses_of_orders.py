"""Gross and net loss of each order, by the best record there is: weighings, metal book, ledger, else policy.

Gross loss is what left the piece between scale and scale. Net loss is what does not come back: gross × (1 − ρ(1 − c)), ρ the
share recovered and c what the refiner keeps of it in metal.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .totals import ratio

Floats = NDArray[np.float64]
BASES = ("weighings", "metal_book", "ledger", "policy", "none")
SCALE_SLACK_G = 0.05
"""A weighing may show a gain up to this without being called wrong: a few readings of the scale."""
MOST_LOST_SHARE = 0.5
"""A gross loss above this share of what was given out is a slip of the pen, not a loss."""


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


def gross_losses(
    table: pd.DataFrame,
    weighed: tuple[Floats, NDArray[np.bool_], Floats],
    book: tuple[Floats, Floats],
    ledger_share: Floats,
    settings: Settings,
) -> tuple[pd.DataFrame, Floats]:
    """Return the gross loss of every order by the best record there is, and where it was lost.

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
    settings : Settings
        Policy and loss_fine_share_percent.

    Returns
    -------
    tuple of DataFrame and ndarray
        gross_loss_g (g gross), gross_loss_fine_g (g fine: base metal burnt off is not in it), loss_basis (one of `BASES`),
        contradicted (weighed, with a gain or an impossible loss, so that the next best record was used); share of the loss by
        stage, shape (n_orders, n_stages + 1), the last column between the stages or not told.
    """
    by_scale, contradicted, drops = weighed
    metal_g = (table["weight_g"] - table["findings_g"] - table["not_metal_g"]).clip(lower=0.0).to_numpy()
    p = settings.policy.loss_percent / 100.0
    found = np.column_stack([by_scale, book[0] * metal_g, _grown(ledger_share) * metal_g, np.full(len(table), p / (1.0 - p)) * metal_g])
    best = np.argmin(np.isnan(found), axis=1)
    touched = (table["own"] | table["customers"]).to_numpy()
    gross = np.where(touched, found[np.arange(len(table)), best], 0.0)
    share = _stage_share(best, gross, drops, book[1])
    fine = table["phi_melted"].to_numpy() * gross * (share @ _fine_share(settings))
    basis = np.where(touched, np.array(BASES, dtype=object)[best], "none")
    facts = {"gross_loss_g": gross, "gross_loss_fine_g": fine, "loss_basis": basis, "contradicted": contradicted & touched}
    return pd.DataFrame(facts, index=table.index), share


def net_losses(lost: pd.DataFrame, share: Floats, returned: Floats, settings: Settings) -> pd.DataFrame:
    """Return what does not come back of every order's loss: net_loss_g (g gross) and net_loss_fine_g.

    Parameters
    ----------
    lost, share
        From `gross_losses`.
    returned : ndarray(float), shape (n_orders, n_stages + 1)
        ρ(1 − c) by stage, from `recovery.returned_share`.
    settings : Settings
        loss_fine_share_percent of its stages.
    """
    kept_away = share * (1.0 - returned)
    gross_fine_share = share @ _fine_share(settings)
    fine = lost["gross_loss_fine_g"].to_numpy() * ratio(kept_away @ _fine_share(settings), gross_fine_share)
    return pd.DataFrame({"net_loss_g": lost["gross_loss_g"].to_numpy() * kept_away.sum(axis=1), "net_loss_fine_g": fine}, index=lost.index)


def _fine_share(settings: Settings) -> Floats:
    return np.array([*(stage.loss_fine_share_percent / 100.0 for stage in settings.stages), 1.0])


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


def so_far(table: pd.DataFrame, lost: pd.DataFrame, drops: Floats, progress: Floats) -> pd.DataFrame:
    """Return the gross losses with those of orders not delivered cut to what has happened so far.

    Where a stage was weighed, the drops weighed; else the loss to be expected × the share of the route behind the order. Their
    basis stays that of the expectation where nothing was weighed.

    Parameters
    ----------
    table, lost : DataFrame
        From `pieces.pieces` and `gross_losses`.
    drops : ndarray(float), shape (n_orders, n_stages)
        g gross taken off by each stage, from `weighings.stage_drops`.
    progress : ndarray(float), shape (n_orders,)
        Share of the route's stages an order has reached, 0 to 1.
    """
    weighed = np.maximum(drops, 0.0).sum(axis=1)
    gross = lost["gross_loss_g"].to_numpy()
    until_now = np.where(weighed > 0, weighed, gross * progress)
    begun = (table["issued_on"].notna() & (table["own"] | table["customers"])).to_numpy()
    cut = np.where(table["delivered_on"].notna().to_numpy(), gross, until_now * begun)
    fine = lost["gross_loss_fine_g"].to_numpy() * ratio(cut, gross)
    basis = lost["loss_basis"].mask(table["delivered_on"].isna() & (weighed > 0) & begun, "weighings")
    return lost.assign(gross_loss_g=cut, gross_loss_fine_g=fine, loss_basis=basis)

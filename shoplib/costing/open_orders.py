"""Orders still open: what they cost so far, what they will cost by the usual hours, and the margin to expect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .standard import usual_hours
from .totals import ratio, total_by

Floats = NDArray[np.float64]
COLUMNS = (
    "order_id", "style", "alloy", "cost_so_far", "loss_so_far_g", "expected_cost", "expected_margin", "over_share",
    "hours_so_far", "hours_to_finish", "planned_cost", "price",
)  # fmt: skip
RECENT_DAYS = 365


@dataclass(frozen=True)
class Work:
    """What is known of work by order and stage, shape (n_orders, n_stages).

    Attributes
    ----------
    booked : ndarray(float)
        Hours booked, rework included.
    reached : ndarray(bool)
        The order has an entry at the stage or at a later one of the route.
    rate : ndarray(float), shape (n_stages,)
        What an hour at the stage costs now, money.
    """

    booked: Floats
    reached: NDArray[np.bool_]
    rate: Floats


def reached_stages(booked: Floats, frame: pd.DataFrame) -> NDArray[np.bool_]:
    """Return True where an order has an entry, a move included, at the stage or a later one."""
    n, stages = booked.shape
    order, stage = frame["order"].to_numpy(), frame["stage"].to_numpy()
    place = np.where((order >= 0) & (stage >= 0), order * stages + stage, -1)
    there = total_by(place, np.ones(len(frame)), n * stages).reshape(n, stages) > 0
    reached: NDArray[np.bool_] = np.maximum.accumulate(there[:, ::-1], axis=1)[:, ::-1]
    return reached


def hours_to_finish(usual: Floats, work: Work) -> Floats:
    """Return the hours still to come at each stage: all usual ones ahead, the rest of them at the stage the order is at."""
    later = np.concatenate([work.reached[:, 1:], np.zeros((len(usual), 1), dtype=bool)], axis=1) if usual.shape[1] else work.reached
    at = work.reached & ~later
    return np.where(at, np.maximum(0.0, usual - work.booked), np.where(work.reached, 0.0, usual))


def recent_orders(table: pd.DataFrame, as_of: np.datetime64) -> NDArray[np.bool_]:
    """Return True for orders delivered in the year up to `as_of`: they tell what is usual."""
    delivered = table["delivered_on"].to_numpy("datetime64[D]")
    return (delivered > as_of - np.timedelta64(RECENT_DAYS, "D")) & (delivered <= as_of)


def expected_loss(table: pd.DataFrame, lost: pd.DataFrame, recent: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Return the gross grams and the net fine grams each order is expected to lose: as recent ones of its alloy did.

    Parameters
    ----------
    table, lost : DataFrame
        From `pieces.pieces`, and the losses by the best record there is, not cut to what has happened so far.
    recent : ndarray(bool)
        From `recent_orders`; without any of its alloy, the order's own figures stand.
    """
    alloy, names = pd.factorize(table["alloy"].astype(object))
    told = np.where(recent & (lost["gross_loss_g"] > 0).to_numpy(), alloy, -1)
    weight = total_by(told, table["alloy_g"].to_numpy(), len(names))
    found = []
    for name in ("gross_loss_g", "net_loss_fine_g"):
        per_g = np.append(ratio(total_by(told, lost[name].to_numpy(), len(names)), weight, np.nan), np.nan)[alloy]
        found.append(np.where(np.isnan(per_g), lost[name].to_numpy(), per_g * table["alloy_g"].to_numpy()))
    return found[0], found[1]


def open_table(
    table: pd.DataFrame, costs: pd.DataFrame, expected_fine: Floats, fix: Floats, work: Work, settings: Settings, as_of: np.datetime64
) -> pd.DataFrame:
    """Return one row an open order.

    Parameters
    ----------
    table : DataFrame
        Orders from `pieces.pieces`.
    costs : DataFrame
        Of all orders: labour, rework_labour, other_metals, loss_so_far_g (gross), net_fine_so_far_g.
    expected_fine : ndarray(float)
        Net g fine expected to be lost in all, from `expected_loss`.
    fix : ndarray(float)
        Price the metal was struck at, spot of today where still to come, money per g fine.
    work : Work
        Hours by stage.
    settings : Settings
        Standard hours.
    as_of : datetime64
        Last day that counts.

    Returns
    -------
    DataFrame
        `COLUMNS`. cost_so_far: labour with rework, and loss at the price struck. expected_cost: what they will have come to, with
        other metals, stones, findings and outwork, without the metal in the piece; planned_cost what such an order usually
        costs; over_share = expected ÷ planned − 1 (over 0.2 deserves a look), NaN where nothing is usual yet.
    """
    usual = usual_hours(table, work.booked, recent_orders(table, as_of), settings)
    ahead = hours_to_finish(usual, work)
    shop_metal = np.where(table["own"].to_numpy(), fix, 0.0)
    bought = table[["stones_cost", "findings_cost", "outwork_cost"]].sum(axis=1).to_numpy()
    fixed_part = costs["other_metals"].to_numpy() + bought
    spent = (costs["labour"] + costs["rework_labour"]).to_numpy()
    so_far = spent + costs["net_fine_so_far_g"].to_numpy() * shop_metal
    lost = np.maximum(expected_fine, costs["net_fine_so_far_g"].to_numpy()) * shop_metal
    expected = spent + ahead @ work.rate + lost + fixed_part
    planned = usual @ work.rate + expected_fine * shop_metal + fixed_part
    at_delivery = (table["metal_terms"] == "at_delivery").to_numpy()
    billed = table["phi"].to_numpy() * (table["weight_g"] - table["not_metal_g"]).to_numpy() * shop_metal * at_delivery
    margin = table["price"].to_numpy() + billed - table["fine_g"].to_numpy() * shop_metal - expected
    over = np.where(usual.sum(axis=1) > 0, ratio(expected, planned, np.nan), np.nan) - 1.0
    told = table[["order_id", "style", "alloy", "price"]].assign(
        cost_so_far=so_far, loss_so_far_g=costs["loss_so_far_g"].to_numpy(), expected_cost=expected, expected_margin=margin,
        over_share=over, hours_so_far=work.booked.sum(axis=1), hours_to_finish=ahead.sum(axis=1),
        planned_cost=planned,
    )  # fmt: skip
    return told.loc[table["closed_on"].isna().to_numpy(), list(COLUMNS)].sort_values("order_id", ignore_index=True)

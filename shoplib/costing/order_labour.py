"""Labour of each order: hours, first work, rework, overtime premium, and its part of the work shared by all."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .totals import ratio, total_by

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]


def months_of(days: Days, first: np.datetime64) -> NDArray[np.int64]:
    """Return the running number of each day's month from that of `first`, −1 for a missing day."""
    month: NDArray[np.int64] = (days.astype("datetime64[M]") - np.asarray(first).astype("datetime64[M]")).astype(np.int64)
    return np.where(np.isnat(days), -1, month)


def shared_work(frame: pd.DataFrame, grams: Floats, first: np.datetime64, months: int) -> tuple[Floats, Floats]:
    """Return the cost of work shared by all that each order bears, and what no order could bear, by month.

    A month's shared work is spread over the grams worked in it; an order's grams fall into the months in which its hours were
    booked.

    Parameters
    ----------
    frame : DataFrame
        Costed entries.
    grams : ndarray(float), shape (n_orders,)
        Grams worked: finished weight + gross loss.
    first : datetime64
        First month.
    months : int
        Number of months.
    """
    order, hours = frame["order"].to_numpy(), frame["hours"].fillna(0.0).to_numpy()
    month = months_of(frame["day"].to_numpy("datetime64[D]"), first)
    total = total_by(order, hours, len(grams))
    worked = np.where(order >= 0, ratio(hours * grams[order], total[order]), 0.0) if len(grams) else np.zeros(len(order))
    shared = total_by(np.where(order < 0, month, -1), (frame["cost"] + frame["premium"]).to_numpy(), months)
    by_month = total_by(month, worked, months)
    borne = total_by(order, worked * ratio(shared, by_month)[month], len(grams))
    return borne, np.where(by_month > 0, 0.0, shared)


def labour_of(frame: pd.DataFrame, borne: Floats, limiting: NDArray[np.bool_]) -> pd.DataFrame:
    """Return labour by order, money and hours.

    Parameters
    ----------
    frame : DataFrame
        Costed entries.
    borne : ndarray(float), shape (n_orders,)
        Shared work, from `shared_work`.
    limiting : ndarray(bool), shape (n_stages + 1,)
        True at stages whose skill limits; the last for entries without stage.

    Returns
    -------
    DataFrame
        labour (first work, all overtime premium, shared work), rework_labour, shared_labour, overtime_premium, owner_labour, hours,
        first_hours, limiting_hours, standard_hours (of `hours`, those not on a card).
    """
    order, n = frame["order"].to_numpy(), len(borne)
    cost, hours, again = frame["cost"].to_numpy(), frame["hours"].to_numpy(), frame["rework"].to_numpy(dtype=bool)
    premium = total_by(order, frame["premium"].to_numpy(), n)
    first = total_by(np.where(again, -1, order), cost, n)
    parts = {
        "labour": first + premium + borne,
        "rework_labour": total_by(np.where(again, order, -1), cost, n),
        "shared_labour": borne,
        "overtime_premium": premium,
        "owner_labour": total_by(np.where(frame["owner"].to_numpy(dtype=bool), order, -1), cost, n),
        "hours": total_by(order, hours, n),
        "first_hours": total_by(np.where(again, -1, order), hours, n),
        "limiting_hours": total_by(np.where(limiting[frame["stage"].to_numpy()], order, -1), hours, n),
        "standard_hours": total_by(np.where(frame["row"].to_numpy() == 0, order, -1), hours, n),
    }
    return pd.DataFrame(parts)


def route_progress(table: pd.DataFrame, frame: pd.DataFrame, settings: Settings) -> Floats:
    """Return the share of the route each order has reached, 0 to 1, by the furthest stage on its card."""
    route = [k for k, stage in enumerate(settings.stages) if not stage.rework_of]
    place = np.full(len(settings.stages) + 1, -1)
    place[route] = np.arange(len(route))
    reached = np.full(len(table), -1)
    here = frame["order"].to_numpy() >= 0
    np.maximum.at(reached, frame["order"].to_numpy()[here], place[frame["stage"].to_numpy()[here]])
    return (reached + 1) / max(1, len(route))


def limiting_stages(settings: Settings, skill: str | None) -> NDArray[np.bool_]:
    """Return True for each stage that asks for `skill`; one False more at the end, for entries without stage."""
    return np.array([*(stage.needs == skill for stage in settings.stages), False], dtype=bool)

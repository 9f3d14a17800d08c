"""Holds: how often an order is held up before it joins a queue, and for how long."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..flow.holds import hold_stretches
from .cards import Cards

SECONDS_A_DAY = 86400.0


def fit_holds(cards: Cards) -> dict[str, Any]:
    """Return fields of `Workshop`: share of first visits at each stage before which the order was on hold, lengths of past holds."""
    first = cards.table[~cards.table["again"].to_numpy(bool)]
    stage, held = first["stage"].to_numpy(np.int64), np.nan_to_num(first["held_days"].to_numpy(float)) > 0
    n_stages = len(cards.axes.stages)
    count, total = (np.bincount(stage[use], minlength=n_stages) for use in (held, np.ones(len(stage), bool)))
    stretches = hold_stretches(cards.past.shop["holds"], cards.past.shop["orders"], cards.past.as_of)
    ended = stretches[stretches["end"].to_numpy("datetime64[s]") < cards.past.now]
    days = (ended["end"] - ended["begin"]).dt.total_seconds().to_numpy() / SECONDS_A_DAY
    return {"hold_chance": count / np.maximum(total, 1) * bool(len(days)), "hold_days": np.sort(days)}

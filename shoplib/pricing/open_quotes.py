"""Quotes given at a fixed price and not answered yet: no exposure until they are taken, so they stand beside it.

What spot did to each since it was given: making charge when quoted = price − metal then, now = price − metal now.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..intake.shop import Shop
from ..workshop.asked import UNANSWERED_DAYS
from .lines import needed_grams
from .market import Market
from .relist import metal_value

COLUMNS = (
    "quote_id", "quoted_on", "style", "alloy", "metal", "price", "fine_g", "metal_when_quoted", "metal_now", "making_charge_when_quoted",
    "making_charge_now", "stands_until", "stands",
)  # fmt: skip


def open_quotes(shop: Shop, market: Market, loss: dict[str, float]) -> pd.DataFrame:
    """Return the quotes not answered yet, one a row; one unanswered for longer than `UNANSWERED_DAYS` counts as lost.

    Parameters
    ----------
    shop : Shop
        As known today; quotes and `policy.quote_valid_days`.
    market : Market
        Spot.
    loss : dict of str to float
        Net loss by alloy code, share of the fine metal in the piece.

    Returns
    -------
    DataFrame
        quote_id, quoted_on, style, alloy, metal (the alloy's own), price, fine_g (of that metal, net loss included),
        metal_when_quoted, metal_now (all priced metals, premium included), making_charge_when_quoted, making_charge_now,
        stands_until (day), stands (not lapsed today); money NaN for a metal without prices; by quote_id.
    """
    alloys = {alloy.code: alloy for alloy in shop.settings.alloys}
    rows = _unanswered(shop["quotes"], market.as_of)
    rows = rows[rows["alloy"].isin(alloys)].sort_values("quote_id", kind="stable", ignore_index=True)
    codes, day = rows["alloy"].tolist(), rows["quoted_on"].to_numpy("datetime64[D]")
    needed = needed_grams(codes, rows["weight_g"].to_numpy(float), alloys, market, loss)
    main = np.array([market.place(alloys[code].metal) for code in codes], dtype=np.int64)
    then, now = (metal_value(needed, spot, market.premium) for spot in (market.on(day), market.now))
    price, until = rows["price"].to_numpy(float), day + np.timedelta64(shop.settings.policy.quote_valid_days, "D")
    return pd.DataFrame({
        "quote_id": rows["quote_id"].astype(object), "quoted_on": day.astype("datetime64[s]"), "style": rows["style"].astype(object),
        "alloy": rows["alloy"].astype(object), "metal": [alloys[code].metal for code in codes], "price": price,
        "fine_g": needed[np.arange(len(rows)), main], "metal_when_quoted": then, "metal_now": now,
        "making_charge_when_quoted": price - then, "making_charge_now": price - now,
        "stands_until": until.astype("datetime64[s]"), "stands": until >= market.as_of,
    })  # fmt: skip


def _unanswered(quotes: pd.DataFrame, as_of: np.datetime64) -> pd.DataFrame:
    day = quotes["quoted_on"].to_numpy("datetime64[D]")
    waits = (day <= as_of) & (day >= as_of - np.timedelta64(UNANSWERED_DAYS, "D"))
    return quotes[waits & quotes["won"].isna().to_numpy() & quotes["order_id"].isna().to_numpy()]
